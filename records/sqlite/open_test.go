package sqlite

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"grainward/records"
)

func TestPaths(t *testing.T) {
	for _, name := range []string{"plant.db", "a name with spaces.db", "100% grain?#1&mode=ro.db", "file:x.db", "Mälzerei+Söhne.db", "x;PRAGMA y.db"} {
		path := filepath.Join(t.TempDir(), name)
		s := mustOpen(t, path, Write)
		end := fillParts(t, s, 0)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		s = mustOpen(t, path, Read)
		if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
			t.Fatalf("%s: %d, %v", name, got, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		entries, err := os.ReadDir(filepath.Dir(path))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != name && e.Name() != name+".lock" && e.Name() != name+"-wal" && e.Name() != name+"-shm" {
				t.Errorf("%s: a file %q was left", name, e.Name())
			}
		}
	}
}

func TestRelativePath(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := mustOpen(t, "plant.db", Write).Close(); err != nil {
		t.Fatal(err)
	}
	if err := mustOpen(t, "./plant.db", Read).Close(); err != nil {
		t.Fatal(err)
	}
}

func TestNothingToOpen(t *testing.T) {
	dir := t.TempDir()
	absent := filepath.Join(dir, "plant.db")
	_, err := Open(t.Context(), absent, Read)
	wantError(t, err, records.NotFound, absent, "grainward init")
	if _, err := os.Stat(absent); err == nil {
		t.Fatal("reading made the file")
	}
	empty := filepath.Join(dir, "empty.db")
	mustWrite(t, empty, nil)
	_, err = Open(t.Context(), empty, Read)
	wantError(t, err, records.NotFound, empty, "grainward init")
	for _, mode := range []Mode{Read, Write} {
		_, err = Open(t.Context(), filepath.Join(dir, "no", "such", "plant.db"), mode)
		wantError(t, err, records.NotFound)
		_, err = Open(t.Context(), dir, mode)
		wantError(t, err, records.Invalid, "folder")
	}
	// A creation that was cut short leaves an empty file, which the next one takes.
	s := mustOpen(t, empty, Write)
	fillParts(t, s, 0)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestNotOurs: a file we can not use is refused and left byte for byte as it was.
func TestNotOurs(t *testing.T) {
	dir := t.TempDir()
	foreign := filepath.Join(dir, "foreign.db")
	mustExec(t, foreign, "CREATE TABLE entries (position INTEGER PRIMARY KEY, body TEXT, leaf BLOB)")
	otherID := filepath.Join(dir, "other-id.db")
	mustExec(t, otherID, "PRAGMA application_id = 7; PRAGMA user_version = 1")
	text := filepath.Join(dir, "text.db")
	mustWrite(t, text, bytes.Repeat([]byte("these are not the bytes of a database\n"), 400))
	newer := filepath.Join(dir, "newer.db")
	makeNewer(t, newer, "INSERT INTO about VALUES ('needs', '7.3') ON CONFLICT DO UPDATE SET value = '7.3'")
	silent := filepath.Join(dir, "silent.db")
	makeNewer(t, silent, "DROP TABLE about")

	for _, c := range []struct {
		path  string
		kind  records.ErrorKind
		words []string
	}{
		{foreign, records.Invalid, []string{"not a Grainward journal"}},
		{otherID, records.Invalid, []string{"not a Grainward journal"}},
		{text, records.Corrupt, []string{"grainward verify"}},
		{newer, records.TooNew, []string{"grainward 7.3 or newer", "schema is 99"}},
		{silent, records.TooNew, []string{"newer version"}},
	} {
		before := mustRead(t, c.path)
		for _, mode := range []Mode{Read, Write} {
			_, err := Open(t.Context(), c.path, mode)
			wantError(t, err, c.kind, append(c.words, c.path)...)
		}
		if !bytes.Equal(before, mustRead(t, c.path)) {
			t.Errorf("%s was changed", c.path)
		}
	}
}

func makeNewer(t *testing.T, path, change string) {
	t.Helper()
	if err := mustOpen(t, path, Write).Close(); err != nil {
		t.Fatal(err)
	}
	mustExec(t, path, change+"; PRAGMA user_version = 99; PRAGMA journal_mode = DELETE")
}

func TestCanceled(t *testing.T) {
	s := mustOpen(t, filepath.Join(t.TempDir(), "plant.db"), Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.Append(ctx, partBatch(end, 1)); !errors.Is(err, context.Canceled) {
		t.Fatalf("appending: %v", err)
	}
	if err := s.Read(ctx, 0, func(records.Position, records.Row) error { return nil }); !errors.Is(err, context.Canceled) {
		t.Fatalf("reading: %v", err)
	}
	if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
		t.Fatalf("%d, %v", got, err)
	}
}
