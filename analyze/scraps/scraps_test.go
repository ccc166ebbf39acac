package scraps

import (
	"image"
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/colorspace"
)

func TestGrounds(t *testing.T) {
	for name, ground := range map[string]paint{
		"white sheet": sheet,
		"grey mat":    ruled(colorspace.Lab{L: 50}),
		"green mat":   ruled(colorspace.Lab{L: 42, A: -22, B: 8}),
		"wood":        wood,
		"carpet":      carpet,
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(480, 360, ground)
			b.lay(rect(90, 80, 110, 70, 9), plainOf(30, 40, 20))
			b.lay(rect(250, 90, 60, 110, -14), dots(colorspace.Lab{L: 75, A: -5, B: -24}, colorspace.Lab{L: 90}, 14, .2))
			b.lay([]point{{330, 130}, {450, 40}, {440, 150}}, plainOf(80, 3, 40))
			b.lay(rect(120, 240, 150, 36, 3), plainOf(24, 2, -22))
			b.lay([]point{{240, 200}, {300, 190}, {340, 240}, {300, 310}, {230, 280}}, dots(colorspace.Lab{L: 35, A: 25, B: -20}, colorspace.Lab{L: 60, A: 30}, 16, .25))
			b.lay(rect(410, 270, 70, 90, 30), plainOf(68, 28, 30))
			found, extra := b.check(t, Find(b.shoot(), How{}))
			assert.Equal(t, 6, found)
			assert.Zero(t, extra)
		})
	}
}

// A gap of 1 % of the width, with the shadows of both sides in it.
func TestNarrowGaps(t *testing.T) {
	b := basket(800, 600, 4, 3, 8, sheet)
	found, extra := b.check(t, Find(b.shoot(), How{}))
	assert.Equal(t, 12, found)
	assert.Zero(t, extra)
}

func TestManyPieces(t *testing.T) {
	b := basket(1000, 750, 15, 10, 14, sheet)
	f := Find(b.shoot(), How{})
	require.True(t, f.Small, "so many look for a closer look")
	found, extra := b.check(t, Find(b.shoot(), How{Closely: true}))
	assert.GreaterOrEqual(t, found, 147, "98 %% of 150")
	assert.LessOrEqual(t, extra, 1)
}

// A print whose figures have the very colour of the ground is one piece, also
// where they are cut by its edge.
func TestHolesOfTheGroundsColour(t *testing.T) {
	for _, ground := range []paint{sheet, plainOf(50, 0, 0)} {
		b := newTable(480, 360, ground)
		b.lay(rect(130, 170, 150, 200, 6), dots(colorspace.Lab{L: 30, A: 30, B: -10}, ground(0, 0), 34, .3))
		b.lay(rect(350, 170, 130, 180, -8), dots(colorspace.Lab{L: 70, A: -20, B: 30}, ground(0, 0), 26, .2))
		found, extra := b.check(t, Find(b.shoot(), How{}))
		assert.Equal(t, 2, found)
		assert.Zero(t, extra)
	}
}

// Stripes that look like the ground in a shadow, and are narrower than pieces
// lie apart, do not cut a piece up; two pieces whose corners nearly touch stay
// two.
func TestStripesLikeAShadow(t *testing.T) {
	stripes := func(x, y int) colorspace.Lab {
		if x%24 < 4 {
			return colorspace.Lab{L: 84}
		}
		return colorspace.Lab{L: 45, A: 30, B: 20}
	}
	b := newTable(800, 600, sheet)
	b.lay(rect(200, 180, 240, 150, 0), stripes)
	b.lay(rect(560, 180, 220, 160, 0), plainOf(30, 10, -30))
	b.lay([]point{{200, 330}, {300, 430}, {200, 530}, {100, 430}}, plainOf(35, 30, 20))
	b.lay([]point{{404, 330}, {504, 430}, {404, 530}, {304, 430}}, plainOf(35, 30, 20))
	found, extra := b.check(t, Find(b.shoot(), How{}))
	assert.Equal(t, 4, found)
	assert.Zero(t, extra)
}

// The shadow belongs to the ground, how deep it may be: it makes no piece
// larger, and joins no two.
func TestContactShadows(t *testing.T) {
	b := newTable(480, 360, sheet)
	left, right := rect(140, 180, 150, 220, 0), rect(300, 180, 150, 220, 0) // 10 pixels between them
	for _, o := range [][]point{left, right} {
		b.shade(o, .5, 3)
	}
	for i, o := range [][]point{left, right} {
		b.cover(o, plainOf(30+30*float64(i), 20, 20))
		b.pieces = append(b.pieces, o)
	}
	f := Find(b.shoot(), How{})
	require.Equal(t, 2, len(f.Pieces))
	for i, o := range b.pieces {
		assert.Greater(t, overlap(o, f.Pieces[i].Outline, 480, 360), .96)
	}
}

// A cloth of nearly the ground's colour is found, or its place is told.
func TestClothLikeTheGround(t *testing.T) {
	for name, c := range map[string]struct {
		ground paint
		off    colorspace.Lab
	}{
		"on a sheet":  {sheet, colorspace.Lab{L: 92.4, A: .4, B: .8}},
		"on a carpet": {carpet, colorspace.Lab{L: 60, A: -8, B: 5}},
		"on wood":     {wood, colorspace.Lab{L: 54, A: 11, B: 24}},
	} {
		b := newTable(480, 360, c.ground)
		b.lay(rect(100, 90, 110, 80, 5), plainOf(30, 30, 10))
		b.lay(rect(370, 100, 120, 80, -5), plainOf(40, -20, 10))
		b.lay(rect(110, 270, 110, 80, 0), plainOf(50, 10, -30))
		b.lay(rect(350, 260, 120, 90, 7), func(x, y int) colorspace.Lab {
			k := c.off // woven
			k.L += 1.5 * float64((x/2+y/2)%2)
			return k
		})
		f := Find(b.shoot(), How{})
		found, extra := b.check(t, f)
		assert.GreaterOrEqual(t, found, 3, name)
		assert.LessOrEqual(t, extra, 1, name)
		roughly := false // its edge hardly shows
		for _, p := range f.Pieces {
			roughly = roughly || !p.Doubtful && overlap(b.pieces[3], p.Outline, 480, 360) > .5
		}
		assert.True(t, roughly || strings.Contains(strings.Join(f.Notes, " "), "missed"), "%s: %d found, %v", name, found, f.Notes)
	}
}

// A cloth that could be the ground in a shadow ends at its own edge, where the
// shadow begins, and not somewhere within.
func TestClothAsDimAsAShadow(t *testing.T) {
	for _, l := range []float64{78, 81, 84, 87} {
		b := newTable(800, 600, sheet)
		b.lay(rect(200, 180, 240, 150, 5), plainOf(l, 0, 1))
		b.lay(rect(560, 180, 220, 60, -8), plainOf(l, 0, 1))
		b.lay(rect(220, 430, 200, 160, 12), dots(colorspace.Lab{L: l, B: 1}, colorspace.Lab{L: 40, A: 30}, 40, .1))
		b.lay(rect(560, 430, 220, 160, -3), plainOf(30, 10, -30))
		f := Find(b.shoot(), How{})
		require.Len(t, f.Pieces, 4, "L* %v", l)
		for _, o := range b.pieces {
			best := 0.0
			for _, p := range f.Pieces {
				best = max(best, overlap(o, p.Outline, 800, 600))
			}
			assert.Greater(t, best, .9, "L* %v", l)
		}
	}
}

// The ground in the middle of several pieces is parted from the rest by their
// shadows, and is no cloth.
func TestGroundAmongPieces(t *testing.T) {
	b := newTable(800, 600, sheet)
	for _, at := range []point{{160, 420}, {300, 420}, {160, 530}, {300, 530}} {
		b.lay(rect(at[0], at[1], 124, 94, 0), plainOf(30, 10, -30))
	}
	for _, o := range [][]point{rect(560, 400, 70, 70, 45), rect(480, 480, 70, 70, 45), rect(640, 480, 70, 70, 45), rect(560, 560, 70, 70, 45)} {
		b.lay(o, plainOf(50, 30, 20))
	}
	e := b.shoot()
	found, extra := b.check(t, Find(e, How{Known: true}))
	assert.Equal(t, 8, found)
	assert.Zero(t, extra)
}

func TestNoClothIsDoubted(t *testing.T) {
	for name, draw := range map[string]func(b *table){
		"scissors": func(b *table) {
			blade := func(degrees float64) []point { return rect(380, 120, 12, 170, degrees) }
			b.shade(blade(20), .35, 4)
			b.cover(blade(20), plainOf(65, 0, 0))
			b.cover(blade(-20), plainOf(65, 0, 0))
		},
		"scissors with rings": func(b *table) {
			b.shade(rect(385, 60, 14, 110, 15), .35, 4)
			b.cover(rect(385, 60, 14, 110, 15), plainOf(65, 0, 0))
			b.cover(rect(385, 60, 14, 110, -15), plainOf(65, 0, 0))
			for _, side := range []float64{-1, 1} {
				at := point{385 + 22*side, 135}
				b.cover(disc(at, 20), plainOf(30, 40, 20))
				b.cover(disc(at, 12), plainOf(55, -4, -8))
			}
		},
		"paper": func(b *table) {
			o := rect(380, 120, 120, 85, 3)
			b.shade(o, .35, 4)
			b.cover(o, plainOf(95, 0, 0))
		},
		"pencil": func(b *table) {
			o := rect(380, 130, 170, 6, 60)
			b.shade(o, .35, 4)
			b.cover(o, plainOf(55, 20, 50))
		},
		"hand": func(b *table) {
			for i := range 4 {
				o := rect(370+20*float64(i), 90, 13, 130, 0)
				b.shade(o, .35, 4)
				b.cover(o, plainOf(68, 14, 18))
			}
			b.cover([]point{{355, 60}, {445, 60}, {440, 0}, {360, 0}}, plainOf(68, 14, 18))
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(480, 360, plainOf(55, -4, -8))
			draw(b)
			b.lay(rect(120, 90, 110, 80, 12), plainOf(30, 40, 20))
			b.lay(rect(110, 260, 120, 80, -9), plainOf(75, 5, 40))
			b.lay(rect(340, 270, 100, 90, 20), dots(colorspace.Lab{L: 30, B: -30}, colorspace.Lab{L: 80}, 14, .2))
			f := Find(b.shoot(), How{})
			found, extra := b.check(t, f)
			assert.Equal(t, 3, found)
			assert.Zero(t, extra, "%+v", f.Notes)
			for _, p := range f.Pieces {
				assert.Equal(t, p.Doubtful, p.Note != "")
			}
		})
	}
}

// disc is a circle round a middle, as a polygon.
func disc(at point, r float64) (out []point) {
	for i := range 40 {
		s, c := math.Sincos(float64(i) * math.Pi / 20)
		out = append(out, point{at[0] + r*c, at[1] + r*s})
	}
	return out
}

// A print of nearly the ground's colour, with figures as small as its threads, shows
// by its texture alone.
func TestPalePrintOnAPaleGround(t *testing.T) {
	b := newTable(900, 600, plainOf(94, 0, 0))
	pale := []point{{150, 130}, {340, 150}, {330, 270}, {250, 320}, {140, 250}}
	b.cover(pale, dots(colorspace.Lab{L: 93, B: 3}, colorspace.Lab{L: 85, B: 4}, 10, .3)) // flat on the ground: no shadow
	b.pieces = append(b.pieces, pale)
	b.lay(rect(640, 220, 180, 150, -8), plainOf(40, 20, 10))
	b.lay(rect(420, 450, 170, 130, 4), plainOf(60, -20, 10))
	found, extra := b.check(t, Find(b.shoot(), How{}))
	assert.Equal(t, 3, found)
	assert.Zero(t, extra)
}

// The figures of a cloth of the ground's colour are no scraps, however many
// they are.
func TestFiguresAloneAreDoubted(t *testing.T) {
	b := newTable(480, 360, sheet)
	b.lay(rect(120, 90, 150, 120, 12), plainOf(30, 40, 20))
	b.lay(rect(110, 260, 140, 120, -9), plainOf(75, 5, 40))
	b.lay(rect(380, 90, 120, 110, 20), plainOf(40, 5, -40))
	for i := range 16 {
		x, y := 300+40*float64(i%4), 220+35*float64(i/4)
		b.cover(rect(x, y, 8, 8, 0), plainOf(30, 0, 0))
	}
	found, extra := b.check(t, Find(b.shoot(), How{Known: true}))
	assert.Equal(t, 3, found)
	assert.Zero(t, extra)
}

// A mat that is ruled all over is one ground, and its lines part nothing and join nothing.
func TestRuledMat(t *testing.T) {
	b := newTable(1200, 900, func(x, y int) colorspace.Lab {
		c := colorspace.Lab{L: 38, A: -18, B: 6}
		if x%44 < 4 || y%44 < 4 || x%220 < 6 || y%220 < 6 {
			c = colorspace.Lab{L: 62, A: -12, B: 8}
		}
		c.L += .8 * hash(x, y, 1)
		return c
	})
	for i := range 6 {
		b.lay(rect(220+370*float64(i%3), 250+400*float64(i/3), 230, 260, 7*float64(i)-15), plainOf(22+9*float64(i), 40, -30))
	}
	found, extra := b.check(t, Find(b.shoot(), How{}))
	assert.Equal(t, 6, found)
	assert.Zero(t, extra)
}

// Nor do they tell what the photo shows: the pieces that cover most of what is
// covered lie in their shadows.
func TestFiguresDoNotOutvotePieces(t *testing.T) {
	ground := colorspace.Lab{L: 70}
	b := newTable(900, 700, plainOf(ground.L, 0, 0))
	for i := range 5 {
		b.lay(rect(120+165*float64(i), 170, 130, 220, 3), plainOf(25+8*float64(i), 30-12*float64(i), 10))
	}
	b.lay(rect(450, 500, 520, 240, 0), dots(ground, colorspace.Lab{L: 40, A: 20}, 26, .2))
	f := Find(b.shoot(), How{})
	found, _ := b.check(t, f)
	require.GreaterOrEqual(t, found, 5, "%v", f.Notes)
}

// Cloth edge to edge is one, however its print looks.
func TestOneCloth(t *testing.T) {
	for name, with := range map[string]paint{
		"solid":   plainOf(45, 20, 10),
		"dots":    dots(colorspace.Lab{L: 30, B: -20}, colorspace.Lab{L: 90}, 40, .25),
		"pindots": dots(colorspace.Lab{L: 88, B: 8}, colorspace.Lab{L: 30}, 16, .1),
		"gingham": func(x, y int) colorspace.Lab {
			return colorspace.Lab{L: 92 - 25*float64(x/18%2) - 25*float64(y/18%2), A: 20 * float64(x/18%2)}
		},
		"stripe": func(x, y int) colorspace.Lab { return colorspace.Lab{L: 40 + 45*float64(x/23%2)} },
		"plaid": func(x, y int) colorspace.Lab {
			return colorspace.Lab{L: 75 - 20*float64(x/30%3/2) - 20*float64(y/30%3/2) - 12*float64(x%60/56), A: 15, B: 5}
		},
		"check": func(x, y int) colorspace.Lab { return colorspace.Lab{L: 20 + 70*float64((x/20+y/20)%2)} },
	} {
		t.Run(name, func(t *testing.T) {
			b := newTable(480, 360, with)
			f := Find(b.shoot(), How{})
			assert.Zero(t, len(f.Pieces))
			require.Len(t, f.Notes, 1)
			assert.True(t, strings.HasPrefix(f.Notes[0], "Taken as one cloth"))
			b = newTable(480, 360, with)
			o := rect(420, 300, 100, 70, 2)
			b.shade(o, .35, 4)
			b.cover(o, plainOf(95, 0, 0))
			if name == "pindots" {
				return // smaller than any piece: the card alone is seen to lie on a plain ground
			}
			assert.Zero(t, len(Find(b.shoot(), How{}).Pieces), "with a card in its corner")
		})
	}
}

// Scraps of one size whose colours hardly differ, as squares cut from pale cloths, are
// scraps as long as they keep off the photo's rim, which no print does.
func TestAlikePiecesAreScraps(t *testing.T) {
	b := newTable(600, 450, plainOf(22, 2, 4))
	for i := range 12 {
		o := rect(90+float64(i%4)*140, 80+float64(i/4)*140, 90, 60, 3*float64(i%3))
		b.shade(o, .35, 4)
		b.cover(o, plainOf(55+1.2*float64(i), 35, 25))
	}
	f := Find(b.shoot(), How{})
	assert.Equal(t, 12, len(f.Pieces), f.Notes)
}

// The chance that the border cuts what touches the photo, by strewing discs.
func TestCutChance(t *testing.T) {
	s := &search{w: 600, h: 400}
	random := rand.New(rand.NewPCG(1, 2))
	for _, d := range []float64{20, 80, 250} {
		cut, all := 0., 0.
		for range 200000 {
			x, y := random.Float64()*(600+d)-d/2, random.Float64()*(400+d)-d/2
			// Beyond both sides at a corner the disc may miss the photo.
			if math.Hypot(max(-x, x-600, 0), max(-y, y-400, 0)) > d/2 {
				continue
			}
			all++
			if min(x, y, 600-x, 400-y) < d/2+onBorder {
				cut++
			}
		}
		assert.InDelta(t, cut/all, s.cutChance(record{pixels: math.Pi * d * d / 4}), .02, "%v across", d)
	}
}

// The same pieces are scraps where the border cuts none, and figures where it cuts them
// as chance has it.
func TestBorderTellsFiguresFromScraps(t *testing.T) {
	for shift, pieces := range map[float64]int{0: 20, 50: 0} {
		b := newTable(600, 500, plainOf(75, 2, 4))
		for i := range 30 {
			x, y := 60+120*float64(i%5)-shift, 60+120*float64(i/5)-shift
			if i >= 20 && shift == 0 {
				break
			}
			b.cover(rect(x+5*hash(i, 1, 0), y+5*hash(i, 2, 0), 76+4*hash(i, 3, 0), 72, 9*hash(i, 4, 0)), plainOf(35+4*hash(i, 5, 0), 20, 10))
		}
		f := Find(b.shoot(), How{})
		assert.Equal(t, pieces, len(f.Pieces), "%v", f.Notes)
	}
}

// What is said to be scraps is not taken for one cloth, whatever it looks
// like: figures of a print are found as pieces then, and nothing is said of
// another reading.
func TestKnownToBeScraps(t *testing.T) {
	blank := photo.New(600, 450)
	e := &light.Even{Picture: blank, Photo: &photo.Photo{Picture: blank}}
	for i := range 600 * 450 {
		x, y := i%600, i/600
		v := float32(.6)
		if dx, dy := x%100-50, y%90-45; dx*dx+dy*dy < 28*28 {
			v = .08 // dots, all alike, cut by the photo's border
		}
		v += .01 * float32((x*7+y*13)%5)
		e.Picture.Pix[3*i], e.Picture.Pix[3*i+1], e.Picture.Pix[3*i+2] = v, v, v
	}
	assert.Zero(t, len(Find(e, How{}).Pieces))
	f := Find(e, How{Known: true})
	assert.NotZero(t, len(f.Pieces))
	for _, n := range f.Notes {
		assert.NotContains(t, n, "--scraps one")
	}
}

// Facts of reading: rows from the top, each from the left, although the rows
// are neither straight nor level and the pieces differ in height.
func TestReadingOrder(t *testing.T) {
	for _, tilt := range []float64{0, 4, -5} {
		var places []point
		var heights []float64
		s, c := math.Sincos(tilt * math.Pi / 180)
		for row := range 4 {
			for col := range 6 {
				x, y := 100*float64(col)+12*hash(row, col, 1), 90*float64(row)+16*hash(row, col, 2)
				places = append(places, point{c*x - s*y, s*x + c*y})
				heights = append(heights, 60+20*hash(row, col, 3))
			}
		}
		want := make([]int, len(places))
		for i := range want {
			want[i] = i
		}
		assert.Equal(t, want, readingOrder(places, heights), "turned by %v degrees", tilt)
	}
	assert.Empty(t, readingOrder(nil, nil))
	assert.Equal(t, []int{1, 0}, readingOrder([]point{{9, 5}, {2, 5}}, []float64{3, 3}))
}

// Nothing makes it panic, and what is no table has no pieces.
func TestOddPictures(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {2, 1}, {1, 300}, {2000, 3}, {5, 5}, {64, 48}, {301, 199}} {
		for name, with := range map[string]paint{
			"black": plainOf(0, 0, 0), "white": plainOf(100, 0, 0), "red": plainOf(50, 60, 40),
			"noise":    func(x, y int) colorspace.Lab { return colorspace.Lab{L: 50 + 50*hash(x, y, 9), A: 60 * hash(x, y, 8)} },
			"gradient": func(x, y int) colorspace.Lab { return colorspace.Lab{L: 100 * float64(x) / float64(size.X)} },
			"halves":   func(x, y int) colorspace.Lab { return colorspace.Lab{L: 20 + 60*float64(2*x/size.X)} },
		} {
			b := newTable(size.X, size.Y, with)
			e := &light.Even{Picture: b.p, Photo: &photo.Photo{Picture: b.p}}
			assert.NotPanics(t, func() {
				f := Find(e, How{})
				assert.NotEmpty(t, f.Notes)
			}, "%v %s", size, name)
			e.Ignore = []image.Rectangle{image.Rect(0, 0, size.X, size.Y), image.Rect(-5, -5, 3, 2)}
			assert.NotPanics(t, func() { Find(e, How{}) }, "%v %s, all ignored", size, name)
		}
	}
	bad := photo.New(80, 60)
	for i := range bad.Pix {
		bad.Pix[i] = float32([]float64{-.2, 0, 3, 1e-6, .5}[i%5])
	}
	assert.NotPanics(t, func() { Find(&light.Even{Picture: bad, Photo: &photo.Photo{Picture: bad}}, How{}) })
}

// The same pieces however many processors work on them.
func TestSameForAnyProcessors(t *testing.T) {
	e := basket(480, 360, 4, 3, 14, wood).shoot()
	want := Find(e, How{})
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	assert.True(t, reflect.DeepEqual(want, Find(e, How{})))
}

// A card that the light has found is no piece.
func TestKnownCard(t *testing.T) {
	b := newTable(480, 360, sheet)
	b.lay(rect(120, 90, 110, 80, 12), plainOf(30, 40, 20))
	b.lay(rect(110, 260, 120, 80, -9), plainOf(75, 5, 40))
	o := rect(380, 150, 90, 90, 0)
	b.shade(o, .35, 4)
	b.cover(o, plainOf(49.5, 0, 0))
	e := b.shoot()
	e.Ignore = []image.Rectangle{image.Rect(330, 100, 430, 200)}
	assert.Equal(t, 2, len(Find(e, How{}).Pieces))
}

func TestNotesNameThePhoto(t *testing.T) {
	b := basket(240, 180, 3, 2, 14, sheet)
	e := b.shoot()
	e.Photo = &photo.Photo{Name: "table.jpg", Picture: b.p}
	for _, n := range Find(e, How{}).Notes {
		assert.True(t, strings.HasPrefix(n, "table.jpg: "), n)
	}
}

// Where pieces are decided about anew, the note counts them anew.
func TestNoteCountsWhatCameOut(t *testing.T) {
	b := newTable(800, 600, sheet)
	for i, c := range []colorspace.Lab{{L: 40, A: 40, B: 20}, {L: 60, A: -30, B: 20}, {L: 35, A: 10, B: -40}, {L: 25}, {L: 38}, {L: 50, A: 20, B: 40}} {
		b.lay(rect(140+float64(i%3)*250, 150+float64(i/3)*290, 141, 200, 3), plainOf(c.L, c.A, c.B))
	}
	e := b.shoot()
	e.Photo.Name = "table.jpg"
	f := Find(e, How{Known: true})
	assert.Len(t, f.Pieces, 6)
	assert.Contains(t, f.Notes[0], "table.jpg: Taken as scraps on a plain ground: four pieces were found, and two things that may be no cloth")
	pieces := slices.Clone(f.Pieces)
	for i := range pieces {
		pieces[i].Doubtful = false
	}
	assert.Contains(t, f.With(pieces).Notes[0], "table.jpg: Taken as scraps on a plain ground: six pieces were found.")
	assert.Contains(t, f.Notes[0], "four pieces", "the first answer stays as it was")
}
