package light

import (
	"math"
	"runtime"
	"sync"

	"greige/analyze/photo"
)

// bands calls do for runs of rows, side by side. The rows are shared out by
// their number alone, and do must write only to its own rows, so that the
// result is the same however many run at once.
func bands(h int, do func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), h)
	if n <= 1 {
		do(0, h)
		return
	}
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { do(i*h/n, (i+1)*h/n) })
	}
	wg.Wait()
}

// scaled is p with one gain a channel.
func scaled(p *photo.Picture, gain [3]float64) *photo.Picture {
	q := &photo.Picture{W: p.W, H: p.H, Pix: make([]float32, len(p.Pix)), Dark: p.Dark, Bright: p.Bright}
	r, g, b := float32(gain[0]), float32(gain[1]), float32(gain[2])
	bands(p.H, func(y0, y1 int) {
		src, dst := p.Pix[3*y0*p.W:3*y1*p.W], q.Pix[3*y0*p.W:3*y1*p.W]
		for i := 0; i+2 < len(src); i += 3 {
			dst[i], dst[i+1], dst[i+2] = src[i]*r, src[i+1]*g, src[i+2]*b
		}
	})
	return q
}

// node is how many working pixels lie between two places where a field of
// gains is worked out; between them it is interpolated. A field of degree 4
// over 1000 pixels bends by less than 1e-4 over 16.
const node = 16

// gained is p times gain, which is given by place in working pixels.
func gained(p *photo.Picture, gain func(x, y float64) [3]float64) *photo.Picture {
	nw, nh := (p.W+node-1)/node+1, (p.H+node-1)/node+1
	nodes := make([][3]float32, nw*nh)
	bands(nh, func(y0, y1 int) {
		for j := y0; j < y1; j++ {
			for i := range nw {
				g := gain(float64(i*node), float64(j*node))
				nodes[j*nw+i] = [3]float32{float32(g[0]), float32(g[1]), float32(g[2])}
			}
		}
	})
	q := &photo.Picture{W: p.W, H: p.H, Pix: make([]float32, len(p.Pix)), Dark: p.Dark, Bright: p.Bright}
	bands(p.H, func(y0, y1 int) {
		line := make([][3]float32, nw)
		for y := y0; y < y1; y++ {
			t := (float32(y%node) + .5) / node
			top, low := nodes[y/node*nw:(y/node+1)*nw], nodes[(y/node+1)*nw:(y/node+2)*nw]
			for i := range line {
				for k := range 3 {
					line[i][k] = top[i][k] + t*(low[i][k]-top[i][k])
				}
			}
			src, dst := p.Pix[3*y*p.W:3*(y+1)*p.W], q.Pix[3*y*p.W:3*(y+1)*p.W]
			for i := 0; i+1 < nw; i++ {
				a, b := line[i], line[i+1]
				step := [3]float32{(b[0] - a[0]) / node, (b[1] - a[1]) / node, (b[2] - a[2]) / node}
				r, g, bl := a[0]+step[0]/2, a[1]+step[1]/2, a[2]+step[2]/2
				end := min((i+1)*node, p.W) * 3
				for j := i * node * 3; j < end; j += 3 {
					dst[j], dst[j+1], dst[j+2] = src[j]*r, src[j+1]*g, src[j+2]*bl
					r, g, bl = r+step[0], g+step[1], bl+step[2]
				}
			}
		}
	})
	return q
}

// correction is what is taken out of a photo: a field, or none, and the gain
// of each channel where the field is 0.
type correction struct {
	field *field
	cast  bool // the field's colour is taken out as well as its brightness
	gain  [3]float64
	// shade is a shadow's ln, by cell of cells; nil when there is none.
	shade []float64
	cells *cells
}

// at is the gain at a place (u, v).
func (t *correction) at(u, v float64) [3]float64 {
	if t.field == nil {
		return t.gain
	}
	b := basis(u, v)
	y := t.field.lnY(&b)
	if t.shade != nil {
		c := t.cells
		y += c.sample(t.shade, (u+1)/2*float64(c.pw), (v+1)/2*float64(c.ph))
	}
	var g [3]float64
	for k := range 3 {
		e := y
		if t.cast {
			e += t.field.channel(k+1, &b)
		}
		g[k] = t.gain[k] * math.Exp(-e)
	}
	return g
}

func (t *correction) apply(p *photo.Picture) *photo.Picture {
	if t.field == nil && t.gain == [3]float64{1, 1, 1} {
		return p
	}
	if t.field == nil {
		return scaled(p, t.gain)
	}
	geo := geometry{float64(p.W), float64(p.H)}
	return gained(p, func(x, y float64) [3]float64 { return t.at(geo.uv(x, y)) })
}

// keepMean scales the gains so that evening out the brightness leaves the
// mean luminance of the photo what it was.
func (t *correction) keepMean(c *cells) {
	if t.field == nil {
		return
	}
	geo := c.geometry()
	var before, after float64
	for i, m := range c.mean {
		b := basis(c.at(i, geo))
		y := t.field.lnY(&b)
		if t.shade != nil {
			y += t.shade[i]
		}
		before += float64(m)
		after += float64(m) * math.Exp(-y)
	}
	if before > 0 && after > 0 {
		for k := range t.gain {
			t.gain[k] *= before / after
		}
	}
}
