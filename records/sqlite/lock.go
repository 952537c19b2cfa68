package sqlite

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/gofrs/flock"

	"grainward/records"
)

// The lock is the kernel's lock on the file, which ends with the process that holds it however it dies. The text in
// the file only tells people who that is:
//
//	pid 4711
//	program grainward
//	since 2031-05-06T07:08:09Z
//
// The file stays when the lock is let go: removing it would let two processes lock two files of one name.

// holder is who has a plant open for writing, as far as the lock file says.
type holder struct {
	pid     int       // 0 when not said
	program string    // base name of the executable
	since   time.Time // when it opened the plant; zero when not said
}

// formatHolder writes the text of the lock file.
func formatHolder(h holder) []byte {
	return fmt.Appendf(nil, "pid %d\nprogram %s\nsince %s\n", h.pid, h.program, h.since.UTC().Format(time.RFC3339))
}

// maxLockText is far more than formatHolder writes; what lies beyond is not ours.
const maxLockText = 4096

// parseHolder takes what it understands and passes over the rest: the text may be half written, or anybody's.
func parseHolder(text []byte) (h holder) {
	for line := range strings.Lines(string(text[:min(len(text), maxLockText)])) {
		word, rest, _ := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		switch word {
		case "pid":
			if n, err := strconv.ParseUint(rest, 10, 31); err == nil {
				h.pid = int(n)
			}
		case "program":
			h.program = strings.Map(printable, strings.ToValidUTF8(rest, ""))
		case "since":
			if at, err := time.Parse(time.RFC3339, rest); err == nil {
				h.since = at
			}
		}
	}
	return h
}

func printable(r rune) rune {
	if strconv.IsPrint(r) {
		return r
	}
	return -1
}

// String names the process for an error message.
func (h holder) String() string {
	if h.pid == 0 {
		return "another process (it has not said which)"
	}
	var b strings.Builder
	if h.program != "" {
		b.WriteString(h.program + ", ")
	}
	fmt.Fprintf(&b, "process %d", h.pid)
	if !h.since.IsZero() {
		b.WriteString(", since " + h.since.UTC().Format(time.RFC3339))
	}
	return b.String()
}

// lockFile takes the writer's lock of the data file at path, or says with kind Busy who has it.
func lockFile(path string) (*flock.Flock, error) {
	name := path + ".lock"
	lock := flock.New(name, flock.SetFlag(os.O_CREATE|os.O_RDWR), flock.SetPermissions(0o644))
	ok, err := lock.TryLock()
	if err != nil {
		return nil, wrong("taking the writer's lock", name, err)
	}
	if !ok {
		h, err := readHolder(name)
		if err != nil {
			return nil, wrong("finding out who holds the writer's lock", name, err)
		}
		do := "stop that program, or work through it; reading needs no lock"
		if h.pid != 0 {
			do = fmt.Sprintf("stop process %d, or work through it; reading needs no lock", h.pid)
		}
		return nil, &records.Error{Kind: records.Busy, What: fmt.Sprintf("%s is open for writing by %s", path, h), Do: do}
	}
	program := "grainward"
	if exe, err := os.Executable(); err == nil {
		program = filepath.Base(exe)
	}
	// Written in place: a new file moved over this one would be unlocked.
	if err := os.WriteFile(name, formatHolder(holder{os.Getpid(), program, time.Now()}), 0o644); err != nil {
		return nil, errors.Join(wrong("saying who holds the writer's lock", name, err), lock.Unlock())
	}
	return lock, nil
}

func readHolder(name string) (holder, error) {
	f, err := os.Open(name)
	if err != nil {
		return holder{}, err
	}
	defer f.Close()
	var text bytes.Buffer
	if _, err := io.Copy(&text, io.LimitReader(f, maxLockText)); err != nil {
		return holder{}, err
	}
	return parseHolder(text.Bytes()), nil
}

// unlockFile lets the lock go, after emptying the file so that it does not name a process that is gone.
func unlockFile(lock *flock.Flock) error {
	return errors.Join(os.Truncate(lock.Path(), 0), lock.Unlock())
}
