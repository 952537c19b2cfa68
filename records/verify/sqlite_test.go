package verify_test

import (
	"database/sql"
	"path/filepath"
	"testing"

	"grainward/records"
	"grainward/records/sqlite"
	"grainward/records/verify"
)

// writeFile writes the journal into a new file, which it leaves open.
func (p *plant) writeFile(t *testing.T, path string) *sqlite.Store {
	t.Helper()
	s, err := sqlite.Open(t.Context(), path, sqlite.Write)
	if err != nil {
		t.Fatal(err)
	}
	for _, data := range p.blobs {
		if _, err := s.PutBlob(t.Context(), data); err != nil {
			t.Fatal(err)
		}
	}
	from := records.Position(0)
	for _, h := range p.heads {
		if err := s.Append(t.Context(), records.Batch{After: from, Rows: p.rows[from:h.size], Checkpoint: h.signed}); err != nil {
			t.Fatal(err)
		}
		from = h.size
	}
	return s
}

// TestTamperedFile changes a data file behind the store's back, with SQL.
func TestTamperedFile(t *testing.T) {
	for _, c := range []struct {
		name, sql string
		first     records.Position
		kind      verify.FaultKind
	}{
		{"untouched", "SELECT 1", 0, ""},
		{"a row deleted", "DELETE FROM entries WHERE position = 1", 1, verify.Missing},
		{"the first row deleted", "DELETE FROM entries WHERE position = 0", 0, verify.Missing},
		{"the last row deleted", "DELETE FROM entries WHERE position = 5", 4, verify.Removed},
		{"all rows deleted", "DELETE FROM entries", 0, verify.Removed},
		{"a row moved far away", "UPDATE entries SET position = 100000000000 WHERE position = 3", 3, verify.Missing},
		{"a word changed", "UPDATE entries SET body = replace(body, 'bent', 'fine') WHERE position = 2", 2, verify.Altered},
		{"a leaf cut short", "UPDATE entries SET leaf = substr(leaf, 1, 31) WHERE position = 2", 2, verify.Missing},
		{"a checkpoint deleted", "DELETE FROM checkpoints WHERE size = 6", 4, verify.Unsigned},
		{"a document altered", "UPDATE blobs SET bytes = x'00'", 5, verify.File},
		{"a document deleted", "DELETE FROM blobs", 5, verify.File},
		{"a document listed with another size", "UPDATE blobs SET size = 1", 5, verify.File},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := small(t)
			path := filepath.Join(t.TempDir(), "journal.db")
			s := p.writeFile(t, path)
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := db.ExecContext(t.Context(), c.sql); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}

			s, err = sqlite.Open(t.Context(), path, sqlite.Read)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			r, err := verify.Journal(t.Context(), s, verify.Options{Verifier: p.verifier, Origin: origin})
			if err != nil {
				t.Fatal(err)
			}
			f := r.First()
			switch {
			case c.kind == "" && f != nil:
				t.Fatalf("found %+v", r.Faults)
			case c.kind != "" && (f == nil || f.Position != c.first || f.Kind != c.kind):
				t.Fatalf("want %s at %d, got %+v", c.kind, c.first, r.Faults)
			}
		})
	}
}
