package scraps

import "math"

// ruling is the ink of the lines and numbers that a cutting mat is printed
// with: how it stands off the ground in a usual pixel of a line, and what share
// of that the fullest have.
type ruling struct{ l, a, b, most float64 }

const (
	// So much of the photo at least is thin lines where a mat is ruled, and so
	// much of what is thin is of their ink.
	leastRuled = .002
	// Lines run on for runLength of the photo's longer side, past the pieces that
	// lie on them: a quarter of what is thin at least. Fringes do not.
	runsOn, runLength = .25, .1
	ofOneInk          = .5
	// A blob of the ruling (a figure, a crossing) is at most so large, as a
	// share of the photo.
	mostBlob = .0006
	// Strokes have this much of a number's most ink, and cover less than this
	// of the hull round it.
	inStroke, strokes = .6, .6
	// Where lines cross there is somewhat more ink than in nineteen of twenty of
	// their pixels.
	fullest = 1.25
)

// ruling finds the ink of thin lines on the ground: what differs from it and
// is neither thick nor beside a thing. ok is false where there are too few.
func (s *search) ruling(differ, thick *mask) (r ruling, ok bool) {
	beside := thick.grown(3)
	var px []int
	for i, in := range differ.in {
		if in && !beside.in[i] && s.amidGround(i%s.w, i/s.w) {
			px = append(px, i)
		}
	}
	if float64(len(px)) < leastRuled*float64(s.w*s.h) {
		return r, false
	}
	l, a, b := make([]float64, len(px)), make([]float64, len(px)), make([]float64, len(px))
	for k, i := range px {
		l[k], a[k], b[k] = float64(s.dl[i]), float64(s.da[i]), float64(s.db[i])
	}
	r = ruling{l: median(l), a: median(a), b: median(b), most: math.Inf(1)}
	if math.Abs(r.l)+math.Abs(r.a)+math.Abs(r.b) < 3 {
		return r, false
	}
	var shares []float64
	for _, i := range px {
		if r.covers(s.dl[i], s.da[i], s.db[i]) {
			shares = append(shares, r.share(s.dl[i], s.da[i], s.db[i]))
		}
	}
	if float64(len(shares)) <= ofOneInk*float64(len(px)) {
		return r, false
	}
	// Most of a thin line's pixels are its flanks, and its middle has several
	// times their ink.
	r.most = max(2.5, fullest*quantile(shares, .95))
	return r, true
}

// runs tells whether much of what the ground is ruled with belongs to lines
// that run on.
func (s *search) runs() bool {
	m := newMask(s.w, s.h)
	for i, c := range s.class {
		m.in[i] = c == other && s.ink.covers(s.dl[i], s.da[i], s.db[i])
	}
	thick := m.opened(2)
	for i, in := range thick.in {
		m.in[i] = m.in[i] && !in
	}
	ps := m.closed(1).list(1)
	n, all := 0, 0
	for _, p := range ps {
		all += len(p.px)
		if float64(max(p.x1-p.x0, p.y1-p.y0)) > runLength*float64(max(s.w, s.h)) {
			n += len(p.px)
		}
	}
	return float64(n) > runsOn*float64(all)
}

// amidGround: most of the square round a pixel is plain ground.
func (s *search) amidGround(x, y int) bool {
	const r = 4
	n, all := 0, 0
	for yy := max(y-r, 0); yy <= min(y+r, s.h-1); yy++ {
		for _, c := range s.class[yy*s.w+max(x-r, 0) : yy*s.w+min(x+r+1, s.w)] {
			all++
			if c == plain {
				n++
			}
		}
	}
	return 2*n > all
}

// share is how much of the ruling's ink a pixel has that stands off the ground
// by l, a and b, against a line's usual pixel.
func (r ruling) share(l, a, b float32) float64 {
	return (float64(l)*r.l + float64(a)*r.a + float64(b)*r.b) / (r.l*r.l + r.a*r.a + r.b*r.b)
}

// covers tells whether a pixel that stands off the ground by l, a and b can
// be ground under some share of the ruling's ink.
func (r ruling) covers(l, a, b float32) bool {
	x, y, z := float64(l), float64(a), float64(b)
	k := r.share(l, a, b)
	if k < .1 || k > r.most {
		return false
	}
	off := sq(x-k*r.l) + sq(y-k*r.a) + sq(z-k*r.b)
	return off < sq(max(4, .35*math.Sqrt(x*x+y*y+z*z)))
}

// findRuling is the ink that the ground is ruled with; nil where it is not.
func (s *search) findRuling() *ruling {
	differ := newMask(s.w, s.h)
	for i, c := range s.class {
		differ.in[i] = c == other
	}
	if ink, ok := s.ruling(differ, differ.opened(2)); ok {
		return &ink
	}
	return nil
}

// unruled takes the lines and figures of a mat's ruling out of differ.
func (s *search) unruled(differ *mask) {
	if s.ink == nil {
		return
	}
	thick, ink := differ.opened(2), *s.ink
	// What only the means over squares set apart lies beside a line.
	ruled := func(i int) bool {
		return ink.covers(s.dl[i], s.da[i], s.db[i]) || classOf(s.dl[i], s.da[i], s.db[i], s.gl[i], &s.sd) != other
	}
	for i, in := range differ.in {
		if in && !thick.in[i] && ruled(i) {
			differ.in[i] = false
		}
	}
	most := int(mostBlob * float64(s.w*s.h))
	ps := differ.list(1)
	for _, p := range ps {
		if len(p.px) > most {
			continue
		}
		n := 0
		for _, i := range p.px {
			if ruled(int(i)) {
				n++
			}
		}
		if 10*n >= 7*len(p.px) && !s.square(&p) {
			for _, i := range p.px {
				differ.in[i] = false
			}
		}
	}
}

// square: a square of seven pixels that all differ by themselves fits into
// the part, as into no line and no figure.
func (s *search) square(p *part) bool {
	m, x0, y0 := p.in(s.w, 1)
	for i, in := range m.in {
		if in {
			j := (i/m.w+y0)*s.w + i%m.w + x0
			m.in[i] = classOf(s.dl[j], s.da[j], s.db[j], s.gl[j], &s.sd) == other
		}
	}
	return m.bits().shrunk(3).count() > 0
}

// written: the part may be a number: strokes of the ruling's ink, broad enough
// for much more of it than lines have, with less of it between them. A small
// pale scrap can look so too.
func (s *search) written(p *part) bool {
	if s.ink == nil || len(p.px) > int(mostBlob*float64(s.w*s.h)) {
		return false
	}
	ink := *s.ink
	shares := make([]float64, 0, len(p.px))
	for _, i := range p.px {
		l, a, b := float64(s.dl[i]), float64(s.da[i]), float64(s.db[i])
		k := ink.share(s.dl[i], s.da[i], s.db[i])
		off := sq(l-k*ink.l) + sq(a-k*ink.a) + sq(b-k*ink.b)
		if k > 0 && off < sq(max(4, .35*math.Sqrt(l*l+a*a+b*b))) {
			shares = append(shares, k)
		}
	}
	if 10*len(shares) < 7*len(p.px) {
		return false
	}
	full := inStroke * quantile(shares, .9)
	m, x0, y0 := p.in(s.w, 1)
	hull := m.hull()
	for i, in := range m.in {
		if in {
			j := (i/m.w+y0)*s.w + i%m.w + x0
			m.in[i] = ink.share(s.dl[j], s.da[j], s.db[j]) > full
		}
	}
	return m.count() < strokes*hull && m.bits().shrunk(2).count() == 0
}
