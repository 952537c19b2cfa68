package bigplant_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"math/rand/v2"
	"strings"
	"testing"

	"grainward/audit"
	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/lots"
	"grainward/records/memory"
	"grainward/records/plan"
	"grainward/records/state"
)

func entries(t testing.TB, seed uint64, n int) (p *bigplant.Plant, all []records.Entry) {
	t.Helper()
	p, err := bigplant.New(seed)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Each(n, func(e records.Entry) error { all = append(all, e); return nil }); err != nil {
		t.Fatal(err)
	}
	return p, all
}

// open opens a book of this test alone, which writes as fast as it can.
func open(t *testing.T) (*book.Book, *booktest.Clock) {
	t.Helper()
	signer, _ := booktest.Key(t)
	clock, store := &booktest.Clock{}, memory.New()
	b, err := book.Open(t.Context(), store, book.Options{Origin: booktest.Origin, Signer: signer, Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		booktest.Check(t, b, store)
		b.Close()
	})
	return b, clock
}

func rows(t testing.TB, all []records.Entry) (out [][]byte) {
	t.Helper()
	for _, e := range all {
		row, err := records.Format(e)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, row.Bytes)
	}
	return out
}

// The same seed gives the same bytes, a shorter journal is the beginning of a longer one, and another seed is another journal.
func TestSameSeedSameBytes(t *testing.T) {
	const n = 12_000
	_, all := entries(t, 3, n)
	want := rows(t, all)
	_, shorter := entries(t, 3, n/7)
	if len(shorter) != n/7 {
		t.Fatalf("%d entries", len(shorter))
	}
	for i, got := range rows(t, shorter) {
		if !bytes.Equal(got, want[i]) {
			t.Fatalf("entry %d:\n%s\n%s", i, got, want[i])
		}
	}
	_, other := entries(t, 4, 200)
	same := 0
	for i, got := range rows(t, other) {
		if bytes.Equal(got, want[i]) {
			same++
		}
	}
	if same > 0 {
		t.Errorf("%d entries of another seed are the same", same)
	}
	// Across versions of Go and machines too; seen on linux/amd64. It changes when what the plant does is changed.
	h := sha256.New()
	for _, b := range want {
		h.Write(b)
	}
	const golden = "f2131d466be3d76c4adf49dff4b4e637795b0394645c3afd16c3365f8d8777a5"
	if got := hex.EncodeToString(h.Sum(nil)); got != golden {
		t.Errorf("the journal's hash is %s, was %s", got, golden)
	}
}

// A book takes every entry in as it is, at the moment it bears: nothing in it is out of shape, refers to nowhere, or comes twice.
func TestAdmitted(t *testing.T) {
	_, all := entries(t, 1, 6000)
	b, clock := open(t)
	for i, e := range all {
		clock.At(e.Recorded)
		e.Recorded = 0
		got, err := b.Admit(context.Background(), e)
		if err != nil {
			t.Fatalf("entry %d, %s: %v", i, e.Kind, err)
		}
		if got[0].Position != records.Position(i) || got[0].Already {
			t.Fatalf("entry %d: %+v", i, got)
		}
	}
}

// What the package comment says of the journal: its pace, the share that is about goods, that kinds of every sort are in it, and that what
// goes wrong is what is said to go wrong: nothing about segregation, custody or balances, but for goods written down late at the very end.
func TestAsDescribed(t *testing.T) {
	const n = 60_000
	_, all := entries(t, 1, n)
	st := state.New()
	kinds := map[records.Kind]int{}
	for i, e := range all {
		kinds[e.Kind]++
		st.Apply(records.Position(i), e)
		if i > 0 && e.Recorded < all[i-1].Recorded || e.Recorded < e.Happened {
			t.Fatalf("entry %d was taken in before the one before it, or before it happened", i)
		}
	}
	days := all[n-1].Recorded.Sub(all[0].Recorded).Hours() / 24
	if pace := n / days; pace < 530 || pace > 570 {
		t.Errorf("%.0f entries a day", pace)
	}
	goods := 0
	for _, k := range lots.Kinds() {
		goods += kinds[k]
	}
	if share := float64(goods) / n; share < 0.2 || share > 0.3 {
		t.Errorf("%.3f of the entries are about goods", share)
	}
	for _, k := range []records.Kind{records.KindPlan, records.KindSignoff, records.KindReceipt, records.KindMove, records.KindProcess, records.KindHandover, records.KindCount, records.KindResult, records.KindSample,
		records.KindHold, records.KindRelease, records.KindDeviation, records.KindAnswer, records.KindReview, records.KindExcuse, records.KindDocument, records.KindCorrect} {
		if kinds[k] == 0 {
			t.Errorf("no entry of kind %s", k)
		}
	}
	rep := audit.At(st, all[n-1].Recorded)
	expected := map[string]bool{"missed": true, "late": true, "failed": true, "put-right": true, "late-entry": true, "deviation": true}
	found := map[string]int{}
	for _, f := range rep.Findings {
		rule, _, _ := strings.Cut(f.ID, ":")
		found[rule]++
		if !expected[rule] && all[n-1].Recorded.Sub(f.When).Hours() > 72 {
			t.Errorf("%s", f.ID)
		}
	}
	for rule := range expected {
		if found[rule] == 0 {
			t.Errorf("no finding of rule %s", rule)
		}
	}
	if k := len(rep.Findings); k < n/200 || k > n/40 {
		t.Errorf("%d findings", k)
	}
}

// What is written after the end is well formed, and what devices send is admitted and not the same twice.
func TestFurtherEntries(t *testing.T) {
	p, all := entries(t, 1, 900)
	last := all[len(all)-1]
	b, clock := open(t)
	must := func(e records.Entry) {
		t.Helper()
		clock.At(max(e.Recorded, e.Happened))
		e.Recorded = 0
		if got, err := b.Admit(context.Background(), e); err != nil || got[0].Already {
			t.Fatal(got, err)
		}
	}
	var target records.Entry
	for _, e := range all {
		must(e)
		if _, ok := e.Fact.(*records.Signoff); ok && target.Kind == "" {
			target = e
		}
	}
	kinds := map[records.Kind]bool{}
	for _, f := range p.More(bigplant.Reached{Size: 900, Now: last.Recorded, Long: all[100].Happened, Target: target, Finding: "missed:tidy-round@room-01:2010-01-05T17:00:00.000Z"}) {
		for turn := range 3 {
			e := f.Make(turn)
			kinds[e.Kind] = true
			if e.Recorded < last.Recorded {
				t.Error(f.Sort, "is taken in before the end")
			}
			must(e)
		}
	}
	for _, row := range records.Kinds() {
		if !kinds[row.Kind] {
			t.Errorf("what one more %s costs is not measured", row.Kind)
		}
	}
	r := rand.New(rand.NewPCG(1, 1))
	for range 200 {
		must(p.Signed(r, bigplant.Crew()[3], last.Recorded))
	}
}

// The plan is one that adopts: it parses, and its text comes back whole.
func TestPlanParses(t *testing.T) {
	p, _ := entries(t, 1, 1)
	got, err := plan.Parse([]byte(p.PlanText()))
	if err != nil {
		t.Fatal(err)
	}
	duties := 0
	for i := range got.Tasks {
		duties += len(got.Tasks[i].Stations)
	}
	if len(got.Tasks) != 29 || duties != 562 || len(got.Stations) != 147 || len(got.People) != 68 || len(bigplant.Crew()) != 64 {
		t.Errorf("the package comment counts otherwise: %d tasks, %d duties, %d stations, %d people", len(got.Tasks), duties, len(got.Stations), len(got.People))
	}
}
