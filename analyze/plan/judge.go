package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"greige/analyze/eye"
	"greige/analyze/layout"
	"greige/analyze/numerals"
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
	rows := blankRows(t.rows, t.cols)
	for _, c := range t.cells {
		p := &t.pieces[c.piece]
		role := p.Role
		if p.Part != InBlock {
			role = nearest(t.in.Cloths[p.Cloth].Lightness)
		}
		rows[c.row][c.col] = role
	}
	return &layout.Chart{Rows: asText(rows)}
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
	var seams lists[key, PairSeam]
	for _, s := range l.Seams {
		a, b := of[s.Between[0]], of[s.Between[1]]
		if a == b {
			continue
		}
		k := key{min(a, b), max(a, b), s.Meant}
		seams.of(k, func() PairSeam {
			return PairSeam{Between: [2]string{t.in.Cloths[k.a].ID, t.in.Cloths[k.b].ID},
				DeltaL: s.DeltaL, DeltaE: s.DeltaE, Clarity: s.Clarity, Verdict: s.Verdict, Meant: s.Meant, ColourAlone: s.ColourAlone}
		}).Count++
	}
	p.Seams = seams.all()
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

// lacking says, role by role, what is missing: patches that the scraps do not
// give, and a cloth for a role whose cloths run into others and for which the
// stash has nothing better.
func (t *top) lacking(p *Plan) {
	unread, at, target := byte(0), -1, 0.
	if len(p.Changes) == 0 && t.in.Given == nil {
		unread, at, target = t.unread(p)
	}
	short := t.short(p)
	for _, role := range []byte("LMD.") {
		s, known := short[role]
		m := Missing{Role: roleNames[role], Patches: s.short}
		switch {
		case role == unread:
			m.Lightness = target
			if u := p.Cloths[at]; u.Yields != nil { // the new cloth gives all that this one should
				m.Patches += min(u.Patches, *u.Yields)
			}
			m.Says = sayOneMore(m) + "."
		case known:
			m.Lightness = round5(s.lightness / float64(s.short))
			say := numerals.Alike(len(s.ids), s.of)
			have := "number " + s.ids[0] + " gives"
			if len(s.ids) > 1 {
				have = "the " + say(len(s.ids)) + " scraps give"
			}
			got := "none"
			if s.of > s.short {
				got = say(s.of - s.short)
			}
			m.Says = fmt.Sprintf("%s: %s %s of the %s.", sayOneMore(m), have, got, say(s.of))
		default:
			continue
		}
		p.Missing = append(p.Missing, m)
	}
}

func sayOneMore(m Missing) string {
	says := fmt.Sprintf("One more %s, about L %.0f, plain", m.Role, m.Lightness)
	if m.Role == roleNames['.'] {
		says = fmt.Sprintf("One more cloth, about L %.0f, plain", m.Lightness)
	}
	if m.Patches > 0 {
		says += ", " + numerals.Some(m.Patches, "patch", "patches")
	}
	return says
}

// shortage is what the scraps of a role do not give.
type shortage struct {
	ids       []string
	short, of int     // patches
	lightness float64 // sum over the patches that fall short
}

// short sums up, role by role, the patches of scraps where these do not give all.
func (t *top) short(p *Plan) map[byte]shortage {
	sums := map[byte]shortage{}
	for i, u := range p.Cloths {
		if u.Yields == nil || u.Patches == 0 {
			continue
		}
		role := byte('.')
		for _, r := range []byte("DML") {
			if slices.Contains(t.in.Roles[r], i) {
				role = r
			}
		}
		s, lacks := sums[role], max(u.Patches-*u.Yields, 0)
		s.ids = append(s.ids, u.ID)
		s.short, s.of = s.short+lacks, s.of+u.Patches
		s.lightness += float64(lacks) * t.in.Cloths[i].Lightness
		sums[role] = s
	}
	for role, s := range sums {
		if s.short == 0 {
			delete(sums, role)
		}
	}
	return sums
}

// unread is the role for which one other cloth would mend most, in place of the
// cloth whose seams are lost most often (at, in Input.Cloths), and how light it
// should be; role is 0 where all seams that should show are clear. Of roles that are as bad it is one
// whose cloths the program picked.
func (t *top) unread(p *Plan) (role byte, at int, lightness float64) {
	worst := map[string]int{}
	for _, s := range p.Seams {
		if s.Meant == layout.Contrast && s.Verdict != layout.Clear {
			worst[s.Between[0]] += s.Count
			worst[s.Between[1]] += s.Count
		}
	}
	most := 0
	at = -1
	asked := t.in.Design.Roles()
	for _, r := range []byte("DLM") {
		if !slices.Contains(asked, r) {
			continue
		}
		for _, i := range t.in.Roles[r] {
			n := 2 * worst[t.in.Cloths[i].ID]
			if n > 0 && slices.Contains(t.in.Picked, r) {
				n++
			}
			if n > most {
				at, most, role = i, n, r
			}
		}
	}
	var against []Cloth // of the roles that it has to stand off from
	for _, r := range asked {
		for _, i := range t.in.Roles[r] {
			if r != role && r != '.' && i != at {
				against = append(against, t.in.Cloths[i])
			}
		}
	}
	if at < 0 || len(against) == 0 {
		return 0, -1, 0
	}
	return role, at, besides(role, against)
}

// besides is how light a cloth for a role should be beside cloths of the others.
func besides(role byte, against []Cloth) float64 {
	darkest, lightest := 100., 0.
	for _, c := range against {
		darkest, lightest = min(darkest, c.Lightness), max(lightest, c.Lightness)
	}
	target := darkest - wanted
	switch role {
	case 'L':
		target = lightest + wanted
	case 'M':
		target = (darkest + lightest) / 2
	}
	// Cloth is seldom darker than black cotton or lighter than bleached.
	return round5(min(max(target, 20), 90))
}

func round5(v float64) float64 { return 5 * math.Round(v/5) }
