package light

import (
	"image"
	"math"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
	"greige/colorspace"
)

func evened(t *testing.T, p *photo.Photo, opt Options, hint Hint) *Even {
	t.Helper()
	if opt.Camera == nil {
		opt.Camera = Straight
	}
	e, err := New(p, opt, hint)
	require.NoError(t, err)
	require.Len(t, e.Picture.Pix, len(p.Picture.Pix))
	return e
}

// ignored tells whether a working pixel is known to be no cloth.
func ignored(e *Even, x, y int) bool {
	return slices.ContainsFunc(e.Ignore, func(r image.Rectangle) bool { return image.Pt(x, y).In(r) })
}

// On a white sheet under an unbalanced bulb to one side the true L* comes out
// for every piece.
func TestSheetGivesTrueLightness(t *testing.T) {
	pieces := table()
	for _, ratio := range []float64{1.001, 2} {
		for _, cast := range []colorspace.Linear{{.6, .6, .6}, illuminantA()} {
			p := shot(lay(pieces, on(colorspace.Lab{L: 95})), bulb(ratio, cast))
			for _, opt := range []Options{{}, {Mode: Sheet}} {
				e := evened(t, p, opt, ScrapsOnGround)
				require.True(t, e.LevelKnown)
				require.Less(t, worst(misses(e.Picture, pieces)), .5, "ratio %.1f", ratio)
				require.InDelta(t, ratio, e.Record.Unevenness, .12*ratio)
				require.Equal(t, "sheet", e.Record.Method)
				y := cast.Y()
				for k := range cast {
					require.InDelta(t, cast[k]/y, e.Record.Cast[k], .02)
				}
				for _, s := range pieces {
					require.Less(t, s.mean(e.Picture).Lab().Chroma()-s.lab.Chroma(), 1.0)
					common, apart := e.SigmaOver(image.Rect(s.x0, s.y0, s.x1, s.y1))
					// What such a bulb does to colours is known less well.
					mix := math.Abs(mixed(colorspace.Linear(e.Record.Cast), s.lab.Linear()))
					require.Less(t, math.Hypot(common, apart), .037+mix/1.96)
					// The level is the sheet's, and nobody measured that.
					require.InDelta(t, paperSigma, e.LevelSigma, .005)
				}
			}
		}
	}
}

// A sheet of another stated lightness fixes the level at that lightness.
func TestSheetOfStatedLightness(t *testing.T) {
	pieces := table()
	p := shot(lay(pieces, on(colorspace.Lab{L: 88})), bulb(1.4, colorspace.Linear{.5, .5, .5}))
	e := evened(t, p, Options{Mode: Sheet, CardLightness: 88}, ScrapsOnGround)
	require.Less(t, worst(misses(e.Picture, pieces)), .5)
	require.Less(t, e.LevelSigma, .01)
}

// The ground is found as it is, however the light falls on it.
func TestGround(t *testing.T) {
	pieces := table()
	p := shot(lay(pieces, on(colorspace.Lab{L: 95})), bulb(2, illuminantA()))
	e := evened(t, p, Options{}, ScrapsOnGround)
	require.True(t, e.Ground.White)
	require.InDelta(t, 95, e.Ground.Light.Lab().L, .1)
	covered := 0
	for _, s := range pieces {
		covered += (s.x1 - s.x0) * (s.y1 - s.y0)
	}
	require.InDelta(t, 1-float64(covered)/(testW*testH), e.Ground.Share, .03)
}

// An evenly lit and neutral photo is changed by less than 0.2 L*, whatever
// it shows.
func TestEvenLightIsLeftAlone(t *testing.T) {
	pieces := table()
	tight := func(name string, p *photo.Photo, e *Even) {
		t.Helper()
		for _, s := range pieces {
			d := s.mean(e.Picture).Lab().L - s.mean(p.Picture).Lab().L
			assert.Less(t, math.Abs(d), .2, name)
		}
	}
	for name, ground := range map[string]colorspace.Lab{
		"white sheet": {L: 95}, "grey mat": {L: 45}, "green mat": {L: 40, A: -18, B: 6}, "cream wall": {L: 85, A: 1, B: 4},
	} {
		p := shot(lay(pieces, on(ground)), even)
		tight(name, p, evened(t, p, Options{}, ScrapsOnGround))
		tight(name, p, evened(t, p, Options{}, Top))
		tight(name, p, evened(t, p, Options{}, Unknown))
	}
	cloth := shot(on(colorspace.Lab{L: 60, A: 20, B: 10}), even)
	e := evened(t, cloth, Options{}, OneCloth)
	all := square{x0: 0, y0: 0, x1: testW, y1: testH}
	require.InDelta(t, all.mean(cloth.Picture).Lab().L, all.mean(e.Picture).Lab().L, .02)
}

// A grey mat with pale ruled lines evens the light and takes out the cast,
// but fixes no level, and that is said.
func TestMatFixesNoLevel(t *testing.T) {
	pieces := table()
	mat := func(x, y int) colorspace.Linear {
		if x%24 == 0 || y%24 == 0 {
			return gray(75)
		}
		return gray(42)
	}
	p := shot(lay(pieces, mat), bulb(2, illuminantA()))
	e := evened(t, p, Options{}, ScrapsOnGround)
	require.False(t, e.LevelKnown)
	require.False(t, e.Ground.White)
	require.True(t, e.Ground.Neutral)
	require.Less(t, worst(ratios(e.Picture, pieces)), .03)
	require.Greater(t, worst(ratios(p.Picture, pieces)), .2)
	require.InDelta(t, 2, e.Record.Unevenness, .2)
	require.Contains(t, e.Record.Note, "Its own lightness is not known")
	require.Contains(t, e.Record.Advice, "white paper")
	require.GreaterOrEqual(t, e.LevelSigma, .3)
	common, apart := e.SigmaOver(image.Rect(40, 30, 110, 100))
	require.Greater(t, common, .3)
	require.Less(t, apart, .04)
}

// A strongly coloured ground shows how uneven the light is; its colour is not
// taken for that of the light.
func TestColouredGroundKeepsItsColour(t *testing.T) {
	pieces := table()
	for _, ground := range []colorspace.Lab{{L: 48, A: 4, B: -40}, {L: 40, A: 45, B: 25}, {L: 50, A: -35, B: 20}, {L: 52, A: 13, B: 27}} {
		p := shot(lay(pieces, on(ground)), bulb(1.8, colorspace.Linear{.6, .6, .6}))
		e := evened(t, p, Options{}, ScrapsOnGround)
		require.Nil(t, e.Record.Cast, "%v", ground)
		require.False(t, e.LevelKnown)
		require.Less(t, worst(ratios(e.Picture, pieces)), .03, "%v", ground)
		require.Contains(t, e.Record.Note, "coloured")
	}
	// Not even when it is said to be white.
	p := shot(lay(pieces, on(colorspace.Lab{L: 50, A: -35, B: 20})), even)
	e := evened(t, p, Options{Mode: Sheet}, ScrapsOnGround)
	require.False(t, e.LevelKnown)
	require.Contains(t, e.Record.Note, "too strongly coloured")
}

// A margin of 4 % round a top is enough, on a wall of unknown lightness.
func TestMarginRoundATop(t *testing.T) {
	var pieces []square
	dx, dy := testW/25, testH/25
	w, h := (testW-2*dx)/8, (testH-2*dy)/6
	for r := range 6 {
		for c := range 8 {
			l := 30.0
			if (r+c)%2 == 0 {
				l = 80
			}
			pieces = append(pieces, square{dx + c*w, dy + r*h, dx + (c+1)*w, dy + (r+1)*h, colorspace.Lab{L: l, A: 5, B: 10}})
		}
	}
	p := shot(lay(pieces, on(colorspace.Lab{L: 82, B: 5})), bulb(2, colorspace.Linear{.7, .7, .7}))
	e := evened(t, p, Options{}, Top)
	require.False(t, e.LevelKnown)
	require.Less(t, worst(ratios(e.Picture, pieces)), .2*worst(ratios(p.Picture, pieces)))
	require.InDelta(t, 2, e.Record.Unevenness, .25)
	// Said to be white, it fixes the level.
	e = evened(t, p, Options{Mode: Sheet, CardLightness: 82}, Top)
	require.True(t, e.LevelKnown)
	require.Less(t, worst(misses(e.Picture, pieces)), 1.5)
}

// print is a large-scale print whose dark flowers crowd in one corner.
func print(x, y int) colorspace.Linear {
	for i := range 60 {
		u, v := (grain(5, i, 0)+1)/2, (grain(5, i, 1)+1)/2
		cx, cy := u*u*testW, v*v*testH
		if (float64(x)-cx)*(float64(x)-cx)+(float64(y)-cy)*(float64(y)-cy) < 22*22 {
			return colorspace.Lab{L: 35, A: 30, B: -10}.Linear()
		}
	}
	return colorspace.Lab{L: 75, A: -5, B: 20}.Linear()
}

// A card corrects its own place. One cloth edge to edge carries it over the
// photo, and a large-scale print does not pass for a lamp.
func TestCardIsCarriedOverACloth(t *testing.T) {
	card := square{360, 20, 450, 80, colorspace.Lab{L: 95}}
	cloth := func(x, y int) bool { return x < 340 || y > 100 }
	truth := meanOver(print, cloth)
	for _, ratio := range []float64{1.001, 2} {
		p := shot(lay([]square{card}, print), bulb(ratio, illuminantA()))
		e := evened(t, p, Options{Cards: []Card{{Place: image.Rect(2*370, 2*26, 2*440, 2*74)}}}, OneCloth)
		require.True(t, e.LevelKnown)
		require.InDelta(t, ratio, e.Record.Unevenness, .08*ratio)
		got := meanOver(e.Picture.At, cloth)
		require.InDelta(t, truth.Lab().L, got.Lab().L, .5, "ratio %.1f", ratio)
		// All of the card is known to be no cloth, though only its middle was given.
		for _, q := range []image.Point{{361, 21}, {448, 21}, {361, 78}, {448, 78}} {
			require.True(t, slices.ContainsFunc(e.Ignore, func(r image.Rectangle) bool { return q.In(r) }), "%v", q)
		}
	}
}

// A sheet of white paper is found by itself, askew on a mat or beside a cloth
// that fills the photo; a white patch of a top is none, nor is a white scrap
// that is not of paper's shape.
func TestPaperIsFound(t *testing.T) {
	pieces := table()[:9]
	askew := func(x, y int) bool { // 1.41 : 1, turned by 8 degrees
		s, c := math.Sincos(8 * math.Pi / 180)
		u, v := c*float64(x-300)+s*float64(y-295), c*float64(y-295)-s*float64(x-300)
		return math.Abs(u) < 56 && math.Abs(v) < 40
	}
	for _, cast := range []colorspace.Linear{{.7, .7, .7}, illuminantA()} {
		surface := lay(pieces, on(colorspace.Lab{L: 42, A: -18, B: 6}))
		p := shot(func(x, y int) colorspace.Linear {
			if askew(x, y) {
				return gray(95)
			}
			return surface(x, y)
		}, bulb(1.6, cast))
		e := evened(t, p, Options{}, ScrapsOnGround)
		require.Equal(t, "ground + paper", e.Record.Method)
		require.Len(t, e.Record.Paper, 4)
		require.True(t, e.LevelKnown)
		require.Less(t, worst(misses(e.Picture, pieces)), .6)
		require.Contains(t, e.Record.Note, "Took the white paper at the bottom for the reference")
		require.True(t, ignored(e, 300, 295))
		require.False(t, ignored(e, 300, 235))

		p = shot(func(x, y int) colorspace.Linear {
			if x > 380 && y > 270 { // cut by two edges of the photo
				return gray(95)
			}
			return print(x, y)
		}, bulb(1.6, cast))
		e = evened(t, p, Options{}, OneCloth)
		require.True(t, e.LevelKnown)
		cloth := func(x, y int) bool { return x < 370 || y < 260 }
		require.InDelta(t, meanOver(print, cloth).Lab().L, meanOver(e.Picture.At, cloth).Lab().L, .8)
	}
	var top []square
	for r := range 6 {
		for c := range 8 {
			l := 30 + 15*float64((r*3+c*5)%4)
			if r == 2 && c == 3 {
				l = 95
			}
			top = append(top, square{60 * c, 60 * r, 60*c + 60, 60*r + 60, colorspace.Lab{L: l, A: 8}})
		}
	}
	top[2*8+3].lab = colorspace.Lab{L: 95}
	e := evened(t, shot(lay(top, on(colorspace.Lab{})), even), Options{}, Top)
	require.Nil(t, e.Record.Paper)
	e = evened(t, shot(lay(append(table()[:11], square{370, 260, 440, 330, colorspace.Lab{L: 94}}), on(colorspace.Lab{L: 40, A: -18, B: 6})), even), Options{}, ScrapsOnGround)
	require.Nil(t, e.Record.Paper)
}

// clipped is p as a camera takes it that opens up too far: nothing beyond 1.
func clipped(p *photo.Photo, exposure float32) *photo.Photo {
	pic := p.Picture
	pic.Bright = make([]uint8, pic.W*pic.H)
	for i, v := range pic.Pix {
		pic.Pix[i] = min(exposure*v, 1)
		if exposure*v >= 1 {
			pic.Bright[i/3] = 255
		}
	}
	return p
}

// Beside a dark cloth the camera opens up until the paper's bright end is
// beyond it. The rest of the sheet tells the level all the same; but where
// all else is beyond the camera too, no grey sheet passes for white paper.
func TestPartOfThePaperIsTooBright(t *testing.T) {
	on := func(x, y int) bool { return x > 60 && x < 160 && y > 120 && y < 260 }
	dark := func(x, y int) colorspace.Linear {
		c := print(x, y)
		return colorspace.Linear{.2 * c[0], .2 * c[1], .2 * c[2]}
	}
	photo := func(paper colorspace.Linear, cloth func(x, y int) colorspace.Linear, exposure float32) *photo.Photo {
		return clipped(shot(func(x, y int) colorspace.Linear {
			if on(x, y) {
				return paper
			}
			return cloth(x, y)
		}, bulb(1.6, colorspace.Linear{1, 1, 1})), exposure)
	}
	cloth := func(x, y int) bool { return !on(x, y) && (x < 50 || x > 170) }
	for _, exposure := range []float32{1.02, 1.04, 1.06} {
		p := photo(gray(95), dark, exposure)
		full := 0
		for y := range testH {
			for x := range testW {
				if on(x, y) && p.Picture.Bright[y*testW+x] > 0 {
					full++
				}
			}
		}
		require.Greater(t, full, 500, "exposure %g", exposure) // of 14000
		e := evened(t, p, Options{}, OneCloth)
		require.True(t, e.LevelKnown, "exposure %g", exposure)
		require.Contains(t, e.Record.Note, "Part of the paper is too bright")
		require.InDelta(t, meanOver(dark, cloth).Lab().L, meanOver(e.Picture.At, cloth).Lab().L, .6, "exposure %g", exposure)
	}
	white := func(x, y int) colorspace.Linear { return gray(94) }
	require.Nil(t, evened(t, photo(gray(70), white, 1.6), Options{}, OneCloth).Record.Paper)
}

// An orange or a pink dye has more of the red primary than white paper, which
// outshines it all the same: no reflectance exceeds 1.
func TestPaperIsFoundBesideAStrongColour(t *testing.T) {
	orange := colorspace.Lab{L: 72, A: 34, B: 50}
	require.Greater(t, orange.Linear()[0], 1.08*gray(95)[0])
	p := shot(func(x, y int) colorspace.Linear {
		if x > 320 && x < 440 && y > 120 && y < 200 {
			return gray(95)
		}
		return orange.Linear()
	}, bulb(1.5, colorspace.Linear{.8, .8, .8}))
	e := evened(t, p, Options{}, OneCloth)
	require.NotNil(t, e.Record.Paper)
	require.InDelta(t, orange.L, e.Picture.At(100, 180).Lab().L, 3)
}

// With nothing to go by the figures are those of the photo, and it is said.
func TestNothingToGoBy(t *testing.T) {
	// Patches edge to edge, no two alike, no ground.
	var top []square
	for r := range 6 {
		for c := range 8 {
			top = append(top, square{60 * c, 60 * r, 60*c + 60, 60*r + 60, colorspace.Lab{
				L: 45 + 30*grain(1, r, c), A: 30 * grain(2, r, c), B: 30 * grain(3, r, c)}})
		}
	}
	p := shot(lay(top, on(colorspace.Lab{})), bulb(1.5, illuminantA()))
	for _, hint := range []Hint{Unknown, Top} {
		e := evened(t, p, Options{}, hint)
		require.Same(t, p.Picture, e.Picture)
		require.Equal(t, "none", e.Record.Method)
		require.Contains(t, e.Record.Note, "Nothing in the photo tells")
		require.Contains(t, e.Record.Advice, "white paper")
		require.False(t, e.LevelKnown)
		require.GreaterOrEqual(t, e.LevelSigma, .3)
	}
	// A cloth alone: its slope may go, its mean stays.
	p = shot(print, bulb(2, illuminantA()))
	e := evened(t, p, Options{}, OneCloth)
	all := square{x0: -4, y0: -4, x1: testW + 4, y1: testH + 4}
	require.InDelta(t, all.mean(p.Picture).Lab().L, all.mean(e.Picture).Lab().L, .05)
	require.False(t, e.LevelKnown)
}

// The result does not depend on how many work on it.
func TestSameForAnyNumberOfWorkers(t *testing.T) {
	p := shot(lay(table(), on(colorspace.Lab{L: 95})), bulb(2, illuminantA()))
	before := runtime.GOMAXPROCS(1)
	one := evened(t, p, Options{}, ScrapsOnGround)
	runtime.GOMAXPROCS(5)
	five := evened(t, p, Options{}, ScrapsOnGround)
	runtime.GOMAXPROCS(before)
	require.True(t, slices.Equal(one.Picture.Pix, five.Picture.Pix))
	require.Equal(t, one.Record, five.Record)
	require.Equal(t, one.Ground, five.Ground)
}

// A blank surface, the same to the last digit, has cells like any other.
func TestBlankCells(t *testing.T) {
	for _, v := range []float64{.003, .1, .3, .5028865, .5088813, .7, .77, .9, .99} {
		p := plain(1400, 140, func(x, y int) colorspace.Linear { return colorspace.Linear{v, v * .98, v * .96} })
		c := reduce(p.Picture)
		for i := range c.use {
			require.True(t, c.use[i], "%v", v)
			require.InEpsilon(t, v, float64(c.light[i][0]), 1e-4)
		}
	}
}

// As is New with another hint, whatever the first look found and left out.
func TestAs(t *testing.T) {
	card := square{250, 140, 290, 180, colorspace.Lab{L: 95}}
	p := shot(lay(append(table(), card), on(colorspace.Lab{L: 60, A: 20, B: 10})), bulb(2, illuminantA()))
	for _, opt := range []Options{{}, {Cards: []Card{{Place: rectOf(card, 1)}}}, {Mode: None}} {
		for _, hint := range []Hint{OneCloth, ScrapsOnGround, Top} {
			first := evened(t, p, opt, Unknown)
			want, got := evened(t, p, opt, hint), first.As(hint)
			require.Equal(t, want.Record, got.Record)
			require.Equal(t, want.Ignore, got.Ignore)
			require.True(t, slices.Equal(want.Picture.Pix, got.Picture.Pix))
		}
	}
}

// Odd pictures give no panic and no figure that is no number.
func TestOddPictures(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {3, 2}, {1, 400}, {400, 1}, {17, 23}, {201, 3}} {
		for _, v := range []float64{0, .2, 1, -.01, math.Inf(1), math.NaN()} {
			p := plain(size[0], size[1], func(x, y int) colorspace.Linear { return colorspace.Linear{v, v, v} })
			p.Picture.Bright = make([]uint8, size[0]*size[1])
			for i := range p.Picture.Bright {
				if v >= 1 {
					p.Picture.Bright[i] = 255
				}
			}
			for _, hint := range []Hint{Unknown, OneCloth, ScrapsOnGround, Top} {
				for _, opt := range []Options{{}, {Mode: Sheet}, {Cards: []Card{{Place: image.Rect(0, 0, 1, 1)}}}, {Cards: []Card{{Place: image.Rect(-1, -1, 300, 300)}}}} {
					e, err := New(p, opt, hint)
					if err != nil {
						continue
					}
					e = e.LevelTop([][][2]float64{{{0, 0}, {1, 0}, {1, 1}}, nil, {{2, 2}}})
					c, a := e.SigmaOver(image.Rect(0, 0, 1, 1))
					require.False(t, math.IsNaN(c) || math.IsNaN(a))
					require.False(t, math.IsNaN(e.Record.Unevenness))
					e.Stand(Exposure{Gain: 1, Known: true})
				}
			}
		}
	}
}

// Scraps laid so close that the shadows in the gaps join them are still scraps
// on a sheet, without being told so.
func TestScrapsJoinedByShadows(t *testing.T) {
	pieces := table()
	gap := func(x, y int) colorspace.Linear {
		l := colorspace.Lab{L: 95}.Linear()
		if x >= 40 && x < 440 && y >= 30 && y < 330 && (y-30)%115 >= 30 && (y-30)%115 < 42 {
			for k := range l {
				l[k] *= .6
			}
		}
		if y >= 30 && y < 330 && x >= 70 && x < 82 {
			for k := range l {
				l[k] *= .6
			}
		}
		return l
	}
	e := evened(t, shot(lay(pieces, gap), bulb(1.5, colorspace.Linear{.6, .6, .6})), Options{}, Unknown)
	require.Equal(t, "sheet", e.Record.Method)
	require.Less(t, worst(misses(e.Picture, pieces)), 1.5)
}
