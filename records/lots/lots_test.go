package lots_test

import (
	"bytes"
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/lots/lotstest"
)

// check holds a floor to what every floor promises.
func check(t interface {
	Helper()
	Errorf(string, ...any)
}, f *lots.Floor) {
	t.Helper()
	adjusted := map[int]records.Micrograms{}
	for _, a := range f.Adjustments {
		adjusted[a.Lot] += a.By
		if a.By == 0 {
			t.Errorf("an adjustment by nothing")
		}
	}
	for i, l := range f.Lots {
		if l.Entered+l.Adjusted != l.Standing()+l.Used {
			t.Errorf("lot %s: %d entered and %d adjusted, but %d standing and %d used", l.Code, l.Entered, l.Adjusted, l.Standing(), l.Used)
		}
		if l.Adjusted != adjusted[i] {
			t.Errorf("lot %s is adjusted by %d, and its adjustments come to %d", l.Code, l.Adjusted, adjusted[i])
		}
		for p, m := range l.At.All() {
			if m <= 0 {
				t.Errorf("%d of lot %s at %s", m, l.Code, p)
			}
		}
		if f.Find(l.Code) != l || f.Index(l.Code) != i {
			t.Errorf("lot %s is not found", l.Code)
		}
		for k, r := range l.Events {
			if k > 0 && (l.Events[k-1].Happened > r.Happened || l.Events[k-1] == r) {
				t.Errorf("events of lot %s are not in order, or twice", l.Code)
			}
		}
	}
	for code, station := range f.Stations {
		is := map[int]bool{}
		for _, i := range station.Residents {
			if is[i] {
				t.Errorf("lot %s is a resident of %s twice", f.Lots[i].Code, code)
			}
			is[i] = true
		}
		for i, l := range f.Lots {
			if l.At.Of(lots.Place{Station: code}) != 0 && !is[i] {
				t.Errorf("some of lot %s stands at %s, and it is no resident", l.Code, code)
			}
		}
	}
	checkShares(t, f)
	checkContacts(t, f)
}

// checkShares holds the portions taken to what was written.
func checkShares(t interface {
	Helper()
	Errorf(string, ...any)
}, f *lots.Floor) {
	t.Helper()
	add := func(list []lots.Portion) (sum records.Micrograms) {
		for _, p := range list {
			sum += p.Mass
		}
		return sum
	}
	for _, s := range f.Steps {
		var weights []records.Weight
		switch fact := s.Record.Fact.(type) {
		case *records.Process:
			for _, in := range fact.Inputs {
				weights = append(weights, in.Weight)
			}
		case *records.Purge:
			weights = append(weights, fact.Weight)
		}
		var wrote records.Micrograms
		for _, w := range weights {
			m, _ := w.Mass.Micrograms()
			wrote += m
		}
		var nothing records.Micrograms
		for _, a := range f.Assumed {
			if a.Record == s.Record && a.Code == "nothing-there" {
				nothing += a.Mass
			}
		}
		if got := add(s.In); got+nothing != wrote {
			t.Errorf("%s took %d, of which %d was nowhere, and its portions come to %d", s.Record.ID, wrote, nothing, got)
		}
	}
	for _, tr := range f.Transfers {
		if tr.Handover == nil {
			continue
		}
		if m, _ := tr.Handover.Weight.Mass.Micrograms(); len(tr.Portions) > 0 && add(tr.Portions) != m {
			t.Errorf("%s handed %d over, and its portions come to %d", tr.Record.ID, m, add(tr.Portions))
		}
	}
}

func checkContacts(t interface {
	Helper()
	Errorf(string, ...any)
}, f *lots.Floor) {
	t.Helper()
	for station, cs := range f.Contacts {
		newest, open := map[int]records.Instant{}, map[int]bool{}
		last := records.Instant(math.MinInt64)
		for c := range cs.All() {
			if c.From > c.To || last > c.From {
				t.Errorf("a contact at %s from %d to %d", station, c.From, c.To)
			}
			last = c.From
			if (c.Ended == nil) != (c.To == lots.Forever) || c.Began == nil {
				t.Errorf("a contact at %s from %d to %d, begun by %v, ended by %v", station, c.From, c.To, c.Began, c.Ended)
			}
			if c.Began == c.Ended {
				continue // no stay: it passed
			}
			if was, ok := newest[c.Lot]; ok && was > c.From {
				t.Errorf("lot %s stays at %s from %d while it is there until %d", f.Lots[c.Lot].Code, station, c.From, was)
			}
			newest[c.Lot], open[c.Lot] = c.To, c.To == lots.Forever
		}
		for i, l := range f.Lots {
			there := l.At.Of(lots.Place{Station: station}) > 0
			if s := f.Stations[station]; there && !open[i] || s != nil && !s.Mixed && there != open[i] {
				t.Errorf("something of lot %s at %s: %t; a stay that is open: %t", l.Code, station, there, open[i])
			}
		}
	}
	for station, s := range f.Stations {
		for i, l := range f.Lots {
			m := l.At.Of(lots.Place{Station: station})
			if resident := slices.Contains(s.Residents, i); m != 0 && !resident || !s.Mixed && resident != (m != 0) {
				t.Errorf("%d of lot %s at %s; resident %t", m, l.Code, station, resident)
			}
		}
	}
}

func TestInvariants(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, false)
		if f := lots.Fold(h.state(), 1000, h.cleanOuts); f != nil {
			if check(t, f); t.Failed() {
				t.Log(h.told())
			}
		}
	})
}

// A plan that holds a station otherwise than the one before it leaves nothing in between.
func TestInvariantsThroughPlans(t *testing.T) {
	other := strings.NewReplacer("silo-1, title: Silo 1, kind: silo, holds: mixed", "silo-1, title: Silo 1, kind: silo, holds: separate",
		"store, title: Store, kind: store, holds: separate", "store, title: Store, kind: store, holds: mixed",
		"  - {code: floor-2, title: Floor 2, kind: germination floor, holds: separate}\n", "").Replace(planText)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, false)
		entries := append([]records.Entry{adoption(9999, 30, planText), adoption(9998, 40, other), adoption(9997, 55, planText)}, h.entries...)
		if check(t, lots.Fold(fold(entries...), 1000, h.cleanOuts)); t.Failed() {
			t.Log(h.told())
		}
	})
}

// Whatever the order of writing, and whatever was first written wrong, withdrawn or put back: the floor is the one of what
// happened.
func TestOrderOfWritingMakesNoDifference(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, true)
		want := lotstest.Dump(lots.Fold(h.state(), 1000, h.cleanOuts))
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))

		shuffled := slices.Clone(h.entries)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		written := history{entries: shuffled}
		if got := lotstest.Dump(lots.Fold(written.state(), 1000, h.cleanOuts)); got != want {
			t.Fatalf("written in another order:\n%s\nwant\n%s\n%s", got, want, h.told())
		}

		var wrong, right []records.Entry
		for i, e := range shuffled {
			correct := func(n int, target records.EntryID, c records.Correct) records.EntryID {
				c.Target, c.Reason = target, "x"
				right = append(right, entry(n, 500, &c))
				return id(n)
			}
			switch rng.IntN(4) {
			case 0: // first written at another time, saying something else; then replaced
				was := e
				was.Happened = records.Instant(10 + rng.IntN(400))
				was.Fact = otherFact(rng, e, h.entries)
				wrong = append(wrong, was)
				correct(1000+i, e.ID, records.Correct{With: &records.Replacement{Happened: e.Happened, Kind: e.Kind, Fact: e.Fact}})
			case 1: // withdrawn by mistake, and the withdrawal withdrawn
				wrong = append(wrong, e)
				withdrawal := correct(2000+i, e.ID, records.Correct{Withdraw: true})
				correct(3000+i, withdrawal, records.Correct{Withdraw: true})
			default:
				wrong = append(wrong, e)
			}
			if rng.IntN(4) == 0 { // one that never happened, withdrawn
				never := entry(4000+i, records.Instant(10+rng.IntN(400)), h.entries[rng.IntN(len(h.entries))].Fact)
				wrong = append(wrong, never)
				correct(6000+i, never.ID, records.Correct{Withdraw: true})
			}
		}
		written = history{entries: append(wrong, right...)}
		if got := lotstest.Dump(lots.Fold(written.state(), 1000, h.cleanOuts)); got != want {
			t.Fatalf("reached through corrections:\n%s\nwant\n%s\n%s", got, want, h.told())
		}
	})
}

// otherFact is one of the same kind that says something else, if there is one.
func otherFact(rng *rand.Rand, e records.Entry, among []records.Entry) records.Fact {
	var out []records.Fact
	for _, x := range among {
		if x.Kind == e.Kind {
			out = append(out, x.Fact)
		}
	}
	return out[rng.IntN(len(out))]
}

// The floor at a moment is that of a journal in which nothing more had happened.
func TestAnyPastMoment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, false)
		at := records.Instant(rapid.IntRange(0, 80).Draw(t, "at"))
		var cut history
		for _, e := range h.entries {
			if e.Happened <= at {
				cut.entries = append(cut.entries, e)
			}
		}
		for _, c := range h.cleanOuts {
			if c.To <= at {
				cut.cleanOuts = append(cut.cleanOuts, c)
			}
		}
		got, want := lotstest.Dump(lots.Fold(h.state(), at, h.cleanOuts)), lotstest.Dump(lots.Fold(cut.state(), at, cut.cleanOuts))
		if got != want {
			t.Fatalf("the moment:\n%s\nthe cut:\n%s\n%s", got, want, h.told())
		}
	})
}

// Nothing that can be in a journal brings the fold down: whatever is well formed is folded, plan or no plan, and the
// floor holds what every floor promises.
func FuzzFold(f *testing.F) {
	for seed := range 20 {
		h := drawnHistory(seed)
		var b []byte
		for _, e := range h.entries {
			row, err := records.Format(e)
			if err != nil {
				f.Fatal(err)
			}
			b = append(append(b, row.Bytes...), '\n')
		}
		f.Add(b, seed%2 == 0, int64(40))
	}
	f.Fuzz(func(t *testing.T, text []byte, planned bool, at int64) {
		var entries []records.Entry
		if planned {
			entries = append(entries, adoption(9999, 1, planText))
		}
		for line := range bytes.Lines(text) {
			if e, err := records.ParseTrusted(bytes.TrimSpace(line)); err == nil && e.Happened < 1<<50 && records.CheckShape(withMeaning(e)) == nil {
				entries = append(entries, e)
			}
		}
		if len(entries) > 500 {
			return // at most 10,000 t each: more could not be added up
		}
		st := fold(entries...)
		var cleanOuts []lots.CleanOut
		for _, r := range st.Kind(records.KindSignoff).All() {
			cleanOuts = append(cleanOuts, lots.CleanOut{Station: r.Fact.(*records.Signoff).Station, From: r.Happened, To: r.Happened, Record: r})
		}
		for _, moment := range []records.Instant{records.Instant(at), lots.Forever} {
			floor := lots.Fold(st, moment, cleanOuts)
			check(t, floor)
			_ = lotstest.Dump(floor)
		}
	})
}

func withMeaning(e records.Entry) records.Entry {
	row, _ := records.RowOf(e.Kind)
	e.Meaning = row.Meanings[0]
	return e
}

// drawnHistory is one history by its seed.
func drawnHistory(seed int) history {
	return rapid.Custom(func(t *rapid.T) history { return drawHistory(t, false) }).Example(seed)
}

// Dry matter is mass x (100 - moisture) / 100 to the microgram, halves up.
func TestDryMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := records.Micrograms(rapid.Int64Range(0, 10_000_000_000_000_000).Draw(t, "mass"))
		scale := rapid.IntRange(0, 12).Draw(t, "scale")
		most := int64(100)
		for range scale {
			most *= 10
		}
		w := records.NewDecimal(rapid.Int64Range(0, most).Draw(t, "moisture"), scale)
		want := new(big.Rat).Sub(big.NewRat(100, 1), w.Rat())
		want.Mul(want, new(big.Rat).SetFrac64(int64(m), 100))
		want.Add(want, big.NewRat(1, 2))
		floor := new(big.Int).Div(want.Num(), want.Denom())
		if got, ok := lots.DryMatter(m, &w); !ok || int64(got) != floor.Int64() {
			t.Fatalf("%d at %s %%: %d (%t), want %s", m, w, got, ok, floor)
		}
	})
	for _, bad := range []string{"-0.1", "100.1", "999999999999999999"} {
		w, err := records.ParseDecimal(bad)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := lots.DryMatter(100, &w); ok {
			t.Errorf("at %s %%: %d", bad, got)
		}
	}
	if _, ok := lots.DryMatter(100, nil); ok {
		t.Error("dry matter without a moisture")
	}
}
