package stash

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"time"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/piles"
)

// Hash is the SHA-256 of a photo's bytes, by which it is known whatever it is
// called.
type Hash [sha256.Size]byte

// HashFile is the Hash of the file at path.
func HashFile(path string) (h Hash, err error) {
	f, err := os.Open(path)
	if err != nil {
		return h, err
	}
	defer f.Close()
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return h, err
	}
	return Hash(sum.Sum(nil)), nil
}

// Photo is a photo that was measured, with the cloths in it.
type Photo struct {
	Hash    Hash
	Name    string    // the path as it was given
	Added   time.Time // to the second
	WidthCM float64   // of what it shows; 0: not given
	Light   light.Record
	// Fabrics are its cloths. Of their numbers Group counts, which photos that
	// are added together share where they stand on one footing, 0 where the
	// level is known.
	Fabrics []piles.Fabric
}

// Added is what became of a photo.
type Added struct {
	Name string   `json:"photo"`
	IDs  []string `json:"fabrics"` // of the cloths that were added
	// Known: it was in the stash already, under the name As, and IDs are the
	// cloths of it that are there.
	Known bool   `json:"known,omitempty"`
	As    string `json:"as,omitempty"`
	Left  int    `json:"left_out,omitempty"` // pieces that may be no cloth, and were not kept
}

// Add adds photos, all or none. Those that are in the stash already, by their
// bytes, stay as they are; pieces that may be no cloth are left out, and so is a
// photo of nothing else.
func (s *Stash) Add(ctx context.Context, photos []Photo) (added []Added, err error) {
	return added, s.write(ctx, func(tx *sql.Tx) error {
		w, err := newWriter(ctx, tx)
		if err != nil {
			return err
		}
		for i := range photos {
			a, err := w.photo(&photos[i])
			if err != nil {
				return err
			}
			added = append(added, a)
		}
		return nil
	})
}

// write does all of work or nothing.
func (s *Stash) write(ctx context.Context, work func(tx *sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return told(s.path, err)
	}
	defer tx.Rollback()
	if err := work(tx); err != nil {
		return told(s.path, err)
	}
	return told(s.path, tx.Commit())
}

// writer adds photos and cloths within a transaction.
type writer struct {
	ctx                context.Context
	tx                 *sql.Tx
	addPhoto, addCloth *sql.Stmt
	addKey, addPicture *sql.Stmt
	groups             map[int]int64 // of what is being added, and here
	lastGroup          int64
}

func newWriter(ctx context.Context, tx *sql.Tx) (*writer, error) {
	w := &writer{ctx: ctx, tx: tx, groups: map[int]int64{0: 0}}
	for _, p := range []struct {
		into **sql.Stmt
		text string
	}{
		{&w.addPhoto, "INSERT INTO photos (id, sha256, name, added, width_cm, exposure_group, light) VALUES (?, ?, ?, ?, ?, ?, ?)"},
		{&w.addCloth, "INSERT INTO cloths (id, photo, figures, outline, area_cm2, used_cm2) VALUES (?, ?, ?, ?, ?, ?)"},
		{&w.addKey, "INSERT INTO keys (cloth, key, spread) VALUES (?, ?, ?)"},
		{&w.addPicture, "INSERT INTO pictures (cloth, width, height, colour, grey, shape) VALUES (?, ?, ?, ?, ?, ?)"},
	} {
		var err error
		if *p.into, err = tx.PrepareContext(ctx, p.text); err != nil { // closed with the transaction
			return nil, err
		}
	}
	return w, tx.QueryRowContext(ctx, "SELECT coalesce(max(exposure_group), 0) FROM photos").Scan(&w.lastGroup)
}

// group is the stash's number for a group of the photos that are being added.
func (w *writer) group(g int) int64 {
	if _, ok := w.groups[g]; !ok {
		w.lastGroup++
		w.groups[g] = w.lastGroup
	}
	return w.groups[g]
}

// known is the row of a photo with these bytes; 0: there is none.
func known(ctx context.Context, from querier, h Hash) (id int64, name string, err error) {
	err = from.QueryRowContext(ctx, "SELECT id, name FROM photos WHERE sha256 = ?", h[:]).Scan(&id, &name)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return id, name, err
}

func (w *writer) photo(p *Photo) (Added, error) {
	id, name, err := known(w.ctx, w.tx, p.Hash)
	if err != nil {
		return Added{}, err
	}
	if id > 0 {
		ids, err := idsOf(w.ctx, w.tx, id)
		return Added{Name: p.Name, As: name, IDs: ids, Known: true}, err
	}
	a := Added{IDs: []string{}}
	group := 0
	var keep []*piles.Fabric
	for i := range p.Fabrics {
		f := &p.Fabrics[i]
		if f.Doubtful {
			a.Left++
			continue
		}
		keep = append(keep, f)
		group = f.Group // of all cloths of a photo the same
	}
	if a.Name, err = w.name(p.Name); err != nil || len(keep) == 0 {
		return a, err
	}
	record, err := json.Marshal(p.Light)
	if err != nil {
		return a, err
	}
	row, err := w.insertPhoto(photoRow{hash: p.Hash, name: a.Name, added: p.Added, width: p.WidthCM, group: w.group(group), light: record})
	if err != nil {
		return a, err
	}
	for _, f := range keep {
		id, err := w.cloth(clothRow{photo: row, group: w.group(group), fabric: *f, outline: f.Outline, area: f.AreaCM2})
		if err != nil {
			return a, err
		}
		a.IDs = append(a.IDs, strconv.FormatInt(id, 10))
	}
	return a, nil
}

// name is a name that no other photo of the stash has: photos of one name in
// different folders, or of different days, must not be taken for one.
func (w *writer) name(name string) (string, error) {
	for n := 1; ; n++ {
		as := name
		if n > 1 {
			as = fmt.Sprintf("%s (%d)", name, n)
		}
		var taken bool
		if err := w.tx.QueryRowContext(w.ctx, "SELECT EXISTS (SELECT 1 FROM photos WHERE name = ?)", as).Scan(&taken); err != nil || !taken {
			return as, err
		}
	}
}

// photoRow is a photo to be put in; id 0: it gets one.
type photoRow struct {
	id    int64
	hash  Hash
	name  string
	added time.Time
	width float64
	group int64
	light json.RawMessage
}

func (w *writer) insertPhoto(p photoRow) (id int64, err error) {
	r, err := w.addPhoto.ExecContext(w.ctx, orNext(p.id), p.hash[:], p.name, p.added.UTC().Format(time.RFC3339), positive(p.width), p.group, string(p.light))
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// orNext is the number of a row for the database: NULL where it is to give one.
func orNext(id int64) any {
	if id > 0 {
		return id
	}
	return nil
}

// positive is v for the database: NULL where it is not known.
func positive(v float64) any {
	if v > 0 {
		return v
	}
	return nil
}

// clothRow is a cloth to be put in; id 0: it gets the next number.
type clothRow struct {
	id, photo, group int64
	fabric           piles.Fabric
	raw              json.RawMessage // its figures as they were written; nil: of fabric
	outline          [][2]float64
	area, used       float64
}

func (w *writer) cloth(c clothRow) (id int64, err error) {
	figures := []byte(c.raw)
	if figures == nil {
		if figures, err = json.Marshal(bare(c.fabric)); err != nil {
			return 0, err
		}
		// As they are read again: JSON rounds colours.
		kept := c.fabric.Swatch
		c.fabric = piles.Fabric{}
		if err := json.Unmarshal(figures, &c.fabric); err != nil {
			return 0, err
		}
		c.fabric.Swatch = kept
	}
	if c.outline == nil {
		c.outline = [][2]float64{}
	}
	outline, err := json.Marshal(c.outline)
	if err != nil {
		return 0, err
	}
	r, err := w.addCloth.ExecContext(w.ctx, orNext(c.id), c.photo, string(figures), string(outline), positive(c.area), c.used)
	if err != nil {
		return 0, err
	}
	if id, err = r.LastInsertId(); err != nil {
		return 0, err
	}
	k := keyOf(&c.fabric, id, c.photo, c.group, left(c.area, c.used))
	if _, err := w.addKey.ExecContext(w.ctx, id, k.pack(), c.fabric.Spread); err != nil {
		return 0, err
	}
	return id, w.picture(id, c.fabric.Swatch)
}

// bare is what is written of a fabric's figures: what depends on the cloths
// beside it is left out, and what stands in columns of its own.
func bare(f piles.Fabric) piles.Fabric {
	f.ID, f.Photo, f.Outline, f.AreaCM2 = "", "", nil, 0
	f.Rank, f.TiedWith, f.Pile, f.Swing, f.Group = 0, nil, "", nil, 0
	return f
}

// left is what is left of a cloth, in cm2; NaN where its area is not known.
func left(area, used float64) float64 {
	if area <= 0 {
		return math.NaN()
	}
	return max(area-used, 0)
}

// pictureBytes is the most bytes of a picture of a cloth, in colour or grey.
// Those that cloth.NewSwatch makes of 176 pixels a side have some 5 to 15 kB.
const pictureBytes = 64 << 10

func (w *writer) picture(id int64, s *cloth.Swatch) error {
	if s == nil || len(s.Colour) == 0 || len(s.Colour) > pictureBytes || len(s.Grey) > pictureBytes {
		return nil
	}
	shape := s.Shape
	if shape == nil {
		shape = [][2]float64{}
	}
	text, err := json.Marshal(shape)
	if err != nil {
		return err
	}
	grey := s.Grey
	if grey == nil {
		grey = []byte{}
	}
	_, err = w.addPicture.ExecContext(w.ctx, id, s.W, s.H, s.Colour, grey, string(text))
	return err
}
