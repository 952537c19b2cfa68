package server

import (
	"bytes"
	"context"
	"encoding/json"
	"math/big"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"grainward/audit"
	"grainward/audit/offer"
	"grainward/cmd/demoplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/lots"
	"grainward/records/memory"
)

// The forms about goods, gone through in node (crew/testdata/forms.mjs), against the book: what they make of answers is taken in as
// it stands, and afterwards the plant's floor is what the answers said and what the page itself shows.

const demoOrigin = "demo.example/journal"

var demoSigner = sync.OnceValue(func() string {
	signer, _, err := ledger.GenerateKey(nil, demoOrigin)
	if err != nil {
		panic(err)
	}
	return signer
})

// demoBook is the demo plant on a morning with malt on the kiln; now can be moved on.
func demoBook(t *testing.T) (b *book.Book, now *records.Instant) {
	t.Helper()
	until := at("2026-07-16T11:00:00-04:00")
	store := memory.New()
	if _, err := demoplant.Write(t.Context(), store, demoOrigin, demoSigner(), 1, until); err != nil {
		t.Fatal(err)
	}
	now = &until
	b, err := book.Open(t.Context(), store, book.Options{Origin: demoOrigin, Signer: demoSigner(), Now: func() records.Instant { return *now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b, now
}

// filled is what forms.mjs printed.
type filled struct {
	Entries []struct {
		Kind     records.Kind    `json:"kind"`
		Fact     json.RawMessage `json:"fact"`
		Happened records.Instant `json:"happened"`
		Sentence string          `json:"sentence"`
		Doubts   []string        `json:"doubts"`
	} `json:"entries"`
	Here map[string]map[records.LotCode]string `json:"here"`
}

// fillForms runs forms.mjs on what is offered now.
func fillForms(t *testing.T, b *book.Book, now records.Instant, how ...string) (f filled) {
	t.Helper()
	node, err := exec.LookPath("node")
	outside(t, "node", err != nil)
	offered, err := json.Marshal(offer.At(audit.At(b.View().State, now)))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "offer.json")
	if err := os.WriteFile(file, offered, 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(node, append([]string{"crew/testdata/forms.mjs", file}, how...)...)
	var says bytes.Buffer
	cmd.Stderr = &says
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, says.String())
	}
	if err := json.Unmarshal(out, &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// admit writes what was filled in as POST /api/entries would, and holds that each fact is in the very form the journal keeps.
func (f filled) admit(t *testing.T, b *book.Book, now *records.Instant) {
	t.Helper()
	for i, e := range f.Entries {
		draft, err := json.Marshal(map[string]any{"id": records.NewEntryID(), "happened": e.Happened, "by": "imke", "kind": e.Kind, "fact": e.Fact})
		if err != nil {
			t.Fatal(err)
		}
		entry, err := records.ParseDraft(draft)
		if err != nil {
			t.Fatalf("entry %d: %v\n%s", i, err, e.Fact)
		}
		*now = max(*now, e.Happened+1)
		if _, err := b.Admit(context.Background(), entry); err != nil {
			t.Fatalf("entry %d: %v\n%s", i, err, e.Fact)
		}
		entry.Recorded = *now
		row, err := records.Format(entry)
		if err != nil {
			t.Fatal(err)
		}
		want := jsontext.Value(bytes.Clone(e.Fact))
		if err := want.Canonicalize(); err != nil {
			t.Fatal(err)
		}
		if !bytes.Contains(row.Bytes, append([]byte(`"fact":`), want...)) {
			t.Errorf("entry %d is not kept as the form made it:\n%s\n%s", i, want, row.Bytes)
		}
	}
}

// sameFloor holds the page's own picture against the plant's floor: lot by lot where they stand apart, in sum where they are mixed,
// since how a mixture is shared out is an estimate of each.
func (f filled) sameFloor(t *testing.T, b *book.Book, now records.Instant) {
	t.Helper()
	floor := audit.Floor(b.View().State, now)
	plan := b.View().State.PlanAt(now)
	for place, here := range f.Here {
		at := lots.Place{Station: records.StationCode(place)}
		if holder, is := strings.CutPrefix(place, "@"); is {
			at = lots.Place{Holder: records.PartnerCode(holder)}
		}
		want := map[records.LotCode]records.Micrograms{}
		var sum, got records.Micrograms
		for _, l := range floor.Lots {
			if m := l.At.Of(at); m != 0 {
				want[l.Code] = m
				sum += m
			}
		}
		for lot, text := range here {
			m, err := strconv.ParseInt(text, 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			got += records.Micrograms(m)
			if s := plan.Station(at.Station); (s == nil || s.Holds != "mixed") && want[lot] != records.Micrograms(m) {
				t.Errorf("%s: the page has %d of %s, the floor %d", place, m, lot, want[lot])
			}
		}
		if got != sum {
			t.Errorf("%s: the page has %d in all, the floor %d", place, got, sum)
		}
	}
}

// NIST Handbook 44, Appendix C: 1 lb is exactly 453.592 37 g.
func pounds(t *testing.T, text string) records.Micrograms {
	t.Helper()
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		t.Fatal(text)
	}
	r.Mul(r, big.NewRat(453_592_370, 1))
	if !r.IsInt() {
		t.Fatal(text + " lb are no whole micrograms")
	}
	return records.Micrograms(r.Num().Int64())
}

func TestGoodsFormsOfADay(t *testing.T) {
	b, now := demoBook(t)
	f := fillForms(t, b, *now, "day")
	if len(f.Entries) != 13 {
		t.Fatal(len(f.Entries))
	}
	before := audit.Floor(b.View().State, *now)
	f.admit(t, b, now)
	f.sameFloor(t, b, *now)
	floor := audit.Floor(b.View().State, *now)
	at := func(station records.StationCode, lot records.LotCode) records.Micrograms {
		l := floor.Find(lot)
		if l == nil {
			t.Fatalf("there is no lot %s", lot)
		}
		return l.At.Of(lots.Place{Station: station})
	}
	for _, c := range []struct {
		station records.StationCode
		lot     records.LotCode
		lb      string
	}{
		{"floor-1", "IN260716-B1", "2000"}, {"kiln", "SM260708-BG", "0"}, {"malt-bin-1", "SM260708-BK", "0"}, {"clean-bin-1", "SM260708-BM", "0"},
		{"warehouse", "SM260708-B-1", "5500"}, // 120 bags of 55 lb, 20 gone
		{"by-product", "BP260715-B", "0"}, {"by-product", "SCR260716-1", "340"},
	} {
		if got, want := at(c.station, c.lot), pounds(t, c.lb); got != want {
			t.Errorf("%s at %s: %d µg, not the %d of %s lb", c.lot, c.station, got, want, c.lb)
		}
	}
	if l := floor.Find("IN260716-B1"); l.Entered != pounds(t, "40000.5") || l.Receipt == nil || l.Receipt.ReleasedBy != "Edda Rourke" || l.Receipt.LookedUp.String() != "2026-07-16" || *l.Receipt.Theirs != mass("40020 lb") {
		t.Errorf("%+v", l.Receipt)
	}
	if got, want := at("silo-1", "IN260716-B1"), pounds(t, "37990")-pounds(t, "340"); got != want {
		t.Errorf("silo 1 after the count and the purge: %d, not %d", got, want)
	}
	bags := floor.Find("SM260708-B-1")
	if o := bags.Outputs[0]; o.Bags != 120 || o.BagNet.String() != "55 lb" || o.BestBy.String() != "2027-01-16" || o.KilnDate.String() != "2026-07-16" {
		t.Errorf("%+v", o)
	}
	if got := bags.At.Of(lots.Place{Holder: "saltgate"}); got != pounds(t, "935") { // 20 bags in, 3 on
		t.Errorf("with the warehouse: %d", got)
	}
	if l := floor.Find("SM260708-B-2"); !l.HeldAt(*now) || l.Samples != 6 {
		t.Errorf("held %t, %d samples", l.HeldAt(*now), l.Samples)
	}
	// What the kiln began with is what the floor had, and it began when it came there.
	kilning := floor.Find("SM260708-BK").Origin.Fact.(*records.Process)
	if m, _ := kilning.Inputs[0].Weight.Mass.Micrograms(); m != before.Find("SM260708-BG").At.Of(lots.Place{Station: "kiln"}) || kilning.Started != since(before, "kiln", "SM260708-BG") {
		t.Errorf("%+v", kilning)
	}
	// The page said so beforehand, and the audit says so afterwards.
	last := f.Entries[len(f.Entries)-1]
	for _, word := range []string{"SM260708-B-2 is held: musty", "20,000 lb, and by the records 8,394 lb", "would go out as 100 % organic"} {
		if !strings.Contains(strings.Join(last.Doubts, "\n"), word) {
			t.Errorf("not doubted: %q in %q", word, last.Doubts)
		}
	}
	found := map[string]bool{}
	for _, fd := range audit.At(b.View().State, *now).Findings {
		if fd.Subject.Lot == "SM260708-B-2" {
			found[fd.Rule] = true
		}
	}
	for _, rule := range []string{"stopped-shipped", "short", "status-raised"} {
		if !found[rule] {
			t.Errorf("the audit has no %s: %v", rule, found)
		}
	}
	for _, e := range f.Entries[:3] {
		t.Log(e.Sentence)
	}
	if s := f.Entries[0].Sentence; s != "40,000.5 lb of Barley from Hollow Ash Farm into Silo 1, as lot IN260716-B1" {
		t.Error(s)
	}
}

func mass(text string) records.Mass {
	m, err := records.ParseMass(text)
	if err != nil {
		panic(err)
	}
	return m
}

func since(f *lots.Floor, station records.StationCode, lot records.LotCode) records.Instant {
	for c := range f.Contacts[station].All() {
		if f.Lots[c.Lot].Code == lot && c.To == lots.Forever {
			return c.From
		}
	}
	return 0
}

// Whatever is chosen and typed, the fact is taken in, and the page's picture and the plant's floor go the same way.
func TestGoodsFormsAtRandom(t *testing.T) {
	for seed := 1; seed <= 3; seed++ {
		b, now := demoBook(t)
		f := fillForms(t, b, *now, "random", strconv.Itoa(seed*7919), "250")
		kinds := map[records.Kind]int{}
		for _, e := range f.Entries {
			kinds[e.Kind]++
		}
		if len(kinds) != 8 {
			t.Errorf("only %v were written", kinds)
		}
		if _, err := b.PutBlob(t.Context(), []byte("a drawing")); err != nil {
			t.Fatal(err)
		}
		f.admit(t, b, now)
		f.sameFloor(t, b, *now)
	}
}

// Best-by days are counted on the page as the audit counts them: for every day of four years, and some months.
func TestBestByOnThePage(t *testing.T) {
	node, err := exec.LookPath("node")
	outside(t, "node", err != nil)
	var ask [][2]any
	var want []string
	for d := calendar.DateOf(at("2026-01-01T12:00:00Z").Time(), time.UTC); len(want) < 4*365*4; d++ {
		for _, months := range []int{1, 3, 6, 24} {
			ask, want = append(ask, [2]any{d.String(), months}), append(want, d.AddMonths(months).String())
		}
	}
	list, err := json.Marshal(ask)
	if err != nil {
		t.Fatal(err)
	}
	b, now := demoBook(t)
	offered, err := json.Marshal(offer.At(audit.At(b.View().State, *now)))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "offer.json")
	if err := os.WriteFile(file, offered, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(node, "crew/testdata/forms.mjs", file, "days", string(list)).Output()
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(got, want) {
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("%v: the page has %s, the plant %s", ask[i], got[i], want[i])
			}
		}
	}
}
