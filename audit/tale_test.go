package audit

import (
	"encoding/binary"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// A tale is a small history about goods, told from one well-kept week. A test spoils the week in one way and says which
// findings come of it: those and no others.

const talePlan = `grainward: 1
plant: {name: Rook End Maltings, address: '3 Rook End, Alder Bend, New York', zone: America/New_York, units: lb, languages: [en], since: 2025-01-01}
profile: {allergens: [US], lateEntry: 12h}
stations:
  - {code: silo, title: Silo, kind: silo, holds: mixed}
  - {code: bin, title: Bin, kind: bin, holds: separate}
  - {code: warehouse, title: {en: Warehouse, es: Almacén}, kind: store, holds: separate}
  - {code: shed, title: Shed, kind: store, holds: separate}
  - {code: heap, title: Heap, kind: store, holds: mixed}
  - {code: bagger, title: Bagger, kind: bagger, holds: passes}
grades: [{code: swept, title: Swept}]
items:
  - {code: barley, title: Barley, stage: raw}
  - {code: water, title: Water, stage: raw}
  - {code: wheat-flour, title: Wheat flour, stage: finished, allergens: [wheat], bestBy: {months: 12, from: milling date}}
  - {code: rootlets, title: Rootlets, stage: by-product}
  - code: pale-malt
    title: Pale malt
    stage: finished
    bestBy: {months: 6, from: kiln date}
    retained: {min: 5, max: 10}
    certificate:
      - {name: Moisture, unit: "%", typical: 3.8, limits: {min: 3.0, max: 4.5}}
      - {name: Colour, unit: SRM, typical: 2.1, limits: {min: 1.6, max: 3.0}}
      - {name: Friability, unit: "%"}
documents:
  - {code: farm-organic, title: Organic certificate of Hazel Farm, of: partner, about: hazel-farm}
  - {code: mill-organic, title: Organic certificate of Cole Mill, of: partner, about: cole-mill}
partners:
  - {code: hazel-farm, name: Hazel Farm, address: '1 Hazel Road', roles: [supplier], certificates: [farm-organic], contacts: [{name: Ida, phone: 555-0100}]}
  - {code: cole-mill, name: Cole Mill, address: '2 Cole Road', roles: [supplier], certificates: [mill-organic], contacts: [{name: Abe, phone: 555-0101}]}
  - {code: broker, name: Grain Desk, address: '4 Desk Road', roles: [supplier], contacts: [{name: Jo, phone: 555-0102}]}
  - {code: pig-farm, name: Sow Hill, address: '5 Sow Hill', roles: [feed-farm], contacts: [{name: Una, phone: 555-0103}]}
  - {code: hauler, name: Wain Haulage, address: '6 Wain Road', roles: [carrier], contacts: [{name: Desk, phone: 555-0104}]}
  - {code: brewer, name: Kettle Row, address: '7 Kettle Row', roles: [customer], contacts: [{name: Sam, phone: 555-0105}]}
  - {code: baker, name: Ash Oven, address: '8 Ash Lane', roles: [customer], contacts: [{name: Pat, email: pat@ash.example}]}
  - {code: depot, name: Quay Depot, address: '9 Quay', roles: [warehouse], contacts: [{name: Gate, phone: 555-0106}]}
  - {code: lab, name: Marl Laboratory, address: '10 Marl Hill', roles: [laboratory], contacts: [{name: Desk, phone: 555-0107}]}
people: [{code: nora, name: Nora, initials: N, role: lead}]
`

// told is a fact and when, on the clock of the plant; nil facts are left out.
type told struct {
	at   string
	fact records.Fact
}

// week is the well-kept week. Mutate what is to go wrong.
type week struct {
	certificate *records.Document
	receipt     *records.Receipt
	malting     *records.Process
	bagging     *records.Process
	result      *records.Result
	sample      *records.Sample
	feed        *records.Handover
	sale        *records.Handover
	extra       []told
	now         string
}

func lb(n string) records.Mass {
	m, err := records.ParseMass(n + " lb")
	if err != nil {
		panic(err)
	}
	return m
}

func pound(n string) records.Weight    { return records.Weight{Mass: lb(n)} }
func massOf(n string) *records.Mass    { m := lb(n); return &m }
func yes() *bool                       { b := true; return &b }
func no() *bool                        { b := false; return &b }
func day(text string) *calendar.Date   { d, err := calendar.ParseDate(text); must(err); return &d }
func dec(text string) *records.Decimal { d, err := records.ParseDecimal(text); must(err); return &d }
func must(err error) {
	if err != nil {
		panic(err)
	}
}

func measure(name, value, unit string) records.Measured {
	return records.Measured{Name: name, Value: records.Quantity{Value: *dec(value), Unit: unit}}
}

// goodWeek is week n of a well-kept plant, with lots of its own.
func goodWeek(n int) *week {
	monday := *day("2025-03-03") + calendar.Date(7*n)
	lot := func(prefix string) records.LotCode { return records.LotCode(fmt.Sprintf("%s%d", prefix, n)) }
	kilned := monday + 2
	best := kilned.AddMonths(6)
	truck := records.Vehicle{Carrier: "hauler", Number: "T-7", Clean: yes(), Seals: []records.Seal{{Papers: "S100", Found: "s100 "}}}
	return &week{
		certificate: &records.Document{Code: "farm-organic", Title: "Certificate", Type: "certificate", Subject: records.Subject{Of: "partner", Code: "hazel-farm"}, From: day("2025-01-01"), To: day("2026-12-31")},
		receipt: &records.Receipt{Lot: lot("B"), Item: "barley", Status: records.Organic, Weight: pound("20000"), Theirs: massOf("20100"), To: "silo", Source: "hazel-farm", TheirLot: "HF-" + string(lot("")),
			Variety: "Odessa", Packaging: "bulk", LastCertified: "hazel-farm", Certificate: "farm-organic", LookedUp: &monday, Vehicle: truck, Papers: []string{"BOL 1"}, ReleasedBy: "Ida"},
		malting: &records.Process{Process: "malting", Station: "bin", Inputs: []records.Input{{From: "silo", Weight: pound("20000"), Last: true}}, Outputs: []records.Output{
			{Lot: lot("M"), Item: "pale-malt", Status: records.Organic, To: "bin", Weight: pound("16500"), KilnDate: &kilned},
			{Lot: lot("R"), Item: "rootlets", Status: records.Organic, To: "shed", Weight: pound("600"), Container: "tote 4"}}},
		bagging: &records.Process{Process: "bagging", Station: "bagger", Inputs: []records.Input{{Lot: lot("M"), From: "bin", Weight: pound("16500"), Last: true}}, Outputs: []records.Output{
			{Lot: lot("P"), Item: "pale-malt", Status: records.Organic, To: "warehouse", Weight: pound("16500"), Bags: 300, BagNet: massOf("55"), KilnDate: &kilned, BestBy: &best}}},
		result: &records.Result{Lot: lot("P"), Values: []records.Measured{measure("Moisture", "4.1", "%"), measure("Friability", "88", "%")}},
		sample: &records.Sample{Lot: lot("P"), Act: "kept", Number: 5},
		feed: &records.Handover{Lot: lot("R"), From: "shed", To: "pig-farm", Use: records.Feed, Weight: pound("600"), Status: records.Organic, Label: "barley malt sprouts", Container: "tote 4", Checked: yes(),
			Vehicle: records.Vehicle{Carrier: "hauler"}, Received: &records.Acceptance{By: "Una", Mass: massOf("603")}},
		sale: &records.Handover{Lot: lot("P"), From: "warehouse", To: "brewer", Use: records.Sale, Weight: pound("16500"), Bags: 300, Status: records.Organic,
			Vehicle: truck, Received: &records.Acceptance{By: "Sam"}},
	}
}

// tell gives the week's facts at their times, n weeks on.
func (w *week) tell(n int) (out []told) {
	at := func(days int, clock string) string {
		return (*day("2025-03-03") + calendar.Date(7*n+days)).String() + " " + clock
	}
	add := func(when string, f records.Fact, there bool) {
		if there {
			out = append(out, told{when, f})
		}
	}
	add(at(-1, "08:00"), w.certificate, w.certificate != nil)
	add(at(0, "09:00"), w.receipt, w.receipt != nil)
	add(at(2, "10:00"), w.malting, w.malting != nil)
	add(at(3, "10:00"), w.bagging, w.bagging != nil)
	add(at(3, "15:00"), w.result, w.result != nil)
	add(at(3, "16:00"), w.sample, w.sample != nil)
	add(at(4, "09:00"), w.feed, w.feed != nil)
	add(at(4, "10:00"), w.sale, w.sale != nil)
	return append(out, w.extra...)
}

// teller applies facts to a state.
type teller struct {
	t  testing.TB
	st *state.State
	p  *plan.Plan
}

func newTeller(t testing.TB) *teller {
	t.Helper()
	p, err := plan.Parse([]byte(talePlan))
	if err != nil {
		t.Fatal(err)
	}
	x := &teller{t: t, st: state.New(), p: p}
	x.tell(told{"2025-01-01 06:00", &records.Adoption{Text: talePlan}})
	return x
}

func (x *teller) instant(text string) records.Instant {
	x.t.Helper()
	at, err := time.ParseInLocation("2006-01-02 15:04", text, x.p.Location())
	if err != nil {
		x.t.Fatal(err)
	}
	return records.InstantOf(at)
}

// nthID is a version 7 UUID for the nth entry.
func nthID(n int) (id records.EntryID) {
	binary.BigEndian.PutUint32(id[12:], uint32(n)+1)
	id[6], id[8] = 0x70, 0x80
	return id
}

func (x *teller) tell(all ...told) {
	x.t.Helper()
	for _, f := range all {
		row, _ := records.RowOf(f.fact.Kind())
		at := x.instant(f.at)
		e := records.Entry{ID: nthID(int(x.st.Size())), Happened: at, Recorded: at, By: "nora", Meaning: row.Meanings[0], Kind: f.fact.Kind(), Fact: f.fact}
		if _, plan := f.fact.(*records.Adoption); !plan { // the hash of the plan's text is not what is tested here
			if err := records.CheckShape(e); err != nil {
				x.t.Fatalf("the tale is badly told: %v", err)
			}
		}
		x.st.Apply(x.st.Size(), e)
	}
}

func (x *teller) floor(now string) *lots.Floor { return lots.Fold(x.st, x.instant(now), nil) }

// goodsFindings are the findings of the rules about custody and about what becomes of lots.
func goodsFindings(st *state.State, f *lots.Floor) (out []*Finding) {
	asked := map[string]bool{}
	for _, r := range slices.Concat(custodyRules(), stockRules()) {
		asked[r.Code] = true
	}
	_, _, come := new(goodsAuditor).goods(st, nil, f)
	for _, x := range come {
		if asked[x.found.Rule] {
			out = append(out, x.found)
		}
	}
	return out
}

// told1 is what a spoilt first week shows: each finding as its rule and severity, in order of name. It also holds every
// finding to what all findings must be.
func told1(t *testing.T, spoil func(w *week)) (out []string, all []*Finding) {
	t.Helper()
	w := goodWeek(0)
	w.now = "2025-03-10 09:00"
	spoil(w)
	x := newTeller(t)
	x.tell(w.tell(0)...)
	all = goodsFindings(x.st, x.floor(w.now))
	ids := map[string]bool{}
	for _, f := range all {
		out = append(out, f.Rule+" "+f.Severity.String())
		if ids[f.ID] {
			t.Errorf("two findings have the id %s", f.ID)
		}
		ids[f.ID] = true
		if len(f.Evidence) == 0 || f.When == 0 {
			t.Errorf("%s names no entries, or no moment", f.ID)
		}
		for _, lang := range []string{"en", "es"} {
			s := f.Sentence(lang)
			if strings.ContainsAny(s, "{}") || strings.Contains(s, "complian") || strings.Contains(s, "  ") {
				t.Errorf("%s in %s: %s", f.ID, lang, s)
			}
		}
	}
	slices.Sort(out)
	return out, all
}
