package grid

import (
	"cmp"
	"math"
	"slices"

	"greige/analyze/photo"
)

// Where the outline of the top is plain, the patches are looked for inside it:
// from side to side, or from border to border. The counts are then those whose
// lines divide that rectangle best.

// surface is the way from the unit square to the picture that the outline was
// found in: the plane through its corners, and the bow of its sides between.
func (o *outline) surface() func(Point) Point {
	plane := quadFromSquare(o.corners)
	return func(p Point) Point {
		q := plane.Map(p)
		u, v := p[0], p[1]
		at := func(x, y float64) Point { return plane.Map(Point{x, y}) }
		top, bottom, left, right := at(u, 0), at(u, 1), at(0, v), at(1, v)
		return Point{
			q[0] + (1-u)*(o.left.at(left[1])-left[0]) + u*(o.right.at(right[1])-right[0]),
			q[1] + (1-v)*(o.upper.at(top[0])-top[1]) + v*(o.lower.at(bottom[0])-bottom[1]),
		}
	}
}

// wholeOf is the rectangle inside an outline.
func wholeOf(p *photo.Picture, t *tones, o *outline, small float64, hints Hints) *given {
	whole := &given{t: t, small: small, corners: o.corners, surface: o.surface(), bent: true, hints: hints}
	quad := scaledQuad(o.corners, 1/small)
	whole.aspect = aspectOf(p.W, p.H, quad)
	// A photo may have been cut to a part of what the lens saw, or be of a wide lens.
	whole.slack = abs(math.Log(aspectBy(p.W, p.H, quad, .36) / whole.aspect)) // .36 diagonals: a wide lens of 16 mm, or a cut to its middle half
	return whole
}

// outlined is what is seen of a top inside its outline, and inside the borders that it
// may have, the best first.
func (whole *given) outlined() []*guess {
	parts := []*given{whole}
	if !whole.hints.off.rings {
		for _, in := range whole.edgesInside().rings() {
			parts = append(parts, whole.inside(in))
		}
	}
	each := make([][]*guess, len(parts))
	photo.Bands(len(parts), 1, func(k0, k1 int) {
		for k := k0; k < k1; k++ {
			each[k] = parts[k].readings()
		}
	})
	out := slices.Concat(each...)
	sortGuesses(out)
	return out
}

// profiled is the frame with the profiles of the columns and of the rows between the
// corners.
func (f *frame) profiled() *frame {
	f.down, f.along = profileOf(f.flattened, f.x0, f.x1, f.y0, f.y1), profileOf(f.across(), f.y0, f.y1, f.x0, f.x1)
	return f
}

// seenStraight is the rectangle seen straight on, made when it is first asked for.
func (v *given) seenStraight() *frame {
	if v.straightened == nil {
		v.straightened = v.frame(v.aspect, 0, 0).profiled()
	}
	return v.straightened
}

// turnedView is a rectangle seen straight on and turned by 45 degrees, and the runs of
// lines that are seen in it.
type turnedView struct {
	f      *flattened
	xs, ys []run
}

// seenTurned makes it when it is first asked for; a part has that of the whole.
func (v *given) seenTurned() *turnedView {
	if v.whole != nil {
		return v.whole.seenTurned()
	}
	f := v.seenStraight()
	f.turning.Do(func() {
		g := f.flattened.turned(v.t)
		xs, ys := runsOf(g)
		f.turned = &turnedView{g, xs, ys}
	})
	return f.turned
}

// readings are the best way to divide the rectangle straight and the best on
// point.
func (v *given) readings() []*guess {
	var out []*guess
	straight := v.straightLikely()
	if straight > unlikely/2 {
		if r := v.divided(); r != nil {
			r.score = weighedBy(r.score, straight)
			out = append(out, r)
		}
	}
	if straight < 1-unlikely/2 {
		if f := v.diagonal(); f != nil {
			n := f.mesh()
			f.score = weighedBy(n.total(everySeam)+v.sides(n, true), 1-straight)
			out = append(out, f)
		}
	}
	return out
}

// straightLikely is how likely the top is set straight.
func (v *given) straightLikely() float64 {
	switch v.hints.Setting {
	case "":
		const even, wide = .06, .03 // as seen on made-up tops
		return 1 / (1 + math.Exp((even-v.seenStraight().upright())/wide))
	case OnPoint:
		return 0
	}
	return 1
}

// weighedBy is a score times a likelihood; what is bad stays bad.
func weighedBy(score, likely float64) float64 {
	if score < 0 {
		return score
	}
	return score * likely
}

// total is what the lines inside the mesh are worth, see lineWorth; seams that
// are not expected to show are left out.
func (n *mesh) total(shows func(s seam) bool) float64 {
	worths, sum := n.worths(), 0.0
	for _, line := range n.lines() {
		var l lineWorth
		for _, k := range line {
			if s := n.seams[k]; !math.IsNaN(worths[k]) && shows(s) {
				l.add(worths[k], n.apart(s.from, s.to))
			}
		}
		sum += l.total()
	}
	return sum
}

// lineWorth gathers what the pieces of one line are worth. A seam goes on
// where two like cloths hide it, so pieces that are not seen speak against a
// line the less, the more of it is seen elsewhere.
type lineWorth struct{ pro, against, seen, length float64 }

// plainPart is the part of a line that has to be seen for the rest not to
// speak against it.
const plainPart = .4

func (l *lineWorth) add(worth, length float64) {
	l.length += length
	if worth > 0 {
		l.pro += worth * length
		if worth > 1 {
			l.seen += length
		}
	} else {
		l.against += worth * length
	}
}

func (l *lineWorth) total() float64 {
	if l.length == 0 {
		return 0
	}
	return l.pro + l.against*(1-min(l.seen/(plainPart*l.length), 1))
}

// upright is how much more the edges of the rectangle run along its sides than
// along its diagonals, from 1 to -1: the mean cosine of four times their
// direction. Cloth is cut and sewn along its threads, so that stripes and
// checks run as the patches do.
func (f *frame) upright() float64 {
	const faint, strong = 1.0, 8.0 // CIELAB units a pixel
	var sum, all float64
	for y := int(f.y0) + 2; y < int(f.y1)-2; y++ {
		for x := int(f.x0) + 2; x < int(f.x1)-2; x++ {
			i := y*f.w + x
			p := f.lab
			gx, gy := float64(p[i+1][0]-p[i-1][0])/2, float64(p[i+f.w][0]-p[i-f.w][0])/2
			g := gx*gx + gy*gy
			if g < faint*faint {
				continue
			}
			// cos 4a by cos 2a = (gx^2 - gy^2) / g
			c := (gx*gx - gy*gy) / g
			w := min(math.Sqrt(g), strong)
			sum += w * (2*c*c - 1)
			all += w
		}
	}
	return sum / max(all, 1)
}

func everySeam(seam) bool { return true }

// sashed tells which seams of a straight mesh show: strips of sashing are of
// one cloth, so across them only the seams of the squares where they meet do.
func (n *mesh) sashed(xs, ys []bool) func(s seam) bool {
	beside := func(strip []bool, line int) bool {
		return line > 0 && strip[line-1] || line < len(strip) && strip[line]
	}
	return func(s seam) bool {
		i, j := s.from%n.w, s.from/n.w
		if s.to == s.from+1 {
			return !xs[i] || beside(ys, j)
		}
		return !ys[j] || beside(xs, i)
	}
}

func sortGuesses(g []*guess) {
	slices.SortStableFunc(g, func(a, b *guess) int { return cmp.Compare(b.score, a.score) })
}
