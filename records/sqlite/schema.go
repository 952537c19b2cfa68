package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	codes "modernc.org/sqlite/lib"

	"grainward/records"
)

// applicationID marks the file as ours: "GRWD".
const applicationID = 0x47525744

// step brings a file from one schema version to the next. Steps are never changed once released, only added: the
// version of a file is the number of steps it has taken.
type step struct {
	needs string // the lowest program version that reads the outcome; an older one tells people so
	sql   string
}

var schema = []step{
	{needs: "0.1", sql: `
CREATE TABLE entries (
  position INTEGER PRIMARY KEY,
  body     TEXT NOT NULL,
  leaf     BLOB NOT NULL
) STRICT;
CREATE TABLE checkpoints (
  size INTEGER PRIMARY KEY,
  note TEXT NOT NULL
) STRICT;
CREATE TABLE blobs (
  sha256 TEXT PRIMARY KEY,
  size   INTEGER NOT NULL,
  bytes  BLOB NOT NULL
) STRICT;
CREATE TABLE about (
  name  TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT;
INSERT INTO about VALUES
  ('what', 'A Grainward journal. entries.body is one signed entry as RFC 8785 JSON; entries.leaf is its RFC 6962 hash. Read, never change: use the view journal.');
CREATE VIEW journal AS
  SELECT position,
         json_extract(text, '$.id')       AS id,
         json_extract(text, '$.happened') AS happened,
         json_extract(text, '$.recorded') AS recorded,
         json_extract(text, '$.by')       AS person,
         json_extract(text, '$.meaning')  AS meaning,
         json_extract(text, '$.kind')     AS kind,
         json_extract(text, '$.fact')     AS fact,
         json_extract(text, '$.device')   AS device,
         lower(hex(leaf))                 AS leaf
    FROM (SELECT position, leaf, CASE WHEN json_valid(body) THEN body END AS text FROM entries);
`},
}

// identity is what a file says about itself before anything is done to it.
type identity struct {
	application int64
	version     int64
	tables      int64
}

func identify(ctx context.Context, q queryer) (id identity, err error) {
	const question = "SELECT (SELECT application_id FROM pragma_application_id), (SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)"
	err = q.QueryRowContext(ctx, question).Scan(&id.application, &id.version, &id.tables)
	return id, err
}

// queryer is what *sql.DB and *sql.Conn have in common.
type queryer interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// isBlank says that nothing was ever put in the file: new, or a creation that did not get to its end.
func (id identity) isBlank() bool { return id == identity{} }

// check says whether this program can work with the file; a blank or older one passes.
func (id identity) check(ctx context.Context, q queryer, path string, steps []step) error {
	if id.isBlank() {
		return nil
	}
	if id.application != applicationID {
		return &records.Error{Kind: records.Invalid, What: path + " is a SQLite file, but not a Grainward journal", Do: "check the path; the file was left as it is"}
	}
	if id.version <= int64(len(steps)) {
		return nil
	}
	var needs string
	err := q.QueryRowContext(ctx, "SELECT value FROM about WHERE name = 'needs'").Scan(&needs)
	// A newer file may have nothing of the kind (SQLITE_ERROR: no such table), and still is too new.
	if err != nil && !errors.Is(err, sql.ErrNoRows) && !isCode(err, codes.SQLITE_ERROR) {
		return wrong("finding out which program reads the journal", path, err)
	}
	do := "use a newer version of grainward; the file was left as it is"
	if needs != "" {
		do = fmt.Sprintf("use grainward %s or newer; the file was left as it is", needs)
	}
	return &records.Error{Kind: records.TooNew, Do: do,
		What: fmt.Sprintf("%s was written by a newer version of the program (its schema is %d, this program knows %d)", path, id.version, len(steps))}
}

// migrate takes the steps that are missing, all in one transaction.
func migrate(ctx context.Context, c *sql.Conn, from int64, steps []step) (err error) {
	if from == int64(len(steps)) {
		return nil
	}
	tx, err := c.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, ignoreDone(tx.Rollback()))
		}
	}()
	for i, s := range steps[from:] {
		if _, err := tx.ExecContext(ctx, s.sql); err != nil {
			return fmt.Errorf("schema step %d: %w", int(from)+i+1, err)
		}
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO about VALUES ('needs', ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value", steps[len(steps)-1].needs); err != nil {
		return err
	}
	// Pragmas take no parameters.
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, len(steps))); err != nil {
		return err
	}
	return tx.Commit()
}

func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
}
