package piles

import (
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze/cloth"
)

var no = math.Inf(1)

func TestAssignByHand(t *testing.T) {
	for _, c := range []struct {
		cost [][]float64
		want []int
	}{
		{nil, nil},
		{[][]float64{{}, {}}, []int{-1, -1}},
		// Taking the cheapest first (0 with 0) would cost 1 + 9.
		{[][]float64{{1, 2}, {2, 9}}, []int{1, 0}},
		// A textbook case: 2 + 1 + 2.
		{[][]float64{{4, 1, 3}, {2, 0, 5}, {3, 2, 2}}, []int{1, 0, 2}},
		// Two pairs at any cost go before one cheap pair.
		{[][]float64{{.1, 50}, {.2, no}}, []int{1, 0}},
		{[][]float64{{no, no}, {no, 3}}, []int{-1, 1}},
		{[][]float64{{5, 1, 7}}, []int{1}},
		{[][]float64{{5}, {1}, {7}}, []int{-1, 0, -1}},
	} {
		assert.Equal(t, c.want, assign(c.cost), "%v", c.cost)
	}
}

// Against every possible assignment of small random costs.
func TestAssignAgainstExhaustiveSearch(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 300 {
		rows, cols := 1+r.IntN(5), 1+r.IntN(5)
		cost := make([][]float64, rows)
		for i := range cost {
			for range cols {
				c := float64(r.IntN(20))
				if r.IntN(3) == 0 {
					c = no
				}
				cost[i] = append(cost[i], c)
			}
		}
		bestCount, bestSum := 0, 0.0
		used := make([]bool, cols)
		var try func(i, count int, sum float64)
		try = func(i, count int, sum float64) {
			if i == rows {
				if count > bestCount || count == bestCount && sum < bestSum {
					bestCount, bestSum = count, sum
				}
				return
			}
			try(i+1, count, sum)
			for j := range cols {
				if !used[j] && !math.IsInf(cost[i][j], 1) {
					used[j] = true
					try(i+1, count+1, sum+cost[i][j])
					used[j] = false
				}
			}
		}
		try(0, 0, 0)
		count, sum := 0, 0.0
		for i, j := range assign(cost) {
			if j >= 0 {
				count++
				sum += cost[i][j]
			}
		}
		require.Equal(t, bestCount, count, "%v", cost)
		require.InDelta(t, bestSum, sum, 1e-9, "%v", cost)
	}
}

// fabrics numbers cloths of the given lightnesses, plain ones.
func fabrics(lightness ...float64) []Fabric {
	out := make([]Fabric, len(lightness))
	for i, l := range lightness {
		out[i] = Fabric{ID: strconv.Itoa(i + 1), Photo: "table.jpg", Cloth: cloth.Cloth{Lightness: l, Character: cloth.Solid, Apart: .5, Uncertainty: 1}}
	}
	return out
}

// By hand: a clarity is |dL| / 2 between solids, so the strain is 2/dL. Lights
// 90, 80 and darks 30, 20: 90-30 and 80-20 strain 2/60 + 2/60 = 0.0667, 90-20
// and 80-30 strain 2/70 + 2/50 = 0.0686. The even one is best.
func TestPairsByHand(t *testing.T) {
	got := Sort(fabrics(90, 80, 30, 20), 2)
	assert.Equal(t, []Pair{
		{Light: "1", Dark: "3", DeltaL: 60, Clarity: 30},
		{Light: "2", Dark: "4", DeltaL: 60, Clarity: 30},
	}, got.Pairs)
}

// The formula of a seam's clarity: 40 / sqrt((6^2 + 2^2)/2 + 2^2) = 8.165.
func TestPairClarityIsThatOfASeam(t *testing.T) {
	f := fabrics(80, 40)
	f[0].Spread, f[1].Spread = 6, 2
	p := Sort(f, 2).Pairs
	require.Len(t, p, 1)
	assert.InDelta(t, 40/math.Sqrt(24), p[0].Clarity, 1e-12)
}

// Common practice, no source: two busy prints run together, whatever their
// values; a plain cloth carries either.
func TestNoTwoBusyPrintsTogether(t *testing.T) {
	f := fabrics(88, 84, 30, 24)
	for _, i := range []int{0, 2} {
		f[i].Spread, f[i].Character = 7, cloth.Print
	}
	var got [][2]string
	for _, p := range Sort(f, 2).Pairs {
		got = append(got, [2]string{p.Light, p.Dark})
	}
	assert.ElementsMatch(t, [][2]string{{"1", "4"}, {"2", "3"}}, got)
	for i := range f {
		f[i].Spread, f[i].Character = 7, cloth.HighContrastPrint
	}
	assert.Empty(t, Sort(f, 2).Pairs)
}

func TestPairsUseClothsEvenly(t *testing.T) {
	// Two lights for five darks: each dark once, the lights two or three times.
	uses := map[string]int{}
	for _, p := range Sort(fabrics(90, 86, 30, 28, 26, 24, 22), 2).Pairs {
		uses[p.Light]++
		uses[p.Dark]++
	}
	assert.Equal(t, map[string]int{"1": uses["1"], "2": 5 - uses["1"], "3": 1, "4": 1, "5": 1, "6": 1, "7": 1}, uses)
	assert.Contains(t, []int{2, 3}, uses["1"])
	// A light left over takes a medium, and no dark is used twice.
	s := Sort(fabrics(92, 90, 56, 55, 20), 3)
	uses = map[string]int{}
	for _, p := range s.Pairs {
		uses[p.Light]++
		uses[p.Dark]++
	}
	require.Len(t, s.Pairs, 2)
	assert.Equal(t, 1, uses["1"])
	assert.Equal(t, 1, uses["2"])
	assert.Equal(t, 1, uses["5"])
	assert.Equal(t, 1, uses["3"]+uses["4"])
}

func TestNoPairWhereNothingIsClear(t *testing.T) {
	for name, f := range map[string][]Fabric{"none": nil, "one": fabrics(50), "near": fabrics(60, 45)} {
		assert.Equal(t, []Pair{}, Sort(f, 2).Pairs, name)
	}
	f := fabrics(90, 20)
	f[1].Doubtful = true
	assert.Empty(t, Sort(f, 2).Pairs, "what may be no cloth")
	f = fabrics(90, 20)
	f[1].Group = 1
	assert.Empty(t, Sort(f, 2).Pairs, "photos that cannot be compared")
}

func TestPairsAreAlwaysTheSame(t *testing.T) {
	f := fabrics(90, 90, 90, 20, 20, 20, 55, 55)
	want := Sort(f, 3).Pairs
	for range 20 {
		assert.Equal(t, want, Sort(f, 3).Pairs)
	}
}
