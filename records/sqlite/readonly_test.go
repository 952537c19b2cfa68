package sqlite

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"grainward/records"
)

// The tests here are about places that can not be written. A superuser writes everywhere, so the other process then
// runs as nobody (65534), and every folder on the way has to let nobody pass.

// openFolder makes a folder that everybody may enter and list.
func openFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "grainward-sqlite-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := errors.Join(os.Chmod(dir, 0o755), os.RemoveAll(dir)); err != nil {
			t.Error(err)
		}
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// asNobody is this test binary, copied to where nobody may run it.
func asNobody(t *testing.T, args ...string) *exec.Cmd {
	t.Helper()
	self := filepath.Join(openFolder(t), "self.test")
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	mustWrite(t, self, mustRead(t, exe))
	if err := os.Chmod(self, 0o755); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, args...)
	cmd.Dir = filepath.Dir(self)
	if os.Geteuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534, NoSetGroups: true}}
	}
	return cmd
}

func shut(t *testing.T, dir string) {
	t.Helper()
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
}

func fillParts(t *testing.T, s *Store, from int) int {
	t.Helper()
	for i := range 5 {
		b := partBatch(from, 3+i)
		if err := s.Append(t.Context(), b); err != nil {
			t.Fatal(err)
		}
		from += len(b.Rows)
	}
	return from
}

// playReader opens for reading and writes how many entries there are, once now and once more for each line it gets.
func playReader(ctx context.Context, args []string, in *bufio.Reader) error {
	s, err := Open(ctx, args[0], Read)
	if err != nil {
		return err
	}
	for {
		end, err := checkParts(ctx, s, 0)
		if err != nil {
			return errors.Join(err, s.Close())
		}
		fmt.Println(end)
		if _, err := in.ReadString('\n'); err != nil {
			return s.Close()
		}
	}
}

// playFrozenReader is playReader with a backup to args[1], and insists that the file is read as one that stays.
func playFrozenReader(ctx context.Context, args []string, in *bufio.Reader) error {
	s, err := Open(ctx, args[0], Read)
	if err != nil {
		return err
	}
	defer s.Close()
	if s.frozen == nil {
		return errors.New("the file is read with locks: the folder can be written after all")
	}
	if err := s.Backup(ctx, args[1]); err != nil {
		return err
	}
	end, err := checkParts(ctx, s, 0)
	if err != nil {
		return err
	}
	fmt.Println(end)
	if _, err := in.ReadString('\n'); err != nil {
		return err
	}
	_, err = s.Head(ctx)
	return err
}

// playWriter tries to open for writing, or to back up to args[1].
func playWriter(ctx context.Context, args []string, _ *bufio.Reader) error {
	if len(args) == 1 {
		_, err := Open(ctx, args[0], Write)
		return err
	}
	s, err := Open(ctx, args[0], Read)
	if err != nil {
		return err
	}
	return errors.Join(s.Backup(ctx, args[1]), s.Close())
}

func (c *child) wantFailure(t *testing.T, kind records.ErrorKind) {
	t.Helper()
	if err := c.in.Close(); err != nil {
		t.Fatal(err)
	}
	if err := c.cmd.Wait(); err == nil {
		t.Fatalf("the other process did not fail, want kind %d", kind)
	}
	var got records.ErrorKind
	if _, err := fmt.Sscanf(c.errors.String(), "kind %d:", &got); err != nil || got != kind {
		t.Fatalf("the other process failed with %q, want kind %d", c.errors, kind)
	}
	t.Logf("%s", c.errors)
}

func TestReadOnlyFolder(t *testing.T) {
	dir := openFolder(t)
	path := filepath.Join(dir, "plant.db")
	s := mustOpen(t, path, Write)
	end := fillParts(t, s, 0)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	shut(t, dir)

	t.Run("a writer is told", func(t *testing.T) {
		start(t, asNobody(t, path), "writer").wantFailure(t, records.ReadOnly)
	})
	t.Run("a new file is refused", func(t *testing.T) {
		start(t, asNobody(t, filepath.Join(dir, "new.db")), "writer").wantFailure(t, records.ReadOnly)
	})
	t.Run("a backup into it is refused", func(t *testing.T) {
		start(t, asNobody(t, path, filepath.Join(dir, "backup.db")), "writer").wantFailure(t, records.ReadOnly)
	})
	t.Run("a reader reads, backs up, and notices a change", func(t *testing.T) {
		if os.Geteuid() != 0 {
			t.Skip("only a superuser can change what is in the folder meanwhile")
		}
		to := openFolder(t)
		if err := os.Chmod(to, 0o777); err != nil {
			t.Fatal(err)
		}
		c := start(t, asNobody(t, path, filepath.Join(to, "backup.db")), "frozen reader")
		if got := number(t, c.line(t)); got != end {
			t.Fatalf("%d entries, want %d", got, end)
		}
		b := mustOpen(t, filepath.Join(to, "backup.db"), Read)
		if got, err := checkParts(t.Context(), b, 0); err != nil || got != end {
			t.Fatalf("%d entries in the backup, want %d (%v)", got, end, err)
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		s := mustOpen(t, path, Write)
		end = fillParts(t, s, end)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(c.in)
		c.wantFailure(t, records.Busy)
	})
	t.Run("a reader follows a writer", func(t *testing.T) {
		if os.Geteuid() != 0 {
			t.Skip("only a superuser can write there meanwhile")
		}
		s := mustOpen(t, path, Write)
		defer s.Close()
		end = fillParts(t, s, end)
		c := start(t, asNobody(t, path), "reader")
		for range 3 {
			if got := number(t, c.line(t)); got != end {
				t.Fatalf("%d entries, want %d", got, end)
			}
			end = fillParts(t, s, end)
			fmt.Fprintln(c.in)
		}
		if got := number(t, c.line(t)); got != end {
			t.Fatalf("%d entries, want %d", got, end)
		}
		if err := errors.Join(c.in.Close(), c.cmd.Wait()); err != nil {
			t.Fatalf("%v\n%s", err, c.errors)
		}
	})
	t.Run("a log left by a crash is not passed over", func(t *testing.T) {
		left := openFolder(t)
		s := mustOpen(t, filepath.Join(t.TempDir(), "plant.db"), Write)
		defer s.Close()
		fillParts(t, s, 0)
		mustWrite(t, filepath.Join(left, "plant.db"), mustRead(t, s.path))
		mustWrite(t, filepath.Join(left, "plant.db-wal"), mustRead(t, s.path+"-wal"))
		shut(t, left)
		start(t, asNobody(t, filepath.Join(left, "plant.db")), "reader").wantFailure(t, records.ReadOnly)
	})
}
