package verify_test

import (
	"bytes"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/faulttest"
	"grainward/records/sqlite"
	"grainward/records/verify"
)

// fileOf is a closed journal file with the small journal in it, and what is to be read from it.
func fileOf(t *testing.T, p *plant) (file []byte, content string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "journal.db")
	s := p.writeFile(t, path)
	var err error
	if content, err = evidence(t, s); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if file, err = os.ReadFile(path); err != nil {
		t.Fatal(err)
	}
	return file, content
}

// evidence is everything a store holds that shows something, as text.
func evidence(t *testing.T, s records.Store) (string, error) {
	var b strings.Builder
	err := s.Read(t.Context(), 0, func(at records.Position, r records.Row) error {
		fmt.Fprintf(&b, "%d %s %v\n", at, r.Bytes, r.Leaf)
		return nil
	})
	if err == nil {
		err = s.Checkpoints(t.Context(), func(size records.Position, note []byte) error { fmt.Fprintf(&b, "%d %s\n", size, note); return nil })
	}
	if err == nil {
		err = s.EachBlob(t.Context(), func(key string, size int64) error {
			data, err := s.GetBlob(t.Context(), key)
			fmt.Fprintf(&b, "%s %d %x\n", key, size, data)
			return err
		})
	}
	return b.String(), err
}

// outcome of a damaged file.
const (
	refused  = "refused by the store"
	named    = "named by verify"
	harmless = "read exactly as before"
)

// look opens a damaged file and verifies it. It fails the test when something else than what was written is taken for good.
func look(t *testing.T, path string, p *plant, content, what string) string {
	t.Helper()
	s, err := sqlite.Open(t.Context(), path, sqlite.Read)
	if err != nil {
		if records.KindOf(err) == records.Internal {
			t.Errorf("%s: an error without a kind: %v", what, err)
		}
		return refused
	}
	defer s.Close()
	r, err := verify.Journal(t.Context(), s, verify.Options{Verifier: p.verifier, Origin: origin})
	if err != nil {
		if records.KindOf(err) == records.Internal {
			t.Errorf("%s: an error without a kind: %v", what, err)
		}
		return refused
	}
	if !r.OK() {
		return named
	}
	if got, err := evidence(t, s); err != nil || got != content {
		t.Errorf("%s: verified, and it is not what was written: %v\n%s", what, err, got)
	}
	return harmless
}

// TestFlippedFile flips bits of the file itself, wherever they lie: in pages, in what SQLite keeps about them, in room that is not
// used. Each is refused, named, or makes no difference to anything that is read.
func TestFlippedFile(t *testing.T) {
	p := small(t)
	file, content := fileOf(t, p)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	var bits []int
	if faulttest.Campaign(t) { // a bit of every byte that is not zero among zeroes, and every bit of the first page
		for i := range file {
			if i < 4096 {
				for b := range 8 {
					bits = append(bits, 8*i+b)
				}
			} else if near := file[max(0, i-4):min(len(file), i+5)]; len(bytes.Trim(near, "\x00")) > 0 {
				bits = append(bits, 8*i+r.IntN(8))
			}
		}
	} else {
		for len(bits) < faulttest.Times(t, 600) {
			bit := r.IntN(8 * len(file))
			if file[bit/8] != 0 || r.IntN(10) == 0 { // most of a small file is unused
				bits = append(bits, bit)
			}
		}
	}
	path := filepath.Join(t.TempDir(), "flipped.db")
	became := map[string]int{}
	for _, bit := range bits {
		file[bit/8] ^= 1 << (bit % 8)
		if err := os.WriteFile(path, file, 0o644); err != nil {
			t.Fatal(err)
		}
		became[look(t, path, p, content, fmt.Sprintf("bit %d of byte %d", bit%8, bit/8))]++
		file[bit/8] ^= 1 << (bit % 8)
		for _, beside := range []string{"-wal", "-shm"} {
			_ = os.Remove(path + beside)
		}
	}
	faulttest.Count(t, len(bits), fmt.Sprintf("bits flipped in a journal's file of %d bytes", len(file)), fmt.Sprint(became))
	if became[named] == 0 || became[refused] == 0 {
		t.Error("nothing of what was to be seen was seen")
	}
}

// TestFlippedColumns flips bits of what the columns hold, through SQL: every column that holds evidence, every byte of a small
// journal. Nothing there is unused, so every flip is refused or named.
func TestFlippedColumns(t *testing.T) {
	p := small(t)
	file, content := fileOf(t, p)
	path, whole := filepath.Join(t.TempDir(), "flipped.db"), filepath.Join(t.TempDir(), "whole.db")
	if err := os.WriteFile(whole, file, 0o644); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", whole)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	step := 1
	if !faulttest.Campaign(t) {
		step = 11
	}
	n, became := 0, map[string]int{}
	for _, c := range []struct{ table, column, kind string }{
		{"entries", "body", "TEXT"}, {"entries", "leaf", "BLOB"}, {"entries", "position", ""},
		{"checkpoints", "note", "TEXT"}, {"checkpoints", "size", ""},
		{"blobs", "sha256", "TEXT"}, {"blobs", "bytes", "BLOB"}, {"blobs", "size", ""},
	} {
		rows, err := db.Query(fmt.Sprintf("SELECT rowid, CAST(%s AS BLOB) FROM %s", c.column, c.table))
		if err != nil {
			t.Fatal(err)
		}
		was := map[int64][]byte{}
		for rows.Next() {
			var id int64
			var b []byte
			if err := rows.Scan(&id, &b); err != nil {
				t.Fatal(err)
			}
			was[id] = b
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
		for id, b := range was {
			if c.kind == "" { // a number: each of its bits, as far as SQLite takes it
				for bit := range 62 {
					if step > 1 && bit > 6 && !(bit == 40 && id == 3) { // a position far away costs many looks
						continue
					}
					n++
					set := fmt.Sprintf("UPDATE OR REPLACE %[1]s SET %[2]s = (%[2]s | %[3]d) - (%[2]s & %[3]d) WHERE rowid = %[4]d", c.table, c.column, int64(1)<<bit, id)
					became[trial(t, path, file, set, nil, p, content)]++
				}
				continue
			}
			for at := r.IntN(step); at < len(b); at += step {
				flipped := bytes.Clone(b)
				flipped[at] ^= 1 << r.IntN(8)
				n++
				became[trial(t, path, file, fmt.Sprintf("UPDATE OR REPLACE %s SET %s = CAST(? AS %s) WHERE rowid = %d", c.table, c.column, c.kind, id), []any{flipped}, p, content)]++
			}
		}
	}
	faulttest.Count(t, n, "bits flipped in the columns of a small journal", fmt.Sprint(became))
	if became[harmless] > 0 {
		t.Errorf("%d flips made no difference", became[harmless])
	}
}

// trial writes the file, changes it with one statement, and looks.
func trial(t *testing.T, path string, file []byte, statement string, args []any, p *plant, content string) string {
	t.Helper()
	if err := os.WriteFile(path, file, 0o644); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	res, err := db.Exec(statement, args...)
	if err != nil {
		t.Fatal(statement, err)
	}
	if n, err := res.RowsAffected(); err != nil || n != 1 {
		t.Fatalf("%s changed %d rows: %v", statement, n, err)
	}
	if err := db.Close(); err != nil { // which folds its log in
		t.Fatal(err)
	}
	return look(t, path, p, content, fmt.Sprintf("%s %q", statement, args))
}
