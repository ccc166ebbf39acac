package scene

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/rwcarlsen/goexif/exif"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/colorspace"
)

// cloths is a few cloths of every pattern.
func cloths() []Cloth {
	navy, cream, rose, green, gold, black := lab(22, 4, -24), lab(90, 0, 12), lab(48, 42, 12), lab(45, -18, 22), lab(70, 12, 52), lab(14, 0, 0)
	return []Cloth{
		NewCloth("rose solid", Solid, rose),
		NewCloth("green scroll", ToneOnTone, green, Ink{lab(52, -18, 24), .3}),
		NewCloth("cream pin dot", ToneOnTone, cream, Ink{lab(84, 1, 16), .2}),
		NewCloth("navy dots", Dots, navy, Ink{cream, .15}, Ink{gold, .05}),
		NewCloth("cream sprigs", Sprigs, cream, Ink{green, .14}, Ink{rose, .08}, Ink{gold, .01}),
		NewCloth("navy flowers", LargeFigures, navy, Ink{rose, .25}, Ink{green, .2}, Ink{lab(70, 25, 8), .08}, Ink{cream, .05}, Ink{gold, .02}),
		NewCloth("black sprays", HighContrast, cream, Ink{black, .4}),
		NewCloth("ticking", Stripe, cream, Ink{navy, .3}, Ink{rose, .1}),
		NewCloth("green plaid", Plaid, green, Ink{navy, .3}, Ink{gold, .06}),
		NewCloth("rose gingham", Gingham, cream, Ink{rose, .5}),
		NewCloth("black check", Check, cream, Ink{black, .5}),
		NewCloth("spruce border", BorderPrint, lab(22, -14, -8), Ink{rose, .14}, Ink{green, .16}, Ink{gold, .08}, Ink{cream, .03}),
	}
}

// lossless is an ideal camera: the file holds reflectance x light.
func lossless() Camera { return Camera{Format: PNG16} }

func decode(t *testing.T, s Shot) image.Image {
	t.Helper()
	im, _, err := image.Decode(bytes.NewReader(s.Data))
	require.NoError(t, err)
	return im
}

// linearAt is the linear light of a pixel of an sRGB file.
func linearAt(im image.Image, x, y int) colorspace.Linear {
	r, g, b, _ := im.At(x, y).RGBA()
	return colorspace.Linear{
		colorspace.DecodeSRGB(float64(r) / 65535), colorspace.DecodeSRGB(float64(g) / 65535), colorspace.DecodeSRGB(float64(b) / 65535),
	}
}

// meanOver is the mean light of the pixels that a mask has wholly.
func meanOver(im image.Image, mask *image.Gray) (m colorspace.Linear, n int) {
	for y := range mask.Rect.Dy() {
		for x := range mask.Rect.Dx() {
			if mask.GrayAt(x, y).Y != 255 {
				continue
			}
			c := linearAt(im, x, y)
			for j := range m {
				m[j] += c[j]
			}
			n++
		}
	}
	for j := range m {
		m[j] /= float64(max(n, 1))
	}
	return m, n
}

func assertLight(t *testing.T, want, have colorspace.Linear, delta float64, what string) {
	t.Helper()
	for j := range want {
		assert.InDelta(t, want[j], have[j], delta, "%s, component %d", what, j)
	}
}

func TestCloseupTruthIsThePixelsMean(t *testing.T) {
	for i, c := range cloths() {
		s, err := Closeup{Take: Take{Seed: uint64(i), Width: 240, Height: 180, Camera: lossless()}, Cloth: c, WidthCM: 14}.Shoot()
		require.NoError(t, err)
		have, n := meanOver(decode(t, s), s.Mask(0))
		assert.Equal(t, 240*180, n)
		assertLight(t, s.Truth.Pieces[0].Reflectance, have, 1e-3, c.Name)
	}
}

// Murray-Davies: a check of two inks sends the mean of their light to the
// eye. Reflectances .9 and .04 in equal parts give .47, L* 74.19; the mean of
// the two L* would be 59.83. Figures: Murray 1936, J. Franklin Inst. 221:721,
// as computed in testdata/published/06_murray_davies.csv.
func TestTwoInkCheckIsMurrayDavies(t *testing.T) {
	check := Cloth{Pattern: Check, Scale: .5, Inks: []Ink{
		{Lab: lab(colorspace.Lightness(.9), 0, 0), Share: .5}, {Lab: lab(colorspace.Lightness(.04), 0, 0), Share: .5},
	}}
	s, err := Closeup{Take: Take{Width: 200, Height: 160, Camera: lossless()}, Cloth: check, WidthCM: 10}.Shoot()
	require.NoError(t, err)
	truth := s.Truth.Pieces[0]
	assert.InDelta(t, 74.19, truth.Lab.L, .05)
	assert.InDelta(t, .47, truth.Reflectance.Y(), 1e-3)
	have, _ := meanOver(decode(t, s), s.Mask(0))
	assert.InDelta(t, .47, have.Y(), 1e-3)
}

// wovenInks are the inks that can be seen in a cloth with the shares that its repeat
// really has: for a plaid the crossings of two yarns among them.
func wovenInks(c Cloth) []Ink {
	f := c.fabric(c.fine())
	inks := slices.Clone(f.inks)
	for i, s := range f.tile.shares(len(inks)) {
		inks[i].Share = s
	}
	return inks
}

// Inks have the shares that were asked for.
func TestInksHaveTheirShares(t *testing.T) {
	for _, c := range cloths() {
		if c.Pattern == Plaid || c.Pattern == Gingham {
			continue // their shares are those of yarns
		}
		for i, k := range wovenInks(c) {
			assert.InDelta(t, c.Inks[i].Share, k.Share, .006, "%s, ink %d", c.Name, i)
		}
	}
	// A gingham is a quarter, a half and a quarter.
	g := wovenInks(cloths()[9])
	require.Len(t, g, 3)
	assert.InDelta(t, .25, g[0].Share, 1e-9)
	assert.InDelta(t, .25, g[1].Share, 1e-9)
	assert.InDelta(t, .5, g[2].Share, 1e-9)
	light := g[0].Lab.Linear().Y()/2 + g[1].Lab.Linear().Y()/2
	assert.InDelta(t, light, g[2].Lab.Linear().Y(), 1e-9, "where two yarns cross, half of each shows")
}

func TestWeaveDoesNotChangeTheMean(t *testing.T) {
	for _, texel := range []float64{.001, .01, .03, .1} {
		w := newWeave(1, texel)
		var sum, square float64
		for _, z := range w.z {
			sum += float64(z)
			square += float64(z) * float64(z)
		}
		n := float64(len(w.z))
		assert.InDelta(t, 0, sum/n, 1e-5)
		if texel < .02 {
			assert.InDelta(t, 1, square/n, 1e-3)
		} else {
			assert.Less(t, square/n, .9, "yarns average out within a pixel")
		}
	}
}

func TestTableTruthIsThePixelsMean(t *testing.T) {
	s, err := Table{
		Take: Take{Seed: 4, Width: 640, Height: 480, Camera: lossless()}, WidthCM: 60, Flat: true, Cloths: cloths()[:5], Ground: Backdrop{Ground: Mat},
	}.Shoot()
	require.NoError(t, err)
	require.Len(t, s.Truth.Pieces, 5)
	im := decode(t, s)
	for i, p := range s.Truth.Pieces {
		have, n := meanOver(im, s.Mask(i))
		assert.InDelta(t, p.Pixels, float64(n), .12*p.Pixels, "a piece is its mask and a rim of mixed pixels")
		tolerance := 1e-3
		if len(p.Inks) > 1 { // the rim that the mask leaves out shows a little more of one ink
			tolerance = .012
		}
		assertLight(t, p.Reflectance, have, tolerance, cloths()[p.Cloth].Name)
		var outline []point
		for _, q := range p.Outline {
			outline = append(outline, point{q[0], q[1]})
		}
		assert.InDelta(t, area(outline), p.Pixels, .01*p.Pixels, "the outline holds the piece")
	}
}

func TestPiecesLieApart(t *testing.T) {
	var many []Cloth
	for len(many) < 100 {
		many = append(many, cloths()[:2]...)
	}
	for seed := range uint64(3) {
		table := Table{Take: Take{Seed: seed, Width: 300, Height: 225}, Gap: .01, Margin: .01, Cloths: many}
		s, err := table.Shoot()
		require.NoError(t, err)
		require.Len(t, s.Truth.Pieces, len(many))
		for i, p := range s.Truth.Pieces {
			assert.False(t, p.FromEdge || p.Covered)
			for _, q := range s.Truth.Pieces[:i] {
				least := math.Inf(1)
				for _, a := range p.Outline {
					for _, b := range q.Outline {
						least = min(least, math.Hypot(a[0]-b[0], a[1]-b[1]))
					}
				}
				assert.GreaterOrEqual(t, least, .01*300-.01)
			}
		}
	}
}

func TestSameSeedSameBytes(t *testing.T) {
	table := Table{Take: Take{Seed: 9, Width: 320, Camera: Phone(), Light: Light{Lamp: Bulb, Ratio: 1.8, Kelvin: 3000, Balance: .6}}, Cloths: cloths(), Things: []Thing{{Kind: Hand, X: .5, Y: .8}}}
	top := Top{Take: Take{Seed: 2, Width: 320, Camera: Phone()}, Cloths: cloths(), Plan: Design{Repeat: NinePatch, Rows: 6, Cols: 6, Lights: []int{2, 4}, Darks: []int{3, 5}}.Plan(), Wobble: .1, Margin: .1}
	one, err := table.Shoot()
	require.NoError(t, err)
	oneTop, err := top.Shoot()
	require.NoError(t, err)
	table.Workers, top.Workers = 3, 3
	three, err := table.Shoot()
	require.NoError(t, err)
	threeTop, err := top.Shoot()
	require.NoError(t, err)
	assert.True(t, bytes.Equal(one.Data, three.Data))
	assert.True(t, bytes.Equal(oneTop.Data, threeTop.Data))
	one.stage, three.stage = nil, nil
	assert.Equal(t, one.Truth, three.Truth)
	table.Seed++
	other, err := table.Shoot()
	require.NoError(t, err)
	assert.False(t, bytes.Equal(one.Data, other.Data))
}

// Along every seam, a little to either side of it, the picture shows the
// patch that the truth says lies there.
func TestOutlinesAreTheDrawnSeams(t *testing.T) {
	flat := []Cloth{{Pattern: Solid, Inks: []Ink{{Lab: lab(90, 0, 0), Share: 1}}}, {Pattern: Solid, Inks: []Ink{{Lab: lab(20, 0, 0), Share: 1}}}}
	for name, top := range map[string]Top{
		"straight": {Plan: Design{Repeat: Checkerboard, Rows: 7, Cols: 9, Lights: []int{0}, Darks: []int{1}}.Plan(), Take: Take{View: View{Tilt: 20, Side: 8, Roll: 6}}},
		"sashing":  {Plan: Design{Repeat: FourPatch, Rows: 6, Cols: 6, Lights: []int{0}, Darks: []int{1}, Sashing: .5, SashCloth: 0, CornerCloth: 1}.Plan()},
		"on point": {Plan: Design{Repeat: Checkerboard, OnPoint: true, Across: 4, Down: 5, Lights: []int{0}, Darks: []int{1}}.Plan(), Take: Take{View: View{Tilt: -12}}},
		"halves":   {Plan: Design{Repeat: FourPatch, OnPoint: true, Across: 4, Down: 4, Lights: []int{0}, Darks: []int{1}, Setting: 1}.Plan()},
	} {
		for _, wobble := range []float64{0, .1} {
			top.Take = Take{Seed: 5, Width: 900, Camera: lossless(), View: top.View}
			top.Cloths, top.Wobble, top.Sag, top.Margin, top.Seams, top.Wrinkle = flat, wobble, .04, .08, -1, -1
			s, err := top.Shoot()
			require.NoError(t, err)
			im := decode(t, s)
			seen := 0
			for _, p := range s.Truth.Grid.Patches {
				require.GreaterOrEqual(t, len(p.Outline), 3)
				assert.Equal(t, p.Triangle, len(p.Outline) == 3, "row %d col %d: %v", p.Row, p.Col, p.Outline)
				var mx, my float64
				for _, q := range p.Outline {
					mx, my = mx+q[0]/float64(len(p.Outline)), my+q[1]/float64(len(p.Outline))
				}
				want := flat[p.Cloth].Inks[0].Lab.Linear().Y()
				for i, a := range p.Outline {
					b := p.Outline[(i+1)%len(p.Outline)]
					x, y := (a[0]+b[0])/2, (a[1]+b[1])/2
					d := math.Hypot(mx-x, my-y)
					// Pixels from the seam: seams bend, so between its corners one
					// that wobbles is not quite the straight side of the outline.
					for _, in := range []float64{3 + 3*wobble*d, d / 2} {
						have := linearAt(im, int(x+(mx-x)*in/d), int(y+(my-y)*in/d)).Y()
						assert.InDelta(t, want, have, .02, "row %d col %d side %d, %s, wobble %v", p.Row, p.Col, i, name, wobble)
						seen++
					}
				}
			}
			assert.Greater(t, seen, 100)
			assert.Len(t, s.Truth.Grid.Corners, 4)
		}
	}
}

// The patches' areas make up the top: nothing is left out or counted twice.
func TestPatchesMakeUpTheTop(t *testing.T) {
	for _, d := range []Design{
		{Repeat: NinePatch, Rows: 6, Cols: 9, Lights: []int{0}, Darks: []int{1}},
		{Repeat: NinePatch, OnPoint: true, Across: 6, Down: 3, Lights: []int{0}, Darks: []int{1}, Setting: 1},
		{Repeat: SixteenPatch, OnPoint: true, Across: 4, Down: 8, Lights: []int{0}, Darks: []int{1}, Setting: 1},
	} {
		s, err := Top{Take: Take{Width: 500, Camera: lossless()}, Plan: d.Plan(), Cloths: cloths(), Margin: .1, Wobble: .08}.Shoot()
		require.NoError(t, err)
		var sum, drawn float64
		for i := range s.Truth.Grid.Patches {
			p := &s.Truth.Grid.Patches[i]
			sum += p.Pixels
			var outline []point
			for _, q := range p.Outline {
				outline = append(outline, point{q[0], q[1]})
			}
			drawn += area(outline)
		}
		c := s.Truth.Grid.Corners
		whole := area([]point{{c[0][0], c[0][1]}, {c[1][0], c[1][1]}, {c[2][0], c[2][1]}, {c[3][0], c[3][1]}})
		assert.InDelta(t, whole, sum, .005*whole)
		assert.InDelta(t, whole, drawn, .01*whole)
	}
}

func TestPlansFollowTheirCharts(t *testing.T) {
	for _, r := range []Repeat{FourPatch, NinePatch, NinePatchLight, SixteenPatch, Checkerboard, Rails, Stripes, ThreeValues} {
		d := Design{Seed: 3, Repeat: r, Rows: 12, Cols: 12, Lights: []int{0, 1}, Mediums: []int{2, 3}, Darks: []int{4, 5}, Planted: 3}
		p := d.Plan()
		chart := r.chart()
		role := map[int]byte{0: 'L', 1: 'L', 2: 'M', 3: 'M', 4: 'D', 5: 'D'}
		var wrong [][2]int
		for i, row := range p.Cells {
			for j, c := range row {
				line := chart[i%len(chart)]
				assert.Equal(t, line[j%len(line)], p.Chart[i][j], "%s", r)
				if role[c] != p.Chart[i][j] {
					wrong = append(wrong, [2]int{i + 1, j + 1})
				}
			}
		}
		assert.Equal(t, p.Planted, wrong, "%s: only the planted patches stand against the chart", r)
		assert.Len(t, wrong, 3)
	}
	// Common practice, no source: a nine patch with dark corners has five
	// darks and four lights.
	assert.Equal(t, []string{"DLD", "LDL", "DLD"}, NinePatch.chart())
	alternate := Design{Repeat: NinePatch, Rows: 9, Cols: 9, Alternate: true, Lights: []int{0, 1}, Darks: []int{2}}.Plan()
	for r := range 3 {
		for c := 3; c < 6; c++ {
			assert.Equal(t, 0, alternate.Cells[r][c])
			assert.Equal(t, alternate.Whole[0][3], alternate.Whole[r][c], "a plain block is one piece")
		}
	}
	sashed := Design{Repeat: FourPatch, Rows: 4, Cols: 6, Lights: []int{0}, Darks: []int{1}, Sashing: .4, SashCloth: 2, CornerCloth: 3, Planted: 1}.Plan()
	assert.Equal(t, []float64{.4, 1, 1, .4, 1, 1, .4}, sashed.RowSizes)
	assert.Len(t, sashed.ColSizes, 10)
	assert.Equal(t, []int{3, 2, 2, 3, 2, 2, 3, 2, 2, 3}, sashed.Cells[0])
	at := sashed.Planted[0]
	assert.NotEqual(t, map[byte]int{'L': 0, 'D': 1}[sashed.Chart[at[0]-1][at[1]-1]], sashed.Cells[at[0]-1][at[1]-1])
}

// On point, rows and columns are diagonals: row 1 in the top left corner,
// column 1 in the bottom left one.
func TestOnPointRowsAndColumns(t *testing.T) {
	s, err := Top{Take: Take{Width: 400}, Cloths: cloths(), Plan: Design{Repeat: Checkerboard, OnPoint: true, Across: 3, Down: 2, Lights: []int{0}, Darks: []int{1}}.Plan()}.Shoot()
	require.NoError(t, err)
	g := s.Truth.Grid
	middle := func(p *Patch) (x, y float64) {
		for _, q := range p.Outline {
			x, y = x+q[0]/float64(len(p.Outline)), y+q[1]/float64(len(p.Outline))
		}
		return
	}
	// 3 by 2 whole patches stand along the edges, 2 by 1 between them; with
	// the triangles at the edges that makes 8 + 6 sides + 4 corners.
	assert.Len(t, g.Patches, 6+2+2*2+2*1+4)
	first := g.Patch(1, 3)
	require.NotNil(t, first)
	assert.True(t, first.Triangle)
	x, y := middle(first)
	assert.Less(t, x, 40.0)
	assert.Less(t, y, 40.0)
	last := g.Patch(3, 1)
	require.NotNil(t, last)
	x, y = middle(last)
	assert.Less(t, x, 40.0)
	assert.Greater(t, y, float64(s.Truth.Height)-40)
	// A step along a row goes up and to the right.
	a, b := g.Patch(3, 3), g.Patch(3, 4)
	require.NotNil(t, a)
	require.NotNil(t, b)
	ax, ay := middle(a)
	bx, by := middle(b)
	assert.Greater(t, bx, ax)
	assert.Less(t, by, ay)
	assert.Nil(t, g.Patch(1, 1))
}

func TestRenderingAgainShowsTheChange(t *testing.T) {
	plan := Design{Repeat: Checkerboard, Rows: 4, Cols: 4, Lights: []int{0}, Darks: []int{1}}.Plan()
	top := Top{Take: Take{Seed: 1, Width: 200, Camera: lossless()}, Plan: plan, Cloths: cloths()}
	before, err := top.Shoot()
	require.NoError(t, err)
	top.Plan.Cells[1][2] = 3
	after, err := top.Shoot()
	require.NoError(t, err)
	for i, p := range after.Truth.Grid.Patches {
		old := before.Truth.Grid.Patches[i]
		if p.Row == 2 && p.Col == 3 {
			assert.NotEqual(t, old.Lab, p.Lab)
			continue
		}
		assert.Equal(t, old.Measure, p.Measure)
	}
}

// The 24 colours of a rendition chart come back out of the file. Values:
// McCamy, Marcus and Davidson 1976, L*a*b* of 2005.
func TestChartColours(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", "04_colour_rendition_chart.csv"))
	require.NoError(t, err)
	defer f.Close()
	read := csv.NewReader(f)
	read.Comment = '#'
	rows, err := read.ReadAll()
	require.NoError(t, err)
	column := map[string]int{}
	for i, h := range rows[0] {
		column[h] = i
	}
	var labs []colorspace.Lab
	for _, row := range rows[1:] {
		n := func(name string) float64 {
			v, err := strconv.ParseFloat(row[column[name]], 64)
			require.NoError(t, err)
			return v
		}
		labs = append(labs, lab(n("L_D50_2005"), n("a_D50_2005"), n("b_D50_2005")))
	}
	require.Len(t, labs, 24)
	s, err := Chart{Take: Take{Width: 600, Camera: Camera{Quality: 98, Space: colorspace.DisplayP3}}, Rows: 4, Cols: 6, Labs: labs, Gap: .1, Rim: .2, Margin: .05}.Shoot()
	require.NoError(t, err)
	im := decode(t, s)
	toSRGB := colorspace.DisplayP3.ToLinearSRGB()
	for i, p := range s.Truth.Grid.Patches {
		assert.InDelta(t, labs[i].L, p.Lab.L, 1e-3)
		x, y := (p.Outline[0][0]+p.Outline[2][0])/2, (p.Outline[0][1]+p.Outline[2][1])/2
		have := colorspace.Linear(toSRGB.Apply(linearAt(im, int(x), int(y)))).Lab()
		wide := toSRGB.Inverse().Apply(labs[i].Linear())
		for j := range wide { // the cyan lies just outside even of Display P3
			wide[j] = max(wide[j], 0)
		}
		want := colorspace.Linear(toSRGB.Apply(wide)).Lab()
		// 8-bit codes of a JPEG: half a code is up to .3 L* in the dark.
		assert.InDelta(t, want.L, have.L, .6, "patch %d", i+1)
		assert.InDelta(t, want.A, have.A, 1.5, "patch %d", i+1)
		assert.InDelta(t, want.B, have.B, 2.5, "patch %d", i+1)
	}
}

// Apertures, times and sensitivities of ISO 2720 (K = 12.5) and CIPA DC-008:
// each row is F, t, ISO, Av, Tv, Sv and the luminance that comes out mid-grey.
func TestExposureIsWhatTheRecordSays(t *testing.T) {
	for _, row := range [][7]float64{
		{1, 1, 100, 0, 0, 5, .1250},
		{2.8, 1. / 60, 100, 2.97085, 5.90689, 5, 58.8},
		{4, 1. / 125, 200, 4, 6.96578, 6, 125},
		{5.6, 1. / 60, 400, 4.97085, 5.90689, 7, 58.8},
		{8, 1. / 250, 100, 6, 7.96578, 5, 2000},
		{16, 1. / 125, 100, 8, 6.96578, 5, 4000},
		{1.8, 1. / 30, 800, 1.69599, 4.90689, 8, 1.5187},
		{2, 1. / 50, 50, 2, 5.64386, 4, 50},
	} {
		const lux = 400
		c := Closeup{Take: Take{Width: 64, Height: 48, Light: Light{Lux: lux}, Camera: Camera{Make: "Invented", Model: "Test", FNumber: row[0], ExposureTime: row[1], Sensitivity: int(row[2])}}, Cloth: cloths()[0]}
		s, err := c.Shoot()
		require.NoError(t, err)
		x, err := exif.Decode(bytes.NewReader(s.Data))
		require.NoError(t, err)
		rational := func(name exif.FieldName) float64 {
			tag, err := x.Get(name)
			require.NoError(t, err)
			num, den, err := tag.Rat2(0)
			require.NoError(t, err)
			return float64(num) / float64(den)
		}
		assert.InDelta(t, row[3], rational(exif.ApertureValue), 1e-4)
		assert.InDelta(t, row[4], rational(exif.ShutterSpeedValue), 1e-4)
		assert.InDelta(t, row[0], rational(exif.FNumber), 1e-9)
		assert.InDelta(t, row[1], rational(exif.ExposureTime), 1e-9)
		tag, err := x.Get(exif.ISOSpeedRatings)
		require.NoError(t, err)
		iso, err := tag.Int(0)
		require.NoError(t, err)
		assert.Equal(t, int(row[2]), iso)
		assert.InDelta(t, row[5], math.Log2(float64(iso)/3.125), 1e-4)
		// A surface that sends back row[6] cd/m2 under these lux is mid-grey.
		assert.InDelta(t, midGrey, s.Truth.Exposure*row[6]*math.Pi/lux, midGrey*1e-3)
		// The meter's own reading: Bv of the photo's mean luminance, which
		// for a meter that gets its way is Av + Tv - Sv.
		y := s.Truth.Pieces[0].Reflectance.Y() * lux / math.Pi
		assert.InDelta(t, math.Log2(y*3.125/meterConstant), rational(exif.BrightnessValue), .01)
	}
}

// Auto-exposure brings a black and a white cloth to the same grey, and the
// record undoes it.
func TestAutoExposure(t *testing.T) {
	var mean, exposed []float64
	for _, l := range []float64{14, 45, 92} {
		c := Phone()
		c.Noise, c.Tone, c.Blur = 0, 0, 0
		s, err := Closeup{Take: Take{Width: 120, Height: 90, Camera: c, Light: Light{Kelvin: 5000}}, Cloth: NewCloth("plain", Solid, lab(l, 0, 0))}.Shoot()
		require.NoError(t, err)
		have, _ := meanOver(decode(t, s), s.Mask(0))
		mean = append(mean, have.Y())
		x, err := exif.Decode(bytes.NewReader(s.Data))
		require.NoError(t, err)
		get := func(name exif.FieldName) float64 {
			tag, err := x.Get(name)
			require.NoError(t, err)
			num, den, err := tag.Rat2(0)
			require.NoError(t, err)
			return float64(num) / float64(den)
		}
		tag, err := x.Get(exif.ISOSpeedRatings)
		require.NoError(t, err)
		iso, err := tag.Int(0)
		require.NoError(t, err)
		f := get(exif.FNumber)
		exposed = append(exposed, have.Y()*f*f/(get(exif.ExposureTime)*float64(iso)))
	}
	assert.InDelta(t, midGrey, mean[0], .006)
	assert.InDelta(t, mean[0], mean[1], .008)
	assert.InDelta(t, mean[0], mean[2], .008)
	for i, l := range []float64{14, 45, 92} {
		assert.InDelta(t, colorspace.LuminanceOf(l)/colorspace.LuminanceOf(92), exposed[i]/exposed[2], .02)
	}
}

// One picture, eight files: undone by the standard's table, all are the same.
// Source: CIPA DC-008, Orientation: where row 0 and column 0 of the file lie.
func TestOrientation(t *testing.T) {
	closeup := Closeup{Take: Take{Seed: 3, Width: 60, Height: 40, Camera: Camera{Format: PNG}}, Cloth: cloths()[5]}
	s, err := closeup.Shoot()
	require.NoError(t, err)
	want := decode(t, s)
	for n, sides := range map[int][2]string{
		1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
		5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
	} {
		closeup.Camera.Orientation = n
		s, err := closeup.Shoot()
		require.NoError(t, err)
		have := decode(t, s)
		for y := range 40 {
			for x := range 60 {
				at := map[string]int{"top": y, "bottom": 39 - y, "left": x, "right": 59 - x}
				require.Equal(t, want.At(x, y), have.At(at[sides[1]], at[sides[0]]), "orientation %d", n)
			}
		}
		chunk := bytes.Index(s.Data, []byte("eXIf"))
		if n == 1 {
			assert.Negative(t, chunk)
			continue
		}
		x, err := exif.Decode(bytes.NewReader(s.Data[chunk+4:]))
		require.NoError(t, err)
		tag, err := x.Get(exif.Orientation)
		require.NoError(t, err)
		v, err := tag.Int(0)
		require.NoError(t, err)
		assert.Equal(t, n, v)
	}
}

// The profile's primaries are those of Display P3 adapted to D50 (from the
// published profile, from memory; the matrix of testdata/published/01_*
// checks the same through D65).
func TestProfile(t *testing.T) {
	icc := profile("Display P3", colorspace.DisplayP3)
	assert.EqualValues(t, len(icc), binary.BigEndian.Uint32(icc))
	assert.Equal(t, "acsp", string(icc[36:40]))
	number := func(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }
	want := map[string][3]float64{
		"rXYZ": {.51512, .24120, -.00105}, "gXYZ": {.29198, .69225, .04189}, "bXYZ": {.15710, .06657, .78407}, "wtpt": {.9642, 1, .8249},
	}
	for i := range int(binary.BigEndian.Uint32(icc[128:])) {
		e := icc[132+12*i:]
		at, size := binary.BigEndian.Uint32(e[4:]), binary.BigEndian.Uint32(e[8:])
		assert.Zero(t, at%4)
		require.LessOrEqual(t, int(at+size), len(icc))
		w, ok := want[string(e[:4])]
		if !ok {
			continue
		}
		for j := range w {
			assert.InDelta(t, w[j], number(icc[int(at)+8+4*j:]), 5e-5, "%s", e[:4])
		}
		delete(want, string(e[:4]))
	}
	assert.Empty(t, want)
	// A P3 photo and its sRGB twin mean the same.
	c := Closeup{Take: Take{Width: 60, Height: 40, Camera: lossless()}, Cloth: NewCloth("green", Solid, lab(50, -40, 30))}
	plain, err := c.Shoot()
	require.NoError(t, err)
	c.Camera.Space = colorspace.DisplayP3
	wide, err := c.Shoot()
	require.NoError(t, err)
	assert.Contains(t, string(wide.Data), "iCCP")
	m := colorspace.DisplayP3.ToLinearSRGB()
	assertLight(t, linearAt(decode(t, plain), 30, 20), m.Apply(linearAt(decode(t, wide), 30, 20)), 1e-3, "P3")
}

func TestLightField(t *testing.T) {
	for _, l := range []Light{
		{Lamp: Bulb, From: 220, Ratio: 2}, {Lamp: Window, From: 0, Ratio: 1.5}, {Lamp: Bulb, From: 90, Ratio: 3, Vignette: .2},
	} {
		f := l.Field(400, 300)
		var sum, lo, hi float64
		lo = math.Inf(1)
		for y := range 30 {
			for x := range 40 {
				e := f.at(float64(x)*10+5, float64(y)*10+5)
				sum, lo, hi = sum+e, min(lo, e), max(hi, e)
			}
		}
		assert.InDelta(t, 1, sum/1200, .01)
		assert.InDelta(t, l.Ratio, hi/lo, .15)
	}
	even := Light{}.Field(100, 100)
	assert.InDelta(t, 1, even.at(3, 90), 1e-12)
	half := Light{Shadows: []Shadow{{X: .5, Y: .5, Half: true, Depth: .6}}}.Field(100, 100)
	assert.InDelta(t, 1, half.at(10, 50), 1e-9)
	assert.InDelta(t, .4, half.at(90, 50), 1e-9)
}

// Under a 2856 K lamp and no white balance a white has the chromaticity of
// CIE illuminant A, .44758 .40745 (CIE 15:2018); wholly balanced it is white.
func TestCast(t *testing.T) {
	c := Light{Kelvin: 2856}.cast().Apply([3]float64{1, 1, 1})
	xyz := colorspace.Linear(c).XYZ()
	s := xyz.X + xyz.Y + xyz.Z
	assert.InDelta(t, .44758, xyz.X/s, 5e-4)
	assert.InDelta(t, .40745, xyz.Y/s, 5e-4)
	assert.InDelta(t, 1, xyz.Y, 1e-9)
	full := Light{Kelvin: 2856, Balance: 1}.cast().Apply([3]float64{1, 1, 1})
	assertLight(t, colorspace.Linear{1, 1, 1}, full, 1e-9, "balanced")
	brad := Light{Kelvin: 2856, Balance: .5, Bradford: true}.cast().Apply([3]float64{1, 1, 1})
	diag := Light{Kelvin: 2856, Balance: .5}.cast().Apply([3]float64{1, 1, 1})
	assertLight(t, diag, brad, 1e-6, "white is the same either way")
}

// The pixel is reflectance x illumination x cast x exposure.
func TestPixelModel(t *testing.T) {
	plain := Cloth{Pattern: Solid, Inks: []Ink{{Lab: lab(50, 10, -10), Share: 1}}}
	take := Take{Width: 200, Height: 150, Camera: lossless(), Light: Light{Lamp: Bulb, From: 30, Ratio: 2, Kelvin: 4200, Balance: .5}}
	take.Camera.Gain = .8
	s, err := Closeup{Take: take, Cloth: plain}.Shoot()
	require.NoError(t, err)
	im := decode(t, s)
	for _, p := range []image.Point{{10, 10}, {100, 75}, {190, 140}} {
		r := s.Truth.Pieces[0].Reflectance
		e := s.Truth.Light.at(float64(p.X)+.5, float64(p.Y)+.5) * s.Truth.Exposure
		want := colorspace.Linear{r[0] * e * s.Truth.Cast[0], r[1] * e * s.Truth.Cast[1], r[2] * e * s.Truth.Cast[2]}
		assertLight(t, want, linearAt(im, p.X, p.Y), 1e-4, "pixel")
	}
}

// Sensor noise has the variance of its model and no mean.
func TestNoise(t *testing.T) {
	take := Take{Seed: 8, Width: 300, Height: 200, Camera: Camera{Format: PNG16, Noise: 1, Make: "Invented", ExposureTime: 1. / 60, Sensitivity: 200}}
	s, err := Closeup{Take: take, Cloth: Cloth{Pattern: Solid, Inks: []Ink{{Lab: lab(50, 0, 0), Share: 1}}}}.Shoot()
	require.NoError(t, err)
	im := decode(t, s)
	var sum, square float64
	for y := range 200 {
		for x := range 300 {
			v := linearAt(im, x, y)[1]
			sum += v
			square += v * v
		}
	}
	n := 60000.0
	want := s.Truth.Pieces[0].Reflectance[1] * s.Truth.Exposure
	assert.InDelta(t, want, sum/n, 3e-4)
	full := 6000 * 50 / 200.0
	assert.InDelta(t, want/full+9/full/full, square/n-sum*sum/n/n, .03*want/full)
}

func TestCardsAreKnown(t *testing.T) {
	s, err := Closeup{
		Take: Take{Width: 300, Height: 200, Camera: lossless()}, Cloth: cloths()[5],
		Cards: []Paper{{X: .8, Y: .5, W: 6, H: 8, Angle: 8}, {X: .2, Y: .2, W: 4, H: 3, Lab: GreyCard()}},
	}.Shoot()
	require.NoError(t, err)
	im := decode(t, s)
	for i, want := range []float64{95, 49.5} { // 18 % grey: L* 49.5
		r := s.Truth.Cards[i].Inside
		assert.Greater(t, r.Dx()*r.Dy(), 500)
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				require.InDelta(t, want, linearAt(im, x, y).Lab().L, .1)
			}
		}
	}
	assert.True(t, s.Truth.Pieces[0].Covered)
	assert.Less(t, s.Truth.Pieces[0].Pixels, 300*200*.85)
}

func TestLyingBorder(t *testing.T) {
	s, err := Border{Take: Take{Seed: 2, Width: 600, Camera: lossless()}, Print: cloths()[11], Lying: true, Beside: cloths()[:4], Turn: 4}.Shoot()
	require.NoError(t, err)
	require.Len(t, s.Truth.Pieces, 5)
	assert.Greater(t, s.Truth.Print.Dx(), 200)
	mask := s.Mask(0)
	for y := s.Truth.Print.Min.Y; y < s.Truth.Print.Max.Y; y++ {
		for x := s.Truth.Print.Min.X; x < s.Truth.Print.Max.X; x++ {
			require.EqualValues(t, 255, mask.GrayAt(x, y).Y, "--at lies on the print")
		}
	}
	sum := 0.0
	for _, k := range s.Truth.PrintIs.Inks {
		sum += k.Share
	}
	assert.InDelta(t, 1, sum, 1e-9)
	assert.Len(t, s.Truth.PrintIs.Inks, 5)
}

func TestCrowdedTables(t *testing.T) {
	_, err := Table{Take: Take{Width: 100}, WidthCM: 5, Gap: .2, Cloths: append(cloths(), cloths()...)}.Shoot()
	assert.ErrorIs(t, err, ErrNoRoom)
	// Empty things are small, not wrong.
	_, err = Closeup{Take: Take{Width: 8, Height: 8}}.Shoot()
	assert.NoError(t, err)
	_, err = Table{Take: Take{Width: 8}}.Shoot()
	assert.NoError(t, err)
	assert.Error(t, Write(t.TempDir(), Shot{Name: "../x.jpg"}))
}

func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	s, err := Closeup{Take: Take{Name: "a b.jpg", Width: 16, Height: 16}, Cloth: cloths()[0]}.Shoot()
	require.NoError(t, err)
	require.NoError(t, Write(dir, s))
	have, err := os.ReadFile(filepath.Join(dir, "a b.jpg"))
	require.NoError(t, err)
	assert.Equal(t, s.Data, have)
}

// The demo's scene holds what its page needs: pieces, a card in each photo
// that should have one, a top with two patches that stand against it.
func TestDemo(t *testing.T) {
	shots, err := Demo(.12, 2)
	require.NoError(t, err)
	names := map[string]*Shot{}
	for i := range shots {
		names[shots[i].Name] = &shots[i]
	}
	basket, wall, border := names["basket.jpg"], names["wall.jpg"], names["border.jpg"]
	require.NotNil(t, basket)
	require.NotNil(t, wall)
	require.NotNil(t, border)
	assert.Len(t, basket.Truth.Pieces, 24)
	assert.Len(t, basket.Truth.Cards, 1)
	wrong := 0
	for _, p := range wall.Truth.Grid.Patches {
		if !p.Misplaced {
			continue
		}
		wrong++
		neighbours := 0 // that it runs into: less than 20 L* away
		for _, d := range [][2]int{{0, 1}, {1, 0}, {0, -1}, {-1, 0}} {
			if q := wall.Truth.Grid.Patch(p.Row+d[0], p.Col+d[1]); q != nil && math.Abs(q.Lab.L-p.Lab.L) < 20 {
				neighbours++
			}
		}
		assert.GreaterOrEqual(t, neighbours, 2, "row %d, column %d", p.Row, p.Col)
	}
	assert.Equal(t, 2, wrong)
	assert.Len(t, border.Truth.Pieces[0].Inks, 7)
	card := border.Truth.Cards[0].Inside
	for _, s := range shots {
		if s.Truth.Grid == nil && s.Name != "basket.jpg" {
			card = card.Intersect(s.Truth.Cards[0].Inside)
		}
	}
	assert.Greater(t, card.Dx()*3, border.Truth.Cards[0].Inside.Dx()*2, "one --card holds for border and stash")
	// The card is not blown out, or it would be worth nothing.
	for _, s := range shots {
		if len(s.Truth.Cards) == 1 {
			assert.Less(t, s.Truth.Exposure*colorspace.LuminanceOf(95), 1.06, s.Name)
		}
	}
}

// An unsharp mask overdoes an edge and leaves flat areas alone.
func TestSharpening(t *testing.T) {
	k := sharpened(gaussian(.7), .5)
	var sum float32
	for _, v := range k {
		sum += v
	}
	assert.InDelta(t, 1, sum, 1e-5)
	row := make([]float32, 3*40)
	for i := range row {
		if i >= 3*20 {
			row[i] = .5
		}
	}
	blurRow(row, make([]float32, len(row)), k)
	assert.InDelta(t, 0, row[0], 1e-6)
	assert.InDelta(t, .5, row[3*39], 1e-6)
	assert.Greater(t, slices.Max(row), float32(.51))
	assert.Less(t, slices.Min(row), float32(-.01))
}

// Scenes drawn at random can be shot, and hold what they promise.
func TestAnyScenes(t *testing.T) {
	for seed := range uint64(6) {
		table := AnyTable(seed)
		table.Width = 240
		s, err := table.Shoot()
		require.NoError(t, err, "table %d", seed)
		assert.Len(t, s.Truth.Pieces, len(table.Cloths))
		for _, p := range s.Truth.Pieces {
			assert.Greater(t, p.Pixels, 1.0)
			assert.False(t, p.Covered || p.FromEdge)
		}
		top := AnyTop(seed)
		top.Width = 240
		s, err = top.Shoot()
		require.NoError(t, err, "top %d", seed)
		g := s.Truth.Grid
		assert.True(t, g.Rows >= 2 && g.Cols >= 2)
		wrong := 0
		for _, p := range g.Patches {
			if p.Misplaced {
				wrong++
			}
			assert.Equal(t, map[byte]string{'L': "light", 'M': "medium", 'D': "dark", '.': "any"}[g.Chart[p.Row-1][p.Col-1]], p.Meant)
			assert.Contains(t, "LMD.", string(g.Chart[p.Row-1][p.Col-1]))
		}
		assert.Len(t, top.Plan.Planted, wrong)
		border := AnyBorder(seed)
		border.Width = 240
		s, err = border.Shoot()
		require.NoError(t, err, "border %d", seed)
		assert.Len(t, s.Truth.Cards, 1)
		for i, k := range wovenInks(border.Print) {
			assert.InDelta(t, border.Print.Inks[i].Share, k.Share, .009, "border %d, ink %d", seed, i)
			assert.Greater(t, k.Share, .004)
		}
		for i, a := range border.Print.Inks {
			for _, b := range border.Print.Inks[:i] {
				assert.Greater(t, colorspace.CIEDE2000(a.Lab, b.Lab), 11.0)
			}
		}
	}
	shots := AnyCloseups(3, 4, true)
	require.Len(t, shots, 4)
	for _, c := range shots {
		assert.Equal(t, shots[0].Light.Lux, c.Light.Lux)
		assert.Equal(t, shots[0].Light.Kelvin, c.Light.Kelvin)
	}
	// Inks keep to what dyed cotton can do.
	for _, c := range AnyCloths(1, 60) {
		for _, k := range c.Inks {
			l := k.Lab.Linear()
			assert.True(t, k.Lab.L > 11.9 && k.Lab.L < 95.1, "%v", k.Lab)
			assert.True(t, min(l[0], l[1], l[2]) > .0035 && max(l[0], l[1], l[2]) < .955, "%v", l)
		}
	}
}
