package scene

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"strings"
)

// Plan is which cloth goes where in a top. It is plain data: change a cell
// and render again to see the top after a change.
type Plan struct {
	Pattern string  // its name
	Cells   [][]int // cloth of each patch, row by row; -1 outside a top on point
	// Chart says what each patch is meant to be: L, M, D, or '.' for any.
	Chart []string
	// Whole numbers the pieces that patches belong to: neighbours of the same
	// cloth with the same number were cut as one, without a seam (a plain
	// block, a rail, a setting triangle). nil, or a number under 0: a patch
	// for itself.
	Whole [][]int
	// Planted are the misplaced patches: row and column from 1.
	Planted [][2]int
	// RowSizes and ColSizes are the heights of the rows and widths of the
	// columns in patches; nil is 1 each. Sashing makes them differ.
	RowSizes, ColSizes []float64
	// OnPoint: the patches stand on their corners. Rows and columns are the
	// diagonals: a row runs up to the right, row 1 in the top left corner; a
	// column runs down to the right, column 1 in the bottom left corner.
	OnPoint bool
	// Across and Down are, on point, how many patches lie side by side along
	// the top's upper edge and down its left one. Half: the corners of the
	// top are corners of patches, not triangles' middles.
	Across, Down int
	Half         bool
}

// Repeat is a pattern of lights and darks.
type Repeat string

// The repeats. In a chart of each, a line is a row of patches.
const (
	FourPatch      Repeat = "four patch"
	NinePatch      Repeat = "nine patch"        // dark corners
	NinePatchLight Repeat = "nine patch, light" // light corners
	SixteenPatch   Repeat = "sixteen patch"
	Checkerboard   Repeat = "checkerboard"
	Rails          Repeat = "rails" // three strips, light, medium, dark, turned by turns
	Stripes        Repeat = "stripes"
	ThreeValues    Repeat = "three values" // a nine patch of light, medium and dark
	Gradation      Repeat = "gradation"    // no repeat: light to dark across the top
	Picture        Repeat = "picture"      // no repeat: a dark shape on a light ground
	Scattered      Repeat = "none"         // no repeat at all
)

// repeats are the chart of each repeat that has one, a block of it for the pieced
// ones, and how many patches a block has along a side where it is more than one.
var repeats = map[Repeat]struct {
	chart []string
	block int
}{
	FourPatch:      {[]string{"DL", "LD"}, 2},
	Checkerboard:   {chart: []string{"DL", "LD"}},
	NinePatch:      {[]string{"DLD", "LDL", "DLD"}, 3},
	NinePatchLight: {[]string{"LDL", "DLD", "LDL"}, 3},
	SixteenPatch:   {[]string{"DLDL", "LDLD", "DLDL", "LDLD"}, 4},
	Rails:          {[]string{"LMDLLL", "LMDMMM", "LMDDDD", "LLLLMD", "MMMLMD", "DDDLMD"}, 3},
	Stripes:        {chart: []string{"D", "L"}},
	ThreeValues:    {[]string{"DMD", "MLM", "DMD"}, 3},
}

func (r Repeat) chart() []string { return repeats[r].chart }

// block is how many patches a block of the repeat has along a side.
func (r Repeat) block() int { return max(repeats[r].block, 1) }

// Design is the order for a plan.
type Design struct {
	Seed                   uint64
	Repeat                 Repeat
	Rows, Cols             int  // of patches, in a straight set without sashing
	Alternate              bool // plain blocks of the first light (or dark) between the pieced ones
	PlainDark              bool
	Lights, Mediums, Darks []int // cloths
	TwoCloths              bool  // one light and one dark for each block; else scrappy, a cloth a patch
	Planted                int   // misplaced patches
	Sashing                float64
	SashCloth, CornerCloth int  // of the sashing and of the little squares where it crosses
	OnPoint                bool // then Across and Down are the patches, Rows and Cols are not used
	Across, Down           int
	Setting                int // cloth of the setting triangles, on point
}

// Plan draws up the top. A design without lights or darks takes the other;
// sizes are brought within 1 to 60.
func (d Design) Plan() Plan {
	rng := rand.New(rand.NewPCG(d.Seed, 3))
	if len(d.Lights) == 0 {
		d.Lights = append(d.Darks, 0)
	}
	if len(d.Darks) == 0 {
		d.Darks = d.Lights
	}
	if len(d.Mediums) == 0 {
		d.Mediums = d.Darks
	}
	size := func(n int) int { return min(max(n, 1), 60) }
	p := Plan{Pattern: string(d.Repeat)}
	k := d.Repeat.block()
	rows, cols := size(d.Rows), size(d.Cols)
	if d.OnPoint {
		p.OnPoint = true
		// Whole blocks only.
		d.Across, d.Down = (size(d.Across)+k-1)/k*k, (size(d.Down)+k-1)/k*k
		p.Across, p.Down = d.Across, d.Down
		p.Half = k%2 == 0
		rows = p.Across + p.Down
		if !p.Half {
			rows++
		}
		cols = rows
	}
	meant := d.meant(rows, cols)
	if d.OnPoint {
		d.set(&p, meant)
	}
	p.Whole = d.whole(meant)
	p.Cells = d.dress(meant, rng)
	for r := range meant {
		for c := range meant[r] {
			switch {
			case d.OnPoint && !p.inside(r, c):
				meant[r][c], p.Cells[r][c] = ' ', -1
			case meant[r][c] == 's':
				meant[r][c], p.Cells[r][c] = '.', d.Setting
			}
		}
	}
	if d.Planted > 0 && d.Repeat.chart() != nil {
		p.Planted = d.plant(&p, meant, rng)
	}
	for _, row := range meant {
		p.Chart = append(p.Chart, string(row))
	}
	if d.Sashing > 0 && !d.OnPoint {
		p = d.sash(p)
	}
	return p
}

// meant says what each patch is for; 'P' is a plain block's.
func (d Design) meant(rows, cols int) [][]byte {
	chart, k := d.Repeat.chart(), d.Repeat.block()
	phase := 0
	if d.OnPoint { // a block's middle lies in the top's corner
		phase = k / 2
	}
	// On point the pieced blocks are those that stand whole along the edges.
	even := 0
	if d.OnPoint {
		even = (1 + d.Down/k) % 2
	}
	out := make([][]byte, rows)
	for r := range out {
		out[r] = []byte(strings.Repeat(".", cols))
		for c := range out[r] {
			if chart == nil {
				continue
			}
			i, j := r+phase, c+phase
			if d.Alternate && (i/k+j/k)%2 != even {
				out[r][c] = 'P'
				continue
			}
			line := chart[i%len(chart)]
			out[r][c] = line[j%len(line)]
		}
	}
	return out
}

// whole tells which patches are cut as one.
func (d Design) whole(meant [][]byte) [][]int {
	k := d.Repeat.block()
	phase := 0
	if d.OnPoint {
		phase = k / 2
	}
	out := make([][]int, len(meant))
	for r := range out {
		out[r] = make([]int, len(meant[r]))
		for c := range out[r] {
			i, j := r+phase, c+phase
			block := i/k*100 + j/k
			n := -1
			switch {
			case meant[r][c] == 'P' || meant[r][c] == 's':
				n = 10 * block
			case d.Repeat == Stripes:
				n = i
			case d.Repeat == Rails && (i/k+j/k)%2 == 0: // columns
				n = 10*block + 1 + j%k
			case d.Repeat == Rails:
				n = 10*block + 4 + i%k
			}
			out[r][c] = n
		}
	}
	return out
}

// set marks the setting triangles: all of a block whose middle is not inside
// the top.
func (d Design) set(p *Plan, meant [][]byte) {
	k := d.Repeat.block()
	if k == 1 {
		return
	}
	phase := k / 2
	for r := range meant {
		for c := range meant[r] {
			mid := func(i int) float64 { return float64((i+phase)/k*k-phase) + float64(k-1)/2 }
			x, y := p.middle(mid(r), mid(c))
			if x < .01 || y < .01 || x > float64(p.Across)-.01 || y > float64(p.Down)-.01 {
				meant[r][c] = 's'
			}
		}
	}
}

// middle of the patch in a row and column from 0 of a top on point, in
// diagonals of a patch from the top left corner.
func (p *Plan) middle(row, col float64) (x, y float64) {
	off := 0.0
	if p.Half {
		off = .5
	}
	sum, diff := row+off, col+off-float64(p.Down)
	return (sum + diff) / 2, (sum - diff) / 2
}

// inside tells whether a patch of a top on point can be seen.
func (p *Plan) inside(row, col int) bool {
	x, y := p.middle(float64(row), float64(col))
	return x > -.01 && y > -.01 && x < float64(p.Across)+.01 && y < float64(p.Down)+.01
}

// dress gives each patch a cloth.
func (d Design) dress(meant [][]byte, rng *rand.Rand) [][]int {
	rows, cols := len(meant), len(meant[0])
	cells := make([][]int, rows)
	for r := range cells {
		cells[r] = make([]int, cols)
	}
	of := map[byte][]int{'L': d.Lights, 'M': d.Mediums, 'D': d.Darks}
	switch d.Repeat {
	case Gradation, Picture, Scattered:
		for r := range cells {
			for c := range cells[r] {
				cells[r][c] = d.freely((float64(c)+.5)/float64(cols), (float64(r)+.5)/float64(rows), rng)
			}
		}
		return cells
	}
	k := d.Repeat.block()
	chosen := map[[3]int]int{} // block, role: the cloth of a two-cloth block
	for r := range cells {
		for c := range cells[r] {
			m := meant[r][c]
			if m == 'P' {
				meant[r][c], cells[r][c] = 'L', d.Lights[0]
				if d.PlainDark {
					meant[r][c], cells[r][c] = 'D', d.Darks[0]
				}
				continue
			}
			list, ok := of[m]
			if !ok {
				continue
			}
			key := [3]int{r / k, c / k, int(m)}
			if d.Repeat == Stripes {
				key = [3]int{r, 0, int(m)}
			}
			if d.OnPoint {
				key[0], key[1] = (r+k/2)/k, (c+k/2)/k
			}
			whole := d.TwoCloths || d.Repeat == Rails || d.Repeat == Stripes
			if v, seen := chosen[key]; seen && whole {
				cells[r][c] = v
				continue
			}
			chosen[key] = apart(cells, r, c, list, rng)
			cells[r][c] = chosen[key]
		}
	}
	return cells
}

// pick is one of a list.
func pick(list []int, rng *rand.Rand) int { return list[rng.IntN(len(list))] }

// freely is a cloth for the place x, y of a top without a repeat, 0 to 1 over it.
func (d Design) freely(x, y float64, rng *rand.Rand) int {
	all := slices.Concat(d.Lights, d.Mediums, d.Darks)
	switch d.Repeat {
	case Gradation: // lists are light to dark; neighbours in the list mix
		at := (.7*y+.3*x)*float64(len(all)) + 1.6*(rng.Float64()-.5)
		return all[min(max(int(at), 0), len(all)-1)]
	case Picture:
		a := math.Atan2(y-.5, x-.5)
		if math.Hypot(x-.5, y-.5) < .25+.09*math.Cos(5*a) {
			return pick(d.Darks, rng)
		}
		return pick(d.Lights, rng)
	}
	return pick(all, rng)
}

// apart is a cloth of the list for a cell of a scrappy top: no one sets the same
// cloth side by side, where the list has others.
func apart(cells [][]int, r, c int, list []int, rng *rand.Rand) int {
	v := pick(list, rng)
	for range 8 {
		if r > 0 && cells[r-1][c] == v || c > 0 && cells[r][c-1] == v {
			v = pick(list, rng)
		}
	}
	return v
}

// plant puts a light where a dark is meant, or the other way, in places that
// are not next to each other.
func (d Design) plant(plan *Plan, meant [][]byte, rng *rand.Rand) [][2]int {
	cells := plan.Cells
	strips := d.Repeat == Rails || d.Repeat == Stripes
	var places [][2]int
	for r := range cells {
		for c := range cells[r] {
			plain := plan.Whole[r][c] >= 0 && !strips
			if (meant[r][c] == 'L' || meant[r][c] == 'D') && cells[r][c] >= 0 && !plain {
				places = append(places, [2]int{r, c})
			}
		}
	}
	rng.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
	var out [][2]int
	for _, p := range places {
		if len(out) == d.Planted {
			break
		}
		near := false
		for _, q := range out {
			near = near || abs(p[0]-q[0]) <= 2 && abs(p[1]-q[1]) <= 2
		}
		if near {
			continue
		}
		list := d.Darks
		if meant[p[0]][p[1]] == 'D' {
			list = d.Lights
		}
		cells[p[0]][p[1]] = list[rng.IntN(len(list))]
		out = append(out, p)
	}
	sort.Slice(out, func(i, j int) bool { return out[i][0] < out[j][0] || out[i][0] == out[j][0] && out[i][1] < out[j][1] })
	for i := range out {
		out[i][0]++
		out[i][1]++
	}
	return out
}

func abs(n int) int { return max(n, -n) }

// sash puts strips between the blocks of a plan and round them; each strip
// is a row or a column of its own.
func (d Design) sash(p Plan) Plan {
	k := d.Repeat.block()
	if k == 1 {
		k = 2
	}
	// lines tells for each new row or column which old one it is, -1 for a strip.
	lines := func(n int) (from []int, sizes []float64) {
		for i := range n {
			if i%k == 0 {
				from, sizes = append(from, -1), append(sizes, d.Sashing)
			}
			from, sizes = append(from, i), append(sizes, 1)
		}
		return append(from, -1), append(sizes, d.Sashing)
	}
	rows, rowSizes := lines(len(p.Cells))
	cols, colSizes := lines(len(p.Cells[0]))
	out := Plan{Pattern: p.Pattern, RowSizes: rowSizes, ColSizes: colSizes}
	// A strip between two blocks is one piece.
	strip := func(r, c int) int {
		if rows[r] < 0 {
			return 1e6 + r*100 + c/(k+1)
		}
		return 2e6 + c*100 + r/(k+1)
	}
	for i, r := range rows {
		var cells, whole []int
		var meant []byte
		for j, c := range cols {
			switch {
			case r >= 0 && c >= 0:
				cells, meant, whole = append(cells, p.Cells[r][c]), append(meant, p.Chart[r][c]), append(whole, p.Whole[r][c])
			case r < 0 && c < 0:
				cells, meant, whole = append(cells, d.CornerCloth), append(meant, '.'), append(whole, -1)
			default:
				cells, meant, whole = append(cells, d.SashCloth), append(meant, '.'), append(whole, strip(i, j))
			}
		}
		out.Whole = append(out.Whole, whole)
		out.Cells, out.Chart = append(out.Cells, cells), append(out.Chart, string(meant))
	}
	at := func(from []int, i int) int {
		for k, f := range from {
			if f == i {
				return k
			}
		}
		return 0
	}
	for _, q := range p.Planted {
		out.Planted = append(out.Planted, [2]int{at(rows, q[0]-1) + 1, at(cols, q[1]-1) + 1})
	}
	return out
}

// pieces numbers the cut pieces of a plan, patch by patch.
func (p *Plan) pieces() []int32 {
	var out []int32
	first := map[[2]int]int32{} // piece and cloth: its first patch
	for r, row := range p.Cells {
		for c, cloth := range row {
			n := int32(len(out))
			if r < len(p.Whole) && c < len(p.Whole[r]) && p.Whole[r][c] >= 0 {
				key := [2]int{p.Whole[r][c], cloth}
				if f, ok := first[key]; ok {
					n = f
				} else {
					first[key] = n
				}
			}
			out = append(out, n)
		}
	}
	return out
}

// meant is the word for what a patch is meant to be.
func (p *Plan) meant(row, col int) string {
	if row < len(p.Chart) && col < len(p.Chart[row]) {
		switch p.Chart[row][col] {
		case 'L':
			return "light"
		case 'M':
			return "medium"
		case 'D':
			return "dark"
		}
	}
	return "any"
}
