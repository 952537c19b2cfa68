package book_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/memory"
)

const goodsPlan = planText + `items:
  - {code: barley, title: Barley, stage: raw}
  - {code: malt, title: Malt, stage: finished}
instruments:
  - {code: truck-scale, title: Truck scale, station: floor-1, calibration: weigh, holds: 24h}
documents:
  - {code: farm-organic, title: Organic certificate, of: partner, about: farm}
partners:
  - {code: farm, name: Test Farm, roles: [supplier], certificates: [farm-organic]}
  - {code: brewery, name: Test Brewery, roles: [customer]}
`

// openGoods is open with a plan that knows items, partners, an instrument and a document.
func openGoods(t *testing.T) *book.Book {
	text := strings.Replace(goodsPlan, "people:\n", `  - {code: weigh, title: Weigh, family: calibration, stations: [floor-1], who: crew}
people:
`, 1)
	b, clock := booktest.Open(t, memory.New(), noon.Add(-time.Hour))
	if _, err := b.Admit(context.Background(), adoption(text, noon.Add(-time.Hour))); err != nil {
		t.Fatal(err)
	}
	clock.At(noon)
	return b
}

func entryOf(f records.Fact) records.Entry {
	row, _ := records.RowOf(f.Kind())
	return records.Entry{ID: records.NewEntryID(), Happened: noon, By: "ana", Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f}
}

func kg(text string) records.Weight {
	return records.Weight{Mass: must(records.ParseMass(text + " kg"))}
}

// goodFacts are one of each kind about goods, naming everything that can be named; new at each call.
func goodFacts() map[records.Kind]records.Fact {
	w := kg("100")
	w.Scale, w.Meter = "truck-scale", "truck-scale"
	out := func() records.Output {
		return records.Output{Lot: "M1", Item: "malt", Status: records.Organic, To: "floor-2", Weight: w}
	}
	mass := must(records.ParseMass("1 kg"))
	facts := map[records.Kind]records.Fact{}
	for _, f := range []records.Fact{
		&records.Receipt{Lot: "R1", Item: "barley", Status: records.Organic, Weight: w, To: "floor-1", Via: []records.StationCode{"floor-2"}, Source: "farm", LastCertified: "farm",
			Certificate: "farm-organic", Vehicle: records.Vehicle{Carrier: "farm"}},
		&records.Move{Lot: "R1", From: "floor-1", To: "floor-2", Via: []records.StationCode{"floor-1"}, Weight: w},
		&records.Process{Process: "kilning", Station: "floor-1", Inputs: []records.Input{{Lot: "R1", From: "floor-2", Weight: w}}, Outputs: []records.Output{out()}, Via: []records.StationCode{"floor-2"}},
		&records.Handover{Lot: "M1", From: "floor-2", To: "brewery", Use: records.Sale, Weight: w, Via: []records.StationCode{"floor-1"}, Vehicle: records.Vehicle{Carrier: "farm"}},
		&records.Count{Station: "floor-1", Found: []records.Found{{Lot: "R1", Weight: w}}},
		&records.Hold{Lots: []records.LotCode{"M1"}, Why: "x"},
		&records.Release{Lots: []records.LotCode{"M1"}, Why: "x"},
		&records.Purge{Stations: []records.StationCode{"floor-1"}, Lot: "R1", From: "floor-2", Weight: w, Became: out()},
		&records.Result{Lot: "M1", Laboratory: "farm", Values: []records.Measured{{Name: "moisture"}}, Document: "farm-organic"},
		&records.Sample{Lot: "M1", Act: "kept", Number: 1, From: "floor-2", Mass: &mass},
		&records.Drill{Drill: "d", Step: "start", Subject: "lot M1", Why: "x", Lead: "ana"},
	} {
		facts[f.Kind()] = f
	}
	return facts
}

// Everything that is known is taken in; and so is what is known of no lot: it is judged, not refused.
func TestGoodsAdmitted(t *testing.T) {
	for kind, f := range goodFacts() {
		t.Run(string(kind), func(t *testing.T) {
			b := openGoods(t)
			e := entryOf(f) // the first that is ever heard of its lot
			if _, err := b.Admit(context.Background(), e); err != nil {
				t.Fatal(err)
			}
			if got := b.View().State.Kind(kind).Len(); got != 1 {
				t.Errorf("%d of kind %s in the state", got, kind)
			}
			// Put right and withdrawn by the same path.
			fix := entryOf(&records.Correct{Target: e.ID, Reason: "x", With: &records.Replacement{Kind: kind, Fact: goodFacts()[kind], Happened: noon.Add(-time.Minute)}})
			if _, err := b.Admit(context.Background(), fix, entryOf(&records.Correct{Target: fix.ID, Reason: "x", Withdraw: true}), entryOf(&records.Correct{Target: e.ID, Reason: "x", Withdraw: true})); err != nil {
				t.Fatal(err)
			}
			if got := b.View().State.Kind(kind).Len(); got != 0 {
				t.Errorf("withdrawn, and %d in the state", got)
			}
		})
	}
	if kinds := len(goodFacts()); kinds != 11 {
		t.Errorf("%d kinds are tried, want 11", kinds)
	}
}

func TestGoodsRefused(t *testing.T) {
	b := openGoods(t)
	sale := entryOf(goodFacts()[records.KindHandover])
	confirmation := entryOf(&records.Handover{Confirms: sale.ID, To: "brewery", Received: &records.Acceptance{By: "x"}})
	receipt := entryOf(goodFacts()[records.KindReceipt])
	must(b.Admit(context.Background(), sale, confirmation, receipt))
	confirming := func(id records.EntryID) records.Fact {
		return &records.Handover{Confirms: id, To: "brewery", Received: &records.Acceptance{By: "x"}}
	}
	self := entryOf(&records.Handover{To: "brewery", Received: &records.Acceptance{By: "x"}})
	self.Fact.(*records.Handover).Confirms = self.ID
	nobody := records.NewEntryID()
	const station, partner, noInstrument = "floor-1, floor-2", "farm, brewery", "did you mean truck-scale?"
	far := kg("1")
	far.Scale, far.Meter = "truk-scale", "truck-scala"
	cases := map[string]struct {
		spoil func(map[records.Kind]records.Fact) records.Fact
		says  []string
	}{
		"receipt": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindReceipt].(*records.Receipt)
			f.Item, f.To, f.Via[0], f.Source, f.LastCertified, f.Certificate, f.Vehicle.Carrier, f.Weight = "barly", "roof", "floor-3", "far", "nobody", "farm-orgnic", "haulier", far
			return f
		}, []string{`fact.item is "barly"`, "no such item; did you mean barley?", `fact.weight.scale is "truk-scale"`, noInstrument, `fact.weight.meter is "truck-scala"`, `fact.to is "roof"`, station,
			`fact.via[0] is "floor-3"`, "did you mean floor-", `fact.source is "far"`, "did you mean farm?", `fact.lastCertified is "nobody"`, partner,
			`fact.certificate is "farm-orgnic"`, "none is on file", "did you mean farm-organic?", `fact.vehicle.carrier is "haulier"`}},
		"move": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindMove].(*records.Move)
			f.From, f.To, f.Via[0], f.Weight = "roof", "attic", "cellar", far
			return f
		}, []string{`fact.from is "roof"`, `fact.to is "attic"`, `fact.via[0] is "cellar"`, "fact.weight.scale", "fact.weight.meter", station}},
		"process": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindProcess].(*records.Process)
			f.Station, f.Inputs[0].From, f.Inputs[0].Weight, f.Via[0] = "kiln", "roof", far, "attic"
			f.Outputs = append(f.Outputs, records.Output{Lot: "B", Item: "rootlets", Status: records.Organic, To: "yard", Weight: far})
			return f
		}, []string{`fact.station is "kiln"`, `fact.inputs[0].from is "roof"`, "fact.inputs[0].weight.scale", `fact.outputs[1].item is "rootlets"`, "barley, malt", `fact.outputs[1].to is "yard"`,
			"fact.outputs[1].weight.meter", `fact.via[0] is "attic"`}},
		"handover": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindHandover].(*records.Handover)
			f.From, f.To, f.Weight, f.Via[0], f.Vehicle.Carrier = "roof", "brewry", far, "attic", "haulier"
			return f
		}, []string{`fact.from is "roof"`, `fact.to is "brewry"`, "did you mean brewery?", "fact.weight.scale", `fact.via[0] is "attic"`, "fact.vehicle.carrier"}},
		"handover signed with a drawing that was not sent": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindHandover].(*records.Handover)
			f.Received = &records.Acceptance{By: "x", Signature: strings.Repeat("0a", 32)}
			return f
		}, []string{"fact.received.signature", "send the file first"}},
		"handover onward": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindHandover].(*records.Handover)
			f.From, f.FromHolder = "", "warehouse"
			return f
		}, []string{`fact.fromHolder is "warehouse"`, partner}},
		"confirming nothing": {func(map[records.Kind]records.Fact) records.Fact { return confirming(nobody) }, []string{"fact.confirms", nobody.String(), "the id of an entry that is in the journal"}},
		"confirming a receipt": {func(map[records.Kind]records.Fact) records.Fact { return confirming(receipt.ID) },
			[]string{"fact.confirms", "a handover; this is a receipt"}},
		"confirming a confirmation": {func(map[records.Kind]records.Fact) records.Fact { return confirming(confirmation.ID) },
			[]string{"fact.confirms", "the handover itself", sale.ID.String()}},
		"confirming itself by correction": {func(map[records.Kind]records.Fact) records.Fact {
			return &records.Correct{Target: sale.ID, Reason: "x", With: &records.Replacement{Kind: records.KindHandover, Fact: confirming(sale.ID)}}
		}, []string{"fact.with.fact.confirms", "can not confirm itself"}},
		"count": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindCount].(*records.Count)
			f.Station, f.Found[0].Weight = "roof", far
			return f
		}, []string{`fact.station is "roof"`, "fact.found[0].weight.scale"}},
		"purge": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindPurge].(*records.Purge)
			f.Stations, f.From, f.Weight, f.Became.Item, f.Became.To = []records.StationCode{"floor-1", "auger"}, "roof", far, "feed", "yard"
			return f
		}, []string{`fact.stations[1] is "auger"`, `fact.from is "roof"`, "fact.weight.scale", `fact.became.item is "feed"`, `fact.became.to is "yard"`}},
		"result": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindResult].(*records.Result)
			f.Laboratory, f.Document = "lab", "report-9"
			return f
		}, []string{`fact.laboratory is "lab"`, `fact.document is "report-9"`, "put it on file first"}},
		"sample": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindSample].(*records.Sample)
			f.From = "roof"
			return f
		}, []string{`fact.from is "roof"`}},
		"drill": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindDrill].(*records.Drill)
			f.Lead, f.Partner = "anna", "brewary"
			return f
		}, []string{`fact.lead is "anna"`, "did you mean ana?", `fact.partner is "brewary"`, "did you mean brewery?"}},
		"correction to what is not there": {func(m map[records.Kind]records.Fact) records.Fact {
			f := m[records.KindReceipt].(*records.Receipt)
			f.To = "roof"
			return &records.Correct{Target: receipt.ID, Reason: "x", With: &records.Replacement{Kind: records.KindReceipt, Fact: f}}
		}, []string{`fact.with.fact.to is "roof"`, station}},
	}
	before := b.View().Head
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := b.Admit(context.Background(), entryOf(goodFacts()[records.KindCount]), entryOf(c.spoil(goodFacts())))
			if records.KindOf(err) != records.Invalid {
				t.Fatalf("told %v", err)
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
	if _, err := b.Admit(context.Background(), self); records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), "fact.confirms") {
		t.Errorf("confirming itself: %v", err)
	}
	if now := b.View().Head; now.Size != before.Size || now.Root != before.Root {
		t.Errorf("something was written: %d entries, before %d", now.Size, before.Size)
	}
}

// What a batch brings along counts for what follows in it: a report put on file, a handover confirmed.
func TestGoodsOfOneBatch(t *testing.T) {
	b := openGoods(t)
	report := entryOf(&records.Document{Code: "report-9", Title: "x", Type: "laboratory report", Subject: records.Subject{Of: "partner", Code: "farm"}})
	result := goodFacts()[records.KindResult].(*records.Result)
	result.Document = "report-9"
	sale := entryOf(goodFacts()[records.KindHandover])
	confirmation := entryOf(&records.Handover{Confirms: sale.ID, To: "brewery", Received: &records.Acceptance{By: "x"}})
	if _, err := b.Admit(context.Background(), entryOf(result), report); err == nil {
		t.Error("a report is named before it is on file")
	}
	if _, err := b.Admit(context.Background(), confirmation, sale); err == nil {
		t.Error("a handover is confirmed before it is there")
	}
	must(b.Admit(context.Background(), report, entryOf(result), sale, confirmation))
	must(b.Admit(context.Background(), entryOf(result), entryOf(&records.Handover{Confirms: sale.ID, To: "brewery", Received: &records.Acceptance{By: "y"}})))
	if got := b.View().State.Kind(records.KindHandover).Len(); got != 3 {
		t.Errorf("%d handovers, want 3", got)
	}
}
