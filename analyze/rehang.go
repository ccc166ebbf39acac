package analyze

import (
	"bytes"
	"image"
	"image/jpeg"

	"greige/analyze/cloth"
	"greige/analyze/grid"
	"greige/analyze/layout"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/colorspace"
)

// rehang is the straightened top with the changes made in the picture itself:
// each patch that moves takes its own cloth's picture with it, and cloth out
// of the stash comes from its swatch.
func rehang(flat *photo.Picture, g *grid.Grid, changes []layout.Change, stash []piles.Fabric) *photo.Picture {
	swatches := map[string]*cloth.Swatch{}
	colours := map[string]colorspace.Lab{}
	for _, f := range stash {
		swatches[f.ID], colours[f.ID] = f.Swatch, f.Lab
	}
	now := copyOf(flat)
	for _, c := range changes {
		// What moves is taken up before anything is hung in its place.
		up := make([]taken, len(c.Placements))
		for i, p := range c.Placements {
			if p.From == nil {
				continue
			}
			if from, ok := g.At(p.From[0], p.From[1]); ok {
				up[i] = takeUp(now, outlineIn(flat, g, from))
			}
		}
		for i, p := range c.Placements {
			to, ok := g.At(p.To[0], p.To[1])
			switch {
			case !ok:
			case p.From == nil:
				hang(now, outlineIn(flat, g, to), pictureOf(swatches[p.Stash], colours[p.Stash]))
			case up[i].picture != nil:
				move(now, up[i], outlineIn(flat, g, to), p.Turn)
			}
		}
	}
	return now
}

// taken is a patch taken down: the part of the picture that it is in, and where
// it lies in that.
type taken struct {
	picture *photo.Picture
	outline [][2]float64
}

func takeUp(p *photo.Picture, outline [][2]float64) taken {
	cx, cy, hw, hh := box(outline)
	r := image.Rect(int(cx-hw)-1, int(cy-hh)-1, int(cx+hw)+2, int(cy+hh)+2).Intersect(image.Rect(0, 0, p.W, p.H))
	if r.Empty() {
		return taken{}
	}
	t := taken{picture: p.Crop(r)}
	for _, q := range outline {
		t.outline = append(t.outline, [2]float64{q[0] - float64(r.Min.X), q[1] - float64(r.Min.Y)})
	}
	return t
}

func copyOf(p *photo.Picture) *photo.Picture {
	q := photo.New(p.W, p.H)
	copy(q.Pix, p.Pix)
	return q
}

func outlineIn(flat *photo.Picture, g *grid.Grid, p grid.Patch) [][2]float64 {
	outline := g.Flat(p)
	for i := range outline {
		outline[i][0] *= float64(flat.W)
		outline[i][1] *= float64(flat.H)
	}
	return outline
}

// box is a polygon's bounding box as centre and half sides.
func box(outline [][2]float64) (cx, cy, hw, hh float64) {
	lo, hi := raster.Extremes(outline)
	return (lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2, (hi[0] - lo[0]) / 2, (hi[1] - lo[1]) / 2
}

// paint fills the polygon in dst with what colour gives at places relative to
// the polygon's box, -1..1 either way; edge pixels are mixed by their share.
func paint(dst *photo.Picture, outline [][2]float64, colour func(u, v float64) [3]float32) {
	cx, cy, hw, hh := box(outline)
	r := cloth.Polygon(outline, dst.W, dst.H)
	eachIn(r, func(x, y int, a float64) {
		if a == 0 {
			return
		}
		c := colour((float64(x)+.5-cx)/hw, (float64(y)+.5-cy)/hh)
		o := dst.Pix[3*(y*dst.W+x):]
		for k := range 3 {
			o[k] += float32(a) * (c[k] - o[k])
		}
	})
}

// move paints a patch that was taken down into dst at to, turned clockwise by
// a number of degrees that is a multiple of 90.
func move(dst *photo.Picture, t taken, to [][2]float64, turn int) {
	cx, cy, hw, hh := box(t.outline)
	paint(dst, to, func(u, v float64) [3]float32 {
		for range ((turn/90)%4 + 4) % 4 {
			u, v = v, -u // a clockwise turn brings the left side up
		}
		return pixelAt(t.picture, cx+u*hw, cy+v*hh)
	})
}

func hang(dst *photo.Picture, to [][2]float64, cloth *photo.Picture) {
	side := float64(min(cloth.W, cloth.H)) / 2 * .8
	paint(dst, to, func(u, v float64) [3]float32 {
		return pixelAt(cloth, float64(cloth.W)/2+u*side, float64(cloth.H)/2+v*side)
	})
}

func pixelAt(p *photo.Picture, x, y float64) [3]float32 {
	px, py := min(max(int(x), 0), p.W-1), min(max(int(y), 0), p.H-1)
	return [3]float32(p.Pix[3*(py*p.W+px):])
}

// pictureOf is a swatch in linear light or, where there is none or it cannot
// be read, one pixel of the cloth's colour.
func pictureOf(s *cloth.Swatch, lab colorspace.Lab) *photo.Picture {
	if s != nil {
		if img, err := jpeg.Decode(bytes.NewReader(s.Colour)); err == nil {
			return linearOf(img)
		}
	}
	p := photo.New(1, 1)
	for k, v := range lab.Linear() {
		p.Pix[k] = float32(v)
	}
	return p
}

func linearOf(img image.Image) *photo.Picture {
	b := img.Bounds()
	p := photo.New(b.Dx(), b.Dy())
	for y := range p.H {
		for x := range p.W {
			r, g, bl, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
			for k, v := range [3]uint32{r, g, bl} {
				p.Pix[3*(y*p.W+x)+k] = float32(colorspace.DecodeSRGB(float64(v) / 0xffff))
			}
		}
	}
	return p
}
