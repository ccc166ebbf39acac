package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"greige/analyze/eye"
	"greige/analyze/layout"
)

// PairSeam is all seams of the mock-up between two cloths.
type PairSeam struct {
	Between [2]string      `json:"between"` // ids
	Count   int            `json:"count"`   // seams a patch long
	DeltaL  float64        `json:"delta_l"`
	DeltaE  float64        `json:"delta_e"`
	Clarity float64        `json:"clarity"`
	Verdict layout.Verdict `json:"verdict"`
	Meant   layout.Meaning `json:"meant"`
	// ColourAlone: lost in value, though colour shows it.
	ColourAlone bool `json:"colour_alone,omitempty"`
}

// Swap is a cloth to take instead of another.
type Swap struct {
	Cloth   string  `json:"cloth"`
	Instead string  `json:"instead"` // id of a cloth of the stash that is not in the plan
	Why     string  `json:"why"`
	Reads   float64 `json:"reads_after"`
	Gain    float64 `json:"gain"`
}

// Missing is a cloth that the plan could do with.
type Missing struct {
	Role      string  `json:"role"`
	Lightness float64 `json:"lightness"` // about
	Patches   int     `json:"patches,omitempty"`
	Says      string  `json:"says"`
}

// judge gives the mock-up to the code that judges a top on the wall: every
// cell is a patch of its cloth's own figures, and the chart is the plan's.
func (t *top) judge(p *Plan) error {
	in := layout.Input{Rows: t.rows, Cols: t.cols, Setting: p.Setting, GridFound: true, Chart: t.chart()}
	for _, c := range t.cells {
		cl := t.in.Cloths[t.pieces[c.piece].Cloth].Cloth
		if cl.Apart == 0 {
			cl.Apart = cl.Uncertainty
		}
		patch := layout.Patch{Row: c.row + 1, Col: c.col + 1, Outline: c.outline, Cloth: cl}
		if c.triangle {
			patch.Shape = "triangle"
		}
		in.Patches = append(in.Patches, patch)
	}
	judged, err := layout.Judge(in)
	if err != nil {
		return err
	}
	// Exchanges of single patches are for what hangs already: here whole
	// cloths are exchanged, and the cutting list stays what the picture shows.
	judged.Changes = []layout.Change{}
	p.Layout, p.Reads = &judged, judged.Reads
	t.pairs(p, &judged)
	t.swaps(p)
	return nil
}

// chart is what each cell is meant to be. Cloths of the setting are meant to
// be what they are nearest to: a light, a dark, or midway between the two.
func (t *top) chart() *layout.Chart {
	if t.in.Given != nil {
		return t.in.Given.chart()
	}
	levels := map[byte]float64{}
	for _, role := range []byte("LMD") {
		n := 0.
		for i := range t.pieces {
			if p := &t.pieces[i]; p.Part == InBlock && p.Role == role {
				levels[role] += t.in.Cloths[p.Cloth].Lightness
				n++
			}
		}
		if n > 0 {
			levels[role] /= n
		} else {
			delete(levels, role)
		}
	}
	l, hasL := levels['L']
	d, hasD := levels['D']
	if _, hasM := levels['M']; hasL && hasD && !hasM {
		levels['M'] = (l + d) / 2
	}
	nearest := func(lightness float64) byte {
		best, least := byte('.'), math.Inf(1)
		for _, role := range []byte("LDM") {
			if v, ok := levels[role]; ok && math.Abs(v-lightness) < least {
				best, least = role, math.Abs(v-lightness)
			}
		}
		return best
	}
	rows := make([][]byte, t.rows)
	for r := range rows {
		rows[r] = slices.Repeat([]byte{'.'}, t.cols)
	}
	for _, c := range t.cells {
		p := &t.pieces[c.piece]
		role := p.Role
		if p.Part != InBlock {
			role = nearest(t.in.Cloths[p.Cloth].Lightness)
		}
		rows[c.row][c.col] = role
	}
	out := &layout.Chart{}
	for _, r := range rows {
		out.Rows = append(out.Rows, string(r))
	}
	return out
}

// pairs sums the seams up by the two cloths that meet in them.
func (t *top) pairs(p *Plan, l *layout.Layout) {
	of := map[layout.Cell]int{}
	for _, c := range t.cells {
		of[layout.Cell{c.row + 1, c.col + 1}] = t.pieces[c.piece].Cloth
	}
	type key struct {
		a, b  int
		meant layout.Meaning
	}
	at := map[key]int{}
	p.Seams = []PairSeam{}
	for _, s := range l.Seams {
		a, b := of[s.Between[0]], of[s.Between[1]]
		if a == b {
			continue
		}
		k := key{min(a, b), max(a, b), s.Meant}
		i, known := at[k]
		if !known {
			i = len(p.Seams)
			at[k] = i
			p.Seams = append(p.Seams, PairSeam{Between: [2]string{t.in.Cloths[k.a].ID, t.in.Cloths[k.b].ID},
				DeltaL: s.DeltaL, DeltaE: s.DeltaE, Clarity: s.Clarity, Verdict: s.Verdict, Meant: s.Meant, ColourAlone: s.ColourAlone})
		}
		p.Seams[i].Count++
	}
	rank := map[layout.Verdict]int{layout.Lost: 0, layout.SameCloth: 1, layout.Soft: 2, layout.Clear: 3}
	meant := map[layout.Meaning]int{layout.Contrast: 0, layout.Either: 1, layout.Blend: 2}
	slices.SortStableFunc(p.Seams, func(a, b PairSeam) int {
		return cmp.Or(cmp.Compare(meant[a.Meant], meant[b.Meant]), cmp.Compare(rank[a.Verdict], rank[b.Verdict]), cmp.Compare(b.Count, a.Count))
	})
}

// maxSwaps is how many exchanges of cloths are named at once.
const maxSwaps = 5

// swaps looks for cloths of the stash that would read better: one exchange at
// a time, that which makes most seams clear, each on top of those before it.
func (t *top) swaps(p *Plan) {
	if t.in.Given != nil || p.Reads == nil || *p.Reads >= 1 {
		return
	}
	type meeting struct{ a, b, n int }
	index := map[string]int{}
	for i, c := range t.in.Cloths {
		index[c.ID] = i
	}
	var all []meeting
	for _, s := range p.Seams {
		if s.Meant == layout.Contrast {
			all = append(all, meeting{index[s.Between[0]], index[s.Between[1]], s.Count})
		}
	}
	total := 0. // with the seams between patches of one cloth, which stay lost
	for _, s := range p.Layout.Seams {
		if s.Meant == layout.Contrast {
			total++
		}
	}
	now := slices.Clone(t.in.Cloths)
	clear := func(cloths []Cloth) int {
		n := 0
		for _, m := range all {
			if verdict(&cloths[m.a], &cloths[m.b]) == layout.Clear {
				n += m.n
			}
		}
		return n
	}
	have := clear(now)
	used := map[string]bool{}
	for range maxSwaps {
		best, with, most := -1, -1, have
		for i := range now {
			for j := range t.in.Others {
				o := &t.in.Others[j]
				if used[o.ID] || o.Doubtful || o.Group != now[i].Group || t.yieldsLess(j, p.Cloths[i].Patches) || t.turnsOver(now, i, o) {
					continue
				}
				was := now[i]
				now[i] = *o
				if n := clear(now); n > most {
					best, with, most = i, j, n
				}
				now[i] = was
			}
		}
		if best < 0 {
			return
		}
		o := t.in.Others[with]
		p.Changes = append(p.Changes, Swap{Cloth: now[best].ID, Instead: o.ID, Why: swapWhy(&now[best], &o),
			Reads: float64(most) / total, Gain: float64(most-have) / total})
		used[o.ID] = true
		now[best], have = o, most
	}
}

// turnsOver: with o in place of cloth i, a dark would be lighter than a light.
func (t *top) turnsOver(now []Cloth, i int, o *Cloth) bool {
	over := func(role, other byte, sign float64) bool {
		return slices.Contains(t.in.Roles[role], i) && slices.ContainsFunc(t.in.Roles[other], func(k int) bool {
			return sign*(o.Lightness-now[k].Lightness) <= 0
		})
	}
	return over('L', 'D', 1) || over('D', 'L', -1)
}

// yieldsLess: cloth j of the others is a scrap too small for n patches, by its
// area alone.
func (t *top) yieldsLess(j, n int) bool {
	s := t.in.Others[j].Scrap
	return s != nil && s.Area() < float64(n)*t.cut.CM()*t.cut.CM()
}

func swapWhy(was, now *Cloth) string {
	switch d := now.Lightness - was.Lightness; {
	case d > 1:
		return fmt.Sprintf("it is lighter by %.0f, and stands off from what is beside it", d)
	case d < -1:
		return fmt.Sprintf("it is darker by %.0f, and stands off from what is beside it", -d)
	}
	return "it is as light, but plainer"
}

// verdict is what a viewer makes of a seam between two cloths.
func verdict(a, b *Cloth) layout.Verdict {
	if a.ID == b.ID {
		return layout.SameCloth
	}
	return layout.VerdictOf(math.Abs(a.Lightness-b.Lightness), eye.Clarity(a.Lightness, a.Spread, b.Lightness, b.Spread), layout.DefaultLost, layout.DefaultSoft)
}

// wanted is how far apart in lightness a cloth that is still missing should be
// from what it meets: half as much again as a seam needs to be clear.
const wanted = 1.5 * layout.DefaultSoft

// lacking says what is missing: patches that the scraps do not give, and a
// cloth for a role whose cloths run into others and for which the stash has
// nothing better.
func (t *top) lacking(p *Plan) {
	t.short(p)
	if len(p.Changes) > 0 || t.in.Given != nil {
		return
	}
	worst := map[string]int{}
	for _, s := range p.Seams {
		if s.Meant == layout.Contrast && s.Verdict != layout.Clear {
			worst[s.Between[0]] += s.Count
			worst[s.Between[1]] += s.Count
		}
	}
	if m, ok := t.wantedCloth(worst); ok {
		p.Missing = append(p.Missing, m)
	}
}

// short says, role by role, how many patches the scraps do not give.
func (t *top) short(p *Plan) {
	type sum struct {
		ids               []string
		short, of         int
		lightness, weight float64
	}
	var roles []string
	sums := map[string]*sum{}
	for i, u := range p.Cloths {
		if u.Yields == nil || u.Patches <= *u.Yields || len(u.Roles) == 0 {
			continue
		}
		role := u.Roles[0]
		if sums[role] == nil {
			sums[role] = &sum{}
			roles = append(roles, role)
		}
		s, n := sums[role], u.Patches-*u.Yields
		s.ids = append(s.ids, u.ID)
		s.short, s.of = s.short+n, s.of+u.Patches
		s.lightness, s.weight = s.lightness+float64(n)*t.in.Cloths[i].Lightness, s.weight+float64(n)
	}
	for _, role := range roles {
		s := sums[role]
		m := Missing{Role: role, Lightness: round5(s.lightness / s.weight), Patches: s.short}
		if len(s.ids) == 1 {
			m.Says = fmt.Sprintf("Number %s gives %d of its %d patches: %d more, of this cloth or another %s of a lightness about %.0f.", s.ids[0], s.of-s.short, s.of, s.short, role, m.Lightness)
		} else {
			m.Says = fmt.Sprintf("%d scraps give %d of their %d %s patches: %d more, of a lightness about %.0f.", len(s.ids), s.of-s.short, s.of, role, s.short, m.Lightness)
		}
		p.Missing = append(p.Missing, m)
	}
}

// wantedCloth describes the cloth that would mend most: in place of the one
// whose seams are lost most often, far enough from all that it meets.
func (t *top) wantedCloth(worst map[string]int) (Missing, bool) {
	best, most := -1, 0
	role := byte('D')
	asked := t.in.Design.Roles()
	for _, r := range []byte("DLM") {
		if !slices.Contains(asked, r) {
			continue
		}
		for _, i := range t.in.Roles[r] {
			if n := worst[t.in.Cloths[i].ID]; n > most {
				best, most, role = i, n, r
			}
		}
	}
	if best < 0 {
		return Missing{}, false
	}
	var against []Cloth // of the roles that it has to stand off from
	for _, r := range t.in.Design.Roles() {
		for _, i := range t.in.Roles[r] {
			if r != role && r != '.' && i != best {
				against = append(against, t.in.Cloths[i])
			}
		}
	}
	if len(against) == 0 {
		return Missing{}, false
	}
	return oneMore(role, against), true
}

// oneMore describes a cloth for a role beside cloths of the others.
func oneMore(role byte, against []Cloth) Missing {
	darkest, lightest := 100., 0.
	for _, c := range against {
		darkest, lightest = min(darkest, c.Lightness), max(lightest, c.Lightness)
	}
	target, name := darkest-wanted, "dark"
	switch role {
	case 'L':
		target, name = lightest+wanted, "light"
	case 'M':
		target, name = (darkest+lightest)/2, "medium"
	}
	// Cloth is seldom darker than black cotton or lighter than bleached.
	l := round5(min(max(target, 20), 90))
	return Missing{Role: name, Lightness: l, Says: fmt.Sprintf("One more %s, about L %.0f, plain.", name, l)}
}

func round5(v float64) float64 { return 5 * math.Round(v/5) }
