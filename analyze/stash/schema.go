package stash

import (
	"context"
	"database/sql"
	"fmt"
)

// applicationID marks the file as a stash: "grge" in ASCII. (SQLite keeps four
// bytes of its header for it.)
const applicationID = 0x67726765

// steps make each version of the schema out of the one before; the first one
// makes it out of nothing. A step that has been released is never changed: what
// has to change is another step. The file's user_version counts the steps that
// it has been through.
var steps = []string{
	// 1: photos, their cloths, and what is asked for.
	`CREATE TABLE photos (
		id       INTEGER PRIMARY KEY,
		sha256   BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32), -- of its bytes
		name     TEXT NOT NULL UNIQUE, -- the path as it was given
		added    TEXT NOT NULL,    -- RFC 3339
		width_cm REAL,             -- of what it shows; NULL: not given
		exposure_group INTEGER NOT NULL, -- photos on one footing; 0: the level is known
		light    TEXT NOT NULL     -- JSON: what was done about its light
	) STRICT;
	-- A number that was given once is never given again: it may be on a slip of
	-- paper.
	CREATE TABLE cloths (
		id       INTEGER PRIMARY KEY AUTOINCREMENT,
		photo    INTEGER NOT NULL REFERENCES photos ON DELETE CASCADE,
		figures  TEXT NOT NULL,    -- JSON: piles.Fabric without its outline
		outline  TEXT NOT NULL,    -- JSON: pixels of the upright photo
		area_cm2 REAL,             -- of the outline; NULL: not known
		used_cm2 REAL NOT NULL DEFAULT 0
	) STRICT;
	CREATE INDEX cloths_by_photo ON cloths (photo);
	-- What is asked for, packed (key.go): found without reading the rest.
	CREATE TABLE keys (
		cloth INTEGER PRIMARY KEY REFERENCES cloths ON DELETE CASCADE,
		key   BLOB NOT NULL
	) STRICT;
	CREATE TABLE pictures (
		cloth  INTEGER PRIMARY KEY REFERENCES cloths ON DELETE CASCADE,
		width  INTEGER NOT NULL,
		height INTEGER NOT NULL,
		colour BLOB NOT NULL,      -- JPEG
		grey   BLOB NOT NULL,      -- JPEG
		shape  TEXT NOT NULL       -- JSON: the outline in shares of the picture
	) STRICT;`,
	// 2: how busy a cloth is, beside what it is asked for by: a choice goes by it.
	`ALTER TABLE keys ADD COLUMN spread REAL NOT NULL DEFAULT 0;
	UPDATE keys SET spread = coalesce((SELECT json_extract(c.figures, '$.spread') FROM cloths c WHERE c.id = keys.cloth), 0);`,
}

// migrate brings the file up to the newest version, all or nothing. Where there
// is nothing in it, and create is false, it stays so.
func (s *Stash) migrate(ctx context.Context, create bool, steps []string) error {
	var id, version, tables int
	read := func(from interface {
		QueryRowContext(context.Context, string, ...any) *sql.Row
	}) error {
		for _, q := range []struct {
			text string
			into *int
		}{{"PRAGMA application_id", &id}, {"PRAGMA user_version", &version}, {"SELECT count(*) FROM sqlite_schema", &tables}} {
			if err := from.QueryRowContext(ctx, q.text).Scan(q.into); err != nil {
				return err
			}
		}
		return nil
	}
	if err := read(s.db); err != nil {
		return err
	}
	check := func() error {
		switch {
		case id != applicationID && (tables > 0 || version > 0):
			return foreign(s.path)
		case version > len(steps):
			return &Error{File: s.path, Reason: fmt.Sprintf("a newer greige wrote this stash (version %d of its kind; this program knows %d)", version, len(steps)),
				Hint: "it was left as it is: use the newer program"}
		}
		return nil
	}
	if err := check(); err != nil {
		return err
	}
	if version == len(steps) {
		return nil
	}
	if version == 0 && !create {
		s.empty = true
		return nil
	}
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	// Another program may have done it meanwhile.
	if err := read(tx); err != nil {
		return err
	}
	if err := check(); err != nil {
		return err
	}
	for _, step := range steps[min(version, len(steps)):] {
		if _, err := tx.ExecContext(ctx, step); err != nil {
			return fmt.Errorf("bringing the stash up to date: %w", err)
		}
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, len(steps))); err != nil {
		return err
	}
	return tx.Commit()
}
