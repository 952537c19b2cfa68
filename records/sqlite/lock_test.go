package sqlite

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/records"
)

func wantError(t *testing.T, err error, kind records.ErrorKind, words ...string) {
	t.Helper()
	if err == nil || records.KindOf(err) != kind {
		t.Fatalf("error %v of kind %d, want kind %d", err, records.KindOf(err), kind)
	}
	var own *records.Error
	if errors.As(err, &own) && own.Do == "" {
		t.Errorf("the error does not say what to do: %v", err)
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("the error does not say %q: %v", w, err)
		}
	}
}

// TestOneWriter: a second writer is told who the first is, readers are not bothered, and a holder that died is no
// obstacle, whatever its lock file still says.
func TestOneWriter(t *testing.T) {
	path := filepath.Join(t.TempDir(), "plant.db")
	began := time.Now().Add(-time.Second)
	c := start(t, exec.Command(os.Args[0], path), "holder")
	if said := c.line(t); said != "holding" {
		t.Fatal(said)
	}
	pid := c.cmd.Process.Pid
	link := filepath.Join(t.TempDir(), "other-name.db")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{path, link} {
		_, err := Open(t.Context(), name, Write)
		wantError(t, err, records.Busy, fmt.Sprintf("process %d", pid), filepath.Base(os.Args[0]), "since "+time.Now().UTC().Format("2006-"), fmt.Sprintf("stop process %d", pid))
	}
	h, err := readHolder(path + ".lock")
	if err != nil || h.pid != pid || h.since.Before(began.Truncate(time.Second)) || h.since.After(time.Now()) {
		t.Fatalf("the lock file says %+v (%v), the holder is %d", h, err, pid)
	}
	r := mustOpen(t, path, Read)
	if n, err := r.Head(t.Context()); n != 0 || err != nil {
		t.Fatalf("reading while a writer is open: %d, %v", n, err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}

	if err := c.cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := c.cmd.Wait(); err == nil {
		t.Fatal("the holder was not killed")
	}
	if h, err := readHolder(path + ".lock"); err != nil || h.pid != pid {
		t.Fatalf("the dead holder's text is gone (%+v, %v), so nothing is shown by what follows", h, err)
	}
	s := mustOpen(t, path, Write)
	_, err = Open(t.Context(), path, Write)
	wantError(t, err, records.Busy, fmt.Sprintf("process %d", os.Getpid()))
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if text := mustRead(t, path+".lock"); len(text) != 0 {
		t.Fatalf("after Close the lock file says %q", text)
	}
	if err := mustOpen(t, path, Write).Close(); err != nil {
		t.Fatal(err)
	}
}

// TestGarbageInLockFile: the text is for people only and decides nothing.
func TestGarbageInLockFile(t *testing.T) {
	for _, text := range []string{"", "pid", "pid -3\nsince yesterday\n", "\xff\xfe\x00\n\n", strings.Repeat("pid 1\n", 100_000)} {
		path := filepath.Join(t.TempDir(), "plant.db")
		mustWrite(t, path+".lock", []byte(text))
		s := mustOpen(t, path, Write)
		mustWrite(t, path+".lock", []byte(text)) // in place, as the lock is on the file
		_, err := Open(t.Context(), path, Write)
		wantError(t, err, records.Busy, "is open for writing by")
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestHolderText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := holder{rapid.IntRange(1, 1<<31-1).Draw(t, "pid"), rapid.StringMatching(`[a-z][a-z0-9 .-]{0,20}`).Draw(t, "program"),
			time.Unix(rapid.Int64Range(0, 1<<33).Draw(t, "since"), 0).UTC()}
		if got := parseHolder(formatHolder(want)); got != want {
			t.Fatalf("%+v came back as %+v", want, got)
		}
	})
}

func FuzzParseHolder(f *testing.F) {
	f.Add(formatHolder(holder{4711, "grainward", time.Unix(1935817689, 0)}))
	f.Add([]byte("pid 99999999999999999999\nprogram \x1b[2J\nsince 2031-13-01"))
	f.Fuzz(func(t *testing.T, text []byte) {
		h := parseHolder(text)
		if h.pid < 0 || strings.ContainsFunc(h.String(), func(r rune) bool { return printable(r) < 0 }) {
			t.Fatalf("%q was read as %+v", text, h)
		}
	})
}
