package scene

import (
	"errors"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"runtime"
	"sort"
	"sync"
	"sync/atomic"

	"greige/colorspace"
)

// stage is a scene set up before a camera: a plane in cm with things on it.
type stage struct {
	take      Take
	toPhoto   homography // plane cm to pixels
	toPlane   homography
	footprint float64 // cm a pixel, in the middle
	ground    ground
	weave     *weave
	shapes    []shape // bottom to top
	parts     []*fabric
	field     Field
	shadow    *shadow
}

// shape is a thing on the plane, as it is seen in the photo.
type shape struct {
	bodies  [][][]point // outlines in pixels; each body is a list of contours, even-odd
	surface surface
	lift    float64 // how strong a shadow it casts, 1 for cloth; 0 for none
	wrinkle float64 // contrast of its folds
	curl    float64 // how its edges turn up
}

// surface is what is seen at a place of the plane.
type surface interface {
	at(p point) hit
}

// hit is one sample of a surface.
type hit struct {
	light [3]float32 // reflectance, linear sRGB
	shade float32    // light that reaches it, 1 is all
	part  int32      // index into stage.parts; -1 for no cloth
	ink   uint8
}

// The samples of a pixel: one in each quarter of its rows and of its columns.
var sampleX = [4]float64{.375, .875, .125, .625}

const samples = len(sampleX)

// tally adds up what was seen of a part. Whole numbers, so that the sum is
// the same in any order.
type tally struct {
	light [3]int64 // in steps of 2^-24
	n     int64
	inks  []int64
}

func (t *tally) add(h hit) {
	t.n++
	t.inks[h.ink]++
	for j := range t.light {
		t.light[j] += int64(h.light[j] * (1 << 24))
	}
}

// limits of a photo, so that a wrong figure gives an error and no panic.
const maxSide = 20000

func (t *Take) check() error {
	if t.Width < 0 || t.Height < 0 || t.Width > maxSide || t.Height > maxSide {
		return errors.New("scene: a photo is 1 to 20000 pixels wide and high")
	}
	if t.Width == 0 {
		t.Width = 1600
	}
	l, c := t.Light, t.Camera
	numbers := []float64{
		t.View.Tilt, t.View.Side, t.View.Roll, l.From, l.Ratio, l.Vignette, l.Lux, l.Kelvin, l.Balance, l.Gloss.X, l.Gloss.Y, l.Gloss.Size, l.Gloss.Strength,
		c.Blur, c.Sharpen, c.Noise, c.Tone, c.Auto, c.Bias, c.Protect, c.ExposureTime, c.Gain, c.FNumber,
	}
	for _, s := range l.Shadows {
		numbers = append(numbers, s.X, s.Y, s.W, s.H, s.Angle, s.Depth, s.Soft)
	}
	if err := sane(numbers...); err != nil {
		return err
	}
	if c.Blur > 50 {
		return errors.New("scene: a lens that blurs by more than 50 pixels")
	}
	if math.Abs(t.View.Tilt)+math.Abs(t.View.Side) > 50 {
		return errors.New("scene: the camera can be tilted by 50 degrees at most")
	}
	return nil
}

// sane refuses numbers that no scene has, before they become a loop without
// end or an index out of range.
func sane(numbers ...float64) error {
	for _, v := range numbers {
		if !(math.Abs(v) <= 1e6) {
			return fmt.Errorf("scene: %v is no size, angle or share of a scene", v)
		}
	}
	return nil
}

// saneCloths is sane for the numbers of cloths, cards and things.
func saneCloths(cloths []Cloth, cards []Paper, things []Thing) error {
	var n []float64
	for _, c := range cloths {
		n = append(n, c.Scale, c.Weave)
		for _, k := range c.Inks {
			n = append(n, k.Share, k.Lab.L, k.Lab.A, k.Lab.B)
		}
	}
	for _, c := range cards {
		n = append(n, c.X, c.Y, c.W, c.H, c.Angle)
	}
	for _, t := range things {
		n = append(n, t.X, t.Y, t.Size, t.Angle)
	}
	return sane(n...)
}

// newStage sets up a photo of a plane; fit maps the plane to pixels.
func newStage(t Take, fit homography, ground ground) (*stage, error) {
	s := &stage{take: t, toPhoto: fit, toPlane: fit.inverse(), ground: ground}
	mid := point{float64(t.Width) / 2, float64(t.Height) / 2}
	a, b := s.toPlane.apply(mid), s.toPlane.apply(point{mid.x + 1, mid.y})
	s.footprint = math.Hypot(b.x-a.x, b.y-a.y)
	if !(s.footprint > 1e-4 && s.footprint < 1e3) {
		return nil, errors.New("scene: a pixel of the photo would be no size that a camera sees")
	}
	s.weave = newWeave(t.Seed, s.footprint/2)
	s.field = t.Light.Field(t.Width, t.Height)
	return s, nil
}

// centred is a view in which a pixel in the middle is so many cm wide.
func centred(t Take, widthCM float64) homography {
	h := t.View.pinhole(widthCM * max(1, float64(t.Height)/float64(t.Width)))
	return h.scaled(float64(t.Width)/widthCM, float64(t.Width)/2, float64(t.Height)/2)
}

// add puts a shape on top of the others.
func (s *stage) add(sh shape) { s.shapes = append(s.shapes, sh) }

// part enters a piece whose mean is wanted.
func (s *stage) part(f *fabric) int32 {
	s.parts = append(s.parts, f)
	return int32(len(s.parts) - 1)
}

// edge is one side of an outline, going down.
type edge struct {
	y0, y1, x0, slope float64
	shape, body       int32
}

// edges of all outlines, for the rows from lo to hi.
func (s *stage) edges() []edge {
	var out []edge
	for i := range s.shapes {
		for b, body := range s.shapes[i].bodies {
			for _, contour := range body {
				for k, p := range contour {
					q := contour[(k+1)%len(contour)]
					if p.y > q.y {
						p, q = q, p
					}
					if p.y < q.y {
						out = append(out, edge{p.y, q.y, p.x, (q.x - p.x) / (q.y - p.y), int32(i), int32(b)})
					}
				}
			}
		}
	}
	return out
}

// scan finds which shape is seen along one line of a photo.
type scan struct {
	all    []edge
	active []edge
	cross  [][]float64 // by body, see body below
	bodies []int32     // first index into cross of each shape
	shapes []shape
}

func newScan(shapes []shape, all []edge) *scan {
	sc := &scan{all: all, shapes: shapes}
	n := int32(0)
	for i := range shapes {
		sc.bodies = append(sc.bodies, n)
		n += int32(len(shapes[i].bodies))
	}
	sc.cross = make([][]float64, n)
	return sc
}

// band keeps the edges that cross the rows lo..hi.
func (sc *scan) band(lo, hi float64) {
	sc.active = sc.active[:0]
	for _, e := range sc.all {
		if e.y0 < hi && e.y1 > lo {
			sc.active = append(sc.active, e)
		}
	}
}

// line writes, for each pixel, 1 + the index of the topmost shape at offset x
// of it, or 0.
func (sc *scan) line(y, offset float64, label []int32) {
	clear(label)
	for i := range sc.cross {
		sc.cross[i] = sc.cross[i][:0]
	}
	for i := range sc.active {
		if e := &sc.active[i]; e.y0 <= y && y < e.y1 {
			b := sc.bodies[e.shape] + e.body
			sc.cross[b] = append(sc.cross[b], e.x0+(y-e.y0)*e.slope)
		}
	}
	for i := range sc.shapes {
		for b := range sc.shapes[i].bodies {
			xs := sc.cross[int(sc.bodies[i])+b]
			sort.Float64s(xs)
			for k := 0; k+1 < len(xs); k += 2 {
				from := max(int(math.Ceil(xs[k]-offset)), 0)
				to := min(int(math.Ceil(xs[k+1]-offset)), len(label))
				for x := from; x < to; x++ {
					label[x] = int32(i + 1)
				}
			}
		}
	}
}

// bandRows is how many rows are worked on as one piece of work.
const bandRows = 16

// bands calls work for each band of n rows; every worker has a state.
func bands[S any](n, workers int, state func() S, work func(s S, lo, hi int)) {
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			s := state()
			for {
				lo := int(next.Add(1)-1) * bandRows
				if lo >= n {
					return
				}
				work(s, lo, min(lo+bandRows, n))
			}
		})
	}
	wg.Wait()
}

// worker is what one goroutine needs for rendering.
type worker struct {
	scan    *scan
	label   [samples][]int32
	tallies []tally
	light   int64 // mean luminance of each row, steps of 2^-30
	high    [256]int64
}

// render gives the light that falls on the sensor (exposure 1), r, g, b by
// turns, and what was seen of each part.
func (s *stage) render() ([]float32, []tally, meter) {
	w, h := s.take.Width, s.take.Height
	edges := s.edges()
	s.shadow = s.newShadow(edges)
	cast := s.take.Light.cast()
	var m [9]float32
	for i := range 9 {
		m[i] = float32(cast[i/3][i%3])
	}
	lum := colorspace.LuminanceWeights()
	out := make([]float32, 3*w*h)
	var lock sync.Mutex
	var workers []*worker
	state := func() *worker {
		k := &worker{scan: newScan(s.shapes, edges), tallies: make([]tally, len(s.parts))}
		for i := range k.label {
			k.label[i] = make([]int32, w)
		}
		for i, f := range s.parts {
			k.tallies[i].inks = make([]int64, len(f.inks))
		}
		lock.Lock()
		workers = append(workers, k)
		lock.Unlock()
		return k
	}
	bands(h, s.take.Workers, state, func(k *worker, lo, hi int) {
		k.scan.band(float64(lo), float64(hi))
		for y := lo; y < hi; y++ {
			row := out[3*w*y : 3*w*(y+1)]
			s.row(k, y, row)
			var sum float64
			for x := range w {
				px := row[3*x : 3*x+3]
				e := float32(s.field.at(float64(x)+.5, float64(y)+.5))
				g := float32(s.take.Light.Gloss.at(&s.field, float64(x)+.5, float64(y)+.5))
				r0, g0, b0 := px[0]*e+g, px[1]*e+g, px[2]*e+g
				px[0] = m[0]*r0 + m[1]*g0 + m[2]*b0
				px[1] = m[3]*r0 + m[4]*g0 + m[5]*b0
				px[2] = m[6]*r0 + m[7]*g0 + m[8]*b0
				k.high[min(max(int(64*max(px[0], px[1], px[2])), 0), 255)]++
				sum += lum[0]*float64(px[0]) + lum[1]*float64(px[1]) + lum[2]*float64(px[2])
			}
			k.light += int64(sum / float64(w) * (1 << 30))
		}
	})
	total := make([]tally, len(s.parts))
	for i, f := range s.parts {
		total[i].inks = make([]int64, len(f.inks))
	}
	var seen meter
	var rows int64
	for _, k := range workers {
		rows += k.light
		for i, n := range k.high {
			seen.high[i] += n
		}
		for i := range total {
			t, o := &total[i], &k.tallies[i]
			t.n += o.n
			for j := range t.light {
				t.light[j] += o.light[j]
			}
			for j := range t.inks {
				t.inks[j] += o.inks[j]
			}
		}
	}
	seen.mean = float64(rows) / (1 << 30) / float64(h)
	return out, total, seen
}

// row renders the reflectance, with its small shadows, of one row.
func (s *stage) row(k *worker, y int, row []float32) {
	for i, offset := range sampleX {
		k.scan.line(float64(y)+(float64(i)+.5)/float64(samples), offset, k.label[i])
	}
	h := &s.toPlane
	for x := range s.take.Width {
		var sum [3]float32
		var lastLabel int32
		var lastShade float32
		grounds := 0
		for i, offset := range sampleX {
			l := k.label[i][x]
			if l == 0 {
				grounds++
				continue
			}
			sh := &s.shapes[l-1]
			p := h.apply(point{float64(x) + offset, float64(y) + (float64(i)+.5)/float64(samples)})
			if l != lastLabel {
				lastLabel, lastShade = l, s.folds(sh, l, float64(x)+.5, float64(y)+.5, p)
			}
			t := sh.surface.at(p)
			shade := t.shade * lastShade
			for j := range sum {
				sum[j] += t.light[j] * shade
			}
			if t.part >= 0 {
				k.tallies[t.part].add(t)
			}
		}
		if grounds > 0 {
			p := h.apply(point{float64(x) + .5, float64(y) + .5})
			g := s.ground.at(p, s.footprint)
			shade := float32(grounds) * s.shadow.onGround(float64(x)+.5, float64(y)+.5)
			for j := range sum {
				sum[j] += g[j] * shade
			}
		}
		for j, v := range sum {
			row[3*x+j] = v / float32(samples)
		}
	}
}

// folds is the light on a shape's own relief: soft wrinkles, and edges that
// turn up towards the light or away from it.
func (s *stage) folds(sh *shape, label int32, x, y float64, p point) float32 {
	f := 1.0
	if sh.wrinkle > 0 {
		f += sh.wrinkle * octaves(s.take.Seed+uint64(label)*31, p.x, p.y, 9, s.footprint, .6, 3)
	}
	if sh.curl > 0 {
		f += sh.curl * s.shadow.slope(x, y)
	}
	return float32(f)
}

// shoot renders the stage and takes the photo.
func (s *stage) shoot() (Shot, []Measure, error) {
	t := s.take
	light, tallies, seen := s.render()
	e := t.Camera.expose(seen, t.Light.Lux)
	file, err := t.Camera.encode(s.develop(light, e), e)
	if err != nil {
		return Shot{}, nil, err
	}
	cast := t.Light.cast().Apply([3]float64{1, 1, 1})
	shot := Shot{Name: t.Name, Data: file, stage: s, Truth: Truth{
		Width: t.Width, Height: t.Height, PixelCM: s.footprint, Ground: s.ground.lab(), Light: s.field, Cast: cast, Exposure: e.gain,
	}}
	if shot.Name == "" {
		shot.Name = "photo.jpg"
		if t.Camera.Format != JPEG {
			shot.Name = "photo.png"
		}
	}
	measures := make([]Measure, len(tallies))
	for i := range tallies {
		measures[i] = tallies[i].measure(s.parts[i].inks)
	}
	return shot, measures, nil
}

// measure turns what was added up into means.
func (t *tally) measure(inks []Ink) Measure {
	var m Measure
	if t.n == 0 {
		return m
	}
	for j, v := range t.light {
		m.Reflectance[j] = float64(v) / (1 << 24) / float64(t.n)
	}
	m.Lab = m.Reflectance.Lab()
	m.Pixels = float64(t.n) / float64(samples)
	var sum, square float64
	for i, n := range t.inks {
		if n == 0 {
			continue
		}
		share := float64(n) / float64(t.n)
		m.Inks = append(m.Inks, Ink{inks[i].Lab, share})
		sum += share * inks[i].Lab.L
		square += share * inks[i].Lab.L * inks[i].Lab.L
	}
	m.Spread = math.Sqrt(max(square-sum*sum, 0))
	return m
}

// develop takes the light through lens, sensor and encoding.
func (s *stage) develop(light []float32, e exposure) image.Image {
	t := s.take
	w, h := t.Width, t.Height
	kernel := sharpened(gaussian(t.Camera.Blur), t.Camera.Sharpen)
	r := len(kernel) / 2
	if r > 0 {
		bands(h, t.Workers, func() []float32 { return make([]float32, 3*w) }, func(line []float32, lo, hi int) {
			for y := lo; y < hi; y++ {
				blurRow(light[3*w*y:3*w*(y+1)], line, kernel)
			}
		})
	}
	deep := t.Camera.Format == PNG16
	top := 255
	if deep {
		top = 65535
	}
	curve := t.Camera.curve(top)
	var small *image.RGBA
	var large *image.RGBA64
	if deep {
		large = image.NewRGBA64(image.Rect(0, 0, w, h))
	} else {
		small = image.NewRGBA(image.Rect(0, 0, w, h))
	}
	noise := t.Camera.noise(e.iso)
	toFile := t.Camera.Space.ToLinearSRGB().Inverse()
	bands(h, t.Workers, func() []float32 { return make([]float32, 3*w) }, func(row []float32, lo, hi int) {
		for y := lo; y < hi; y++ {
			clear(row)
			for k, weight := range kernel {
				from := min(max(y+k-r, 0), h-1)
				weight *= float32(e.gain)
				for i, v := range light[3*w*from : 3*w*(from+1)] {
					row[i] += weight * v
				}
			}
			noise.add(row, rand.New(rand.NewPCG(t.Seed^0x5eed, uint64(y))))
			for x := range w {
				px := [3]float32(row[3*x:])
				if t.Camera.Space != colorspace.SRGB {
					v := toFile.Apply([3]float64{float64(px[0]), float64(px[1]), float64(px[2])})
					px = [3]float32{float32(v[0]), float32(v[1]), float32(v[2])}
				}
				if deep {
					p := large.Pix[8*(w*y+x):]
					for j, v := range px {
						c := curve.at(v)
						p[2*j], p[2*j+1] = uint8(c>>8), uint8(c)
					}
					p[6], p[7] = 255, 255
					continue
				}
				p := small.Pix[4*(w*y+x):][:4]
				p[0], p[1], p[2], p[3] = uint8(curve.at(px[0])), uint8(curve.at(px[1])), uint8(curve.at(px[2])), 255
			}
		}
	})
	if deep {
		return large
	}
	return small
}

// gaussian is a kernel of the given standard deviation that adds up to 1.
func gaussian(sigma float64) []float32 {
	if sigma <= 0 {
		return []float32{1}
	}
	r := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*r+1)
	var sum float64
	for i := range k {
		x := float64(i - r)
		// The light on a pixel is what falls on all of it: integrate.
		g := math.Erf((x+.5)/sigma/math.Sqrt2) - math.Erf((x-.5)/sigma/math.Sqrt2)
		k[i] = float32(g)
		sum += g
	}
	for i := range k {
		k[i] /= float32(sum)
	}
	return k
}

// sharpened is a kernel with an unsharp mask: what a further blur of 1.2
// pixels takes away is added, which leaves flat areas as they are and puts
// a light and a dark line along edges.
func sharpened(k []float32, amount float64) []float32 {
	if amount <= 0 {
		return k
	}
	wide := gaussian(1.2)
	n, r := len(k), len(wide)/2
	out := make([]float32, n+2*r)
	for i, v := range k {
		out[i+r] += float32(1+amount) * v
		for j, w := range wide {
			out[i+j] -= float32(amount) * v * w
		}
	}
	return out
}

// blurRow blurs one row in place; line is room for its old values.
func blurRow(row, line, kernel []float32) {
	copy(line, row)
	r, n := len(kernel)/2, len(row)/3
	for x := range n {
		var a, b, c float32
		for k, g := range kernel {
			i := 3 * min(max(x+k-r, 0), n-1)
			a += g * line[i]
			b += g * line[i+1]
			c += g * line[i+2]
		}
		row[3*x], row[3*x+1], row[3*x+2] = a, b, c
	}
}

// each calls f for every sample of a rectangle of the photo in which a part
// is seen, with its pixel.
func (s *stage) each(part int, in image.Rectangle, f func(x, y int, t hit)) {
	w, h := s.take.Width, s.take.Height
	in = in.Intersect(image.Rect(0, 0, w, h))
	sc := newScan(s.shapes, s.edges())
	label := make([]int32, w)
	for y := in.Min.Y; y < in.Max.Y; y++ {
		sc.band(float64(y), float64(y+1))
		for i, offset := range sampleX {
			v := float64(y) + (float64(i)+.5)/float64(samples)
			sc.line(v, offset, label)
			for x := in.Min.X; x < in.Max.X; x++ {
				if label[x] == 0 {
					continue
				}
				t := s.shapes[label[x]-1].surface.at(s.toPlane.apply(point{float64(x) + offset, v}))
				if int(t.part) == part {
					f(x, y, t)
				}
			}
		}
	}
}

// Mask is where one part is seen: a piece by its index in Truth.Pieces, a
// patch by its index in Truth.Grid.Patches. 255 is a pixel that it fills, 0
// one where it is not. An index out of range gives an empty mask.
func (s *Shot) Mask(part int) *image.Gray {
	mask := image.NewGray(image.Rect(0, 0, s.Truth.Width, s.Truth.Height))
	if s.stage == nil {
		return mask
	}
	s.stage.each(part, mask.Rect, func(x, y int, _ hit) { mask.Pix[y*mask.Stride+x] += 63 })
	for i, v := range mask.Pix {
		if v == 63*uint8(samples) {
			mask.Pix[i] = 255
		}
	}
	return mask
}

// Measure is what is true of the part, numbered as for Mask, within a
// rectangle of the photo.
func (s *Shot) Measure(part int, in image.Rectangle) Measure {
	if s.stage == nil || part < 0 || part >= len(s.stage.parts) {
		return Measure{}
	}
	f := s.stage.parts[part]
	t := tally{inks: make([]int64, len(f.inks))}
	s.stage.each(part, in, func(_, _ int, h hit) { t.add(h) })
	return t.measure(f.inks)
}
