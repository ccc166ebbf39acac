package layout

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"greige/analyze/cloth"
	"greige/analyze/piles"
	"greige/colorspace"
)

// Simulated tops: invented cloths, hung by a chart with planted mistakes, and
// measured with noise and with left-over light. Only the figures that Judge
// takes are made; pictures are another room's.

// simCloth is an invented cloth.
type simCloth struct {
	id      int
	inks    []cloth.Colour
	figures float64 // how many of the print's figures a patch shows
	seen    float64 // part of the inks' standard deviation that is left at the distance
	role    tone    // what it was chosen as
}

// simTop is a top with its truth.
type simTop struct {
	in        Input
	kind      string
	names     []string // that are right for it
	meant     []tone   // by patch, in reading order
	role      []tone   // what the patch's cloth was chosen as, toneAny where nothing was
	cloth     []int
	trueL     []float64
	truth     []Patch // without noise and left-over light
	misplaced []bool
	stashL    []float64
	// threeValued tops have mediums, whose role is not scored as light or dark.
	threeValued bool
}

type sim struct {
	*rand.Rand
	next int
}

func newSim(seed uint64) *sim { return &sim{Rand: rand.New(rand.NewPCG(seed, 77))} }

func (s *sim) uniform(a, b float64) float64 { return a + (b-a)*s.Float64() }
func (s *sim) pick(n int) int               { return s.IntN(n) }

// meanLab is the light that inks send together (Murray-Davies).
func meanLab(inks []cloth.Colour) colorspace.Lab {
	var sum colorspace.Linear
	shares := 0.
	for _, c := range inks {
		l := c.Lab.Linear()
		for k := range l {
			sum[k] += c.Share * l[k]
		}
		shares += c.Share
	}
	for k := range sum {
		sum[k] /= shares
	}
	return sum.Lab()
}

func (s *sim) colour(l float64) colorspace.Lab {
	h, c := s.uniform(0, 2*math.Pi), s.uniform(2, 45)
	c *= min(1, min(l, 110-l)/45) // pale and deep colours have less chroma
	return colorspace.Lab{L: l, A: c * math.Cos(h), B: c * math.Sin(h)}
}

// cloth invents a cloth of a mean L*.
func (s *sim) cloth(l float64, role tone) simCloth {
	s.next++
	c := simCloth{id: s.next, role: role, figures: 400, seen: .1}
	ground := s.colour(l)
	switch k := s.Float64(); {
	case k < .35: // solid
		c.inks = []cloth.Colour{{Lab: ground, Share: 1}}
	case k < .55: // tone-on-tone
		other := ground
		other.L += s.uniform(4, 8)
		share := s.uniform(.2, .5)
		c.inks = []cloth.Colour{{Lab: ground, Share: 1 - share}, {Lab: other, Share: share}}
		c.figures, c.seen = s.uniform(20, 200), .4
	default:
		step := s.uniform(12, 30)
		if k > .88 { // high contrast
			step = s.uniform(35, 60)
		}
		left := 1.
		for range 1 + s.pick(3) {
			share := s.uniform(.05, .28)
			ink := s.colour(min(max(l+step*float64(1-2*s.pick(2)), 8), 94))
			c.inks = append(c.inks, cloth.Colour{Lab: ink, Share: share})
			left -= share
		}
		c.inks = append(c.inks, cloth.Colour{Lab: ground, Share: left})
		switch s.pick(4) {
		case 0: // large
			c.figures, c.seen = s.uniform(6, 15), .85
		case 1:
			c.figures, c.seen = s.uniform(30, 80), .5
		default: // small
			c.figures, c.seen = s.uniform(100, 400), .2
		}
	}
	// The whole has to have the L* that was asked for.
	for range 20 {
		d := l - meanLab(c.inks).L
		for i := range c.inks {
			c.inks[i].Lab.L = min(max(c.inks[i].Lab.L+d, 4), 97)
		}
	}
	return c
}

// gamma is a draw of a gamma variate of shape a (Marsaglia and Tsang 2000).
func (s *sim) gamma(a float64) float64 {
	if a < 1 {
		return s.gamma(a+1) * math.Pow(s.Float64(), 1/a)
	}
	d := a - 1./3
	for {
		x := s.NormFloat64()
		v := math.Pow(1+x/math.Sqrt(9*d), 3)
		if v > 0 && math.Log(max(s.Float64(), 1e-300)) < x*x/2+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

// cut is a patch of the cloth: of a large print, each is another part.
func (s *sim) cut(c *simCloth) cloth.Cloth {
	inks := slices.Clone(c.inks)
	sum := 0.
	for i := range inks {
		inks[i].Share = s.gamma(max(c.figures*inks[i].Share, .05)) + 1e-9
		sum += inks[i].Share
	}
	for i := range inks {
		inks[i].Share /= sum
	}
	out := cloth.Cloth{Lab: meanLab(inks)}
	out.Lightness = out.Lab.L
	varL := 0.
	for _, k := range inks {
		varL += k.Share * (k.Lab.L - out.Lab.L) * (k.Lab.L - out.Lab.L)
		if k.Share >= .03 {
			out.Colours = append(out.Colours, k)
		}
	}
	out.Spread = .4 + c.seen*math.Sqrt(varL)
	slices.SortStableFunc(out.Colours, func(a, b cloth.Colour) int {
		if a.Share > b.Share {
			return -1
		}
		return 1
	})
	switch {
	case len(c.inks) == 1:
		out.Character = cloth.Solid
	case out.Spread < 3:
		out.Character = cloth.ToneOnTone
	case out.Spread < 12:
		out.Character = cloth.Print
	default:
		out.Character = cloth.HighContrastPrint
	}
	return out
}

// measure fills in the Input from the truth.
func (s *sim) measure(t *simTop) {
	noise := s.uniform(.15, .6)
	var field [fieldTerms]float64
	for k := range field {
		field[k] = s.NormFloat64() * .02 // of light
	}
	t.in.Patches = slices.Clone(t.truth)
	lay := &top{rows: t.in.Rows, cols: t.in.Cols, patches: t.in.Patches}
	for i := range t.in.Patches {
		p := &t.in.Patches[i]
		f := 0.
		for k, x := range lay.fieldAt(i) {
			f += field[k] * x
		}
		f = math.Exp(f / 3)
		seen := func(l colorspace.Lab, noise float64) colorspace.Lab {
			return colorspace.Lab{
				L: min(max((l.L+16)*f-16+noise*s.NormFloat64(), 0), 100),
				A: l.A*f + noise*.7*s.NormFloat64(),
				B: l.B*f + noise*.7*s.NormFloat64(),
			}
		}
		p.Lab = seen(p.Lab, noise)
		p.Lightness = p.Lab.L
		p.Colours = slices.Clone(p.Colours)
		for k := range p.Colours {
			p.Colours[k].Lab = seen(p.Colours[k].Lab, noise+.8)
		}
		p.Spread = max(p.Spread*(1+.08*s.NormFloat64()), .2)
		p.Apart = 1.96 * math.Hypot(noise, .6)
		p.Uncertainty = math.Hypot(p.Apart, 2)
	}
}

// hang puts a cloth in each place of a grid. Cells for which cloth is nil are
// outside the top.
func (s *sim) hang(rows, cols int, meant func(r, c int) tone, cloths func(r, c int, want tone) *simCloth) *simTop {
	t := &simTop{in: Input{Rows: rows, Cols: cols, Setting: Straight}}
	for r := range rows {
		for c := range cols {
			want := meant(r, c)
			k := cloths(r, c, want)
			if k == nil {
				continue
			}
			p := Patch{Row: r + 1, Col: c + 1, Cloth: s.cut(k)}
			t.truth = append(t.truth, p)
			t.meant = append(t.meant, want)
			t.role = append(t.role, k.role)
			t.cloth = append(t.cloth, k.id)
			t.trueL = append(t.trueL, p.Lightness)
			t.misplaced = append(t.misplaced, false)
		}
	}
	return t
}

// lightL and darkL are the L* of a scrappy top's lights and darks.
func (s *sim) levelOf(v tone) float64 {
	switch v {
	case toneLight:
		return s.uniform(64, 90)
	case toneMedium:
		return s.uniform(50, 58)
	case toneDark:
		return s.uniform(18, 43)
	}
	return s.uniform(20, 88)
}

// simStyle is how the cloths of a top are chosen.
type simStyle int

const (
	scrappy     simStyle = iota // every patch from a large pool
	twoCloths                   // one cloth a tone
	blockCloths                 // one cloth a tone and block
	blockLevels                 // scrappy, but each block on its own level
	simStyles
)

// simDesign is a chart for simulated tops with its block size.
type simDesign struct {
	names []string // that are right for it
	// turned are those when it hangs on point, where they differ.
	turned []string
	tile   []string
	block  int
	sash   bool
	plain  func(r, c int) int // index of the plain block a cell lies in, -1 none
}

func alternatePlain(n int, corner string, names ...string) simDesign {
	d := simDesign{names: names, block: n}
	flip := map[byte]byte{'L': 'D', 'D': 'L'}
	for r := range 2 * n {
		line := make([]byte, 2*n)
		for c := range line {
			line[c] = corner[0]
			if (r%n+c%n)%2 == 1 {
				line[c] = flip[corner[0]]
			}
			if r/n != c/n {
				line[c] = '.'
			}
		}
		d.tile = append(d.tile, string(line))
	}
	d.plain = func(r, c int) int {
		if (r/n+c/n)%2 == 0 {
			return -1
		}
		return r/n*1000 + c/n
	}
	return d
}

var boardNames = []string{"checkerboard", "four patch", "sixteen patch", "nine patch, dark and light corners by turns",
	"nine patch, dark corners", "nine patch, light corners"}

var simDesigns = []simDesign{
	{names: boardNames, tile: []string{"DL", "LD"}, block: 2},
	{names: []string{"nine patch, dark corners"}, tile: []string{"DLD", "LDL", "DLD"}, block: 3},
	{names: []string{"nine patch, light corners"}, tile: []string{"LDL", "DLD", "LDL"}, block: 3},
	alternatePlain(3, "D", "nine patch, dark corners, with alternate plain blocks"),
	alternatePlain(3, "L", "nine patch, light corners, with alternate plain blocks"),
	alternatePlain(3, "D", "nine patch, dark corners, with alternate plain blocks"),
	alternatePlain(2, "D", "four patch, with alternate plain blocks"),
	alternatePlain(4, "D", "sixteen patch, with alternate plain blocks"),
	{names: []string{"stripes across"}, turned: []string{"diagonal stripes"}, tile: []string{"L", "D"}, block: 1},
	{names: []string{"stripes down"}, turned: []string{"diagonal stripes"}, tile: []string{"LLD"}, block: 1},
	{names: []string{"rails"}, tile: []string{"LLLLMD", "MMMLMD", "DDDLMD", "LMDLLL", "LMDMMM", "LMDDDD"}, block: 3},
	{names: []string{"diagonal stripes"}, turned: []string{"stripes down"}, tile: []string{"LMD", "MDL", "DLM"}, block: 1},
	{names: []string{"four patch, with sashing"}, tile: []string{"DLL", "LDL", "LLD"}, block: 3, sash: true},
	{names: []string{"nine patch, dark corners, with sashing"}, tile: []string{"DLDL", "LDLL", "DLDL", "LLLD"}, block: 4, sash: true},
}

// cellKind is what lies in a cell of the grid.
type cellKind int

const (
	squareCell cellKind = iota
	triangleCell
	outsideCell
)

// onPoint is a top turned by 45 degrees, with so many squares across and down,
// and triangles all round: the grid's rows and columns, and what lies where.
func onPoint(across, down int) (rows, cols int, kind func(r, c int) cellKind) {
	// With x to the right and y down in squares, a row is x + y and a column
	// x - y; squares have their centres at whole or at half x and y.
	side := across + down
	return side, side, func(r, c int) cellKind {
		// Row 1 runs through the top left corner at x = y = -1/2, column 1
		// through the bottom left one at x = -1/2, y = down - 1/2.
		x, y := float64((r-1)+(c-down))/2, float64((r-1)-(c-down))/2
		switch right, bottom := float64(across)-.5, float64(down)-.5; {
		case x < -.5 || y < -.5 || x > right || y > bottom:
			return outsideCell
		case x == -.5 || y == -.5 || x == right || y == bottom:
			return triangleCell
		}
		return squareCell
	}
}

// pieced makes a top of a design, with a share of planted mistakes.
func (s *sim) pieced(d simDesign, rows, cols int, style simStyle, mistakes float64) *simTop {
	return s.piecedIn(d, rows, cols, style, mistakes, Straight, func(r, c int) cellKind { return squareCell })
}

// piecedOnPoint is the same for a top on point.
func (s *sim) piecedOnPoint(d simDesign, across, down int, style simStyle, mistakes float64) *simTop {
	rows, cols, kind := onPoint(across, down)
	return s.piecedIn(d, rows, cols, style, mistakes, OnPoint, kind)
}

func (s *sim) piecedIn(d simDesign, rows, cols int, style simStyle, mistakes float64, setting Setting, kind func(r, c int) cellKind) *simTop {
	// The triangles are of one cloth, or go on with the pattern.
	triangles := s.cloth(s.uniform(20, 88), toneAny)
	goesOn := s.pick(3) == 0
	pr, pc := s.pick(len(d.tile)), s.pick(len(d.tile[0]))
	at := func(r, c int) byte {
		return d.tile[(r+pr)%len(d.tile)][(c+pc)%len(d.tile[0])]
	}
	// What the plain blocks are: of one tone, or as it comes.
	plainTone := []tone{toneLight, toneLight, toneDark, toneAny}[s.pick(4)]
	onePlain := s.pick(2) == 0
	isPlain := func(r, c int) int {
		if d.plain == nil {
			return -1
		}
		return d.plain(r+pr, c+pc)
	}
	meant := func(r, c int) tone {
		if isPlain(r, c) >= 0 {
			return plainTone
		}
		return toneOf(at(r, c))
	}
	var pool [toneCount][]simCloth
	for v := range toneDark + 1 {
		for range 3 + rows*cols/4 {
			pool[v] = append(pool[v], s.cloth(s.levelOf(tone(v)), tone(v)))
		}
	}
	type place struct {
		block int
		v     tone
	}
	chosen := map[place]*simCloth{}
	base := map[int]float64{}
	block := func(r, c int) int {
		if d.block == 1 { // stripes: a stretch of one
			return ((r+pr)*40+c/5)*40 + r/5
		}
		return (r+pr)/d.block*1000 + (c+pc)/d.block
	}
	choose := func(r, c int, want tone) *simCloth {
		key := place{block(r, c), want}
		switch style {
		case twoCloths:
			key.block = 0
		case blockLevels:
			b, ok := base[key.block]
			if !ok {
				b = s.uniform(-13, 13)
				base[key.block] = b
			}
			l := map[tone]float64{toneLight: 70, toneMedium: 53, toneDark: 36, toneAny: 53}[want] + b + s.uniform(-4, 4)
			k := s.cloth(l, want)
			return &k
		case scrappy:
			return &pool[want][s.pick(len(pool[want]))]
		}
		if chosen[key] == nil {
			chosen[key] = &pool[want][s.pick(len(pool[want]))]
		}
		return chosen[key]
	}
	plains := map[int]*simCloth{}
	// Where mistakes hang: never in a plain block, which is one piece.
	wrong := map[[2]int]bool{}
	n := int(math.Round(mistakes * float64(rows*cols)))
	for range n {
		r, c := s.pick(rows), s.pick(cols)
		if d.sash && ((r+pr)%d.block == d.block-1 || (c+pc)%d.block == d.block-1) {
			continue
		}
		if kind(r, c) != squareCell {
			continue
		}
		if v := meant(r, c); isPlain(r, c) < 0 && v != toneMedium && v != toneAny {
			wrong[[2]int{r, c}] = true
		}
	}
	t := s.hang(rows, cols, meant, func(r, c int, want tone) *simCloth {
		switch k := kind(r, c); {
		case k == outsideCell:
			return nil
		case k == triangleCell && !goesOn:
			return &triangles
		}
		if b := isPlain(r, c); b >= 0 {
			if onePlain {
				b = 0
			}
			if plains[b] == nil {
				k := s.cloth(s.levelOf(plainTone), plainTone)
				plains[b] = &k
			}
			return plains[b]
		}
		if n := d.block; d.sash && ((r+pr)%n == n-1 || (c+pc)%n == n-1) {
			which := -1 // the strips' cloth, the posts'
			if (r+pr)%n == (c+pc)%n {
				which = -2
			}
			if plains[which] == nil {
				k := s.cloth(s.levelOf(want), want)
				plains[which] = &k
			}
			return plains[which]
		}
		if wrong[[2]int{r, c}] {
			return choose(r, c, opposite(want))
		}
		return choose(r, c, want)
	})
	t.in.Setting = setting
	for i := range t.truth {
		if kind(t.truth[i].Row-1, t.truth[i].Col-1) == triangleCell {
			t.truth[i].Shape = "triangle"
		}
		if n := d.block; d.sash { // strips are narrow
			h, w := 1., 1.
			if (t.truth[i].Row-1+pr)%n == n-1 {
				h = .4
			}
			if (t.truth[i].Col-1+pc)%n == n-1 {
				w = .4
			}
			t.truth[i].Outline = [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}}
		}
		t.misplaced[i] = wrong[[2]int{t.truth[i].Row - 1, t.truth[i].Col - 1}]
	}
	t.names = d.names
	if setting == OnPoint && d.turned != nil {
		t.names = d.turned
	}
	for _, line := range d.tile {
		t.threeValued = t.threeValued || slices.Contains([]byte(line), 'M')
	}
	t.kind = d.names[0]
	s.measure(t)
	return t
}

// unpatterned makes a top without a repeat.
func (s *sim) unpatterned(rows, cols, kind int) *simTop {
	value := func(r, c float64) float64 { return 50 }
	name := ""
	switch kind {
	case 0:
		name = "random"
		value = func(r, c float64) float64 { return s.uniform(18, 90) }
	case 1:
		name = "random lights and darks"
		value = func(r, c float64) float64 {
			return s.levelOf([]tone{toneLight, toneDark}[s.pick(2)])
		}
	case 2:
		name = "gradation"
		a := s.uniform(0, 2*math.Pi)
		value = func(r, c float64) float64 {
			return 54 + 38*(math.Cos(a)*(r-.5)+math.Sin(a)*(c-.5)) + 3*s.NormFloat64()
		}
	case 3:
		name = "round gradation"
		value = func(r, c float64) float64 { return 85 - 75*math.Hypot(r-.5, c-.5) + 3*s.NormFloat64() }
	case 4:
		name = "picture of a disc"
		x, y, rad := s.uniform(.35, .65), s.uniform(.35, .65), s.uniform(.2, .4)
		value = func(r, c float64) float64 {
			if math.Hypot(r-y, c-x) < rad {
				return s.levelOf(toneDark)
			}
			return s.levelOf(toneLight)
		}
	case 5:
		name = "landscape"
		a, b, f := s.uniform(.25, .45), s.uniform(.6, .8), s.uniform(0, 6)
		value = func(r, c float64) float64 {
			switch h := r + .08*math.Sin(7*c+f); {
			case h < a:
				return s.uniform(75, 90)
			case h < b:
				return s.uniform(45, 60)
			}
			return s.uniform(18, 35)
		}
	case 6:
		name = "trees"
		x1, x2 := s.uniform(.1, .4), s.uniform(.55, .9)
		value = func(r, c float64) float64 {
			if math.Abs(c-x1) < .06+.1*(1-r) || math.Abs(c-x2) < .05+.15*(1-r) || r > .85 {
				return s.uniform(20, 45)
			}
			return s.uniform(65, 88)
		}
	}
	t := s.hang(rows, cols, func(int, int) tone { return toneAny }, func(r, c int, _ tone) *simCloth {
		k := s.cloth(min(max(value((float64(r)+.5)/float64(rows), (float64(c)+.5)/float64(cols)), 10), 94), toneAny)
		return &k
	})
	t.kind, t.names = name, []string{noPattern}
	s.measure(t)
	return t
}

const unpatternedKinds = 7

// giveStash lays n cloths of all lightnesses beside the top, measured on a
// footing that is off by up to 2 L*.
func (s *sim) giveStash(t *simTop, n int) {
	off := s.uniform(-1, 1)
	for i := range n {
		k := s.cloth(s.uniform(12, 93), toneAny)
		f := piles.Fabric{ID: fmt.Sprint(i + 1), Cloth: s.cut(&k)}
		t.stashL = append(t.stashL, f.Lightness)
		f.Lightness += off + .4*s.NormFloat64()
		f.Lab.L = f.Lightness
		f.Uncertainty = 2
		t.in.Stash = append(t.in.Stash, f)
	}
}
