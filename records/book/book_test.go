package book_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/ledger"
	"grainward/records/memory"
)

const planText = `grainward: 1
plant: {name: Testhof Malt, address: 1 Test Lane, zone: America/New_York, units: lb, languages: [en], since: 2026-01-01}
profile: {allergens: [US], reviewWorkingDays: 7, lateEntry: 1h, keepYears: {food: 2, organic: 5}}
stations:
  - {code: floor-1, title: Floor 1, kind: germination floor, holds: separate}
  - {code: floor-2, title: Floor 2, kind: germination floor, holds: separate}
tasks:
  - code: scrub
    title: Scrub
    family: floor
    stations: [floor-1]
    asks: [{code: ozone, title: Ozone, type: number, unit: mg/L, limits: {max: 0.4}}]
    who: crew
people:
  - {code: ana, name: Ana Test, initials: AT, role: lead}
  - {code: ben, name: Ben Test, initials: BT, role: crew}
`

var noon = must(records.ParseInstant("2026-03-03T12:00:00Z"))

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func adoption(text string, at records.Instant) records.Entry {
	sum := sha256.Sum256([]byte(text))
	return records.Entry{ID: records.NewEntryID(), Happened: at, By: "ana", Meaning: records.Approved, Kind: records.KindPlan,
		Fact: &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])}}
}

func scrub(at records.Instant) records.Entry {
	return records.Entry{ID: records.NewEntryID(), Happened: at, By: "ben", Meaning: records.Performed, Kind: records.KindSignoff,
		Fact: &records.Signoff{Task: "scrub", Station: "floor-1", Outcome: records.Passed,
			Answers: []records.Response{{Ask: "ozone", Value: &records.Quantity{Value: must(records.ParseDecimal("0.1")), Unit: "mg/L"}}}}}
}

// open gives a book with the plan in force since an hour before noon.
func open(t *testing.T) (*book.Book, *booktest.Clock, *memory.Store) {
	store := memory.New()
	b, clock := booktest.Open(t, store, noon.Add(-time.Hour))
	if _, err := b.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))); err != nil {
		t.Fatal(err)
	}
	clock.At(noon)
	return b, clock, store
}

func TestAdmitted(t *testing.T) {
	b, _, _ := open(t)
	e := scrub(noon.Add(-time.Minute))
	got := must(b.Admit(context.Background(), e))
	if got[0] != (book.Receipt{Position: 1, Recorded: noon}) {
		t.Errorf("receipt %+v", got[0])
	}
	v := b.View()
	if r := v.State.First(1); r == nil || r.ID != e.ID || r.Recorded != noon || r.Happened != e.Happened {
		t.Errorf("the entry is %+v", r)
	}
	// The same again, also after more was written, is the same entry.
	must(b.Admit(context.Background(), scrub(noon)))
	if again := must(b.Admit(context.Background(), e)); again[0] != (book.Receipt{Position: 1, Recorded: noon, Already: true}) {
		t.Errorf("sent twice: %+v", again[0])
	}
	twice := scrub(noon)
	if both := must(b.Admit(context.Background(), twice, twice)); both[0].Position != both[1].Position || !both[1].Already {
		t.Errorf("sent twice in one batch: %+v", both)
	}
	if n := b.View().Head.Size; n != 4 {
		t.Errorf("%d entries, want 4", n)
	}
	// A view stays what it was.
	if v.State.Size() != 2 || v.Head.Size != 2 {
		t.Errorf("the older view now has %d entries", v.State.Size())
	}
}

func TestRefused(t *testing.T) {
	b, _, _ := open(t)
	first := scrub(noon)
	must(b.Admit(context.Background(), first))
	with := func(change func(*records.Entry, *records.Signoff)) records.Entry {
		e := scrub(noon)
		change(&e, e.Fact.(*records.Signoff))
		return e
	}
	fact := func(f records.Fact) records.Entry {
		row, _ := records.RowOf(f.Kind())
		return records.Entry{ID: records.NewEntryID(), Happened: noon, By: "ana", Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f}
	}
	nobody := records.NewEntryID()
	hash := strings.Repeat("ab", 32)
	cases := map[string]struct {
		e    records.Entry
		kind records.ErrorKind
		says []string
	}{
		"unknown task":    {with(func(_ *records.Entry, s *records.Signoff) { s.Task = "scrubb" }), records.Invalid, []string{"fact.task", `"scrubb"`, "did you mean scrub?"}},
		"unknown station": {with(func(_ *records.Entry, s *records.Signoff) { s.Station = "roof" }), records.Invalid, []string{"fact.station", "floor-1, floor-2"}},
		"task not there":  {with(func(_ *records.Entry, s *records.Signoff) { s.Station = "floor-2" }), records.Invalid, []string{"fact.station", "one where scrub is done: floor-1"}},
		"paper of somebody unknown, and no photo of it": {with(func(e *records.Entry, _ *records.Signoff) {
			e.Paper = &records.Paper{Whose: "bem", Sheet: strings.Repeat("0f", 32)}
		}), records.Invalid, []string{"paper.whose", "did you mean ben?", "paper.sheet"}},
		"unknown person": {with(func(e *records.Entry, _ *records.Signoff) { e.By = "bem" }), records.Invalid, []string{"by", "did you mean ben?"}},
		"unknown second": {with(func(_ *records.Entry, s *records.Signoff) { s.Second = "zoe" }), records.Invalid, []string{"fact.second", "ana, ben"}},
		"unknown agent": {with(func(_ *records.Entry, s *records.Signoff) { s.Agents = []records.AgentUse{{Agent: "soap"}} }), records.Invalid,
			[]string{"fact.agents[0].agent", "soap"}},
		"unknown ask": {with(func(_ *records.Entry, s *records.Signoff) { s.Answers[0].Ask = "ph" }), records.Invalid, []string{"fact.answers[0].ask", "there are ozone"}},
		"photo not sent": {with(func(_ *records.Entry, s *records.Signoff) { s.Answers[0] = records.Response{Ask: "ozone", Photo: hash} }), records.Invalid,
			[]string{"fact.answers[0].photo", "send the file first"}},
		"in the future":               {with(func(e *records.Entry, _ *records.Signoff) { e.Happened = noon.Add(2*time.Minute + time.Millisecond) }), records.Invalid, []string{"happened", "future", "clock"}},
		"before any plan":             {with(func(e *records.Entry, _ *records.Signoff) { e.Happened = noon.Add(-2 * time.Hour) }), records.Invalid, []string{"no plan was in force", "plan adopt"}},
		"shape":                       {with(func(_ *records.Entry, s *records.Signoff) { s.Outcome = "fine" }), records.Invalid, []string{"fact.outcome", "passed", "failed"}},
		"id reused":                   {with(func(e *records.Entry, s *records.Signoff) { e.ID, s.Note = first.ID, "other" }), records.Conflict, []string{"position 1", "correction"}},
		"review of what is not there": {fact(&records.Review{From: 0, To: 9}), records.Invalid, []string{"fact.to", "at most 2"}},
		"correction of nothing":       {fact(&records.Correct{Target: nobody, Reason: "x", Withdraw: true}), records.Invalid, []string{"fact.target", nobody.String()}},
		"correction by another kind": {fact(&records.Correct{Target: first.ID, Reason: "x", With: &records.Replacement{Kind: records.KindDeviation, Fact: &records.Deviation{What: "x"}}}),
			records.Invalid, []string{"fact.with.kind", "signoff"}},
		"correction to what is not in the plan": {fact(&records.Correct{Target: first.ID, Reason: "x", With: &records.Replacement{Kind: records.KindSignoff,
			Fact: &records.Signoff{Task: "sweep", Station: "floor-1", Outcome: records.Passed}}}), records.Invalid, []string{"fact.with.fact.task", "sweep"}},
		"answer to no deviation": {fact(&records.Answer{Deviation: first.ID, Cause: "x", Action: "x", Lots: "x", Prevention: "x"}), records.Invalid, []string{"fact.deviation", "this is a signoff"}},
		"file not sent": {fact(&records.Document{Code: "cert", Title: "x", Type: "certificate", Subject: records.Subject{Of: "plant"}, File: &records.File{SHA256: hash, Size: 1, Media: "text/plain"}}),
			records.Invalid, []string{"fact.file.sha256", "send the file first"}},
		"plan of another hash": {fact(&records.Adoption{Text: planText, SHA256: hash}), records.Invalid, []string{"fact.sha256"}},
		"malformed plan":       {adoption(strings.Replace(planText, "zone: America/New_York", "zone: Mars/Base", 1), noon), records.Invalid, []string{"Mars/Base", "line 2"}},
	}
	before := b.View().Head
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := b.Admit(context.Background(), scrub(noon), c.e) // the good one goes down with the bad one
			if err == nil {
				t.Fatal("admitted")
			}
			if k := records.KindOf(err); k != c.kind {
				t.Errorf("kind %v, want %v", k, c.kind)
			}
			for _, w := range c.says {
				if !strings.Contains(err.Error(), w) {
					t.Errorf("the error does not say %q:\n%v", w, err)
				}
			}
			var all *book.Errors
			if !errors.As(err, &all) || len(all.Faults) != 1 || all.Faults[0].Draft != 1 {
				t.Errorf("the fault is not laid to the second draft: %#v", all)
			}
		})
	}
	if now := b.View().Head; now.Size != before.Size || now.Root != before.Root {
		t.Errorf("something was written: %d entries, before %d", now.Size, before.Size)
	}
}

// Every fault of a batch is told at once.
func TestAllFaultsAtOnce(t *testing.T) {
	b, _, _ := open(t)
	drafts := []records.Entry{scrub(noon), scrub(noon), scrub(noon)}
	drafts[0].By, drafts[2].By = "x", "y"
	_, err := b.Admit(context.Background(), drafts...)
	var all *book.Errors
	if !errors.As(err, &all) || len(all.Faults) != 2 || all.Faults[0].Draft != 0 || all.Faults[1].Draft != 2 {
		t.Fatalf("faults: %v", err)
	}
}

// A batch can adopt a plan and use it; and an entry is held against the plan of its own time.
func TestPlanOfItsTime(t *testing.T) {
	b, _, _ := open(t)
	later := strings.ReplaceAll(planText, "code: scrub", "code: sweep")
	sweep := scrub(noon)
	sweep.Fact.(*records.Signoff).Task = "sweep"
	if _, err := b.Admit(context.Background(), adoption(later, noon.Add(-time.Minute)), sweep); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Admit(context.Background(), scrub(noon)); records.KindOf(err) != records.Invalid {
		t.Errorf("a task the plan no longer has: %v", err)
	}
	if _, err := b.Admit(context.Background(), scrub(noon.Add(-30*time.Minute))); err != nil {
		t.Errorf("written late, under the plan of its time: %v", err)
	}
}

// Many at once: each is written once, and they share batches.
func TestManyAtOnce(t *testing.T) {
	b, _, store := open(t)
	const people, each = 32, 20
	var wg sync.WaitGroup
	for range people {
		wg.Go(func() {
			for range each {
				e := scrub(noon)
				for range 2 { // everything is sent twice
					if _, err := b.Admit(context.Background(), e); err != nil {
						t.Error(err)
					}
				}
				if _, ok := b.View().State.Find(e.ID); !ok {
					t.Error("admitted, and not in the view")
				}
			}
		})
	}
	wg.Wait()
	if n := b.View().Head.Size; n != people*each+1 {
		t.Errorf("%d entries, want %d", n, people*each+1)
	}
	batches := 0
	if err := store.Checkpoints(context.Background(), func(records.Position, []byte) error { batches++; return nil }); err != nil {
		t.Fatal(err)
	}
	if batches >= people*each {
		t.Errorf("%d batches for %d entries: nothing was shared", batches, people*each)
	}
}

// shared is a store that another book closes.
type shared struct{ *memory.Store }

func (shared) Close() error { return nil }

// Two books on one store, as two servers have: both write, neither loses, and both come to the same journal.
func TestTwoBooks(t *testing.T) {
	store := memory.New()
	signer, verifier := booktest.Key(t)
	a, clock := booktest.OpenAs(t, store, signer, noon.Add(-time.Hour))
	must(a.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	b, _ := booktest.OpenAs(t, shared{store}, signer, noon)
	const each = 150
	var wg sync.WaitGroup
	for _, bk := range []*book.Book{a, b} {
		for range 2 {
			wg.Go(func() {
				for range each {
					if _, err := bk.Admit(context.Background(), scrub(noon)); err != nil {
						t.Error(err)
						return
					}
				}
			})
		}
	}
	wg.Wait()
	must(a.Admit(context.Background(), scrub(noon)))
	must(b.Admit(context.Background(), scrub(noon))) // catches up with the line above
	if n := b.View().Head.Size; n != 4*each+3 {
		t.Errorf("%d entries, want %d", n, 4*each+3)
	}
	if _, err := ledger.Open(b.View().Head.Checkpoint, verifier); err != nil {
		t.Error(err)
	}
}

// flaky fails appends: cleanly, or after the batch got through.
type flaky struct {
	*memory.Store
	mu   sync.Mutex
	fail func() (through bool, err error)
}

func (f *flaky) Append(ctx context.Context, b records.Batch) error {
	f.mu.Lock()
	through, err := f.fail()
	f.mu.Unlock()
	if err != nil && !through {
		return err
	}
	return errors.Join(f.Store.Append(ctx, b), err)
}

// A commit that failed is told as failed; one whose answer was lost is found to have got through.
func TestUncertainCommits(t *testing.T) {
	store := &flaky{Store: memory.New(), fail: func() (bool, error) { return false, nil }}
	b, clock := booktest.Open(t, store, noon.Add(-time.Hour))
	must(b.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	full := &records.Error{Kind: records.Full, What: "the disk is full"}
	for i := range 40 {
		through := i%2 == 0
		store.mu.Lock()
		store.fail = func() (bool, error) { return through, full }
		store.mu.Unlock()
		e := scrub(noon)
		_, err := b.Admit(context.Background(), e)
		if through != (err == nil) {
			t.Fatalf("got through: %v; told: %v", through, err)
		}
		if err != nil && records.KindOf(err) != records.Full {
			t.Fatalf("kind of %v", err)
		}
		store.mu.Lock()
		store.fail = func() (bool, error) { return false, nil }
		store.mu.Unlock()
		if got := must(b.Admit(context.Background(), e)); got[0].Already != through {
			t.Fatalf("asked again: %+v", got[0])
		}
	}
	if n := b.View().Head.Size; n != 41 {
		t.Errorf("%d entries, want 41", n)
	}
}

func TestReadOnlyAndClosed(t *testing.T) {
	store := memory.New()
	signer, _ := booktest.Key(t)
	b := must(book.Open(context.Background(), store, book.Options{Origin: "o", Signer: signer, Now: func() records.Instant { return noon }}))
	must(b.Admit(context.Background(), adoption(planText, noon)))
	ro := must(book.Open(context.Background(), store, book.Options{Origin: "o"}))
	if _, err := ro.Admit(context.Background(), scrub(noon)); records.KindOf(err) != records.ReadOnly {
		t.Errorf("admit without a key: %v", err)
	}
	if ro.View().Head.Size != 1 || string(ro.View().Head.Checkpoint) != string(b.View().Head.Checkpoint) {
		t.Error("a reader does not see the journal and its signed head")
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Admit(context.Background(), scrub(noon)); records.KindOf(err) != records.Unavailable {
		t.Errorf("admit after closing: %v", err)
	}
}

// A row whose bytes are not those that were hashed stops the book from opening, and is named.
func TestDamagedRowIsNamed(t *testing.T) {
	store := memory.New()
	for i := range 3 {
		e := scrub(noon)
		e.Recorded = noon
		row := must(records.Format(e))
		if i == 1 {
			row.Bytes = []byte(strings.Replace(string(row.Bytes), `"0.1"`, `"0.2"`, 1))
		}
		if err := store.Append(context.Background(), records.Batch{After: records.Position(i), Rows: []records.Row{row}}); err != nil {
			t.Fatal(err)
		}
	}
	_, err := book.Open(context.Background(), store, book.Options{})
	if records.KindOf(err) != records.Corrupt || !strings.Contains(fmt.Sprint(err), "position 1") {
		t.Errorf("opened: %v", err)
	}
}

// Proofs hold for heads of any size, old ones included.
func TestProofs(t *testing.T) {
	store := memory.New()
	signer, verifier := booktest.Key(t)
	b, _ := booktest.OpenAs(t, store, signer, noon)
	must(b.Admit(context.Background(), adoption(planText, noon)))
	for range 20 {
		must(b.Admit(context.Background(), scrub(noon)))
	}
	for size := records.Position(1); size <= 21; size++ {
		head := must(b.HeadAt(size))
		for pos := range size {
			p := must(b.Prove(pos, head))
			if _, err := ledger.CheckProof(p, must(b.Leaf(pos)), verifier); err != nil {
				t.Fatalf("position %d at size %d: %v", pos, size, err)
			}
		}
	}
	if _, err := b.HeadAt(22); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
}
