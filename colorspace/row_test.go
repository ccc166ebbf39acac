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

func TestLightnessRowAgreesWithLightness(t *testing.T) {
	var y []float32
	for v := float32(-.2); v <= 1.6; v += 1e-5 {
		y = append(y, v)
	}
	have := make([]float32, len(y))
	LightnessRow(have, y)
	for i, v := range y {
		require.InDelta(t, Lightness(float64(v)), float64(have[i]), 1e-3, "Y %v", v)
	}
	LightnessRow(y, y) // in place
	require.Equal(t, have, y)
}

func TestLabRowAgreesWithLab(t *testing.T) {
	var rgb []float32
	cube(24, func(c Linear) {
		for _, v := range c {
			rgb = append(rgb, float32(1.7*v-.2)) // below 0 and above 1 too
		}
	})
	lab, light := make([]float32, len(rgb)), make([]float32, len(rgb)/3)
	LabRow(lab, rgb)
	LightnessOfRow(light, rgb)
	for i := range light {
		c := Linear{float64(rgb[3*i]), float64(rgb[3*i+1]), float64(rgb[3*i+2])}
		want := c.Lab()
		requireLab(t, want, Lab{float64(lab[3*i]), float64(lab[3*i+1]), float64(lab[3*i+2])}, 1e-3)
		require.InDelta(t, Lightness(c.Y()), float64(light[i]), 1e-3)
	}
	LightnessOfRow(append([]float32(nil), rgb...)[:len(light)], rgb)
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

func BenchmarkLightnessOfRow(b *testing.B) {
	rgb, dst := benchRow(), make([]float32, benchPixels)
	b.ReportAllocs()
	b.SetBytes(benchPixels)
	for b.Loop() {
		LightnessOfRow(dst, rgb)
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
