package scraps

import (
	"math"

	"greige/analyze/photo"
)

// A lossy file keeps colour at half the resolution, in blocks of 16 pixels of
// the photo (8 x 8 of its halved planes, ITU-T T.81 with 4:2:0), and spends
// little on what is fine in them: a strong colour's edge rings all over the
// blocks that it crosses. The overshoot of a series cut off (Gibbs) is a tenth
// of the step, on top of what rounding its terms leaves.
const (
	colourBlock = 16
	colourRings = .12
)

// lossy tells whether a file of this format keeps colour so.
func lossy(format string) bool { return format == "JPEG" || format == "WebP" || format == "HEIC" }

// blocks are the squares that a file keeps its colour in, each colourBlock
// pixels of the photo a side, the first in its upper left corner. That is so in
// a photo turned upright too, when its sides are whole blocks, as cameras make
// them; in any other the blocks may lie up to a block off.
type blocks struct {
	side int // pixels of the photo to one of the small picture; 0: it has no blocks
	off  int // how far off they may lie, in pixels of the photo
}

func (b blocks) count(pixels int) int { return (pixels*b.side + colourBlock - 1) / colourBlock }

// reach is how far a colour rings at most, in pixels of the small picture.
func (b blocks) reach() int { return b.count(1) + (colourBlock-1)/max(b.side, 1) }

// span is the first and the last of n blocks that may reach into what lies
// within r pixels of pixel x.
func (b blocks) span(x, r, n int) (first, last int) {
	first, last = max((x-r)*b.side-b.off, 0)/colourBlock, ((x+r+1)*b.side-1+b.off)/colourBlock
	return first, min(last, n-1)
}

// strengths are the strongest colours in each block: the greatest lengths of
// (da, db). What rings is Cb and Cr, which lie askew to a* and b*: a colour of
// either rings into both.
type strengths struct {
	*stand
	across, down int // blocks
	most         []float32
}

func (o *stand) strengths() *strengths {
	s := &strengths{stand: o, across: o.blocks.count(o.w), down: o.blocks.count(o.h)}
	s.most = make([]float32, s.across*s.down)
	photo.Bands(s.down, 4, func(j0, j1 int) {
		in := blocks{side: o.blocks.side}
		first, last, squares := make([]int, o.w), make([]int, o.w), make([]float32, o.w)
		for x := range first {
			first[x], last[x] = in.span(x, 0, s.across)
		}
		for y := range o.h {
			top, low := in.span(y, 0, s.down)
			if low < j0 || top >= j1 {
				continue
			}
			da, db := o.da[y*o.w:][:o.w], o.db[y*o.w:][:o.w]
			for x, a := range da {
				squares[x] = a*a + db[x]*db[x]
			}
			for j := max(top, j0); j <= min(low, j1-1); j++ {
				strongest(s.most[j*s.across:][:s.across], squares, first, last)
			}
		}
		for i := j0 * s.across; i < j1*s.across; i++ {
			s.most[i] = float32(math.Sqrt(float64(s.most[i])))
		}
	})
	return s
}

// strongest raises a row of blocks to the values of a row of pixels: pixel x
// lies in the blocks first[x] and last[x].
func strongest(most, v []float32, first, last []int) {
	for x, c := range v {
		if i := first[x]; c > most[i] {
			most[i] = c
		}
		if i := last[x]; c > most[i] {
			most[i] = c
		}
	}
}

// ringing is how much strong colours may have rung into the pixels of one row.
type ringing struct {
	of          *strengths
	r           int
	first, last []int     // blocks that reach into the squares about the pixels
	wide        int       // the least number of them
	top, low    int       // rows of blocks that are looked at
	beside      []float32 // room for the greatest of them
	most        []float32 // of the row: how much da and db may be off
}

// ringing takes the blocks that reach into the square of 2r+1 pixels about each
// pixel. With no strengths nothing rings.
func (o *stand) ringing(s *strengths, r int) *ringing {
	g := &ringing{of: s, r: r, top: -1, most: make([]float32, o.w)}
	if s == nil {
		return g
	}
	g.wide, g.beside = s.across, make([]float32, s.across)
	g.first, g.last = make([]int, o.w), make([]int, o.w)
	for x := range g.first {
		g.first[x], g.last[x] = o.blocks.span(x, r, s.across)
		g.wide = min(g.wide, g.last[x]-g.first[x]+1)
	}
	return g
}

// goTo sets most for the pixels of row y.
func (g *ringing) goTo(y int) {
	if g.of == nil {
		return
	}
	top, low := g.of.blocks.span(y, g.r, g.of.down)
	if top == g.top && low == g.low {
		return
	}
	g.top, g.low = top, low
	n, m, of := g.of.across, g.beside, g.of.most
	copy(m, of[g.top*n:][:n])
	for j := g.top + 1; j <= g.low; j++ {
		for i, c := range of[j*n:][:n] {
			m[i] = max(m[i], c)
		}
	}
	// The greatest of wide neighbours, doubling what is covered.
	for covered := 1; covered < g.wide; {
		by := min(covered, g.wide-covered)
		for i, c := range m[by:] {
			m[i] = max(m[i], c)
		}
		covered += by
	}
	for x, i := range g.first {
		most := m[i]
		for end := g.last[x] + 1 - g.wide; i < end; { // so wide or a little wider
			i = min(i+g.wide, end)
			most = max(most, m[i])
		}
		g.most[x] = colourRings * most
	}
}

// less is v, an a* or a b*, without what may have rung into it at pixel x of
// the row.
func (g *ringing) less(x int, v float32) float32 {
	return v - min(max(v, -g.most[x]), g.most[x])
}

// openGround is how much of the photo open ground covers in one place, at
// least: what of a print looks like the ground is smaller.
const openGround = .01

// unring takes out of differ what strong colours have rung into the ground
// beside them: no further from the open ground than they ring, and reached from
// there through nothing else. What lies within a piece may be of a colour as
// weak.
func (s *search) unring(differ *mask) {
	if s.rung == nil {
		return
	}
	ground := newMask(s.w, s.h)
	for i, in := range differ.in {
		ground.in[i] = !in
	}
	label := s.unlabelled()
	ground.number(int(openGround*float64(s.w*s.h)), label)
	var front []int32
	differ.bits().ring(1, 1).each(func(x, y int) {
		if i := y*s.w + x; label[i] > 0 {
			front = append(front, int32(i))
		}
	})
	for range s.blocks.reach() {
		var next []int32
		reach := func(j int32) {
			if differ.in[j] && s.rung[j] != other {
				differ.in[j] = false
				s.class[j] = s.rung[j]
				next = append(next, j)
			}
		}
		w := int32(s.w)
		for _, i := range front {
			x := int(i) % s.w
			if x > 0 {
				reach(i - 1)
			}
			if x+1 < s.w {
				reach(i + 1)
			}
			if i >= w {
				reach(i - w)
			}
			if int(i)+s.w < s.w*s.h {
				reach(i + w)
			}
		}
		front = next
	}
}
