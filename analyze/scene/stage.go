package scene

import (
	"math"
	"sync"

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

// newStage sets up a photo of a plane; fit maps the plane to pixels.
func newStage(t Take, fit homography, ground ground) *stage {
	s := &stage{take: t, toPhoto: fit, toPlane: fit.inverse(), ground: ground}
	mid := point{float64(t.Width) / 2, float64(t.Height) / 2}
	a, b := s.toPlane.apply(mid), s.toPlane.apply(point{mid.x + 1, mid.y})
	s.footprint = math.Hypot(b.x-a.x, b.y-a.y)
	s.weave = newWeave(t.Seed, s.footprint/2)
	s.field = t.Light.Field(t.Width, t.Height)
	return s
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

// worker is what one goroutine needs for rendering.
type worker struct {
	scan    *scan
	label   [samples][]int32
	tallies []tally
	light   int64    // mean luminance of each row, steps of 2^-30
	rgb     [3]int64 // the same of its components
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
			var rgb [3]float64
			for x := range w {
				px := row[3*x : 3*x+3]
				e := float32(s.field.at(float64(x)+.5, float64(y)+.5))
				r0, g0, b0 := px[0]*e, px[1]*e, px[2]*e
				px[0] = m[0]*r0 + m[1]*g0 + m[2]*b0
				px[1] = m[3]*r0 + m[4]*g0 + m[5]*b0
				px[2] = m[6]*r0 + m[7]*g0 + m[8]*b0
				k.high[min(max(int(64*max(px[0], px[1], px[2])), 0), 255)]++
				for j, v := range px {
					rgb[j] += float64(v)
				}
				sum += lum[0]*float64(px[0]) + lum[1]*float64(px[1]) + lum[2]*float64(px[2])
			}
			k.light += int64(sum / float64(w) * (1 << 30))
			for j, v := range rgb {
				k.rgb[j] += int64(v / float64(w) * (1 << 30))
			}
		}
	})
	total, seen := s.sum(workers)
	return out, total, seen
}

// sum adds up what the workers counted, by part and over the photo.
func (s *stage) sum(workers []*worker) ([]tally, meter) {
	total := make([]tally, len(s.parts))
	for i, f := range s.parts {
		total[i].inks = make([]int64, len(f.inks))
	}
	var seen meter
	var rows int64
	var rgb [3]int64
	for _, k := range workers {
		rows += k.light
		for j, v := range k.rgb {
			rgb[j] += v
		}
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
	h := s.take.Height
	seen.mean = float64(rows) / (1 << 30) / float64(h)
	for j, v := range rgb {
		seen.rgb[j] = float64(v) / (1 << 30) / float64(h)
	}
	return total, seen
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
		f += sh.wrinkle * octaves(s.take.Seed+uint64(label)*31, p, 9, s.footprint, .6, 3)
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
	file, err := t.Camera.encode(s.develop(light, seen.rgb, e), e)
	if err != nil {
		return Shot{}, nil, err
	}
	cast := t.Light.cast().Apply([3]float64{1, 1, 1})
	shot := Shot{Name: t.Name, Data: file, stage: s, Truth: Truth{
		Width: t.Width, Height: t.Height, Light: s.field, Cast: cast, Exposure: e.gain,
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
