package plan

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// allowance is the share of cloth that is added for straightening its ends
// and for mistakes: a twentieth. Common practice, no source.
const allowance = .05

// The cut width of binding, folded double, and how much longer than the rim it
// is made, for the corners and the last join: 2 1/2 inches or 6.5 cm, and 10
// inches or 25 cm. Common practice, no source.
func (t *top) bindingCut() (width, spare Length) {
	if t.in.Ruler.Metric {
		return t.in.Ruler.Up(65 * Millimetre), 25 * Centimetre
	}
	return t.in.Ruler.Up(5 * Inch / 2), 10 * Inch
}

// Cut is a line of the cutting list: so many pieces of one size out of one
// cloth. W and H are cut sizes, seam allowances and all; every one of them is
// one that the ruler shows. Of triangles they are those of the square that is
// cut Diagonals times across.
type Cut struct {
	Cloth     string `json:"cloth"`
	Part      Part   `json:"part"`
	W         Length `json:"width"`
	H         Length `json:"height"`
	Count     int    `json:"count"`  // rectangles to cut
	Pieces    int    `json:"pieces"` // pieces that these give
	Needed    int    `json:"needed"` // pieces that the top has
	Diagonals int    `json:"diagonals,omitempty"`
	Joins     int    `json:"joins,omitempty"` // of each piece, where it is longer than the cloth is wide
	Finished  Length `json:"finished"`        // of a square or a strip: the lesser side; of a triangle: its short sides
	// How says out of what the pieces are had: "strip sets", "strips", "scraps" or
	// "scraps and strips". On a sheet, FromScrap of Count come out of the piece that
	// is there, and CutBy is the person who has it, where that is another.
	How       string `json:"how"`
	FromScrap int    `json:"from_scrap,omitempty"`
	CutBy     string `json:"cut_by,omitempty"`

	Of int `json:"-"` // index into Plan.Cloths
}

// StripSet is strips sewn side by side and cut across into segments.
type StripSet struct {
	Cloths   []string `json:"cloths"` // strip by strip
	Strip    Length   `json:"strip"`  // width of a strip as it is cut
	Segment  Length   `json:"segment"`
	Segments int      `json:"segments"` // to cut
	PerSet   int      `json:"segments_a_set"`
	Sets     int      `json:"sets"`
	Last     Length   `json:"last_set"` // length of the last set; the others are as long as the cloth is wide

	Of []int `json:"-"` // indexes into Plan.Cloths
}

// Strips is strips of one width out of one cloth.
type Strips struct {
	Cloth string `json:"cloth"`
	Width Length `json:"width"`
	Count int    `json:"count"` // as long as the cloth is wide
	Into  []Into `json:"into"`  // what they are cut up into
	Left  Length `json:"left_over"`

	Of int `json:"-"` // index into Plan.Cloths
}

// Purpose is what a length of a strip is for: StripSets, Patches, or a Part, with
// ", joined" where it is one of several that make a length.
type Purpose string

// What strips are for besides the parts of a top.
const (
	StripSets Purpose = "strip sets"
	Patches   Purpose = "patches"
)

// Into is lengths that strips are cut up into.
type Into struct {
	Length Length  `json:"length"`
	Count  int     `json:"count"`
	For    Purpose `json:"for"`
}

// BlockLot is blocks of one kind out of the same cloths.
type BlockLot struct {
	Kind   int               `json:"kind"` // of Plan.Charts, from 1
	Cloths map[string]string `json:"cloths,omitempty"`
	Count  int               `json:"count"`
}

// Sheet is the list of one person.
type Sheet struct {
	Name    string     `json:"name"`
	Blocks  []BlockLot `json:"blocks"`
	Squares []Cut      `json:"cuts"` // patches and what is not of blocks
	Sets    []StripSet `json:"strip_sets"`
	Strips  []Strips   `json:"strips"`
	// Scraps are those that this person has and cuts for all; nil where one
	// person does all the work.
	Scraps []SharedScrap `json:"scraps,omitempty"`

	Of []int `json:"-"` // its blocks, numbered from 0
}

// SharedScrap is a scrap that one person cuts up for several.
type SharedScrap struct {
	Cloth   string      `json:"cloth"`
	Patches int         `json:"patches"`
	W       Length      `json:"width"`
	H       Length      `json:"height"`
	For     []ScrapPart `json:"for"`
}

// ScrapPart is how many of a scrap's patches somebody needs.
type ScrapPart struct {
	Name  string `json:"name"`
	Count int    `json:"count"`
}

// item is a length that has to come out of a strip of a width.
type item struct {
	cloth         int
	width, length Length
	count         int
	what          Purpose
}

// shelves packs items into strips as long as the cloth is wide: of one width,
// the longest first, into the first strip that has room (first fit decreasing,
// Johnson 1973: at most 11/9 of the fewest strips, and 6/9 of one).
func (t *top) shelves(items []item) []Strips {
	type key struct {
		cloth int
		width Length
	}
	of := map[key][]item{}
	for _, it := range items {
		k := key{it.cloth, it.width}
		of[k] = append(of[k], it)
	}
	order := slices.Collect(maps.Keys(of))
	slices.SortFunc(order, func(a, b key) int {
		return cmp.Or(cmp.Compare(a.cloth, b.cloth), cmp.Compare(b.width, a.width))
	})
	var out []Strips
	for _, k := range order {
		list := of[k]
		slices.SortStableFunc(list, func(a, b item) int { return cmp.Compare(b.length, a.length) })
		s := Strips{Cloth: t.in.Cloths[k.cloth].ID, Width: k.width, Of: k.cloth}
		var room []Length
		for _, it := range list {
			if n := len(s.Into) - 1; n >= 0 && s.Into[n].Length == it.length && s.Into[n].For == it.what {
				s.Into[n].Count += it.count
			} else {
				s.Into = append(s.Into, Into{it.length, it.count, it.what})
			}
			for left := it.count; left > 0; {
				i := slices.IndexFunc(room, func(r Length) bool { return r >= it.length })
				if i < 0 {
					room = append(room, t.in.Usable)
					i = len(room) - 1
				}
				n := min(left, int(room[i]/it.length))
				room[i] -= Length(n) * it.length
				left -= n
			}
		}
		s.Count = len(room)
		for _, r := range room {
			s.Left += r
		}
		out = append(out, s)
	}
	return out
}

// cutting makes the cutting list, the sheets and what cloth they take.
func (t *top) cutting(p *Plan) error {
	t.cuts(p)
	yields := t.yields()
	var setting []item
	for i := range p.CutList {
		c := &p.CutList[i]
		if c.Part == InBlock {
			continue
		}
		items, err := t.itemsOf(c)
		if err != nil {
			return err
		}
		setting = append(setting, items...)
	}
	left := slices.Clone(yields)
	people := t.shared()
	for i := range people {
		s := &people[i]
		var items []item
		if p.Strips {
			var err error
			if s.Sets, items, err = t.sets(s.Of); err != nil {
				return err
			}
		} else {
			s.Squares, items = t.patches(s.Of, left)
		}
		if t.in.People == 1 {
			items = append(items, setting...)
		}
		s.Strips = t.shelves(items)
	}
	shareScraps(people)
	if t.in.People > 1 && len(setting) > 0 {
		people = append(people, Sheet{Name: "Whoever joins the blocks", Strips: t.shelves(setting), Blocks: []BlockLot{}})
	}
	last := &people[len(people)-1]
	for _, c := range p.CutList {
		if c.Part != InBlock {
			last.Squares = append(last.Squares, c)
		}
	}
	p.Sheets = people
	for i := range p.CutList {
		if c := &p.CutList[i]; c.Part == InBlock {
			c.How = how(p.Strips, yields[c.Of], c.Count)
		}
	}
	t.uses(p, yields)
	return nil
}

func how(strips bool, yields, count int) string {
	switch {
	case strips:
		return "strip sets"
	case yields <= 0:
		return "strips"
	case yields < count:
		return "scraps and strips"
	}
	return "scraps"
}

func (t *top) cuts(p *Plan) {
	var list lists[string, Cut]
	for i := range t.pieces {
		c := t.cutOf(&t.pieces[i])
		list.of(fmt.Sprint(c.Of, c.Part, c.W, c.H), func() Cut { return c }).Needed++
	}
	p.CutList = list.all()
	width, spare := t.bindingCut()
	rim := 2*(ofCM(t.w)+ofCM(t.h)) + spare
	p.CutList = append(p.CutList, Cut{Cloth: t.in.Cloths[t.in.Binding].ID, Of: t.in.Binding, Part: Binding,
		W: width, H: t.in.Ruler.Up(rim), Needed: 1, How: "strips"})
	for i := range p.CutList {
		c := &p.CutList[i]
		a := 1 << c.Diagonals
		c.Count = (c.Needed + a - 1) / a
		c.Pieces = c.Count * a
	}
	order := []Part{InBlock, Loose, Plain, SideTri, CornerTri, Sash, Border, Binding}
	slices.SortStableFunc(p.CutList, func(a, b Cut) int {
		by := cmp.Compare(slices.Index(order, a.Part), slices.Index(order, b.Part))
		if by == 0 && (a.Part == InBlock || a.Part == Loose) { // the others stand in the order of sewing
			by = cmp.Or(cmp.Compare(a.Of, b.Of), cmp.Compare(b.H, a.H))
		}
		return by
	})
}

// cutOf is a piece as it is cut. A square of side a that is cut across twice
// gives four triangles with their straight grain along a; the finished
// triangle's long side is the block's side B times sqrt 2, and a seam s on all
// sides makes that longer by 2 s (1 + sqrt 2), which is 4.83 s; cut across once
// it gives two, with short sides of B/sqrt 2 and 3.41 s more. The trade takes
// 1.414 B and B/1.414, and 5 and 3.5 seams (1 1/4 and 7/8 inches for a quarter
// inch), and rounds up to the next eighth; where that were less than the
// geometry asks for, the geometry holds.
func (t *top) cutOf(piece *Piece) Cut {
	r, s := t.in.Ruler, t.in.Seam
	c := Cut{Cloth: t.in.Cloths[piece.Cloth].ID, Of: piece.Cloth, Part: piece.Part, How: "strips"}
	c.Finished = min(piece.W, piece.H)
	switch piece.Part {
	case SideTri:
		c.Diagonals = 2
		c.W = r.Up(grown(float64(piece.W)*tradeRoot+5*float64(s), float64(piece.W)*math.Sqrt2+2*(1+math.Sqrt2)*float64(s)))
		c.H = c.W
	case CornerTri:
		c.Diagonals = 1
		c.W = r.Up(grown(float64(piece.W)*math.Sqrt2/tradeRoot+3.5*float64(s), float64(piece.W)+(2+math.Sqrt2)*float64(s)))
		c.H = c.W
	default:
		c.W, c.H = r.Up(min(piece.W, piece.H)+2*s), r.Up(max(piece.W, piece.H)+2*s)
	}
	return c
}

// tradeRoot is the root of 2 that tables for the sewing room reckon with.
const tradeRoot = 1.414

// grown is the larger of two sizes as a length, rounded up but for what
// floating point adds.
func grown(a, b float64) Length { return Length(math.Ceil(max(a, b) - 1)) }

// itemsOf is what a line of the list takes out of strips. What is longer than
// the cloth is wide is joined: with straight seams, of which each takes two
// allowances, and binding with diagonal ones, of which each takes the
// binding's width.
func (t *top) itemsOf(c *Cut) ([]item, error) {
	usable := t.in.Usable
	if c.H <= usable {
		what := Purpose(c.Part)
		if c.Part == Loose {
			what = Patches
		}
		return []item{{c.Of, c.W, c.H, c.Count, what}}, nil
	}
	if c.Part == Plain || c.Diagonals > 0 || c.Part == InBlock {
		return nil, fmt.Errorf("a %s is cut %s wide, and the cloth gives %s: make the blocks smaller, or give --usable-width", c.Part, t.in.Ruler.Say(c.H), t.in.Ruler.Say(usable))
	}
	loss := 2 * t.in.Seam
	if c.Part == Binding {
		loss = c.W
	}
	if usable <= loss {
		return nil, fmt.Errorf("cloth %s wide is too narrow to join strips of: check --usable-width", t.in.Ruler.Say(usable))
	}
	n := int((c.H - loss + usable - loss - 1) / (usable - loss)) // n usable - (n-1) loss >= H
	c.Joins = n - 1
	rest := t.in.Ruler.Up(c.H - Length(n-1)*(usable-loss))
	what := Purpose(c.Part) + ", joined"
	return []item{{c.Of, c.W, usable, c.Count * (n - 1), what}, {c.Of, c.W, min(rest, usable), c.Count, what}}, nil
}

// shared deals the blocks out to the people: those of the same cloths to the
// same person as far as it goes, and no one more than one block more than
// another.
func (t *top) shared() []Sheet {
	order := make([]int, len(t.blocks))
	for i := range order {
		order[i] = i
	}
	keys := make([]string, len(t.blocks))
	for i := range t.blocks {
		keys[i] = t.lotKey(i)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(keys[a], keys[b]) })
	n := t.in.People
	out := make([]Sheet, n)
	for i := range out {
		out[i].Name = "Person " + strconv.Itoa(i+1)
		if n == 1 {
			out[i].Name = "The whole top"
		}
		out[i].Of = order[i*len(order)/n : (i+1)*len(order)/n]
		out[i].Blocks = t.lots(out[i].Of)
	}
	return out
}

// shareScraps gives each scrap whole to one person, who cuts it for all, so that
// nobody waits for half of one and no patch is cut twice: the largest shares
// first, each to whoever has the fewest patches to cut out of scraps so far
// (Graham 1969: at most a third over the evenest), and of several to the one who
// needs most of it.
func shareScraps(people []Sheet) {
	if len(people) < 2 {
		return
	}
	type scrap struct {
		SharedScrap
		need []int // by person
	}
	var all []*scrap
	at := map[int]*scrap{}
	for k := range people {
		for _, c := range people[k].Squares {
			if c.FromScrap == 0 {
				continue
			}
			s := at[c.Of]
			if s == nil {
				s = &scrap{SharedScrap{Cloth: c.Cloth, W: c.W, H: c.H}, make([]int, len(people))}
				at[c.Of] = s
				all = append(all, s)
			}
			s.Patches += c.FromScrap
			s.need[k] += c.FromScrap
			s.For = append(s.For, ScrapPart{people[k].Name, c.FromScrap})
		}
	}
	slices.SortStableFunc(all, func(a, b *scrap) int { return cmp.Compare(b.Patches, a.Patches) })
	cuts := make([]int, len(people))
	has := map[string]string{}
	for _, s := range all {
		best := 0
		for k := range people {
			if cmp.Or(cmp.Compare(cuts[k], cuts[best]), cmp.Compare(s.need[best], s.need[k])) < 0 {
				best = k
			}
		}
		cuts[best] += s.Patches
		people[best].Scraps = append(people[best].Scraps, s.SharedScrap)
		has[s.Cloth] = people[best].Name
	}
	for k := range people {
		for i := range people[k].Squares {
			if c := &people[k].Squares[i]; c.FromScrap > 0 && has[c.Cloth] != people[k].Name {
				c.CutBy = has[c.Cloth]
			}
		}
	}
}

// lotKey is the same for blocks that are made alike: of their cloths by role
// where each role has one, and else of their kind alone.
func (t *top) lotKey(b int) string {
	cloths, _ := t.clothsOf(b)
	return fmt.Sprintf("%02d %v", t.blocks[b].kind, cloths)
}

// clothsOf is a block's cloth by role in the order of "LMD."; -1 for a role it
// does not have; ok is false where a role has several.
func (t *top) clothsOf(b int) (of [4]int, ok bool) {
	of, ok = [4]int{-1, -1, -1, -1}, true
	for _, i := range t.blocks[b].pieces {
		k := max(strings.IndexByte("LMD.", t.pieces[i].Role), 0)
		if of[k] >= 0 && of[k] != t.pieces[i].Cloth {
			ok = false
		}
		of[k] = t.pieces[i].Cloth
	}
	if !ok {
		of = [4]int{-1, -1, -1, -1}
	}
	return of, ok
}

// namedCloths are the names of a block's cloths by the names of their roles; nil
// where a role has several.
func (t *top) namedCloths(b int) map[string]string {
	of, ok := t.clothsOf(b)
	if !ok {
		return nil
	}
	names := map[string]string{}
	for i, c := range of {
		if c >= 0 {
			names[roleNames["LMD."[i]]] = t.in.Cloths[c].ID
		}
	}
	return names
}

func (t *top) lots(blocks []int) []BlockLot {
	var lots lists[string, BlockLot]
	for _, b := range blocks {
		lots.of(t.lotKey(b), func() BlockLot { return BlockLot{Kind: t.blocks[b].kind + 1, Cloths: t.namedCloths(b)} }).Count++
	}
	return lots.all()
}

// lists are things that are told apart by a key, in the order in which each came first.
type lists[K comparable, V any] struct {
	at    map[K]int
	items []V
}

// of is the thing of a key, made where it is new.
func (l *lists[K, V]) of(key K, made func() V) *V {
	i, known := l.at[key]
	if !known {
		if l.at == nil {
			l.at = map[K]int{}
		}
		i = len(l.items)
		l.at[key] = i
		l.items = append(l.items, made())
	}
	return &l.items[i]
}

// all are the things; never nil.
func (l *lists[K, V]) all() []V { return append([]V{}, l.items...) }

// patches are the squares of blocks, and the strips for those that no scrap
// gives; left is how many each scrap still gives, and is counted down.
func (t *top) patches(blocks []int, left []int) (squares []Cut, items []item) {
	var list lists[[3]int64, Cut]
	for _, b := range blocks {
		for _, i := range t.blocks[b].pieces {
			c := t.cutOf(&t.pieces[i])
			list.of([3]int64{int64(c.Of), int64(c.W), int64(c.H)}, func() Cut { return c }).Count++
		}
	}
	squares = list.all()
	slices.SortStableFunc(squares, func(a, b Cut) int { return cmp.Or(cmp.Compare(a.Of, b.Of), cmp.Compare(a.H, b.H)) })
	for i := range squares {
		c := &squares[i]
		c.Pieces, c.Needed = c.Count, c.Count
		c.How = how(false, left[c.Of], c.Count)
		n := c.Count
		if left[c.Of] >= 0 {
			c.FromScrap = min(n, left[c.Of])
			left[c.Of] -= c.FromScrap
			n -= c.FromScrap
		}
		if n > 0 {
			items = append(items, item{c.Of, c.W, c.H, n, Patches})
		}
	}
	return squares, items
}

// sets are the strip sets of blocks that are each of one cloth a role: every
// row of patches is a segment, and a segment turned end for end is the same.
func (t *top) sets(blocks []int) ([]StripSet, []item, error) {
	var list lists[string, StripSet]
	for _, b := range blocks {
		for _, s := range t.segments(b) {
			cloths, turned := s.cloths, slices.Clone(s.cloths)
			slices.Reverse(turned)
			if slices.Compare(turned, cloths) < 0 {
				cloths = turned
			}
			list.of(fmt.Sprint(cloths, s.length), func() StripSet { return StripSet{Of: cloths, Strip: t.cut, Segment: s.length} }).Segments++
		}
	}
	out := list.all()
	slices.SortStableFunc(out, func(a, b StripSet) int { return slices.Compare(a.Of, b.Of) })
	var items []item
	for i := range out {
		s := &out[i]
		s.PerSet = int(t.in.Usable / s.Segment)
		if s.PerSet < 1 {
			return nil, nil, fmt.Errorf("a segment is %s long, and the cloth gives %s: make the patches smaller, or give --usable-width", t.in.Ruler.Say(s.Segment), t.in.Ruler.Say(t.in.Usable))
		}
		s.Sets = (s.Segments + s.PerSet - 1) / s.PerSet
		whole := t.in.Usable
		s.Last = Length(s.Segments-(s.Sets-1)*s.PerSet) * s.Segment
		for _, c := range s.Of {
			s.Cloths = append(s.Cloths, t.in.Cloths[c].ID)
			if s.Sets > 1 {
				items = append(items, item{c, t.cut, whole, s.Sets - 1, StripSets})
			}
			items = append(items, item{c, t.cut, s.Last, 1, StripSets})
		}
	}
	return out, items, nil
}

// segment is a row of patches, or all of a block of rails.
type segment struct {
	cloths []int
	length Length // along the strips, as it is cut
}

// segments are those of a block: its rows, or itself where every piece runs
// from one side to the other.
func (t *top) segments(b int) []segment {
	k := t.in.Design.Kinds[t.blocks[b].kind]
	var cloths []int
	across, down := true, true
	for n, p := range k.Pieces {
		cloths = append(cloths, t.pieces[t.blocks[b].pieces[n]].Cloth)
		across, down = across && p.Cols == k.Cols && p.Rows == 1, down && p.Rows == k.Rows && p.Cols == 1
	}
	if (across || down) && len(cloths) > 1 && max(k.Rows, k.Cols) > 1 && (k.Rows > 1 && k.Cols > 1) {
		side := k.Cols
		if down && !across {
			side = k.Rows
		}
		return []segment{{cloths, Length(side)*t.patch + 2*t.in.Seam}}
	}
	var out []segment
	for r := range k.Rows {
		out = append(out, segment{cloths[r*k.Cols : (r+1)*k.Cols], t.cut})
	}
	return out
}

func (t *top) uses(p *Plan, yields []int) {
	in := t.in
	p.Cloths = make([]Use, len(in.Cloths))
	for i, c := range in.Cloths {
		u := &p.Cloths[i]
		u.ID, u.Lightness, u.Photo, u.Texture, u.Roles = c.ID, c.Lightness, c.Photo, "colours", []string{}
		if c.Scrap != nil {
			n := yields[i]
			u.Yields, u.HaveCM = &n, c.Scrap.Area()
		}
	}
	for _, role := range []byte("LMD.") {
		for _, i := range in.Roles[role] {
			p.Cloths[i].Roles = append(p.Cloths[i].Roles, roleNames[role])
		}
	}
	for _, c := range p.CutList {
		u := &p.Cloths[c.Of]
		if c.Part == InBlock || c.Part == Loose {
			u.Patches += c.Needed
		} else if word := string(c.Part); !slices.Contains(u.Roles, word) {
			u.Roles = append(u.Roles, word)
		}
		u.NeedCM += float64(c.Count) * c.W.CM() * c.H.CM()
	}
	for _, s := range p.Sheets {
		for _, l := range s.Strips {
			p.Cloths[l.Of].Length += Length(l.Count) * l.Width
		}
	}
	for i := range p.Cloths {
		u := &p.Cloths[i]
		if u.Length > 0 {
			step := in.Ruler.bought()
			u.Buy = (Length(math.Ceil(float64(u.Length)*(1+allowance))) + step - 1) / step * step
			u.Bought = in.Ruler.SayBought(u.Buy)
		}
	}
}
