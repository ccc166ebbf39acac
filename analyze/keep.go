package analyze

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/photo"
	"greige/analyze/piles"
	"greige/analyze/stash"
)

// Figures are the cloths of an earlier sort, and the file that they were read
// from.
type Figures struct {
	File    string
	Fabrics []piles.Fabric
}

// KeepOptions are what Keep takes.
type KeepOptions struct {
	SortOptions
	Figures []Figures
	Now     time.Time // when they are added
}

// Keep measures the cloths in the photos and folders of inputs, and puts them
// into the stash with those of earlier sorts. A photo that the stash has already,
// by its bytes, is not measured again. What was added, and what was there, is in
// the result's Kept. When nothing is in the stash after all, the error is an
// *ErrNothing and the result holds the reasons.
func Keep(ctx context.Context, into *stash.Stash, inputs []string, opt KeepOptions) (*Result, error) {
	return (*Session)(nil).Keep(ctx, into, inputs, opt)
}

// Keep is the function Keep over photos that s knows.
func (s *Session) Keep(ctx context.Context, into *stash.Stash, inputs []string, opt KeepOptions) (*Result, error) {
	checked, err := opt.SortOptions.checked()
	if err != nil {
		return nil, err
	}
	opt.SortOptions, opt.session = checked, s
	r := &Result{Command: "stash", Distance: opt.Distance, WidthCM: opt.WidthCM, WidthAssumed: opt.WidthCM == 0 && len(inputs) > 0}
	sources, skipped := photo.Gather(inputs)
	r.Skipped = append(r.Skipped, skipped...)
	fresh, hashes, there, err := opt.fresh(ctx, into, sources, r)
	if err != nil {
		return nil, err
	}
	photos, err := opt.measured(ctx, fresh, hashes, r)
	if err != nil {
		return nil, err
	}
	earlier, err := opt.earlier(ctx)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	added, err := into.Add(ctx, slices.Concat(photos, earlier))
	if err != nil {
		return nil, err
	}
	added = append(added, there...)
	if !slices.ContainsFunc(added, func(a stash.Added) bool { return len(a.IDs) > 0 }) {
		return r, &ErrNothing{"no cloth could be added"}
	}
	r.Kept, err = keptAfter(ctx, into, added)
	return r, err
}

// fresh are the photos that the stash does not have yet, with the hashes of
// their bytes; there are those that it has, or that are given twice.
func (opt KeepOptions) fresh(ctx context.Context, into *stash.Stash, sources []photo.Source, r *Result) (fresh []photo.Source, hashes map[string]stash.Hash, there []stash.Added, err error) {
	sums, wrong := make([]stash.Hash, len(sources)), make([]error, len(sources))
	quiet := opt.Settings
	quiet.Progress = nil // it counts photos that are measured
	if err := quiet.each(ctx, len(sources), func(i int) { sums[i], wrong[i] = stash.HashFile(sources[i].Path) }); err != nil {
		return nil, nil, nil, err
	}
	known, err := into.Known(ctx, sums)
	if err != nil {
		return nil, nil, nil, err
	}
	hashes, first := map[string]stash.Hash{}, map[stash.Hash]string{}
	for i, src := range sources {
		if wrong[i] != nil { // opening it says better what is wrong
			fresh = append(fresh, src)
			continue
		}
		if a, ok := known[sums[i]]; ok {
			a.As, a.Name = a.Name, src.Name
			there = append(there, a)
			continue
		}
		if as, ok := first[sums[i]]; ok {
			r.Notes = append(r.Notes, src.Name+": the same photo as "+as+", added once")
			continue
		}
		first[sums[i]] = src.Name
		hashes[src.Name] = sums[i]
		fresh = append(fresh, src)
	}
	return fresh, hashes, there, nil
}

func (opt KeepOptions) measured(ctx context.Context, sources []photo.Source, hashes map[string]stash.Hash, r *Result) ([]stash.Photo, error) {
	fabrics, err := opt.cloths(ctx, sources, r)
	if err != nil {
		return nil, err
	}
	r.Sights = nil // the page shows the cloths by themselves
	at := map[string]int{}
	var photos []stash.Photo
	for _, record := range r.Light {
		at[record.Photo] = len(photos)
		photos = append(photos, stash.Photo{Hash: hashes[record.Photo], Name: record.Photo, Added: opt.Now, WidthCM: opt.WidthCM, Light: record})
	}
	for _, f := range fabrics {
		if i, ok := at[f.Photo]; ok {
			photos[i].Fabrics = append(photos[i].Fabrics, f)
		}
	}
	return photos, nil
}

// earlier are the photos of earlier sorts. One that lies where it lay then is
// known by its bytes, and gives the cloths' pictures; of another the figures
// stand for the bytes.
func (opt KeepOptions) earlier(ctx context.Context) ([]stash.Photo, error) {
	var photos []stash.Photo
	for _, from := range opt.Figures {
		at := map[string]int{}
		first := len(photos)
		for _, f := range from.Fabrics {
			i, ok := at[f.Photo]
			if !ok {
				i = len(photos)
				at[f.Photo] = i
				photos = append(photos, stash.Photo{Name: f.Photo, Added: opt.Now, Light: light.Record{Photo: f.Photo, Note: "Measured in an earlier sort."}})
			}
			photos[i].Fabrics = append(photos[i].Fabrics, f)
		}
		of := photos[first:]
		err := opt.each(ctx, len(of), func(i int) { opt.identify(ctx, &of[i], filepath.Dir(from.File)) })
		if err != nil {
			return nil, err
		}
	}
	return photos, nil
}

// identify gives a photo of an earlier sort its hash and, where it is found, as
// it is named or beside the file of the sort, its cloths their pictures.
func (opt KeepOptions) identify(ctx context.Context, p *stash.Photo, beside string) {
	if p.Name == "" {
		p.Name = "an earlier sort"
	}
	text, _ := json.Marshal(p.Fabrics) // figures that were JSON before
	p.Hash = sha256.Sum256(append([]byte("figures without a photo\n"), text...))
	for _, path := range []string{p.Name, filepath.Join(beside, filepath.Base(strings.ReplaceAll(p.Name, `\`, "/")))} {
		if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
			continue
		}
		hash, err := stash.HashFile(path)
		if err != nil {
			continue
		}
		limits := opt.Limits
		limits.Detail = photo.ForPieces
		picture, err := photo.Open(ctx, path, limits)
		if err != nil {
			continue
		}
		p.Hash = hash
		k := float64(max(picture.Reduction, 1))
		for i := range p.Fabrics {
			p.Fabrics[i].Swatch = cloth.CutOut(picture.Picture, divided(p.Fabrics[i].Outline, k, k))
		}
		return
	}
}

// keptAfter is what was added, as it stands among all that is kept.
func keptAfter(ctx context.Context, s *stash.Stash, added []stash.Added) (*stash.Answer, error) {
	found, err := s.Find(ctx, stash.Query{})
	if err != nil {
		return nil, err
	}
	now := map[string]bool{}
	for _, a := range added {
		for _, id := range a.IDs {
			now[id] = now[id] || !a.Known
		}
	}
	found.Only(func(id string) bool { return now[id] })
	a, err := s.Answer(ctx, found, true)
	if err != nil {
		return nil, err
	}
	a.Action, a.Added = stash.ToAdd, added
	return a, nil
}

// Near is what is near to in a stash: a photo's cloths, measured here if the
// stash has not got it.
func Near(ctx context.Context, s *stash.Stash, path string, opt SortOptions) ([]stash.Target, *Result, error) {
	r := &Result{Command: "stash"}
	if hash, err := stash.HashFile(path); err == nil && s != nil {
		known, err := s.Known(ctx, []stash.Hash{hash})
		if err != nil {
			return nil, r, err
		}
		if a, ok := known[hash]; ok {
			targets, err := s.Targets(ctx, a.IDs)
			return targets, r, err
		}
	}
	fabrics, err := opt.stash(ctx, []string{path}, "", r)
	if err != nil {
		return nil, r, err
	}
	r.Sights = nil
	var targets []stash.Target
	for _, f := range fabrics {
		if !f.Doubtful {
			targets = append(targets, stash.Target{Lab: f.Lab, Uncertainty: f.Uncertainty})
		}
	}
	if len(targets) == 0 {
		return nil, r, &ErrNothing{"no cloth could be measured in it"}
	}
	return targets, r, nil
}
