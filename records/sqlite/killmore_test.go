package sqlite

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/faulttest"
)

// killed runs a child and kills it after a moment; it says whether the child had ended by itself before.
func killed(t *testing.T, cmd *exec.Cmd, part string, after time.Duration) (ended bool) {
	t.Helper()
	c := start(t, cmd, part)
	timer := time.AfterFunc(after, func() { _ = cmd.Process.Kill() })
	err := c.cmd.Wait()
	timer.Stop()
	if c.errors.Len() > 0 {
		t.Fatalf("%s: %v\n%s", part, err, c.errors)
	}
	return err == nil
}

// playBacker backs args[0] up to args[1].
func playBacker(ctx context.Context, args []string, _ *bufio.Reader) error {
	s, err := Open(ctx, args[0], Read)
	if err != nil {
		return err
	}
	return errors.Join(s.Backup(ctx, args[1]), s.Close())
}

// TestBackupKilled kills a process that makes a backup while this one appends. What bears the backup's name afterwards is a
// whole backup or is refused, never taken for one; the same backup can be made again; and the journal has all it acknowledged.
func TestBackupKilled(t *testing.T) {
	rounds := faulttest.Times(t, 25)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	defer s.Close()
	var end atomic.Int64
	for end.Load() < 1000 {
		end.Store(int64(fillParts(t, s, int(end.Load()))))
	}
	stop := make(chan struct{})
	var appending sync.WaitGroup
	appending.Go(func() {
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-time.After(20 * time.Millisecond): // the journal is in use, and does not grow so much that backups get slower and slower
			}
			b := partBatch(int(end.Load()), 1+n%3)
			if err := s.Append(t.Context(), b); err != nil {
				t.Error(err)
				return
			}
			end.Add(int64(len(b.Rows)))
		}
	})
	defer appending.Wait()
	defer close(stop)

	begun := time.Now()
	if !killed(t, exec.Command(os.Args[0], path, filepath.Join(t.TempDir(), "whole.db")), "backer", time.Hour) {
		t.Fatal("a backup that nobody killed did not end")
	}
	span := faulttest.Over(r, time.Since(begun), rounds)
	became := map[string]int{}
	i := 0
	for ; i < rounds || i < 5*rounds && became["whole"] == i; i++ {
		dir := t.TempDir()
		to := filepath.Join(dir, "backup.db")
		before := int(end.Load())
		begun := time.Now()
		ended := killed(t, exec.Command(os.Args[0], path, to), "backer", span.Moment())
		if ended {
			span.Ended(time.Since(begun))
		}
		info, err := os.Stat(to)
		whole := false
		switch {
		case errors.Is(err, fs.ErrNotExist):
			became["absent"]++
			if parts, err := filepath.Glob(to + ".*.part"); err != nil || len(parts) > 0 {
				became["absent"]--
				became["absent, a part beside it"]++
			}
		case err != nil:
			t.Fatal(err)
		case info.Size() == 0:
			t.Fatalf("round %d: it left an empty file under the backup's name", i)
		default:
			became["whole"]++
			whole = true
		}
		if ended && !whole {
			t.Fatalf("round %d: it ended and left no backup", i)
		}
		err = s.Backup(t.Context(), to) // once more
		if whole {
			wantError(t, err, records.Conflict)
		} else if err != nil {
			t.Fatalf("round %d: again: %v", i, err)
		}
		b := mustOpen(t, to, Read)
		if got, err := checkParts(t.Context(), b, 0); err != nil || got < before {
			t.Fatalf("round %d: the backup has %d entries, %d were acknowledged when it began: %v", i, got, before, err)
		}
		wantIntegrity(t, b)
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
	}
	acknowledged := int(end.Load())
	if got, err := checkParts(t.Context(), s, 0); err != nil || got < acknowledged {
		t.Fatalf("the journal has %d entries of %d: %v", got, acknowledged, err)
	}
	faulttest.Count(t, i, "kills of a backup in the midst of appends", fmt.Sprintf("left %v; each could be made again, nothing lost", became))
	if became["whole"] == i || rounds >= 20 && became["absent, a part beside it"] == 0 {
		t.Error("it was never killed half way, so little was shown")
	}
}

// laterSteps are made up: what a later program might do to a file, with enough work in it to be killed at.
var laterSteps = append(slices.Clone(schema),
	step{needs: "0.8", sql: "CREATE TABLE extra (position INTEGER PRIMARY KEY, kind TEXT) STRICT; INSERT INTO extra SELECT position, substr(body, 1, 200) FROM entries"},
	step{needs: "0.9", sql: "ALTER TABLE entries ADD COLUMN more TEXT; UPDATE entries SET more = substr(body, 1, 20); CREATE INDEX extras ON extra (kind)"})

func playMigrator(ctx context.Context, args []string, _ *bufio.Reader) error {
	s, err := open(ctx, args[0], Write, laterSteps)
	if err != nil {
		return err
	}
	return s.Close()
}

// TestMigrationKilled takes a file as the first released schema made it through steps to a later one, and kills the
// process that does so, over and over. The file is then the old one or the new one, whole, and whichever it is the next try
// brings it up to date; the old program either reads it or says which program does.
func TestMigrationKilled(t *testing.T) {
	rounds := faulttest.Times(t, 25)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	first := filepath.Join(t.TempDir(), "first.db")
	mustExec(t, first, versionOne+"DELETE FROM entries; DELETE FROM checkpoints;")
	s := mustOpen(t, first, Write)
	end := 0
	for end < 600 {
		end = fillParts(t, s, end)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	old := mustRead(t, first)
	var span *faulttest.Span
	became := map[string]int{}
	i := -1
	for ; i < rounds || i < 5*rounds && len(became) < 2; i++ {
		path := filepath.Join(t.TempDir(), "plant.db")
		mustWrite(t, path, old)
		if i < 0 {
			begun := time.Now()
			killed(t, exec.Command(os.Args[0], path), "migrator", time.Hour)
			span = faulttest.Over(r, time.Since(begun), rounds)
			continue
		}
		for again := true; again; { // most are killed once, some twice or more often
			begun := time.Now()
			if killed(t, exec.Command(os.Args[0], path), "migrator", span.Moment()) {
				span.Ended(time.Since(begun))
			}
			again = r.IntN(4) == 0
		}
		version := versionOf(t, path, end)
		became[fmt.Sprint("schema ", version)]++
		s, err := open(t.Context(), path, Write, laterSteps)
		if err != nil {
			t.Fatalf("round %d, from schema %d: %v", i, version, err)
		}
		var more, extra int
		if err := s.reads.QueryRowContext(t.Context(), "SELECT (SELECT count(more) FROM entries), (SELECT count(*) FROM extra)").Scan(&more, &extra); err != nil || more != end || extra != end {
			t.Fatalf("round %d: %d and %d of %d rows were brought up to date: %v", i, more, extra, end, err)
		}
		if got, err := checkParts(t.Context(), s, 0); err != nil || got != end {
			t.Fatalf("round %d: %d entries of %d: %v", i, got, end, err)
		}
		wantIntegrity(t, s)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	faulttest.Count(t, i, "kills of a migration of a SQLite file from its first schema", fmt.Sprintf("left %v, whole; each was brought up to date by the next try", became))
	if len(became) < 2 {
		t.Error("all kills fell on one side of the commit, so little was shown")
	}
}

// versionOf looks at a file as the present program, which knows the first schema only, and gives the version it has.
func versionOf(t *testing.T, path string, end int) int {
	t.Helper()
	s, err := Open(t.Context(), path, Read)
	if records.KindOf(err) == records.TooNew {
		wantError(t, err, records.TooNew, "use grainward 0.9 or newer", "its schema is 3")
		return 3
	}
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if got, err := checkParts(t.Context(), s, 0); err != nil || got != end {
		t.Fatalf("after the kill %d entries of %d: %v", got, end, err)
	}
	return 1
}

// playRacer opens, appends args[1] batches and closes, for ever, as one of several; it writes the end it was told of.
func playRacer(ctx context.Context, args []string, _ *bufio.Reader) error {
	seed, err := strconv.ParseUint(args[1], 10, 64)
	if err != nil {
		return err
	}
	r := rand.New(rand.NewPCG(seed, 0))
	for {
		s, err := Open(ctx, args[0], Write)
		if records.KindOf(err) == records.Busy {
			time.Sleep(time.Duration(r.IntN(500)) * time.Microsecond)
			continue
		}
		if err != nil {
			return err
		}
		for range 1 + r.IntN(4) {
			head, err := s.Head(ctx)
			if err != nil {
				return err
			}
			b := partBatch(int(head), 1+r.IntN(5))
			if err := s.Append(ctx, b); err != nil {
				return err
			}
			fmt.Println(int(head) + len(b.Rows))
		}
		if err := s.Close(); err != nil {
			return err
		}
	}
}

// TestRacing: four processes take turns at one file, as fast as the lock lets them, and are killed meanwhile.
func TestRacing(t *testing.T) {
	rounds := faulttest.Times(t, 12)
	seed := faulttest.Seed(t, rand.Uint64())
	path := filepath.Join(t.TempDir(), "plant.db")
	s := mustOpen(t, path, Write)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	var most atomic.Int64
	var told atomic.Int64
	var racing sync.WaitGroup
	const racers = 4
	for i := range racers {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		racing.Go(func() {
			for range (rounds + racers - 1) / racers {
				cmd := exec.Command(os.Args[0], path, strconv.FormatUint(r.Uint64(), 10))
				c := start(t, cmd, "racer")
				for range 1 + r.IntN(20) {
					line, err := c.out.ReadString('\n')
					if err != nil {
						t.Errorf("a racer ended early: %v %s", err, c.errors)
						return
					}
					raise(&most, line)
					told.Add(1)
				}
				time.Sleep(time.Duration(r.IntN(2000)) * time.Microsecond)
				_ = cmd.Process.Kill()
				for {
					line, err := c.out.ReadString('\n')
					if err != nil {
						break
					}
					raise(&most, line)
					told.Add(1)
				}
				_ = cmd.Wait()
				if c.errors.Len() > 0 {
					t.Errorf("a racer failed: %s", c.errors)
				}
			}
		})
	}
	racing.Wait()
	s = mustOpen(t, path, Write)
	defer s.Close()
	end, err := checkParts(t.Context(), s, 0)
	if err != nil || end < int(most.Load()) {
		t.Fatalf("%d entries, %d were acknowledged: %v", end, most.Load(), err)
	}
	wantIntegrity(t, s)
	faulttest.Count(t, rounds, "kills among four processes that race for one SQLite file", fmt.Sprintf("%d batches acknowledged, %d entries, none lost", told.Load(), end))
}

func raise(most *atomic.Int64, line string) {
	n, err := strconv.ParseInt(line[:max(0, len(line)-1)], 10, 64)
	for err == nil {
		have := most.Load()
		if n <= have || most.CompareAndSwap(have, n) {
			return
		}
	}
}
