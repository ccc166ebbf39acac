package plan

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"greige/analyze/eye"
	"greige/analyze/layout"
	"greige/analyze/piles"
)

// mostChosen is how many cloths off the bolt are chosen for a role; scraps are
// taken until they give enough.
const mostChosen = 3

// Want is what a choice of cloths is for.
type Want struct {
	Roles   []byte         // letters that need cloths, of "LMD."
	Patches map[byte]int   // how many patches of each
	Given   map[byte][]int // chosen already: indexes into the stash
	Taken   []int          // of the setting: not to be used in blocks
	PatchCM float64        // cut side
}

// Choose picks cloths of the stash for the roles that have none. Reading comes
// first: in the sets that it looks at, every cloth is clear beside every one of
// the other roles, as layout's verdict has it, so that they may be dealt out in
// any way. Of these it takes the set whose cloths give most of the patches, and
// of several that give as many the one whose weakest seam is clearest. Where no
// set reads, a role gets the lightest, the darkest or the middle one there is.
// Doubtful pieces and cloths whose lightness stands on another footing are left
// out. It returns indexes into the stash by role.
func Choose(stash []Cloth, want Want) map[byte][]int {
	c := chooser{stash: stash, want: want, of: map[byte][]int{}, yields: map[int]int{}}
	for role, list := range want.Given {
		c.of[role] = slices.Clone(list)
	}
	c.open()
	for _, role := range []byte("DML") {
		if c.needs(role) {
			c.roles = append(c.roles, role)
		}
	}
	best := clothSet{of: c.of}
	for _, cuts := range c.cuts() {
		if s := c.grow(cuts); s.better(&best) {
			best = s
		}
	}
	c.of = best.of
	for _, role := range []byte("LDM") {
		if c.needs(role) {
			c.nearest(role)
		}
	}
	switch named := slices.Concat(c.of['L'], c.of['M'], c.of['D']); {
	case !slices.Contains(want.Roles, '.') || len(c.of['.']) > 0:
	case len(named) > 0: // where a chart leaves a patch open, any cloth of the plan will do
		c.of['.'] = named
	default:
		c.of['.'] = slices.Clone(c.free[:min(len(c.free), mostChosen)])
	}
	return c.of
}

// chooser is a choice at work.
type chooser struct {
	stash  []Cloth
	want   Want
	of     map[byte][]int
	roles  []byte      // that need cloths, the darkest first
	free   []int       // what may be chosen, the lightest first
	yields map[int]int // of scraps, once they are known
}

func (c *chooser) needs(role byte) bool {
	return slices.Contains(c.want.Roles, role) && len(c.of[role]) == 0
}

// open lists what may be chosen: of the largest group that can be compared.
func (c *chooser) open() {
	count := map[int]int{}
	group, most := 0, -1
	for _, list := range c.of {
		for _, i := range list {
			count[c.stash[i].Group] += len(c.stash) // what is given decides
		}
	}
	for i := range c.stash {
		if f := &c.stash[i]; !f.Doubtful {
			count[f.Group]++
		}
	}
	for i := range c.stash {
		if g := c.stash[i].Group; count[g] > most {
			group, most = g, count[g]
		}
	}
	taken := slices.Clone(c.want.Taken)
	for _, list := range c.of {
		taken = append(taken, list...)
	}
	for i := range c.stash {
		if f := &c.stash[i]; !f.Doubtful && f.Group == group && !slices.Contains(taken, i) {
			c.free = append(c.free, i)
		}
	}
	slices.SortStableFunc(c.free, func(a, b int) int { return cmp.Compare(c.stash[b].Lightness, c.stash[a].Lightness) })
	if n := len(c.free); n > mostTried {
		third := mostTried / 3
		tried := slices.Clone(c.free[:third])
		for k := range third {
			tried = append(tried, c.free[third+k*(n-2*third)/third])
		}
		c.free = append(tried, c.free[n-third:]...)
	}
}

// mostTried is how many cloths are looked at, so that a stash of any size takes
// no time: of more, the lightest, the darkest, and as many spread between.
const mostTried = 600

// cutStep is the distance in L* of the cuts between two roles that are tried:
// less than lightness is known to.
const cutStep = 5

// cuts are the ways to part the lightness scale between the roles that need
// cloths: of each way the lower ends of all roles but the darkest.
func (c *chooser) cuts() (out [][]float64) {
	switch len(c.roles) {
	case 0:
		return nil
	case 1:
		return [][]float64{nil}
	}
	for low := cutStep; low < 100; low += cutStep {
		if len(c.roles) == 2 {
			out = append(out, []float64{float64(low)})
			continue
		}
		for high := low + cutStep; high < 100; high += cutStep {
			out = append(out, []float64{float64(low), float64(high)})
		}
	}
	return out
}

func (c *chooser) roleAt(cuts []float64, lightness float64) byte {
	k := 0
	for k < len(cuts) && lightness >= cuts[k] {
		k++
	}
	return c.roles[k]
}

// clothSet is cloths by role that read together.
type clothSet struct {
	of      map[byte][]int
	filled  int     // roles of those that needed cloths
	gives   int     // patches, no more than are needed of each role
	weakest float64 // clarity of the seam that is least clear
}

func (s *clothSet) better(o *clothSet) bool {
	return cmp.Or(cmp.Compare(s.filled, o.filled), cmp.Compare(s.gives, o.gives), cmp.Compare(s.weakest, o.weakest)) > 0
}

// tried is a cloth with the role for which it is tried and how well it stands off
// there.
type tried struct {
	index int
	role  byte
	score float64
}

// grow makes a set that reads, with the roles parted at cuts: from the light and
// the dark that stand off best from each other, where both are needed, or from
// the cloths that are given, and then, the clearest first, every cloth that is
// clear beside all that is taken for the other roles, until each role has enough.
func (c *chooser) grow(cuts []float64) clothSet {
	s := clothSet{of: map[byte][]int{}}
	for role, list := range c.of {
		s.of[role] = slices.Clone(list)
	}
	byRole := map[byte][]int{}
	for _, i := range c.free {
		role := c.roleAt(cuts, c.stash[i].Lightness)
		byRole[role] = append(byRole[role], i)
	}
	if slices.Contains(c.roles, 'L') && slices.Contains(c.roles, 'D') {
		light, dark, ok := c.pair(byRole['L'], byRole['D'])
		if !ok {
			return s
		}
		s.of['L'], s.of['D'] = []int{light}, []int{dark}
	}
	var rest []tried
	for _, role := range c.roles {
		list := c.rank(&s, role, byRole[role])
		if len(s.of[role]) == 0 && len(list) > 0 { // the middle role, or the only one
			s.of[role], list = []int{list[0].index}, list[1:]
		}
		rest = append(rest, list...)
	}
	slices.SortStableFunc(rest, func(a, b tried) int { return cmp.Compare(b.score, a.score) })
	for _, t := range rest {
		if !c.enough(t.role, s.of[t.role]) && c.gives(t.index) != 0 && c.standsOff(&s, t.role, t.index) > 0 {
			s.of[t.role] = append(s.of[t.role], t.index)
		}
	}
	c.weigh(&s)
	return s
}

// rank is what of a list is clear beside a set, the best for a role first: what
// gives patches before what gives none.
func (c *chooser) rank(s *clothSet, role byte, list []int) (out []tried) {
	for _, i := range list {
		score := c.standsOff(s, role, i) * c.fits(role, i)
		if score > 0 && !slices.Contains(s.of[role], i) {
			out = append(out, tried{i, role, score})
		}
	}
	slices.SortStableFunc(out, func(a, b tried) int {
		return cmp.Or(cmp.Compare(min(1, abs(c.gives(b.index))), min(1, abs(c.gives(a.index)))), cmp.Compare(b.score, a.score))
	})
	return out
}

func abs(n int) int { return max(n, -n) }

func (c *chooser) weigh(s *clothSet) {
	s.weakest = math.Inf(1)
	for _, role := range c.roles {
		if len(s.of[role]) > 0 {
			s.filled++
		}
		gives := 0
		for _, i := range s.of[role] {
			if n := c.gives(i); n >= 0 {
				gives += n
			} else {
				gives = c.want.Patches[role]
			}
			s.weakest = min(s.weakest, c.standsOff(s, role, i))
		}
		s.gives += min(gives, c.want.Patches[role])
	}
}

// standsOff is the clarity of the least clear seam between cloth i, in a role,
// and the cloths that a set has for the others; 0 where one is not clear or lies
// on the wrong side. Where there are none, it is how light or how dark it is.
func (c *chooser) standsOff(s *clothSet, role byte, i int) float64 {
	const order = "DML"
	worst := math.Inf(1)
	for _, other := range []byte(order) {
		if other == role {
			continue
		}
		for _, j := range s.of[other] {
			if strings.IndexByte(order, role) > strings.IndexByte(order, other) {
				worst = min(worst, c.clarity(i, j))
			} else {
				worst = min(worst, c.clarity(j, i))
			}
		}
	}
	if math.IsInf(worst, 1) {
		return c.byItself(role, i)
	}
	return worst
}

// gives is how many patches a scrap gives; -1 for cloth off the bolt.
func (c *chooser) gives(i int) int {
	s := c.stash[i].Scrap
	if s == nil {
		return -1
	}
	if _, known := c.yields[i]; !known {
		c.yields[i] = len(s.Yield(c.want.PatchCM, c.want.PatchCM))
	}
	return c.yields[i]
}

// clarity is how well two cloths stand off; 0 where the seam is not clear.
func (c *chooser) clarity(light, dark int) float64 {
	a, b := &c.stash[light], &c.stash[dark]
	if a.Lightness <= b.Lightness || verdict(a, b) != layout.Clear {
		return 0
	}
	return eye.Clarity(a.Lightness, a.Spread, b.Lightness, b.Spread)
}

// fits: the cloth may play the role by its pile; a swinging one is the second
// choice.
func (c *chooser) fits(role byte, i int) float64 {
	pile := piles.Dark
	switch role {
	case 'L':
		pile = piles.Light
	case 'M':
		pile = piles.Medium
	}
	f := &c.stash[i]
	switch {
	case f.Pile == pile && !f.Swings():
		return 1
	case f.Pile == pile, f.Swings(), f.Pile == "":
		return .8
	}
	return .5
}

// pair is the light and the dark of the greatest clarity, of those that give
// patches where there are such; ok is false where no two are clear.
func (c *chooser) pair(lights, darks []int) (light, dark int, ok bool) {
	most, best := -1, 0.
	for _, i := range lights {
		for _, j := range darks {
			giving := min(1, abs(c.gives(i))) + min(1, abs(c.gives(j)))
			v := c.clarity(i, j) * c.fits('L', i) * c.fits('D', j)
			if v > 0 && (giving > most || giving == most && v > best) {
				light, dark, most, best = i, j, giving, v
			}
		}
	}
	return light, dark, most >= 0
}

func (c *chooser) byItself(role byte, i int) float64 {
	switch role {
	case 'L':
		return c.stash[i].Lightness + 1
	case 'D':
		return 101 - c.stash[i].Lightness
	}
	return 101 - math.Abs(c.stash[i].Lightness-c.middle())
}

// middle is the lightness midway between the lights and the darks that there are.
func (c *chooser) middle() float64 {
	mean := func(role byte, otherwise float64) float64 {
		sum := 0.
		for _, i := range c.of[role] {
			sum += c.stash[i].Lightness
		}
		if n := len(c.of[role]); n > 0 {
			return sum / float64(n)
		}
		return otherwise
	}
	return (mean('L', 85) + mean('D', 25)) / 2
}

// enough: a role's cloths give its patches, or there are as many as are dealt
// out together off the bolt.
func (c *chooser) enough(role byte, list []int) bool {
	have := 0
	for _, i := range list {
		n := c.gives(i)
		if n < 0 {
			return len(list) >= min(mostChosen, c.bolts())
		}
		have += n
	}
	return len(list) > 0 && have >= c.want.Patches[role]
}

// bolts is how many cloths a role gets where cloth is off the bolt: as many as
// the stash can spare for two roles.
func (c *chooser) bolts() int { return max(1, len(c.stash)/4) }

// nearest takes the lightest, the darkest or the middle one that is left, where
// nothing stands clear.
func (c *chooser) nearest(role byte) {
	left := slices.DeleteFunc(slices.Clone(c.free), func(i int) bool {
		return slices.Contains(c.of['L'], i) || slices.Contains(c.of['D'], i) || slices.Contains(c.of['M'], i)
	})
	if len(left) > 0 {
		c.of[role] = []int{slices.MaxFunc(left, func(a, b int) int { return cmp.Compare(c.byItself(role, a), c.byItself(role, b)) })}
	}
}
