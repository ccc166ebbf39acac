package eye

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

// checks are squares of size pixels, black and white.
func checks(w, h, size int) *photo.Picture {
	p := photo.New(w, h)
	for y := range h {
		for x := range w {
			if (x/size+y/size)%2 == 0 {
				for c := range 3 {
					p.Pix[3*(y*w+x)+c] = 1
				}
			}
		}
	}
	return p
}

// From far away a black and white check is the grey of half the light, not
// the grey of half the code (Murray 1936: L* 76.07 for Y 0.5).
// blurredPlane is a Gaussian blur in full size.
func blurredPlane(p plane, sigma float64) plane {
	var ws workspace
	return ws.stretched(ws.gaussian(p, sigma), p.w, p.h)
}

func TestChecksMeltIntoHalfTheLight(t *testing.T) {
	p := checks(120, 120, 2)
	q := blur(p, nil, 4000, colorspace.SpatialKernels(), 0)
	for _, at := range [][2]int{{60, 60}, {10, 100}, {0, 0}} {
		assert.InDelta(t, 76.07, q.At(at[0], at[1]).Lab().L, .5)
	}
	assert.Less(t, new(Room).Spread(p, nil, 4000), .5)
	// Close by, the same check is as busy as can be: L* 0 and 100, deviation 50.
	assert.InDelta(t, 50, new(Room).Spread(checks(240, 240, 60), nil, 30), 8)
}

func TestBlurKeepsAPlainColour(t *testing.T) {
	p := photo.New(50, 40)
	want := colorspace.Linear{.3, .1, .6}
	weight := make([]float32, 50*40)
	for i := range 50 * 40 {
		for c := range 3 {
			p.Pix[3*i+c] = float32(want[c])
		}
		if i%50 < 30 {
			weight[i] = 1
		} else {
			p.Pix[3*i] = 9 // a neighbour that must not leak in
		}
	}
	for _, spd := range []float64{5, 75, 900} {
		q := blur(p, weight, spd, colorspace.SpatialKernels(), 0)
		for c := range 3 {
			assert.InDelta(t, want[c], q.At(29, 20)[c], 1e-5)
			assert.InDelta(t, want[c], q.At(0, 0)[c], 1e-5)
		}
		assert.Less(t, new(Room).Spread(p, weight, spd), 1e-3)
	}
}

// A grating's contrast after the blur is the transfer of the published
// kernels: for exp(-r^2/s^2) it is exp(-(pi f s)^2) at f cycles per degree,
// weighted and summed (Zhang and Wandell 1996; Bracewell for the transform).
func TestGratingKeepsTheKernelsTransfer(t *testing.T) {
	const spd, n = 90.0, 720
	for _, f := range []float64{2, 5, 10} {
		p := photo.New(n, 24)
		for i := range n * 24 {
			v := .5 + .1*math.Sin(2*math.Pi*f*float64(i%n)/spd)
			for c := range 3 {
				p.Pix[3*i+c] = float32(v)
			}
		}
		q := blur(p, nil, spd, colorspace.SpatialKernels(), 0)
		lo, hi := 1.0, 0.0
		for x := n / 3; x < 2*n/3; x++ {
			y := q.At(x, 12).Y()
			lo, hi = min(lo, y), max(hi, y)
		}
		// All three channels of a grey grating vary; Y is made of all three.
		fwd := colorspace.XYZToOpponent()
		back := fwd.Inverse()
		white := colorspace.WhiteD65()
		opp := fwd.Apply([3]float64{white.X, white.Y, white.Z})
		var want float64
		for c, kernels := range colorspace.SpatialKernels() {
			for _, k := range kernels {
				a := math.Pi * f * k.SpreadDegrees
				want += back[1][c] * opp[c] * k.Weight * math.Exp(-a*a)
			}
		}
		assert.InDelta(t, want, (hi-lo)/.2, .02, "%g cycles", f)
	}
}

// S-CIELAB's samples per degree: samples per length x distance x tan 1 degree.
// Published example values: 3.937 samples/mm at 500 mm make 34.36.
func TestPixelsPerDegree(t *testing.T) {
	assert.InDelta(t, 34.3603, PixelsPerDegree(.1/3.937, .5), 1e-3)
	assert.InDelta(t, 17.45506, PixelsPerDegree(.1, 1), 1e-4)
}

func TestGaussianHasItsVariance(t *testing.T) {
	const w, h = 401, 41
	src := make([]float32, w*h)
	for y := range h {
		src[y*w+200] = 1
	}
	for _, sigma := range []float64{1, 2, 2.9, 3, 5.9, 6.5, 20, 40} {
		var sum, m2 float64
		for i, v := range blurredPlane(plane{src, w, h, 1}, sigma).v[20*w:][:w] {
			sum += float64(v)
			m2 += float64(v) * float64((i-200)*(i-200))
		}
		assert.InDelta(t, 1, sum, .01)
		assert.InDelta(t, sigma, math.Sqrt(m2/sum), .03*sigma, "%g", sigma)
	}
	// Along the columns it is the same as along the rows.
	turned := make([]float32, w*h)
	for y := range h {
		for x := range w {
			src[y*w+x] = float32((x*7+y*13)%23) / 23
			turned[x*h+y] = src[y*w+x]
		}
	}
	for _, sigma := range []float64{1.3, 9} {
		a, b := blurredPlane(plane{src, w, h, 1}, sigma).v, blurredPlane(plane{turned, h, w, 1}, sigma).v
		for i := range a {
			assert.InDelta(t, a[i], b[i%w*h+i/w], 1e-5)
		}
	}
}

func BenchmarkSpread(b *testing.B) {
	p := checks(360, 360, 9)
	b.ReportAllocs()
	for b.Loop() {
		new(Room).Spread(p, nil, 300)
	}
}

// Squinting, a fine check is the grey of half the light: code 188 of sRGB
// (IEC 61966-2-1), not 128. A plain cloth beside it keeps its own grey, as
// dark as it is.
func TestSquintKeepsTheLight(t *testing.T) {
	p := checks(400, 200, 2)
	for y := range 200 {
		for x := 200; x < 400; x++ {
			for c := range 3 {
				p.Pix[3*(y*400+x)+c] = .03
			}
		}
	}
	q := Squint(p, 60)
	require.Less(t, q.W, 400, "with no more pixels than it needs")
	at := func(x, y float64) uint8 { return q.Grey().GrayAt(int(x*float64(q.W)), int(y*float64(q.H))).Y }
	assert.InDelta(t, 188, int(at(.1, .5)), 1)
	assert.InDelta(t, float64(colorspace.Encode8(.03)), float64(at(.9, .5)), 1)
	for _, kernels := range SquintKernels() {
		sum := 0.0
		for _, k := range kernels {
			assert.Positive(t, k.Weight)
			sum += k.Weight
		}
		assert.InDelta(t, 1, sum, 1e-12)
	}
}

// The farther away, the less is left of a grating: as much as the kernels
// leave at five times the distance.
func TestSquintLosesDetailWithDistance(t *testing.T) {
	const n, period = 800, 40.0
	p := photo.New(n, 16)
	for i := range n * 16 {
		v := float32(.5 + .4*math.Sin(2*math.Pi*float64(i%n)/period))
		p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2] = v, v, v
	}
	fwd := colorspace.XYZToOpponent()
	back := fwd.Inverse()
	white := colorspace.WhiteD65()
	opp := fwd.Apply([3]float64{white.X, white.Y, white.Z})
	for _, ppd := range []float64{20, 40, 80} {
		q := Squint(p, ppd)
		lo, hi := 1.0, 0.0
		for x := q.W / 3; x < 2*q.W/3; x++ {
			y := q.At(x, q.H/2).Y()
			lo, hi = min(lo, y), max(hi, y)
		}
		want, f := 0.0, ppd*Squinting/period
		for c, kernels := range SquintKernels() {
			for _, k := range kernels {
				a := math.Pi * f * k.SpreadDegrees
				want += back[1][c] * opp[c] * k.Weight * math.Exp(-a*a)
			}
		}
		assert.InDelta(t, want, (hi-lo)/.8, .04, "%g", ppd)
	}
}

func TestFewValuesAreCutWhereAsked(t *testing.T) {
	p := photo.New(90, 30)
	for i := range 90 * 30 {
		l := []float64{80, 50, 20}[i%90/30]
		y := float32(colorspace.LuminanceOf(l))
		p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2] = y, y, y
	}
	v := NewViews(p, 2)
	assert.Nil(t, v.Values)
	require.NoError(t, v.FewValues(nil))
	assert.Nil(t, v.Values)
	for _, cuts := range [][]float64{{65}, {65, 35}, {90, 65, 35, 10}} {
		require.NoError(t, v.FewValues(cuts))
		img, err := png.Decode(bytes.NewReader(v.Values))
		require.NoError(t, err)
		require.Equal(t, image.Rect(0, 0, 90, 30), img.Bounds())
		greys := ValueGreys(len(cuts) + 1)
		for third, l := range []float64{80, 50, 20} {
			step := 0
			for step < len(cuts) && l < cuts[step] {
				step++
			}
			want := colorspace.Encode8(float32(colorspace.LuminanceOf(greys[step])))
			got := color.GrayModel.Convert(img.At(third*30+15, 15)).(color.Gray)
			assert.Equal(t, want, got.Y, "%v of %v", l, cuts)
		}
	}
	assert.Equal(t, []float64{92, 55, 18}, ValueGreys(3))
	v.Squint = []byte("no picture")
	require.Error(t, v.FewValues([]float64{50}))
}

// The grey view of pure red, green and blue has the grey of their Y
// (IEC 61966-2-1: .2126, .7152, .0722), not a third of the code.
func TestGreyViewHasTheGreyOfY(t *testing.T) {
	p := photo.New(96, 32)
	for i := range 96 * 32 {
		p.Pix[3*i+i%96/32] = 1
	}
	img, err := jpeg.Decode(bytes.NewReader(NewViews(p, 5).Grey))
	require.NoError(t, err)
	for third, y := range []float64{.2126, .7152, .0722} {
		want := colorspace.EncodeSRGB(y) * 255
		got := color.GrayModel.Convert(img.At(third*32+16, 16)).(color.Gray).Y
		assert.InDelta(t, want, float64(got), 1)
	}
}
