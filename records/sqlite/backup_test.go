package sqlite

import (
	"bytes"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"grainward/records"
)

func TestBackup(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	if err := s.Append(t.Context(), records.Batch{After: records.Position(end), Rows: partBatch(end, 1).Rows, Checkpoint: []byte("head")}); err != nil {
		t.Fatal(err)
	}
	end++
	key, err := s.PutBlob(t.Context(), []byte("a photo"))
	if err != nil {
		t.Fatal(err)
	}
	r := mustOpen(t, path, Read)
	defer r.Close()
	for name, from := range map[string]*Store{"from the writer": s, "from a reader": r} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			to := filepath.Join(dir, "it's a backup; --.db")
			if err := from.Backup(t.Context(), to); err != nil {
				t.Fatal(err)
			}
			if names := list(t, dir); len(names) != 1 {
				t.Fatalf("files %q were left", names)
			}
			copied := mustRead(t, to)
			wantError(t, from.Backup(t.Context(), to), records.Conflict, to)
			if !bytes.Equal(copied, mustRead(t, to)) {
				t.Fatal("the refused backup changed the file")
			}
			for _, mode := range []Mode{Read, Write} {
				b := mustOpen(t, to, mode)
				if got, err := checkParts(t.Context(), b, 0); got != end || err != nil {
					t.Fatalf("%d entries of %d: %v", got, end, err)
				}
				var heads []records.Position
				if err := b.Checkpoints(t.Context(), func(n records.Position, _ []byte) error { heads = append(heads, n); return nil }); err != nil || len(heads) != 1 || heads[0] != records.Position(end) {
					t.Fatalf("tree heads at %v: %v", heads, err)
				}
				if data, err := b.GetBlob(t.Context(), key); err != nil || string(data) != "a photo" {
					t.Fatalf("the photo is %q: %v", data, err)
				}
				wantIntegrity(t, b)
				if err := b.Close(); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
	t.Run("where it can not be", func(t *testing.T) {
		wantError(t, s.Backup(t.Context(), filepath.Join(t.TempDir(), "no", "backup.db")), records.NotFound)
		wantError(t, s.Backup(t.Context(), path), records.Conflict)
		wantError(t, s.Backup(t.Context(), t.TempDir()), records.Conflict)
	})
	t.Run("of a damaged file leaves nothing", func(t *testing.T) {
		broken := filepath.Join(t.TempDir(), "broken.db")
		if err := s.Backup(t.Context(), broken); err != nil {
			t.Fatal(err)
		}
		file := mustRead(t, broken)
		for i := 4096 * 7; i < len(file); i++ {
			file[i] = 0xee
		}
		mustWrite(t, broken, file)
		b := mustOpen(t, broken, Read)
		defer b.Close()
		dir := t.TempDir()
		wantError(t, b.Backup(t.Context(), filepath.Join(dir, "backup.db")), records.Corrupt)
		if names := list(t, dir); len(names) != 0 {
			t.Fatalf("files %q were left", names)
		}
	})
}

// TestBackupWhileAppending: the copy is the journal of one moment, whole batches, and appending goes on meanwhile.
func TestBackupWhileAppending(t *testing.T) {
	s := mustOpen(t, filepath.Join(t.TempDir(), "plant.db"), Write)
	defer s.Close()
	end := 0
	turns := make(chan struct{})
	var appending sync.WaitGroup
	appending.Go(func() {
		for {
			b := partBatch(end, 1+end%7)
			if err := s.Append(t.Context(), b); err != nil {
				t.Errorf("appending: %v", err)
			}
			end += len(b.Rows)
			select {
			case <-turns:
				return
			default:
			}
		}
	})
	last := 0
	dir := t.TempDir()
	for _, name := range []string{"1.db", "2.db", "3.db", "4.db", "5.db"} {
		if err := s.Backup(t.Context(), filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
		b := mustOpen(t, filepath.Join(dir, name), Read)
		got, err := checkParts(t.Context(), b, 0)
		if err != nil || got < last {
			t.Fatalf("%d entries after %d: %v", got, last, err)
		}
		last = got
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
	}
	close(turns)
	appending.Wait()
	if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
		t.Fatalf("%d entries of %d: %v", got, end, err)
	}
}

func list(t *testing.T, dir string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}
