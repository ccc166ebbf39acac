package cloth

import (
	"encoding/csv"
	"image"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

// evenOf is a picture taken as it is.
func evenOf(t *testing.T, p *photo.Picture) *light.Even {
	t.Helper()
	e, err := light.New(&photo.Photo{Name: "cloth.jpg", Width: p.W, Height: p.H, Picture: p, Reduction: 1}, light.Options{Mode: light.None}, light.OneCloth)
	require.NoError(t, err)
	return e
}

// painted is a picture of w x h pixels of grey reflectances.
func painted(w, h int, at func(x, y int) float64) *photo.Picture {
	p := photo.New(w, h)
	for y := range h {
		for x := range w {
			v := float32(at(x, y))
			i := 3 * (y*w + x)
			p.Pix[i], p.Pix[i+1], p.Pix[i+2] = v, v, v
		}
	}
	return p
}

func measure(t *testing.T, p *photo.Picture) Cloth {
	t.Helper()
	c, ok := Measure(evenOf(t, p), Whole(p.W, p.H), View{PixelsPerDegree: 300})
	require.True(t, ok)
	return c
}

// The value of a two-ink print is that of the mean of its light: Murray 1936,
// J. Franklin Inst. 221:721, R = a R_ink + (1 - a) R_paper. The wrong way, the
// mean of the inks' L*, is 3 to 26 away and must be seen to be missed.
func TestValueOfTwoInkPrints(t *testing.T) {
	file, err := os.Open("../../testdata/published/06_murray_davies.csv")
	require.NoError(t, err)
	defer file.Close()
	r := csv.NewReader(file)
	r.FieldsPerRecord, r.Comment = -1, '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	checked := 0
	for _, row := range rows {
		if strings.HasPrefix(row[0], "ink") {
			continue
		}
		var v []float64
		for _, s := range row[:5] {
			x, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			v = append(v, x)
		}
		area, paper, ink, lightness := v[0], v[1], v[2], v[4]
		// Stripes of 20 pixels, of which the ink covers its share.
		c := measure(t, painted(400, 300, func(x, _ int) float64 {
			if float64(x%20) < area*20 {
				return ink
			}
			return paper
		}))
		assert.InDelta(t, lightness, c.Lightness, .01, "area %g", area)
		assert.InDelta(t, c.Lightness, c.Lab.L, 0)
		checked++
	}
	assert.Equal(t, 9, checked)
}

func TestCharacters(t *testing.T) {
	figure := func(ground, figure float64, size int) *photo.Picture {
		y0, y1 := colorspace.LuminanceOf(ground), colorspace.LuminanceOf(figure)
		return painted(300, 300, func(x, y int) float64 {
			if (x/size+y/size)%3 == 0 {
				return y1
			}
			return y0
		})
	}
	for _, c := range []struct {
		what string
		p    *photo.Picture
		want Character
	}{
		{"one colour", figure(60, 60, 30), Solid},
		{"a figure 6 L* from its ground", figure(60, 66, 30), ToneOnTone},
		{"a figure 16 L* from its ground", figure(60, 76, 30), Print},
		{"white figures on black", figure(15, 93, 30), HighContrastPrint},
		{"white figures on black too small to be seen from there", figure(15, 93, 4), Print},
	} {
		assert.Equal(t, c.want, measure(t, c.p).Character, c.what)
	}
}

// A highlight that fades into a plain cloth is the lamp's: without it the
// cloth has its own value. The same burnt-out area with an edge is the cloth's.
func TestGlossIsLeftOutAndWhiteFiguresAreNot(t *testing.T) {
	const cloth = .12
	shine := func(soft float64) *photo.Picture {
		p := painted(400, 300, func(x, y int) float64 {
			d := math.Hypot(float64(x)-260, float64(y)-120)
			v := cloth
			switch {
			case soft > 0:
				v += 3 * math.Exp(-d*d/(2*soft*soft))
			case d < 28:
				v = 3
			}
			return min(v, 1)
		})
		p.Bright = make([]uint8, p.W*p.H)
		for i := range p.Bright {
			if p.Pix[3*i] >= 1 {
				p.Bright[i] = 255
			}
		}
		return p
	}
	gloss := measure(t, shine(22))
	assert.InDelta(t, colorspace.Lightness(cloth), gloss.Lightness, 1.5)
	assert.Contains(t, gloss.Remark, "shine")

	figure := measure(t, shine(0))
	share := math.Pi * 28 * 28 / (400 * 300)
	assert.InDelta(t, colorspace.Lightness(share+(1-share)*cloth), figure.Lightness, .3)
	assert.Contains(t, figure.Remark, "burnt out")
	assert.InDelta(t, share, figure.Clipped, .002)
	assert.Greater(t, figure.Uncertainty, measure(t, painted(400, 300, func(int, int) float64 { return cloth })).Uncertainty)
}

func TestCrushedClothIsMarked(t *testing.T) {
	p := painted(100, 100, func(int, int) float64 { return .001 })
	plain := measure(t, p)
	p.Dark = make([]uint8, 100*100)
	for i := range p.Dark {
		p.Dark[i] = 200
	}
	crushed := measure(t, p)
	assert.Contains(t, crushed.Remark, "pure black")
	assert.Greater(t, crushed.Apart, plain.Apart+1)
}

// What the camera's curve bends is little beside a card, grows away from its
// lightness, and is no part of what two pieces of one photo differ by.
func TestCurveCountsAwayFromTheCard(t *testing.T) {
	card := image.Rect(20, 20, 80, 80)
	of := func(l, stated float64) Cloth {
		p := painted(400, 300, func(x, y int) float64 {
			if image.Pt(x, y).In(card) {
				return colorspace.LuminanceOf(stated)
			}
			return colorspace.LuminanceOf(l)
		})
		e, err := light.New(&photo.Photo{Width: 400, Height: 300, Picture: p, Reduction: 1}, light.Options{Cards: []light.Card{{Place: card}}, CardLightness: stated}, light.OneCloth)
		require.NoError(t, err)
		require.True(t, e.LevelKnown)
		c, ok := Measure(e, Whole(400, 300), View{PixelsPerDegree: 300})
		require.True(t, ok)
		return c
	}
	// As a share of the luminance, so that lightnesses can be compared.
	share := func(c Cloth, half float64) float64 { return half / lightnessPerShare(c.Lab.Linear().Y()) }
	light, middle, dark := of(90, 95), of(60, 95), of(25, 95)
	assert.InDelta(t, share(light, light.Apart), share(dark, dark.Apart), 1e-3)
	assert.Less(t, share(light, light.Uncertainty), share(middle, middle.Uncertainty))
	assert.Less(t, share(middle, middle.Uncertainty), share(dark, dark.Uncertainty))
	assert.Less(t, light.Uncertainty, 6.) // each surface has a doubt of its own, however near the card
	// Beside a grey card it is the other end that is far.
	light, dark = of(90, 30), of(25, 30)
	assert.Greater(t, share(light, light.Uncertainty), share(dark, dark.Uncertainty))
}

func TestNothingToMeasure(t *testing.T) {
	p := painted(50, 50, func(int, int) float64 { return .5 })
	e := evenOf(t, p)
	for _, r := range []Region{{}, Polygon(nil, 50, 50), Polygon([][2]float64{{60, 60}, {70, 60}, {70, 70}}, 50, 50),
		Polygon([][2]float64{{math.NaN(), 0}, {1, 0}, {1, 1}}, 50, 50)} {
		_, ok := Measure(e, r, View{PixelsPerDegree: 100})
		assert.False(t, ok)
	}
	e.Ignore = []image.Rectangle{image.Rect(0, 0, 50, 50)}
	_, ok := Measure(e, Whole(50, 50), View{PixelsPerDegree: 100})
	assert.False(t, ok)
}

// Neighbours outside the outline have no part in a piece's figures.
func TestOnlyThePieceCounts(t *testing.T) {
	p := painted(200, 200, func(x, y int) float64 {
		if x >= 50 && x < 150 && y >= 60 && y < 140 {
			return .3
		}
		return .9
	})
	c, ok := Measure(evenOf(t, p), Polygon([][2]float64{{50, 60}, {150, 60}, {150, 140}, {50, 140}}, 200, 200), View{PixelsPerDegree: 100})
	require.True(t, ok)
	assert.InDelta(t, colorspace.Lightness(.3), c.Lightness, 1e-3)
	assert.Less(t, c.Spread, .01)
	require.NotNil(t, c.Swatch)
	assert.Equal(t, 100, c.Swatch.W)
	assert.Equal(t, 80, c.Swatch.H)
}

func TestPolygonCoversItsArea(t *testing.T) {
	tri := Polygon([][2]float64{{10.5, 10.25}, {60.25, 20}, {30, 70.75}}, 100, 100)
	want := math.Abs((60.25-10.5)*(70.75-10.25)-(30-10.5)*(20-10.25)) / 2
	assert.InDelta(t, want, tri.Area(), want*.005)
	assert.InDelta(t, 400, Polygon([][2]float64{{-20, -20}, {20, -20}, {20, 20}, {-20, 20}}, 100, 100).Area(), .1)
	assert.InDelta(t, 10000-600, Whole(100, 100).Without([]image.Rectangle{image.Rect(90, 40, 130, 100)}).Area(), 1e-6)
}

func BenchmarkMeasureCloseup(b *testing.B) {
	p := painted(2016, 1512, func(x, y int) float64 {
		if (x/90+y/90)%3 == 0 {
			return .6
		}
		return .2
	})
	e, err := light.New(&photo.Photo{Width: p.W, Height: p.H, Picture: p, Reduction: 1}, light.Options{Mode: light.None}, light.OneCloth)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		Measure(e, Whole(p.W, p.H), View{PixelsPerDegree: 1700})
	}
}

// A swatch beside a card is cut by the part of the outline that it shows.
func TestShapeBesideACard(t *testing.T) {
	r := Region{Bounds: image.Rect(100, 100, 200, 180)}
	outline := [][2]float64{{100, 100}, {200, 100}, {200, 180}, {100, 180}}
	whole := [][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	assert.Equal(t, whole, r.Shape(outline, nil))
	// The card leaves the right three quarters; the slant from the corner to the
	// middle of the right side begins on it.
	card := []image.Rectangle{image.Rect(90, 90, 125, 190)}
	assert.Equal(t, [][2]float64{{0, 0}, {1, .5}, {1, 1}, {0, 1}}, r.Shape([][2]float64{{100, 100}, {200, 140}, {200, 180}, {100, 180}}, card))
	assert.Equal(t, [][2]float64{{1. / 3, .5}}, r.Shape([][2]float64{{150, 140}}, card))
}
