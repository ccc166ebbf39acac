package teach

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"greige/analyze/camera"
	"greige/analyze/light"
	"greige/analyze/numerals"
	"greige/analyze/photo"
	"greige/colorspace"
)

const adviceStill = "put the phone on a stand, point it at a scene with plain light, middle and dark things, and take it three times: as the phone likes it, darker, and lighter"

// fewestPhotos is how many exposures a curve is learned from.
const fewestPhotos = 3

// leastStep is ln of the ratio from which on two exposures are different ones: a
// quarter of a stop, which is well over what the record rounds.
const leastStep = math.Ln2 / 4

// Exposures returns what photos of one still scene by one camera at three or more
// exposures show of the same plain surfaces, and the photos that were used. Photos
// that do not fit the others are skipped with the reason; steps is nil when too few
// are left.
func Exposures(photos []*photo.Photo) (steps []camera.Step, used []*photo.Photo, skipped []photo.Skipped) {
	skip := func(p *photo.Photo, reason, hint string) {
		skipped = append(skipped, photo.Skipped{Photo: p.Name, Reason: reason, Hint: hint})
	}
	first := photos[0]
	var frames []*frame
	for _, p := range photos {
		f := newFrame(p)
		bright, dark := f.shares()
		switch {
		case light.IdentityOf(p.Record) != light.IdentityOf(first.Record):
			skip(p, fmt.Sprintf("another camera or lens took it (%s) than the first photo (%s)", light.IdentityOf(p.Record), light.IdentityOf(first.Record)), "take all the photos of the scene with one phone, without zooming")
		case !(f.exposure > 0):
			skip(p, "the file does not say how it was exposed", "take the file off the phone itself, as an original; or use two cards of known lightness instead")
		case p.Width != first.Width || p.Height != first.Height:
			skip(p, "it is of another size than the first photo", "do not zoom, turn the phone or cut the photos between the exposures")
		case bright > .6:
			skip(p, "most of it is too bright for the camera", "take it darker: a photo teaches only where it is not burnt out")
		case dark > .6:
			skip(p, "most of it is too dark", "take it lighter: a photo teaches only where something can be seen")
		default:
			frames = append(frames, f)
		}
	}
	frames = still(frames, skip)
	frames = distinct(frames, skip)
	if len(frames) < fewestPhotos {
		for _, f := range frames {
			skip(f.Photo, fmt.Sprintf("%s of the scene at different exposures are too few to learn from: three are needed", numerals.Some(len(frames), "photo", "photos")), adviceStill)
		}
		return nil, nil, skipped
	}
	for i := 1; i < len(frames); i++ {
		steps = append(steps, frames[i-1].steps(frames[i], i-1)...)
	}
	for _, f := range frames {
		used = append(used, f.Photo)
	}
	return steps, used, skipped
}

// frame is a photo of the scene, reduced to cells.
type frame struct {
	*photo.Photo
	exposure float64 // s ISO / F^2; 0: not recorded
	w, h     int
	cells    []cell
	fine     *photo.Picture // a few hundred pixels wide, to see a movement by
}

// cell is a small square of the photo.
type cell struct {
	region
	lab colorspace.Lab
}

// Cells along the longer side of a photo, and pixels of the picture that movements are
// seen by: a hundredth of the photo each, some 16 pixels of the working picture, over
// which noise averages out; and four of them.
const (
	cellsAlong = 100
	fineAlong  = 400
)

func newFrame(p *photo.Photo) *frame {
	r := p.Record
	f := &frame{Photo: p}
	if r.ExposureTime > 0 && r.Sensitivity > 0 {
		n := r.FNumber
		if n <= 0 {
			n = 1 // a phone's lens has one aperture
		}
		f.exposure = r.ExposureTime * r.Sensitivity / (n * n)
	}
	pic := p.Picture
	k := max(1, max(pic.W, pic.H)/cellsAlong)
	f.w, f.h = pic.W/k, pic.H/k
	f.cells = make([]cell, f.w*f.h)
	for i := range f.cells {
		c := &f.cells[i]
		x0, y0 := i%f.w*k, i/f.w*k
		for y := y0; y < y0+k; y++ {
			for x := x0; x < x0+k; x++ {
				c.add(pic, x, y)
			}
		}
		c.finish()
		c.lab = c.light.Lab()
	}
	f.fine = pic.Within(fineAlong)
	return f
}

// Where 8 bits and the top of the scale still say enough: L* of the file. burnt is the
// share of clipped pixels that spoils a cell.
const (
	darkest, brightest = 8, 97
	burnt              = .02
)

// shares are how much of the photo is too bright and too dark to teach.
func (f *frame) shares() (bright, dark float64) {
	for _, c := range f.cells {
		switch {
		case c.lab.L < darkest:
			dark++
		case c.clipped > burnt || c.lab.L > brightest:
			bright++
		}
	}
	n := float64(max(len(f.cells), 1))
	return bright / n, dark / n
}

// distinct leaves out photos at an exposure that is there already, and sorts the rest,
// the darkest first.
func distinct(frames []*frame, skip func(p *photo.Photo, reason, hint string)) (out []*frame) {
	slices.SortStableFunc(frames, func(a, b *frame) int { return cmp.Compare(a.exposure, b.exposure) })
	for _, f := range frames {
		if n := len(out); n > 0 && math.Log(f.exposure/out[n-1].exposure) < leastStep {
			skip(f.Photo, fmt.Sprintf("it has the same exposure as %q", out[n-1].Name), "make the photos darker and lighter by the phone's own slider, a step or two each time")
			continue
		}
		out = append(out, f)
	}
	return out
}

// The correlation of L* between two photos of one scene at two exposures: over
// sameScene it is the same scene; a tone curve and noise leave more than that. A
// movement shows when another place fits better by farBetter of what is missing to 1.
const (
	sameScene = .85
	farBetter = .15
	// reach is how far a movement is looked for, in pixels of the fine picture: a
	// fortieth of the photo either way; what moved farther is another scene.
	reach = 10
)

// still leaves out photos of another scene, and those between which the phone moved.
// The others are held against the photo whose exposure is in the middle.
func still(frames []*frame, skip func(p *photo.Photo, reason, hint string)) (out []*frame) {
	if len(frames) < 2 {
		return frames
	}
	sorted := slices.Clone(frames)
	slices.SortStableFunc(sorted, func(a, b *frame) int { return cmp.Compare(a.exposure, b.exposure) })
	middle := sorted[len(sorted)/2]
	for _, f := range frames {
		if f == middle {
			out = append(out, f)
			continue
		}
		at, best, moved := middle.against(f)
		switch {
		case best < sameScene:
			skip(f.Photo, fmt.Sprintf("it does not show the same scene as %q", middle.Name), adviceStill)
		case moved && 1-best < (1-farBetter)*(1-at):
			skip(f.Photo, fmt.Sprintf("the phone or the scene moved between it and %q", middle.Name), "put the phone on a stand, or lean it against something, and let it take the photo by its timer")
		default:
			out = append(out, f)
		}
	}
	return out
}

// against is the correlation of two photos as they lie, and at the best place within
// reach, and whether that is more than a pixel of the fine picture away.
func (f *frame) against(g *frame) (at, best float64, moved bool) {
	a, b := lightnessOf(f.fine), lightnessOf(g.fine)
	w, h := f.fine.W, f.fine.H
	try := func(dx, dy int) float64 { return correlation(a, b, w, h, dx, dy) }
	at = try(0, 0)
	best = at
	bx, by := 0, 0
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if c := try(dx, dy); c > best {
				best, bx, by = c, dx, dy
			}
		}
	}
	return at, best, max(abs(bx), abs(by)) > 1
}

func abs(v int) int { return max(v, -v) }

// lightnessOf is L* of each pixel, NaN where it is too dark or too bright.
func lightnessOf(p *photo.Picture) []float64 {
	out := make([]float64, p.W*p.H)
	for i := range out {
		v := p.At(i%p.W, i/p.W)
		out[i] = colorspace.Lightness(v.Y())
		if out[i] < darkest || out[i] > brightest || max(v[0], v[1], v[2]) > .98 {
			out[i] = math.NaN()
		}
	}
	return out
}

// correlation of a with b moved by dx, dy, over every other pixel of every other row
// that both have; 0 where they share too few.
func correlation(a, b []float64, w, h, dx, dy int) float64 {
	var n, sa, sb, saa, sbb, sab float64
	for y := reach; y < h-reach; y += 2 {
		for x := reach; x < w-reach; x += 2 {
			u, v := a[y*w+x], b[(y+dy)*w+x+dx]
			if u != u || v != v {
				continue
			}
			n, sa, sb = n+1, sa+u, sb+v
			saa, sbb, sab = saa+u*u, sbb+v*v, sab+u*v
		}
	}
	va, vb := saa-sa*sa/n, sbb-sb*sb/n
	if n < 200 || va <= 0 || vb <= 0 {
		return 0
	}
	return (sab - sa*sb/n) / math.Sqrt(va*vb)
}

// A cell is plain when its luminance varies by no more than noise and a slope of the
// light make it, and counts as grey up to the chroma from which on cameras render
// colours their own way.
const (
	plainSpread = .08
	greyChroma  = 25
	binWidth    = 3 // L*: of cells that are taken together
)

// steps are the plain surfaces that f and the lighter photo g both show well.
func (f *frame) steps(g *frame, pair int) (out []camera.Step) {
	type bin struct {
		a, b colorspace.Linear
		n    float64
	}
	bins := make([]bin, 100/binWidth+1)
	for i := range f.cells {
		a, b := &f.cells[i], &g.cells[i]
		if !a.teaches() || !b.teaches() {
			continue
		}
		k := &bins[min(int(a.lab.L/binWidth), len(bins)-1)]
		for j := range 3 {
			k.a[j] += a.light[j]
			k.b[j] += b.light[j]
		}
		k.n++
	}
	for _, k := range bins {
		if k.n < 2 { // one cell may be an edge by chance
			continue
		}
		out = append(out, camera.Step{
			First: camera.Seen{Lab: k.a.Times(1 / k.n).Lab()}, Second: camera.Seen{Lab: k.b.Times(1 / k.n).Lab()},
			Ratio: g.exposure / f.exposure, Pair: pair,
		})
	}
	return out
}

func (c *cell) teaches() bool {
	return c.n > 0 && c.clipped <= burnt && c.lab.L >= darkest && c.lab.L <= brightest && c.spread < plainSpread && c.lab.Chroma() < greyChroma
}
