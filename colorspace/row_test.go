package colorspace

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCubeRoot(t *testing.T) {
	// One octave of three covers every fraction; the rest is exponents.
	for x := float32(.125); x <= 1.001; x += 1e-5 {
		for _, scale := range []float64{1, 1e-3, 64} {
			v := float32(float64(x) * scale)
			r := float64(cbrt32(v))
			require.InEpsilon(t, float64(v), r*r*r, 1e-6)
		}
	}
}

func TestLightness32AgreesWithLightness(t *testing.T) {
	for y := float32(-.2); y <= 1.6; y += 1e-5 {
		require.InDelta(t, Lightness(float64(y)), float64(Lightness32(y)), 1e-3, "Y %v", y)
	}
}

func TestLabRowAgreesWithLab(t *testing.T) {
	var rgb []float32
	cube(24, func(c Linear) {
		for _, v := range c {
			rgb = append(rgb, float32(1.7*v-.2)) // below 0 and above 1 too
		}
	})
	lab := make([]float32, len(rgb))
	LabRow(lab, rgb)
	for i := range len(rgb) / 3 {
		c := Linear{float64(rgb[3*i]), float64(rgb[3*i+1]), float64(rgb[3*i+2])}
		want := c.Lab()
		requireLab(t, want, Lab{float64(lab[3*i]), float64(lab[3*i+1]), float64(lab[3*i+2])}, 1e-3)
	}
	LabRow(rgb, rgb) // in place
	require.Equal(t, lab, rgb)
}

const benchPixels = 1 << 16

func benchRow() []float32 {
	rgb := make([]float32, 0, 3*benchPixels)
	for i := range 3 * benchPixels {
		rgb = append(rgb, float32(i*7919%benchPixels)/benchPixels)
	}
	return rgb
}

func BenchmarkLabRow(b *testing.B) {
	rgb, dst := benchRow(), make([]float32, 3*benchPixels)
	b.ReportAllocs()
	b.SetBytes(benchPixels) // MB/s reads as megapixels a second
	for b.Loop() {
		LabRow(dst, rgb)
	}
}

// BenchmarkLabExactly is the exact path, for comparison.
func BenchmarkLabExactly(b *testing.B) {
	rgb, dst := benchRow(), make([]float32, 3*benchPixels)
	b.ReportAllocs()
	b.SetBytes(benchPixels)
	for b.Loop() {
		for i := 0; i < len(rgb); i += 3 {
			l := Linear{float64(rgb[i]), float64(rgb[i+1]), float64(rgb[i+2])}.Lab()
			dst[i], dst[i+1], dst[i+2] = float32(l.L), float32(l.A), float32(l.B)
		}
	}
}
