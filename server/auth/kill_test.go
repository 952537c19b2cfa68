package auth

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/faulttest"
)

// partVariable names the file that this binary, started again as another process, sets PINs in until it is killed.
const partVariable = "GRAINWARD_AUTH_TEST_PART"

func TestMain(m *testing.M) {
	if path := os.Getenv(partVariable); path != "" {
		if err := playSetter(path, os.Args[1]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func playSetter(path, from string) error {
	s, err := Open(path, Options{Now: func() records.Instant { return records.InstantOf(time.Now()) }, Params: cheap})
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(from)
	for ; err == nil; n++ {
		if err = s.SetPIN(context.Background(), records.PersonCode(fmt.Sprint("p", n)), "", "4071"); err == nil {
			fmt.Println(n)
		}
	}
	return err
}

// firstFile is people.db as version 0.1 made it, with so many PINs.
func firstFile(t *testing.T, n int) []byte {
	t.Helper()
	path := filepath.Join(t.TempDir(), "people.db")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	phc, err := FormatHash("4071", cheap)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(versionOne); err != nil {
		t.Fatal(err)
	}
	for i := range n {
		if _, err := db.Exec("insert into pins values (?, ?, 1, '', 0, 0)", fmt.Sprint("old", i), phc); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

// TestPeopleKilled kills a process that brings people.db up from its first version and then sets PINs, over and over. A PIN that was
// set is there, and so are those of before.
func TestPeopleKilled(t *testing.T) {
	rounds := faulttest.Times(t, 14)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	const old = 60
	first := firstFile(t, old)
	acknowledged, early := 0, 0
	path := filepath.Join(t.TempDir(), "people.db")
	set := 0
	for round := range rounds {
		if round%2 == 0 { // anew from the first version, to be killed while it is brought up
			for _, beside := range []string{"", "-wal", "-shm"} {
				_ = os.Remove(path + beside)
			}
			if err := os.WriteFile(path, first, 0o600); err != nil {
				t.Fatal(err)
			}
			set = 0
		}
		cmd := exec.Command(os.Args[0], strconv.Itoa(set))
		cmd.Env = append(os.Environ(), partVariable+"="+path)
		var errs strings.Builder
		cmd.Stderr = &errs
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewReader(out)
		before := set
		for range max(0, r.IntN(25)-8) {
			line, err := lines.ReadString('\n')
			if err != nil {
				t.Fatalf("it ended early: %v %s", err, &errs)
			}
			set, _ = strconv.Atoi(strings.TrimSpace(line))
			set++
		}
		late := time.Duration(r.IntN(5000)) * time.Microsecond
		if set == before {
			late = time.Duration(r.IntN(60)) * time.Millisecond
		}
		time.AfterFunc(late, func() { _ = cmd.Process.Kill() })
		for {
			line, err := lines.ReadString('\n')
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			set, _ = strconv.Atoi(strings.TrimSpace(line))
			set++
		}
		if err := cmd.Wait(); err == nil || errs.Len() > 0 {
			t.Fatalf("it was not killed: %v %s", err, &errs)
		}
		if set == before {
			early++
		}
		acknowledged += set - before

		s, err := Open(path, Options{Now: func() records.Instant { return records.InstantOf(time.Now()) }, Params: cheap})
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		have, err := s.People(t.Context())
		if err != nil {
			t.Fatalf("round %d: %v", round, err)
		}
		for i := range old {
			if have[records.PersonCode(fmt.Sprint("old", i))].PIN == 0 {
				t.Fatalf("round %d: the PIN of old%d is lost", round, i)
			}
		}
		for i := range set {
			if have[records.PersonCode(fmt.Sprint("p", i))].PIN == 0 {
				t.Fatalf("round %d: the PIN of p%d was set and is lost", round, i)
			}
		}
		set = max(set, len(have)-old)
		if a, err := s.Check(t.Context(), at("old0", "4071")); err != nil || a.Outcome != Right {
			t.Fatalf("round %d: %+v, %v", round, a, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	faulttest.Count(t, rounds, "kills of a process that brings people.db up and sets PINs", fmt.Sprintf("%d PINs acknowledged, all there, and those of before; %d killed before any", acknowledged, early))
}

// TestPeopleFullDisk: what can not be written is said to be so; whoever is signed in goes on reading.
func TestPeopleFullDisk(t *testing.T) {
	dir := t.TempDir()
	if syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=512k") != nil {
		t.Skip("this process may not mount a disk")
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	c := &clock{at: records.InstantOf(time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC))}
	s, err := Open(filepath.Join(dir, "people.db"), Options{Now: c.now, Params: cheap})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx := t.Context()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	text, _, err := s.MakeCode(ctx, "nora", "Floor tablet", 0)
	if err != nil {
		t.Fatal(err)
	}
	device, _, _, err := s.Enrol(ctx, text, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	token, _, err := s.SignIn(ctx, "nora", PIN, "")
	if err != nil {
		t.Fatal(err)
	}
	filler := filepath.Join(dir, "filler")
	if err := os.WriteFile(filler, make([]byte, 1<<20), 0o600); err == nil {
		t.Fatal("the disk holds more than it should")
	}
	for i := 0; ; i++ { // what room there still is in the log
		if err = s.SetPIN(ctx, records.PersonCode(fmt.Sprint("p", i)), "", "4071"); err != nil {
			break
		}
	}
	if records.KindOf(err) != records.Full || !strings.Contains(err.Error(), "disk is full") || strings.Contains(err.Error(), "4071") {
		t.Errorf("on a full disk: %v", err)
	}
	if _, err := s.Check(ctx, at("nora", "4071")); records.KindOf(err) != records.Full {
		t.Errorf("a try that can not be counted is not compared: %v", err)
	}
	for range 3 { // a minute later the time last seen would be written
		c.add(2 * touchAfter)
		if who, err := s.Who(ctx, token, ""); err != nil || !who.Runs {
			t.Errorf("whoever is signed in: %+v, %v", who, err)
		}
		if d, err := s.Device(ctx, device); err != nil || d.Code == "" {
			t.Errorf("the device: %+v, %v", d, err)
		}
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	if a, err := s.Check(ctx, at("nora", "4071")); err != nil || a.Outcome != Right {
		t.Errorf("with room again: %+v, %v", a, err)
	}
}
