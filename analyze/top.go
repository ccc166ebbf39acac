package analyze

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"sync"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/grid"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/raster"
	"greige/analyze/stash"
)

// LayoutOptions are what Layout takes. In the zero value all is found.
type LayoutOptions struct {
	Settings
	Rows, Cols int            // 0: found
	Corners    [][2]float64   // pixels of the upright photo, clockwise from the top left; nil: found
	Setting    layout.Setting // "": found
	Chart      *layout.Chart  // nil: found
	Lost, Soft float64        // L*; both 0: the defaults
	Stash      []string       // photos and folders of cloths to hang instead
	StashKnown []piles.Fabric // the same, measured before
	Kept       *stash.Stash   // and those that are kept; may be nil
	// StashScraps is what the stash's photos show; "" means ScrapsAuto.
	StashScraps ScrapsMode
	// Trial is what hangs elsewhere than in the photo, to see what becomes of
	// it: moves in their order, each of one or more placements at once.
	Trial [][]layout.Placement
}

// checked is opt with the defaults where it says nothing; the error says what
// is wrong with it and what to give.
func (opt LayoutOptions) checked() (LayoutOptions, error) {
	if opt.Lost == 0 && opt.Soft == 0 {
		opt.Lost, opt.Soft = layout.DefaultLost, layout.DefaultSoft
	}
	switch {
	case opt.Rows < 0 || opt.Rows > layout.MaxSide || opt.Cols < 0 || opt.Cols > layout.MaxSide:
		return opt, fmt.Errorf("the rows and the columns are 1 to %d, or 0 where they are to be found, not %d and %d", layout.MaxSide, opt.Rows, opt.Cols)
	case len(opt.Corners) != 0 && len(opt.Corners) != 4:
		return opt, fmt.Errorf("a top has four corners, clockwise from the top left, not %d", len(opt.Corners))
	case opt.Setting != "" && opt.Setting != layout.Straight && opt.Setting != layout.OnPoint:
		return opt, fmt.Errorf("the setting is %s or %s, not %q", layout.Straight, layout.OnPoint, string(opt.Setting))
	case !(opt.Lost >= 0 && opt.Soft >= opt.Lost && opt.Soft <= 100):
		return opt, fmt.Errorf("a seam is lost under %g and soft under %g: give lightness differences from 0 to 100, the lost one not above the soft one", opt.Lost, opt.Soft)
	}
	var err error
	opt.Settings, err = opt.Settings.checked()
	return opt, err
}

// Layout finds the patches of the top in the photo at path and judges whether
// it reads. When it cannot be measured the error is an *ErrNothing and the
// result holds the reason. When ctx ends, its error is returned, and nothing is
// left at work.
func Layout(ctx context.Context, path string, opt LayoutOptions) (*Result, error) {
	return (*Session)(nil).Layout(ctx, Source{Name: path, Path: path}, opt)
}

// Layout is the function Layout over photos that s knows.
func (s *Session) Layout(ctx context.Context, top Source, opt LayoutOptions) (*Result, error) {
	opt, err := opt.checked()
	if err != nil {
		return nil, err
	}
	opt.session = s
	r := &Result{Command: "layout", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0, Lost: opt.Lost, Soft: opt.Soft}
	cloths, err := opt.stashOf(ctx, top.Path, given{opt.Stash, opt.StashKnown, opt.Kept, opt.StashScraps}, r)
	if err != nil {
		return nil, err
	}
	r.Stash = few(cloths, opt.Kept)
	if opt.Kept != nil {
		if err := opt.Kept.Fill(ctx, r.Stash, r.bare); err != nil {
			return nil, err
		}
	}
	if err := alone(ctx, func() error { return opt.judge(ctx, top, r) }); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		r.Skipped = append(r.Skipped, asSkipped(top.Name, err))
		return r, &ErrNothing{"the top could not be measured"}
	}
	return r, nil
}

// putRight is opt as it holds for the top's photo: what was put right in it
// counts wherever opt itself says nothing.
func (opt LayoutOptions) putRight(given PhotoCorrections) LayoutOptions {
	opt.Settings = opt.hold(given)
	g := given.Grid
	if g == nil {
		return opt
	}
	if len(opt.Corners) == 0 {
		opt.Corners = g.Corners
	}
	if opt.Rows == 0 {
		opt.Rows = g.Rows
	}
	if opt.Cols == 0 {
		opt.Cols = g.Cols
	}
	if opt.Setting == "" {
		opt.Setting = g.Setting
	}
	if opt.Chart == nil {
		opt.Chart = (*layout.Chart)(g.Chart)
	}
	return opt
}

// thumbnail is the longer side, in pixels, under which a photo of a top may hide its
// patches: thirty of them, as in a large top, of 16 pixels each, which is what a
// patch needs to be told.
const thumbnail = 30 * 16

// judge measures the top and judges it, into r, whose Stash, Lost and Soft are
// set.
func (opt LayoutOptions) judge(ctx context.Context, top Source, r *Result) error {
	sum, given, err := opt.known(top)
	if err != nil {
		return err
	}
	opt = opt.putRight(given)
	key := fmt.Sprintf("top %s %q %v %d %d %v %s", sum, top.Name, opt.Light, opt.Rows, opt.Cols, opt.Corners, opt.Setting)
	v, err := remember(ctx, opt.session, key, func() (*lookedTop, error) { return opt.lookAt(ctx, top, sum, key) })
	if err != nil {
		return err
	}
	v, patches, err := opt.measureTop(ctx, v)
	if err != nil {
		return err
	}
	for _, n := range slices.Concat(v.Photo.Notes, nature(v.Photo, len(opt.Light.Cards) > 0)) {
		r.Notes = append(r.Notes, fmt.Sprintf("%s: %s", top.Name, n))
	}
	r.Notes = append(r.Notes, v.grid.Messages...)
	if !v.grid.Found {
		if w, h := v.Photo.Width, v.Photo.Height; max(w, h) < thumbnail {
			r.Notes = append(r.Notes, fmt.Sprintf("%s: The photo is only %d by %d pixels, as the small pictures are that stand for photos: smaller patches than were found may be in it. Take the photo itself.", top.Name, w, h))
		}
		r.Notes = append(r.Notes, looseScraps)
	}
	if len(patches) == 0 {
		return fmt.Errorf("none of the patches lies in the photo")
	}
	patches = opt.rehung(patches, r.Stash)
	in := layout.Input{
		Rows: v.grid.Rows, Cols: v.grid.Cols, Setting: layout.Setting(v.grid.Setting), GridFound: v.grid.Found,
		Patches: patches, Lost: r.Lost, Soft: r.Soft, Chart: opt.Chart, Stash: r.Stash,
	}
	in.Corners = enlarged(v.grid.Corners[:], v.scale())
	if err := pictureChanges(ctx, opt.Kept, r.Stash, opt.moves()); err != nil {
		return err
	}
	// What it hangs like now is drawn while it is judged.
	var judged layout.Layout
	var hangs flatTop
	var wall Sight
	photo.Both(func() { judged, err = layout.Judge(in) }, func() {
		hangs = opt.asItHangs(ctx, v, patches, r.Stash)
		wall = wallSight(ctx, opt.session, v)
	})
	if err != nil {
		return err
	}
	if err := pictureChanges(ctx, opt.Kept, r.Stash, judged.Changes); err != nil {
		return err
	}
	r.Layout = &judged
	r.Light = append([]light.Record{v.Record}, r.Light...)
	r.Sights = slices.Concat(opt.topSights(v, hangs, &judged, r.Stash), []Sight{wall}, r.Sights)
	return nil
}

// lookedTop is a top in its final light, and where its patches lie.
type lookedTop struct {
	*light.Even
	grid  *grid.Grid
	inner [][][2]float64 // of each patch, what may be measured
	key   string         // of what the session keeps of it
	sum   string         // of its photo
}

func (v *lookedTop) bytes() int64 { return pictureBytes(v.Picture) }

// scale is how many pixels of the photo go into one of the working picture.
func (v *lookedTop) scale() float64 { return float64(max(v.Photo.Reduction, 1)) }

// looseScraps is said where no top can be made out for sure.
const looseScraps = "If the photo shows loose scraps and no top, ask for their lights and darks instead: greige sort PHOTO."

// litTop is a top's photo in its light as far as that is known without the
// patches.
type litTop struct{ *light.Even }

func (l litTop) bytes() int64 { return pictureBytes(l.Picture) + pictureBytes(l.Photo.Picture) }

// lit opens the photo and evens out its light. Where the patches lie is no part of
// it, so that it holds while she puts that right.
func (opt LayoutOptions) lit(ctx context.Context, top Source, sum string) (litTop, error) {
	return remember(ctx, opt.session, fmt.Sprintf("lit %s %q %v", sum, top.Name, opt.Light), func() (litTop, error) {
		p, err := opt.session.read(ctx, top, sum, opt.Limits)
		if err != nil {
			return litTop{}, err
		}
		even, err := light.New(p, opt.lightOf(top.Name), light.Top)
		return litTop{even}, err
	})
}

// hints are what is given of the grid, in a picture of which a pixel is scale x
// scale pixels of the photo.
func (opt LayoutOptions) hints(scale float64) grid.Hints {
	h := grid.Hints{Rows: opt.Rows, Cols: opt.Cols, Setting: grid.Setting(opt.Setting)}
	if opt.Corners != nil {
		h.Corners = divided(opt.Corners, scale, scale)
	}
	return h
}

func (opt LayoutOptions) lookAt(ctx context.Context, top Source, sum, key string) (*lookedTop, error) {
	lit, err := opt.lit(ctx, top, sum)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	even := lit.Even
	v := &lookedTop{Even: even, key: key, sum: sum}
	hints := opt.hints(v.scale())
	hints.Look = opt.watch(top.Name)
	if v.grid, err = grid.Find(even.Picture, hints); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	v.inner = innerOutlines(v.grid, even.Picture)
	if opt.Light.Mode != light.None && v.grid.Found {
		v.Even = even.LevelTop(v.inner)
	}
	return v, nil
}

// topPatches are the measured patches of a top.
type topPatches []layout.Patch

func (p topPatches) bytes() int64 { return int64(1024 * len(p)) }

// measureTop measures every patch. Where the grid is not sure, lines of it that no
// cloth shows go first, so that a bar counts as one piece and is not told to be
// lost inside, or cut in a swap.
func (opt LayoutOptions) measureTop(ctx context.Context, v *lookedTop) (*lookedTop, []layout.Patch, error) {
	patches, err := opt.measured(ctx, v)
	if err != nil || v.grid.Found || opt.Chart != nil {
		return v, patches, err
	}
	below, right, err := layout.Unseen(layout.Input{Rows: v.grid.Rows, Cols: v.grid.Cols, Setting: layout.Setting(v.grid.Setting), Patches: patches})
	if err != nil {
		return v, patches, nil // it is said when it is judged
	}
	if opt.Rows > 0 {
		clear(below)
	}
	if opt.Cols > 0 {
		clear(right)
	}
	bars := *v
	if bars.grid = v.grid.Joined(opt.hints(v.scale()), below, right); bars.grid == v.grid {
		return v, patches, nil
	}
	bars.inner, bars.key = innerOutlines(bars.grid, v.Picture), "bars "+v.key
	patches, err = opt.measured(ctx, &bars)
	return &bars, patches, err
}

// measured are the patches, each measured within its inner outline, which lies well
// inside its seams.
func (opt LayoutOptions) measured(ctx context.Context, v *lookedTop) ([]layout.Patch, error) {
	view := cloth.View{PixelsPerDegree: opt.topScale(v.grid), Shown: true} // in the straightened top
	return remember(ctx, opt.session, fmt.Sprintf("patches %v %s", view, v.key), func() (topPatches, error) {
		return opt.measurePatches(ctx, v, view)
	})
}

func (opt LayoutOptions) measurePatches(ctx context.Context, v *lookedTop, view cloth.View) (topPatches, error) {
	got := make([]*layout.Patch, len(v.grid.Patches))
	meters := newMeters()
	// Patches are small and many: split them among the processors.
	err := Settings{Jobs: opt.Jobs}.each(ctx, len(v.grid.Patches), func(i int) {
		q := v.grid.Patches[i]
		region := cloth.Polygon(v.inner[i], v.Picture.W, v.Picture.H)
		c, ok := meters.measure(v.Even, region, view)
		if !ok {
			return
		}
		if c.Swatch != nil {
			c.Swatch.Shape = region.Shape(v.inner[i], v.Ignore)
		}
		patch := layout.Patch{Row: q.Row, Col: q.Col, Cloth: c}
		if q.Triangle {
			patch.Shape = "triangle"
		}
		patch.Outline = enlarged(q.Outline, v.scale())
		got[i] = &patch
	})
	var patches topPatches
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

// wide is the mean of a grid's upper and lower side, in pixels of the working picture.
func wide(g *grid.Grid) float64 {
	c := g.Corners
	return (math.Hypot(c[0][0]-c[1][0], c[0][1]-c[1][1]) + math.Hypot(c[3][0]-c[2][0], c[3][1]-c[2][1])) / 2
}

// topScale is the pixels of the working picture to a degree of sight.
func (opt LayoutOptions) topScale(g *grid.Grid) float64 {
	if opt.WidthCM > 0 {
		return opt.viewScale(opt.WidthCM, wide(g))
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

func area(outline [][2]float64) float64 { return math.Abs(raster.Area(outline)) }

// rehung is the patches with the cloth of each where the trial hangs it.
func (opt LayoutOptions) rehung(patches []layout.Patch, stash []piles.Fabric) []layout.Patch {
	if len(opt.Trial) == 0 {
		return patches
	}
	at := map[layout.Cell]int{}
	for i, p := range patches {
		at[layout.Cell{p.Row, p.Col}] = i
	}
	for _, move := range opt.Trial {
		next := slices.Clone(patches)
		for _, m := range move {
			to, ok := at[m.To]
			if !ok {
				continue
			}
			if m.From != nil {
				if from, ok := at[*m.From]; ok {
					next[to].Cloth = patches[from].Cloth
				}
				continue
			}
			if i := slices.IndexFunc(stash, func(f piles.Fabric) bool { return f.ID == m.Stash }); i >= 0 {
				next[to].Cloth = stash[i].Cloth
			}
		}
		patches = next
	}
	return patches
}

// flatTop is the straightened top and the views of it as it hangs.
type flatTop struct {
	picture *photo.Picture
	views   *sketch // nil: not asked for
}

func (f flatTop) bytes() int64 { return 2 * pictureBytes(f.picture) } // its views are less than itself

// flatScale is the pixels to a degree of sight, for each pixel of the straightened
// top's width.
func (opt LayoutOptions) flatScale(g *grid.Grid) float64 {
	return opt.topScale(g) / wide(g)
}

// valueCuts are the lightnesses between the few values in which a top is shown.
func valueCuts(patches []layout.Patch) []float64 {
	var lightness []float64
	for _, p := range patches {
		lightness = append(lightness, p.Lightness)
	}
	return piles.Cuts(lightness, 3)
}

// asItHangs is the straightened top with what the trial hangs elsewhere. Its
// picture is nil where ctx has ended.
func (opt LayoutOptions) asItHangs(ctx context.Context, v *lookedTop, patches []layout.Patch, stash []piles.Fabric) flatTop {
	scale, cuts := opt.flatScale(v.grid), valueCuts(patches)
	flat, _ := remember(ctx, opt.session, fmt.Sprintf("flat %g %v %x %s", scale, cuts, opt.hungSum(stash), v.key), func() (flatTop, error) {
		straight, err := remember(ctx, opt.session, "straight "+v.key, func() (flatTop, error) {
			return flatTop{picture: v.grid.Straighten(v.Picture, topSide)}, nil
		})
		if err != nil {
			return flatTop{}, err
		}
		flat := straight.picture
		if len(opt.Trial) > 0 {
			flat = rehang(flat, v.grid, opt.moves(), stash)
		}
		return flatTop{flat, newSketch(flat.W, flat.H, scale*float64(flat.W), cuts, func() *photo.Picture { return flat })}, nil
	})
	switch {
	case flat.views == nil:
	case opt.Late:
		flat.views.view(ColourView) // which is looked at first
	default:
		flat.views.all()
	}
	return flat
}

// moves are those of the trial, as changes.
func (opt LayoutOptions) moves() []layout.Change {
	moves := make([]layout.Change, len(opt.Trial))
	for i, move := range opt.Trial {
		moves[i].Placements = move
	}
	return moves
}

// topSights are the straightened top as it hangs and, where there are
// changes, after them.
func (opt LayoutOptions) topSights(v *lookedTop, flat flatTop, l *layout.Layout, stash []piles.Fabric) []Sight {
	if flat.picture == nil {
		return nil // ctx has ended
	}
	g := v.grid
	var marks []Mark
	for _, p := range l.Patches {
		q, ok := g.At(p.Row, p.Col)
		if !ok {
			continue
		}
		marks = append(marks, Mark{ID: fmt.Sprintf("%d,%d", p.Row, p.Col), Outline: g.Flat(q)})
	}
	sights := []Sight{opt.sightOf(Sight{Kind: TopSight, Photo: v.Photo.Name, Marks: marks}, flat.views)}
	if len(l.Changes) > 0 {
		after := newSketch(flat.picture.W, flat.picture.H, opt.flatScale(g)*float64(flat.picture.W), valueCuts(l.Patches),
			sync.OnceValue(func() *photo.Picture { return rehang(flat.picture, g, l.Changes, stash) }))
		sights = append(sights, opt.sightOf(Sight{Kind: AfterSight, Photo: v.Photo.Name, Marks: marks}, after))
	}
	return sights
}

// sightOf is s with its views, or with what makes them when they are asked for.
func (s Settings) sightOf(sight Sight, views *sketch) Sight {
	if s.Late {
		sight.W, sight.H, sight.late = views.w, views.h, views
		return sight
	}
	sight.Views = views.all()
	return sight
}

// wallSight is the photo itself with the patches that were found in it.
func wallSight(ctx context.Context, s *Session, v *lookedTop) Sight {
	out := Sight{Kind: WallSight, Photo: v.Photo.Name}
	shown, _ := remember(ctx, s, "wall "+v.sum, func() (squinted, error) {
		p := v.Photo.Picture.Within(wallSide)
		return squinted{eye.Views{W: p.W, H: p.H, Colour: eye.Colour(p)}}, nil
	})
	out.Views = shown.Views
	for _, p := range v.grid.Patches {
		out.Marks = append(out.Marks, Mark{ID: fmt.Sprintf("%d,%d", p.Row, p.Col), Outline: divided(p.Outline, float64(v.Picture.W), float64(v.Picture.H))})
	}
	return out
}

// hungSum tells apart what the trial hangs where, and the pictures of its cloths.
func (opt LayoutOptions) hungSum(stash []piles.Fabric) [sha256.Size]byte {
	text, _ := json.Marshal(opt.Trial) // of plain data it cannot fail
	for _, move := range opt.Trial {
		for _, p := range move {
			for i := range stash {
				if f := &stash[i]; p.From == nil && f.ID == p.Stash && f.Swatch != nil {
					text = append(text, f.Swatch.Colour...)
				}
			}
		}
	}
	return sha256.Sum256(text)
}

// given are the cloths that a job may choose from.
type given struct {
	inputs []string       // photos and folders
	known  []piles.Fabric // measured before
	kept   *stash.Stash   // may be nil
	scraps ScrapsMode     // what the photos show; "" means ScrapsAuto
}

// stashOf measures the cloths of the inputs and puts them behind those that
// are known already. The job's own photo, which may lie in the same folder, is
// no cloth of the stash. Every cloth keeps its number unless two share one: then
// the later is counted on from the highest.
func (s Settings) stashOf(ctx context.Context, own string, from given, r *Result) ([]piles.Fabric, error) {
	kept, aside, err := keptFor(ctx, from.kept, r)
	if err != nil {
		return nil, err
	}
	var found []piles.Fabric
	if len(from.inputs) > 0 {
		sort := SortOptions{Settings: s, Piles: 3, Scraps: ScrapsAuto}
		if from.scraps != "" {
			sort.Scraps = from.scraps
		}
		sort.WidthCM = 0 // the width that was given is the top's or the print's
		if found, err = sort.stash(ctx, from.inputs, own, r); err != nil {
			return nil, err
		}
		r.Sights = nil // the page shows the job's own photo
	}
	// A number of the stash stays that cloth's, also of one that is left aside.
	return slices.DeleteFunc(unique(slices.Concat(kept, from.known, found)), func(f piles.Fabric) bool { return aside[f.ID] }), nil
}

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
