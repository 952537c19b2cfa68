package sqlite

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"grainward/records"
)

// TestFull lets the file grow no further, which SQLite answers as it does a full disk (SQLITE_FULL).
func TestFull(t *testing.T) {
	s := mustOpen(t, filepath.Join(t.TempDir(), "plant.db"), Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	pages := func(most int) {
		t.Helper()
		if _, err := s.writes.conn.ExecContext(t.Context(), fmt.Sprintf("PRAGMA max_page_count = %d", most)); err != nil {
			t.Fatal(err)
		}
	}
	pages(1) // which SQLite takes to mean: no more than there are
	err := s.Append(t.Context(), records.Batch{After: records.Position(end), Rows: benchRows(0, 500), Checkpoint: []byte("head")})
	wantError(t, err, records.Full, "nothing of it was saved", s.path)
	_, err = s.PutBlob(t.Context(), make([]byte, 1<<20))
	wantError(t, err, records.Full)
	if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
		t.Fatalf("after refusals %d entries of %d: %v", got, end, err)
	}
	err = s.Checkpoints(t.Context(), func(records.Position, []byte) error { return fmt.Errorf("a tree head was left behind") })
	if err != nil {
		t.Fatal(err)
	}
	pages(1 << 20)
	end = fillParts(t, s, end)
	if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
		t.Fatalf("with room again %d entries of %d: %v", got, end, err)
	}
	wantIntegrity(t, s)
}

// TestLockedByAnother: some other program, without our lock, is in the midst of writing.
func TestLockedByAnother(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	if _, err := s.writes.conn.ExecContext(t.Context(), "PRAGMA busy_timeout = 0"); err != nil {
		t.Fatal(err)
	}
	other := openDB(path, "rw", "")
	defer other.Close()
	conn, err := other.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := conn.ExecContext(t.Context(), "BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	wantError(t, s.Append(t.Context(), partBatch(0, 1)), records.Busy, path)
	if _, err := conn.ExecContext(t.Context(), "ROLLBACK"); err != nil {
		t.Fatal(err)
	}
	fillParts(t, s, 0)
}

// TestReadOnlyFile: SQLite itself refuses to write (SQLITE_READONLY).
func TestReadOnlyFile(t *testing.T) {
	s := mustOpen(t, filepath.Join(t.TempDir(), "plant.db"), Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	if _, err := s.writes.conn.ExecContext(t.Context(), "PRAGMA query_only = 1"); err != nil {
		t.Fatal(err)
	}
	wantError(t, s.Append(t.Context(), partBatch(end, 1)), records.ReadOnly, s.path)
}

// TestDamage: what is not as Append left it is kind Corrupt, never a shorter journal.
func TestDamage(t *testing.T) {
	fill := func(t *testing.T) string {
		path := filepath.Join(t.TempDir(), "plant.db")
		s := mustOpen(t, path, Write)
		for at := 0; at < 200; {
			at = fillParts(t, s, at)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for query, words := range map[string]string{
		"DELETE FROM entries WHERE position = 7":                   "position 7 is missing",
		"DELETE FROM entries WHERE position = 0":                   "position 0 is missing",
		"DELETE FROM entries WHERE position BETWEEN 190 AND 194":   "position 190 is missing",
		"UPDATE entries SET position = 100000 WHERE position = 33": "position 33 is missing",
		"UPDATE entries SET leaf = x'00' WHERE position = 3":       "leaf hash at position 3",
	} {
		t.Run(query, func(t *testing.T) {
			path := fill(t)
			mustExec(t, path, query)
			s := mustOpen(t, path, Read)
			defer s.Close()
			_, err := checkParts(t.Context(), s, 0)
			wantError(t, err, records.Corrupt, words, "grainward verify")
		})
	}
	t.Run("pages overwritten", func(t *testing.T) {
		path := fill(t)
		file := mustRead(t, path)
		r := rand.New(rand.NewPCG(1, 1))
		for i := 4096 * 8; i < len(file); i++ { // past the schema and the roots of the tables
			file[i] = byte(r.Uint32())
		}
		mustWrite(t, path, file)
		s := mustOpen(t, path, Read)
		defer s.Close()
		_, err := checkParts(t.Context(), s, 0)
		wantError(t, err, records.Corrupt, path, "grainward verify")
	})
	t.Run("cut short", func(t *testing.T) {
		path := fill(t)
		if err := os.Truncate(path, 4096*9); err != nil {
			t.Fatal(err)
		}
		_, err := Open(t.Context(), path, Read)
		if err == nil {
			s := mustOpen(t, path, Read)
			defer s.Close()
			_, err = checkParts(t.Context(), s, 0)
		}
		wantError(t, err, records.Corrupt, path)
	})
}

// TestResume: what is behind a gap can be found without trying every position of it.
func TestResume(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	for at := 0; at < 200; {
		at = fillParts(t, s, at)
	}
	end, err := s.Head(t.Context())
	if err := errors.Join(err, s.Close()); err != nil {
		t.Fatal(err)
	}
	mustExec(t, path, "DELETE FROM entries WHERE position BETWEEN 5 AND 150 OR position = 170 OR position >= 190")
	s = mustOpen(t, path, Read)
	defer s.Close()
	for from := records.Position(-1); from <= end; from++ {
		want := max(from, 0)
		for want < end && (want >= 5 && want <= 150 || want == 170 || want >= 190) {
			want++
		}
		at, there, err := s.Resume(t.Context(), from)
		if err != nil || there != (want < end) || there && at != want {
			t.Errorf("from %d it goes on at %d, %v, %v; want %d of %d", from, at, there, err, want, end)
		}
	}
}

// TestSettings: no test can cut the power, so this looks at what stands against it.
func TestSettings(t *testing.T) {
	s := mustOpen(t, filepath.Join(t.TempDir(), "plant.db"), Write)
	defer s.Close()
	for pragma, want := range map[string]string{"synchronous": "2", "journal_mode": "wal", "busy_timeout": "5000"} { // 2 is FULL
		var got string
		if err := s.writes.conn.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %q, want %q (%v)", pragma, got, want, err)
		}
	}
	if _, err := s.reads.ExecContext(t.Context(), "DELETE FROM entries"); err == nil {
		t.Error("a reading connection can write")
	}
}
