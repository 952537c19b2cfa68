package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/faulttest"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/records/sqlite"
	"grainward/records/verify"
)

// mustHoldOnce verifies a journal and finds every acknowledged entry in it, once, where it was said to be.
func mustHoldOnce(t *testing.T, store records.Store, acknowledged map[string]records.Position) {
	t.Helper()
	key, err := ledger.VerifierOf(theKey())
	if err != nil {
		t.Fatal(err)
	}
	report, err := verify.Journal(context.Background(), store, verify.Options{Verifier: key})
	if err != nil || !report.OK() { // among others, that no id is there twice
		t.Fatalf("verify: %+v, %v", report.Faults, err)
	}
	there := map[string]records.Position{}
	if err := store.Read(context.Background(), 0, func(at records.Position, row records.Row) error {
		e, err := records.Parse(row.Bytes)
		there[e.ID.String()] = at
		return err
	}); err != nil {
		t.Fatal(err)
	}
	for id, at := range acknowledged {
		if is, ok := there[id]; !ok || is != at {
			t.Errorf("%s was acknowledged at position %d: there %v, at %d", id, at, ok, is)
		}
	}
}

func idOf(t *testing.T, body []byte) string {
	t.Helper()
	var d struct {
		ID string `json:"id"`
	}
	if err := json.Unmarshal(body, &d); err != nil {
		t.Fatal(err)
	}
	return d.ID
}

// TestDiskFullUnderTheServer fills the disk that the journal is on. The crew is told in words that nothing was saved, pages are answered all the
// while, and once there is room what was refused is taken when it is sent again; nothing acknowledged is lost.
func TestDiskFullUnderTheServer(t *testing.T) {
	dir := t.TempDir()
	if syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=12m") != nil {
		t.Skip("this process may not mount a disk; records/sqlite TestNoRoom does what it can without")
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	path := filepath.Join(dir, "journal.db")
	store, err := sqlite.Open(t.Context(), path, sqlite.Write)
	if err != nil {
		t.Fatal(err)
	}
	w := plantOn(t, store)
	acknowledged := map[string]records.Position{}
	refused := 0
	note := func(n int) []byte {
		return draftJSON("hank", member{"kind", `"deviation"`}, member{"fact", `{"what":` + q(strings.Repeat("dust on the sill; ", 1+n%60)) + `,"station":"warehouse"}`})
	}
	for round := range faulttest.Times(t, 6) {
		for n := range 10 {
			body := note(n)
			acknowledged[idOf(t, body)] = w.enteredOf(w.enter1(crew, body), 201).Position
		}
		filler := filepath.Join(dir, "filler")
		fillDisk(t, filler)
		var kept []byte
		for n := 0; ; n++ {
			body := note(n + round)
			a := w.enter1(crew, body)
			if a.StatusCode == 201 { // into what room the log had
				acknowledged[idOf(t, body)] = w.enteredOf(a, 201).Position
				continue
			}
			d := w.problemOf(a, 507)
			if !strings.Contains(d.Detail, "is full: nothing of this was saved") || strings.Contains(a.body, dir) {
				t.Errorf("the crew is not told why: %+v", d)
			}
			kept, refused = body, refused+1
			break
		}
		before := w.size()
		w.wants(w.ask(crew, hygiene, signing("hank")), 507, "<h1", "full")
		w.wants(w.sendBody(crew, "PUT", "/api/photos/"+hexOf(sum(aPicture)), "image/png", aPicture), 507)
		for _, page := range []string{"/today", "/station/entrance", "/entry/1", hygiene} {
			w.wants(w.ask(crew, page, nil), 200)
		}
		for _, page := range []string{"/findings", "/week", "/records", "/api/entries?from=0&count=5"} {
			w.wants(w.ask(lead, page, nil), 200)
		}
		if w.size() != before {
			t.Error("something that was refused was written")
		}
		if err := os.Remove(filler); err != nil {
			t.Fatal(err)
		}
		acknowledged[idOf(t, kept)] = w.enteredOf(w.enter1(crew, kept), 201).Position
		w.wants(w.ask(crew, hygiene, signing("hank")), 303)
	}
	if err := w.Book.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := sqlite.Open(t.Context(), path, sqlite.Read)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	mustHoldOnce(t, again, acknowledged)
	faulttest.Count(t, refused, "times that the disk filled up under a server (a sign-off, a form and a photo refused at each)", fmt.Sprintf("%d entries acknowledged, all there; pages answered all the while", len(acknowledged)))
}

// fillDisk writes until nothing more fits.
func fillDisk(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for block := make([]byte, 4096); ; {
		if _, err := f.Write(block); errors.Is(err, syscall.ENOSPC) {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// TestPhoneSendsEverythingTwice: a phone whose network comes and goes sends everything again and again, to either of two servers of the
// plant, at once. Each thing is written once, and every answer says where.
func TestPhoneSendsEverythingTwice(t *testing.T) {
	store := memory.New()
	one := plantOn(t, store)
	two := worldOn(t, store, one.clock.now())
	two.staff()
	n := faulttest.Times(t, 60)
	var queue [][]byte
	for i := range n {
		queue = append(queue, draftJSON("hank", member{"happened", q(at("2026-03-09T07:00:00-04:00").Add(time.Duration(i) * time.Second).String())}))
	}
	const times, phones = 4, 8
	var sends []int
	for i := range n {
		for range times {
			sends = append(sends, i)
		}
	}
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	r.Shuffle(len(sends), func(i, j int) { sends[i], sends[j] = sends[j], sends[i] })
	before := one.size()
	var mu sync.Mutex
	acknowledged, written := map[string]records.Position{}, map[string]int{}
	var wg sync.WaitGroup
	for p := range phones {
		wg.Go(func() {
			w := []*world{one, two}[p%2]
			for i := p; i < len(sends); i += phones {
				body := queue[sends[i]]
				a := w.enter1(crew, body)
				if a.StatusCode != http.StatusCreated && a.StatusCode != http.StatusOK {
					t.Errorf("status %d %s", a.StatusCode, a.body)
					return
				}
				var got struct {
					Position records.Position `json:"position"`
				}
				if err := json.Unmarshal([]byte(a.body), &got); err != nil {
					t.Error(err, a.body)
					return
				}
				id := idOf(t, body)
				mu.Lock()
				if was, ok := acknowledged[id]; ok && was != got.Position {
					t.Errorf("%s is at %d and at %d", id, was, got.Position)
				}
				acknowledged[id] = got.Position
				if a.StatusCode == http.StatusCreated {
					written[id]++
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	head, err := store.Head(t.Context())
	if err != nil || int(head-before) != n {
		t.Errorf("%d entries written, of %d: %v", head-before, n, err)
	}
	for id, times := range written {
		if times != 1 {
			t.Errorf("%s is said to be new %d times", id, times)
		}
	}
	mustHoldOnce(t, store, acknowledged)
	faulttest.Count(t, len(sends), fmt.Sprintf("sendings of %d entries by %d phones at once to two servers", n, phones), "each written once, every answer with its place")
}

// TestServerClockJumps sets the server's clock forward and back by minutes to years while it serves. What was acknowledged stays, in
// the order of its positions; entries of the future are refused with words; pages and findings are answered throughout.
func TestServerClockJumps(t *testing.T) {
	store := memory.New()
	w := plantOn(t, store)
	acknowledged, jumps := map[string]records.Position{}, 0
	year := 365 * 24 * time.Hour
	for _, jump := range []time.Duration{time.Minute, -time.Minute, 10 * time.Minute, -10 * time.Minute, time.Hour, -2 * time.Hour, 26 * time.Hour, -25 * time.Hour, 40 * 24 * time.Hour, -40 * 24 * time.Hour, 3 * year, -3 * year, 20 * year, -20 * year} {
		w.clock.add(jump)
		jumps++
		for r := range w.token { // sign-ins end when the clock says so; signing in again is all it takes
			if role(r) > nobody {
				w.token[r] = w.signedIn(map[role]records.PersonCode{visitor: "vera", crew: "hank", lead: "nora"}[role(r)])
			}
		}
		now := w.clock.now()
		body := draftJSON("hank", member{"happened", q(now.String())})
		acknowledged[idOf(t, body)] = w.enteredOf(w.enter1(crew, body), 201).Position
		// A device that is a day ahead of the server, and does not say what its clock says.
		d := w.problemOf(w.enter1(crew, draftJSON("hank", member{"happened", q(now.Add(24 * time.Hour).String())})), 422)
		if !strings.Contains(fmt.Sprint(d), "clock") {
			t.Errorf("%s: %+v", jump, d)
		}
		for _, page := range []string{"/today", "/findings", "/week", "/records", "/reviews", "/balance"} {
			if a := w.ask(lead, page, nil); a.StatusCode >= 500 {
				t.Errorf("%s, after a jump of %s: status %d", page, jump, a.StatusCode)
			}
		}
		for _, at := range acknowledged {
			w.wants(w.ask(lead, "/entry/"+fmt.Sprint(at), nil), 200, "Leaf hash")
		}
		// The same again, by a phone that did not hear: the clock has no say in whether it is there already.
		if got := w.enteredOf(w.enter1(crew, body), 200); !got.Already {
			t.Errorf("%+v", got)
		}
	}
	// One finding a day on which it went back by more than servers may differ.
	w.clock.add(21 * year)
	w.token[lead] = w.signedIn("nora")
	if a := w.ask(lead, "/api/findings?rule=clock-back", nil); a.StatusCode != 200 || strings.Count(a.body, `"rule":"clock-back"`) < 3 {
		t.Errorf("a clock that went back is not said: %s", a.body)
	}
	mustHoldOnce(t, store, acknowledged)
	faulttest.Count(t, jumps, "jumps of the server's clock while it serves, from a minute to twenty years and both ways", fmt.Sprintf("%d entries acknowledged, all there; what lies in the future refused with words", len(acknowledged)))
}
