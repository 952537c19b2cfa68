package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/faulttest"
	"grainward/records/sqlite"
)

const (
	appenderVariable = "GRAINWARD_TEST_APPENDER"
	databaseVariable = "GRAINWARD_TEST_DATABASE" // where its journal is, when not in its directory
	slowlyVariable   = "GRAINWARD_TEST_SLOWLY"   // set when it should leave others some time
)

// hands is how many goroutines sign work off at once in the process that is killed.
const hands = 16

// playAppender admits sign-offs through the book as fast as it can, from many goroutines, and prints each id once it is
// acknowledged; until it is killed.
func playAppender() {
	plant := plantFlag{Dir: plantDir(os.Getenv(appenderVariable)), Mongo: mongoURI(os.Getenv(databaseVariable))}
	w := &world{in: os.Stdin, out: os.Stdout, err: os.Stderr, now: time.Now}
	b, err := plant.openBook(context.Background(), w, sqlite.Write)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	var out sync.Mutex
	for range hands {
		go func() {
			for n := 0; ; n++ {
				var drafts []records.Entry
				for range 1 + n%3 {
					drafts = append(drafts, records.Entry{ID: records.NewEntryID(), Happened: w.instant(), By: "amadeo", Meaning: records.Performed, Kind: records.KindDeviation,
						Fact: &records.Deviation{What: strings.Repeat("dust on the sill; ", 1+n%40), Station: "mill"}})
				}
				if _, err := b.Admit(context.Background(), drafts...); err != nil {
					fmt.Fprintln(os.Stderr, err)
					os.Exit(1)
				}
				out.Lock()
				for _, d := range drafts {
					fmt.Println(d.ID)
				}
				out.Unlock()
				if os.Getenv(slowlyVariable) != "" {
					time.Sleep(50 * time.Millisecond)
				}
			}
		}()
	}
	select {}
}

// TestKilled kills a process that appends heavily, a hundred times, and looks each time that every entry it
// acknowledged is there and that the journal verifies. SIGKILL stands for a crash of the program, not for a power cut.
func TestKilled(t *testing.T) {
	rounds := faulttest.Times(t, 40)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	dir := adoptedPlant(t)
	acknowledged, busy := map[records.EntryID]bool{}, 0
	for round := range rounds {
		before := len(acknowledged)
		killAppender(t, dir, r, acknowledged)
		if len(acknowledged) > before {
			busy++
		}
		mustHold(t, &plantFlag{Dir: dir}, acknowledged)
		if t.Failed() {
			t.Fatalf("round %d", round)
		}
	}
	faulttest.Count(t, rounds, "kills of a process that signs work off through the book", fmt.Sprintf("%d entries acknowledged, all there; %d kills after something was acknowledged", len(acknowledged), busy))
	if busy < rounds/2 {
		t.Fatalf("only %d of %d rounds acknowledged anything: little was shown", busy, rounds)
	}
}

// killAppender starts the other process, kills it in the midst of its work, and gathers what it acknowledged.
func killAppender(t *testing.T, dir plantDir, r *rand.Rand, acknowledged map[records.EntryID]bool) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), appenderVariable+"="+string(dir))
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	take := func() error {
		line, err := lines.ReadString('\n')
		if err != nil {
			return err // a line without its end was not said
		}
		id, err := records.ParseEntryID(strings.TrimSuffix(line, "\n"))
		acknowledged[id] = true
		return err
	}
	for range r.IntN(60) { // 0: it is killed while it opens
		if err := take(); err != nil {
			t.Fatalf("the appender ended early: %v\n%s", errors.Join(err, cmd.Wait()), &stderr)
		}
	}
	time.AfterFunc(time.Duration(r.IntN(4000))*time.Microsecond, func() { _ = cmd.Process.Kill() })
	for err = nil; err == nil; {
		err = take()
	}
	if err != io.EOF {
		t.Error(err)
	}
	if err := cmd.Wait(); err == nil || stderr.Len() > 0 {
		t.Errorf("the appender was not killed: %v\n%s", err, &stderr)
	}
}

const smallPlan = `grainward: 1
plant: {name: Brackwater Mill, address: 1 Weir Road, zone: America/New_York, since: 2026-03-02}
stations:
  - {code: mill, title: Mill, kind: mill, holds: passes}
tasks:
  - code: sweep
    title: Sweep
    family: sanitation
    stations: [mill]
people:
  - {code: nora, name: Nora Feldt, initials: NF, role: lead}
  - {code: amadeo, name: Amadeo Ruiz, initials: AR, role: crew}
`
