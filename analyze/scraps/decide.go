package scraps

import (
	"fmt"
	"math"
)

// evidence is what tells a table with scraps from one cloth edge to edge,
// whose figures lie on its ground as scraps do on a table.
type evidence struct {
	parts   int
	shade   float64 // usual depth of the shadow at their edges, L*
	border  float64 // share of the photo's border that is ground
	kinds   float64 // different colours among the parts, by their number
	largest float64 // share of the photo that the largest part covers
	cut     float64 // share of the parts that the photo's border cuts
	rough   float64 // standard deviation of the ground's own pixels, L*
}

const (
	// A scrap lies on the ground and darkens it by its edge; a figure is
	// printed.
	halfShade = .35 // L*, at which either is as likely
	// What is darker by more all round is no shadow, but a figure's rim.
	mostShade = 8
	// Carpets and planks are as rough as this; woven squares are rougher.
	mostRough = 4.5 // L*
	// Scraps are laid within the photo; a print goes on beyond it.
	halfBorder = .8
	// Few scraps lie half outside the photo.
	halfCut = .15
	// Figures of a print come again and again; scraps differ.
	halfKinds  = .25
	kindColour = 10 // CIELAB, under which two parts are of one kind
	fewParts   = 6  // too few for kinds to tell
	// A print has any number of figures, a table no more than it holds.
	mostParts = 250
	mostCover = .45 // of the photo by one scrap
)

// scraps is above 0 for scraps on a table and below for one cloth; beyond 1
// or -1 it is as good as sure.
func (e *evidence) scraps() float64 {
	clamp := func(v, most float64) float64 { return min(max(v, -most), most) }
	sum := max(min((e.border-halfBorder)/.1, 1.5), -3)
	if e.shade < mostShade {
		sum += clamp((e.shade-halfShade)/.15, 3)
	}
	if e.parts >= fewParts {
		sum -= min(max((e.cut-halfCut)/.1, 0), 2)
		// The more of one kind there are, the less by chance.
		sum += max(min((e.kinds-halfKinds)/.1, 1.5), -min(1+float64(e.parts)/30, 3))
	}
	if e.parts > mostParts {
		sum -= 3
	}
	sum -= clamp(max(e.largest-mostCover, 0)/.1, 3)
	sum -= clamp(max(e.rough-mostRough, 0)/1.5, 3)
	return sum
}

// weigh gathers the evidence from the parts of a photo.
func (s *search) weigh(sm *small, g *ground, ps []part, label []int32) evidence {
	e := evidence{parts: len(ps), shade: s.shades(ps, label), border: g.border, rough: s.sd[0]}
	if s.ink != nil { // the lines of a mat run over its border, and are no figures
		e.border = max(e.border, s.openBorder(label))
	}
	var kinds []ink
	for i := range ps {
		if p := &ps[i]; p.x0 == 0 || p.y0 == 0 || p.x1 == s.w || p.y1 == s.h {
			e.cut += 1 / float64(len(ps))
		}
		e.largest = max(e.largest, float64(len(ps[i].px))/float64(s.w*s.h))
		var m ink
		for _, j := range ps[i].px {
			m.l += sm.l[j]
			m.a += sm.a[j]
			m.b += sm.b[j]
		}
		n := float32(len(ps[i].px))
		m.l, m.a, m.b = m.l/n, m.a/n, m.b/n
		known := false
		for _, k := range kinds {
			known = known || sq32(k.l-m.l)+sq32(k.a-m.a)+sq32(k.b-m.b) < kindColour*kindColour
		}
		if !known {
			kinds = append(kinds, m)
		}
	}
	e.kinds = float64(len(kinds)) / math.Max(float64(len(ps)), 1)
	return e
}

// openBorder is how much of the photo's outermost pixels no part covers, of
// those that label numbers.
func (s *search) openBorder(label []int32) float64 {
	const wide = 2 * cellSide
	open, all := 0, 0
	for i, l := range label {
		if x, y := i%s.w, i/s.w; min(x, y, s.w-1-x, s.h-1-y) < wide {
			all++
			if l == 0 {
				open++
			}
		}
	}
	return float64(open) / float64(all)
}

// Notes are whole sentences without the photo's name.

func oneCloth(why string) Found {
	return Found{Notes: []string{"Taken as one cloth, edge to edge: " + why + "."}}
}

// scrapsNote says what was found on a table.
func scrapsNote(sure, doubtful int, score float64) string {
	n := "Taken as scraps on a plain ground: "
	switch sure {
	case 1:
		n += "one piece was found"
	default:
		n += fmt.Sprintf("%d pieces were found", sure)
	}
	switch doubtful {
	case 0:
	case 1:
		n += ", and one thing that may be no cloth"
	default:
		n += fmt.Sprintf(", and %d things that may be no cloth", doubtful)
	}
	if score < 1 {
		n += ". This is not certain: if the photo shows one cloth, say so with --scraps one"
	}
	return n + "."
}
