package report

import (
	"fmt"
	"io"
	"math"

	"greige/analyze/layout"
	"greige/analyze/piles"
)

// ReadLayout reads the top out of what an earlier `greige layout --json`
// wrote, at most 64 MiB, and the name of its photo. Every error is an *Error
// without a file name: not JSON, another schema, another command's figures, no
// patches, or a figure out of its range.
func ReadLayout(r io.Reader) (l *layout.Layout, photo string, err error) {
	var o struct {
		layout.Layout
		Light []struct {
			Photo string `json:"photo"`
		} `json:"light"`
	}
	if err := layoutFigures.read(r, &o); err != nil {
		return nil, "", err
	}
	if err := checkLayout(&o.Layout); err != nil {
		return nil, "", layoutFigures.wrong("%v", err)
	}
	if len(o.Light) > 0 {
		photo = o.Light[0].Photo
	}
	return &o.Layout, photo, nil
}

// checkLayout refuses what no layout can have written.
func checkLayout(l *layout.Layout) error {
	if l.Rows < 1 || l.Cols < 1 || l.Rows > layout.MaxSide || l.Cols > layout.MaxSide {
		return fmt.Errorf("%d rows and %d columns; there are 1 to %d", l.Rows, l.Cols, layout.MaxSide)
	}
	if len(l.Patches) == 0 {
		return fmt.Errorf("there is no patch in it")
	}
	fabrics := map[int]bool{}
	for _, f := range l.Fabrics {
		if err := piles.CheckLab(f.Lab); err != nil {
			return fmt.Errorf("fabric %d: %w", f.ID, err)
		}
		fabrics[f.ID] = true
	}
	inside := func(c layout.Cell) bool { return c[0] >= 1 && c[0] <= l.Rows && c[1] >= 1 && c[1] <= l.Cols }
	seen := map[layout.Cell]bool{}
	for _, p := range l.Patches {
		c := layout.Cell{p.Row, p.Col}
		switch {
		case !inside(c):
			return fmt.Errorf("patch %d,%d lies outside its %d rows and %d columns", p.Row, p.Col, l.Rows, l.Cols)
		case seen[c]:
			return fmt.Errorf("patch %d,%d is there twice", p.Row, p.Col)
		case !fabrics[p.Fabric]:
			return fmt.Errorf("patch %d,%d is of fabric %d, which is not there", p.Row, p.Col, p.Fabric)
		case !(p.Spread >= 0 && p.Spread <= 100 && p.Uncertainty >= 0 && p.Uncertainty <= 100):
			return fmt.Errorf("patch %d,%d has a figure that no cloth has", p.Row, p.Col)
		}
		if err := piles.CheckLab(p.Lab); err != nil {
			return fmt.Errorf("patch %d,%d: %w", p.Row, p.Col, err)
		}
		for _, q := range p.Outline {
			if math.Abs(q[0]) > 1e6 || math.Abs(q[1]) > 1e6 || len(p.Outline) > 16 {
				return fmt.Errorf("patch %d,%d has an outline that no photo has", p.Row, p.Col)
			}
		}
		seen[c] = true
	}
	for _, b := range l.Blocks {
		if !inside(b.From) || !inside(b.To) || b.To[0] < b.From[0] || b.To[1] < b.From[1] {
			return fmt.Errorf("a block lies outside its rows and columns")
		}
	}
	return nil
}
