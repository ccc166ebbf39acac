package stash

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
)

// Schema names the shape of the JSON that Save writes.
const Schema = "greige-stash/1"

// savedPhoto and savedCloth are the stash in JSON. Figures, outlines, shapes and
// the light go through as they were written, so that fields that this program
// does not know are kept.
type savedPhoto struct {
	SHA256        string          `json:"sha256"`
	Photo         string          `json:"photo"`
	Added         string          `json:"added"`
	WidthCM       float64         `json:"width_cm,omitempty"`
	ExposureGroup int64           `json:"exposure_group,omitempty"`
	Light         json.RawMessage `json:"light"`
	Fabrics       []savedCloth    `json:"fabrics"`
}

type savedCloth struct {
	ID      string          `json:"id"`
	Figures json.RawMessage `json:"figures"`
	Outline json.RawMessage `json:"outline"`
	AreaCM2 float64         `json:"area_cm2,omitempty"`
	UsedCM2 float64         `json:"used_cm2,omitempty"`
	Picture *savedPicture   `json:"picture,omitempty"`
}

type savedPicture struct {
	Width  int             `json:"width"`
	Height int             `json:"height"`
	Colour []byte          `json:"colour"` // JPEG, in base64
	Grey   []byte          `json:"grey"`
	Shape  json.RawMessage `json:"shape"`
}

// Save writes all of the stash as JSON, as it is at one moment, and returns how
// many cloths that are. A file that turns out to be damaged is an *Error. No
// more than one photo's cloths are in memory at a time.
func (s *Stash) Save(ctx context.Context, w io.Writer, version string) (cloths int, err error) {
	conn, err := s.db.Conn(ctx)
	if err != nil {
		return 0, told(s.path, err)
	}
	defer conn.Close()
	// A transaction that only reads lets others read meanwhile.
	if _, err := conn.ExecContext(ctx, "BEGIN DEFERRED"); err != nil {
		return 0, told(s.path, err)
	}
	defer conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK")
	var state string
	if err := conn.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&state); err != nil {
		return 0, told(s.path, err)
	}
	if state != "ok" {
		return 0, damaged(s.path, fmt.Errorf("%s", state))
	}
	out := &saver{ctx: ctx, from: conn, w: bufio.NewWriterSize(w, 1<<16)}
	if err := out.all(s.empty, version); err != nil {
		return 0, told(s.path, err)
	}
	return out.cloths, out.w.Flush()
}

type saver struct {
	ctx    context.Context
	from   querier
	w      *bufio.Writer
	cloths int
}

func (o *saver) all(empty bool, version string) error {
	var last int64
	var photos []string
	if !empty {
		// Numbers of cloths that have been dropped are not given again either.
		if err := o.from.QueryRowContext(o.ctx, "SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'cloths'").Scan(&last); err != nil {
			return err
		}
		var err error
		if photos, err = collect(o.ctx, o.from, "SELECT id FROM photos ORDER BY id"); err != nil {
			return err
		}
	}
	said, err := json.Marshal(version)
	if err != nil {
		return err
	}
	fmt.Fprintf(o.w, "{\"schema\": %q, \"version\": %s, \"last_number\": %d, \"photos\": [", Schema, said, last)
	for i, id := range photos {
		p, err := o.photo(id)
		if err != nil {
			return err
		}
		text, err := json.Marshal(p)
		if err != nil {
			return err
		}
		if i > 0 {
			o.w.WriteByte(',')
		}
		o.w.WriteByte('\n')
		if _, err := o.w.Write(text); err != nil {
			return err
		}
	}
	_, err = o.w.WriteString("\n]}\n")
	return err
}

func (o *saver) photo(id string) (*savedPhoto, error) {
	p := &savedPhoto{Fabrics: []savedCloth{}}
	var hash, record []byte
	var width sql.NullFloat64
	err := o.from.QueryRowContext(o.ctx, "SELECT sha256, name, added, width_cm, exposure_group, light FROM photos WHERE id = ?", id).
		Scan(&hash, &p.Photo, &p.Added, &width, &p.ExposureGroup, &record)
	if err != nil {
		return nil, err
	}
	p.SHA256, p.WidthCM, p.Light = hex.EncodeToString(hash), width.Float64, record
	err = each(o.ctx, o.from, func(rows *sql.Rows) error {
		var c savedCloth
		var number int64
		var area sql.NullFloat64
		var w, h sql.NullInt64
		var colour, grey, shape []byte
		if err := rows.Scan(&number, (*[]byte)(&c.Figures), (*[]byte)(&c.Outline), &area, &c.UsedCM2, &w, &h, &colour, &grey, &shape); err != nil {
			return err
		}
		c.ID, c.AreaCM2 = strconv.FormatInt(number, 10), area.Float64
		if w.Valid {
			c.Picture = &savedPicture{int(w.Int64), int(h.Int64), colour, grey, shape}
		}
		p.Fabrics = append(p.Fabrics, c)
		o.cloths++
		return nil
	}, `SELECT c.id, c.figures, c.outline, c.area_cm2, c.used_cm2, p.width, p.height, p.colour, p.grey, p.shape
		FROM cloths c LEFT JOIN pictures p ON p.cloth = c.id WHERE c.photo = ? ORDER BY c.id`, id)
	return p, err
}
