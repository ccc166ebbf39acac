package colorspace

// Name is the colour name of c in the ISCC-NBS system, one of 267, in lower
// case, as "deep purplish red". It is the name of the block of Munsell hue,
// value and chroma that the colour falls in, as the system defines it, not
// that of the nearest block centre: blocks are of unequal size, so near
// white, grey and black, between "light" and "dark", and among the strong
// colours the nearest centre is often another block's. A colour exactly on a
// limit belongs to the higher hue, the lighter value, the stronger chroma.
// The empty string for a colour that is not finite.
//
// Source: Kelly and Judd 1976, NBS Special Publication 440.
func Name(c Lab) string {
	if !finite(c) {
		return ""
	}
	return colourNames[NameNumber(MunsellOf(c))-1]
}

// finite is whether none of c's numbers is infinite or not a number.
func finite(c Lab) bool {
	return c.L-c.L+c.A-c.A+c.B-c.B == 0 // inf - inf and anything with NaN is NaN
}

// NameNumber is the number, 1..267, of m's colour name in the ISCC-NBS
// system; 0 for an m that is out of range (MunsellOf gives none).
func NameNumber(m Munsell) int {
	h := m.Hue
	if h < 1 { // the charts run from 1R round to 1R
		h += 100
	}
	v := min(m.Value, 9.999) // white belongs to the topmost blocks
	for i := range nameCharts {
		chart := &nameCharts[i]
		if h < chart.from || h >= chart.to {
			continue
		}
		for _, b := range chart.blocks {
			if b.v0 <= v && v < b.v1 && b.c0 <= m.Chroma && m.Chroma < b.c1 {
				return b.number
			}
		}
	}
	return 0
}
