package analyze

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"greige/analyze/cloth"
	"greige/analyze/eye"
	"greige/analyze/layout"
	"greige/analyze/light"
	"greige/analyze/numerals"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/plan"
)

// PlanCloth is a cloth that was measured before, by whichever stash it comes
// from: its figures, where its photo is now, and how wide the scene of that
// photo was.
type PlanCloth struct {
	piles.Fabric
	Path    string  // where the photo is; "" where it is not there any more
	WidthCM float64 // of the photo's scene; 0: not known, so of no known size
}

// PlanSized is a size and the number of the cloth that it is cut from.
type PlanSized struct {
	Size plan.Length
	ID   string
}

// PlanOptions are what Plan takes.
type PlanOptions struct {
	Settings
	Design     plan.Design
	Cols, Rows int // blocks across and down
	Patch      plan.Length
	Seam       plan.Length
	Ruler      plan.Ruler
	Usable     plan.Length
	OnPoint    bool
	// Cloths by number, or "light", "medium", "dark" for a whole pile; nil:
	// they are chosen.
	Light, Medium, Dark []string
	Alternate           string // a number; "": none
	Sashing             *PlanSized
	Borders             []PlanSized
	People              int
	Stash               []string    // photos and folders of cloths
	Scraps              ScrapsMode  // what these show; "": ScrapsAuto
	Known               []PlanCloth // measured before
	// From is a top that hangs, out of the photo at FromPhoto; nil: a plan out
	// of the stash.
	From      *layout.Layout
	FromPhoto string
}

// PlanScrap is the picture of a scrap that patches are cut from.
type PlanScrap struct {
	ID      string
	Swatch  *cloth.Swatch
	Box     [4]float64 // x0 y0 x1 y1 of the swatch, pixels of the upright photo
	Outline [][2]float64
}

// ErrPlan is a plan that does not go together, in words.
type ErrPlan struct{ Err error }

func (e *ErrPlan) Error() string { return e.Err.Error() }
func (e *ErrPlan) Unwrap() error { return e.Err }

// Plan makes a plan out of chosen cloths. An *ErrPlan says what does not go
// together; an *ErrNothing, that there is no cloth. When ctx ends, its error
// is returned.
func Plan(ctx context.Context, opt PlanOptions) (*Result, error) {
	var err error
	if opt.Settings, err = opt.Settings.checked(); err != nil {
		return nil, err
	}
	r := &Result{Command: "plan", Distance: opt.Distance, Lost: layout.DefaultLost, Soft: layout.DefaultSoft}
	var cloths []PlanCloth
	if opt.From != nil {
		cloths = opt.hanging()
	} else if cloths, err = opt.cloths(ctx, r); err != nil {
		return r, err
	}
	if len(cloths) == 0 {
		return r, &ErrNothing{"there is no cloth to plan with"}
	}
	// Before cloths are chosen, only the shapes of scraps have to be known:
	// where one cloth fills its photo, the photo can wait.
	looks := make([]clothLook, len(cloths))
	if err := opt.lookAtCloths(ctx, cloths, looks, r, func(i int) bool {
		return opt.From == nil && cloths[i].WidthCM > 0 && !wholePhoto(cloths[i].Outline)
	}); err != nil {
		return nil, err
	}
	in, chosen, err := opt.input(cloths, looks)
	if err != nil {
		return nil, &ErrPlan{err}
	}
	if err := opt.lookAtCloths(ctx, cloths, looks, r, func(i int) bool {
		return !looks[i].looked && slices.Contains(chosen.order, i)
	}); err != nil {
		return nil, err
	}
	p, err := plan.Make(in)
	if err != nil {
		return nil, &ErrPlan{err}
	}
	if p.Picked && chosen.apart > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("Not looked at: %s whose photos' light cannot be compared with that of the chosen ones. Name them with --light and --dark, or put a sheet of white paper in each photo.", numerals.Some(chosen.apart, "cloth", "cloths")))
	}
	if chosen.mixed {
		r.Notes = append(r.Notes, "The cloths come from photos whose light cannot be compared: whether they read together is a guess. Photograph them together.")
	}
	r.Plan = p
	textures := make([]*plan.Texture, len(chosen.order))
	for i, at := range chosen.order {
		textures[i] = looks[at].texture
		if textures[i] != nil {
			p.Cloths[i].Texture = "photo"
			p.Chosen[i].Swatch = cloth.NewSwatch(textures[i].Picture, nil, swatchSide)
		}
	}
	opt.remarks(p, func(i int) bool { return looks[chosen.order[i]].looked }, slices.ContainsFunc(chosen.order, func(i int) bool { return cloths[i].WidthCM <= 0 && looks[i].texture != nil }), r)
	r.Sights = []Sight{opt.mockup(p, textures)}
	for _, s := range p.Scraps {
		at := slices.IndexFunc(cloths, func(c PlanCloth) bool { return c.ID == s.ID })
		if l := looks[at]; l.scrap != nil {
			r.PlanScraps = append(r.PlanScraps, *l.scrap)
		}
	}
	return r, ctx.Err()
}

// swatchSide is the longest side of a cut-out, in pixels: twice what the page
// shows, for fine screens.
const swatchSide = 176

// remarks say what the picture could not show; opened tells of a cloth of the plan
// whether its photo was there.
func (opt PlanOptions) remarks(p *plan.Plan, opened func(i int) bool, guessed bool, r *Result) {
	var gone, small []string
	for i, u := range p.Cloths {
		switch {
		case u.Texture == "photo":
		case opened(i):
			small = append(small, u.ID)
		default:
			gone = append(gone, u.ID)
		}
	}
	const plain = ": the picture shows the cloth's plain colour."
	if len(gone) > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("Of %s the photo is not there any more%s", numbered(gone), plain))
	}
	if len(small) > 0 {
		r.Notes = append(r.Notes, fmt.Sprintf("Of %s the photo shows too little%s", numbered(small), plain))
	}
	if opt.From == nil && guessed {
		r.Notes = append(r.Notes, "How large the prints are beside the patches is a guess, and the cloths count as off the bolt, as nothing tells how wide their photos' scenes are. Give that with --width, to greige sort or here.")
	}
	r.Notes = append(r.Notes, p.Remarks...)
}

func numbered(ids []string) string {
	if len(ids) == 1 {
		return "number " + ids[0]
	}
	if len(ids) > 6 {
		return numerals.Some(len(ids), "cloth", "cloths")
	}
	return "numbers " + strings.Join(ids[:len(ids)-1], ", ") + " and " + ids[len(ids)-1]
}

// cloths are those measured before and those of the photos given, each with a
// number of its own and in a pile.
func (opt PlanOptions) cloths(ctx context.Context, r *Result) (known []PlanCloth, err error) {
	known = slices.Clone(opt.Known)
	if len(opt.Stash) > 0 {
		sort := SortOptions{Settings: opt.Settings, Piles: 3, Scraps: opt.Scraps}
		if sort, err = sort.checked(); err != nil {
			return nil, err
		}
		found, err := sort.stash(ctx, opt.Stash, "", r)
		if err != nil {
			return nil, err
		}
		r.Sights = nil
		sources, _ := photo.Gather(opt.Stash)
		for _, f := range found {
			c := PlanCloth{Fabric: f, WidthCM: opt.WidthCM}
			if i := slices.IndexFunc(sources, func(s photo.Source) bool { return s.Name == f.Photo }); i >= 0 {
				c.Path = sources[i].Path
			}
			known = append(known, c)
		}
	}
	fabrics := make([]piles.Fabric, len(known))
	sorted := len(opt.Stash) == 0
	for i, c := range known {
		fabrics[i] = c.Fabric
		sorted = sorted && (c.Pile != "" || c.Doubtful)
	}
	fabrics = unique(fabrics)
	if !sorted {
		fabrics = piles.Sort(fabrics, 3).Fabrics
	}
	for i := range known {
		known[i].Fabric = fabrics[i]
	}
	return known, nil
}

func (opt PlanOptions) hanging() []PlanCloth {
	var out []PlanCloth
	for _, f := range opt.From.Fabrics {
		c := PlanCloth{Path: opt.FromPhoto}
		c.ID, c.Photo = fmt.Sprint(f.ID), opt.FromPhoto
		largest := 0.
		for _, p := range opt.From.Patches {
			if p.Fabric != f.ID {
				continue
			}
			if a := area(p.Outline); a > largest && len(p.Outline) == 4 || largest == 0 {
				largest = a
				c.Cloth, c.Outline = p.Cloth, p.Outline
			}
		}
		c.Lab, c.Lightness = f.Lab, f.Lab.L
		out = append(out, c)
	}
	return out
}

// clothLook is what the photo of a cloth gave.
type clothLook struct {
	looked  bool
	texture *plan.Texture
	pieces  *plan.Scrap
	scrap   *PlanScrap
}

// wholePhoto tells whether an outline is a rectangle from the photo's corner,
// as a sort writes it for a cloth that fills its photo.
func wholePhoto(o [][2]float64) bool {
	return len(o) == 4 && o[0] == [2]float64{} && o[1][1] == 0 && o[3][0] == 0 && o[2] == [2]float64{o[1][0], o[3][1]}
}

// lookAtCloths opens each photo of the cloths that are wanted once, and cuts
// out of it what the plan needs of them.
func (opt PlanOptions) lookAtCloths(ctx context.Context, cloths []PlanCloth, looks []clothLook, r *Result, wanted func(i int) bool) error {
	want := make([]bool, len(cloths))
	var paths []string
	for i, c := range cloths {
		if want[i] = c.Path != "" && wanted(i); want[i] && !slices.Contains(paths, c.Path) {
			paths = append(paths, c.Path)
		}
	}
	failed := make([]error, len(paths))
	err := opt.each(ctx, len(paths), func(k int) {
		p, err := photo.Open(ctx, paths[k], opt.Limits)
		if err != nil {
			failed[k] = err
			return
		}
		even, err := light.New(p, opt.lightOf(paths[k]), opt.shown(cloths, paths[k]))
		if err != nil {
			failed[k] = err
			return
		}
		for i := range cloths {
			if want[i] && cloths[i].Path == paths[k] {
				looks[i] = opt.lookAtCloth(even, cloths, i)
			}
		}
	})
	if err != nil {
		return err
	}
	for k, err := range failed {
		if err != nil {
			r.Skipped = append(r.Skipped, asSkipped(paths[k], err))
		}
	}
	return nil
}

// shown is what the photo at a path shows, by the cloths that were measured in it.
func (opt PlanOptions) shown(cloths []PlanCloth, path string) light.Hint {
	if opt.From != nil {
		return light.Top
	}
	i := slices.IndexFunc(cloths, func(c PlanCloth) bool { return c.Path == path })
	if wholePhoto(cloths[i].Outline) {
		return light.OneCloth
	}
	return light.ScrapsOnGround
}

func (opt PlanOptions) lookAtCloth(even *light.Even, cloths []PlanCloth, i int) clothLook {
	c, p := &cloths[i], even.Photo
	k := float64(max(p.Reduction, 1))
	outline := divided(c.Outline, k, k)
	// How wide a pixel of the upright photo is, in cm.
	px := c.WidthCM / float64(p.Width)
	if opt.From != nil {
		px = opt.Patch.CM() / math.Sqrt(max(area(c.Outline), 1))
	}
	wide := px
	if wide <= 0 {
		wide = assumedPixel(p, cloths, c.Path)
	}
	out := clothLook{looked: true}
	grain, seen := 0., false
	if out.texture = plan.CutTexture(even.Picture, outline, even.Ignore, c.Lab, wide*k); out.texture != nil {
		if grain, seen = plan.GrainOf(out.texture.Picture); seen {
			out.texture.Grain = grain
		}
	}
	if px <= 0 || opt.From != nil || len(c.Outline) < 3 || fills(c.Outline, p) || !within(p, append(slices.Clone(c.Holes), c.Outline)...) {
		return out
	}
	s := &plan.Scrap{PixelCM: px, Grain: grain, Seen: seen}
	s.Outline = divided(c.Outline, 1/px, 1/px)
	for _, h := range c.Holes {
		if len(h) > 2 {
			s.Holes = append(s.Holes, divided(h, 1/px, 1/px))
		}
	}
	out.pieces = s
	region := cloth.Polygon(outline, p.Picture.W, p.Picture.H)
	if b := region.Bounds; !b.Empty() {
		shown, weight := region.Cut(p.Picture, 480)
		swatch := cloth.NewSwatch(shown, weight, 480)
		swatch.Shape = region.Shape(outline, nil)
		out.scrap = &PlanScrap{ID: c.ID, Swatch: swatch, Outline: c.Outline,
			Box: [4]float64{float64(b.Min.X) * k, float64(b.Min.Y) * k, float64(b.Max.X) * k, float64(b.Max.Y) * k}}
	}
	return out
}

// within: rings that a file gives lie in its photo, as those of a sort do.
func within(p *photo.Photo, rings ...[][2]float64) bool {
	for _, ring := range rings {
		for _, q := range ring {
			if !(q[0] > -2 && q[1] > -2 && q[0] < float64(p.Width)+2 && q[1] < float64(p.Height)+2) {
				return false
			}
		}
	}
	return true
}

// fills: the cloth goes on beyond its photo, so that nobody knows where it
// ends.
func fills(outline [][2]float64, p *photo.Photo) bool {
	return area(outline) > .98*float64(p.Width)*float64(p.Height)
}

// assumedPixel is how wide a pixel of a photo is taken to be whose scene has
// no known width: a scrap of the middle size is AssumedCM wide.
func assumedPixel(p *photo.Photo, cloths []PlanCloth, path string) float64 {
	var sides []float64
	for _, c := range cloths {
		if c.Path == path {
			sides = append(sides, math.Sqrt(area(c.Outline)))
		}
	}
	if len(sides) == 1 && fills(cloths[slices.IndexFunc(cloths, func(c PlanCloth) bool { return c.Path == path })].Outline, p) {
		return AssumedCM / float64(p.Width)
	}
	slices.Sort(sides)
	return AssumedCM / max(sides[len(sides)/2], 1)
}

// input turns numbers and piles into what plan.Make takes.
func (opt PlanOptions) input(cloths []PlanCloth, looks []clothLook) (in plan.Input, c *choice, err error) {
	all := make([]plan.Cloth, len(cloths))
	for i, c := range cloths {
		all[i] = plan.Cloth{Fabric: c.Fabric, Scrap: looks[i].pieces}
	}
	in = plan.Input{Design: opt.Design, Cols: opt.Cols, Rows: opt.Rows, Patch: opt.Patch, Seam: opt.Seam, Ruler: opt.Ruler,
		Usable: opt.Usable, OnPoint: opt.OnPoint, People: max(opt.People, 1), Alternate: -1, Roles: map[byte][]int{}}
	c = &choice{opt: &opt, all: all}
	if opt.From != nil {
		c.ofTop(&in)
	} else if err := c.ofStash(&in); err != nil {
		return in, nil, err
	}
	if err := c.around(&in); err != nil {
		return in, nil, err
	}
	for i, cl := range all {
		if !slices.Contains(c.order, i) && !cl.Doubtful {
			in.Others = append(in.Others, cl)
		}
	}
	for _, i := range c.order {
		in.Cloths = append(in.Cloths, all[i])
	}
	return in, c, nil
}

// choice numbers the cloths of a plan in the order in which they are used.
type choice struct {
	opt   *PlanOptions
	all   []plan.Cloth
	order []int
	apart int  // cloths whose light cannot be compared with those chosen
	mixed bool // the same among those chosen
}

// use is the place of stash index i among the plan's cloths.
func (c *choice) use(i int) int {
	if at := slices.Index(c.order, i); at >= 0 {
		return at
	}
	c.order = append(c.order, i)
	return len(c.order) - 1
}

// find is the stash index of a number.
func (c *choice) find(id, flag string) (int, error) {
	i := slices.IndexFunc(c.all, func(cl plan.Cloth) bool { return cl.ID == id })
	if i >= 0 {
		return i, nil
	}
	var ids []string
	for _, cl := range c.all {
		ids = append(ids, cl.ID)
	}
	if len(ids) > 8 {
		ids = append(ids[:8:8], "...")
	}
	return 0, fmt.Errorf("--%s: no cloth of the stash has the number %q: there are %s", flag, id, strings.Join(ids, ", "))
}

// named are the stash indexes of a list of numbers and piles.
func (c *choice) named(list []string, flag string) ([]int, error) {
	var out []int
	put := func(i int) {
		if !slices.Contains(out, i) {
			out = append(out, i)
		}
	}
	for _, id := range list {
		switch pile := piles.Pile(strings.TrimSuffix(id, "s")); pile {
		case piles.Light, piles.Medium, piles.Dark:
			n := len(out)
			for i, cl := range c.all {
				if cl.Pile == pile && !cl.Doubtful {
					put(i)
				}
			}
			if len(out) == n {
				return nil, fmt.Errorf("--%s: the stash has no pile of %ss", flag, pile)
			}
		default:
			i, err := c.find(id, flag)
			if err != nil {
				return nil, err
			}
			put(i)
		}
	}
	return out, nil
}

func (c *choice) ofTop(in *plan.Input) {
	l := c.opt.From
	in.Given = &plan.Given{Layout: l, Cloth: map[int]int{}}
	in.OnPoint = l.Setting == layout.OnPoint
	for i, f := range l.Fabrics {
		in.Given.Cloth[f.ID] = c.use(i)
	}
	in.Design = plan.Design{Name: "the top that hangs"}
	in.Cols, in.Rows = l.Cols, l.Rows
}

func (c *choice) ofStash(in *plan.Input) error {
	given := map[byte][]int{}
	for _, role := range []struct {
		letter byte
		list   []string
		flag   string
	}{{'L', c.opt.Light, "light"}, {'M', c.opt.Medium, "medium"}, {'D', c.opt.Dark, "dark"}} {
		found, err := c.named(role.list, role.flag)
		if err != nil {
			return err
		}
		if len(found) > 0 {
			given[role.letter] = found
		}
	}
	alternate := -1
	var taken []int
	if c.opt.Alternate != "" {
		i, err := c.find(c.opt.Alternate, "alternate")
		if err != nil {
			return err
		}
		alternate = i
		taken = append(taken, i)
	}
	want := plan.Want{Roles: c.opt.Design.Roles(), Given: given, Taken: taken, Patches: c.opt.patchesOf(), PatchCM: (c.opt.Patch + 2*c.opt.Seam).CM()}
	for _, role := range want.Roles {
		if len(given[role]) == 0 {
			in.Picked = append(in.Picked, role)
		}
	}
	chosen := plan.Choose(c.all, want)
	groups := map[int]bool{}
	for _, role := range want.Roles {
		for _, i := range chosen[role] {
			in.Roles[role] = append(in.Roles[role], c.use(i))
			groups[c.all[i].Group] = true
		}
	}
	for _, cl := range c.all {
		if !cl.Doubtful && !groups[cl.Group] {
			c.apart++
		}
	}
	c.mixed = len(groups) > 1
	if alternate >= 0 {
		in.Alternate = c.use(alternate)
	}
	return nil
}

// patchesOf is about how many patches of each role the blocks take.
func (opt PlanOptions) patchesOf() map[byte]int {
	blocks := opt.Cols * opt.Rows
	switch {
	case opt.OnPoint && opt.Alternate == "":
		blocks += (opt.Cols - 1) * (opt.Rows - 1)
	case !opt.OnPoint && opt.Alternate != "":
		blocks = (blocks + 1) / 2
	}
	out := map[byte]int{}
	for _, b := range opt.Design.Kinds {
		for _, p := range b.Pieces {
			out[p.Role] += blocks
		}
	}
	for role := range out {
		out[role] /= max(len(opt.Design.Kinds), 1)
	}
	return out
}

// around finds the cloths of the setting: sashing, borders, triangles and
// binding.
func (c *choice) around(in *plan.Input) error {
	sized := func(s PlanSized, flag string) (plan.Strip, error) {
		i, err := c.find(s.ID, flag)
		if err != nil {
			return plan.Strip{}, err
		}
		cut := max(in.Ruler.Near(s.Size+2*in.Seam), in.Ruler.Up(2*in.Seam+1))
		return plan.Strip{Size: cut - 2*in.Seam, Cloth: c.use(i)}, nil
	}
	if c.opt.Sashing != nil {
		s, err := sized(*c.opt.Sashing, "sashing")
		if err != nil {
			return err
		}
		in.Sashing = &s
	}
	for _, b := range c.opt.Borders {
		s, err := sized(b, "border")
		if err != nil {
			return err
		}
		in.Borders = append(in.Borders, s)
	}
	if len(c.order) == 0 {
		return errors.New("no cloth of the stash can be used: name some with --light and --dark")
	}
	// Triangles are of the plain squares' cloth; without any, of the lightest
	// cloth off the bolt, which asks for least beside the blocks.
	in.Triangles, in.Binding = in.Alternate, 0
	for at, i := range c.order {
		if in.Triangles < 0 || in.Alternate < 0 && c.all[i].Lightness > c.all[c.order[in.Triangles]].Lightness {
			in.Triangles = at
		}
		if c.all[i].Lightness < c.all[c.order[in.Binding]].Lightness {
			in.Binding = at // a dark rim wears best
		}
	}
	if n := len(in.Borders); n > 0 {
		in.Binding = in.Borders[n-1].Cloth
	}
	return nil
}

func (opt PlanOptions) mockup(p *plan.Plan, textures []*plan.Texture) Sight {
	picture, cm := p.Draw(textures, topSide)
	var lightness []float64
	for _, c := range p.Chosen {
		lightness = append(lightness, c.Lightness)
	}
	s := Sight{Kind: PlanSight, Views: showPicture(picture, topSide, eye.PixelsPerDegree(cm, opt.Distance), piles.Cuts(lightness, 3))}
	w, h := p.Width.CM(), p.Height.CM()
	for _, c := range p.Cells {
		s.Marks = append(s.Marks, Mark{ID: fmt.Sprintf("%d,%d", c.Row, c.Col), Outline: divided(c.Outline, w, h)})
	}
	return s
}

// FindPhoto is where a photo of an earlier run is now: under its own name, or
// beside the file that names it. "" where it is not there.
func FindPhoto(name, beside string) string {
	for _, path := range []string{name, filepath.Join(filepath.Dir(beside), name), filepath.Join(filepath.Dir(beside), filepath.Base(name))} {
		if name != "" && sameFile(path, path) {
			return path
		}
	}
	return ""
}
