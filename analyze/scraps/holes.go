package scraps

import (
	"greige/analyze/ground"
	"greige/analyze/raster"
)

// openings are the parts of a piece, its holes filled, that look like the ground:
// what one looks through a hole to, or figures of the ground's colour. They are
// two pixels wide and more.
func (s *search) openings(filled *raster.Mask) []raster.Component {
	open := raster.NewMask(filled.Bounds)
	filled.Each(func(x, y int) {
		if s.g.Distance[y*s.w+x] < ground.Seen {
			open.Set(x, y, true)
		}
	})
	return open.Opened(1).Components(raster.Corners, 4)
}

// holesOf are the shares of a piece, its holes filled, that its largest hole is
// and that all its holes are: what one looks through to the ground. They are flat for
// the most part, as the texture of a pale print is not.
func (s *search) holesOf(filled *raster.Mask) (largest, all float64) {
	n := float64(max(filled.Count(), 1))
	for _, c := range s.openings(filled) {
		rough := 0
		c.Mask().Each(func(x, y int) {
			if s.g.Uneven.In[y*s.w+x] {
				rough++
			}
		})
		if 2*rough > c.Pixels {
			continue
		}
		a := float64(c.Pixels) / n
		largest, all = max(largest, a), all+a
	}
	return largest, all
}

const (
	// mostHoles is how many holes a scrap has: where it was worn, or where something
	// was cut out of it.
	mostHoles = 2
	// leastHole is the share of a piece from which an opening counts: less is lint
	// and the glint of a thread.
	leastHole = .002
	// Beyond its holes a cloth does not look like the ground: where as many pixels
	// as these are of the holes come within so many times ground.Seen of it, they
	// are figures of a print.
	figures, likeGround = .25, 2
)

// holes are the outlines of a piece's holes, in working pixels, wider by an edge's
// blur than what is seen of the ground: along the rim the cloth's shadow lies on
// it. They are nil where a piece has more openings than a scrap has holes, or where
// its print is of the ground's colour elsewhere too.
func (s *search) holes(filled *raster.Mask) (out [][]point) {
	// Along the edge of a piece it is the outline's own blur that looks like ground.
	inner := filled.Eroded(2)
	pixels, least := 0, leastHole*float64(filled.Count())
	for _, c := range s.openings(filled) {
		m := c.Mask()
		if float64(c.Pixels) < least || m.Shared(inner) < c.Pixels {
			continue
		}
		if len(out) == mostHoles {
			return nil
		}
		pixels += c.Pixels
		wide := m.Dilated(near*s.long + 1).Filled() // 1: a pixel that the edge cuts is not seen as ground
		inner.Remove(wide)
		ring := wide.Contour()
		for k, q := range ring {
			ring[k] = point{q[0] * s.sm.r, q[1] * s.sm.r}
		}
		out = append(out, raster.Simplify(ring, simpler))
	}
	like := inner.Clone()
	for y := like.Bounds.Min.Y; y < like.Bounds.Max.Y; y++ {
		for i, in := range like.Row(y) {
			like.Row(y)[i] = in && s.g.Distance[y*s.w+like.Bounds.Min.X+i] < likeGround*ground.Seen
		}
	}
	// Between two inks of a print lie pixels of all colours in between, one or two wide.
	if float64(like.Opened(1).Count()) > figures*float64(pixels) {
		return nil
	}
	return out
}
