package colorspace

import (
	"slices"
	"strings"
	"sync"
)

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
	return colourNames()[NameNumber(MunsellOf(c))-1].name
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
	for _, b := range nameBlocks() {
		if b.h0 <= h && h < b.h1 && b.v0 <= v && v < b.v1 && b.c0 <= m.Chroma && m.Chroma < b.c1 {
			return b.number
		}
	}
	return 0
}

// nameBlock is a piece of one of the 31 colour-name charts: from and to in
// Munsell hue (ASTM D1535 numbers, 1 up to 101), in value and in chroma, and the
// number of the colour name, 1..267. The upper limits do not belong to it.
type nameBlock struct {
	h0, h1, v0, v1, c0, c1 float64
	number                 int
}

// nameBlocks cover every hue, value and chroma once.
//
// Source: Kelly and Judd 1976, "Color: Universal Language and Dictionary of
// Names", NBS Special Publication 440 (US government work), section 13, the
// colour-name charts on pp. 16 to 31.
var nameBlocks = sync.OnceValue(func() (blocks []nameBlock) {
	for _, line := range readTable("name_charts.csv") {
		f := figures(line)
		blocks = append(blocks, nameBlock{f[0], f[1], f[2], f[3], f[4], f[5], int(f[6])})
	}
	return blocks
})

// Centroids are the colours that a name of the ISCC-NBS system stands for: the
// centre of the block that is called so (Kelly 1958, J. Res. NBS 61:427, as CIELAB
// under D65 by the Munsell renotation). Of words that are no whole name, such as
// "pink" or "yellowish pink", they are all blocks whose name holds these words and
// ends with the last of them. Grey may be spelled either way, and capitals do not
// count. Nil where nothing is called so.
func Centroids(name string) []Lab {
	words := strings.Fields(strings.ReplaceAll(strings.ToLower(name), "grey", "gray"))
	if len(words) == 0 {
		return nil
	}
	var out []Lab
	for _, c := range colourNames() {
		of := strings.Fields(c.name)
		if slices.Equal(of, words) {
			return []Lab{c.centroid}
		}
		if of[len(of)-1] == words[len(words)-1] && !slices.ContainsFunc(words, func(w string) bool { return !slices.Contains(of, w) }) {
			out = append(out, c.centroid)
		}
	}
	return out
}

// colourName is a name with the centre of its block, to a hundredth.
type colourName struct {
	name     string
	centroid Lab
}

// colourNames are the 267 names; number n stands at n-1.
var colourNames = sync.OnceValue(func() (names []colourName) {
	for _, line := range readTable("iscc_nbs_267.csv") {
		f := figures(line[4:7])
		names = append(names, colourName{line[1], Lab{f[0], f[1], f[2]}})
	}
	return names
})
