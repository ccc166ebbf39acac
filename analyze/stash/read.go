package stash

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"greige/analyze/cloth"
	"greige/analyze/piles"
)

// querier is the database or a transaction.
type querier interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
	QueryRowContext(context.Context, string, ...any) *sql.Row
}

// Kept is a cloth of the stash. Its ID is its number for good; Group is 0 where
// its level is known, else it numbers the photos that stand on one footing.
type Kept struct {
	piles.Fabric
	SHA256  string   `json:"sha256"`             // of the photo's bytes
	Added   string   `json:"added"`              // RFC 3339, UTC
	UsedCM2 float64  `json:"used_cm2,omitempty"` // what has been cut from it
	LeftCM2 *float64 `json:"left_cm2,omitempty"` // nil where its area is not known
}

// Known are the photos that the stash has by their bytes: as what each is kept,
// and the ids of its cloths.
func (s *Stash) Known(ctx context.Context, hashes []Hash) (map[Hash]Added, error) {
	out := map[Hash]Added{}
	if s.empty {
		return out, nil
	}
	for _, h := range hashes {
		id, name, err := known(ctx, s.db, h)
		if err != nil {
			return nil, told(s.path, err)
		}
		if id == 0 {
			continue
		}
		ids, err := idsOf(ctx, s.db, id)
		if err != nil {
			return nil, told(s.path, err)
		}
		out[h] = Added{Name: name, As: name, IDs: ids, Known: true}
	}
	return out, nil
}

// PhotoNamed are the ids of the cloths of the photo that is kept under a name;
// nil where there is none.
func (s *Stash) PhotoNamed(ctx context.Context, name string) ([]string, error) {
	if s.empty {
		return nil, nil
	}
	ids, err := collect(ctx, s.db, "SELECT c.id FROM cloths c JOIN photos p ON p.id = c.photo WHERE p.name = ? ORDER BY c.id", name)
	return ids, told(s.path, err)
}

func idsOf(ctx context.Context, from querier, photo int64) ([]string, error) {
	return collect(ctx, from, "SELECT id FROM cloths WHERE photo = ? ORDER BY id", photo)
}

// collect are the numbers in the only column of what a query gives.
func collect(ctx context.Context, from querier, query string, args ...any) (ids []string, err error) {
	err = each(ctx, from, func(rows *sql.Rows) error {
		var id int64
		err := rows.Scan(&id)
		ids = append(ids, strconv.FormatInt(id, 10))
		return err
	}, query, args...)
	return ids, err
}

func each(ctx context.Context, from querier, read func(rows *sql.Rows) error, query string, args ...any) error {
	rows, err := from.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := read(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Count is how many cloths and photos the stash holds.
func (s *Stash) Count(ctx context.Context) (cloths, photos int, err error) {
	if s.empty {
		return 0, 0, nil
	}
	err = s.db.QueryRowContext(ctx, "SELECT (SELECT count(*) FROM cloths), (SELECT count(*) FROM photos)").Scan(&cloths, &photos)
	return cloths, photos, told(s.path, err)
}

// Cloths are all cloths of the stash in the order of their numbers, for the
// jobs that choose from one: without their outlines and their pictures, which
// Picture gives of those that are shown.
func (s *Stash) Cloths(ctx context.Context) ([]piles.Fabric, error) {
	if s.empty {
		return nil, nil
	}
	var out []piles.Fabric
	err := each(ctx, s.db, func(rows *sql.Rows) error {
		var id int64
		var figures sql.RawBytes
		var area sql.NullFloat64
		var f piles.Fabric
		var name string
		var group int
		if err := rows.Scan(&id, &figures, &area, &name, &group); err != nil {
			return err
		}
		if err := json.Unmarshal(figures, &f); err != nil {
			return unreadable(s.path, id, err)
		}
		settle(&f, id, name, group, area.Float64)
		out = append(out, f)
		return nil
	}, "SELECT c.id, c.figures, c.area_cm2, p.name, p.exposure_group FROM cloths c JOIN photos p ON p.id = c.photo ORDER BY c.id")
	return out, told(s.path, err)
}

// settle puts in what stands in columns of its own.
func settle(f *piles.Fabric, id int64, photo string, group int, area float64) {
	*f = bare(*f)
	f.ID, f.Photo, f.Group, f.AreaCM2 = strconv.FormatInt(id, 10), photo, group, area
	f.Apart = within(f)
}

func unreadable(path string, id int64, err error) error {
	return damaged(path, fmt.Errorf("the figures of number %d: %w", id, err))
}

// Get are the cloths with these ids, in their order; one that is not there is an
// *Error.
func (s *Stash) Get(ctx context.Context, ids []string) ([]Kept, error) {
	byID := map[string]*Kept{}
	if !s.empty && len(ids) > 0 {
		list, err := json.Marshal(numbersOf(ids))
		if err != nil {
			return nil, err
		}
		err = each(ctx, s.db, func(rows *sql.Rows) error {
			k, err := s.kept(rows)
			if err == nil {
				byID[k.ID] = k
			}
			return err
		}, `SELECT c.id, c.figures, c.outline, c.area_cm2, c.used_cm2, p.name, p.exposure_group, lower(hex(p.sha256)), p.added
			FROM cloths c JOIN photos p ON p.id = c.photo WHERE c.id IN (SELECT value FROM json_each(?))`, string(list))
		if err != nil {
			return nil, told(s.path, err)
		}
	}
	out := make([]Kept, len(ids))
	for i, id := range ids {
		k := byID[id]
		if k == nil {
			return nil, noSuch(s.path, id)
		}
		out[i] = *k
	}
	return out, nil
}

func (s *Stash) kept(rows *sql.Rows) (*Kept, error) {
	var id int64
	var figures, outline sql.RawBytes
	var area sql.NullFloat64
	var name string
	var group int
	k := &Kept{}
	if err := rows.Scan(&id, &figures, &outline, &area, &k.UsedCM2, &name, &group, &k.SHA256, &k.Added); err != nil {
		return nil, told(s.path, err)
	}
	if err := json.Unmarshal(figures, &k.Fabric); err != nil {
		return nil, unreadable(s.path, id, err)
	}
	settle(&k.Fabric, id, name, group, area.Float64)
	if err := json.Unmarshal(outline, &k.Outline); err != nil {
		return nil, unreadable(s.path, id, err)
	}
	if l := left(area.Float64, k.UsedCM2); !math.IsNaN(l) {
		k.LeftCM2 = &l
	}
	return k, nil
}

func noSuch(path, id string) error {
	return &Error{File: path, Reason: fmt.Sprintf("there is no number %q in the stash", piles.Short(id)), Hint: "greige stash find lists what is in it"}
}

func numbersOf(ids []string) []int64 {
	out := []int64{}
	for _, id := range ids {
		if n, err := number(id); err == nil {
			out = append(out, n)
		}
	}
	return out
}

// number is an id as the database has it.
func number(id string) (int64, error) {
	n, err := strconv.ParseInt(id, 10, 64)
	if err == nil && (n < 1 || strconv.FormatInt(n, 10) != id) {
		err = strconv.ErrSyntax
	}
	return n, err
}

// frame is the small picture of a cloth without what it shows: how large it is; nil
// where it has none.
func (s *Stash) frame(ctx context.Context, id string) (*cloth.Swatch, error) {
	var w cloth.Swatch
	err := s.db.QueryRowContext(ctx, "SELECT width, height FROM pictures WHERE cloth = ?", id).Scan(&w.W, &w.H)
	if err == sql.ErrNoRows {
		return nil, nil
	}
	return &w, told(s.path, err)
}

// Picture is the small picture of a cloth; nil where it has none.
func (s *Stash) Picture(ctx context.Context, id string) (*cloth.Swatch, error) {
	n, err := number(id)
	if s.empty || err != nil {
		return nil, nil
	}
	var w cloth.Swatch
	var shape []byte
	err = s.db.QueryRowContext(ctx, "SELECT width, height, colour, grey, shape FROM pictures WHERE cloth = ?", n).Scan(&w.W, &w.H, &w.Colour, &w.Grey, &shape)
	switch {
	case err == sql.ErrNoRows:
		return nil, nil
	case err != nil:
		return nil, told(s.path, err)
	}
	if err := json.Unmarshal(shape, &w.Shape); err != nil {
		return nil, unreadable(s.path, n, err)
	}
	if len(w.Shape) == 0 {
		w.Shape = nil
	}
	return &w, nil
}
