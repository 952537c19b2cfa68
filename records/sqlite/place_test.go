package sqlite

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"syscall"
	"testing"

	"grainward/records"
	"grainward/records/faulttest"
)

// TestReplaced takes the file, or one beside it, away from under a writer. Whatever it then acknowledged would be in
// a file that nobody opens again, so it acknowledges nothing, and says why; put back, it goes on.
func TestReplaced(t *testing.T) {
	for _, beside := range []string{"", "-wal", "-shm"} {
		for _, how := range []string{"moved", "removed", "replaced by a copy", "replaced by a backup"} {
			t.Run(how+" journal"+beside, func(t *testing.T) {
				dir := t.TempDir()
				path := filepath.Join(dir, "plant.db")
				s := mustOpen(t, path, Write)
				defer s.Close()
				end := fillParts(t, s, 0)
				kept := filepath.Join(t.TempDir(), "kept")
				if err := os.Link(path+beside, kept); err != nil { // so that it can be put back, the very file
					t.Fatal(err)
				}
				other := filepath.Join(dir, "other")
				if how == "replaced by a backup" {
					if err := s.Backup(t.Context(), other); err != nil {
						t.Fatal(err)
					}
				} else {
					mustWrite(t, other, mustRead(t, path+beside))
				}
				var err error
				switch how {
				case "moved":
					err = os.Rename(path+beside, filepath.Join(dir, "elsewhere"))
				case "removed":
					err = os.Remove(path + beside)
				default:
					err = os.Rename(other, path+beside)
				}
				if err != nil {
					t.Fatal(err)
				}
				wantError(t, s.Append(t.Context(), partBatch(end, 2)), records.Unavailable, "moved, removed or replaced", path+beside, "nothing is acknowledged")
				_, err = s.PutBlob(t.Context(), []byte("a photo"))
				wantError(t, err, records.Unavailable)
				_, err = s.Head(t.Context())
				wantError(t, err, records.Unavailable)
				if err := os.Rename(kept, path+beside); err != nil {
					t.Fatal(err)
				}
				end = fillParts(t, s, end)
				if got, err := checkParts(t.Context(), s, 0); err != nil || got != end {
					t.Fatalf("put back: %d entries of %d: %v", got, end, err)
				}
			})
		}
	}
}

// Taken away between the look before a commit and the one after it: the commit happened, into a file that is gone, and is not
// acknowledged.
func TestReplacedWithinACommit(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	err := s.write(t.Context(), "appending", func(ctx context.Context, w *writer) error {
		if err := os.Rename(path, path+".gone"); err != nil {
			return err
		}
		return w.append(ctx, partBatch(end, 1))
	})
	wantError(t, err, records.Unavailable, "moved, removed or replaced")
}

// TestIndexGone: the log's index is made anew from the log.
func TestIndexGone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	copied := filepath.Join(t.TempDir(), "copy.db") // as a crash leaves it, but for the index
	mustWrite(t, copied, mustRead(t, path))
	mustWrite(t, copied+"-wal", mustRead(t, path+"-wal"))
	for _, shm := range []string{"gone", "noise", "of another file"} {
		switch shm {
		case "noise":
			mustWrite(t, copied+"-shm", []byte("nothing that an index could be, of no particular length"))
		case "of another file":
			mustWrite(t, copied+"-shm", mustRead(t, path+"-shm"))
		}
		for _, mode := range []Mode{Read, Write} {
			c := mustOpen(t, copied, mode)
			if got, err := checkParts(t.Context(), c, 0); err != nil || got != end {
				t.Fatalf("index %s: %d entries of %d: %v", shm, got, end, err)
			}
			if mode == Write {
				end = fillParts(t, c, end)
			}
			if err := c.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// smallDisk makes a directory a disk of its own; ok is false where this process may
// not mount one.
func smallDisk(t *testing.T, size string) (dir string, ok bool) {
	t.Helper()
	dir = t.TempDir()
	if syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size) != nil {
		return dir, false
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir, true
}

// TestFullDisk fills a real disk, at a different place in the writing each time: what does not fit is refused whole and said to
// be, what was acknowledged is read all the while, and with room again it goes on.
func TestFullDisk(t *testing.T) {
	dir, ok := smallDisk(t, "16m")
	if !ok {
		t.Skip("this process may not mount a disk; TestNoRoom does what it can without")
	}
	path := filepath.Join(dir, "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	end := fillParts(t, s, 0)
	times, refused := faulttest.Times(t, 30), 0
	filler := filepath.Join(dir, "filler")
	for round := range times {
		fill(t, filler, round*577%9000) // leaves a little room, differently much each time
		for i := range 40 {
			b := partBatch(end, 1+(round+i)%9)
			err := s.Append(t.Context(), b)
			if err == nil {
				end += len(b.Rows)
				continue
			}
			wantError(t, err, records.Full, "nothing of it was saved", "free some space", path)
			refused++
			break
		}
		if _, err := s.PutBlob(t.Context(), make([]byte, 1<<20)); err == nil {
			t.Fatal("a photo larger than the room was taken")
		} else {
			wantError(t, err, records.Full)
		}
		if err := s.Backup(t.Context(), filepath.Join(dir, "backup.db")); err == nil {
			t.Fatal("a backup larger than the room was made")
		} else {
			wantError(t, err, records.Full, "backup.db")
		}
		if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
			t.Fatalf("on a full disk %d entries of %d: %v", got, end, err)
		}
		if err := os.Remove(filler); err != nil {
			t.Fatal(err)
		}
		if end > 900 { // the journal itself must not fill it
			break
		}
		end = fillParts(t, s, end)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = mustOpen(t, path, Write)
	defer s.Close()
	if got, err := checkParts(t.Context(), s, 0); got != end || err != nil {
		t.Fatalf("with room again %d entries of %d: %v", got, end, err)
	}
	fillParts(t, s, end)
	wantIntegrity(t, s)
	names := list(t, dir)
	if len(names) != 4 { // plant.db and what is beside it
		t.Errorf("left on the disk: %q", names)
	}
	faulttest.Count(t, refused, "appends refused by a full disk, a photo and a backup with each", fmt.Sprintf("%d entries acknowledged, all read while it was full and after", end))
	if refused < 5 {
		t.Errorf("only %d refusals: little was shown", refused)
	}
}

// fill writes a file until the disk is full, then takes leave bytes of it back.
func fill(t *testing.T, path string, leave int) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	block, n := make([]byte, 4096), int64(0)
	for {
		got, err := f.Write(block)
		n += int64(got)
		if errors.Is(err, syscall.ENOSPC) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := f.Truncate(max(0, n-int64(leave))); err != nil {
		t.Fatal(err)
	}
}

// playLimited appends until its files may grow no further (RLIMIT_FSIZE), writes what it was told, and then waits.
func playLimited(ctx context.Context, args []string, in *bufio.Reader) error {
	s, err := Open(ctx, args[0], Write)
	if err != nil {
		return err
	}
	signal.Ignore(syscall.SIGXFSZ) // or the first write beyond it ends the process
	var usual syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &usual); err != nil {
		return err
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 300 << 10, Max: usual.Max}); err != nil {
		return err
	}
	end := 0
	for {
		b := partBatch(end, 1+end%9)
		if err = s.Append(ctx, b); err != nil {
			break
		}
		end += len(b.Rows)
	}
	fmt.Printf("kind %d\n", records.KindOf(err))
	got, err := checkParts(ctx, s, 0)
	if err != nil || got != end {
		return fmt.Errorf("%d entries of %d: %w", got, end, err)
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &usual); err != nil {
		return err
	}
	if err := s.Append(ctx, partBatch(end, 5)); err != nil {
		return err
	}
	fmt.Println(end + 5)
	_, err = io.Copy(io.Discard, in)
	return errors.Join(err, s.Close())
}

// TestNoRoom needs no right to mount: the system lets the writer's files grow no further, as a quota does.
func TestNoRoom(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	c := start(t, exec.Command(os.Args[0], path), "limited")
	if got, want := c.line(t), fmt.Sprintf("kind %d", records.Unavailable); got != want { // SQLite calls EFBIG an I/O error and not a full disk
		t.Errorf("%s, want %s", got, want)
	}
	end := number(t, c.line(t))
	_ = c.cmd.Process.Kill()
	_ = c.cmd.Wait()
	s := mustOpen(t, path, Write)
	defer s.Close()
	if got, err := checkParts(t.Context(), s, 0); err != nil || got != end {
		t.Fatalf("%d entries of %d: %v", got, end, err)
	}
	wantIntegrity(t, s)
}
