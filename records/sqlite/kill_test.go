package sqlite

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"grainward/records/faulttest"
)

// TestKilled kills an appending process again and again on one file, at moments it does not choose, and looks each
// time for everything it had acknowledged. SIGKILL stands for a crash of the program; a power cut also loses what the
// kernel had not written, which synchronous=FULL is for and no test here can show.
func TestKilled(t *testing.T) {
	rounds := faulttest.Times(t, 60)
	seed := faulttest.Seed(t, rand.Uint64())
	r := rand.New(rand.NewPCG(seed, 0))
	path := filepath.Join(t.TempDir(), "plant.db")
	acknowledged, checked, unacknowledged, killedOpening := 0, 0, 0, 0
	for round := range rounds {
		c := start(t, exec.Command(os.Args[0], path, strconv.FormatUint(r.Uint64(), 10)), "appender")
		before := acknowledged
		wait := r.IntN(25) // acknowledgements to see first; some rounds see none and kill it while it opens
		moment := time.Duration(r.IntN(3000)) * time.Microsecond
		if wait < 3 {
			wait, moment = 0, time.Duration(r.IntN(80))*time.Millisecond
		}
		for range wait {
			acknowledged = number(t, c.line(t))
		}
		time.AfterFunc(moment, func() { _ = c.cmd.Process.Kill() })
		acknowledged = max(acknowledged, lastNumber(t, c.out)) // what it still wrote before it died
		if err := c.cmd.Wait(); err == nil || c.errors.Len() > 0 {
			t.Fatalf("round %d: the appender was not killed: %v\n%s", round, err, c.errors)
		}
		if acknowledged == before {
			killedOpening++
		}

		mode := Mode(round % 2) // recovery by a reader, and by a writer
		if _, err := os.Stat(path); acknowledged == 0 || err != nil {
			mode = Write
		}
		s := mustOpen(t, path, mode)
		end, err := checkParts(t.Context(), s, checked)
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		if end < acknowledged {
			t.Fatalf("round %d: %d entries, %d were acknowledged", round, end, acknowledged)
		}
		if end > acknowledged {
			unacknowledged++ // committed, and killed before it could say so: allowed
		}
		checked, acknowledged = end, end
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	s := mustOpen(t, path, Write)
	defer s.Close()
	if end, err := checkParts(t.Context(), s, 0); err != nil || end != checked {
		t.Fatalf("at the end %d entries of %d: %v", end, checked, err)
	}
	wantIntegrity(t, s)
	faulttest.Count(t, rounds, "kills of a process that appends to a SQLite file", fmt.Sprintf("%d entries, none acknowledged lost; %d killed before any append, %d between commit and word of it", checked, killedOpening, unacknowledged))
	if checked == 0 || killedOpening == rounds {
		t.Fatal("no round appended anything, so nothing was shown")
	}
}

func number(t *testing.T, line string) int {
	t.Helper()
	n, err := strconv.Atoi(line)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// lastNumber reads to the end and gives the last whole line, 0 when there is none.
func lastNumber(t *testing.T, out *bufio.Reader) (last int) {
	t.Helper()
	for {
		line, err := out.ReadString('\n')
		if err == io.EOF {
			return last
		}
		if err != nil {
			t.Fatal(err)
		}
		last = number(t, strings.TrimSuffix(line, "\n"))
	}
}

func wantIntegrity(t *testing.T, s *Store) {
	t.Helper()
	var said string
	if err := s.reads.QueryRowContext(t.Context(), "PRAGMA integrity_check").Scan(&said); err != nil || said != "ok" {
		t.Fatalf("integrity_check: %q, %v", said, err)
	}
}
