package layout

import (
	"fmt"
	"slices"
	"strings"
)

// A repeat is one way to lay lights and darks that comes again and again: a
// tile of tones with what is known of how it is sewn. It can start anywhere in
// a top.
type repeat struct {
	name       string   // in the trade's words
	turned     string   // the name when the top is on point, where it differs
	keys       []string // the names of ChartNames that mean it
	rows, cols int      // of the tile
	tile       []tone   // row by row
	// piece numbers the pieces of one cloth that cover several cells of the
	// tile (a plain block, a rail), from 1; 0 is a patch of its own. nil: all
	// are patches of their own.
	piece []uint8
	// block is the pitch of the blocks in rows and columns; 0 where the
	// repeat has no blocks. Blocks begin where the tile begins.
	block [2]int
	sash  int  // how many of the block's pitch are sashing: 0 or 1
	plain bool // alternate blocks are plain: piece covers a whole block
	fixed bool // the tile begins in row 1, column 1 and nowhere else
	// least is the rows and the columns that a top needs before the repeat
	// can be told.
	least [2]int
	// atLeast is what the rows and columns together have to be.
	atLeast int
	// cost is the length, in nats, of saying that this repeat is meant: the
	// more usual, the shorter.
	cost float64
}

func (r *repeat) toneAt(row, col int) tone { return r.tile[(row%r.rows)*r.cols+col%r.cols] }

// fits: the top is large enough for the repeat to be told.
func (r *repeat) fits(t *top) bool {
	return t.rows >= r.least[0] && t.cols >= r.least[1] && t.rows+t.cols >= r.atLeast
}

// chart is the tile begun at a phase, cut to what shows in a top.
func (r *repeat) chart(phase [2]int, rows, cols int) []string {
	out := make([]string, min(r.rows, rows))
	for i := range out {
		line := make([]byte, min(r.cols, cols))
		for j := range line {
			line[j] = letters[r.toneAt(i+phase[0], j+phase[1])]
		}
		out[i] = string(line)
	}
	return out
}

// How usual the families of repeats are among pieced tops, as far as makers
// of patchwork can say: common practice, no source. They need not add up to 1.
// A factor of two here moves an answer only where a handful of patches have to
// decide.
const (
	usualCheckerboard  = .15
	usualBoardOfBlocks = .15
	usualNinePatch     = .15
	usualOtherNine     = .05
	usualOtherFour     = .03
	usualAlternate     = .20 // n = 3; the other sizes are rarer
	usualSashing       = .10
	usualRails         = .10
	usualOther         = .02
	usualNone          = .1
	// usualNotByTurns is how usual a block of two values is in which they do
	// not come by turns.
	usualNotByTurns = .1
	// usualStart is how usual it is that a straight set begins with a whole
	// block in its corner.
	usualStart = .5
	// usualMediums is how usual a pattern of three values is beside the same
	// of two; strips are often of three.
	usualMediums      = .08
	usualMediumStrips = .2
)

// usualStripes is the same for stripes, by the number of stripes until they
// come again: the longer, the rarer.
var usualStripes = [...]float64{2: .07, 3: .05, 4: .02, 5: .005, 6: .005}

// maxBlock is the largest pieced block that is looked for, in patches a side.
const maxBlock = 5

// catalogue lists the repeats that have names. Those of one family share its
// prior; phases are counted where they are tried.
func catalogue() []repeat {
	var all []repeat
	mediums := float64(usualMediums)
	add := func(usual float64, family []repeat) {
		for i := range family {
			family[i].cost += logInv(usual / float64(len(family)))
			switch {
			case slices.Contains(family[i].tile, toneMedium):
				family[i].cost += logInv(mediums)
			case usual <= usualOtherNine: // two values, but not by turns
				family[i].cost += logInv(usualNotByTurns)
			}
		}
		all = append(all, family...)
	}
	add(usualCheckerboard, []repeat{checkerboard()})
	for n := 2; n <= 4; n++ {
		add(usualBoardOfBlocks/3, boards(n))
	}
	add(usualNinePatch, ninePatches(true))
	add(usualOtherNine, ninePatches(false))
	add(usualOtherFour, fourPatches())
	for n := 2; n <= maxBlock; n++ {
		usual := float64(usualAlternate)
		if n != 3 {
			usual /= 4
		}
		add(usual, alternates(usualBlocks(n)))
	}
	add(usualOtherNine/5, alternates(otherBlocks()))
	for n := 2; n <= 4; n++ {
		add(usualSashing/3, sashed(usualBlocks(n)))
	}
	add(usualOtherNine/5, sashed(otherBlocks()))
	add(usualSashing/4, sashed(railBlocks()))
	mediums = usualMediumStrips
	for n, usual := range usualStripes {
		if usual > 0 {
			add(usual, stripes(n))
		}
	}
	for n := 2; n <= 4; n++ {
		add(usualRails/3, rails(n))
	}
	return all
}

// The names for --chart, in the order of the help text.
var chartNames = []string{
	"checkerboard", "four-patch", "nine-patch", "nine-patch-dark-corners", "nine-patch-light-corners", "nine-patch-three-values", "sixteen-patch",
	"four-patch-alternate-blocks", "nine-patch-alternate-blocks", "nine-patch-dark-corners-alternate-blocks",
	"nine-patch-light-corners-alternate-blocks", "sixteen-patch-alternate-blocks",
	"four-patch-sashing", "nine-patch-sashing", "sixteen-patch-sashing",
	"rails", "stripes-across", "stripes-down", "diagonal-stripes", "none",
}

// ChartNames are the patterns that can be given by name, in the order for a
// help text. "none" says that the top has no repeat.
func ChartNames() []string { return slices.Clone(chartNames) }

// ChartByName is the chart of a name of ChartNames; capitals and spaces or
// commas for the hyphens are let pass.
func ChartByName(name string) (Chart, error) {
	key := strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return r == ' ' || r == ',' || r == '-' || r == '_'
	}), "-")
	if !slices.Contains(chartNames, key) {
		return Chart{}, fmt.Errorf("no pattern is called %q: the names are %s", name, strings.Join(chartNames, ", "))
	}
	return Chart{Name: key}, nil
}

// checkered is an n x n block, a light and a dark alternating.
func checkered(n int, corner tone) []tone {
	out := make([]tone, n*n)
	for i := range out {
		out[i] = corner
		if (i/n+i%n)%2 == 1 {
			out[i] = opposite(corner)
		}
	}
	return out
}

func opposite(n tone) tone {
	switch n {
	case toneLight:
		return toneDark
	case toneDark:
		return toneLight
	}
	return n
}

func checkerboard() repeat {
	return repeat{name: "checkerboard", keys: []string{"checkerboard", "four-patch", "sixteen-patch"},
		rows: 2, cols: 2, tile: checkered(2, toneDark), least: [2]int{2, 2}}
}

// boards are checkerboards that are made of n x n blocks, each of its own
// cloths.
func boards(n int) []repeat {
	if n%2 == 1 { // dark and light corners by turns
		return []repeat{{name: "nine patch, dark and light corners by turns", keys: []string{"nine-patch"},
			rows: 2 * n, cols: 2 * n, tile: checkered(2*n, toneDark), block: [2]int{n, n}, least: [2]int{n, n}}}
	}
	name, keys := blockName(n, toneAny)
	var out []repeat
	for _, corner := range []tone{toneDark, toneLight} {
		out = append(out, repeat{name: name, keys: keys, rows: n, cols: n, tile: checkered(n, corner), block: [2]int{n, n}, least: [2]int{n, n}})
	}
	return out
}

// hasBoth: a pattern of value needs lights and darks.
func hasBoth(tile []tone) bool {
	return slices.Contains(tile, toneLight) && slices.Contains(tile, toneDark)
}

// ninePatches are the nine patches set side by side: the usual two, or all
// other ways of giving the corners, the sides and the centre a tone.
func ninePatches(usual bool) []repeat {
	var out []repeat
	for _, t := range toneSequences(3, true) {
		corner, side, centre := t[0], t[1], t[2]
		if (corner == centre && side == opposite(corner) && corner != toneMedium) != usual {
			continue
		}
		r := repeat{rows: 3, cols: 3, block: [2]int{3, 3}, least: [2]int{3, 3},
			tile: []tone{corner, side, corner, side, centre, side, corner, side, corner}}
		r.name, r.keys = ninePatchName(corner, side, centre)
		out = append(out, r)
	}
	return out
}

func ninePatchName(corner, side, centre tone) (name string, keys []string) {
	if corner == centre && side == opposite(corner) {
		c := string(corner.role()) + " corners"
		return "nine patch, " + c, []string{"nine-patch", "nine-patch-" + strings.ReplaceAll(c, " ", "-")}
	}
	name = fmt.Sprintf("nine patch, %s corners, %s sides, %s centre", corner.role(), side.role(), centre.role())
	if corner == toneMedium || side == toneMedium || centre == toneMedium {
		return name + ", three values", []string{"nine-patch-three-values"}
	}
	return name, nil
}

// fourPatches are those that are neither checkered nor striped.
func fourPatches() []repeat {
	var out []repeat
	for _, t := range toneSequences(4, true) {
		checked := t[0] == t[3] && t[1] == t[2]
		striped := t[0] == t[1] && t[2] == t[3] || t[0] == t[2] && t[1] == t[3]
		if checked || striped {
			continue
		}
		name := "four patch, three values"
		if !slices.Contains(t, toneMedium) {
			odd := toneLight // the tone that is there once
			if count(t, toneDark) == 1 {
				odd = toneDark
			}
			name = "four patch, one " + string(odd.role())
		}
		out = append(out, repeat{name: name, rows: 2, cols: 2, tile: t, block: [2]int{2, 2}, least: [2]int{4, 4}})
	}
	return out
}

func count(tile []tone, t tone) (n int) {
	for _, v := range tile {
		if v == t {
			n++
		}
	}
	return n
}

// blockName is what an n x n checkered block is called.
func blockName(n int, corner tone) (name string, keys []string) {
	switch n {
	case 2:
		return "four patch", []string{"four-patch"}
	case 3:
		return ninePatchName(corner, opposite(corner), corner)
	case 4:
		return "sixteen patch", []string{"sixteen-patch"}
	}
	return "twenty-five patch, " + string(corner.role()) + " corners", nil
}

func suffixed(keys []string, suffix string) []string {
	out := make([]string, len(keys))
	for i, k := range keys {
		out[i] = k + suffix
	}
	return out
}

// piecedBlock is one block as it is sewn.
type piecedBlock struct {
	n    int
	tile []tone
	name string
	keys []string
}

// usualBlocks are the checkered n x n blocks, both ways round.
func usualBlocks(n int) []piecedBlock {
	var out []piecedBlock
	for _, corner := range []tone{toneDark, toneLight} {
		name, keys := blockName(n, corner)
		out = append(out, piecedBlock{n, checkered(n, corner), name, keys})
	}
	return out
}

// otherBlocks are the nine patches of other colourings.
func otherBlocks() []piecedBlock {
	var out []piecedBlock
	for _, r := range ninePatches(false) {
		out = append(out, piecedBlock{3, r.tile, r.name, r.keys})
	}
	return out
}

// alternates are pieced blocks and plain blocks by turns. The plain cloth may
// be as light or dark as the pieced ones, a cloth of its own, or another from
// block to block.
func alternates(blocks []piecedBlock) []repeat {
	var out []repeat
	for _, b := range blocks {
		n := b.n
		for _, plain := range []tone{toneLight, toneDark, toneOwn, toneAny} {
			r := repeat{name: b.name + ", with alternate plain blocks", keys: suffixed(b.keys, "-alternate-blocks"),
				rows: 2 * n, cols: 2 * n, block: [2]int{n, n}, plain: true, least: [2]int{n + 1, n + 1},
				tile: make([]tone, 4*n*n), piece: make([]uint8, 4*n*n)}
			for i := range r.tile {
				row, col := i/(2*n), i%(2*n)
				r.tile[i] = b.tile[row%n*n+col%n]
				if down, across := row/n, col/n; down != across {
					r.tile[i], r.piece[i] = plain, uint8(1+down)
				}
			}
			out = append(out, r)
		}
	}
	return out
}

// sashed are pieced blocks with strips of one cloth between them, and posts
// where the strips cross, of the same cloth or of others. A tile of more
// than one block gets strips between all of them.
func sashed(blocks []piecedBlock) []repeat {
	var out []repeat
	for _, b := range blocks {
		side := 1 // of the tile in patches
		for side*side < len(b.tile) {
			side++
		}
		wide := side + side/b.n // with the strips
		for _, post := range []tone{toneOwn, tonePost} {
			r := repeat{name: b.name + ", with sashing", keys: suffixed(b.keys, "-sashing"),
				rows: wide, cols: wide, block: [2]int{b.n + 1, b.n + 1}, sash: 1, least: [2]int{b.n + 2, b.n + 2},
				tile: make([]tone, wide*wide)}
			for i := range r.tile {
				row, col := i/wide, i%wide
				down, across := row/(b.n+1), col/(b.n+1)
				switch row, col := row%(b.n+1), col%(b.n+1); {
				case row == b.n && col == b.n:
					r.tile[i] = post
				case row == b.n || col == b.n:
					r.tile[i] = toneOwn
				default:
					r.tile[i] = b.tile[(down*b.n+row)*side+across*b.n+col]
				}
			}
			out = append(out, r)
		}
	}
	return out
}

// stripes of n tones run across, down, or either way diagonally in rows and
// columns.
func stripes(n int) []repeat {
	var out []repeat
	for _, t := range toneSequences(n, n <= 4) {
		if !primitive(t) || !firstOfItsTurns(t) {
			continue
		}
		// Less than twice, but for the last stripe, is no repeat. Three
		// values in a row are a picture as well, until they come again.
		least := 2*n - 1
		if slices.Contains(t, toneMedium) {
			least = 2 * n
		}
		out = append(out,
			repeat{name: "stripes across", turned: "diagonal stripes", keys: []string{"stripes-across"}, rows: n, cols: 1, tile: t, least: [2]int{least, 1}},
			repeat{name: "stripes down", turned: "diagonal stripes", keys: []string{"stripes-down"}, rows: 1, cols: n, tile: t, least: [2]int{1, least}})
		if n == 2 {
			continue // diagonals of two make a checkerboard
		}
		rising := repeat{name: "diagonal stripes", turned: "stripes down", keys: []string{"diagonal-stripes"},
			rows: n, cols: n, tile: make([]tone, n*n), least: [2]int{n, n}}
		falling := rising
		falling.tile, falling.turned = make([]tone, n*n), "stripes across"
		for i := range n * n {
			rising.tile[i] = t[(i/n+i%n)%n]
			falling.tile[i] = t[(i/n+n-i%n)%n]
		}
		out = append(out, rising, falling)
	}
	return out
}

// rails are blocks of n strips, turned by turns: one block's strips run
// across, the next one's down.
func rails(n int) []repeat {
	var out []repeat
	for _, t := range toneSequences(n, true) {
		if n == 4 && slices.Contains(t, toneMedium) && !slices.IsSorted(t) && !slices.IsSortedFunc(t, func(a, b tone) int { return int(b) - int(a) }) {
			continue // four strips of three values run from light to dark
		}
		for _, mirrored := range []bool{false, true} {
			for _, strips := range []bool{true, false} {
				out = append(out, railsOf(t, mirrored, strips))
			}
		}
	}
	return out
}

// railsOf are the rails whose strips have the given tones, in the blocks that are
// turned from the other end where mirrored. Each rail is a strip, or a row of
// patches.
func railsOf(strip []tone, mirrored, strips bool) repeat {
	n := len(strip)
	r := repeat{name: "rails", keys: []string{"rails"}, rows: 2 * n, cols: 2 * n,
		block: [2]int{n, n}, least: [2]int{n, n}, atLeast: 3 * n, tile: make([]tone, 4*n*n)}
	if strips {
		r.piece = make([]uint8, 4*n*n)
	} else {
		r.cost = logInv(.2) // strips are the rule: common practice, no source
	}
	for i := range r.tile {
		row, col := i/(2*n), i%(2*n)
		down, across := row/n, col/n
		rail := row % n
		if down != across {
			rail = col % n
		}
		r.tile[i] = strip[rail]
		if down != across && mirrored {
			r.tile[i] = strip[n-1-rail]
		}
		if strips {
			r.piece[i] = uint8(1 + (2*down+across)*n + rail)
		}
	}
	return r
}

// railBlocks are the rails of three strips as tiles of two by two blocks.
func railBlocks() []piecedBlock {
	var out []piecedBlock
	for _, r := range rails(3) {
		if r.piece != nil {
			out = append(out, piecedBlock{3, r.tile, r.name, r.keys})
		}
	}
	return out
}

// toneSequences are all sequences of n tones that hold a light and a dark,
// with mediums or without.
func toneSequences(n int, mediums bool) [][]tone {
	choice := []tone{toneLight, toneDark}
	if mediums {
		choice = []tone{toneLight, toneMedium, toneDark}
	}
	var out [][]tone
	t := make([]tone, n)
	var fill func(int)
	fill = func(i int) {
		if i == n {
			if hasBoth(t) {
				out = append(out, slices.Clone(t))
			}
			return
		}
		for _, c := range choice {
			t[i] = c
			fill(i + 1)
		}
	}
	fill(0)
	return out
}

// primitive: t is not a shorter sequence repeated.
func primitive(t []tone) bool {
	for n := 1; n < len(t); n++ {
		if len(t)%n != 0 {
			continue
		}
		same := true
		for i := range t {
			same = same && t[i] == t[i%n]
		}
		if same {
			return false
		}
	}
	return true
}

// firstOfItsTurns: of the sequences that are t begun elsewhere, t is the
// first in order; the others are its phases.
func firstOfItsTurns(t []tone) bool {
	for n := 1; n < len(t); n++ {
		if slices.Compare(slices.Concat(t[n:], t[:n]), t) < 0 {
			return false
		}
	}
	return true
}
