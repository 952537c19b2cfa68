package trace

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// planText is an invented plant with every kind of station.
const planText = `
grainward: 1
plant: {name: Invented Malt House, address: 1 Nowhere Lane, zone: America/New_York, units: kg, since: 2026-01-01}
stations:
  - {code: pit, title: Receiving pit, kind: receiving pit, holds: passes}
  - {code: silo, title: Silo, kind: silo, holds: mixed}
  - {code: floor, title: {en: Germination floor, es: Suelo de germinación}, kind: germination floor}
  - {code: kiln, title: Kiln, kind: kiln}
  - {code: store, title: Store, kind: store}
  - {code: belt, title: Belt, kind: conveyor, holds: passes}
grades:
  - {code: swept, title: Swept}
items:
  - {code: barley, title: Barley, stage: raw}
  - {code: green, title: Green malt, stage: in-process, losses: [{process: steeping, dry: {min: 0, max: 5}}]}
  - {code: malt, title: {en: Pale malt, es: Malta pálida}, stage: finished, losses: [{process: kilning, dry: {min: 0, max: 10}}]}
  - {code: rootlets, title: Rootlets, stage: by-product}
agents:
  - {code: suds, title: Suds, organic: "yes"}
  - {code: water, title: Water, organic: "yes"}
tasks:
  - code: sweep
    title: Sweep
    family: clean-out
    stations: [silo, floor, kiln, store, belt]
    grade: swept
partners:
  - {code: farm, name: Invented Farm, address: Field Road 2, roles: [supplier], contacts: [{name: Night Voice, phone: 555-0100, hours: 24h}]}
  - {code: baker, name: Invented Bakery, roles: [customer], contacts: [{name: Bo, phone: 555-0101, email: bo@example.invalid, hours: 8-16}]}
  - {code: brewer, name: Invented Brewery, roles: [customer]}
  - {code: depot, name: Invented Depot, roles: [warehouse]}
  - {code: cows, name: Invented Dairy, roles: [feed-farm]}
people:
  - {code: ana, name: Ana Invented, initials: AI, role: lead}
  - {code: ben, name: Ben Invented, initials: BI, role: crew}
`

const minute = records.Instant(60_000)

// day is the first instant of the histories, a day after the plan's adoption.
const day = records.Instant(1_768_000_000_000)

func id(n int) (e records.EntryID) {
	e[5], e[6], e[8], e[13], e[14], e[15] = 1, 0x70, 0x80, byte(n>>16), byte(n>>8), byte(n)
	return e
}

// journal is entries in the order in which they were written.
type journal struct {
	entries []records.Entry
}

func (j *journal) add(at records.Instant, by records.PersonCode, f records.Fact) records.EntryID {
	e := records.Entry{ID: id(len(j.entries)), Happened: at, Recorded: at, By: by, Meaning: records.Performed, Kind: f.Kind(), Fact: f}
	j.entries = append(j.entries, e)
	return e.ID
}

func newJournal() *journal {
	j := &journal{}
	j.add(day-24*60*minute, "ana", &records.Adoption{Text: planText})
	return j
}

// fold is the state and floor; every passed sweep is a clean-out of the one grade (the audit's judgement, made plain here).
func (j *journal) fold(t interface{ Fatal(...any) }, at records.Instant) (*state.State, *lots.Floor) {
	st := state.New()
	for i, e := range j.entries {
		st.Apply(records.Position(i), e)
	}
	if len(st.Plans()) == 0 {
		t.Fatal(st.Oddities())
	}
	var cleans []lots.CleanOut
	for _, r := range st.Kind(records.KindSignoff).Until(at) {
		s := r.Fact.(*records.Signoff)
		if s.Outcome == records.Passed && s.Task == "sweep" {
			cleans = append(cleans, lots.CleanOut{Station: s.Station, From: begunAt(r, s), To: r.Happened, Record: r})
		}
	}
	return st, lots.Fold(st, at, cleans)
}

func kg(n int) records.Weight {
	return records.Weight{Mass: records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "kg"}}
}

func wet(n, percent int) records.Weight {
	w := kg(n)
	d := records.NewDecimal(int64(percent), 0)
	w.Moisture = &d
	return w
}

func mustTrace(t testing.TB, j *journal, text string, dir Direction) *Trace {
	t.Helper()
	st, f := j.fold(t, lots.Forever-1)
	s, err := ParseSubject(text, st.PlanAt(f.At).Location())
	if err != nil {
		t.Fatal(err)
	}
	tr, err := Make(st, f, Build(f), s, dir)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// history draws any history, with facts that can not be true together; happened[i] are all different.
func history(t *rapid.T) *journal {
	j := newJournal()
	lotCode := func(name string) records.LotCode {
		return records.LotCode(fmt.Sprintf("L%d", rapid.IntRange(0, 7).Draw(t, name)))
	}
	station := func(name string) records.StationCode {
		return rapid.SampledFrom([]records.StationCode{"silo", "floor", "kiln", "store"}).Draw(t, name)
	}
	partner := func(name string) records.PartnerCode {
		return rapid.SampledFrom([]records.PartnerCode{"baker", "brewer", "depot", "cows", "stranger"}).Draw(t, name)
	}
	item := func() records.ItemCode {
		return rapid.SampledFrom([]records.ItemCode{"barley", "green", "malt", "rootlets", "unheard-of"}).Draw(t, "item")
	}
	weight := func() records.Weight {
		w := kg(rapid.IntRange(0, 300).Draw(t, "kg"))
		if rapid.IntRange(0, 5).Draw(t, "wet") > 0 {
			d := records.NewDecimal(int64(rapid.IntRange(0, 100).Draw(t, "moisture")), 0)
			w.Moisture = &d
		}
		return w
	}
	last := func() bool { return rapid.IntRange(0, 4).Draw(t, "last") == 0 }
	output := func() records.Output {
		return records.Output{Lot: lotCode("made"), Item: item(), Status: records.Organic, To: station("to"), Weight: weight(), Bags: rapid.IntRange(0, 9).Draw(t, "bags")}
	}
	var handed []records.EntryID
	n := rapid.IntRange(1, 30).Draw(t, "facts")
	times := rapid.Permutation(slices.Collect(func(yield func(int) bool) {
		for i := range n {
			if !yield(i) {
				return
			}
		}
	})).Draw(t, "times")
	for i := range n {
		at := day + records.Instant(times[i])*10*minute
		by := rapid.SampledFrom([]records.PersonCode{"ana", "ben"}).Draw(t, "by")
		switch rapid.SampledFrom([]string{"receipt", "receipt", "move", "process", "process", "process", "handover", "confirm", "count", "purge", "sample", "hold", "signoff", "onward", "result"}).Draw(t, "what") {
		case "receipt":
			j.add(at, by, &records.Receipt{Lot: lotCode("lot"), Item: "barley", Status: records.Organic, Weight: weight(), To: station("to"), Source: "farm",
				TheirLot: rapid.SampledFrom([]string{"", "F-1", "f-2"}).Draw(t, "theirs"), Via: []records.StationCode{"pit"}})
		case "move":
			from, to := station("from"), station("to")
			if from != to {
				j.add(at, by, &records.Move{Lot: lotCode("lot"), From: from, To: to, Weight: weight(), Last: last(), Via: []records.StationCode{"belt"}})
			}
		case "process":
			p := &records.Process{Process: rapid.SampledFrom([]string{"steeping", "kilning", "blending"}).Draw(t, "process"), Station: station("at")}
			for range rapid.IntRange(1, 3).Draw(t, "inputs") {
				p.Inputs = append(p.Inputs, records.Input{Lot: lotCode("used"), From: station("from"), Weight: weight(), Last: last()})
			}
			for range rapid.IntRange(1, 2).Draw(t, "outputs") {
				p.Outputs = append(p.Outputs, output())
			}
			j.add(at, by, p)
		case "handover":
			handed = append(handed, j.add(at, by, &records.Handover{Lot: lotCode("lot"), From: station("from"), To: partner("to"), Weight: weight(), Last: last(),
				Use: rapid.SampledFrom([]records.Use{records.Sale, records.Storage, records.Feed, records.Landfill, records.ForTest}).Draw(t, "use")}))
		case "onward":
			j.add(at, by, &records.Handover{Lot: lotCode("lot"), FromHolder: partner("holder"), To: partner("to"), Weight: weight(), Use: records.Sale})
		case "confirm":
			if len(handed) > 0 {
				j.add(at, by, &records.Handover{Confirms: rapid.SampledFrom(handed).Draw(t, "confirms"), To: "baker", Received: &records.Acceptance{By: "Bo"}})
			}
		case "count":
			c := &records.Count{Station: station("counted")}
			for range rapid.IntRange(0, 2).Draw(t, "found") {
				c.Found = append(c.Found, records.Found{Lot: lotCode("found"), Weight: weight()})
			}
			j.add(at, by, c)
		case "purge":
			j.add(at, by, &records.Purge{Stations: []records.StationCode{"belt"}, Lot: lotCode("lot"), From: station("from"), Weight: weight(), Became: output()})
		case "sample":
			m := kg(1).Mass
			j.add(at, by, &records.Sample{Lot: lotCode("lot"), Act: "kept", Number: 2, From: station("from"), Mass: &m})
		case "hold":
			j.add(at, by, &records.Hold{Lots: []records.LotCode{lotCode("lot")}, Why: "a doubt"})
		case "result":
			j.add(at, by, &records.Result{Lot: lotCode("lot"), Values: []records.Measured{{Name: "Moisture", Value: records.Quantity{Unit: "%"}}}})
		case "signoff":
			s := &records.Signoff{Task: "sweep", Station: station("swept"), Outcome: rapid.SampledFrom([]records.Outcome{records.Passed, records.Failed}).Draw(t, "outcome")}
			if rapid.Bool().Draw(t, "agent") {
				s.Agents = []records.AgentUse{{Agent: rapid.SampledFrom([]records.AgentCode{"suds", "water"}).Draw(t, "agent")}}
			}
			if rapid.Bool().Draw(t, "started") {
				s.Started = at - 15*minute
			}
			j.add(at, by, s)
		}
	}
	return j
}
