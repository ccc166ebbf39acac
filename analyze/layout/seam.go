package layout

import (
	"math"

	"greige/analyze/camera"
	"greige/analyze/eye"
	"greige/colorspace"
)

// VerdictOf judges a seam between two different cloths by its difference of
// L* and its clarity: lost under lost, soft under soft or under eye.Clear.
func VerdictOf(deltaL, clarity, lost, soft float64) Verdict {
	switch {
	case deltaL < lost:
		return Lost
	case deltaL < soft || clarity < eye.Clear:
		return Soft
	}
	return Clear
}

// guidance is the difference of light reflectance values (CIE Y, 0..100) that
// keeps neighbouring surfaces apart for people who see poorly
// (BS 8300-2:2018, annex B).
const guidance = 30

// hueApart is the CIEDE2000 between two colours, made equally light, from
// which on the colour alone is taken to show where one ends: some four times
// the just noticeable difference of 2.3 (Mahy and others 1994), because a seam
// has to be seen from across the room. The factor is common practice, no
// source.
const hueApart = 10

// colourApart is the CIEDE2000 that two colours have by colour alone: between
// the two at their mean L*.
func colourApart(a, b colorspace.Lab) float64 {
	m := (a.L + b.L) / 2
	a.L, b.L = m, m
	return colorspace.CIEDE2000(a, b)
}

// seams judges every edge, once the same cloths and what is meant are known.
func (t *top) seams(meant func(edge) Meaning) []Seam {
	out := make([]Seam, len(t.edges))
	for i, e := range t.edges {
		a, b := &t.patches[e.a], &t.patches[e.b]
		s := Seam{
			Between: [2]Cell{a.cell(), b.cell()},
			DeltaL:  math.Abs(a.Lightness - b.Lightness),
			DeltaE:  colorspace.CIEDE2000(a.Lab, b.Lab),
			Clarity: eye.Clarity(a.Lightness, a.Spread, b.Lightness, b.Spread),
			Meant:   meant(e),
		}
		s.Guidance30 = 100*math.Abs(colorspace.LuminanceOf(a.Lightness)-colorspace.LuminanceOf(b.Lightness)) >= guidance
		s.Verdict = VerdictOf(s.DeltaL, s.Clarity, t.lost, t.soft)
		s.Sure = camera.Within(s.DeltaL, a.apart(b), t.lost)
		if s.Verdict != Lost {
			s.Sure = 1 - s.Sure
		}
		if a.Fabric == b.Fabric {
			s.Verdict, s.Sure = SameCloth, 0
		}
		s.ColourAlone = s.Verdict == Lost && colourApart(a.Lab, b.Lab) >= hueApart
		switch s.Meant {
		case Contrast:
			s.OK = s.Verdict == Clear
		case Blend:
			s.OK = s.Verdict != Clear
		default:
			s.OK = true
		}
		out[i] = s
	}
	return out
}

// redGreen lists the seams that are to be seen and that colour alone carries,
// of which a viewer without long-wave or without middle-wave cones is left
// with less than hueApart, and with less than half of what others see.
func (t *top) redGreen(seams []Seam) []RedGreen {
	var out []RedGreen
	for i, s := range seams {
		if !s.ColourAlone || s.Meant == Blend {
			continue
		}
		a, b := t.patches[t.edges[i].a].Lab, t.patches[t.edges[i].b].Lab
		weak := s.DeltaE
		for _, d := range []colorspace.Deficiency{colorspace.Protan, colorspace.Deutan} {
			weak = min(weak, colorspace.CIEDE2000(
				colorspace.Simulate(a.Linear(), d).Lab(), colorspace.Simulate(b.Linear(), d).Lab()))
		}
		if weak < hueApart && weak < s.DeltaE/2 {
			out = append(out, RedGreen{Between: s.Between, DeltaE: s.DeltaE, Weak: weak})
		}
	}
	return out
}
