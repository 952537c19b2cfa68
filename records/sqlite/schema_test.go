package sqlite

import (
	"path/filepath"
	"slices"
	"testing"

	"grainward/records"
)

// versionOne is the text of a file of schema 1 as released, written out by hand so that a change to a released step
// shows. It is never edited.
const versionOne = `
CREATE TABLE entries (position INTEGER PRIMARY KEY, body TEXT NOT NULL, leaf BLOB NOT NULL) STRICT;
CREATE TABLE checkpoints (size INTEGER PRIMARY KEY, note TEXT NOT NULL) STRICT;
CREATE TABLE blobs (sha256 TEXT PRIMARY KEY, size INTEGER NOT NULL, bytes BLOB NOT NULL) STRICT;
CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
CREATE VIEW journal AS SELECT position, json_extract(body, '$.kind') AS kind FROM entries;
INSERT INTO about VALUES ('what', 'made by hand'), ('needs', '0.1');
INSERT INTO entries VALUES (0, '{"kind":"a"}', zeroblob(32)), (1, '{"kind":"b"}', zeroblob(32));
INSERT INTO checkpoints VALUES (2, 'signed');
INSERT INTO blobs VALUES ('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad', 3, CAST('abc' AS BLOB));
PRAGMA application_id = 1196578628;
PRAGMA user_version = 1;
`

func bodies(t *testing.T, s *Store) (got []string) {
	t.Helper()
	if err := s.Read(t.Context(), 0, func(_ records.Position, r records.Row) error { got = append(got, string(r.Bytes)); return nil }); err != nil {
		t.Fatal(err)
	}
	return got
}

func TestVersionOneOpens(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	mustExec(t, path, versionOne)
	for _, mode := range []Mode{Read, Write} {
		s := mustOpen(t, path, mode)
		if got := bodies(t, s); !slices.Equal(got, []string{`{"kind":"a"}`, `{"kind":"b"}`}) {
			t.Fatalf("entries %q", got)
		}
		if data, err := s.GetBlob(t.Context(), keyOf([]byte("abc"))); err != nil || string(data) != "abc" {
			t.Fatalf("blob %q, %v", data, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestMigrate takes a file of schema 1 through two made-up steps.
func TestMigrate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	mustExec(t, path, versionOne)
	steps := append(slices.Clone(schema),
		step{needs: "0.8", sql: "CREATE TABLE extra (name TEXT) STRICT; INSERT INTO extra SELECT body FROM entries"},
		step{needs: "0.9", sql: "ALTER TABLE blobs ADD COLUMN added TEXT"})

	_, err := open(t.Context(), path, Read, steps)
	wantError(t, err, records.Invalid, "older version", "schema is 1")

	broken := append(slices.Clone(steps), step{needs: "1.0", sql: "CREATE TABLE more (x INTEGER); INSERT INTO nowhere VALUES (1)"})
	if _, err := open(t.Context(), path, Write, broken); err == nil {
		t.Fatal("a step that can not be taken was taken")
	}
	s := mustOpen(t, path, Read) // all or nothing: still schema 1, by the program that knows only that
	var tables int
	if err := s.reads.QueryRowContext(t.Context(), "SELECT count(*) FROM sqlite_schema WHERE name IN ('extra', 'more')").Scan(&tables); err != nil || tables != 0 {
		t.Fatalf("%d tables of steps that were rolled back: %v", tables, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	for range 2 { // the second time there is nothing to do
		s, err := open(t.Context(), path, Write, steps)
		if err != nil {
			t.Fatal(err)
		}
		if got := bodies(t, s); len(got) != 2 {
			t.Fatalf("entries %q", got)
		}
		var extra, version int
		if err := s.reads.QueryRowContext(t.Context(), "SELECT (SELECT count(*) FROM extra), (SELECT user_version FROM pragma_user_version)").Scan(&extra, &version); err != nil || extra != 2 || version != 3 {
			t.Fatalf("%d rows moved, version %d: %v", extra, version, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	_, err = Open(t.Context(), path, Read)
	wantError(t, err, records.TooNew, "grainward 0.9 or newer")
}

// TestSchemaOneAsReleased compares the tables a new file has with those written out above.
func TestSchemaOneAsReleased(t *testing.T) {
	dir := t.TempDir()
	columns := func(path string) (all []string) {
		s := mustOpen(t, path, Read)
		defer s.Close()
		rows, err := s.reads.QueryContext(t.Context(), `SELECT t.name || '.' || c.name || ' ' || c.type || ' ' || c."notnull" || ' ' || c.pk || ' ' || t.strict
			FROM pragma_table_list AS t JOIN pragma_table_info(t.name) AS c WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite%' ORDER BY 1`)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		for rows.Next() {
			var c string
			if err := rows.Scan(&c); err != nil {
				t.Fatal(err)
			}
			all = append(all, c)
		}
		return all
	}
	mustExec(t, filepath.Join(dir, "one.db"), versionOne)
	s, err := open(t.Context(), filepath.Join(dir, "new.db"), Write, schema[:1])
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if one, now := columns(filepath.Join(dir, "one.db")), columns(filepath.Join(dir, "new.db")); len(one) != 10 || !slices.Equal(one, now) {
		t.Fatalf("schema 1 was\n%q\nand is now\n%q", one, now)
	}
}
