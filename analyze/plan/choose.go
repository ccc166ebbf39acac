package plan

import (
	"cmp"
	"math"
	"slices"

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

// Choose picks cloths of the stash for the roles that have none: first the
// light and the dark that stand off best from each other, then more of either
// that stand clear of all of the other role, the best first, until they give
// enough patches. Doubtful pieces and cloths whose lightness stands on another
// footing are left out. It returns indexes into the stash by role; a role for
// which nothing fits has the nearest there is, and is named in missing.
func Choose(stash []Cloth, want Want) (chosen map[byte][]int, missing []Missing) {
	c := chooser{stash: stash, want: want, of: map[byte][]int{}, yields: map[int]int{}}
	for role, list := range want.Given {
		c.of[role] = slices.Clone(list)
	}
	c.open()
	if slices.Contains(want.Roles, '.') && len(c.of['.']) == 0 && len(c.of['L'])+len(c.of['M'])+len(c.of['D']) > 0 {
		// Where a chart leaves a patch open, any cloth of the plan will do.
		defer func() { chosen['.'] = slices.Concat(chosen['L'], chosen['M'], chosen['D']) }()
	}
	needL, needD := c.needs('L'), c.needs('D')
	switch {
	case needL && needD:
		c.pair()
		c.more('L', 'D')
		c.more('D', 'L')
	case needD:
		c.more('D', 'L')
	case needL:
		c.more('L', 'D')
	}
	for _, role := range []byte("LD") {
		if slices.Contains(want.Roles, role) && len(c.of[role]) == 0 {
			c.nearest(role)
		}
	}
	if c.needs('M') {
		c.medium()
	}
	if slices.Contains(want.Roles, '.') && len(c.of['.']) == 0 && len(c.of['L'])+len(c.of['M'])+len(c.of['D']) == 0 {
		for _, i := range c.free {
			if len(c.of['.']) < mostChosen {
				c.of['.'] = append(c.of['.'], i)
			}
		}
	}
	return c.of, c.missing
}

type chooser struct {
	stash   []Cloth
	want    Want
	of      map[byte][]int
	free    []int
	yields  map[int]int // of scraps, once they are known
	missing []Missing
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
	// A scrap that gives no patch helps only where nothing else is left.
	if giving := slices.DeleteFunc(slices.Clone(c.free), func(i int) bool { return c.gives(i) == 0 }); len(giving) > 1 {
		c.free = giving
	}
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

func (c *chooser) take(role byte, i int) {
	c.of[role] = append(c.of[role], i)
	c.free = slices.DeleteFunc(c.free, func(k int) bool { return k == i })
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
	pile := map[byte]piles.Pile{'L': piles.Light, 'M': piles.Medium, 'D': piles.Dark}[role]
	f := &c.stash[i]
	switch {
	case f.Pile == pile && !f.Swing:
		return 1
	case f.Pile == pile, f.Swing, f.Pile == "":
		return .8
	}
	return .5
}

// pairTried is how many of the lightest are tried with how many of the
// darkest: a stash of any size is looked through in no time.
const pairTried = 300

// pair takes the light and the dark of the greatest clarity.
func (c *chooser) pair() {
	light, dark, best := -1, -1, 0.
	sorted := slices.Clone(c.free)
	slices.SortStableFunc(sorted, func(a, b int) int { return cmp.Compare(c.stash[b].Lightness, c.stash[a].Lightness) })
	n := len(sorted)
	for _, i := range sorted[:min(n, pairTried)] {
		for _, j := range sorted[max(0, n-pairTried):] {
			if v := c.clarity(i, j) * c.fits('L', i) * c.fits('D', j); v > best {
				light, dark, best = i, j, v
			}
		}
	}
	if light >= 0 {
		c.take('L', light)
		c.take('D', dark)
	}
}

// more adds cloths for a role, while they are needed, that are clear beside
// every cloth of the other.
func (c *chooser) more(role, beside byte) {
	for !c.enough(role) {
		best, most := -1, 0.
		for _, i := range c.free {
			worst := math.Inf(1)
			for _, j := range c.of[beside] {
				v := c.clarity(i, j)
				if role == 'D' {
					v = c.clarity(j, i)
				}
				worst = min(worst, v)
			}
			if len(c.of[beside]) == 0 {
				worst = c.byItself(role, i)
			}
			if v := worst * c.fits(role, i); v > most && (c.fits(role, i) >= .8 || len(c.of[role]) == 0) {
				best, most = i, v
			}
		}
		if best < 0 {
			return
		}
		c.take(role, best)
	}
}

// byItself ranks cloths for a role that has nothing to stand off from.
func (c *chooser) byItself(role byte, i int) float64 {
	if role == 'L' {
		return c.stash[i].Lightness + 1
	}
	return 101 - c.stash[i].Lightness
}

// enough: the role's cloths give its patches, or there are as many as are
// dealt out together off the bolt.
func (c *chooser) enough(role byte) bool {
	list := c.of[role]
	have := 0.
	for _, i := range list {
		n := c.gives(i)
		if n < 0 {
			return len(list) >= min(mostChosen, c.bolts())
		}
		have += float64(n)
	}
	return len(list) > 0 && have >= float64(c.want.Patches[role])
}

// bolts is how many cloths a role gets where cloth is off the bolt: as many as
// the stash can spare for two roles.
func (c *chooser) bolts() int { return max(1, len(c.stash)/4) }

// nearest takes the lightest or the darkest that is left, where nothing
// stands clear, and says what to look for.
func (c *chooser) nearest(role byte) {
	other := byte('D')
	if role == 'D' {
		other = 'L'
	}
	var against []Cloth
	for _, i := range c.of[other] {
		against = append(against, c.stash[i])
	}
	if len(against) > 0 {
		c.missing = append(c.missing, oneMore(role, against))
	}
	if len(c.free) == 0 {
		return
	}
	c.take(role, slices.MaxFunc(c.free, func(a, b int) int { return cmp.Compare(c.byItself(role, a), c.byItself(role, b)) }))
}

// medium takes cloths midway between the lights and the darks.
func (c *chooser) medium() {
	mean := func(role byte) float64 {
		sum := 0.
		for _, i := range c.of[role] {
			sum += c.stash[i].Lightness
		}
		if n := len(c.of[role]); n > 0 {
			return sum / float64(n)
		}
		return map[byte]float64{'L': 85, 'D': 25}[role]
	}
	mid := (mean('L') + mean('D')) / 2
	for !c.enough('M') && len(c.free) > 0 {
		best := slices.MinFunc(c.free, func(a, b int) int {
			return cmp.Compare(math.Abs(c.stash[a].Lightness-mid), math.Abs(c.stash[b].Lightness-mid))
		})
		if len(c.of['M']) > 0 && math.Abs(c.stash[best].Lightness-mid) > layout.DefaultSoft/2 {
			return
		}
		c.take('M', best)
	}
}
