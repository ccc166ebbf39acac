package stash

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image/jpeg"
	"io"
	"math"
	"strconv"
	"time"

	"greige/analyze/cloth"
	"greige/analyze/light"
	"greige/analyze/piles"
)

// Loaded is what Load put in.
type Loaded struct {
	Cloths int
	Known  int // photos that were in the stash already, by their bytes
	// Renumbered are the cloths whose number another has here: the number in the
	// file, and the new one.
	Renumbered [][2]string
}

// Bounds of what a saved stash may hold.
const (
	photoBytes   = 256 << 20 // of one photo with its cloths and their pictures
	figuresBytes = 1 << 20   // of one cloth's figures; real ones have some 2 kB
	pictureSide  = 1024      // of a small picture, in pixels
	nameBytes    = 4096      // of a photo's path
	mostPoints   = 100000    // of an outline
)

// Load puts all of what Save wrote into the stash, or, where anything is wrong
// with it, nothing. Photos that the stash has already stay as they are. A cloth
// keeps its number unless another has it. What is wrong with the JSON is an
// *Error without a file.
func (s *Stash) Load(ctx context.Context, r io.Reader) (l Loaded, err error) {
	return l, s.write(ctx, func(tx *sql.Tx) error {
		w, err := newWriter(ctx, tx)
		if err != nil {
			return err
		}
		in := &loader{w: w, base: w.lastGroup, into: &l}
		in.from = &allowance{r: r}
		in.dec = json.NewDecoder(in.from)
		return in.all()
	})
}

type loader struct {
	w    *writer
	base int64 // groups of the file are counted on from here
	from *allowance
	dec  *json.Decoder
	into *Loaded
}

// allowance reads no more than photoBytes until it is asked for more.
type allowance struct {
	r    io.Reader
	used int64
}

var errTooLong = errors.New("a photo that takes more than 256 MiB")

func (a *allowance) Read(p []byte) (int, error) {
	if a.used > photoBytes {
		return 0, errTooLong
	}
	n, err := a.r.Read(p)
	a.used += int64(n)
	return n, err
}

const loadHint = "give what greige stash save wrote"

func wrong(format string, args ...any) error {
	return &Error{Reason: fmt.Sprintf(format, args...), Hint: loadHint}
}

func (in *loader) unread(err error) error {
	var kind *json.UnmarshalTypeError
	switch {
	case errors.Is(err, errTooLong):
		return wrong("there is %v in it", errTooLong)
	case errors.As(err, &kind):
		return wrong("the field %s holds a %s, not what a saved stash has there", strconv.Quote(piles.Short(kind.Field)), kind.Value)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return wrong("it is cut short")
	}
	return wrong("not JSON (byte %d: %s)", in.dec.InputOffset(), piles.Short(err.Error()))
}

func (in *loader) delimiter(want json.Delim) error {
	t, err := in.dec.Token()
	if err != nil {
		return in.unread(err)
	}
	if t != want {
		return wrong("JSON, but no stash: byte %d should be %s", in.dec.InputOffset(), want)
	}
	return nil
}

func (in *loader) all() error {
	if err := in.delimiter('{'); err != nil {
		return err
	}
	schema, photos := "", false
	for in.dec.More() {
		t, err := in.dec.Token()
		if err != nil {
			return in.unread(err)
		}
		switch name := t.(string); { // the names of an object are strings
		case name == "schema":
			if err := in.dec.Decode(&schema); err != nil {
				return in.unread(err)
			}
			if schema != Schema {
				return wrong("its schema is %s, and this program reads %q", strconv.Quote(piles.Short(schema)), Schema)
			}
		case schema == "":
			return wrong("JSON, but no stash: it does not begin with a \"schema\"")
		case name == "last_number":
			var last int64
			if err := in.dec.Decode(&last); err != nil {
				return in.unread(err)
			}
			if err := in.countFrom(last); err != nil {
				return err
			}
		case name == "photos":
			photos = true
			if err := in.photos(); err != nil {
				return err
			}
		default:
			var skipped json.RawMessage
			if err := in.dec.Decode(&skipped); err != nil {
				return in.unread(err)
			}
		}
	}
	if err := in.delimiter('}'); err != nil {
		return err
	}
	if !photos {
		return wrong("there are no \"photos\" in it")
	}
	return nil
}

// mostNumber is more cloths than anybody can have: numbers beyond it are a fault
// of the file.
const mostNumber = 1e12

func (in *loader) countFrom(n int64) error {
	if n < 0 || n > mostNumber {
		return wrong("its last number is %d", n)
	}
	r, err := in.w.tx.ExecContext(in.w.ctx, "UPDATE sqlite_sequence SET seq = max(seq, ?) WHERE name = 'cloths'", n)
	if err != nil {
		return err
	}
	if rows, err := r.RowsAffected(); err != nil || rows > 0 {
		return err
	}
	_, err = in.w.tx.ExecContext(in.w.ctx, "INSERT INTO sqlite_sequence (name, seq) VALUES ('cloths', ?)", n)
	return err
}

func (in *loader) photos() error {
	if err := in.delimiter('['); err != nil {
		return err
	}
	for n := 1; in.dec.More(); n++ {
		in.from.used = 0
		var p savedPhoto
		if err := in.dec.Decode(&p); err != nil {
			return in.unread(err)
		}
		if err := in.photo(&p); err != nil {
			var known *Error
			if errors.As(err, &known) && known.File == "" {
				known.Reason = fmt.Sprintf("photo %d: %s", n, known.Reason)
			}
			return err
		}
	}
	return in.delimiter(']')
}

func (in *loader) photo(p *savedPhoto) error {
	row, err := p.row()
	if err != nil {
		return err
	}
	if id, _, err := known(in.w.ctx, in.w.tx, row.hash); err != nil || id > 0 {
		in.into.Known++
		return err
	}
	if row.group > 0 {
		row.group += in.base
		in.w.lastGroup = max(in.w.lastGroup, row.group)
	}
	if row.name, err = in.w.name(row.name); err != nil {
		return err
	}
	at, err := in.w.insertPhoto(row)
	if err != nil {
		return err
	}
	for i := range p.Fabrics {
		c, err := p.Fabrics[i].row()
		if err != nil {
			return wrong("cloth %d: %v", i+1, err)
		}
		c.photo, c.group = at, row.group
		asked := c.id
		var taken bool
		if err := in.w.tx.QueryRowContext(in.w.ctx, "SELECT EXISTS (SELECT 1 FROM cloths WHERE id = ?)", asked).Scan(&taken); err != nil {
			return err
		}
		if taken {
			c.id = 0
		}
		id, err := in.w.cloth(c)
		if err != nil {
			return err
		}
		if taken {
			in.into.Renumbered = append(in.into.Renumbered, [2]string{strconv.FormatInt(asked, 10), strconv.FormatInt(id, 10)})
		}
		in.into.Cloths++
	}
	return nil
}

// row is the photo as the database has it.
func (p *savedPhoto) row() (photoRow, error) {
	r := photoRow{name: p.Photo, width: p.WidthCM, group: p.ExposureGroup}
	hash, err := hex.DecodeString(p.SHA256)
	if err != nil || len(hash) != len(r.hash) {
		return r, wrong("its \"sha256\" is no such sum")
	}
	copy(r.hash[:], hash)
	if r.name == "" || len(r.name) > nameBytes {
		return r, wrong("it needs a name of 1 to %d bytes", nameBytes)
	}
	if r.added, err = time.Parse(time.RFC3339, p.Added); err != nil || r.added.UTC().Year() < 1 || r.added.UTC().Year() > 9999 {
		return r, wrong("it was added at %s, which is no date and time", strconv.Quote(piles.Short(p.Added)))
	}
	if !(r.width >= 0 && r.width <= 1e5) || r.group < 0 || r.group > mostNumber {
		return r, wrong("its width or its group is out of range")
	}
	var record light.Record
	if r.light, err = compact(p.Light, &record); err != nil {
		return r, wrong("what was done about its light cannot be read")
	}
	if len(p.Fabrics) == 0 {
		return r, wrong("there is no cloth in it")
	}
	return r, nil
}

// compact is JSON without spaces, which has to fit into v.
func compact(text json.RawMessage, v any) (json.RawMessage, error) {
	if len(text) == 0 || len(text) > figuresBytes {
		return nil, errors.New("missing, or longer than any")
	}
	if err := json.Unmarshal(text, v); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := json.Compact(&b, text); err != nil {
		return nil, err
	}
	if b.Bytes()[0] != '{' {
		return nil, errors.New("no object")
	}
	return b.Bytes(), nil
}

// row is the cloth as the database has it.
func (c *savedCloth) row() (clothRow, error) {
	r := clothRow{area: c.AreaCM2, used: c.UsedCM2}
	var err error
	if r.id, err = number(c.ID); err != nil || r.id > mostNumber {
		return r, fmt.Errorf("its id %s is no number", strconv.Quote(piles.Short(c.ID)))
	}
	if r.raw, err = compact(c.Figures, &r.fabric); err != nil {
		return r, errors.New("its figures cannot be read")
	}
	checked := bare(r.fabric)
	checked.ID = c.ID
	if err := checked.Check(); err != nil {
		return r, err
	}
	if checked.Doubtful {
		return r, errors.New("it may be no cloth, and such pieces are not kept")
	}
	if len(c.Outline) > figuresBytes {
		return r, errors.New("its outline is longer than any")
	}
	if err := json.Unmarshal(c.Outline, &r.outline); err != nil {
		return r, errors.New("its outline cannot be read")
	}
	if err := points(r.outline, 1e6); err != nil {
		return r, fmt.Errorf("its outline %w", err)
	}
	if !(c.AreaCM2 >= 0 && c.AreaCM2 <= mostCM2 && c.UsedCM2 >= 0 && c.UsedCM2 <= mostCM2) {
		return r, errors.New("its area, or what was used of it, is out of range")
	}
	r.fabric.Swatch, err = c.Picture.swatch()
	return r, err
}

func points(outline [][2]float64, most float64) error {
	if len(outline) > mostPoints {
		return errors.New("is longer than any")
	}
	for _, p := range outline {
		if !(math.Abs(p[0]) <= most && math.Abs(p[1]) <= most) {
			return errors.New("lies outside of any picture")
		}
	}
	return nil
}

// swatch is the small picture of a cloth; nil where it has none.
func (p *savedPicture) swatch() (*cloth.Swatch, error) {
	if p == nil {
		return nil, nil
	}
	s := &cloth.Swatch{W: p.Width, H: p.Height, Colour: p.Colour, Grey: p.Grey}
	for i, data := range [][]byte{s.Colour, s.Grey} {
		if i == 1 && len(data) == 0 {
			continue // it is shown in colour only
		}
		size, err := jpeg.DecodeConfig(bytes.NewReader(data))
		if err != nil || len(data) > pictureBytes {
			return nil, errors.New("its picture is no JPEG, or too large for a small picture")
		}
		if size.Width != s.W || size.Height != s.H || max(s.W, s.H) > pictureSide {
			return nil, errors.New("its picture has another size than is said")
		}
	}
	if len(p.Shape) > figuresBytes || json.Unmarshal(p.Shape, &s.Shape) != nil || points(s.Shape, 2) != nil {
		return nil, errors.New("the shape in its picture cannot be read")
	}
	return s, nil
}
