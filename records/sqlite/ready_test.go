package sqlite

import (
	"os"
	"path/filepath"
	"testing"

	"grainward/records"
)

// What stands against writing is told before anybody signs anything: the file gone or another, a folder or file that may not be
// written, somebody else's lock; and when it is put right, that is told too.
func TestReady(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	fillParts(t, s, 0)
	ready := func(when string) {
		t.Helper()
		if err := s.Ready(t.Context()); err != nil {
			t.Errorf("%s: %v", when, err)
		}
	}
	ready("at first")

	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	wantError(t, s.Ready(t.Context()), records.NotFound)
	mustWrite(t, path, mustRead(t, path+".away"))
	wantError(t, s.Ready(t.Context()), records.NotFound, "not the journal that was opened")
	if err := os.Rename(path+".away", path); err != nil {
		t.Fatal(err)
	}
	ready("put back")

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
	for _, query := range []string{"BEGIN IMMEDIATE", "ROLLBACK"} {
		if _, err := conn.ExecContext(t.Context(), query); err != nil {
			t.Fatal(err)
		}
		if query != "ROLLBACK" {
			wantError(t, s.Ready(t.Context()), records.Busy)
		}
	}
	ready("the lock given back")

	if os.Geteuid() != 0 { // root may write everywhere
		for _, place := range []struct {
			path         string
			shut, opened os.FileMode
		}{{dir, 0o500, 0o700}, {path, 0o400, 0o600}} {
			if err := os.Chmod(place.path, place.shut); err != nil {
				t.Fatal(err)
			}
			wantError(t, s.Ready(t.Context()), records.ReadOnly)
			if err := os.Chmod(place.path, place.opened); err != nil {
				t.Fatal(err)
			}
		}
		ready("with the rights given back")
	}
}

// TestReadyFull is on a small disk of its own, where one can be had.
func TestReadyFull(t *testing.T) {
	dir := memoryDisk(t, 2*leastFree)
	s := mustOpen(t, filepath.Join(dir, "plant.db"), Write)
	defer s.Close()
	fillParts(t, s, 0)
	if err := s.Ready(t.Context()); err != nil {
		t.Fatalf("with room: %v", err)
	}
	ballast := filepath.Join(dir, "ballast")
	mustWrite(t, ballast, make([]byte, leastFree+leastFree/2))
	wantError(t, s.Ready(t.Context()), records.Full, "MiB are left", s.path)
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	if err := s.Ready(t.Context()); err != nil {
		t.Errorf("with room again: %v", err)
	}
}
