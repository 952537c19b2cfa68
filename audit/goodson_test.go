package audit_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots/lotstest"
	"grainward/records/plan"
	"grainward/records/state"
)

const everyGoodsPlan = testhof + `  - {code: heap, title: Heap, kind: store, holds: separate}
  - {code: pallets, title: Pallets, kind: store, holds: separate, packaged: true}
grades: [{code: swept, title: Swept}, {code: washed, title: Washed}]
changeovers:
  - {from: organic, to: conventional, grade: none}
  - {from: conventional, to: organic, grade: washed}
  - {from: conventional, to: organic, grade: swept, stations: [conveyor]}
agents: [{code: acid, title: Acid, organic: 'no'}, {code: lye, title: Lye, organic: conditions, check: rinsed}]
items:
  - {code: barley, title: Barley, stage: raw}
  - {code: rootlets, title: Rootlets, stage: by-product}
  - code: malt
    title: Malt
    stage: finished
    bestBy: {months: 6, from: kiln date}
    retained: {min: 2, max: 4}
    losses: [{process: kilning, dry: {min: 1, max: 30}}, {process: malting, dry: {min: 2, max: 40}}]
    certificate: [{name: Moisture, unit: "%", typical: 3.8, limits: {min: 3.0, max: 4.5}}]
documents: [{code: farm-organic, title: Organic certificate, of: partner, about: farm}]
tasks:
  - {code: sweep, title: Sweep, family: clean-out, stations: [conveyor, silo, floor, heap], grade: swept, who: crew, agents: [acid, lye]}
  - {code: wash, title: Wash, family: clean-out, stations: [conveyor, silo, floor, heap], grade: washed, who: crew}
partners:
  - {code: farm, name: Test Farm, roles: [supplier], certificates: [farm-organic]}
  - {code: shop, name: Test Shop, roles: [customer]}
people: [{code: ana, name: Ana Test, initials: AT, role: lead}]
`

// goodsDrawer draws what happens to goods, with as much at fault as in order.
type goodsDrawer struct {
	t *rapid.T
	n int
}

func (d *goodsDrawer) id(n int) records.EntryID {
	return records.EntryID{0, 0, 0, 0, 0, 1, 0x70, 0, 0x80, 0, 0, 0, 0, 0, byte(n >> 8), byte(n)}
}

func (d *goodsDrawer) entry(at records.Instant, f records.Fact) records.Entry {
	d.n++
	return records.Entry{ID: d.id(d.n), Happened: at, Recorded: at, By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f}
}

func (d *goodsDrawer) int(from, to int) int { return rapid.IntRange(from, to).Draw(d.t, "n") }
func (d *goodsDrawer) one(in int) bool      { return d.int(1, in) == 1 }

func (d *goodsDrawer) lot() records.LotCode {
	return pick2(d, []records.LotCode{"A", "B", "C", "D", "E", "W", "R"})
}

func pick2[T any](d *goodsDrawer, of []T) T { return rapid.SampledFrom(of).Draw(d.t, "one of") }

func (d *goodsDrawer) station() records.StationCode {
	return pick2(d, []records.StationCode{"silo", "silo", "floor", "heap", "pallets"})
}

func (d *goodsDrawer) weight() records.Weight {
	w := inKg(d.int(0, 30))
	if !d.one(5) {
		m := records.NewDecimal(int64(d.int(30, 450)), 1)
		w.Moisture = &m
	}
	return w
}

func (d *goodsDrawer) kind(l records.LotCode) (records.ItemCode, records.Status) {
	switch {
	case l == "R":
		return "rootlets", records.Organic
	case l >= "D":
		return "malt", pick2(d, []records.Status{records.Organic, records.Organic, records.MadeWith})
	case l == "C" || d.one(20):
		return "barley", records.Conventional
	}
	return "barley", records.Organic
}

func (d *goodsDrawer) output() records.Output {
	l := d.lot()
	item, status := d.kind(l)
	o := records.Output{Lot: l, Item: item, Status: status, To: d.station(), Weight: d.weight()}
	if d.one(3) {
		o.Bags, o.BagNet = 3, &records.Mass{Value: records.NewDecimal(5, 0), Unit: "kg"}
	}
	if d.one(2) {
		day := calendar.Date(20500 + d.int(0, 20))
		o.KilnDate = &day
	}
	if d.one(8) {
		o.Disposal = "spoilt"
	}
	return o
}

func (d *goodsDrawer) via() []records.StationCode {
	return slices.Repeat([]records.StationCode{"conveyor"}, d.int(0, 1))
}

func (d *goodsDrawer) fact(at records.Instant) records.Fact {
	switch d.int(0, 14) {
	case 0, 1, 2:
		l := d.lot()
		item, status := d.kind(l)
		return &records.Receipt{Lot: l, Item: item, Status: status, To: d.station(), Via: d.via(), Source: "farm", Weight: d.weight(), Certificate: pick2(d, []records.DocumentCode{"farm-organic", ""})}
	case 3:
		return &records.Move{Lot: d.lot(), From: d.station(), To: d.station(), Weight: d.weight(), Via: d.via(), Last: d.one(3)}
	case 4, 5, 6:
		p := &records.Process{Process: pick2(d, []string{"kilning", "bagging", "blending"}), Station: d.station(), Started: at - records.Instant(d.int(0, 5))*60_000, Via: d.via()}
		for range d.int(1, 2) {
			p.Inputs = append(p.Inputs, records.Input{Lot: pick2(d, []records.LotCode{d.lot(), ""}), From: d.station(), Weight: d.weight(), Last: d.one(3)})
		}
		for range d.int(1, 2) {
			p.Outputs = append(p.Outputs, d.output())
		}
		return p
	case 7:
		h := &records.Handover{Lot: d.lot(), From: d.station(), To: "shop", Use: pick2(d, []records.Use{records.Sale, records.Feed, records.ForTest}), Weight: d.weight(), Status: records.Organic, Last: d.one(3)}
		if d.one(2) {
			h.Confirms = d.id(d.int(1, 40))
		}
		return h
	case 8:
		return &records.Count{Station: d.station(), Found: []records.Found{{Lot: d.lot(), Weight: d.weight()}}[:d.int(0, 1)]}
	case 9:
		return &records.Hold{Lots: []records.LotCode{d.lot()}, Why: "x"}
	case 10:
		return &records.Release{Lots: []records.LotCode{d.lot()}, Rejected: d.one(2), Why: "x"}
	case 11:
		return &records.Result{Lot: d.lot(), Values: []records.Measured{{Name: "Moisture", Value: records.Quantity{Value: records.NewDecimal(int64(d.int(2, 6)), 0), Unit: "%"}},
			{Name: "DON", Value: records.Quantity{Value: records.NewDecimal(int64(d.int(0, 12)), 0), Unit: "ppm"}}}}
	case 12:
		return &records.Sample{Lot: d.lot(), Act: pick2(d, []string{"kept", "discarded"}), Number: d.int(1, 3)}
	case 13:
		return &records.Purge{Stations: []records.StationCode{"conveyor"}, Lot: d.lot(), From: d.station(), Weight: d.weight(), Became: d.output()}
	}
	s := &records.Signoff{Task: pick2(d, []records.TaskCode{"sweep", "wash"}), Station: pick2(d, []records.StationCode{"conveyor", "silo", "floor", "heap"}), Outcome: pick2(d, []records.Outcome{records.Passed, records.Passed, records.Failed}), Started: at - records.Instant(d.int(0, 3))*60_000}
	if d.one(3) {
		s.Agents = []records.AgentUse{{Agent: pick2(d, []records.AgentCode{"acid", "lye"})}}
	}
	return s
}

// journal is the entries in the order of writing: happened in any order, with corrections and withdrawals of old ones, plans and
// papers in between.
func (d *goodsDrawer) journal() (all []records.Entry) {
	apart := strings.Replace(everyGoodsPlan, "kind: silo, holds: mixed", "kind: silo, holds: separate", 1)
	other := strings.NewReplacer("max: 4.5", "max: 5.5", "months: 6", "months: 1", "{from: organic, to: conventional, grade: none}", "{from: organic, to: conventional, grade: swept}").Replace(everyGoodsPlan)
	all = append(all, d.entry(minute(-60), adoptionOf(everyGoodsPlan)))
	tidy := d.one(2)
	for k := range d.int(1, 40) {
		at := minute(d.int(0, 60))
		if tidy && !d.one(5) {
			at = minute(2 * k)
		}
		switch c := d.int(0, 20); {
		case c == 0:
			all = append(all, d.entry(at, adoptionOf(pick2(d, []string{apart, other}))))
		case c == 1:
			from := calendar.Date(20500 + d.int(-400, 10))
			all = append(all, d.entry(at, &records.Document{Code: "farm-organic", Title: "Paper", From: &from}))
		case c <= 4 && len(all) > 1:
			old := all[d.int(1, len(all)-1)]
			fix := &records.Correct{Target: old.ID, Reason: "x"}
			if fix.Withdraw = old.Kind == records.KindCorrect || d.one(2); !fix.Withdraw {
				fix.With = &records.Replacement{Kind: old.Kind, Happened: minute(d.int(0, 60)), Fact: old.Fact}
				if f := d.fact(old.Happened); f.Kind() == old.Kind {
					fix.With.Fact = f
				}
			}
			all = append(all, d.entry(minute(90), fix))
		default:
			all = append(all, d.entry(at, d.fact(at)))
		}
	}
	return all
}

// told is all that a report says, as text.
func told(t interface{ Fatal(...any) }, r *audit.Report) string {
	g := r.Goods
	text := ""
	for _, f := range r.Findings {
		b, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		text += string(b) + "\n"
	}
	text += lotstest.Dump(g.Floor) + fmt.Sprintf("%v\n%v\n%v\n%d", g.Segregation.Models, g.Balance.Steps(), g.Balance.Whole(), len(g.Balance.Bags()))
	apart := g.Segregation.All()
	for _, a := range apart.Arrivals {
		text += fmt.Sprintf("\narrival %s %d %v after %d %d evidence %v weak %v", a.Station, a.Lot, a.Contact.From, a.After, a.Since, a.Evidence != nil, a.Weak != nil)
	}
	for _, x := range apart.Together {
		text += fmt.Sprintf("\ntogether %s %d %d %d %d", x.Station, x.A, x.B, x.From, x.To)
	}
	for _, x := range apart.Occupied {
		text += fmt.Sprintf("\noccupied %s %d", x.CleanOut.Record.ID, x.Lot)
	}
	for i := range g.Lots {
		if x := g.Segregation.Broken[i]; x != nil {
			text += fmt.Sprintf("\nbroken %d %d %s %d %t", i, x.When, x.By.ID, x.Other, x.Own)
		}
	}
	return text
}

// An auditor that goes on from what it has judged of goods gives at each step what judging from nothing gives, and no report changes
// once it was given, while others read it.
func TestGoodsGoOn(t *testing.T) {
	t.Run("as it runs", goodsGoOn)
	t.Run("settling at once", func(t *testing.T) {
		audit.CutShorter(t)
		goodsGoOn(t)
	})
}

func goodsGoOn(t *testing.T) {
	if _, err := plan.Parse([]byte(everyGoodsPlan)); err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	defer func() { t.Log(seen) }() // a rule that no history showed was not tested
	rapid.Check(t, func(t *rapid.T) {
		d := &goodsDrawer{t: t}
		st, auditor := state.New(), new(audit.Auditor)
		var readers sync.WaitGroup
		defer readers.Wait()
		at := minute(100)
		for i, e := range d.journal() {
			st.Apply(st.Size(), e)
			if d.one(3) {
				continue // several at once
			}
			switch {
			case d.one(6):
				at = minute(d.int(0, 80))
			case d.one(6):
				at = minute(d.int(1, 40) * 24 * 60)
			case d.one(3):
				at = minute(100)
			}
			snapshot := st.Snapshot()
			got, want := auditor.At(snapshot, at), audit.At(snapshot, at)
			is, should := told(t, got), told(t, want)
			if is != should || !reflect.DeepEqual(got.Findings, want.Findings) {
				var b strings.Builder
				for _, r := range d.shown(snapshot) {
					b.WriteString(r + "\n")
				}
				t.Fatalf("after position %d at %s%s\n%s", i, at, differ(strings.Split(is, "\n"), strings.Split(should, "\n")), b.String())
			}
			for _, f := range want.Findings {
				seen[f.Rule]++
			}
			seen["cleanings"] += cleaned(t, got, minute(d.int(0, 60)), minute(d.int(0, 120)))
			readers.Go(func() {
				if again := told(t, got); again != is {
					t.Errorf("the report after position %d became\n%s\nand was\n%s", i, again, is)
				}
			})
			if len(want.Findings) > 0 && d.one(4) {
				f := want.Findings[d.int(0, len(want.Findings)-1)]
				st.Apply(st.Size(), d.entry(minute(99), &records.Answer{Finding: f.ID, Closes: d.one(2)}))
			}
		}
	})
}

// cleaned holds the clean-outs of every station against going through all sign-offs, and says how many there were.
func cleaned(t *rapid.T, rep *audit.Report, from, to records.Instant) (n int) {
	want := map[records.StationCode][]*state.Record{}
	for _, r := range rep.State.Kind(records.KindSignoff).All() {
		f, p := r.Fact.(*records.Signoff), rep.State.PlanAt(r.Happened)
		if p != nil && p.Task(f.Task) != nil && p.Task(f.Task).Grade != "" && from <= r.Happened && r.Happened <= min(to, rep.At) {
			want[f.Station] = append(want[f.Station], r)
		}
	}
	for _, code := range []records.StationCode{"silo", "floor", "heap", "pallets", "conveyor", "nowhere"} {
		got := map[*state.Record]bool{}
		for _, c := range rep.Goods.Cleanings(rep.State, code, from, to) {
			if !c.Purge {
				got[c.Record] = true
			}
		}
		for _, r := range want[code] {
			if !got[r] {
				t.Fatalf("the clean-out of %s at %s is not among those from %s to %s", code, r.Happened, from, to)
			}
		}
		if n += len(got); len(got) != len(want[code]) {
			t.Fatalf("%d clean-outs of %s, going through all finds %d", len(got), code, len(want[code]))
		}
	}
	return n
}

func (d *goodsDrawer) shown(st *state.State) (lines []string) {
	for pos := range st.Size() {
		row, err := records.Format(st.First(pos).Entry)
		if err != nil {
			d.t.Fatal(err)
		}
		if text := string(row.Bytes); len(text) < 2000 {
			lines = append(lines, text)
		}
	}
	return lines
}
