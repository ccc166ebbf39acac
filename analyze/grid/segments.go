package grid

import (
	"cmp"
	"math"
	"slices"
)

// segment is a straight piece of an edge from a to b, in pixels of the tones.
type segment struct{ a, b Point }

func (s segment) length() float64 { return math.Hypot(s.b[0]-s.a[0], s.b[1]-s.a[1]) }

const (
	// turnWithin is how far, in radians, the edges along one segment may turn
	// from its direction: 22.5 degrees, an eighth of the half circle (Grompone
	// von Gioi et al. 2010, LSD: a fast line segment detector).
	turnWithin = math.Pi / 8
	// shortest is the shortest segment as a share of the picture's longer side:
	// a sixth of the side of a patch of which there are fifteen to a row.
	shortest = .012
	// mostSegments is more than the seams of thirty rows and columns; the longest are kept.
	mostSegments = 1500
)

// segmentsOf joins edges that lie side by side and run one way to straight
// pieces, the longest first. Each grows from its plainest edge and is then the
// line of least squares through its edges.
func segmentsOf(t *tones, edges []edge) []segment {
	at := make([]int32, t.w*t.h) // 1 + number of the edge at each pixel, 0 where there is none or it is taken
	order := make([]int32, len(edges))
	for k, e := range edges {
		at[int(e.y)*t.w+int(e.x)] = int32(k) + 1
		order[k] = int32(k)
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(edges[b].weight, edges[a].weight) })
	least := shortest * float64(max(t.w, t.h))
	var out []segment
	var region []int32
	for _, k := range order {
		e := edges[k]
		if at[int(e.y)*t.w+int(e.x)] == 0 {
			continue
		}
		region = grow(t, edges, at, k, region[:0])
		if float64(len(region)) < .5*least { // each pixel has one edge at most
			continue
		}
		if s, ok := lineThrough(edges, region); ok && s.length() > least {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b segment) int { return cmp.Compare(b.length(), a.length()) })
	return out[:min(len(out), mostSegments)]
}

// grow takes the edges that go on from edge k, directly or over a gap of one
// pixel, in the region's mean direction.
func grow(t *tones, edges []edge, at []int32, k int32, region []int32) []int32 {
	take := func(m int32) {
		at[int(edges[m].y)*t.w+int(edges[m].x)] = 0
		region = append(region, m)
	}
	take(k)
	// Directions are those of lines, so twice the angle is averaged.
	sin, cos := math.Sincos(2 * float64(edges[k].dir))
	for n := 0; n < len(region); n++ {
		e := edges[region[n]]
		x, y := int(e.x), int(e.y)
		for j := max(y-2, 0); j <= min(y+2, t.h-1); j++ {
			for i := max(x-2, 0); i <= min(x+2, t.w-1); i++ {
				m := at[j*t.w+i] - 1
				if m < 0 {
					continue
				}
				s, c := math.Sincos(2 * float64(edges[m].dir))
				if s*sin+c*cos < math.Cos(2*turnWithin)*math.Hypot(sin, cos) {
					continue
				}
				take(m)
				sin, cos = sin+s, cos+c
			}
		}
	}
	return region
}

// lineThrough is the line of least squares through the edges of a region, from
// its first to its last; false where they do not lie within about a pixel of it.
func lineThrough(edges []edge, region []int32) (segment, bool) {
	var n, mx, my, xx, xy, yy float64
	for _, k := range region {
		x, y := float64(edges[k].x)+.5, float64(edges[k].y)+.5
		n, mx, my, xx, xy, yy = n+1, mx+x, my+y, xx+x*x, xy+x*y, yy+y*y
	}
	mx, my = mx/n, my/n
	xx, xy, yy = xx/n-mx*mx, xy/n-mx*my, yy/n-my*my
	sin, cos := math.Sincos(.5 * math.Atan2(2*xy, xx-yy))
	if across := xx*sin*sin - 2*xy*sin*cos + yy*cos*cos; across > 1.5*1.5 { // thinned edges waver by a pixel either side
		return segment{}, false
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, k := range region {
		d := (float64(edges[k].x)+.5-mx)*cos + (float64(edges[k].y)+.5-my)*sin
		lo, hi = min(lo, d), max(hi, d)
	}
	return segment{Point{mx + lo*cos, my + lo*sin}, Point{mx + hi*cos, my + hi*sin}}, true
}
