package scraps

import (
	"image"
	"image/color"

	"greige/analyze/raster"
)

// mostDistance is the distance from the ground, in its spreads, that is drawn white.
const mostDistance = 20

// showGround shows what the search begins with.
func (s *search) showGround(l raster.Look) {
	l.At("ground: distance in spreads, black 0 to white 20", func() image.Image {
		return raster.Heat(s.g.Distance, s.w, s.h, 0, mostDistance)
	})
	l.At("ground: white is ground, grey is not flat", func() image.Image {
		g := image.NewGray(s.bounds())
		for i := range g.Pix {
			switch {
			case s.g.Member.In[i]:
				g.Pix[i] = 255
			case s.g.Uneven.In[i]:
				g.Pix[i] = 128
			}
		}
		return g
	})
}

// drawn are the outlines of masks, white, over what they came from, grey.
func (s *search) drawn(roots *raster.Mask, masks []*raster.Mask) image.Image {
	g := image.NewGray(s.bounds())
	roots.Each(func(x, y int) { g.SetGray(x, y, color.Gray{Y: 128}) })
	for _, m := range masks {
		m.Border().Each(func(x, y int) { g.SetGray(x, y, color.Gray{Y: 255}) })
	}
	return g
}

// showPieces draws the pieces found: cloth white, what may be none grey.
func (s *search) showPieces(l raster.Look, found []piece) {
	l.At("scraps: cloth white, what may be none grey", func() image.Image {
		g := image.NewGray(s.bounds())
		for _, p := range found {
			v := color.Gray{Y: 255}
			if p.note != "" {
				v.Y = 128
			}
			p.mask.Each(func(x, y int) { g.SetGray(x, y, v) })
		}
		return g
	})
}
