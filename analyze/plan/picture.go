package plan

import (
	"image"
	"math"

	"greige/analyze/cloth"
	"greige/analyze/photo"
	"greige/colorspace"
)

// Texture is a rectangle of nothing but one cloth, as its photo shows it.
type Texture struct {
	*photo.Picture
	CM float64 // width of a pixel
	// Grain is the direction of its weave, as GrainOf has it; 0 where it is not
	// seen. Pieces are shown cut along it.
	Grain float64
}

// CutTexture cuts the largest upright rectangle out of the part of p, a photo in even
// light, that outline encloses, in pixels of p, a little inside its edge and clear of
// what is known to be no cloth. It is brought to lab, the cloth's own measured colour,
// so that the camera of the photo does not show. cm is the width of a pixel. It returns
// nil where there is no room for one.
func CutTexture(p *photo.Picture, outline [][2]float64, ignore []image.Rectangle, lab colorspace.Lab, cm float64) *Texture {
	region := cloth.Polygon(outline, p.W, p.H).Without(ignore)
	if region.Bounds.Empty() {
		return nil
	}
	piece := p.Crop(region.Bounds)
	piece.Dark, piece.Bright = nil, nil
	mask := region.Weight
	within := largest(mask, piece.W, piece.H)
	// A twelfth on each side is left to the edge's own shadow.
	within = within.Inset(min(within.Dx(), within.Dy()) / 12)
	if within.Dx() < 4 || within.Dy() < 4 {
		return nil
	}
	tex := piece.Crop(within)
	var sum [3]float64
	for i, v := range tex.Pix {
		sum[i%3] += float64(v)
	}
	want := lab.Linear()
	for k := range sum {
		gain, lift := float32(1), float32(0)
		if mean := sum[k] / float64(tex.W*tex.H); mean > 1e-4 {
			gain = float32(want[k] / mean)
		} else {
			lift = float32(want[k])
		}
		for i := k; i < len(tex.Pix); i += 3 {
			tex.Pix[i] = tex.Pix[i]*gain + lift
		}
	}
	return &Texture{Picture: tex, CM: cm}
}

// largest is the largest rectangle of whole pixels in a mask of w x h (the
// largest rectangle under a histogram, row by row, with a stack).
func largest(mask []float32, w, h int) image.Rectangle {
	high := make([]int, w+1)
	var best image.Rectangle
	stack := make([]int, 0, w+1)
	for y := range h {
		stack = stack[:0]
		for x := 0; x <= w; x++ {
			if x < w {
				if mask == nil || mask[y*w+x] > .99 {
					high[x]++
				} else {
					high[x] = 0
				}
			}
			for len(stack) > 0 && (x == w || high[stack[len(stack)-1]] >= high[x]) {
				top := high[stack[len(stack)-1]]
				stack = stack[:len(stack)-1]
				left := 0
				if len(stack) > 0 {
					left = stack[len(stack)-1] + 1
				}
				if (x-left)*top > best.Dx()*best.Dy() {
					best = image.Rect(left, y+1-top, x, y+1)
				}
			}
			if x < w {
				stack = append(stack, x)
			}
		}
	}
	return best
}

// Draw is the finished top, side pixels along its longer side, in linear
// light: every piece out of its cloth's texture at its true scale, with the
// grain along the piece, and each piece from another part of it. textures go
// by Plan.Chosen; nil for a cloth of which there is none, which is drawn in
// its own flat colour. cm is how wide a pixel is.
func (p *Plan) Draw(textures []*Texture, side int) (picture *photo.Picture, cm float64) {
	w, h := p.Width.CM(), p.Height.CM()
	cm = max(w, h) / float64(side)
	picture = photo.New(max(int(math.Round(w/cm)), 1), max(int(math.Round(h/cm)), 1))
	paints := make([]paint, len(p.Chosen))
	for i := range paints {
		paints[i] = newPaint(textures[i], p.Chosen[i].Lab, cm)
	}
	// Corners lie on whole pixels at the rim, so that no ground shows there.
	fx, fy := float64(picture.W)/w, float64(picture.H)/h
	nth := make([]int, len(p.Chosen))
	for i := range p.Pieces {
		piece := &p.Pieces[i]
		o := make([][2]float64, len(piece.Outline))
		for k, q := range piece.Outline {
			o[k] = [2]float64{q[0] * fx, q[1] * fy}
		}
		paints[piece.Cloth].lay(picture, o, piece.Turned, nth[piece.Cloth])
		nth[piece.Cloth]++
	}
	return picture, cm
}

// paint is a cloth's texture at the scale of the picture.
type paint struct {
	tex   *photo.Picture
	f     float64 // pixels of tex to a pixel of the picture
	grain float64
	flat  [3]float32
}

func newPaint(t *Texture, lab colorspace.Lab, cm float64) paint {
	var out paint
	for k, v := range lab.Linear() {
		out.flat[k] = float32(v)
	}
	if t == nil {
		return out
	}
	out.grain = t.Grain
	f := t.CM / cm // pixels of the picture to one of the texture
	w, h := int(math.Round(float64(t.W)*f)), int(math.Round(float64(t.H)*f))
	switch {
	case w < 1 || h < 1:
		return out // all of it is under a pixel: its mean is its colour
	case f < 1:
		out.tex, out.f = t.Resample(w, h), 1
	default:
		out.tex, out.f = t.Picture, 1/f
	}
	return out
}

// The golden ratio's part and that of the plastic number's squares place the
// pieces of a cloth in its texture so that no two are near each other (Roberts
// 2018, the R2 sequence).
const r2X, r2Y = .7548776662466927, .5698402909980532

// lay adds a piece to the picture by the share of each pixel that it covers:
// pieces that tile add up to a whole.
func (c *paint) lay(dst *photo.Picture, outline [][2]float64, turned bool, nth int) {
	r := cloth.Polygon(outline, dst.W, dst.H)
	var ox, oy float64
	if c.tex != nil {
		ox = math.Mod(float64(nth)*r2X, 1) * float64(c.tex.W)
		oy = math.Mod(float64(nth)*r2Y, 1) * float64(c.tex.H)
	}
	x0, y0 := outline[0][0], outline[0][1]
	turn := c.grain
	if turned {
		turn += math.Pi / 4
	}
	sin, cos := math.Sincos(turn)
	for y := r.Bounds.Min.Y; y < r.Bounds.Max.Y; y++ {
		weights := r.Weight[(y-r.Bounds.Min.Y)*r.Bounds.Dx():][:r.Bounds.Dx()]
		for i, a := range weights {
			if a == 0 {
				continue
			}
			x := r.Bounds.Min.X + i
			v := c.flat
			if c.tex != nil {
				u, w := float64(x)+.5-x0, float64(y)+.5-y0
				v = sample(c.tex, (u*cos-w*sin)*c.f+ox, (u*sin+w*cos)*c.f+oy)
			}
			o := dst.Pix[3*(y*dst.W+x):]
			for k := range 3 {
				o[k] += a * v[k]
			}
		}
	}
}

// sample is the pixel at x, y of a texture that goes on as its own mirror
// image, so that it has no edges.
func sample(p *photo.Picture, x, y float64) [3]float32 {
	i, j := mirrored(int(math.Floor(x)), p.W), mirrored(int(math.Floor(y)), p.H)
	return [3]float32(p.Pix[3*(j*p.W+i):])
}

func mirrored(i, n int) int {
	i %= 2 * n
	if i < 0 {
		i += 2 * n
	}
	if i >= n {
		return 2*n - 1 - i
	}
	return i
}

// grainSeen is the coherence of the edges from which on a direction of the
// weave counts as seen: half of all edges, weighed by their strength, then lie
// along it or across it. Our own: a stripe has .9, scattered figures under .2.
const grainSeen = .5

// GrainOf is the direction of a texture's weave, in radians from the x axis
// towards the y axis, from 0 to a quarter turn, by its stripes, checks or
// threads: the orientation of the gradients with four-fold symmetry, by their
// squared strength (Bigun and Granlund 1987, with the angle times four). seen
// is false where no direction stands out.
func GrainOf(p *photo.Picture) (angle float64, seen bool) {
	lw := colorspace.LuminanceWeights()
	y := make([]float64, p.W*p.H)
	for i := range y {
		y[i] = lw[0]*float64(p.Pix[3*i]) + lw[1]*float64(p.Pix[3*i+1]) + lw[2]*float64(p.Pix[3*i+2])
	}
	var re, im, all, mean float64
	for _, v := range y {
		mean += v / float64(len(y))
	}
	for j := 1; j < p.H-1; j++ {
		for i := 1; i < p.W-1; i++ {
			at := j*p.W + i
			// Sobel's operator is more even about direction than a difference.
			gx := y[at+1-p.W] + 2*y[at+1] + y[at+1+p.W] - y[at-1-p.W] - 2*y[at-1] - y[at-1+p.W]
			gy := y[at-1+p.W] + 2*y[at+p.W] + y[at+1+p.W] - y[at-1-p.W] - 2*y[at-p.W] - y[at+1-p.W]
			m := gx*gx + gy*gy
			if m == 0 {
				continue
			}
			// cos and sin of four times the angle, without the angle.
			c, s := (gx*gx-gy*gy)/m, 2*gx*gy/m
			re += m * (c*c - s*s)
			im += m * 2 * c * s
			all += m
		}
	}
	const quarter = math.Pi / 2
	// Edges of a five hundredth of the light are the camera's, not the
	// cloth's; 8 is what the operator makes of a step of 1.
	faint := 8 * mean / 500
	if p.W*p.H < 400 || all <= float64(p.W*p.H)*faint*faint {
		return 0, false
	}
	angle = math.Atan2(im, re) / 4
	if angle < 0 {
		angle += quarter
	}
	return angle, math.Hypot(re, im)/all >= grainSeen
}
