package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/photo"
)

// ragged is an invented scrap: a polygon of n corners round a middle.
func ragged(r *rand.Rand, n int, size float64) [][2]float64 {
	var o [][2]float64
	for i := range n {
		a := 2 * math.Pi * (float64(i) + .6*r.Float64()) / float64(n)
		d := size * (.55 + .45*r.Float64())
		o = append(o, [2]float64{d * math.Cos(a), d * math.Sin(a)})
	}
	return o
}

// clear is the least distance of a segment from another.
func segmentDistance(a, b, c, d [2]float64) float64 {
	cross := func(o, p, q [2]float64) float64 { return (p[0]-o[0])*(q[1]-o[1]) - (p[1]-o[1])*(q[0]-o[0]) }
	if cross(a, b, c)*cross(a, b, d) < 0 && cross(c, d, a)*cross(c, d, b) < 0 {
		return 0
	}
	point := func(p, a, b [2]float64) float64 {
		l := (b[0]-a[0])*(b[0]-a[0]) + (b[1]-a[1])*(b[1]-a[1])
		t := 0.
		if l > 0 {
			t = min(max(((p[0]-a[0])*(b[0]-a[0])+(p[1]-a[1])*(b[1]-a[1]))/l, 0), 1)
		}
		return math.Hypot(p[0]-a[0]-t*(b[0]-a[0]), p[1]-a[1]-t*(b[1]-a[1]))
	}
	return min(point(a, c, d), point(b, c, d), point(c, a, b), point(d, a, b))
}

// fitsIn holds rectangles to lying whole in the scrap, clear of its edge and
// its holes, and of each other.
func fitsIn(t *testing.T, s *Scrap, found [][][2]float64, w, h float64) {
	rings := append([][][2]float64{s.Outline}, s.Holes...)
	for i, o := range found {
		require.InDelta(t, w*h, area(o), 1e-6)
		mid := [2]float64{(o[0][0] + o[2][0]) / 2, (o[0][1] + o[2][1]) / 2}
		require.True(t, insideOf(s.Outline, mid[0], mid[1]))
		for _, hole := range s.Holes {
			require.False(t, insideOf(hole, mid[0], mid[1]))
		}
		for k, p := range o {
			q := o[(k+1)%4]
			for _, ring := range rings {
				for j, c := range ring {
					require.Greater(t, segmentDistance(p, q, c, ring[(j+1)%len(ring)]), edgeKept-1e-6)
				}
			}
		}
		for _, other := range found[:i] {
			overlap := 0.
			// Both are turned alike: bring them upright.
			a := math.Atan2(o[1][1]-o[0][1], o[1][0]-o[0][0])
			u, v := rotate(o, -a), rotate(other, -a)
			lo := func(p [][2]float64, k int) float64 { return min(p[0][k], p[1][k], p[2][k], p[3][k]) }
			hi := func(p [][2]float64, k int) float64 { return max(p[0][k], p[1][k], p[2][k], p[3][k]) }
			overlap = max(0, min(hi(u, 0), hi(v, 0))-max(lo(u, 0), lo(v, 0))) * max(0, min(hi(u, 1), hi(v, 1))-max(lo(u, 1), lo(v, 1)))
			require.InDelta(t, 0, overlap, 1e-6)
		}
	}
}

func TestWhatAScrapYieldsFitsInside(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	n := 300
	if testing.Short() {
		n = 40
	}
	total := 0
	for range n {
		s := Scrap{Outline: ragged(r, 5+r.IntN(30), 4+14*r.Float64()), PixelCM: .1, Seen: r.IntN(2) == 0, Grain: r.Float64() * 1.5}
		if r.IntN(3) == 0 {
			s.Holes = append(s.Holes, ragged(r, 5, 1+r.Float64()))
		}
		w := 2 + 4*r.Float64()
		h := w
		if r.IntN(3) == 0 {
			h = w * 1.7
		}
		found := s.Yield(w, h)
		fitsIn(t, &s, found, w, h)
		require.LessOrEqual(t, float64(len(found))*w*h, s.Area())
		total += len(found)
	}
	require.Greater(t, total, n)
	// None across a hole: a scrap that is all hole but for its rim gives none.
	ring := Scrap{Outline: [][2]float64{{0, 0}, {10, 0}, {10, 10}, {0, 10}}, Holes: [][][2]float64{{{2, 2}, {8, 2}, {8, 8}, {2, 8}}}, PixelCM: 1}
	require.Empty(t, ring.Yield(3, 3))
	require.Empty(t, (&Scrap{}).Yield(3, 3))
}

// exhaustive is the most squares of a side that lie on the lattice of
// positions, in any of some turns: by trying all sets of them.
func exhaustive(s *Scrap, side float64, turns []float64, step float64) int {
	best := 0
	for _, turn := range turns {
		rings := s.rotated(-turn)
		lo, hi := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
		for _, p := range rings[0] {
			for k := range 2 {
				lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
			}
		}
		var places [][2]float64
		for y := lo[1] + edgeKept; y+side <= hi[1]-edgeKept+1e-9; y += step {
			for x := lo[0] + edgeKept; x+side <= hi[0]-edgeKept+1e-9; x += step {
				if fitsAt(rings, x, y, side) {
					places = append(places, [2]float64{x, y})
				}
			}
		}
		best = max(best, mostOf(places, side, 0, nil, best))
	}
	return best
}

func fitsAt(rings [][][2]float64, x, y, side float64) bool {
	o := corners(rect{x, y, x + side, y + side})
	for k, p := range o {
		if !insideOf(rings[0], p[0], p[1]) {
			return false
		}
		for _, ring := range rings {
			for j, c := range ring {
				if segmentDistance(p, o[(k+1)%4], c, ring[(j+1)%len(ring)]) < edgeKept-1e-9 {
					return false
				}
			}
		}
	}
	return true
}

// mostOf is the largest set of places from index i on that do not overlap each
// other nor those laid; branch and bound.
func mostOf(places [][2]float64, side float64, i int, laid [][2]float64, best int) int {
	best = max(best, len(laid))
	for ; i < len(places); i++ {
		p := places[i]
		free := true
		for _, q := range laid {
			free = free && (math.Abs(p[0]-q[0]) >= side-1e-9 || math.Abs(p[1]-q[1]) >= side-1e-9)
		}
		if !free {
			continue
		}
		// No more than fit by rows below this one, and what is left.
		if len(laid)+bound(places[i:], side) <= best {
			return best
		}
		best = mostOf(places, side, i+1, append(laid[:len(laid):len(laid)], p), best)
	}
	return best
}

// bound is how many squares places hold at most: the corners of squares that
// do not overlap lie in different squares of a lattice of that side.
func bound(places [][2]float64, side float64) int {
	seen := map[[2]int]bool{}
	for _, p := range places {
		seen[[2]int{int(math.Floor(p[0] / side)), int(math.Floor(p[1] / side))}] = true
	}
	return len(seen)
}

// On small scraps, the patches found are at least nine tenths of the most that
// trying everything finds.
func TestYieldAgainstExhaustiveSearch(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	found, most := 0, 0
	for range 60 {
		s := Scrap{Outline: ragged(r, 5+r.IntN(8), 5+3*r.Float64()), PixelCM: .1, Seen: true, Grain: r.Float64() * math.Pi / 2}
		side := 3.5
		n := len(s.Yield(side, side))
		found += n
		most += max(n, exhaustive(&s, side, []float64{s.Grain}, side/6))
	}
	require.GreaterOrEqual(t, float64(found), .9*float64(most), "%d of %d", found, most)
	t.Logf("%d of %d", found, most)
}

// The same where the weave is not seen and the direction is free: ragged
// rectangles that lie at an angle, against every third degree.
func TestYieldInTheBestDirection(t *testing.T) {
	r := rand.New(rand.NewPCG(15, 16))
	found, most := 0, 0
	for range 40 {
		w, h := 6+6*r.Float64(), 4+5*r.Float64()
		var o [][2]float64
		for i := range 40 {
			k := float64(i%10) / 10
			p := [][2]float64{{k * w, 0}, {w, k * h}, {w - k*w, h}, {0, h - k*h}}[i/10]
			o = append(o, [2]float64{p[0] + .25*r.Float64(), p[1] + .25*r.Float64()})
		}
		s := Scrap{Outline: rotate(o, r.Float64()*3), PixelCM: .1}
		side := 2.6
		var turns []float64
		for d := 0.; d < 90; d += 3 {
			turns = append(turns, d*math.Pi/180)
		}
		n := len(s.Yield(side, side))
		fitsIn(t, &s, s.Yield(side, side), side, side)
		found += n
		most += max(n, exhaustive(&s, side, turns, side/4))
	}
	require.GreaterOrEqual(t, float64(found), .9*float64(most), "%d of %d", found, most)
	t.Logf("%d of %d", found, most)
}

func TestGrainOfStripesAndOfNothing(t *testing.T) {
	draw := func(at func(x, y float64) float64) *photo.Picture {
		p := photo.New(80, 80)
		for y := range 80 {
			for x := range 80 {
				for k := range 3 {
					p.Pix[3*(y*80+x)+k] = float32(at(float64(x), float64(y)))
				}
			}
		}
		return p
	}
	for _, turn := range []float64{0, .2, .5, .7, 1.2} {
		angle, seen := GrainOf(draw(func(x, y float64) float64 { return .5 + .3*math.Sin((x*math.Cos(turn)+y*math.Sin(turn))*.6) }))
		require.True(t, seen)
		require.InDelta(t, 0, math.Remainder(angle-turn, math.Pi/2), .02)
	}
	r := rand.New(rand.NewPCG(11, 12))
	_, seen := GrainOf(draw(func(x, y float64) float64 { return r.Float64() }))
	require.False(t, seen)
	_, seen = GrainOf(draw(func(x, y float64) float64 { return .5 }))
	require.False(t, seen)
	dots := make([][2]float64, 40)
	for i := range dots {
		dots[i] = [2]float64{80 * r.Float64(), 80 * r.Float64()}
	}
	_, seen = GrainOf(draw(func(x, y float64) float64 {
		v := .2
		for _, d := range dots {
			v += .6 * math.Exp(-((x-d[0])*(x-d[0])+(y-d[1])*(y-d[1]))/8)
		}
		return v
	}))
	require.False(t, seen)
}

func BenchmarkTwoHundredScraps(b *testing.B) {
	r := rand.New(rand.NewPCG(13, 14))
	var scraps []Scrap
	for range 200 {
		scraps = append(scraps, Scrap{Outline: ragged(r, 60, 6+10*r.Float64()), PixelCM: .1})
	}
	for b.Loop() {
		for i := range scraps {
			scraps[i].Yield(6.35, 6.35)
		}
	}
}
