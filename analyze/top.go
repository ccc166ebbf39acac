package analyze

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/grid"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
)

// LayoutOptions are what Layout takes.
type LayoutOptions struct {
	Settings
	Rows, Cols int            // 0: found
	Corners    [][2]float64   // pixels of the upright photo, clockwise from the top left; nil: found
	Setting    layout.Setting // "": found
	Chart      *layout.Chart  // nil: found
	Lost, Soft float64        // L*; 0: the defaults
	Stash      []string       // photos and folders of cloths to hang instead
	StashKnown []piles.Fabric // the same, measured before
}

// Layout finds the patches of the top in the photo at path and judges whether
// it reads. When it cannot be measured the error is an *ErrNothing and the
// result holds the reason. When ctx ends, its error is returned.
func Layout(ctx context.Context, path string, opt LayoutOptions) (*Result, error) {
	if err := opt.check(); err != nil {
		return nil, err
	}
	r := &Result{Command: "layout", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0, Lost: opt.Lost, Soft: opt.Soft}
	if r.Lost == 0 && r.Soft == 0 {
		r.Lost, r.Soft = layout.DefaultLost, layout.DefaultSoft
	}
	stash, err := opt.stashOf(ctx, path, opt.Stash, opt.StashKnown, r)
	if err != nil {
		return nil, err
	}
	r.Stash = stash
	fail := func(err error) (*Result, error) {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		r.Skipped = append(r.Skipped, asSkipped(path, err))
		return r, &ErrNothing{"the top could not be measured"}
	}
	if err := alone(ctx, func() error { return opt.judge(ctx, path, r) }); err != nil {
		return fail(err)
	}
	return r, nil
}

// judge measures the top in the photo at path and judges it, into r, whose
// Stash, Lost and Soft are set.
func (opt LayoutOptions) judge(ctx context.Context, path string, r *Result) error {
	p, err := photo.Open(ctx, path, opt.Limits)
	if err != nil {
		return err
	}
	p.Name = path
	for _, n := range p.Notes {
		r.Notes = append(r.Notes, fmt.Sprintf("%s: %s", path, n))
	}
	even, err := light.New(p, opt.Light, light.Top)
	if err != nil {
		return err
	}
	k := float64(max(p.Reduction, 1))
	hints := grid.Hints{Rows: opt.Rows, Cols: opt.Cols, Setting: grid.Setting(opt.Setting)}
	for _, c := range opt.Corners {
		hints.Corners = append(hints.Corners, grid.Point{c[0] / k, c[1] / k})
	}
	g, err := grid.Find(even.Picture, hints)
	if err != nil {
		return err
	}
	r.Notes = append(r.Notes, g.Messages...)
	inner := innerOutlines(g, even.Picture)
	if opt.Light.Mode != light.None && g.Found {
		even.LevelTop(inner)
	}
	patches, err := opt.measureTop(ctx, even, g, inner, k)
	if err != nil {
		return err
	}
	if len(patches) == 0 {
		return fmt.Errorf("none of the patches lies in the photo")
	}
	in := layout.Input{
		Rows: g.Rows, Cols: g.Cols, Setting: layout.Setting(g.Setting), GridFound: g.Found,
		Patches: patches, Lost: r.Lost, Soft: r.Soft, Chart: opt.Chart, Stash: r.Stash,
	}
	for _, c := range g.Corners {
		in.Corners = append(in.Corners, [2]float64{round2(c[0] * k), round2(c[1] * k)})
	}
	judged, err := layout.Judge(in)
	if err != nil {
		return err
	}
	r.Layout = &judged
	r.Light = append([]light.Record{even.Record}, r.Light...)
	r.Sights = append(opt.topSights(even, g, &judged, r.Stash), r.Sights...)
	return nil
}

// measureTop measures every patch within its inner outline, which lies well
// inside its seams. k is the photo's reduction.
func (opt LayoutOptions) measureTop(ctx context.Context, even *light.Even, g *grid.Grid, inner [][][2]float64, k float64) ([]layout.Patch, error) {
	view := cloth.View{PixelsPerDegree: opt.topScale(g)}
	got := make([]*layout.Patch, len(g.Patches))
	meters := newMeters()
	// Patches are small and many: split them among the processors.
	err := Settings{Jobs: opt.Jobs}.each(ctx, len(g.Patches), func(i int) {
		q := g.Patches[i]
		region := cloth.Polygon(inner[i], even.Picture.W, even.Picture.H)
		c, ok := meters.measure(even, region, view)
		if !ok {
			return
		}
		c.Swatch.Shape = region.Shape(inner[i], even.Ignore)
		patch := layout.Patch{Row: q.Row, Col: q.Col, Cloth: c}
		if q.Triangle {
			patch.Shape = "triangle"
		}
		for _, o := range q.Outline {
			patch.Outline = append(patch.Outline, [2]float64{round2(o[0] * k), round2(o[1] * k)})
		}
		got[i] = &patch
	})
	var patches []layout.Patch
	for _, p := range got {
		if p != nil && p.TooLight && len(opt.Light.Cards) > 0 {
			return nil, cardTooDark(fmt.Sprintf("the patch in row %d, column %d", p.Row, p.Col))
		}
		if p != nil {
			patches = append(patches, *p)
		}
	}
	return patches, err
}

// topScale is the pixels of the working picture to a degree of sight.
func (opt LayoutOptions) topScale(g *grid.Grid) float64 {
	c := g.Corners
	if opt.WidthCM > 0 {
		side := func(i, j int) float64 { return math.Hypot(c[i][0]-c[j][0], c[i][1]-c[j][1]) }
		return opt.viewScale(opt.WidthCM, (side(0, 1)+side(3, 2))/2)
	}
	var sides []float64
	for _, p := range g.Patches {
		if !p.Triangle {
			sides = append(sides, math.Sqrt(area(p.Outline)))
		}
	}
	if len(sides) == 0 {
		return opt.viewScale(AssumedCM, 1)
	}
	slices.Sort(sides)
	return opt.viewScale(AssumedCM, sides[len(sides)/2])
}

// area is what a polygon encloses (the shoelace formula).
func area(outline [][2]float64) float64 {
	var a float64
	for i, p := range outline {
		q := outline[(i+1)%len(outline)]
		a += p[0]*q[1] - q[0]*p[1]
	}
	return math.Abs(a) / 2
}

// topSights are the straightened top as it hangs and, where there are
// changes, after them.
func (opt LayoutOptions) topSights(even *light.Even, g *grid.Grid, l *layout.Layout, stash []piles.Fabric) []Sight {
	flat := g.Straighten(even.Picture, topSide)
	c := g.Corners
	across := (math.Hypot(c[0][0]-c[1][0], c[0][1]-c[1][1]) + math.Hypot(c[3][0]-c[2][0], c[3][1]-c[2][1])) / 2
	ppd := opt.topScale(g) * float64(flat.W) / across
	var lightness []float64
	for _, p := range l.Patches {
		lightness = append(lightness, p.Lightness)
	}
	cuts := piles.Cuts(lightness, 3)
	var marks []Mark
	for _, p := range l.Patches {
		q, ok := g.At(p.Row, p.Col)
		if !ok {
			continue
		}
		marks = append(marks, Mark{ID: fmt.Sprintf("%d,%d", p.Row, p.Col), Outline: g.Flat(q)})
	}
	var found []Mark // where the patches lie in the photo itself
	for _, p := range g.Patches {
		m := Mark{ID: fmt.Sprintf("%d,%d", p.Row, p.Col)}
		for _, o := range p.Outline {
			m.Outline = append(m.Outline, [2]float64{o[0] / float64(even.Picture.W), o[1] / float64(even.Picture.H)})
		}
		found = append(found, m)
	}
	wall := even.Photo.Picture.Within(wallSide)
	views := eye.Views{W: wall.W, H: wall.H, Colour: eye.PlainViews(wall).Colour}
	sights := []Sight{{Kind: WallSight, Photo: even.Photo.Name, Views: views, Marks: found}, {Kind: TopSight, Photo: even.Photo.Name, Views: showPicture(flat, topSide, ppd, cuts), Marks: marks}}
	if len(l.Changes) > 0 {
		after := rehang(flat, g, l.Changes, stash)
		sights = append(sights, Sight{Kind: AfterSight, Photo: even.Photo.Name, Views: showPicture(after, topSide, ppd, cuts), Marks: marks})
	}
	return sights
}

// stashOf measures the cloths of the inputs and puts them behind those that
// are known already. The job's own photo, which may lie in the same folder, is
// no cloth of the stash. Every cloth keeps its number unless two share one: then
// the later is counted on from the highest.
func (s Settings) stashOf(ctx context.Context, own string, inputs []string, known []piles.Fabric, r *Result) ([]piles.Fabric, error) {
	var found []piles.Fabric
	if len(inputs) > 0 {
		sort := SortOptions{Settings: s, Piles: 3, Scraps: ScrapsAuto}
		sort.WidthCM = 0 // the width that was given is the top's or the print's
		var err error
		if found, err = sort.stash(ctx, inputs, own, r); err != nil {
			return nil, err
		}
		r.Sights = nil // the page shows the job's own photo
	}
	return unique(append(slices.Clone(known), found...)), nil
}

// unique gives each cloth a number of its own.
func unique(stash []piles.Fabric) []piles.Fabric {
	taken := map[string]bool{}
	highest := 0
	for _, f := range stash {
		if n, err := strconv.Atoi(f.ID); err == nil {
			highest = max(highest, n)
		}
	}
	for i := range stash {
		if f := &stash[i]; f.ID == "" || taken[f.ID] {
			highest++
			f.ID = strconv.Itoa(highest)
		}
		taken[stash[i].ID] = true
	}
	return stash
}
