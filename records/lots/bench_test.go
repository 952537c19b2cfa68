package lots_test

import (
	"fmt"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// plantYears is a journal of about n entries about goods: receipts into a silo that is emptied and cleaned every thirty,
// steeping out of it, a germination floor, a kiln's malt and rootlets into a store, bags out of it.
func plantYears(n int) (*state.State, []lots.CleanOut) {
	st := fold(adoption(0, 1, planText))
	var cleanOuts []lots.CleanOut
	pos := records.Position(1)
	add := func(at records.Instant, f records.Fact) {
		e := records.Entry{ID: records.EntryID{byte(pos >> 24), byte(pos >> 16), byte(pos >> 8), byte(pos), 0, 0, 0x70, 0, 0x80}, Happened: at, Recorded: at, By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f}
		st.Apply(pos, e)
		pos++
	}
	kg := func(n int64, moisture int64) records.Weight {
		m := records.NewDecimal(moisture, 1)
		return records.Weight{Mass: records.Mass{Value: records.NewDecimal(n, 0), Unit: "kg"}, Moisture: &m}
	}
	for i := 0; int(pos) < n; i++ {
		at := records.Instant(1000 + 10*i)
		raw, green, malt := records.LotCode(fmt.Sprint("R", i)), records.LotCode(fmt.Sprint("G", i)), records.LotCode(fmt.Sprint("M", i))
		add(at, &records.Receipt{Lot: raw, Item: "barley", Status: records.Organic, Weight: kg(2000, 125), To: "silo-1", Via: []records.StationCode{"conveyor"}, Source: "farm"})
		add(at+1, &records.Process{Process: "steeping", Station: "floor-1", Inputs: []records.Input{{From: "silo-1", Weight: kg(1990, 125), Last: i%30 == 29}},
			Outputs: []records.Output{{Lot: green, Item: "green", Status: records.Organic, To: "floor-1", Weight: kg(2900, 440)}}, Via: []records.StationCode{"conveyor"}})
		add(at+2, &records.Move{Lot: green, From: "floor-1", To: "floor-2", Weight: kg(2900, 440), Last: true})
		add(at+3, &records.Process{Process: "kilning", Station: "floor-2", Inputs: []records.Input{{Lot: green, From: "floor-2", Weight: kg(2800, 430), Last: true}},
			Outputs: []records.Output{{Lot: malt, Item: "malt", Status: records.Organic, To: "store", Weight: kg(1600, 45)}, {Lot: "ROOTLETS", Item: "rootlets", Status: records.Organic, To: "store", Weight: kg(60, 60)}}})
		for k := range 6 {
			add(at+4, &records.Handover{Lot: malt, From: "store", To: records.PartnerCode(fmt.Sprint("shop-", (i+k)%200)), Use: records.Sale, Weight: kg(250, 45), Last: k == 5})
		}
		if i%30 == 29 {
			clean := &state.Record{Position: pos, Entry: records.Entry{ID: records.EntryID{1, 2, 3}, Happened: at + 5}}
			cleanOuts = append(cleanOuts, lots.CleanOut{Station: "silo-1", From: at + 4, To: at + 5, Record: clean})
		}
	}
	return st, cleanOuts
}

func BenchmarkFold(b *testing.B) {
	st, cleanOuts := plantYears(200_000)
	b.ReportAllocs()
	for b.Loop() {
		lots.Fold(st, lots.Forever, cleanOuts)
	}
}

// neverProven is a journal of about n draws on silos that nobody ever cleans or counts empty: receipts into one, moves to a second, and
// steeping out of that, for as long as they last.
func neverProven(n int) *state.State {
	st := fold(adoption(0, 1, planText))
	pos := records.Position(1)
	add := func(at records.Instant, f records.Fact) {
		e := records.Entry{ID: records.EntryID{byte(pos >> 24), byte(pos >> 16), byte(pos >> 8), byte(pos), 0, 0, 0x70, 0, 0x80}, Happened: at, Recorded: at, By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f}
		st.Apply(pos, e)
		pos++
	}
	kg := func(n int64) records.Weight {
		m := records.NewDecimal(125, 1)
		return records.Weight{Mass: records.Mass{Value: records.NewDecimal(n, 0), Unit: "kg"}, Moisture: &m}
	}
	for i := range n / 2 {
		at := records.Instant(1000 + 10*i)
		add(at, &records.Receipt{Lot: records.LotCode(fmt.Sprint("R", i)), Item: "barley", Status: records.Organic, Weight: kg(2000), To: "silo-1", Source: "farm"})
		add(at+1, &records.Move{From: "silo-1", To: "silo-2", Weight: kg(2000), Last: i%7 == 6})
		add(at+2, &records.Process{Process: "steeping", Station: "floor-1", Inputs: []records.Input{{From: "silo-2", Weight: kg(2000), Last: i%7 == 6}},
			Outputs: []records.Output{{Lot: records.LotCode(fmt.Sprint("G", i)), Item: "green", Status: records.Organic, To: "floor-1", Weight: kg(2900)}}})
	}
	return st
}

// BenchmarkNeverProven says how much longer four times as many draws take on silos that are never proven empty: 4 would be a cost for
// each that does not grow, 16 one that grows with what was ever put in, 64 one that grows with its square.
func BenchmarkNeverProven(b *testing.B) {
	once := func(n int) time.Duration {
		st := neverProven(n)
		least := time.Duration(1<<63 - 1)
		for range 3 {
			begun := time.Now()
			lots.Fold(st, lots.Forever, nil)
			least = min(least, time.Since(begun))
		}
		return least
	}
	const n = 500
	for b.Loop() {
		few, many := once(n), once(4*n)
		b.ReportMetric(float64(many)/float64(few), "times-for-4x")
		b.ReportMetric(float64(many.Microseconds())/(4*n), "µs/draw")
	}
}
