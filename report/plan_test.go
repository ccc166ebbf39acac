package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"greige/analyze"
	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/plan"
)

// planOf is a plan of the invented scraps: off the bolt, or with pieces of a
// known size.
func planOf(t require.TestingT, scraps bool) *analyze.Result {
	sorted := sortResult()
	block, err := plan.DesignByName("nine-patch")
	require.NoError(t, err)
	ruler, err := plan.NewRuler(false, plan.Inch/4)
	require.NoError(t, err)
	in := plan.Input{Design: block, Cols: 3, Rows: 3, Patch: 2 * plan.Inch, Seam: plan.Inch / 4, Ruler: ruler, Usable: 40 * plan.Inch,
		Roles: map[byte][]int{'L': {0, 1}, 'D': {2, 3}}, Alternate: -1, People: 2, Binding: 3, Borders: []plan.Strip{{Size: 3 * plan.Inch, Cloth: 3}}}
	for _, pick := range []piles.Pile{piles.Light, piles.Light, piles.Dark, piles.Dark} {
		for _, f := range sorted.Sort.Fabrics {
			taken := false
			for _, c := range in.Cloths {
				taken = taken || c.ID == f.ID
			}
			if f.Pile == pick && !f.Doubtful && !taken {
				c := plan.Cloth{Fabric: f}
				if scraps {
					c.Scrap = &plan.Scrap{Outline: [][2]float64{{0, 0}, {16, 0}, {14, 15}, {1, 14}}, PixelCM: .05}
				}
				in.Cloths = append(in.Cloths, c)
				break
			}
		}
	}
	p, err := plan.Make(in)
	require.NoError(t, err)
	r := &analyze.Result{Command: "plan", Distance: 2.5, Plan: p, Light: sorted.Light[:1]}
	picture, cm := p.Draw(make([]*plan.Texture, len(p.Chosen)), 240)
	v := eye.NewViews(picture, eye.PixelsPerDegree(cm, 2.5))
	require.NoError(t, v.FewValues([]float64{50}))
	s := analyze.Sight{Kind: analyze.PlanSight, Views: v}
	for _, c := range p.Cells {
		m := analyze.Mark{ID: fmt.Sprintf("%d,%d", c.Row, c.Col)}
		for _, q := range c.Outline {
			m.Outline = append(m.Outline, [2]float64{q[0] / p.Width.CM(), q[1] / p.Height.CM()})
		}
		s.Marks = append(s.Marks, m)
	}
	r.Sights = []analyze.Sight{s}
	for _, c := range p.Scraps {
		r.PlanScraps = append(r.PlanScraps, analyze.PlanScrap{ID: c.ID, Box: [4]float64{0, 0, 320, 300},
			Swatch: cloth.NewSwatch(photo.New(32, 30), nil, 64), Outline: [][2]float64{{0, 0}, {320, 0}, {280, 300}, {20, 280}}})
	}
	return r
}

// planResult is a plan out of scraps.
func planResult() *analyze.Result { return planOf(fatal{}, true) }

// fatal is a test of what cannot fail.
type fatal struct{}

func (fatal) Errorf(format string, args ...any) { panic(fmt.Sprintf(format, args...)) }
func (fatal) FailNow()                          { panic("failed") }

func TestPlanPage(t *testing.T) {
	for _, scraps := range []bool{false, true} {
		r := planOf(t, scraps)
		root := sound(t, pageOf(t, r))
		// A line to tick for every line of every sheet, each step and each cloth.
		lines := 0
		for i := range r.Plan.Sheets {
			for _, g := range (planChips{}).sheet(r.Plan, &r.Plan.Sheets[i]).Groups {
				lines += len(g.Lines)
			}
		}
		assert.Len(t, root.classed("tickbox"), lines+len(r.Plan.Steps)+len(r.Plan.Cloths))
		assert.Len(t, root.classed("sheet"), len(r.Plan.Sheets), "one sheet of paper each")
		assert.Contains(t, words(root.text), "Person 2")
		assert.Contains(t, words(root.text), "Whoever joins the blocks")
		drawn := 0
		for _, s := range r.Plan.Scraps {
			drawn += len(s.Patches)
		}
		assert.Len(t, root.classed("cutline"), drawn)
		assert.Equal(t, scraps, drawn > 0)
		assert.Contains(t, words(root.text), "Rotary blades and hot irons hurt")
	}
}

func TestPlanFigures(t *testing.T) {
	r := planOf(t, true)
	var b bytes.Buffer
	require.NoError(t, WriteJSON(&b, r, "v"))
	var o struct {
		Schema, Command string
		Patch           struct {
			CM     float64
			Inches string
		} `json:"patch_cut"`
		Grid  [][]string
		Reads *float64
		List  []struct {
			Cloth  string
			Needed int
			Part   string
		} `json:"cutting_list"`
		Scraps []struct{ Yields, Used int }
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &o))
	assert.Equal(t, "greige/1", o.Schema)
	assert.Equal(t, "plan", o.Command)
	assert.Equal(t, 6.35, o.Patch.CM)
	assert.Equal(t, "2 1/2", o.Patch.Inches)
	assert.NotNil(t, o.Reads)
	assert.Len(t, o.Scraps, 4)
	// The picture and the list have the same counts.
	seen, listed := map[string]int{}, map[string]int{}
	for _, row := range o.Grid {
		for _, id := range row {
			seen[id]++
		}
	}
	for _, c := range o.List {
		if c.Part == "block" {
			listed[c.Cloth] += c.Needed
		}
	}
	assert.Equal(t, seen, listed)

	b.Reset()
	require.NoError(t, WriteCSV(&b, r))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Len(t, rows, 1+len(r.Plan.CutList))
	b.Reset()
	require.NoError(t, Terminal(&b, r, TerminalOptions{}))
	for _, line := range strings.Split(b.String(), "\n") {
		assert.LessOrEqual(t, columns(line), 80)
	}
}

func TestReadLayout(t *testing.T) {
	var b bytes.Buffer
	r := layoutResult()
	require.NoError(t, WriteJSON(&b, r, "v"))
	l, photo, err := ReadLayout(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	assert.Equal(t, r.Layout.Rows, l.Rows)
	assert.Len(t, l.Patches, len(r.Layout.Patches))
	assert.Equal(t, r.Light[0].Photo, photo)
	for text, says := range map[string]string{
		"":                                       "not JSON",
		"[]":                                     "not from greige",
		`{}`:                                     "no \"schema\"",
		`{"schema":"greige/2"}`:                  "greige/2",
		`{"schema":"greige/1","command":"sort"}`: "hold no top",
		`{"schema":"greige/1","command":"layout"}`:                                                            "0 rows",
		`{"schema":"greige/1","command":"layout","rows":1,"cols":1}`:                                          "no patch",
		`{"schema":"greige/1","command":"layout","rows":1,"cols":1,"patches":[{"row":2,"col":1}]}`:            "outside its 1 rows",
		`{"schema":"greige/1","command":"layout","rows":1,"cols":1,"patches":[{"row":1,"col":1,"fabric":3}]}`: "which is not there",
		`{"schema":"greige/1","command":"layout","rows":"a"}`:                                                 "not what a layout writes",
	} {
		_, _, err := ReadLayout(strings.NewReader(text))
		assert.ErrorContains(t, err, says, text)
	}
}

func TestStashWidth(t *testing.T) {
	for said, want := range map[string]float64{`"width_cm":84,`: 84, `"width_cm":84,"width_assumed":true,`: 0, `"width_cm":-1,`: 0, ``: 0} {
		_, width, err := ReadStash(strings.NewReader(`{"schema":"greige/1","command":"sort",` + said + `"fabrics":[{"id":"1","lab":[50,0,0],"lightness":50}]}`))
		require.NoError(t, err, said)
		assert.Equal(t, want, width, said)
	}
}
