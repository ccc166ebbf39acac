package layout

import (
	"fmt"
	"math"
	"slices"

	"greige/colorspace"
)

func (t *top) judge() Layout {
	cloths := t.sameCloths()
	p, second := t.findPattern(cloths)
	out := t.judgeBy(&p, cloths)
	if second != nil {
		out.Other = t.otherReading(second, cloths, &out)
	}
	return out
}

// judgeBy judges the top by the pattern p.
func (t *top) judgeBy(p *pattern, cloths []int) Layout {
	cloths = t.joinPieces(cloths, p.pieces)
	out := Layout{
		Rows: t.rows, Cols: t.cols, Setting: t.in.Setting, Corners: t.in.Corners, GridFound: t.in.GridFound,
		Pattern: p.Pattern, Fabrics: t.fabrics(cloths), Changes: []Change{},
	}
	if p.remark != "" {
		out.Remarks = append(out.Remarks, p.remark)
	}
	out.Pattern.Fit = t.readAll(p)
	out.Seams = t.seams(func(e edge) Meaning { return contrastOf(p.tones[e.a], p.tones[e.b]) })
	out.RedGreen = t.redGreen(out.Seams)
	out.Reads = readsOf(out.Seams, nil)
	out.Blocks = t.blockReads(p, out.Seams)
	var remarks []string
	out.Changes, out.Wanted, remarks = t.changes(p, out.Seams)
	out.Remarks = append(out.Remarks, remarks...)
	out.Patches = t.patches
	return out
}

// fabrics numbers the cloths from 1 in reading order and gives each patch its
// number. A fabric's colour is the mean of its patches' light.
func (t *top) fabrics(cloths []int) []Fabric {
	number := map[int]int{}
	var out []Fabric
	var light []colorspace.Linear
	for i, c := range cloths {
		p := &t.patches[i]
		id, known := number[c]
		if !known {
			id = len(out) + 1
			number[c] = id
			out = append(out, Fabric{ID: id})
			light = append(light, colorspace.Linear{})
		}
		p.Fabric = id
		out[id-1].Patches = append(out[id-1].Patches, p.cell())
		l := p.Lab.Linear()
		for k := range l {
			light[id-1][k] += l[k]
		}
	}
	for i := range out {
		for k := range light[i] {
			light[i][k] /= float64(len(out[i].Patches))
		}
		out[i].Lab = light[i].Lab()
	}
	return out
}

// inPiece widens sameLimit for patches that the pattern holds to be one piece
// of cloth, such as a plain block: before they are measured, that they are one
// is many times as likely as for any two patches of the top, and a large print
// is cut through by the grid where it happens to fall.
const inPiece = 5

// joinPieces takes the patches of one piece for one cloth, but for those that
// are too different to be.
func (t *top) joinPieces(cloths []int, pieces []int32) []int {
	if pieces == nil {
		return cloths
	}
	out := slices.Clone(cloths)
	for _, mates := range members(pieces) {
		if len(mates) < 2 {
			continue
		}
		// The cloth most of the piece is of; of equals, the first.
		most, best := 0, -1
		for _, i := range mates {
			n := 0
			for _, j := range mates {
				if cloths[j] == cloths[i] {
					n++
				}
			}
			if n > most {
				most, best = n, i
			}
		}
		first := newSample(&t.patches[best])
		for _, i := range mates {
			s := newSample(&t.patches[i])
			d := pairDistance(&first, &s)
			if d < sameLimit || d < inPiece*sameLimit && sameInks(&first, &s) {
				out[i] = cloths[best]
			}
		}
	}
	return out
}

// members lists the patches of each piece.
func members(pieces []int32) [][]int {
	var out [][]int
	for i, p := range pieces {
		for int(p) >= len(out) {
			out = append(out, nil)
		}
		if p >= 0 {
			out[p] = append(out[p], i)
		}
	}
	return out
}

// readAll says of each patch how it reads, what is meant, and whether it
// stands against that; it returns the share of patches that do not.
func (t *top) readAll(p *pattern) (fit float64) {
	if p.none() {
		for i := range t.patches {
			t.patches[i].Reads = t.readingAlone(i).role()
		}
		return 0
	}
	sc := t.measureScale(p.tones, p.ownPieces(), p.block)
	sc.kin = t.kinOdds(p.tones)
	own := matesOf(p.ownPieces())
	strips := t.stripsOf(p)
	agree, asked := 0, 0
	for i := range t.patches {
		lightness := t.patches[i].Lightness
		if own != nil && own[i] != nil {
			lightness = t.pieceLightness(i, own[i]) // it is one piece, and stands or falls as one
		}
		reads, misplaced := t.readingOf(lightness, i, p.tones, &sc)
		if v := t.outOfStrip(i, p.tones, &sc, strips); v != toneAny {
			reads, misplaced = v, true
		}
		t.patches[i].Reads, t.patches[i].Meant, t.patches[i].Misplaced = reads.role(), p.tones[i].role(), misplaced
		if p.tones[i] != toneAny {
			asked++
			if !misplaced {
				agree++
			}
		}
	}
	if asked == 0 {
		return 0
	}
	return float64(agree) / float64(asked)
}

// pieceLightness is the mean L* of the patches of a piece that are of patch
// i's cloth.
func (t *top) pieceLightness(i int, mates []int) float64 {
	sum, n := 0., 0.
	for _, j := range mates {
		if t.patches[j].Fabric == t.patches[i].Fabric {
			sum += t.patches[j].Lightness
			n++
		}
	}
	return sum / n
}

// stripsOf lists for each patch the patches of its rail or stripe; nil for
// patterns of neither.
func (t *top) stripsOf(p *pattern) [][]int {
	switch {
	case p.pieces != nil && !p.plain:
		return matesOf(p.pieces)
	case p.along != [2]int{}:
		number := make([]int32, len(t.patches))
		for i := range number {
			number[i] = int32((t.patches[i].Row-1)*p.along[1] + (t.patches[i].Col-1)*p.along[0])
		}
		return matesOf(number)
	}
	return nil
}

// outOfStrip is the tone that a patch reads as when its strip is of one cloth
// and it is of another, nearer in lightness to another tone than to the strip;
// toneAny when not.
func (t *top) outOfStrip(i int, tones []tone, sc *scale, strips [][]int) tone {
	if strips == nil || strips[i] == nil || tones[i] == toneAny {
		return toneAny
	}
	count := map[int]int{}
	most := 0
	for _, j := range strips[i] {
		f := t.patches[j].Fabric
		if count[f]++; count[f] > count[most] || most == 0 {
			most = f
		}
	}
	others := len(strips[i]) - 1
	if most == t.patches[i].Fabric || others < 2 || 5*count[most] < 4*others {
		return toneAny
	}
	strip := 0.
	for _, j := range strips[i] {
		if t.patches[j].Fabric == most {
			strip += t.patches[j].Lightness / float64(count[most])
		}
	}
	l := t.patches[i].Lightness
	reads, nearest := toneAny, math.Abs(l-strip)-1.96*t.patches[i].sigma()
	for v := toneLight; v <= toneDark; v++ {
		if d := math.Abs(l - sc.levels[i][v]); v != tones[i] && sc.has[v] && d < nearest {
			reads, nearest = v, d
		}
	}
	return reads
}

// readsOf is the share of the seams meant to contrast that are clear, among
// those that count (nil: all); nil when there is none.
func readsOf(seams []Seam, counts func(i int) bool) *float64 {
	clear, asked := 0., 0.
	for i, s := range seams {
		if s.Meant != Contrast || counts != nil && !counts(i) {
			continue
		}
		asked++
		if s.Verdict == Clear {
			clear++
		}
	}
	if asked == 0 {
		return nil
	}
	share := clear / asked
	return &share
}

func (t *top) blockReads(p *pattern, seams []Seam) []Block {
	if len(p.blocks) == 0 {
		return nil
	}
	clear, asked := make([]float64, len(p.blocks)), make([]float64, len(p.blocks))
	for i, s := range seams {
		if s.Meant != Contrast {
			continue
		}
		a, b := p.block[t.edges[i].a], p.block[t.edges[i].b]
		for _, k := range []int32{a, b} {
			if k >= 0 {
				asked[k]++
				if s.Verdict == Clear {
					clear[k]++
				}
			}
			if a == b {
				break
			}
		}
	}
	out := make([]Block, len(p.blocks))
	for k, b := range p.blocks {
		out[k] = Block{From: Cell{b.row + 1, b.col + 1}, To: Cell{b.rowEnd, b.colEnd}, Plain: b.plain}
		if asked[k] > 0 {
			share := clear[k] / asked[k]
			out[k].Reads = &share
		}
	}
	return out
}

func at(c Cell) string { return fmt.Sprintf("row %d, patch %d", c[0], c[1]) }
