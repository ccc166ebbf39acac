package colorspace

import (
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Kelly's centroids of 1958 fall in the blocks of Kelly and Judd 1976, in
// their own notation and as CIELAB.
func TestEachCentroidHasItsOwnName(t *testing.T) {
	rows := table(t, ownTable(t, "iscc_nbs_267.csv"))
	require.Len(t, rows, 267)
	for _, r := range rows {
		lab := r.lab(t, "L_D65_from_munsell", "a_D65_from_munsell", "b_D65_from_munsell")
		require.Equal(t, r["name"], Name(lab), "%s %s", r["no"], r["munsell_centroid_Kelly1958"])
		require.Equal(t, int(r.num(t, "no")), NameNumber(parseMunsell(t, r["munsell_centroid_Kelly1958"])), r["name"])
	}
}

func TestNameBlocksCoverEveryColourOnce(t *testing.T) {
	charts := map[float64][]nameBlock{} // by where their hue ends
	for _, b := range nameBlocks() {
		charts[b.h1] = append(charts[b.h1], b)
	}
	end := 1.
	for _, to := range slices.Sorted(maps.Keys(charts)) {
		for _, b := range charts[to] {
			require.Equal(t, end, b.h0)
		}
		for v := .05; v < 10; v += .1 { // the limits are tenths and halves
			for c := .05; c < 40; c += .1 {
				var found int
				for _, b := range charts[to] {
					if b.v0 <= v && v < b.v1 && b.c0 <= c && c < b.c1 {
						found++
					}
				}
				if found == 1 {
					continue
				}
				require.Equal(t, 1, found, "hue up to %v value %v chroma %v", to, v, c)
			}
		}
		end = to
	}
	require.Equal(t, 101., end)
}

func TestEveryNameHasABlock(t *testing.T) {
	seen := map[int]bool{}
	for _, b := range nameBlocks() {
		seen[b.number] = true
	}
	require.Len(t, seen, 267)
}

// The limits of the neutral names in Kelly and Judd, which the nearest centre
// does not keep: value 2.5, 4.5, 6.5 and 8.5.
func TestNeutralsGoByMunsellValue(t *testing.T) {
	for _, c := range []struct {
		value float64
		name  string
	}{
		{0, "black"}, {2.49, "black"}, {2.51, "dark gray"}, {4.49, "dark gray"}, {4.51, "medium gray"},
		{6.49, "medium gray"}, {6.51, "light gray"}, {8.49, "light gray"}, {8.51, "white"}, {10, "white"},
	} {
		require.Equal(t, c.name, Name(Lab{L: Lightness(MunsellLuminance(c.value))}), c.value)
	}
}

// nearest is the name of the nearest centroid by CIEDE2000.
func nearest(centroids []Lab, c Lab) int {
	best, number := math.Inf(1), 0
	for i, k := range centroids {
		if d := CIEDE2000(c, k); d < best {
			best, number = d, i+1
		}
	}
	return number
}

// Block and nearest centre are different things, but a name from far away
// would be an error: the block's own centre is never much farther off than the
// nearest one (12 in the strongest darks, far from cloth; else under 9). The
// blocks of vivid colours have no outer limit and are left out.
func TestNameIsNotFarFromTheNearestCentroid(t *testing.T) {
	var centroids []Lab
	for _, r := range table(t, ownTable(t, "iscc_nbs_267.csv")) {
		centroids = append(centroids, r.lab(t, "L_D65_from_munsell", "a_D65_from_munsell", "b_D65_from_munsell"))
	}
	var all, same int
	cube(12, func(c Linear) {
		l := c.Lab()
		m := MunsellOf(l)
		block, near := NameNumber(m), nearest(centroids, l)
		all++
		if block == near {
			same++
		}
		beyond := CIEDE2000(l, centroids[block-1]) - CIEDE2000(l, centroids[near-1])
		if !strings.HasPrefix(colourNames()[block-1].name, "vivid") {
			require.Less(t, beyond, 13., "%v %v: %s, not %s", l, m, colourNames()[block-1].name, colourNames()[near-1].name)
		}
	})
	t.Logf("block and nearest centre agree for %d of %d colours", same, all)
}

func TestTemperature(t *testing.T) {
	// The nouns of the colour names decide, whatever their modifiers.
	for i, r := range table(t, ownTable(t, "iscc_nbs_267.csv")) {
		name := r["name"]
		words := strings.Fields(name)
		lab := r.lab(t, "L_D65_from_munsell", "a_D65_from_munsell", "b_D65_from_munsell")
		var want Temperature
		switch words[len(words)-1] {
		case "white", "gray", "black":
			want = Neutral
		case "red", "orange", "yellow", "brown", "pink", "olive":
			want = Warm
		case "green", "blue", "violet":
			want = Cool
		case "purple":
			want = Cool
			if strings.Contains(name, "reddish") {
				want = Warm
			}
		}
		if name == "dark grayish purple" || name == "blackish purple" { // their blocks go on to 1R, past both sides
			continue
		}
		require.Equal(t, want, TemperatureOf(lab), "%d %s", i+1, name)
		require.Equal(t, want == Neutral, neutralName(i+1), name)
	}
}

func BenchmarkName(b *testing.B) {
	var colours []Lab
	cube(5, func(c Linear) { colours = append(colours, c.Lab()) })
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		name = Name(colours[i%125])
	}
}

var name string // keeps results from being optimised away

// A whole name has the one centroid that is published for it; words have those
// of all names that they are.
func TestCentroids(t *testing.T) {
	for _, r := range table(t, ownTable(t, "iscc_nbs_267.csv")) {
		got := Centroids(r["name"])
		require.Len(t, got, 1, r["name"])
		want := r.lab(t, "L_D65_from_munsell", "a_D65_from_munsell", "b_D65_from_munsell")
		require.InDelta(t, 0, CIEDE2000(want, got[0]), .02, r["name"])
	}
	require.Equal(t, Centroids("dark gray"), Centroids(" Dark GREY"))
	for _, c := range Centroids("yellowish pink") {
		require.Contains(t, Name(c), "yellowish pink")
	}
	require.Greater(t, len(Centroids("pink")), len(Centroids("yellowish pink")))
	require.Nil(t, Centroids("pinkish"))
	require.Nil(t, Centroids("ultramarine"))
	require.Nil(t, Centroids(" "))
}
