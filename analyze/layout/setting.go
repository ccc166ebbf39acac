package layout

import (
	"slices"
)

// setting marks what fills the edges of a top on point: the triangles' own
// cloth, if they have one, as far as it reaches in from them.
func (t *top) setting(cloths []int) []bool {
	// deep is how many squares from the edge half a block reaches.
	const deep = 3
	out := make([]bool, len(t.patches))
	count := map[int]int{}
	triangles, main := 0, -1
	for i := range t.patches {
		if t.patches[i].Shape == "" {
			continue
		}
		triangles++
		count[cloths[i]]++
		if main < 0 || count[cloths[i]] > count[main] {
			main = cloths[i]
		}
	}
	if triangles == 0 || 2*count[main] < triangles {
		return out
	}
	var reached []int
	for i := range t.patches {
		if t.patches[i].Shape != "" && cloths[i] == main {
			out[i] = true
			reached = append(reached, i)
		}
	}
	for range deep {
		var next []int
		for _, i := range reached {
			for _, k := range t.edgesOf[i] {
				if j := t.edges[k].a + t.edges[k].b - i; !out[j] && cloths[j] == main {
					out[j] = true
					next = append(next, j)
				}
			}
		}
		reached = next
	}
	return out
}

// edging marks the triangles, and the squares that belong with them: all that
// lie outside a single block, and those of the triangles' cloth, joined to
// them, that are against the pattern.
func (t *top) edging(l *labelling, cloths []int) []bool {
	setting := t.setting(cloths)
	one, side := t.oneBlock(setting)
	out := make([]bool, len(t.patches))
	rest := slices.Clone(l.tones) // which says what is light and dark
	for i := range out {
		if t.patches[i].Shape != "" || side > 0 && !one.holds(&t.patches[i]) {
			out[i], rest[i] = true, toneAny
		}
	}
	if side > 0 {
		return out
	}
	triangles, found := 0, 0
	for i := range out {
		if out[i] {
			triangles++
		}
	}
	squares := slices.Clone(out)
	for range 2 { // without those found at first, the others show better
		sc := t.measureScale(rest, nil, l.block)
		for i := range out {
			if _, against := t.reading(i, l.tones, &sc); against && setting[i] && !squares[i] {
				squares[i], rest[i] = true, toneAny
				found++
			}
		}
	}
	// Half blocks all round have many such squares. A few are misplaced.
	if edgingFrom*found >= triangles {
		return squares
	}
	return out
}

// edgingFrom: a square for so many triangles is the least that half blocks
// round a top on point have against the pattern.
const edgingFrom = 5

// releaseSetting asks nothing of what fills the edges of a top on point unless
// it goes on with the pattern. It comes in half blocks of one cloth, or in
// triangles only.
func (t *top) releaseSetting(p *pattern, edging []bool, cloths []int) {
	setting := t.setting(cloths)
	inBlock, patches := make([]int, len(p.blocks)), make([]int, len(p.blocks))
	for i := range t.patches {
		if p.block != nil && p.block[i] >= 0 {
			patches[p.block[i]]++
			if setting[i] {
				inBlock[p.block[i]]++
			}
		}
	}
	filling := func(i int) bool {
		if edging[i] {
			return true
		}
		if !setting[i] || p.tones[i] == toneAny || p.block == nil || p.block[i] < 0 {
			return false
		}
		b := p.block[i]
		return !p.blocks[b].whole && 4*inBlock[b] >= 3*patches[b]
	}
	rest := slices.Clone(p.tones) // which alone says what is light and dark
	any := false
	for i := range rest {
		if filling(i) {
			rest[i] = toneAny
			any = true
		}
	}
	if !any {
		return
	}
	sc := t.measureScale(rest, p.ownPieces(), p.block)
	agree, fillings, ownCloth := 0, 0, 0
	var meant [toneCount]int
	for i := range t.patches {
		if !filling(i) {
			continue
		}
		fillings++
		meant[p.tones[i]]++
		if setting[i] {
			ownCloth++
		}
		if p.tones[i] == toneAny || sc.against(t.patches[i].Lightness, i, p.tones[i]) < .5 {
			agree++
		}
	}
	// One cloth all round does not follow a pattern that has lights and darks
	// there; of several cloths, one in ten may stand against it.
	oneCloth := 2*ownCloth >= fillings && slices.Max(meant[:]) < fillings
	if 10*agree >= 9*fillings && !oneCloth {
		return
	}
	for i := range t.patches {
		if filling(i) {
			p.tones[i] = toneAny
			if p.pieces != nil {
				p.pieces[i] = -1
			}
		}
	}
}
