package plan

import (
	"math"
	"slices"
)

// Dealing the cloths of a role. Where the cloth is off the bolt and no two
// pieces of one role share a seam within a block, each block gets one cloth a
// role, so that it can be strip-pieced, and neighbouring blocks get different
// ones. Else every patch gets its own. Either way it is the colouring of a
// graph: what is dealt are its nodes, and two of them are joined where pieces
// of that role share a seam or touch at a corner. Two cloths are dealt by
// breadth first search where that is possible; more of them in reading order,
// by the cloth that meets itself least, then touches itself least, then is
// used least for what it yields; a last pass moves what still meets itself.

// deal gives each piece of a block its cloth. It returns whether the blocks
// can be strip-pieced. yields is how many patches each cloth gives, -1 for no
// limit.
func (t *top) deal(yields []int) (strips bool) {
	roles := t.in.Design.Roles()
	strips = true
	several := false
	for _, role := range roles {
		for _, i := range t.in.Roles[role] {
			strips = strips && yields[i] < 0
		}
		several = several || len(t.in.Roles[role]) > 1
		strips = strips && role != '.'
	}
	if several && t.in.Design.meetsItself() {
		strips = false
	}
	if strips {
		t.dealSets(roles)
		return true
	}
	meets, near := t.neighbours()
	for _, role := range roles {
		cloths := t.in.Roles[role]
		d := dealer{limit: make([]int, len(cloths)), alike: func(a, b int) bool { return a == b }}
		for k, c := range cloths {
			d.limit[k] = yields[c]
		}
		unit, units := make([]int, len(t.pieces)), 0 // of the piece; -1 for other roles
		for i := range unit {
			unit[i] = -1
			if p := &t.pieces[i]; p.Part == InBlock && p.Role == role {
				unit[i] = units
				units++
			}
		}
		d.meets, d.near = joined(meets, unit, units), joined(near, unit, units)
		of := d.run()
		for i, u := range unit {
			if u >= 0 {
				t.pieces[i].Cloth = cloths[of[u]]
			}
		}
	}
	return false
}

// mostSets bounds how many sets of cloths are dealt out to blocks.
const mostSets = 24

// dealSets deals each block a set: one cloth a role. The sets take the cloths
// of each role in turn, so that there are few of them, and few strip sets to
// sew; where the roles have different numbers of cloths, as many sets as use
// all cloths equally often.
func (t *top) dealSets(roles []byte) {
	sets := 1
	for _, role := range roles {
		n := len(t.in.Roles[role])
		if both := sets / gcd(sets, n) * n; both <= mostSets {
			sets = both
		} else {
			sets = max(sets, n)
		}
	}
	cloth := func(set int, role byte) int {
		list := t.in.Roles[role]
		return list[set%len(list)]
	}
	d := dealer{limit: slices.Repeat([]int{-1}, sets)}
	d.alike = func(a, b int) bool {
		return slices.ContainsFunc(roles, func(role byte) bool { return len(t.in.Roles[role]) > 1 && cloth(a, role) == cloth(b, role) })
	}
	d.meets, d.near = t.blockNeighbours()
	of := d.run()
	for i := range t.pieces {
		if p := &t.pieces[i]; p.Part == InBlock {
			p.Cloth = cloth(of[p.Block], p.Role)
		}
	}
}

// blockNeighbours are the blocks side by side, with sashing between them or
// not, and those corner to corner.
func (t *top) blockNeighbours() (meets, near [][]int) {
	n := len(t.blocks)
	meets, near = make([][]int, n), make([][]int, n)
	at := map[[2]int]int{}
	place := func(b int) [2]int { // in half blocks; on point, in half diagonals
		p := &t.blocks[b]
		if p.between {
			return [2]int{2*p.col + 2, 2*p.row + 2}
		}
		return [2]int{2*p.col + 1, 2*p.row + 1}
	}
	for b := range t.blocks {
		at[place(b)] = b
	}
	straight, corner := [][2]int{{2, 0}, {-2, 0}, {0, 2}, {0, -2}}, [][2]int{{2, 2}, {2, -2}, {-2, 2}, {-2, -2}}
	if t.in.OnPoint {
		straight, corner = [][2]int{{1, 1}, {1, -1}, {-1, 1}, {-1, -1}}, straight
	}
	for b := range t.blocks {
		p := place(b)
		for _, s := range straight {
			if o, ok := at[[2]int{p[0] + s[0], p[1] + s[1]}]; ok {
				meets[b] = append(meets[b], o)
			}
		}
		for _, s := range corner {
			if o, ok := at[[2]int{p[0] + s[0], p[1] + s[1]}]; ok {
				near[b] = append(near[b], o)
			}
		}
	}
	return meets, near
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// neighbours are the pairs of pieces that share a seam, and those that touch
// at a corner only.
func (t *top) neighbours() (meets, near [][2]int) {
	at := map[[2]int]int{}
	for _, c := range t.cells {
		at[[2]int{c.row, c.col}] = c.piece
	}
	seen := map[[2]int]bool{}
	put := func(list *[][2]int, a, b int) {
		k := [2]int{min(a, b), max(a, b)}
		if a != b && !seen[k] {
			seen[k] = true
			*list = append(*list, k)
		}
	}
	for _, step := range [][2]int{{0, 1}, {1, 0}} {
		for _, c := range t.cells {
			if o, ok := at[[2]int{c.row + step[0], c.col + step[1]}]; ok {
				put(&meets, c.piece, o)
			}
		}
	}
	for _, step := range [][2]int{{1, 1}, {1, -1}} {
		for _, c := range t.cells {
			if o, ok := at[[2]int{c.row + step[0], c.col + step[1]}]; ok {
				put(&near, c.piece, o)
			}
		}
	}
	return meets, near
}

// joined is the graph of units whose pieces are paired.
func joined(pairs [][2]int, unit []int, n int) [][]int {
	out := make([][]int, n)
	for _, p := range pairs {
		a, b := unit[p[0]], unit[p[1]]
		if a >= 0 && b >= 0 && a != b && !slices.Contains(out[a], b) {
			out[a] = append(out[a], b)
			out[b] = append(out[b], a)
		}
	}
	return out
}

// dealer deals cloths, or sets of them, to units: the colours of a graph.
type dealer struct {
	limit       []int               // by colour: how many units it gives; -1 for no limit
	alike       func(a, b int) bool // two colours share a cloth
	meets, near [][]int
	of          []int // unit to its colour; -1 before it is dealt
	used        []int // units, by colour
	share       []float64
}

func (d *dealer) run() []int {
	d.of = slices.Repeat([]int{-1}, len(d.meets))
	d.used = make([]int, len(d.limit))
	d.quotas()
	if len(d.limit) == 2 && d.limit[0] < 0 && d.limit[1] < 0 {
		both := make([][]int, len(d.meets))
		for u := range both {
			both[u] = slices.Concat(d.meets[u], d.near[u])
		}
		_ = d.twoColour(both) || d.twoColour(d.meets)
	}
	for u := range d.of {
		if d.of[u] < 0 {
			d.give(u, d.best(u))
		}
	}
	for range 8 {
		if !d.mend() {
			break
		}
	}
	return d.of
}

// quotas is what share of the patches each cloth should give: as much as it
// yields, and equal parts of the rest.
func (d *dealer) quotas() {
	d.share = make([]float64, len(d.limit))
	rest, open := float64(len(d.of)), len(d.limit)
	// What yields less than an equal part gives all it has.
	order := make([]int, len(d.limit))
	for i := range order {
		order[i] = i
	}
	yield := func(k int) float64 {
		if y := d.limit[k]; y >= 0 {
			return float64(y)
		}
		return math.Inf(1)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case yield(a) < yield(b):
			return -1
		case yield(a) > yield(b):
			return 1
		}
		return 0
	})
	for _, k := range order {
		d.share[k] = min(rest/float64(open), yield(k))
		rest -= d.share[k]
		open--
	}
	for k := range d.share { // where all fall short, each by as much
		d.share[k] = max(d.share[k]+rest/float64(len(d.share)), 1e-3)
	}
}

func (d *dealer) give(u, k int) {
	if old := d.of[u]; old >= 0 {
		d.used[old]--
	}
	d.of[u] = k
	d.used[k]++
}

// cost is how bad cloth k is for a unit: more patches than it yields, then
// neighbours of the same cloth, then its like at a corner, then how much of
// its share is used.
func (d *dealer) cost(u, k int) [4]float64 {
	var c [4]float64
	for _, v := range d.meets[u] {
		if d.of[v] >= 0 && d.alike(d.of[v], k) {
			c[1]++
		}
	}
	if y := d.limit[k]; y >= 0 && d.used[k] >= y {
		c[0] = 1
	}
	for _, v := range d.near[u] {
		if d.of[v] >= 0 && d.alike(d.of[v], k) {
			c[2]++
		}
	}
	c[3] = float64(d.used[k]) / d.share[k]
	return c
}

func (d *dealer) best(u int) int {
	best := 0
	least := d.cost(u, 0)
	for k := 1; k < len(d.limit); k++ {
		if c := d.cost(u, k); slices.Compare(c[:], least[:]) < 0 {
			best, least = k, c
		}
	}
	return best
}

// twoColour colours a graph by breadth first search. It returns false, with
// nothing dealt, where it meets an odd ring.
func (d *dealer) twoColour(graph [][]int) bool {
	of := slices.Repeat([]int{-1}, len(d.of))
	turn := 0
	for start := range of {
		if of[start] >= 0 {
			continue
		}
		// Parts of the top that do not meet begin with either cloth by turns.
		of[start] = turn % 2
		turn++
		queue := []int{start}
		for len(queue) > 0 {
			u := queue[0]
			queue = queue[1:]
			for _, v := range graph[u] {
				switch {
				case of[v] < 0:
					of[v] = 1 - of[u]
					queue = append(queue, v)
				case of[v] == of[u]:
					return false
				}
			}
		}
	}
	for u, k := range of {
		d.give(u, k)
	}
	return true
}

// mend gives a unit that meets its like another cloth where that is better,
// or changes places with one near by. It returns whether it did anything.
func (d *dealer) mend() bool {
	changed := false
	clashes := func(u int) int {
		n := 0
		for _, v := range d.meets[u] {
			if d.alike(d.of[v], d.of[u]) {
				n++
			}
		}
		return n
	}
	for u := range d.of {
		before := clashes(u)
		if before == 0 {
			continue
		}
		old := d.of[u]
		d.give(u, d.best(u))
		if d.of[u] != old && clashes(u) < before {
			changed = true
			continue
		}
		d.give(u, old)
		for v := range d.of { // a straight exchange keeps what each cloth gives
			if d.of[v] == old {
				continue
			}
			was := before + clashes(v)
			d.exchange(u, v)
			if clashes(u)+clashes(v) < was {
				changed = true
				break
			}
			d.exchange(u, v)
		}
	}
	return changed
}

func (d *dealer) exchange(u, v int) {
	a, b := d.of[u], d.of[v]
	d.give(u, b)
	d.give(v, a)
}

// alike counts the seams where two pieces of one role and one cloth meet,
// though the role has several.
func (t *top) alike() int {
	n := 0
	meets, _ := t.neighbours()
	for _, m := range meets {
		a, b := &t.pieces[m[0]], &t.pieces[m[1]]
		if a.Part == InBlock && b.Part == InBlock && a.Role == b.Role && a.Cloth == b.Cloth && len(t.in.Roles[a.Role]) > 1 {
			n++
		}
	}
	return n
}
