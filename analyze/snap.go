package analyze

import (
	"context"
	"math"
	"slices"

	"greige/analyze/photo"
	"greige/colorspace"
)

// Snapping looks for an edge within so much of where it was drawn, as a share
// of the photo's longer side: a finger covers about that much of a photo that
// fills a hand-held screen (a fingertip of 10 mm on a screen of 150 mm, halved
// to either side, halved again since the eye corrects the finger).
const snapReach = .018

// Of the ways round an outline the one along the strongest edges is taken; to
// step one place aside costs this share of a strong edge, so that it neither
// jumps to a neighbour's edge nor follows each thread.
const snapStiffness = .12

// Snapped is an outline that was drawn by a few points, in pixels of the
// upright photo, moved to the edges nearby: along it, at steps, the place on
// its normal where the light changes most is found for all steps together, by
// dynamic programming (Amini, Weymouth and Jain 1990, IEEE PAMI 12:855). Where
// there is no edge it stays as it was drawn. The error is a *photo.Error, or
// ctx's.
func (s *Session) Snapped(ctx context.Context, src Source, lim photo.Limits, outline [][2]float64) ([][2]float64, error) {
	sum, err := s.sum(src, lim)
	if err != nil {
		return nil, err
	}
	lim.Detail = photo.ForPieces
	p, err := s.read(ctx, src, sum, lim)
	if err != nil || len(outline) < 3 {
		return outline, err
	}
	k := float64(max(p.Reduction, 1))
	q := snapped(p.Picture, divided(outline, k, k))
	for i := range q {
		q[i] = [2]float64{
			round2(min(max(q[i][0]*k, 0), float64(p.Width))),
			round2(min(max(q[i][1]*k, 0), float64(p.Height))),
		}
	}
	return q, nil
}

func snapped(p *photo.Picture, outline [][2]float64) [][2]float64 {
	reach := max(3, int(math.Round(snapReach*float64(max(p.W, p.H)))))
	steps := walked(clockwise(outline), max(3, float64(reach)/3))
	n, m := len(steps), 2*reach+1
	edge := make([]float64, n*m)
	strong := 0.0
	for i, s := range steps {
		for j := range m {
			edge[i*m+j] = edgeAcross(p, s, float64(j-reach))
			strong = max(strong, edge[i*m+j])
		}
	}
	if strong == 0 {
		return outline
	}
	offsets := bestWay(edge, n, m, snapStiffness*strong)
	out := make([][2]float64, n)
	for i, s := range steps {
		// A place without an edge goes with its neighbours.
		d := float64(offsets[i] - reach)
		out[i] = [2]float64{s.at[0] + d*s.normal[0], s.at[1] + d*s.normal[1]}
	}
	return out
}

// step is a place on an outline, and the direction out of it.
type step struct{ at, normal [2]float64 }

// walked is the way round an outline in steps of about so many pixels; its
// corners are steps too.
func walked(outline [][2]float64, length float64) (out []step) {
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		dx, dy := b[0]-a[0], b[1]-a[1]
		d := math.Hypot(dx, dy)
		if d == 0 {
			continue
		}
		n := max(1, int(math.Round(d/length)))
		for k := range n {
			t := (float64(k) + .5) / float64(n)
			out = append(out, step{[2]float64{a[0] + t*dx, a[1] + t*dy}, [2]float64{dy / d, -dx / d}})
		}
	}
	return out
}

// edgeAcross is how much L* and colour change across the place d pixels out of
// a step, between the pixels two inside and two outside it.
func edgeAcross(p *photo.Picture, s step, d float64) float64 {
	at := func(d float64) (colorspace.Lab, bool) {
		x, y := int(math.Floor(s.at[0]+d*s.normal[0])), int(math.Floor(s.at[1]+d*s.normal[1]))
		if x < 0 || y < 0 || x >= p.W || y >= p.H {
			return colorspace.Lab{}, false
		}
		c := p.Pix[3*(y*p.W+x):]
		return colorspace.Linear{float64(c[0]), float64(c[1]), float64(c[2])}.Lab(), true
	}
	in, ok := at(d - 2)
	out, there := at(d + 2)
	if !ok || !there {
		return 0
	}
	return math.Sqrt(sq(in.L-out.L) + sq(in.A-out.A) + sq(in.B-out.B))
}

func sq(v float64) float64 { return v * v }

// bestWay picks one of m places at each of n steps of a closed way, so that the
// sum of their worths less cost for each place stepped aside is the largest. It
// begins and ends at the same place: the first way fixes where.
func bestWay(worth []float64, n, m int, cost float64) []int {
	way := openWay(worth, n, m, cost, -1)
	// Turned by half, so that the seam lies where the first way was settled.
	half := n / 2
	turned := slices.Concat(worth[half*m:], worth[:half*m])
	again := openWay(turned, n, m, cost, way[half])
	return slices.Concat(again[n-half:], again[:n-half])
}

// openWay is bestWay for a way with two ends, which begins at start unless that
// is negative.
func openWay(worth []float64, n, m int, cost float64, start int) []int {
	best := make([]float64, n*m)
	from := make([]int, n*m)
	copy(best, worth[:m])
	for j := range m {
		if start >= 0 && j != start {
			best[j] = math.Inf(-1)
		}
	}
	for i := 1; i < n; i++ {
		for j := range m {
			k := i*m + j
			best[k] = math.Inf(-1)
			for l := max(j-2, 0); l < min(j+3, m); l++ {
				if v := best[k-m-j+l] - cost*math.Abs(float64(j-l)); v > best[k] {
					best[k], from[k] = v, l
				}
			}
			best[k] += worth[k]
		}
	}
	way := make([]int, n)
	last := best[(n-1)*m:]
	for j := range last {
		if last[j] > last[way[n-1]] {
			way[n-1] = j
		}
	}
	for i := n - 1; i > 0; i-- {
		way[i-1] = from[i*m+way[i]]
	}
	return way
}
