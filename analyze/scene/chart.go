package scene

import (
	"fmt"

	"greige/colorspace"
)

// Chart is a photo of flat colour patches, such as a 24-patch chart: paint
// without weave, edges exactly straight.
type Chart struct {
	Take
	Rows, Cols int
	Labs       []colorspace.Lab // row by row
	Gap        float64          // between patches, in patches
	Frame      colorspace.Lab   // of the gap and the rim
	Rim        float64          // round the chart, in patches
	Margin     float64          // see Top
	Ground     Backdrop
}

// Shoot takes the photo. A colour that no file can hold is clipped as a camera would.
func (c Chart) Shoot() (Shot, error) {
	t := Top{
		Take: c.Take, PatchCM: 4, Margin: c.Margin, Ground: c.Ground,
		Gap: c.Gap, Frame: c.Frame, Seams: -1, Wrinkle: -1, Plan: Plan{Pattern: string(Scattered)},
	}
	for r := range c.Rows {
		var row []int
		for k := range c.Cols {
			n := r*c.Cols + k
			row = append(row, n)
			t.Cloths = append(t.Cloths, Cloth{Name: fmt.Sprintf("patch %d", n+1), Pattern: Solid, Inks: []Ink{{c.Labs[n], 1}}})
		}
		t.Plan.Cells = append(t.Plan.Cells, row)
	}
	if c.Rim > 0 {
		t.Border = []Band{{Cloth: len(t.Cloths), CM: c.Rim * t.PatchCM}}
		t.Cloths = append(t.Cloths, Cloth{Name: "frame", Pattern: Solid, Inks: []Ink{{c.Frame, 1}}})
	}
	return t.Shoot()
}
