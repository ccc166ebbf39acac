package stash

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"slices"
	"strconv"
)

// Dropped is what Drop has taken out, so that Restore can put it back.
type Dropped struct {
	photos []droppedPhoto
}

type droppedPhoto struct {
	savedPhoto
	at int64 // its row
	// fellows are the bytes of the other photos that stood on its footing.
	fellows [][]byte
}

// Drop takes cloths out of the stash, all or, where one is not in it, none. With
// its last cloth a photo goes too, so that it can be added anew. No number is
// given again, but to the same cloth by Restore.
func (s *Stash) Drop(ctx context.Context, ids []string) (*Dropped, error) {
	if s.empty {
		return nil, ErrNone
	}
	out := &Dropped{}
	return out, s.write(ctx, func(tx *sql.Tx) error {
		var photos []int64
		for _, id := range ids {
			n, err := number(id)
			if err != nil {
				return noSuch(s.path, id)
			}
			var photo int64
			switch err := tx.QueryRowContext(ctx, "SELECT photo FROM cloths WHERE id = ?", n).Scan(&photo); {
			case errors.Is(err, sql.ErrNoRows):
				return noSuch(s.path, id)
			case err != nil:
				return err
			}
			if !slices.Contains(photos, photo) {
				photos = append(photos, photo)
			}
		}
		for _, photo := range photos {
			p, err := takeOut(ctx, tx, photo, ids)
			if err != nil {
				return err
			}
			out.photos = append(out.photos, *p)
		}
		_, err := tx.ExecContext(ctx, "DELETE FROM photos WHERE NOT EXISTS (SELECT 1 FROM cloths WHERE photo = photos.id)")
		return err
	})
}

// takeOut takes those of a photo's cloths out that ids name.
func takeOut(ctx context.Context, tx *sql.Tx, photo int64, ids []string) (*droppedPhoto, error) {
	whole, err := (&saver{ctx: ctx, from: tx}).photo(strconv.FormatInt(photo, 10))
	if err != nil {
		return nil, err
	}
	p := &droppedPhoto{savedPhoto: *whole, at: photo}
	p.Fabrics = slices.DeleteFunc(p.Fabrics, func(c savedCloth) bool { return !slices.Contains(ids, c.ID) })
	if p.ExposureGroup > 0 {
		err := each(ctx, tx, func(rows *sql.Rows) error {
			var hash []byte
			err := rows.Scan(&hash)
			p.fellows = append(p.fellows, hash)
			return err
		}, "SELECT sha256 FROM photos WHERE exposure_group = ? AND id <> ?", p.ExposureGroup, photo)
		if err != nil {
			return nil, err
		}
	}
	for _, c := range p.Fabrics {
		if _, err := tx.ExecContext(ctx, "DELETE FROM cloths WHERE id = CAST(? AS INTEGER)", c.ID); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// Restore puts back what Drop has taken out, under the same numbers, all or nothing.
// A photo that has been added anew meanwhile is an *Error, as its cloths are there.
func (s *Stash) Restore(ctx context.Context, d *Dropped) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		w, err := newWriter(ctx, tx)
		if err != nil {
			return err
		}
		groups := map[int64]int64{} // of photos whose fellows are all gone: the new number of each footing
		for i := range d.photos {
			if err := w.restore(&d.photos[i], groups, s.path); err != nil {
				return err
			}
		}
		return nil
	})
}

// restore puts a photo's cloths back, and the photo where it is gone.
func (w *writer) restore(p *droppedPhoto, groups map[int64]int64, path string) error {
	row, err := p.row()
	if err != nil {
		return err
	}
	at, _, err := known(w.ctx, w.tx, row.hash)
	if err != nil {
		return err
	}
	if at > 0 {
		var added string
		if err := w.tx.QueryRowContext(w.ctx, "SELECT added, exposure_group FROM photos WHERE id = ?", at).Scan(&added, &row.group); err != nil {
			return err
		}
		if added != p.Added {
			return &Error{File: path, Reason: "the photo " + p.Photo + " has been added anew, so its cloths are there already", Hint: "greige stash find lists what is in it"}
		}
	} else {
		if row.group, err = w.footing(p, groups); err != nil {
			return err
		}
		if row.name, err = w.name(row.name); err != nil {
			return err
		}
		var taken bool
		if err := w.tx.QueryRowContext(w.ctx, "SELECT EXISTS (SELECT 1 FROM photos WHERE id = ?)", p.at).Scan(&taken); err != nil {
			return err
		}
		if !taken {
			row.id = p.at
		}
		if at, err = w.insertPhoto(row); err != nil {
			return err
		}
	}
	for i := range p.Fabrics {
		c, err := p.Fabrics[i].row()
		if err != nil {
			return err
		}
		c.photo, c.group = at, row.group
		if _, err := w.cloth(c); err != nil {
			return err
		}
	}
	return nil
}

// footing is the number of a photo's exposure group: its own where a photo of that
// group has it, or none, else a new one, since another group has got it meanwhile.
func (w *writer) footing(p *droppedPhoto, groups map[int64]int64) (int64, error) {
	if p.ExposureGroup == 0 || groups[p.ExposureGroup] > 0 {
		return groups[p.ExposureGroup], nil
	}
	var holder []byte
	group := p.ExposureGroup
	err := w.tx.QueryRowContext(w.ctx, "SELECT sha256 FROM photos WHERE exposure_group = ?", group).Scan(&holder)
	switch {
	case errors.Is(err, sql.ErrNoRows):
	case err != nil:
		return 0, err
	case !slices.ContainsFunc(p.fellows, func(hash []byte) bool { return bytes.Equal(hash, holder) }):
		group = w.lastGroup + 1
	}
	w.lastGroup = max(w.lastGroup, group)
	groups[p.ExposureGroup] = group
	return group, nil
}
