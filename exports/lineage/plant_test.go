package lineage

import (
	"fmt"
	"testing"

	"grainward/audit/trace"
	"grainward/exports"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/lots"
	"grainward/records/state"
)

const planText = `
grainward: 1
plant: {name: Invented Malt House, address: 1 Nowhere Lane, zone: America/New_York, units: lb, since: 2026-01-01, languages: [en, es]}
stations:
  - {code: pit, title: {en: Receiving pit, es: Foso}, kind: receiving pit, holds: passes}
  - {code: silo-1, title: {en: Silo 1, es: Silo 1}, kind: silo, holds: mixed}
  - {code: floor-1, title: {en: Germination floor, es: Suelo de germinación}, kind: germination floor}
  - {code: kiln, title: {en: Kiln, es: Tostador}, kind: kiln}
  - {code: store, title: {en: Store, es: Almacén}, kind: store}
grades:
  - {code: swept, title: {en: Swept, es: Barrido}}
items:
  - {code: barley, title: {en: Barley, es: Cebada}, stage: raw}
  - {code: green, title: {en: Green malt, es: Malta verde}, stage: in-process, losses: [{process: steeping, dry: {min: 0, max: 5}}]}
  - {code: malt, title: {en: Pale barley malt, es: Malta pálida de cebada}, stage: finished, losses: [{process: kilning, dry: {min: 0, max: 10}}]}
  - {code: rootlets, title: {en: Rootlets and husk, es: Raicillas y cáscara}, stage: by-product}
agents:
  - {code: water, title: {en: Potable water, es: Agua potable}, organic: "yes"}
tasks:
  - {code: sweep, title: {en: Sweep out, es: Barrer}, family: clean-out, stations: [silo-1, floor-1, kiln, store], grade: swept}
partners:
  - {code: farm-north, name: Invented North Farm, address: Field Road 2, roles: [supplier], contacts: [{name: Night Voice, phone: 555-0100, hours: 24h}]}
  - {code: bakery, name: Invented Bakery, address: "12 Oven Street, Nowhere", roles: [customer], contacts: [{name: Bo Invented, phone: 555-0101, email: bo@example.invalid, hours: 8-16}, {name: Bo at night, phone: 555-0199, hours: 24h}]}
  - {code: brewery, name: "Invented Brewery <& sons>", address: 3 Kettle Yard, roles: [customer]}
  - {code: depot, name: Invented Depot, address: Dock 9, roles: [warehouse, carrier]}
  - {code: dairy, name: Invented Dairy, roles: [feed-farm]}
people:
  - {code: ana, name: Ana Invented, initials: AI, role: lead}
  - {code: ben, name: Ben Invented, initials: BI, role: crew}
`

const hour = records.Instant(3_600_000)

// start is 2026-03-02 08:00 in the plant.
const start = records.Instant(1_772_456_400_000)

type journal struct{ entries []records.Entry }

func (j *journal) add(at records.Instant, by records.PersonCode, f records.Fact) records.EntryID {
	var id records.EntryID
	n := len(j.entries)
	id[5], id[6], id[8], id[14], id[15] = 1, 0x70, 0x80, byte(n>>8), byte(n)
	j.entries = append(j.entries, records.Entry{ID: id, Happened: at, Recorded: at, By: by, Meaning: records.Performed, Kind: f.Kind(), Fact: f})
	return id
}

func (j *journal) trace(t testing.TB, text string, dir trace.Direction) Input {
	t.Helper()
	at := start + 1000*hour
	st := state.New()
	for i, e := range j.entries {
		st.Apply(records.Position(i), e)
	}
	p := st.PlanAt(at)
	if p == nil {
		t.Fatal(st.Oddities())
	}
	var cleans []lots.CleanOut
	for _, r := range st.Kind(records.KindSignoff).Until(at) {
		s := r.Fact.(*records.Signoff)
		cleans = append(cleans, lots.CleanOut{Station: s.Station, From: r.Happened, To: r.Happened, Record: r})
	}
	f := lots.Fold(st, at, cleans)
	s, err := trace.ParseSubject(text, p.Location())
	if err != nil {
		t.Fatal(err)
	}
	tr, err := trace.Make(st, f, trace.Build(f), s, dir)
	if err != nil {
		t.Fatal(err)
	}
	return Input{Trace: tr, Lang: "en", Stamp: exports.Stamp{Plant: p.Plant.Name, Address: p.Plant.Address, Origin: "invented.example/journal", Size: records.Position(len(j.entries)),
		Root: ledger.Hash{1, 2, 3}, At: at, Program: "grainward test", MadeBy: "Ana Invented"}}
}

func lb(n int, moisture int64) records.Weight {
	d := records.NewDecimal(moisture, 1)
	return records.Weight{Mass: records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "lb"}, Moisture: &d}
}

func date(text string) *calendar.Date {
	d, err := calendar.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return &d
}

// plant is two farms' barley through a silo to malt, bakery, depot, brewery and dairy.
func plant() *journal {
	j := &journal{}
	at := func(n int) records.Instant { return start + records.Instant(n)*hour }
	clean := func(n int, s records.StationCode) {
		j.add(at(n), "ben", &records.Signoff{Task: "sweep", Station: s, Outcome: records.Passed, Agents: []records.AgentUse{{Agent: "water", Lot: "tap 2"}}})
	}
	j.add(start-100*hour, "ana", &records.Adoption{Text: planText})
	j.add(start-90*hour, "ana", &records.Document{Code: "cert-north", Title: "Organic certificate", Type: "certificate", Issuer: "Invented Certifier", Number: "=1+1", From: date("2026-01-01"), To: date("2026-12-31"),
		Subject: records.Subject{Of: "partner", Code: "farm-north"}, File: &records.File{SHA256: "ab12", Size: 3, Media: "application/pdf"}})
	clean(0, "silo-1")
	truck := records.Vehicle{Carrier: "depot", Number: "T-14"}
	j.add(at(1), "ana", &records.Receipt{Lot: "R26-001", Item: "barley", Status: records.Organic, Weight: lb(12000, 118), To: "silo-1", Via: []records.StationCode{"pit"}, Source: "farm-north", TheirLot: "North 7/25", Certificate: "cert-north", Vehicle: truck, Papers: []string{"BOL 881", "weigh ticket 17"}, ReleasedBy: "F. Invented"})
	j.add(at(3), "ana", &records.Receipt{Lot: "R26-002", Item: "barley", Status: records.Organic, Weight: lb(8000, 122), To: "silo-1", Via: []records.StationCode{"pit"}, Source: "farm-south", TheirLot: "@SUM(A1)", Certificate: "cert-south", Vehicle: truck})
	clean(5, "floor-1")
	for k, n := range []int{1, 2} {
		j.add(at(6+k*30), "ben", &records.Process{Process: "steeping", Station: "floor-1", Inputs: []records.Input{{From: "silo-1", Weight: lb(4000, 120)}},
			Outputs: []records.Output{{Lot: records.LotCode(fmt.Sprintf("G26-01%d", n)), Item: "green", Status: records.Organic, To: "floor-1", Weight: lb(6200, 440)}}})
		clean(20+k*30, "kiln")
		o := records.Output{Lot: records.LotCode(fmt.Sprintf("M26-01%d", n)), Item: "malt", Status: records.Organic, To: "store", Weight: lb(3350, 41), Bags: 67, KilnDate: date("2026-03-05"), BestBy: date("2026-09-05")}
		j.add(at(24+k*30), "ben", &records.Process{Process: "kilning", Station: "kiln", Inputs: []records.Input{{Lot: records.LotCode(fmt.Sprintf("G26-01%d", n)), From: "floor-1", Weight: lb(6200, 440), Last: true}},
			Outputs: []records.Output{o, {Lot: "B26-010", Item: "rootlets", Status: records.Organic, To: "store", Weight: lb(140, 60)}}})
		clean(26+k*30, "floor-1")
	}
	ho := j.add(at(80), "ana", &records.Handover{Lot: "M26-011", From: "store", To: "bakery", Use: records.Sale, Status: records.Organic, Weight: lb(1000, 41), Bags: 20, Packaging: "paper bags", Papers: []string{"invoice 204"}, Vehicle: truck})
	j.add(at(101), "ana", &records.Handover{Confirms: ho, Lot: "M26-011", To: "bakery", Weight: lb(1000, 41), Received: &records.Acceptance{By: "Bo Invented", Signature: "0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a0a"}})
	j.add(at(102), "ana", &records.Handover{Lot: "M26-012", From: "store", To: "depot", Use: records.Storage, Status: records.Organic, Weight: lb(2000, 41), Bags: 40, Received: &records.Acceptance{By: "D. Pot"}})
	j.add(at(120), "ana", &records.Handover{Lot: "M26-012", FromHolder: "depot", To: "brewery", Use: records.Sale, Status: records.Organic, Weight: lb(500, 41), Bags: 10})
	j.add(at(130), "ana", &records.Handover{Lot: "B26-010", From: "store", To: "dairy", Use: records.Feed, Weight: lb(280, 60), Last: true, Label: "rootlets"})
	m := lb(2, 41).Mass
	j.add(at(131), "ben", &records.Sample{Lot: "M26-011", Act: "kept", Number: 6, From: "store", Mass: &m, Where: "shelf 3"})
	j.add(at(140), "ana", &records.Result{Lot: "M26-011", Values: []records.Measured{{Name: "Moisture", Value: records.Quantity{Value: records.NewDecimal(41, 1), Unit: "%"}}}})
	j.add(at(141), "ana", &records.Hold{Lots: []records.LotCode{"M26-012"}, Why: "a complaint of <mould> & \"dust\""})
	return j
}

// wide is one receipt made into malts, each blended with the next and bagged into several lots: n lots in all, about.
func wide(n int) *journal {
	j := &journal{}
	j.add(start-100*hour, "ana", &records.Adoption{Text: planText})
	j.add(start, "ana", &records.Receipt{Lot: "R0", Item: "barley", Status: records.Organic, Weight: lb(1_000_000, 120), To: "silo-1", Source: "farm-north"})
	j.add(start+1, "ana", &records.Receipt{Lot: "R1", Item: "barley", Status: records.Organic, Weight: lb(1_000_000, 120), To: "store", Source: "farm-north"})
	at := start + hour
	for k := 0; 9*k < n; k++ {
		malt := records.LotCode(fmt.Sprintf("MALT-%03d", k))
		j.add(at, "ben", &records.Process{Process: "kilning", Station: "kiln", Inputs: []records.Input{{From: "silo-1", Weight: lb(1000, 120)}, {Lot: "R1", From: "store", Weight: lb(100+k, 120)}},
			Outputs: []records.Output{{Lot: malt, Item: "malt", Status: records.Organic, To: "store", Weight: lb(900, 40)}}})
		at += hour
		for b := range 8 {
			in := []records.Input{{Lot: malt, From: "store", Weight: lb(80, 40)}}
			if b == 0 && k > 0 {
				in = append(in, records.Input{Lot: records.LotCode(fmt.Sprintf("MALT-%03d", k-1)), From: "store", Weight: lb(50, 40)})
			}
			j.add(at, "ben", &records.Process{Process: "bagging", Station: "store", Inputs: in,
				Outputs: []records.Output{{Lot: records.LotCode(fmt.Sprintf("BAGGED-%03d-%d", k, b)), Item: "malt", Status: records.Conventional, To: "store", Weight: lb(80, 40), Bags: 2}}})
			at += hour
		}
	}
	return j
}
