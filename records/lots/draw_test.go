package lots_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

const planText = `grainward: 1
plant: {name: Testhof Malt, address: 1 Test Lane, zone: America/New_York, units: kg, languages: [en], since: 2026-01-01}
profile: {allergens: [US], reviewWorkingDays: 7, lateEntry: 1h, keepYears: {food: 2, organic: 5}}
stations:
  - {code: conveyor, title: Conveyor, kind: conveyor, holds: passes}
  - {code: silo-1, title: Silo 1, kind: silo, holds: mixed}
  - {code: silo-2, title: Silo 2, kind: silo, holds: mixed}
  - {code: floor-1, title: Floor 1, kind: germination floor, holds: separate}
  - {code: floor-2, title: Floor 2, kind: germination floor, holds: separate}
  - {code: store, title: Store, kind: store, holds: separate}
people:
  - {code: ana, name: Ana Test, initials: AT, role: lead}
`

var mixed = map[records.StationCode]bool{"silo-1": true, "silo-2": true}

func id(n int) (e records.EntryID) {
	e[5], e[6], e[8], e[15], e[14] = 1, 0x70, 0x80, byte(n), byte(n>>8)
	return e
}

func entry(n int, at records.Instant, f records.Fact) records.Entry {
	return records.Entry{ID: id(n), Happened: at, Recorded: at, By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f}
}

func adoption(n int, at records.Instant, text string) records.Entry {
	sum := sha256.Sum256([]byte(text))
	return entry(n, at, &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
}

func fold(entries ...records.Entry) *state.State {
	st := state.New()
	for i, e := range entries {
		st.Apply(records.Position(i), e)
	}
	return st
}

// micrograms is a mass of so many.
func micrograms(n int64) records.Mass {
	return records.Mass{Value: records.NewDecimal(n, 6), Unit: "g"}
}

func weight(n int64) records.Weight { return records.Weight{Mass: micrograms(n)} }

// history is what happened, in any order, and the clean-outs that passed. The plan is in force from the start.
type history struct {
	entries   []records.Entry
	cleanOuts []lots.CleanOut
}

func (h history) state() *state.State {
	return fold(append([]records.Entry{adoption(9999, 1, planText)}, h.entries...)...)
}

// drawing makes histories that a plant could have and many that it could not: few stations, few lots and few
// micrograms, so that everything meets everything.
type drawing struct {
	t        *rapid.T
	distinct bool // no two things at one instant
	put      []placed
	sold     []records.EntryID
	onward   []records.LotCode
}

type placed struct {
	lot     records.LotCode
	station records.StationCode
}

func (d *drawing) n(label string, from, to int) int { return rapid.IntRange(from, to).Draw(d.t, label) }
func (d *drawing) one(in int) bool                  { return d.n("one in", 1, in) == 1 }

func pick[T any](d *drawing, label string, of ...T) T { return rapid.SampledFrom(of).Draw(d.t, label) }

func (d *drawing) station() records.StationCode {
	return pick[records.StationCode](d, "station", "silo-1", "silo-2", "floor-1", "floor-2", "store", "conveyor")
}

func (d *drawing) lot() records.LotCode {
	return pick[records.LotCode](d, "lot", "A", "B", "C", "D", "E", "F")
}

func (d *drawing) mass() int64 {
	switch d.n("how much", 0, 9) {
	case 0:
		return 0
	case 1:
		return pick[int64](d, "much", 9_999_999_999_999_999, 4_535_923_700_001, 1_000_000_007)
	}
	return int64(d.n("micrograms", 1, 20))
}

func (d *drawing) weight() records.Weight {
	w := weight(d.mass())
	if d.one(2) {
		m := records.NewDecimal(int64(d.n("moisture", 0, 1000)), 1)
		w.Moisture = &m
	}
	return w
}

func (d *drawing) status() records.Status {
	return pick(d, "status", records.Organic, records.Organic, records.Conventional)
}

func (d *drawing) via() []records.StationCode {
	return slices.Repeat([]records.StationCode{"conveyor"}, d.n("via", 0, 1))
}

// from is a lot where one was put, mostly, and anything anywhere for the rest; often without naming it.
func (d *drawing) from() (lot records.LotCode, station records.StationCode) {
	lot, station = d.lot(), d.station()
	if len(d.put) > 0 && !d.one(4) {
		p := rapid.SampledFrom(d.put).Draw(d.t, "placed")
		lot, station = p.lot, p.station
	}
	if d.one(3) {
		lot = ""
	}
	return lot, station
}

func (d *drawing) output() records.Output {
	o := records.Output{Lot: d.lot(), Item: pick[records.ItemCode](d, "item", "barley", "malt", "malt"), Status: d.status(), To: d.station(), Weight: d.weight()}
	d.put = append(d.put, placed{o.Lot, o.To})
	return o
}

func (d *drawing) outputs() (out []records.Output) {
	for range d.n("outputs", 1, 2) {
		out = append(out, d.output())
	}
	return out
}

func (d *drawing) fact(self records.EntryID, at records.Instant) records.Fact {
	switch d.n("kind", 0, 15) {
	case 0, 1, 2:
		o := d.output()
		return &records.Receipt{Lot: o.Lot, Item: o.Item, Status: o.Status, Weight: o.Weight, To: o.To, Via: d.via(), Source: "farm"}
	case 3, 4, 5:
		lot, from := d.from()
		to := d.station()
		for to == from {
			to = d.station()
		}
		d.put = append(d.put, placed{lot, to})
		return &records.Move{Lot: lot, From: from, To: to, Via: d.via(), Weight: d.weight(), Last: d.one(3)}
	case 6, 7, 8:
		p := &records.Process{Process: "kilning", Station: d.station(), Via: d.via()}
		if d.one(2) {
			p.Started = at - records.Instant(d.n("took", -1, 5))
		}
		for range d.n("inputs", 1, 2) {
			lot, from := d.from()
			p.Inputs = append(p.Inputs, records.Input{Lot: lot, From: from, Weight: d.weight(), Last: d.one(3)})
		}
		p.Outputs = d.outputs()
		return p
	case 9:
		if len(d.sold) > 0 && d.one(2) {
			confirms := rapid.SampledFrom(d.sold).Draw(d.t, "confirms")
			if d.one(4) {
				confirms = id(7777)
			}
			return &records.Handover{Confirms: confirms, To: "shop", Received: &records.Acceptance{By: "x"}}
		}
		d.sold = append(d.sold, self)
		if len(d.onward) > 0 && d.one(2) {
			return &records.Handover{Lot: rapid.SampledFrom(d.onward).Draw(d.t, "onward"), FromHolder: "warehouse", To: "shop", Use: records.Sale, Weight: d.weight(), Last: d.one(3)}
		}
		lot, from := d.from()
		if lot != "" {
			d.onward = append(d.onward, lot)
		}
		return &records.Handover{Lot: lot, From: from, To: pick[records.PartnerCode](d, "to", "shop", "warehouse"), Use: records.Sale, Weight: d.weight(), Via: d.via(), Last: d.one(3)}
	case 10, 11:
		c := &records.Count{Station: d.station()}
		for _, l := range rapid.SliceOfNDistinct(rapid.SampledFrom([]records.LotCode{"A", "B", "C", "D"}), 0, 2, rapid.ID[records.LotCode]).Draw(d.t, "found") {
			c.Found = append(c.Found, records.Found{Lot: l, Weight: d.weight()})
		}
		if d.one(3) {
			c.Found = append(c.Found, records.Found{Weight: d.weight()})
		}
		return c
	case 12:
		lot, from := d.from()
		return &records.Purge{Stations: []records.StationCode{"conveyor"}, Lot: lot, From: from, Weight: d.weight(), Last: d.one(3), Became: d.output()}
	case 13:
		s := &records.Sample{Lot: d.lot(), Act: pick(d, "act", "kept", "kept", "discarded"), Number: d.n("number", 1, 3)}
		if s.Act == "kept" && d.one(2) {
			m := micrograms(d.mass())
			s.From, s.Mass = d.station(), &m
		}
		return s
	case 14:
		if d.one(2) {
			return &records.Hold{Lots: []records.LotCode{d.lot()}, Why: "x"}
		}
		return &records.Release{Lots: []records.LotCode{d.lot()}, Rejected: d.one(3), Why: "x"}
	}
	return &records.Result{Lot: d.lot(), Values: []records.Measured{{Name: "moisture"}}}
}

// drawHistory draws what happened in the order in which it was written down, which need not be the order of happening.
func drawHistory(t *rapid.T, distinct bool) (h history) {
	d := &drawing{t: t, distinct: distinct}
	n := d.n("n", 1, 40)
	for i := range n {
		at := records.Instant(10 + 10*i)
		if !distinct {
			at = records.Instant(10 + d.n("at", 0, 60))
		}
		h.entries = append(h.entries, entry(i, at, d.fact(id(i), at)))
	}
	for i := range d.n("clean-outs", 0, 5) {
		to := records.Instant(10 + d.n("cleaned", 0, 60))
		if distinct {
			to = records.Instant(15 + 10*d.n("cleaned", 0, 40))
		}
		c := entry(5000+i, to, &records.Signoff{Task: "clean", Station: d.station(), Outcome: records.Passed})
		h.cleanOuts = append(h.cleanOuts, lots.CleanOut{Station: c.Fact.(*records.Signoff).Station, From: to - records.Instant(d.n("took", 0, 3)), To: to,
			Record: &state.Record{Position: records.Position(5000 + i), Entry: c}})
	}
	slices.SortStableFunc(h.cleanOuts, func(a, b lots.CleanOut) int { return int(a.To - b.To) })
	return h
}

// told is how a failing history is shown.
func (h history) told() string {
	var b []byte
	for _, e := range h.entries {
		row, err := records.Format(e)
		if err != nil {
			return err.Error()
		}
		b = fmt.Appendf(b, "%d %s\n", e.Happened, row.Bytes)
	}
	for _, c := range h.cleanOuts {
		b = fmt.Appendf(b, "clean-out %s %d to %d\n", c.Station, c.From, c.To)
	}
	return string(b)
}

// What is drawn is what could be admitted: the fold need not stand what the door refuses, and must stand all else.
func TestDrawnHistoriesAreWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, e := range drawHistory(t, false).entries {
			row, _ := records.RowOf(e.Kind)
			e.Meaning, e.Happened = row.Meanings[0], e.Happened+1
			if err := records.CheckShape(e); err != nil {
				t.Fatal(err)
			}
		}
	})
}
