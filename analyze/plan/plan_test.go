package plan

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"greige/analyze/layout"
	"greige/colorspace"
)

// invented is a cloth of a lightness, off the bolt.
func invented(id string, lightness float64) Cloth {
	var c Cloth
	c.ID = id
	c.Lab = colorspace.Lab{L: lightness, A: float64(len(id)), B: 4}
	c.Lightness, c.Uncertainty, c.Apart, c.Spread = lightness, 2, 1, 1
	return c
}

func inches(s string) Length {
	l, _, err := ParseLength(s + "in")
	if err != nil {
		panic(err)
	}
	return l
}

// twoCloths is a plan of cols x rows blocks of a name, out of one light and
// one dark.
func twoCloths(t testing.TB, block string, cols, rows int) Input {
	d, err := DesignByName(block)
	require.NoError(t, err)
	r, err := NewRuler(false, Inch/4)
	require.NoError(t, err)
	return Input{Design: d, Cols: cols, Rows: rows, Patch: 2 * Inch, Seam: Inch / 4, Ruler: r, Usable: 40 * Inch,
		Cloths: []Cloth{invented("1", 85), invented("2", 30), invented("3", 60)},
		Roles:  map[byte][]int{'L': {0}, 'D': {1}, 'M': {2}, '.': {0}}, Alternate: -1, People: 1}
}

func stripsOf(p *Plan, cloth string, width Length) int {
	n := 0
	for _, s := range p.Sheets {
		for _, l := range s.Strips {
			if l.Cloth == cloth && l.Width == width && l.Into[0].For == StripSets {
				n += l.Count
			}
		}
	}
	return n
}

// Three strips of each of two cloths make one set of each kind, and a set 40
// inches long gives sixteen segments of 2 1/2 inches: ten blocks, five of each
// kind, or eight of one. Common practice, no source.
func TestThreeStripsOfEachCloth(t *testing.T) {
	in := twoCloths(t, "nine-patch", 2, 5)
	in.Binding = 2
	p, err := Make(in)
	require.NoError(t, err)
	require.True(t, p.Strips)
	require.Len(t, p.Sheets[0].Sets, 2)
	for _, s := range p.Sheets[0].Sets {
		require.Equal(t, 16, s.PerSet)
		require.Equal(t, 1, s.Sets)
		require.Equal(t, 15, s.Segments) // five blocks of each kind take 2 and 1
	}
	require.Equal(t, 3, stripsOf(p, "1", inches("2 1/2")))
	require.Equal(t, 3, stripsOf(p, "2", inches("2 1/2")))

	in = twoCloths(t, "nine-patch-dark-corners", 2, 4)
	in.Binding = 2
	p, err = Make(in)
	require.NoError(t, err)
	require.Equal(t, 3, stripsOf(p, "2", inches("2 1/2")))
	require.LessOrEqual(t, stripsOf(p, "1", inches("2 1/2")), 3)

	// Eleven of them take more.
	in = twoCloths(t, "nine-patch", 1, 11)
	in.Binding = 2
	p, err = Make(in)
	require.NoError(t, err)
	require.Greater(t, stripsOf(p, "1", inches("2 1/2"))+stripsOf(p, "2", inches("2 1/2")), 6)
}

func published(t *testing.T) [][]string {
	f, err := os.Open("../../testdata/published/patchwork_cutting.csv")
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	return rows[1:]
}

// The squares that triangles are cut from, against a published table (M. Hohn,
// How to make setting triangles, 2002; see testdata/published).
func TestTrianglesOnPointOfThePublishedTable(t *testing.T) {
	n := 0
	for _, row := range published(t) {
		part := map[string]Part{"side triangle square": SideTri, "corner triangle square": CornerTri}[row[0]]
		if part == "" {
			continue
		}
		in := twoCloths(t, "checkerboard", 2, 2)
		in.Design = Design{Name: "one patch", Kinds: []Block{ofRows([]string{"D"})}}
		in.Patch, in.OnPoint, in.Binding = inches(row[1]), true, 1
		p, err := Make(in)
		require.NoError(t, err)
		found := false
		for _, c := range p.CutList {
			if c.Part == part {
				found = true
				require.Equal(t, row[2], c.W.Inches(), row)
			}
		}
		require.True(t, found)
		n++
	}
	require.Equal(t, 22, n)
}

// The same against the geometry: what is cut is never smaller than the
// triangle with its seams, and less than a quarter inch larger.
func TestTrianglesOnPointOfTheGeometry(t *testing.T) {
	for eighths := 8; eighths <= 200; eighths++ {
		in := twoCloths(t, "checkerboard", 3, 2)
		in.Design = Design{Name: "one patch", Kinds: []Block{ofRows([]string{"D"})}}
		in.Patch, in.OnPoint, in.Binding = Length(eighths)*Inch/8, true, 1
		p, err := Make(in)
		require.NoError(t, err)
		side, s := in.Patch.CM(), in.Seam.CM()
		for _, c := range p.CutList {
			// An inset of s of the long side and both short ones: the cut
			// triangle is the finished one grown by s on every side.
			var least float64
			switch c.Part {
			case SideTri: // the square's side is the triangle's long one
				least = side*math.Sqrt2 + 2*s/math.Tan(math.Pi/8)
				require.Equal(t, 4, 1<<c.Diagonals)
				require.Equal(t, 2*(3+2-2), c.Needed)
			case CornerTri: // and here a short one
				least = side/math.Sqrt2 + s + s/math.Tan(math.Pi/8)
				require.Equal(t, 4, c.Needed)
			default:
				continue
			}
			require.GreaterOrEqual(t, c.W.CM(), least)
			require.Less(t, c.W.CM(), least+Inch.CM()/4)
			require.True(t, in.Ruler.Shows(c.W))
		}
		// n x m blocks take (n-1)(m-1) more between them.
		require.Equal(t, 3*2+2*1, p.Pieced)
		require.InDelta(t, 3*side*math.Sqrt2, p.Width.CM(), 1e-6)
	}
}

// Sashing on point: the side triangles are those of a block as much larger as the
// sashing is wide (On Point Quilting: Tips and Calculations, a page on the web:
// "add together the finished sashing to the finished block size"), so that the
// published table holds for the sum. The rest is geometry: sashing frames every
// block, and the corners' long side is a block and two strips.
func TestSashingOnPoint(t *testing.T) {
	for _, row := range published(t) {
		if row[0] != "side triangle square" {
			continue
		}
		in := twoCloths(t, "checkerboard", 3, 2)
		in.Design = Design{Name: "one patch", Kinds: []Block{ofRows([]string{"D"})}}
		in.Sashing = &Strip{Inch * 3 / 2, 2}
		in.Patch, in.OnPoint, in.Binding = inches(row[1])-in.Sashing.Size, true, 1
		p, err := Make(in)
		require.NoError(t, err)
		block, sash, s := in.Patch.CM(), in.Sashing.Size.CM(), in.Seam.CM()
		require.InDelta(t, (3*(block+sash)+sash)*math.Sqrt2, p.Width.CM(), 1e-6)
		require.InDelta(t, (2*(block+sash)+sash)*math.Sqrt2, p.Height.CM(), 1e-6)
		strips := map[Length]int{}
		for _, c := range p.CutList {
			switch c.Part {
			case SideTri:
				require.Equal(t, row[2], c.W.Inches(), row)
				require.Equal(t, 2*(3+2-2), c.Needed)
			case CornerTri:
				least := (block+2*sash)/math.Sqrt2 + s + s/math.Tan(math.Pi/8)
				require.GreaterOrEqual(t, c.W.CM(), least)
				require.Less(t, c.W.CM(), least+Inch.CM()/4)
				require.Equal(t, 4, c.Needed)
			case Sash:
				require.Equal(t, in.Sashing.Size+2*in.Seam, c.W)
				strips[c.H-2*in.Seam] = c.Needed
			}
		}
		// Diagonal rows of 1, 3, 3 and 1 blocks: a short strip more than blocks in
		// each; long strips at the outer sides of the first and the last row, along
		// the second and the third, and one between these, a step longer.
		pitch := in.Patch + in.Sashing.Size
		require.Equal(t, map[Length]int{in.Patch: 12, pitch + in.Sashing.Size: 2, 3*pitch + in.Sashing.Size: 2, 4*pitch + in.Sashing.Size: 1}, strips)
	}
}

func TestSquaresOfAFatQuarterOfThePublishedTable(t *testing.T) {
	for _, row := range published(t) {
		if !strings.HasPrefix(row[0], "fat quarter") {
			continue
		}
		want, err := strconv.Atoi(row[2])
		require.NoError(t, err)
		w, h, e := 22*2.54+2*edgeKept, 18*2.54+2*edgeKept, inches(row[1]).CM()
		s := Scrap{Outline: [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}}, PixelCM: 1, Seen: true}
		require.Len(t, s.Yield(e, e), want, row)
	}
}

// randomInput is any plan that goes together.
func randomInput(r *rand.Rand) Input {
	metric := r.IntN(2) == 0
	in := Input{Alternate: -1, People: 1 + r.IntN(4), Roles: map[byte][]int{}, Cols: 1 + r.IntN(4), Rows: 1 + r.IntN(4), OnPoint: r.IntN(3) == 0}
	in.Seam, in.Usable = Inch/4, 40*Inch
	in.Patch = Inch + Length(r.IntN(20))*Inch/8 + Length(r.IntN(2))*Length(r.IntN(1e6))
	if metric {
		in.Seam, in.Usable = []Length{75 * Millimetre / 10, 6 * Millimetre, 5 * Millimetre}[r.IntN(3)], 100*Centimetre
		in.Patch = Length(20+5*r.IntN(12)) * Millimetre
	}
	in.Ruler, _ = NewRuler(metric, in.Seam)
	n := 4 + r.IntN(5)
	for i := range n {
		in.Cloths = append(in.Cloths, invented(fmt.Sprint(i+1), 20+70*r.Float64()))
		if r.IntN(6) == 0 {
			side := 5 + 20*r.Float64()
			in.Cloths[i].Scrap = &Scrap{Outline: [][2]float64{{0, 0}, {side, 1}, {side + 1, side}, {0, side}}, PixelCM: .05}
		}
	}
	if names := BlockNames(); r.IntN(4) > 0 {
		in.Design, _ = DesignByName(names[r.IntN(len(names))])
	} else {
		rows, cols := 1+r.IntN(4), 1+r.IntN(4)
		if in.OnPoint {
			cols = rows
		}
		chart := make([]string, rows)
		for i := range chart {
			for range cols {
				chart[i] += string("LMD."[r.IntN(4)])
			}
		}
		in.Design = Design{Name: "chart", Kinds: []Block{ofRows(chart)}}
	}
	for _, role := range []byte("LMD.") {
		for range 1 + r.IntN(3) {
			in.Roles[role] = append(in.Roles[role], r.IntN(n))
		}
	}
	if r.IntN(2) == 0 {
		in.Alternate = r.IntN(n)
	}
	in.Triangles, in.Binding = r.IntN(n), r.IntN(n)
	size := func() Length { return in.Ruler.Up(in.Seam*2+Length(1+r.IntN(80))*Millimetre) - 2*in.Seam }
	if r.IntN(3) == 0 {
		in.Sashing = &Strip{Size: size(), Cloth: r.IntN(n)}
	}
	for range r.IntN(3) {
		in.Borders = append(in.Borders, Strip{Size: size(), Cloth: r.IntN(n)})
	}
	return in
}

func insideOf(o [][2]float64, x, y float64) bool {
	in := false
	for i, a := range o {
		b := o[(i+1)%len(o)]
		if (a[1] > y) != (b[1] > y) && x < (b[0]-a[0])*(y-a[1])/(b[1]-a[1])+a[0] {
			in = !in
		}
	}
	return in
}

// checkPlan holds a plan to what must be true of every one.
func checkPlan(t *testing.T, r *rand.Rand, in *Input, p *Plan) {
	// The pieces tile the top: their areas add up, and a point lies in one.
	sum := 0.
	for i := range p.Pieces {
		sum += area(p.Pieces[i].Outline)
	}
	whole := p.Width.CM() * p.Height.CM()
	require.InEpsilon(t, whole, sum, 1e-7) // sizes of the top are whole nanometres
	for range 12 {
		x, y := r.Float64()*p.Width.CM(), r.Float64()*p.Height.CM()
		n := 0
		for i := range p.Pieces {
			if insideOf(p.Pieces[i].Outline, x, y) {
				n++
			}
		}
		require.Equal(t, 1, n, "at %v, %v", x, y)
	}
	// The picture and the list have the same counts, cloth by cloth and part
	// by part, and seam allowances add up.
	type key struct {
		cloth string
		part  Part
	}
	pieces, listed := map[key]int{}, map[key]int{}
	finished := map[key]float64{}
	for i := range p.Pieces {
		k := key{p.Chosen[p.Pieces[i].Cloth].ID, p.Pieces[i].Part}
		pieces[k]++
		finished[k] += area(p.Pieces[i].Outline)
	}
	for _, c := range p.CutList {
		if c.Part == Binding {
			continue
		}
		k := key{c.Cloth, c.Part}
		listed[k] += c.Needed
		require.GreaterOrEqual(t, c.Pieces, c.Needed)
		require.True(t, in.Ruler.Shows(c.W) && in.Ruler.Shows(c.H), "%v", c)
		if c.Diagonals == 0 {
			// Counted back: what is cut, less its allowances, is what is seen.
			w, h := (c.W - 2*in.Seam).CM(), (c.H - 2*in.Seam).CM()
			finished[k] -= float64(c.Needed) * w * h
		}
	}
	require.Equal(t, pieces, listed)
	for k, left := range finished {
		switch k.part {
		case InBlock, Plain, Sash:
			require.InDelta(t, 0, left, 1e-6, "%v", k)
		case Border: // cut up to the next line of the ruler
			require.LessOrEqual(t, left, 1e-6, "%v", k)
		}
	}
	checkCloth(t, in, p)
}

// checkCloth holds what is bought to what is cut.
func checkCloth(t *testing.T, in *Input, p *Plan) {
	// What the strips hold, cloth by cloth, and what is cut from them.
	cut, strips := map[string]float64{}, map[string]float64{}
	segments, needed := map[string]int{}, map[string]int{}
	for _, s := range p.Sheets {
		for _, l := range s.Strips {
			strips[l.Cloth] += float64(l.Count) * l.Width.CM() * in.Usable.CM()
			total := Length(0)
			for _, i := range l.Into {
				require.LessOrEqual(t, i.Length, in.Usable)
				total += Length(i.Count) * i.Length
				cut[l.Cloth] += float64(i.Count) * i.Length.CM() * l.Width.CM()
			}
			require.Equal(t, Length(l.Count)*in.Usable, total+l.Left)
		}
		for _, set := range s.Sets {
			require.LessOrEqual(t, Length(set.PerSet)*set.Segment, in.Usable)
			require.GreaterOrEqual(t, set.Sets*set.PerSet, set.Segments)
			for _, c := range set.Cloths {
				segments[c] += set.Segments
			}
		}
	}
	for _, u := range p.Cloths {
		bought := u.Buy.CM() * in.Usable.CM()
		require.GreaterOrEqual(t, bought+1e-6, strips[u.ID]*(1+allowance))
		require.GreaterOrEqual(t, strips[u.ID]+1e-6, cut[u.ID])
	}
	if p.Strips {
		for _, c := range p.CutList {
			if c.Part == InBlock {
				needed[c.Cloth] += c.Needed
			}
		}
		require.Equal(t, needed, segments)
	}
	// Everybody's blocks are all blocks, and nobody has one more than another.
	total, most, least := 0, 0, math.MaxInt
	for i := range in.People {
		n := 0
		for _, b := range p.Sheets[i].Blocks {
			n += b.Count
		}
		total, most, least = total+n, max(most, n), min(least, n)
	}
	require.Equal(t, p.Pieced, total)
	require.LessOrEqual(t, most-least, 1)
	checkShared(t, in, p)
}

// checkShared holds scraps that several work from to being cut by one person each,
// no more and no less than everybody needs of them.
func checkShared(t *testing.T, in *Input, p *Plan) {
	used := map[string]int{}
	for _, s := range p.Scraps {
		used[s.ID] = s.Used
	}
	needed, cut, by := map[string]int{}, map[string]int{}, map[string]string{}
	for _, s := range p.Sheets {
		for _, c := range s.Squares {
			if c.Part == InBlock {
				needed[c.Cloth] += c.FromScrap
			}
		}
		for _, c := range s.Scraps {
			require.NotContains(t, by, c.Cloth, "cut twice")
			by[c.Cloth] = s.Name
			cut[c.Cloth] = c.Patches
			sum := 0
			for _, part := range c.For {
				sum += part.Count
			}
			require.Equal(t, c.Patches, sum)
		}
	}
	for _, s := range p.Sheets {
		for _, c := range s.Squares {
			if c.FromScrap > 0 && in.People > 1 && by[c.Cloth] != s.Name {
				require.Equal(t, by[c.Cloth], c.CutBy)
			} else {
				require.Empty(t, c.CutBy)
			}
		}
	}
	for cloth, n := range needed {
		require.Equal(t, used[cloth], n)
		if in.People > 1 {
			require.Equal(t, n, cut[cloth])
		}
	}
}

func TestRandomPlans(t *testing.T) {
	n := 10000
	if testing.Short() {
		n = 500
	}
	r := rand.New(rand.NewPCG(1, 2))
	made := 0
	for i := range n {
		in := randomInput(r)
		in.unjudged = i%50 > 0
		p, err := Make(in)
		if err != nil {
			require.NotEmpty(t, err.Error())
			continue
		}
		made++
		require.NotPanics(t, func() { checkPlan(t, r, &in, p) }, "plan %d", i)
		if t.Failed() {
			t.Fatalf("plan %d", i)
		}
	}
	require.Greater(t, made, n*9/10)
}

// Every block in every setting: the grid of the picture shows what the list
// says, patch by patch.
func TestPictureAndListOfEveryBlockAndSetting(t *testing.T) {
	for _, name := range BlockNames() {
		for _, setting := range []string{"straight", "alternate", "sashing", "on point", "on point, alternate", "on point, sashing"} {
			in := twoCloths(t, name, 3, 4)
			switch setting {
			case "alternate":
				in.Alternate = 2
			case "sashing":
				in.Sashing = &Strip{Inch, 2}
			case "on point", "on point, alternate", "on point, sashing":
				in.OnPoint, in.Triangles = true, 2
				switch setting {
				case "on point, alternate":
					in.Alternate = 2
				case "on point, sashing":
					in.Sashing = &Strip{Inch, 1}
				}
			}
			p, err := Make(in)
			require.NoError(t, err, name, setting)
			seen, listed := map[string]int{}, map[string]int{}
			for _, c := range p.Cells {
				if p.Pieces[c.Piece].Part == InBlock {
					seen[p.Grid[c.Row-1][c.Col-1]]++
				}
			}
			for _, c := range p.CutList {
				if c.Part == InBlock {
					// A rail covers three cells.
					cells := int((c.H - 2*in.Seam) / p.Patch)
					listed[c.Cloth] += c.Needed * cells
				}
			}
			require.Equal(t, listed, seen, "%s, %s", name, setting)
			checkPlan(t, rand.New(rand.NewPCG(3, 4)), &in, p)
		}
	}
}

func TestVerdictIsThatOfALayout(t *testing.T) {
	in := twoCloths(t, "nine-patch", 3, 3)
	p, err := Make(in)
	require.NoError(t, err)
	require.Equal(t, 1., *p.Reads)
	require.Empty(t, p.Changes)
	// A dark that is no darker than the light is lost, and a darker one of the
	// stash mends it.
	in.Cloths[1] = invented("2", 82)
	in.Others = []Cloth{invented("8", 75), invented("9", 25)}
	p, err = Make(in)
	require.NoError(t, err)
	require.Zero(t, *p.Reads)
	require.Equal(t, layout.Lost, p.Seams[0].Verdict)
	require.Len(t, p.Changes, 1)
	require.Equal(t, "9", p.Changes[0].Instead)
	require.Equal(t, 1., p.Changes[0].Reads)
	// With no other cloth it says what to look for.
	in.Others = nil
	p, err = Make(in)
	require.NoError(t, err)
	require.Equal(t, []string{"One more dark, about L 55, plain."}, []string{p.Missing[0].Says})
}

func TestNothingDependsOnOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 20 {
		in := randomInput(r)
		a, errA := Make(in)
		b, errB := Make(in)
		require.Equal(t, errA, errB)
		require.Equal(t, a, b)
	}
}

func TestWrongInput(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Input)
		says   string
	}{
		"no cloths":       {func(in *Input) { in.Cloths = nil }, "no cloth is chosen"},
		"no dark":         {func(in *Input) { delete(in.Roles, 'D') }, "asks for darks"},
		"too many":        {func(in *Input) { in.Cols, in.Rows = 60, 60 }, "at most 100"},
		"off the ruler":   {func(in *Input) { in.Seam = 7 * Millimetre }, "ruler"},
		"narrow cloth":    {func(in *Input) { in.Usable = 2 * Inch }, "usable-width"},
		"wide squares":    {func(in *Input) { in.Alternate, in.Patch = 2, 20*Inch }, "usable-width"},
		"too many people": {func(in *Input) { in.People = 99 }, "1 to 50"},
	} {
		in := twoCloths(t, "nine-patch", 3, 3)
		c.change(&in)
		_, err := Make(in)
		require.ErrorContains(t, err, c.says, name)
	}
}

// A top that hangs is planned as it is: a plan's own mock-up, taken for a top
// on the wall, gives the same grid and as many pieces of each cloth.
func TestATopThatHangsIsMadeAgain(t *testing.T) {
	for _, setting := range []string{"straight", "alternate", "on point"} {
		in := twoCloths(t, "nine-patch-dark-corners", 5, 5)
		switch setting {
		case "alternate":
			in.Alternate = 2
		case "on point":
			in.Design = Design{Name: "one patch", Kinds: []Block{ofRows([]string{"D"})}}
			in.OnPoint, in.Triangles, in.Alternate = true, 2, 0
			in.Cols, in.Rows = 4, 3
		}
		p, err := Make(in)
		require.NoError(t, err)
		// As if it had been measured on the wall, with its pattern to be found.
		hangs, err := layout.Judge(layout.Input{Rows: p.Layout.Rows, Cols: p.Layout.Cols, Setting: p.Layout.Setting, Patches: p.Layout.Patches})
		require.NoError(t, err)
		again := in
		again.Given = &Given{Layout: &hangs, Cloth: map[int]int{}}
		for _, f := range hangs.Fabrics {
			for i, c := range in.Cloths {
				if math.Abs(c.Lab.L-f.Lab.L) < .01 {
					again.Given.Cloth[f.ID] = i
				}
			}
		}
		again.Design, again.OnPoint = Design{}, setting == "on point"
		q, err := Make(again)
		require.NoError(t, err)
		require.Equal(t, p.Grid, q.Grid, setting)
		require.InDelta(t, p.Width.CM(), q.Width.CM(), 1e-6, setting)
		require.InDelta(t, p.Height.CM(), q.Height.CM(), 1e-6, setting)
		count := func(p *Plan) map[string]int {
			out := map[string]int{}
			for _, c := range p.CutList {
				part := c.Part
				if part == InBlock || part == Plain && setting == "on point" {
					part = Loose
				}
				out[c.Cloth+string(part)+c.W.Inches()] += c.Needed
			}
			return out
		}
		require.Equal(t, count(p), count(q), setting)
		for _, c := range q.CutList {
			require.GreaterOrEqual(t, c.Pieces, c.Needed)
		}
	}
}
