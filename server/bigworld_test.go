package server

import (
	"cmp"
	"context"
	"fmt"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/cmd/bigplant"
	"grainward/exports/balance"
	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/lots"
	"grainward/records/memory"
	"grainward/server/auth"
)

// bigStore holds the beginning of a large plant's journal; last is when its last entry was taken in.
func bigStore(t testing.TB, n int) (store *memory.Store, last records.Instant) {
	t.Helper()
	p, err := bigplant.New(1)
	if err != nil {
		t.Fatal(err)
	}
	var rows []records.Row
	var tree ledger.Tree
	if err := p.Each(n, func(e records.Entry) error {
		row, err := records.Format(e)
		rows, last = append(rows, row), e.Recorded
		tree.Append(row.Leaf)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	signed, err := ledger.Sign(ledger.Checkpoint{Origin: "quillmere.example/journal", Size: int64(n), Root: tree.Root()}, theKey())
	if err != nil {
		t.Fatal(err)
	}
	store = memory.New()
	if err := store.Append(context.Background(), records.Batch{Rows: rows, Checkpoint: signed}); err != nil {
		t.Fatal(err)
	}
	return store, last
}

// bigWorld is a server of such a journal, with some lots held and rejected, and one of its crew and a lead signed in.
func bigWorld(t *testing.T, n int) *world {
	t.Helper()
	store, last := bigStore(t, n)
	w := worldOn(t, store, last)
	by := map[role]auth.Kind{crew: auth.PIN, lead: auth.Password}
	for r, who := range map[role]records.PersonCode{crew: bigplant.Crew()[0], lead: bigplant.Lead()} {
		token, _, err := w.auth.SignIn(context.Background(), who, by[r], "")
		if err != nil {
			t.Fatal(err)
		}
		w.token[r] = token
	}
	var some []records.LotCode
	for i, l := range w.report().Goods.Lots {
		if i%13 == 0 {
			some = append(some, l.Code)
		}
	}
	w.writeAt(last, bigplant.Lead(), &records.Hold{Lots: some[:min(len(some), 60)], Why: "looked at again"})
	w.writeAt(last, bigplant.Lead(), &records.Release{Lots: some[:min(len(some), 8)], Rejected: true, Why: "it smells"})
	return w
}

var lotLinkInRow = regexp.MustCompile(`href="/lots/([^"/?]+)"`)

// The pages of lots, one after the other, are those that were asked for: held ones first, then by stage, the newest first.
func TestLotsAreInOrder(t *testing.T) {
	w := bigWorld(t, 9000)
	rep := w.report()
	r := &request{plan: rep.State.PlanAt(rep.At)}
	rank := func(l *lots.Lot) int {
		if l.HeldAt(rep.At) {
			return -1
		}
		if i := slices.Index(stages, r.stageOf(l)); i >= 0 {
			return i
		}
		return len(stages)
	}
	for query, wanted := range map[string]func(*lots.Lot) bool{
		"":                         standsHere,
		"all=yes":                  func(*lots.Lot) bool { return true },
		"all=yes&stage=by-product": func(l *lots.Lot) bool { return r.stageOf(l) == "by-product" },
		"all=yes&status=organic":   func(l *lots.Lot) bool { return l.Status == records.Organic },
		"q=0004":                   func(l *lots.Lot) bool { return sought{text: "0004"}.finds(l) },
		"q=0004&stage=raw&status=organic": func(l *lots.Lot) bool {
			return sought{text: "0004"}.finds(l) && r.stageOf(l) == "raw" && l.Status == records.Organic
		},
	} {
		var all []*lots.Lot
		for _, l := range rep.Goods.Lots {
			if wanted(l) {
				all = append(all, l)
			}
		}
		slices.SortStableFunc(all, func(a, b *lots.Lot) int {
			return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(b.Begins, a.Begins), strings.Compare(string(a.Code), string(b.Code)))
		})
		var want []string
		for _, l := range all {
			want = append(want, string(l.Code))
		}
		got := w.turned("/lots?"+query, len(all), rowsMost, lotLinkInRow)
		if !slices.Equal(got, want) {
			t.Errorf("lots?%s: the pages have\n%v\nin order they are\n%v", query, got, want)
		}
		t.Log(query, len(want))
	}
}

// The lots that are offered to be ticked are those that going through all finds.
func TestOfferedIsGoneThrough(t *testing.T) {
	w := bigWorld(t, 9000)
	rep := w.report()
	rnd := rand.New(rand.NewPCG(1, 1))
	held := 0
	for range 300 {
		release := rnd.IntN(2) == 0
		var chosen []string
		for range rnd.IntN(4) {
			chosen = append(chosen, string(rep.Goods.Lots[rnd.IntN(len(rep.Goods.Lots))].Code))
		}
		if rnd.IntN(5) == 0 {
			chosen = append(chosen, "nowhere")
		}
		var want []*lots.Lot
		for _, l := range slices.Backward(rep.Goods.Lots) {
			fits := l.HeldAt(rep.At) == release && (release && l.Rejected == nil || !release && hereNow(l))
			if slices.Contains(chosen, string(l.Code)) || fits && len(want) < offeredMost {
				want = append(want, l)
			}
			if fits && release {
				held++
			}
		}
		first := func(l *lots.Lot) int { return boolInt(!slices.Contains(chosen, string(l.Code))) }
		slices.SortStableFunc(want, func(a, b *lots.Lot) int { return cmp.Compare(first(a), first(b)) })
		want = want[:min(len(want), max(offeredMost, len(chosen)))]
		if got := w.offered(rep, release, chosen); !slices.Equal(got, want) {
			t.Fatalf("release %v, chosen %v: %d are offered, going through all finds %d", release, chosen, len(got), len(want))
		}
	}
	if held == 0 {
		t.Error("no lot is held")
	}
}

// What is wrong between unlike lots is drawn at the station it is of, whether one is asked for or all.
func TestGapsAreOfTheirStation(t *testing.T) {
	w := floorGoods(t)
	w.writeAt(at("2026-03-06T12:00:00-05:00"), "hank", &records.Receipt{Lot: "C-2", Item: "wheat", Status: records.Conventional, Weight: lb(2000, 118), To: "silo-1", Via: []records.StationCode{"pit", "conveyor"}, Source: "tansy-ridge"})
	rep := w.report()
	gaps := gapsOf(rep)
	n := 0
	rules := map[string]int{}
	for _, f := range rep.Findings {
		if slices.Contains([]string{"gap", "weak-clean-out", "allergen-gap", "together"}, f.Rule) {
			n++
			rules[f.Rule]++
			if !slices.ContainsFunc(gaps.in(rep, f.Subject.Station, 0, rep.At+1), func(x gapIn) bool { return x.finding == f }) {
				t.Errorf("%s is not drawn", f.ID)
			}
		}
	}
	drawn := 0
	for code := range gaps {
		for _, x := range gaps.in(rep, code, 0, rep.At+1) {
			drawn++
			if x.finding.Subject.Station != code || x.from > x.to {
				t.Errorf("%s is drawn at %s from %s to %s", x.finding.ID, code, x.from, x.to)
			}
		}
	}
	if rules["gap"] == 0 || rules["together"] == 0 || drawn != n {
		t.Errorf("%d findings, %d drawn: %v", n, drawn, rules)
	}
}

// The balance of a period is the one that is gathered from nothing, of periods that are over and of one that lasts, while goods come and go.
func TestBalanceIsGathered(t *testing.T) {
	w := bigWorld(t, 9000)
	rnd := rand.New(rand.NewPCG(2, 2))
	first := w.Book.View().State.First(0).Happened
	for i := range 40 {
		if rnd.IntN(3) == 0 {
			when := w.clock.now().Add(-time.Duration(rnd.IntN(200)) * time.Hour)
			w.writeAt(when, bigplant.Crew()[0], &records.Receipt{Lot: records.LotCode(fmt.Sprintf("NEW-%d", i)), Item: "barley", Status: records.Organic, Weight: lb(4000, 121), To: "silo-1", Source: "three-gates", TheirLot: "t"})
		}
		rep := w.report()
		long := int64(rep.At - first)
		from := first + records.Instant(rnd.Int64N(long))
		to := from + records.Instant(rnd.Int64N(long))
		if rnd.IntN(3) == 0 {
			to = rep.At
		}
		got, want := w.balances.of(&w.judge, rep.State.Version(), from, max(from, to)), balance.Gather(rep.State, from, max(from, to))
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("the balance from %s to %s is\n%+v\nfrom nothing\n%+v", from, to, got, want)
		}
		if i == 0 && len(got.Lines) == 0 {
			t.Error("there is nothing in it")
		}
	}
}
