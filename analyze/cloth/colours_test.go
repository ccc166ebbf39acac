package cloth_test

import (
	"fmt"
	"math"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/photo"
	"greige/colorspace"
)

// inkScore is how well palettes agree with the truth.
type inkScore struct {
	prints, inks     int
	sum, worst       float64 // CIEDE2000 of the inks of 3 % or more
	missed           int     // of them, further off than 3
	shareSum         float64 // of all inks
	shares           int
	nearCount, exact int
	// Nearest cloth: how often the palette's ink leads to another cloth of a
	// stash than the true ink does, at a cost of 1 or more.
	asked, astray int
}

// add compares a palette with the truth.
func (s *inkScore) add(truth []colorspace.Lab, shares []float64, found []cloth.Colour) {
	s.prints++
	there := 0
	for i, k := range truth {
		if shares[i] == 0 {
			continue
		}
		there++
		best, at := math.Inf(1), -1
		for j, c := range found {
			if d := colorspace.CIEDE2000(k, c.Lab); d < best {
				best, at = d, j
			}
		}
		if at < 0 {
			return
		}
		share := 0. // of an ink that was not found
		if best <= 3 {
			share = found[at].Share
		}
		s.shareSum += math.Abs(share - shares[i])
		s.shares++
		if shares[i] < .03 {
			continue
		}
		s.inks++
		s.sum += best
		s.worst = max(s.worst, best)
		if best > 3 {
			s.missed++
		}
		s.asked++
		if other := nearestCloth(found[at].Lab); other != nearestCloth(k) &&
			colorspace.CIEDE2000(k, other)-colorspace.CIEDE2000(k, nearestCloth(k)) >= 1 {
			s.astray++
		}
	}
	switch d := len(found) - there; d {
	case 0:
		s.exact++
		s.nearCount++
	case 1, -1:
		s.nearCount++
	}
}

func (s *inkScore) mean() float64     { return s.sum / float64(max(s.inks, 1)) }
func (s *inkScore) shareErr() float64 { return s.shareSum / float64(max(s.shares, 1)) }

// nearestCloth is the nearest of a stash of 200 cloths spread over the colours
// that cloth has.
func nearestCloth(k colorspace.Lab) colorspace.Lab {
	best, near := colorspace.Lab{}, math.Inf(1)
	for i := range 200 {
		// Points of low discrepancy (the fractions of multiples of irrational
		// numbers; Weyl 1916).
		frac := func(step float64) float64 { _, f := math.Modf(float64(i+1) * step); return f }
		h, c := 2*math.Pi*frac(.754877666), 60*math.Sqrt(frac(.569840291))
		o := colorspace.Lab{L: 15 + 78*frac(.430159709), A: c * math.Cos(h), B: c * math.Sin(h)}
		if d := colorspace.CIEDE2000(k, o); d < near {
			best, near = o, d
		}
	}
	return best
}

// smallShot keeps the tests quick.
func smallShot() inkShot {
	s := usualShot
	s.w, s.h = 280, 210
	return s
}

// The targets of a palette: inks of 3 % or more within 1.2 on average and 3
// at worst, shares within a point, the number of colours within one.
func TestInksOfPrints(t *testing.T) {
	s := smallShot()
	var all inkScore
	for _, c := range inkClasses {
		p := c.draw(s, 211)
		q := p.photograph(s)
		found := cloth.Inks(q, nil, cloth.InkOptions{Fine: true})
		assert.Less(t, colorspace.CIEDE2000(meanOf(q), sumOf(found)), 1.5, c.name)
		var one inkScore
		one.add(p.inks, p.shares(), found)
		all.add(p.inks, p.shares(), found)
		assert.Equal(t, 1, one.nearCount, "%s: %d inks, found %d", c.name, len(p.inks), len(found))
		if c.name != "dots" { // dots two or three pixels across are told in the benchmark
			assert.LessOrEqual(t, one.worst, 3., "%s", c.name)
			assert.LessOrEqual(t, one.mean(), 1.2, "%s", c.name)
		}
		total := 0.0
		for i, k := range found {
			total += k.Share
			assert.True(t, i == 0 || k.Share <= found[i-1].Share, "most cloth first")
			assert.NotEmpty(t, k.Name)
			assert.Regexp(t, "^#[0-9a-f]{6}$", k.Hex)
		}
		assert.InDelta(t, 1, total, 1e-9)
	}
	assert.LessOrEqual(t, all.mean(), 1.2)
	assert.LessOrEqual(t, all.shareErr(), .01)
	assert.LessOrEqual(t, all.astray*20, all.asked, "inks that lead to another cloth")
}

func meanOf(p *photo.Picture) colorspace.Lab {
	var mean colorspace.Linear
	for i, v := range p.Pix {
		mean[i%3] += float64(v) / float64(p.W*p.H)
	}
	return mean.Lab()
}

// sumOf is the light of a cloth of these inks: value is light, so that inks
// add up by their shares (Murray 1936, J. Franklin Inst. 221:721).
func sumOf(inks []cloth.Colour) colorspace.Lab {
	var sum colorspace.Linear
	for _, k := range inks {
		for i, v := range k.Lab.Linear() {
			sum[i] += k.Share * v
		}
	}
	return sum.Lab()
}

// A figure finer than the pixels cannot be seen, by the camera or by anyone
// from there: it is one colour, the mean of its light. Half of .9 and half of
// .04 is L* 74.19, not the 59.83 of averaged L* (Murray-Davies; computed).
func TestCheckBelowThePixels(t *testing.T) {
	light, dark := colorspace.Lab{L: colorspace.Lightness(.9)}, colorspace.Lab{L: colorspace.Lightness(.04)}
	s := inkShot{w: 60, h: 60, reduction: 2, lens: .5, quality: 98}
	p := newInkPrint("check", s, []colorspace.Lab{light, dark}, nil)
	for i := range p.raster {
		p.raster[i] = uint8((i%p.w + i/p.w) % 2) // a square is half a photo pixel
	}
	found := cloth.Inks(p.photograph(s), nil, cloth.InkOptions{Fine: true})
	require.Len(t, found, 1)
	assert.InDelta(t, 74.19, found[0].Lab.L, .3)
	assert.Equal(t, 1., found[0].Share)
}

// Weave, slubs, folds and a lamp from one side are no colours.
func TestSolidIsOneInk(t *testing.T) {
	for _, l := range []float64{15, 30, 50, 70, 84} {
		for _, weave := range []float64{0, .1, .25} {
			s := smallShot()
			s.w, s.h = 150, 110
			s.weave, s.uneven, s.noise = weave, .08, .02
			k := colorspace.Lab{L: l, A: 8, B: -12}
			p := newInkPrint("solid", s, []colorspace.Lab{k}, nil)
			q := p.photograph(s)
			found := cloth.Inks(q, nil, cloth.InkOptions{})
			if assert.Len(t, found, 1, "L* %v, weave %v", l, weave) {
				assert.Less(t, colorspace.CIEDE2000(meanOf(q), found[0].Lab), .3, "L* %v, weave %v", l, weave)
			}
		}
	}
}

// Small but telling: 1 % of the cloth, unlike every other colour.
func TestAccentIsKept(t *testing.T) {
	s := smallShot()
	inks := []colorspace.Lab{{L: 30, A: 5, B: -30}, {L: 55, A: 0, B: -35}, {L: 70, A: 30, B: 60}}
	p := newInkPrint("accent", s, inks, nil)
	for y := 20.0; y < 210; y += 40 {
		for x := 20.0; x < 280; x += 40 {
			p.disc(x, y, 11, 1)
		}
	}
	for y := 40.0; y < 210; y += 40 {
		for x := 40.0; x < 280; x += 40 {
			p.disc(x, y, 2.6, 2)
		}
	}
	share := p.shares()[2]
	require.InDelta(t, .01, share, .003)
	for _, fine := range []bool{false, true} {
		found := cloth.Inks(p.photograph(s), nil, cloth.InkOptions{Fine: fine})
		require.Len(t, found, 3)
		assert.Less(t, colorspace.CIEDE2000(inks[2], found[2].Lab), 3.)
		assert.InDelta(t, share, found[2].Share, .004)
	}
}

func TestInksAreTheSameEveryTime(t *testing.T) {
	s := smallShot()
	s.w, s.h = 160, 120
	p := inkClasses[2].draw(s, 213).photograph(s) // fine figures: the longest way
	first, of := cloth.MapInks(p, nil, cloth.InkOptions{Fine: true})
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, n := range []int{1, 2, 8} {
		runtime.GOMAXPROCS(n)
		again, ofAgain := cloth.MapInks(p, nil, cloth.InkOptions{Fine: true})
		require.Equal(t, first, again)
		require.Equal(t, of, ofAgain)
	}
}

func TestInkMapAgreesWithTheDrawing(t *testing.T) {
	s := smallShot()
	p := inkClasses[0].draw(s, 214)
	found, of := cloth.MapInks(p.photograph(s), nil, cloth.InkOptions{Fine: true})
	require.Len(t, of, s.w*s.h)
	inkOf := func(k uint8) int {
		best, near := -1, math.Inf(1)
		for j, c := range found {
			if d := colorspace.CIEDE2000(p.inks[k], c.Lab); d < near {
				best, near = j, d
			}
		}
		return best
	}
	agree, told := 0, 0
	for y := 1; y < s.h-1; y++ {
		for x := 1; x < s.w-1; x++ {
			k := of[y*s.w+x]
			if k == cloth.NoInk {
				continue
			}
			told++
			if int(k) == inkOf(p.raster[int((float64(y)+.5)*p.scale)*p.w+int((float64(x)+.5)*p.scale)]) {
				agree++
			}
		}
	}
	assert.Greater(t, float64(told), .95*float64(s.w*s.h))
	assert.Greater(t, float64(agree), .98*float64(told))
}

func TestCountIsForced(t *testing.T) {
	s := smallShot()
	p := inkClasses[0].draw(s, 215)
	q := p.photograph(s)
	for n := 1; n <= len(p.inks)+3; n++ {
		found := cloth.Inks(q, nil, cloth.InkOptions{Count: n})
		assert.Len(t, found, n)
	}
	plain := newInkPrint("solid", s, []colorspace.Lab{{L: 60, A: 20, B: 10}}, nil).photograph(s)
	assert.Len(t, cloth.Inks(plain, nil, cloth.InkOptions{Count: 3}), 3)
	assert.LessOrEqual(t, len(cloth.Inks(q, nil, cloth.InkOptions{Count: 1000})), 31)
}

// What lies beside the piece is no ink of it, nor is the rim between them.
func TestInksOfAPiece(t *testing.T) {
	s := smallShot()
	inks := []colorspace.Lab{{L: 95}, {L: 35, A: 30, B: 15}, {L: 60, A: -25, B: 30}}
	p := newInkPrint("piece", s, inks, nil)
	p.fill(150, 115, 150, 1, func(dx, dy float64) bool { return math.Abs(dx) < 60 && math.Abs(dy) < 50 })
	for x := 110.0; x < 200; x += 20 {
		p.disc(x, 115, 7, 2)
	}
	q := p.photograph(s)
	inside := make([]bool, s.w*s.h)
	for y := 66; y < 164; y++ {
		for x := 91; x < 209; x++ {
			inside[y*s.w+x] = true
		}
	}
	found, of := cloth.MapInks(q, inside, cloth.InkOptions{})
	require.Len(t, found, 2)
	assert.Less(t, colorspace.CIEDE2000(inks[1], found[0].Lab), 1.5)
	assert.Less(t, colorspace.CIEDE2000(inks[2], found[1].Lab), 1.5)
	for i, k := range of {
		if !inside[i] {
			require.EqualValues(t, cloth.NoInk, k)
		}
	}
}

func TestInksOfNothingMuch(t *testing.T) {
	assert.Empty(t, cloth.Inks(photo.New(0, 0), nil, cloth.InkOptions{}))
	assert.Empty(t, cloth.Inks(photo.New(9, 9), make([]bool, 81), cloth.InkOptions{}), "nothing inside")
	assert.Empty(t, cloth.Inks(photo.New(9, 9), make([]bool, 3), cloth.InkOptions{}), "a mask of another size")
	for _, size := range [][2]int{{1, 1}, {2, 7}, {3, 3}, {1, 400}, {30, 30}} {
		for _, fine := range []bool{false, true} {
			p := photo.New(size[0], size[1])
			for i := range p.Pix {
				p.Pix[i] = .25
			}
			found, of := cloth.MapInks(p, nil, cloth.InkOptions{Fine: fine})
			require.Len(t, found, 1, "%v", size)
			assert.InDelta(t, colorspace.Lightness(.25), found[0].Lab.L, .02)
			assert.Equal(t, 1., found[0].Share)
			assert.Len(t, of, size[0]*size[1])
		}
	}
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	for name, v := range map[string][]float32{"black": {0}, "white": {1}, "over": {1.4, 1.2, 1.3}, "under": {-.02, .01, -.3}, "broken": {nan, .5, .2, inf, .5, -inf, .5}} {
		p := photo.New(40, 40)
		for i := range p.Pix {
			p.Pix[i] = v[i%len(v)]
		}
		for _, fine := range []bool{false, true} {
			for _, k := range cloth.Inks(p, nil, cloth.InkOptions{Fine: fine, Count: 2}) {
				assert.False(t, math.IsNaN(k.Lab.L+k.Lab.A+k.Lab.B+k.Share), name)
			}
		}
	}
}

func ExampleInks() {
	p := photo.New(60, 40)
	for y := range p.H {
		for x := range p.W {
			c := colorspace.Lab{L: 80, A: 0, B: 20}
			if x%20 < 5 {
				c = colorspace.Lab{L: 30, A: 30, B: -20}
			}
			l := c.Linear()
			for i := range l {
				p.Pix[3*(y*p.W+x)+i] = float32(l[i])
			}
		}
	}
	for _, k := range cloth.Inks(p, nil, cloth.InkOptions{}) {
		fmt.Printf("%2.0f %% %s\n", 100*k.Share, k.Name)
	}
	// Output:
	// 76 % grayish yellow
	// 24 % deep purple
}
