package stash

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/piles"
	"greige/colorspace"
)

// Sharma, Wu and Dalal 2005 (Color Res. Appl. 30:21), table 1, rows 17 to 20: four
// colours and their CIEDE2000 from (50, 2.5, 0).
func TestNearestFirstOnPublishedPairs(t *testing.T) {
	s := create(t)
	add(t, s, photoOf("a", plainCloth(73, 25, -18), plainCloth(61, -5, 29), plainCloth(56, -27, -3), plainCloth(58, 24, 15)))
	f := find(t, s, Query{Near: []Target{{Lab: colorspace.Lab{L: 50, A: 2.5, B: 0}}}})
	told, _ := hitIDs(f)
	assert.Equal(t, []string{"4", "2", "1", "3"}, told)
	for i, want := range []float64{19.4535, 22.8977, 27.1492, 31.9030} {
		assert.InDelta(t, want, f.Hits[i].DeltaE, 1e-4)
	}
}

// Against a plain scan of everything that was put in.
func TestFindAgainstAScan(t *testing.T) {
	s := create(t)
	r := rand.New(rand.NewPCG(21, 4))
	var all []piles.Fabric
	for i := range 60 {
		p := photoOf(numbered(i))
		for range 1 + r.IntN(6) {
			p.Fabrics = append(p.Fabrics, drawn(r))
		}
		for _, f := range p.Fabrics {
			f.ID = strconv.Itoa(len(all) + 1)
			all = append(all, f)
		}
		add(t, s, p)
	}
	scan := func(keep func(f *piles.Fabric) bool, by func(f *piles.Fabric) float64) []string {
		var kept []piles.Fabric
		for _, f := range all {
			if keep(&f) {
				kept = append(kept, f)
			}
		}
		slices.SortStableFunc(kept, func(a, b piles.Fabric) int { return cmp.Compare(by(&a), by(&b)) })
		ids := []string{}
		for _, f := range kept {
			ids = append(ids, f.ID)
		}
		return ids
	}
	darkness := func(f *piles.Fabric) float64 { return -f.Lightness }
	sorted := piles.Sort(all, 3)
	pile := map[string]piles.Pile{}
	for _, f := range sorted.Fabrics {
		pile[f.ID] = f.Pile
	}
	pink := colorspace.Lab{L: 75, A: 25, B: 5}
	nearness := func(f *piles.Fabric) float64 {
		d := colorspace.CIEDE2000(f.Lab, pink)
		for _, c := range f.Colours {
			d = min(d, colorspace.CIEDE2000(c.Lab, pink))
		}
		return d
	}
	for _, c := range []struct {
		says string
		q    Query
		keep func(f *piles.Fabric) bool
		by   func(f *piles.Fabric) float64
	}{
		{"all", Query{}, func(*piles.Fabric) bool { return true }, darkness},
		{"lights", Query{Piles: []piles.Pile{piles.Light}}, func(f *piles.Fabric) bool { return pile[f.ID] == piles.Light }, darkness},
		{"lights and darks", Query{Piles: []piles.Pile{piles.Dark, piles.Light}}, func(f *piles.Fabric) bool { return pile[f.ID] != piles.Medium }, darkness},
		{"40 to 60", Query{From: 40, To: 60}, func(f *piles.Fabric) bool { return f.Lightness >= 40 && f.Lightness <= 60 }, darkness},
		{"solids", Query{Character: "solid"}, func(f *piles.Fabric) bool { return f.Character == "solid" }, darkness},
		{"left", Query{AtLeastCM2: 200}, func(f *piles.Fabric) bool { return f.AreaCM2 >= 200 }, darkness},
		{"near pink", Query{Near: []Target{{Lab: pink}}}, func(*piles.Fabric) bool { return true }, nearness},
		{"a light near pink", Query{Near: []Target{{Lab: pink}}, Piles: []piles.Pile{piles.Light}}, func(f *piles.Fabric) bool { return pile[f.ID] == piles.Light }, nearness},
	} {
		want := scan(c.keep, c.by)
		require.NotEmpty(t, want, c.says)
		told, untold := hitIDs(find(t, s, c.q))
		assert.Equal(t, want, told, c.says)
		assert.Empty(t, untold, c.says)
	}
	assert.Equal(t, sorted.Cuts, find(t, s, Query{}).Cuts)
}

func TestFindByName(t *testing.T) {
	s := create(t)
	var cloths []piles.Fabric
	for _, name := range []string{"medium gray", "moderate pink", "moderate yellowish pink", "pinkish white"} {
		f := plainCloth(50, 0, 0)
		f.Name = name
		cloths = append(cloths, f)
	}
	add(t, s, photoOf("a", cloths...))
	for words, want := range map[string][]string{"pink": {"2", "3"}, "Yellowish Pink": {"3"}, "grey": {"1"}, "gray": {"1"}, "pinkish": {"4"}, "beige": {}} {
		told, _ := hitIDs(find(t, s, Query{Name: words}))
		slices.Sort(told)
		assert.Equal(t, want, told, words)
	}
}

// A print is near by its ink as well, and says so.
func TestNearByInk(t *testing.T) {
	s := create(t)
	rose := colorspace.Lab{L: 55, A: 50, B: 15}
	add(t, s, photoOf("a", plainCloth(60, 40, 12), printOf(colorspace.Lab{L: 85, A: 0, B: 5}, rose, .2)))
	f := find(t, s, Query{Near: []Target{{Lab: rose}}})
	require.Len(t, f.Hits, 2)
	assert.Equal(t, "2", f.Hits[0].ID())
	assert.EqualValues(t, 1, f.Hits[0].ByInk)
	assert.InDelta(t, 0, f.Hits[0].DeltaE, 1e-9)
	assert.EqualValues(t, -1, f.Hits[1].ByInk)
}

// What hangs on the level of a photo that nothing fixes cannot be told: it comes
// last, without a rank, and the photo of most such cloths is named first.
func TestWhatCannotBeToldIsNamed(t *testing.T) {
	s := create(t)
	loose := func(l float64) piles.Fabric {
		f := plainCloth(l, 0, 0)
		f.Uncertainty, f.Apart, f.Group = 20, 1, 1
		return f
	}
	other := loose(66)
	other.Group = 2
	add(t, s, photoOf("sheet", plainCloth(88, 0, 0), plainCloth(82, 0, 0), plainCloth(55, 0, 0), plainCloth(50, 0, 0), plainCloth(20, 0, 0), plainCloth(15, 0, 0)),
		photoOf("close", other), photoOf("mat", loose(70), loose(64), loose(97), loose(12)))
	f := find(t, s, Query{Piles: []piles.Pile{piles.Light}})
	assert.Equal(t, []float64{68.5, 35}, f.Cuts, "by those whose level is known")
	told, untold := hitIDs(f)
	// By a standard uncertainty of 10.2: at 97 there are 2.8 of them to the cut, so
	// it is a light; at 12, 5.5 of them, so it is none; between, one chance in five
	// either way.
	assert.Equal(t, []string{"10", "1", "2"}, told)
	assert.Equal(t, []string{"8", "7", "9"}, untold)
	assert.Equal(t, []string{"mat", "close"}, []string{f.Retake[0].Photo, f.Retake[1].Photo})
	assert.Equal(t, []int{2, 1}, []int{f.Retake[0].Cloths, f.Retake[1].Cloths})
	var ranks []int
	for _, h := range f.Hits {
		ranks = append(ranks, int(h.Rank))
	}
	assert.Equal(t, []int{1, 2, 3, 0, 0, 0}, ranks)

	// Near to one of them, those of its own photo can be told, and no others.
	f = find(t, s, Query{Near: []Target{{Lab: colorspace.Lab{L: 64}, Uncertainty: 20, ID: "9"}}})
	told, untold = hitIDs(f)
	assert.Equal(t, []string{"9", "8", "10", "11"}, told)
	assert.Equal(t, "7", untold[0], "then in the order of the figures")
	assert.Len(t, untold, 7)

	// Between given figures all of the uncertainty counts, one's own photo or not.
	told, untold = hitIDs(find(t, s, Query{From: 58, To: 76}))
	assert.Empty(t, told)
	assert.Equal(t, []string{"8", "7", "9"}, untold)
	told, untold = hitIDs(find(t, s, Query{From: 40, To: 100}))
	assert.Equal(t, []string{"10", "1", "2", "8", "7", "9", "3", "4"}, told)
	assert.Empty(t, untold)
}

// Close-ups without paper alone: far apart as a light and a dark are, they can
// still be told.
func TestFarApartCanBeToldWithoutALevel(t *testing.T) {
	s := create(t)
	for i, l := range []float64{92, 91, 57, 55, 22, 20} {
		f := plainCloth(l, 0, 0)
		f.Uncertainty, f.Group = (l+16)/3*.46*1.96, i+1 // two thirds of a stop
		add(t, s, photoOf(numbered(i), f))
	}
	told, untold := hitIDs(find(t, s, Query{Piles: []piles.Pile{piles.Dark}}))
	assert.Equal(t, []string{"5", "6"}, told)
	assert.Empty(t, untold)
	told, untold = hitIDs(find(t, s, Query{Piles: []piles.Pile{piles.Light}}))
	assert.Equal(t, []string{"1", "2"}, append(told, untold...))
}

// A stash of one photo alone is sorted as that photo is.
func TestOneFootingIsEnoughForItself(t *testing.T) {
	s := create(t)
	var p Photo
	for _, l := range []float64{90, 88, 60, 55, 20, 18} {
		f := plainCloth(l, 0, 0)
		f.Uncertainty, f.Apart, f.Group = 25, 1, 1
		p = photoOf("mat", append(p.Fabrics, f)...)
	}
	add(t, s, p)
	told, untold := hitIDs(find(t, s, Query{Piles: []piles.Pile{piles.Dark}}))
	assert.Equal(t, []string{"5", "6"}, told)
	assert.Empty(t, untold)
}

// Chances by hand: at 1 standard uncertainty from a cut 15.9 % lie beyond it, at
// 0.8 of it 21.2 %.
func TestSwingIsOneChanceInFive(t *testing.T) {
	cuts := []float64{70, 40}
	for _, c := range []struct {
		l     float64
		pile  piles.Pile
		swing bool
	}{{72, piles.Light, false}, {71.6, piles.Light, true}, {68, piles.Medium, false}, {68.4, piles.Medium, true}, {41.6, piles.Medium, true}, {38, piles.Dark, false}} {
		h := Hit{L: c.l}
		require.True(t, (&Query{}).fits(&h, 2*1.96, 2*1.96, cuts))
		assert.Equal(t, c.pile, h.Pile, "%v", c)
		assert.Equal(t, c.swing, h.Swing, "%v", c)
	}
}

func TestAnswerTellsTies(t *testing.T) {
	s := create(t)
	far := plainCloth(81, 0, 0)
	far.Uncertainty = 6
	add(t, s, photoOf("a", plainCloth(80, 0, 0), plainCloth(79.9, 0, 0), plainCloth(78, 0, 0)), photoOf("b", far))
	a, err := s.Answer(ctx, find(t, s, Query{}), false)
	require.NoError(t, err)
	ties := map[string][]string{}
	for _, c := range a.Fabrics {
		ties[c.ID] = c.TiedWith
	}
	// Within a photo the half interval of a difference is 0.7: 0.1 apart may be
	// the other way, 1.9 may not. Between the photos it is 6.3, and one chance in
	// five is 2.7.
	assert.Equal(t, map[string][]string{"4": {"1", "2"}, "1": {"4", "2"}, "2": {"4", "1"}, "3": {}}, ties)
	assert.Equal(t, 4, a.Kept)
	assert.Equal(t, 2, a.Photos)
}

func TestKeyThereAndBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	for range 200 {
		f := drawn(r)
		k := keyOf(&f, 4, 5, 6, 7)
		got := key{id: 4}
		b := k.pack()
		require.NoError(t, got.unpack(b, map[string]string{}))
		require.Equal(t, k, got)
		for cut := range b {
			require.Error(t, (&key{}).unpack(b[:cut], map[string]string{}))
		}
	}
}

// A long answer holds some of the cloths; with what it gives piece by piece all of them
// are there, in their order, and its page's are spread over the piles.
func TestAnswerOfMany(t *testing.T) {
	s := create(t)
	const n = Pictured + 130
	var cloths []piles.Fabric
	for i := range n {
		f := plainCloth(95-90*float64(i)/n, 0, 0)
		f.Swatch = swatch(8, f.Lab)
		cloths = append(cloths, f)
	}
	add(t, s, photoOf("many", cloths...))
	for _, q := range []Query{{}, {Near: []Target{{Lab: colorspace.Lab{L: 20}}}}} {
		f := find(t, s, q)
		require.Len(t, f.Hits, n)
		a, err := s.Answer(ctx, f, true)
		require.NoError(t, err)
		require.Len(t, a.Fabrics, atATime)
		require.Len(t, a.Shown(), Pictured)
		var got []string
		require.NoError(t, a.Each(func(some []FoundCloth) error {
			for _, c := range some {
				got = append(got, c.ID)
			}
			return nil
		}))
		require.Equal(t, hitted(f), got)
		all, piled, untold := a.Count()
		require.Equal(t, []int{n, 0}, []int{all, untold})
		shown := map[piles.Pile]int{}
		for _, c := range a.Shown() {
			picture, err := a.Picture(c.ID)
			require.NoError(t, err)
			require.Equal(t, []int{picture.W, picture.H}, []int{c.Swatch.W, c.Swatch.H})
			require.NotEmpty(t, picture.Colour)
			require.Empty(t, c.Swatch.Colour, "read when it is written")
			require.Empty(t, c.Outline)
			shown[c.Pile]++
		}
		if len(q.Near) == 0 {
			for pile, k := range piled {
				require.InDelta(t, float64(k)*Pictured/n, shown[pile], 1.5, pile)
			}
		} else {
			for i, c := range a.Shown() {
				require.Equal(t, got[i], c.ID, "the nearest are shown")
			}
		}
	}
}
