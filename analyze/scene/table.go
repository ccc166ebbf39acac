package scene

import (
	"errors"
	"math"
	"math/rand/v2"
	"sort"
)

// Table is a photo of scraps that lie apart on a ground.
type Table struct {
	Take
	WidthCM float64 // of the photo, in the plane of the table; 0 is 90
	Ground  Backdrop
	Cloths  []Cloth
	// Scraps are laid as they are given. Of every cloth that no scrap is of,
	// one piece is laid where there is room: of any shape, turned any way, in
	// rough rows, apart from all else by at least Gap.
	Scraps []Scrap
	Gap    float64 // share of the photo's width; 0 is 0.02
	Turn   float64 // how far pieces are turned from straight, degrees; 0 is up to 180
	Margin float64 // free share at the photo's edges; 0 is 0.03
	Cards  []Paper // the pieces keep clear of cards and things
	Things []Thing
	Flat   bool // no shadows, no curl: for checks of the truth alone
}

// Cut is how a scrap was cut.
type Cut string

const (
	Square   Cut = "square" // and oblong
	Strip    Cut = "strip"
	Triangle Cut = "triangle"
	Offcut   Cut = "offcut" // with a corner taken out
	Ragged   Cut = "ragged" // torn or left over, five to nine corners
)

// Scrap is one loose piece: where it lies, how large it is and how turned.
// X and Y are its middle as shares of the photo's width and height.
type Scrap struct {
	Cloth int // index into the cloths that were given
	Cut   Cut
	X, Y  float64
	W, H  float64 // cm, before it is turned
	Angle float64 // degrees
}

// ErrNoRoom says that a table is too small for its pieces.
var ErrNoRoom = errors.New("scene: no room for that many pieces")

// Shoot takes the photo. It fails with ErrNoRoom.
func (t Table) Shoot() (Shot, error) {
	take := t.Take.sized(3. / 4)
	if t.WidthCM <= 0 {
		t.WidthCM = 90
	}
	s := newStage(take, centred(take, t.WidthCM), t.Ground.ready(take.Seed))
	fabrics := make([]*fabric, len(t.Cloths))
	for i, c := range t.Cloths {
		fabrics[i] = c.fabric(s.footprint / 2)
	}
	cut := t.given(s)
	more, err := t.spread(s, cut)
	if err != nil {
		return Shot{}, err
	}
	cut = append(cut, more...)
	lift, curl, wrinkle := 1.0, .12, .02
	if t.Flat {
		lift, curl, wrinkle = 0, 0, 0
	}
	var outlines [][]point
	for i, c := range cut {
		lo, hi := bounds(c.outline)
		from := s.from(t.Cloths[c.cloth], i, point{(lo.x + hi.x) / 2, (lo.y + hi.y) / 2}, c.angle)
		px := s.toPixels(c.outline)
		outlines = append(outlines, px)
		s.add(shape{bodies: [][][]point{{px}}, surface: s.lay(fabrics[c.cloth], c.angle, from.x, from.y), lift: lift, wrinkle: wrinkle, curl: curl})
	}
	cards := s.papers(t.Cards)
	s.things(t.Things)
	if t.Flat {
		for i := range s.shapes {
			s.shapes[i].lift, s.shapes[i].curl, s.shapes[i].wrinkle = 0, 0, 0
		}
	}
	shot, m, err := s.shoot()
	if err != nil {
		return Shot{}, err
	}
	shot.Truth.Cards = cards
	for i, c := range cut {
		p := Piece{Measure: m[i], Cloth: c.cloth, Outline: pairs(outlines[i])}
		for _, q := range outlines[i] {
			p.FromEdge = p.FromEdge || q.x < 0 || q.y < 0 || q.x > float64(take.Width) || q.y > float64(take.Height)
		}
		// A thing over it takes away more than the roughness of counting
		// samples along the outline can.
		p.Covered = !p.FromEdge && area(outlines[i])-p.Pixels > .01*p.Pixels+.2*around(outlines[i])
		shot.Truth.Pieces = append(shot.Truth.Pieces, p)
	}
	return shot, nil
}

// area of an outline.
func area(ps []point) float64 {
	sum := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		sum += p.x*q.y - q.x*p.y
	}
	return math.Abs(sum) / 2
}

// around is the length of an outline.
func around(ps []point) float64 {
	sum := 0.0
	for i, p := range ps {
		q := ps[(i+1)%len(ps)]
		sum += math.Hypot(q.x-p.x, q.y-p.y)
	}
	return sum
}

// cutPiece is a piece with its outline in the plane.
type cutPiece struct {
	cloth   int
	outline []point
	angle   float64 // of the cloth's length
}

// given lays the scraps that the caller placed.
func (t Table) given(s *stage) []cutPiece {
	var out []cutPiece
	for i, c := range t.Scraps {
		rng := rand.New(rand.NewPCG(t.Seed, uint64(1000+i)))
		angle := c.Angle * math.Pi / 180
		unit := c.Cut.outline(rng)
		ps := make([]point, len(unit))
		for k, p := range unit {
			ps[k] = point{p.x * c.W / 2, p.y * c.H / 2}
		}
		ps = c.Cut.edged(turned(ps, s.at(c.X, c.Y), angle), rng)
		out = append(out, cutPiece{c.Cloth, ps, angle})
	}
	return out
}

// box is an upright rectangle.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) w() float64 { return b.x1 - b.x0 }
func (b box) h() float64 { return b.y1 - b.y0 }

// spread lays a piece of each cloth that has none yet. The free part of the
// table is split into as many fields as there are pieces; each piece lies in
// its own field, so no two touch. The order of the cloths is mixed.
func (t Table) spread(s *stage, laid []cutPiece) ([]cutPiece, error) {
	has := make([]bool, len(t.Cloths))
	for _, c := range laid {
		has[c.cloth] = true
	}
	var cloths []int
	for i := range has {
		if !has[i] {
			cloths = append(cloths, i)
		}
	}
	n := len(cloths)
	if n == 0 {
		return nil, nil
	}
	rng := rand.New(rand.NewPCG(t.Seed, 2))
	margin, gap := t.Margin, t.Gap
	if margin == 0 {
		margin = .03
	}
	if gap == 0 {
		gap = .02
	}
	gapCM := gap * t.WidthCM
	free := s.free(margin)
	taken := t.taken(s, gapCM)
	for _, c := range laid {
		lo, hi := bounds(c.outline)
		taken = append(taken, box{lo.x - gapCM/2, lo.y - gapCM/2, hi.x + gapCM/2, hi.y + gapCM/2})
	}
	fields := split(free, n, taken, rng)
	if len(fields) < n {
		return nil, ErrNoRoom
	}
	// Lay in reading order, as people spread scraps and as the truth is read.
	sort.Slice(fields, func(i, j int) bool { return fields[i].y0+.3*fields[i].x0 < fields[j].y0+.3*fields[j].x0 })
	var out []cutPiece
	for i, k := range rng.Perm(n) {
		f := fields[i]
		room := box{f.x0 + gapCM/2, f.y0 + gapCM/2, f.x1 - gapCM/2, f.y1 - gapCM/2}
		if room.w() < .5 || room.h() < .5 {
			return nil, ErrNoRoom
		}
		out = append(out, t.inField(cloths[k], room, rng))
	}
	return out, nil
}

// inField cuts a piece to fill its field as it is turned.
func (t Table) inField(cloth int, room box, rng *rand.Rand) cutPiece {
	limit := t.Turn
	if limit == 0 {
		limit = 180
	}
	aspect := max(room.w(), room.h()) / min(room.w(), room.h())
	cut := [...]Cut{Square, Square, Triangle, Offcut, Ragged, Ragged}[rng.IntN(6)]
	if aspect > 1.9 {
		cut = [...]Cut{Strip, Strip, Square, Ragged}[rng.IntN(4)]
	}
	angle := (2*rng.Float64() - 1) * limit
	if limit > 60 && (aspect > 1.5 || rng.IntN(2) == 0) {
		// Most pieces lie more or less along the table.
		angle = 90*math.Round(angle/90) + 12*(2*rng.Float64()-1)
	}
	a := angle * math.Pi / 180
	w, h := room.w(), room.h()
	if math.Abs(math.Sin(a)) > .7 {
		w, h = h, w
	}
	if cut == Strip {
		if h > w {
			w, h, a = h, w, a+math.Pi/2
		}
		h = min(h, max(w/(2.5+3*rng.Float64()), 2)) // cm: narrower ones are thrown away
	}
	unit := cut.outline(rng)
	ps := make([]point, len(unit))
	for k, p := range unit {
		ps[k] = point{p.x * w / 2, p.y * h / 2}
	}
	ps = cut.edged(turned(ps, point{}, a), rng)
	lo, hi := bounds(ps)
	scale := min(room.w()/(hi.x-lo.x), room.h()/(hi.y-lo.y))
	scale *= 1 - .18*rng.Float64()*rng.Float64()
	// Where there is room to spare, the piece lies anywhere in it.
	slackX, slackY := room.w()-scale*(hi.x-lo.x), room.h()-scale*(hi.y-lo.y)
	dx, dy := room.x0+slackX*rng.Float64()-scale*lo.x, room.y0+slackY*rng.Float64()-scale*lo.y
	for k, p := range ps {
		ps[k] = point{scale*p.x + dx, scale*p.y + dy}
	}
	return cutPiece{cloth, ps, a}
}

// free is the part of the plane that the photo surely shows, less a margin.
func (s *stage) free(margin float64) box {
	w, h := float64(s.take.Width), float64(s.take.Height)
	m := margin * w
	mid := s.toPlane.apply(point{w / 2, h / 2})
	corner := s.toPlane.apply(point{w, h})
	bw, bh := math.Abs(corner.x-mid.x)*1.3, math.Abs(corner.y-mid.y)*1.3
	for range 200 {
		b := box{mid.x - bw, mid.y - bh, mid.x + bw, mid.y + bh}
		lo, hi := bounds(s.toPixels([]point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}))
		if lo.x >= m-1e-6 && lo.y >= m-1e-6 && hi.x <= w-m+1e-6 && hi.y <= h-m+1e-6 {
			return b
		}
		bw, bh = bw*.99, bh*.99
	}
	return box{mid.x, mid.y, mid.x, mid.y}
}

// taken are the places that cards and things need, with a gap round them.
func (t Table) taken(s *stage, gap float64) []box {
	var out []box
	keep := func(ps []point) {
		lo, hi := bounds(ps)
		out = append(out, box{lo.x - gap, lo.y - gap, hi.x + gap, hi.y + gap})
	}
	for _, c := range t.Cards {
		keep(rectangle(s.at(c.X, c.Y), c.W, c.H, c.Angle*math.Pi/180))
	}
	for _, th := range t.Things {
		var all []point
		for _, l := range th.Kind.limbs() {
			for _, ps := range l.body {
				size := th.Size
				if size <= 0 {
					size = 1
				}
				all = append(all, turned(mapped(ps, func(p point) point { return point{p.x * size, p.y * size} }), s.at(th.X, th.Y), th.Angle*math.Pi/180)...)
			}
		}
		if all != nil {
			keep(all)
		}
	}
	return out
}

// split cuts a box into at least n fields that keep clear of the boxes that
// are taken, by halving the largest field again and again at uneven places.
func split(free box, n int, taken []box, rng *rand.Rand) []box {
	fields := []box{free}
	for _, t := range taken {
		var next []box
		for _, f := range fields {
			next = append(next, f.without(t)...)
		}
		fields = next
	}
	for len(fields) < n {
		sort.SliceStable(fields, func(i, j int) bool { return fields[i].w()*fields[i].h() > fields[j].w()*fields[j].h() })
		if len(fields) == 0 || fields[0].w()*fields[0].h() < 1 {
			return nil
		}
		f := fields[0]
		at := .5 + .2*(rng.Float64()-.5)
		a, b := f, f
		// Mostly across the longer side; now and then not, which makes strips.
		across := f.w() > f.h()
		if r := f.w() / f.h(); r > .6 && r < 1.7 && rng.IntN(4) == 0 {
			across = !across
		}
		if across {
			a.x1 = f.x0 + at*f.w()
			b.x0 = a.x1
		} else {
			a.y1 = f.y0 + at*f.h()
			b.y0 = a.y1
		}
		fields = append(fields[1:], a, b)
	}
	// When the table had to be cut up round things, some fields are spare.
	sort.SliceStable(fields, func(i, j int) bool {
		return min(fields[i].w(), fields[i].h()) > min(fields[j].w(), fields[j].h())
	})
	return fields[:n]
}

// without is what is left of a box when another is cut out of it.
func (b box) without(t box) []box {
	if t.x1 <= b.x0 || t.x0 >= b.x1 || t.y1 <= b.y0 || t.y0 >= b.y1 {
		return []box{b}
	}
	var out []box
	add := func(f box) {
		if f.w() > 1 && f.h() > 1 {
			out = append(out, f)
		}
	}
	x0, x1 := max(t.x0, b.x0), min(t.x1, b.x1)
	// Whole height left and right of it when it stands tall, else whole width
	// above and below.
	if t.y1-t.y0 > t.x1-t.x0 {
		add(box{b.x0, b.y0, x0, b.y1})
		add(box{x1, b.y0, b.x1, b.y1})
		add(box{x0, b.y0, x1, t.y0})
		add(box{x0, t.y1, x1, b.y1})
	} else {
		add(box{b.x0, b.y0, b.x1, t.y0})
		add(box{b.x0, t.y1, b.x1, b.y1})
		y0, y1 := max(t.y0, b.y0), min(t.y1, b.y1)
		add(box{b.x0, y0, t.x0, y1})
		add(box{t.x1, y0, b.x1, y1})
	}
	return out
}

// outline is a cut within -1..1, before its edges are drawn.
func (c Cut) outline(rng *rand.Rand) []point {
	j := func(a float64) float64 { return a * (2*rng.Float64() - 1) }
	switch c {
	case Strip:
		return []point{{-1 + j(.02), -1 + j(.1)}, {1 + j(.02), -1 + j(.1)}, {1 + j(.02), 1 + j(.1)}, {-1 + j(.02), 1 + j(.1)}}
	case Triangle:
		return []point{{-1 + j(.2), -1}, {1, -1 + j(.3)}, {-1 + j(.8), 1}}
	case Offcut:
		x, y := .05+j(.35), .05+j(.35)
		return []point{{-1, -1}, {1, -1 + j(.1)}, {1 + j(.05), y + j(.1)}, {x + j(.1), y}, {x, 1}, {-1 + j(.1), 1}}
	case Ragged:
		n := 5 + rng.IntN(5)
		ps := make([]point, n)
		for i := range ps {
			s, k := math.Sincos(2 * math.Pi * (float64(i) + .7*rng.Float64()) / float64(n))
			r := .5 + .5*math.Sqrt(rng.Float64())
			ps[i] = point{r * k, r * s}
		}
		lo, hi := bounds(ps)
		for i, p := range ps {
			ps[i] = point{2*(p.x-lo.x)/(hi.x-lo.x) - 1, 2*(p.y-lo.y)/(hi.y-lo.y) - 1}
		}
		return ps
	}
	return []point{{-1 + j(.06), -1 + j(.06)}, {1 + j(.06), -1 + j(.06)}, {1 + j(.06), 1 + j(.06)}, {-1 + j(.06), 1 + j(.06)}}
}

// edged draws the cut edges as scissors, pinking shears or tearing leave
// them. Outlines are in cm.
func (c Cut) edged(ps []point, rng *rand.Rand) []point {
	pinked := c != Ragged && rng.IntN(6) == 0
	rough := .025
	bow := .012
	if c == Ragged {
		rough, bow = .07, .05
	}
	var out []point
	for i, a := range ps {
		b := ps[(i+1)%len(ps)]
		d := math.Hypot(b.x-a.x, b.y-a.y)
		n := max(int(d/.35), 1)
		if pinked {
			n = max(2*int(d/.6), 2)
		}
		nx, ny := (b.y-a.y)/d, (a.x-b.x)/d
		bend := bow * d * (2*rng.Float64() - 1)
		for k := range n {
			t := float64(k) / float64(n)
			off := 4*t*(1-t)*bend + rough*(2*rng.Float64()-1)
			if pinked {
				off = 4*t*(1-t)*bend + .14*float64(k%2)
			}
			if k == 0 {
				off = 0
			}
			out = append(out, point{a.x + t*(b.x-a.x) + off*nx, a.y + t*(b.y-a.y) + off*ny})
		}
	}
	return out
}
