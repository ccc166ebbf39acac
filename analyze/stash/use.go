package stash

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// mostCM2 is more cloth than any number of the stash holds: a bolt of 100 m.
const mostCM2 = 100 * 100 * 150

// Use says that so many cm2 have been cut from a cloth; below 0: they are put
// back. What is left cannot be less than nothing, nor used.
func (s *Stash) Use(ctx context.Context, id string, cm2 float64) error {
	n, err := number(id)
	if err != nil || s.empty {
		return noSuch(s.path, id)
	}
	if !(cm2 >= -mostCM2 && cm2 <= mostCM2) {
		return &Error{File: s.path, Reason: fmt.Sprintf("%g cm2 is no piece of a cloth", cm2), Hint: "give the area in square centimetres"}
	}
	return s.write(ctx, func(tx *sql.Tx) error {
		var area sql.NullFloat64
		var used float64
		var packed []byte
		err := tx.QueryRowContext(ctx, "SELECT c.area_cm2, c.used_cm2, k.key FROM cloths c JOIN keys k ON k.cloth = c.id WHERE c.id = ?", n).Scan(&area, &used, &packed)
		switch {
		case errors.Is(err, sql.ErrNoRows):
			return noSuch(s.path, id)
		case err != nil:
			return err
		}
		if used += cm2; used < 0 {
			return &Error{File: s.path, Reason: fmt.Sprintf("only %g cm2 of number %s were used, so no more can be put back", used-cm2, id), Hint: "greige stash show " + id + " tells what is left"}
		}
		k := key{id: n}
		if err := k.unpack(packed, map[string]string{}); err != nil {
			return unreadable(s.path, n, err)
		}
		k.left = left(area.Float64, used)
		if _, err := tx.ExecContext(ctx, "UPDATE keys SET key = ? WHERE cloth = ?", k.pack(), n); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, "UPDATE cloths SET used_cm2 = ? WHERE id = ?", used, n)
		return err
	})
}
