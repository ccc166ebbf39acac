package border

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/colorspace"
)

type lab = colorspace.Lab

// ink is a colour of a print with its share.
func ink(l, a, b, share float64) cloth.Colour {
	c := lab{L: l, A: a, B: b}
	return cloth.Colour{Lab: c, Hex: c.Linear().Hex(), Share: share, Name: colorspace.Name(c)}
}

func solid(id string, c lab) piles.Fabric {
	return piles.Fabric{ID: id, Cloth: cloth.Cloth{Lab: c, Lightness: c.L, Character: cloth.Solid,
		Colours: []cloth.Colour{{Lab: c, Share: 1}}}}
}

// stripes is a map of inks side by side, the ground between each two.
func stripes(colours []cloth.Colour, ground int) Inks {
	k := Inks{Colours: colours, H: 4}
	for i, c := range colours {
		if i == ground {
			continue
		}
		for n, of := range []int{ground, i} {
			width := int(100 * c.Share)
			if n == 0 {
				width = int(100*colours[ground].Share)/(len(colours)-1) + 1
			}
			for range width {
				k.Of = append(k.Of, uint8(of))
			}
		}
	}
	k.W = len(k.Of)
	row := slices.Clone(k.Of)
	for range k.H - 1 {
		k.Of = append(k.Of, row...)
	}
	return k
}

// Ground of a print: the colour behind the figures; usually, not always, the
// largest share (common practice, no source).
func TestGroundLiesBehindTheFigures(t *testing.T) {
	usual := []cloth.Colour{ink(20, 0, -20, .5), ink(60, 40, 20, .3), ink(80, 0, 60, .2)}
	assert.Equal(t, 0, groundOf(stripes(usual, 0)))
	unusual := []cloth.Colour{ink(60, 40, 20, .4), ink(20, 0, -20, .35), ink(80, 0, 60, .25)}
	assert.Equal(t, 1, groundOf(stripes(unusual, 1)), "less cloth than a figure, but behind all of them")
	assert.Equal(t, -1, groundOf(Inks{}))
}

// A dark line round every figure touches all there is, and still lies behind
// nothing.
func TestAnOutlineIsNoGround(t *testing.T) {
	const side, step, fill, edge = 160, 40, 12.0, 14.5
	k := Inks{Colours: []cloth.Colour{ink(85, 0, 10, .4), ink(50, 50, 20, .35), ink(15, 0, -10, .25)}, W: side, H: side}
	for y := range side {
		for x := range side {
			r := math.Hypot(float64(x%step)-step/2, float64(y%step)-step/2)
			of := uint8(0)
			if r < fill {
				of = 1
			} else if r < edge {
				of = 2
			}
			k.Of = append(k.Of, of)
		}
	}
	assert.Equal(t, 0, groundOf(k))
}

func TestMatchesNearestFirstByMeanAndByFigures(t *testing.T) {
	print := Inks{Colours: []cloth.Colour{ink(45, -20, 25, .7), ink(55, 45, 30, .3)}}
	dots := solid("3", lab{L: 85, A: 5, B: 10})
	dots.Character = cloth.Print
	dots.Colours = []cloth.Colour{ink(92, 0, 4, .8), ink(55, 44, 31, .2)}
	speck := solid("4", lab{L: 91, A: 1, B: 4})
	speck.Character = cloth.Print
	speck.Colours = []cloth.Colour{ink(92, 0, 4, .97), ink(55, 44, 31, .03)}
	odd := solid("5", lab{L: 45, A: -20, B: 25})
	odd.Doubtful = true
	b := Find(print, []piles.Fabric{solid("1", lab{L: 50, A: -20, B: 25}), solid("2", lab{L: 45, A: -20, B: 26}), dots, speck, odd}, 2, Wishes{})
	require.Len(t, b.Matches, 2)
	assert.Equal(t, "2", b.Matches[0].Fabrics[0].ID)
	assert.Equal(t, "1", b.Matches[0].Fabrics[1].ID)
	first := b.Matches[1].Fabrics[0]
	assert.Equal(t, "3", first.ID)
	assert.True(t, first.ByFigure)
	assert.Less(t, first.DeltaE, 2.)
	for _, m := range b.Matches {
		assert.Len(t, m.Fabrics, 4, "the doubtful piece is no cloth")
		for i, n := range m.Fabrics {
			assert.False(t, n.ID == "4" && n.ByFigure, "three in a hundred do not carry a colour")
			assert.True(t, i == 0 || n.DeltaE >= m.Fabrics[i-1].DeltaE)
		}
	}
}

// A stash in which one handful is plainly the best: one cloth for each colour
// of the print, of clear steps, with a plain light one for the background.
func TestTheBestHandfulIsFound(t *testing.T) {
	print := Inks{Colours: []cloth.Colour{ink(22, 3, -25, .5), ink(45, -22, 22, .2), ink(60, 40, 30, .15), ink(88, 2, 18, .15)}}
	good := []piles.Fabric{solid("night", lab{L: 22, A: 3, B: -24}), solid("moss", lab{L: 45, A: -21, B: 22}), solid("coral", lab{L: 61, A: 40, B: 31}), solid("cream", lab{L: 88, A: 2, B: 17})}
	stash := slices.Clone(good)
	r := rand.New(rand.NewPCG(4, 4))
	for i := range 60 {
		// Unrelated cloths of one middle value, and busy.
		f := solid(fmt.Sprint(i), lab{L: 48 + 6*r.Float64(), A: -50 + 20*r.Float64(), B: -40 + 20*r.Float64()})
		f.Character, f.Spread = cloth.HighContrastPrint, 12
		stash = append(stash, f)
	}
	r.Shuffle(len(stash), func(i, j int) { stash[i], stash[j] = stash[j], stash[i] })
	b := Find(print, stash, 4, Wishes{})
	require.NotNil(t, b.Choice)
	var ids []string
	backgrounds := 0
	for _, f := range b.Choice.Fabrics {
		ids = append(ids, f.ID)
		assert.NotEmpty(t, f.Why)
		if f.Background {
			backgrounds++
		}
	}
	assert.Equal(t, []string{"cream", "coral", "moss", "night"}, ids, "light to dark")
	assert.Equal(t, 1, backgrounds)
	assert.InDelta(t, 1, b.Choice.Covers, 1e-9)
	assert.Equal(t, [2]float64{22, 88}, b.Choice.Range)
	assert.Empty(t, b.Missing)
	assert.Equal(t, piles.Light, b.Choice.Fabrics[0].Role)
	assert.Equal(t, piles.Dark, b.Choice.Fabrics[3].Role)
}

func TestWhatIsMissing(t *testing.T) {
	print := Inks{Colours: []cloth.Colour{ink(25, 30, -25, .6), ink(70, -30, 40, .4)}}
	b := Find(print, []piles.Fabric{solid("1", lab{L: 55, A: 30, B: -25}), solid("2", lab{L: 90, A: 0, B: 3})}, 2, Wishes{})
	require.Len(t, b.Missing, 2)
	assert.Contains(t, b.Missing[0].Say, "nothing dark enough near the ")
	assert.Contains(t, b.Missing[1].Say, "nothing near the ")
}

func TestSmallStashes(t *testing.T) {
	print := Inks{Colours: []cloth.Colour{ink(25, 30, -25, .6), ink(70, -30, 40, .4)}}
	assert.Nil(t, Find(print, nil, 4, Wishes{}).Choice)
	one := Find(print, []piles.Fabric{solid("1", lab{L: 55, A: 30, B: -25})}, 4, Wishes{})
	require.NotNil(t, one.Choice)
	assert.Len(t, one.Choice.Fabrics, 1)
	odd := solid("1", lab{L: 55})
	odd.Doubtful = true
	assert.Nil(t, Find(print, []piles.Fabric{odd}, 4, Wishes{}).Choice)
	same := Find(print, []piles.Fabric{solid("1", lab{L: 55}), solid("2", lab{L: 55}), solid("3", lab{L: 55})}, 2, Wishes{})
	assert.Len(t, same.Choice.Fabrics, 2)
}

// any stash is n cloths of every kind.
func anyStash(n int) []piles.Fabric {
	r := rand.New(rand.NewPCG(9, uint64(n)))
	var stash []piles.Fabric
	for i := range n {
		f := solid(fmt.Sprint(i+1), lab{L: 12 + 80*r.Float64(), A: -40 + 90*r.Float64(), B: -45 + 100*r.Float64()})
		f.Spread = 12 * r.Float64() * r.Float64()
		f.Character = []cloth.Character{cloth.Solid, cloth.ToneOnTone, cloth.Print, cloth.HighContrastPrint}[r.IntN(4)]
		stash = append(stash, f)
	}
	return stash
}

// The search against every set there is, on stashes small enough to try all.
func TestSearchAgainstEverySet(t *testing.T) {
	print := palette(Inks{Colours: []cloth.Colour{ink(25, 30, -25, .5), ink(70, -30, 40, .3), ink(50, 40, 20, .2)}})
	for n := 20; n < 26; n++ {
		s := newStand(print, anyStash(n))
		got := s.score(s.search(3, temper{}), temper{})
		best := 0.0
		for a := range n {
			for b := range a {
				for c := range b {
					best = max(best, s.score([]int{a, b, c}, temper{}))
				}
			}
		}
		assert.InDelta(t, best, got, 1e-9)
	}
}

func TestAlternativesDifferInCharacter(t *testing.T) {
	print := palette(Inks{Colours: []cloth.Colour{ink(25, 30, -25, .5), ink(70, -30, 40, .3), ink(50, 40, 20, .2)}})
	for n := 30; n < 42; n++ {
		s := newStand(print, anyStash(n))
		index := func(c Choice) (set []int) {
			for _, f := range c.Fabrics {
				for i := range s.cloths {
					if s.fabric(i).ID == f.ID {
						set = append(set, i)
					}
				}
			}
			return set
		}
		all := s.choices(4)
		require.Len(t, all, 3)
		assert.Equal(t, []string{"", "quiet", "lively"}, []string{all[0].Name, all[1].Name, all[2].Name})
		best := s.liveliness(index(all[0]))
		assert.Less(t, s.liveliness(index(all[1])), best)
		assert.Greater(t, s.liveliness(index(all[2])), best)
	}
	assert.Len(t, newStand(print, anyStash(4)).choices(4), 1, "there is no other handful")
}

func BenchmarkChooseOfThousand(b *testing.B) {
	print := Inks{Colours: []cloth.Colour{ink(22, 3, -25, .4), ink(45, -22, 22, .2), ink(60, 40, 30, .15), ink(88, 2, 18, .15), ink(75, 20, 50, .1)}}
	stash := anyStash(1000)
	for b.Loop() {
		Find(print, stash, 4, Wishes{})
	}
}

// Of a large stash some hundred cloths are tried together: among them are the
// nearest to each colour, and the handful is as good as one from all of them, as
// far as single exchanges can tell.
func TestChoiceOfALargeStash(t *testing.T) {
	print := []Colour{}
	for _, lab := range []colorspace.Lab{{L: 30, A: 25, B: -30}, {L: 85, A: 2, B: 12}, {L: 55, A: -20, B: 25}} {
		print = append(print, Colour{Colour: cloth.Colour{Lab: lab, Share: 1. / 3, Name: colorspace.Name(lab)}})
	}
	all := newStand(print, anyStash(3*searched))
	few := all.worthTrying()
	require.Len(t, few.cloths, searched)
	for j := range print {
		for k, c := range all.byNearness[j][:nearest] {
			assert.Contains(t, few.cloths, all.cloths[c], "number %d of colour %d", k, j)
		}
	}
	best := few.search(4, temper{})
	set := make([]int, 4)
	for i, c := range best {
		set[i] = slices.Index(all.cloths, few.cloths[c])
	}
	all.pairs()
	score := all.score(set, temper{})
	require.InDelta(t, few.score(best, temper{}), score, 1e-9)
	for at := range set {
		kept := set[at]
		for c := range all.cloths {
			if !slices.Contains(set, c) {
				set[at] = c
				assert.LessOrEqual(t, all.score(set, temper{}), score+.02, "cloth %d", c)
			}
		}
		set[at] = kept
	}
}
