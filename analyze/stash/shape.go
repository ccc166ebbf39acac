package stash

import (
	"context"
	"database/sql"
	"encoding/json"
	"strconv"
)

// Shape is where a kept cloth lies in its photo.
type Shape struct {
	Outline [][2]float64 // pixels of the upright photo
	WidthCM float64      // of what the photo shows from its left edge to its right; 0: not known
}

// Shapes are those of all kept cloths, by their numbers. Cloths leaves them out,
// since few ask for them and they are most of the figures.
func (s *Stash) Shapes(ctx context.Context) (map[string]Shape, error) {
	shapes := map[string]Shape{}
	if s.empty {
		return shapes, nil
	}
	err := each(ctx, s.db, func(rows *sql.Rows) error {
		var id int64
		var outline sql.RawBytes
		var width sql.NullFloat64
		if err := rows.Scan(&id, &outline, &width); err != nil {
			return err
		}
		shape := Shape{WidthCM: width.Float64}
		if err := json.Unmarshal(outline, &shape.Outline); err != nil {
			return unreadable(s.path, id, err)
		}
		shapes[strconv.FormatInt(id, 10)] = shape
		return nil
	}, "SELECT c.id, c.outline, p.width_cm FROM cloths c JOIN photos p ON p.id = c.photo")
	return shapes, told(s.path, err)
}
