package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/faulttest"
	"grainward/records/mongo/mongotest"
	"grainward/records/sqlite"
)

// TestServersKilled runs three processes that write to one journal in a database, kills each of them again and again at moments
// it does not choose while the others go on, and looks at the end for everything that any of them acknowledged.
func TestServersKilled(t *testing.T) {
	kills := (faulttest.Times(t, 18) + 2) / 3 // of each of the three
	plant := plantFlag{Dir: plantDir(t.TempDir() + "/plant"), Mongo: mongoURI(mongotest.Database(t))}
	if err := startPlantIn(t.Context(), &plant, "Brackwater Mill", []byte(smallPlan)); err != nil {
		t.Fatal(err)
	}
	if code := Run(t.Context(), []string{"plan", "adopt", "--dir", string(plant.Dir), "--mongo", string(plant.Mongo), "--by", "nora"}, quietWorld(io.Discard, os.Stderr)); code != 0 {
		t.Fatalf("adopting the plan: exit code %d", code)
	}
	seed := faulttest.Seed(t, rand.Uint64())
	var mu sync.Mutex
	acknowledged, busy := map[records.EntryID]bool{}, 0
	var wg sync.WaitGroup
	for i := range 3 {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		wg.Go(func() {
			for range kills {
				ids, err := runAndKill(plant, r)
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				for _, id := range ids {
					acknowledged[id] = true
				}
				if len(ids) > 0 {
					busy++
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	mustHold(t, &plant, acknowledged)
	faulttest.Count(t, 3*kills, "kills of three processes that write to one database", fmt.Sprintf("%d of them after something was acknowledged; %d entries acknowledged, all there", busy, len(acknowledged)))
	if busy < kills {
		t.Errorf("only %d processes acknowledged anything: little was shown", busy)
	}
}

// runAndKill starts a process that appends, kills it, and gives what it had acknowledged.
func runAndKill(plant plantFlag, r *rand.Rand) (ids []records.EntryID, err error) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), appenderVariable+"="+string(plant.Dir), databaseVariable+"="+string(plant.Mongo))
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewReader(out)
	kill := func() { _ = cmd.Process.Kill() }
	for wanted, armed := r.IntN(80), false; ; { // 0: it is killed while it opens
		if len(ids) >= wanted && !armed {
			armed = true
			time.AfterFunc(time.Duration(r.IntN(8000))*time.Microsecond, kill)
		}
		line, err := lines.ReadString('\n')
		if err != nil { // a line without its end was not said
			break
		}
		id, err := records.ParseEntryID(strings.TrimSuffix(line, "\n"))
		if err != nil {
			return nil, errors.Join(err, cmd.Wait())
		}
		ids = append(ids, id)
	}
	if err := cmd.Wait(); err == nil || stderr.Len() > 0 {
		return nil, fmt.Errorf("it was not killed: %v\n%s", err, &stderr)
	}
	return ids, nil
}

// mustHold verifies the journal and finds every acknowledged entry in it, once.
func mustHold(t *testing.T, plant *plantFlag, acknowledged map[records.EntryID]bool) {
	t.Helper()
	store, err := plant.openStore(t.Context(), sqlite.Read)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	key, err := plant.Dir.verifier()
	if err != nil {
		t.Fatal(err)
	}
	report, err := verifyStore(t.Context(), quietWorld(io.Discard, os.Stderr), store, key, nil)
	if err != nil || !report.OK() { // among others, that no id is there twice
		t.Fatalf("verify: %+v, %v", report.Faults, err)
	}
	there := 0
	err = store.Read(t.Context(), 0, func(_ records.Position, row records.Row) error {
		e, err := records.ParseTrusted(row.Bytes)
		if acknowledged[e.ID] {
			there++
		}
		return err
	})
	if err != nil || there != len(acknowledged) {
		t.Fatalf("%d of %d acknowledged entries are there; %v", there, len(acknowledged), err)
	}
}

// TestTwoServe runs two servers of one plant at once, while a third writes: what it writes, a new name
// for the plant, is on the pages of both.
func TestTwoServe(t *testing.T) {
	plant := plantFlag{Dir: plantDir(t.TempDir() + "/plant"), Mongo: mongoURI(mongotest.Database(t))}
	if err := startPlantIn(t.Context(), &plant, "Brackwater Mill", []byte(smallPlan)); err != nil {
		t.Fatal(err)
	}
	adopt := func() time.Time {
		t.Helper()
		if code := Run(t.Context(), []string{"plan", "adopt", "--dir", string(plant.Dir), "--mongo", string(plant.Mongo), "--by", "nora"}, quietWorld(io.Discard, os.Stderr)); code != 0 {
			t.Fatalf("adopting the plan: exit code %d", code)
		}
		return time.Now()
	}
	adopt()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var urls []string
	ended := make(chan int, 2)
	for range 2 {
		said, out := io.Pipe()
		go func() {
			ended <- Run(ctx, []string{"serve", "--dir", string(plant.Dir), "--mongo", string(plant.Mongo), "--listen", "127.0.0.1:0"}, quietWorld(out, os.Stderr))
			out.Close()
		}()
		urls = append(urls, address(t, said))
		get(t, urls[len(urls)-1])
	}
	more := strings.Replace(smallPlan, "name: Brackwater Mill", "name: Brackwater Mill and Store", 1)
	if err := os.WriteFile(plant.Dir.planFile(), []byte(more), 0o644); err != nil {
		t.Fatal(err)
	}
	told := adopt()
	for i, url := range urls {
		for !strings.Contains(page(t, url), "Brackwater Mill and Store") { // asked until it is there; the test's own timeout ends it
		}
		t.Logf("server %d shows it %v after it was acknowledged to another process", i+1, time.Since(told).Round(time.Millisecond))
	}
	cancel()
	for range urls {
		if code := <-ended; code != 0 {
			t.Errorf("a server ended with exit code %d", code)
		}
	}
}

func page(t *testing.T, url string) string {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
