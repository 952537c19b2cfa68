package server

import (
	"context"
	"testing"

	"grainward/records"
)

// writeAt writes an entry that happened then, with its usual meaning.
func (w *world) writeAt(happened records.Instant, by records.PersonCode, f records.Fact) records.EntryID {
	w.Helper()
	row, _ := records.RowOf(f.Kind())
	e := records.Entry{ID: records.NewEntryID(), Happened: happened, By: by, Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f}
	if _, err := w.Book.Admit(context.Background(), e); err != nil {
		w.Fatal(err)
	}
	return e.ID
}

func lb(n int64, moisture int64) records.Weight {
	d := records.NewDecimal(moisture, 1)
	return records.Weight{Mass: records.Mass{Value: records.NewDecimal(n, 0), Unit: "lb"}, Moisture: &d}
}

// floorGoods is a plant with grain of two farms in a silo, malt made of it and sold, waste, a hold, a result, samples, and rye that followed
// wheat over the conveyor with nothing between.
func floorGoods(t *testing.T) *world {
	t.Helper()
	w := plant(t)
	h := func(n int) records.Instant { return at("2026-03-03T08:00:00-05:00") + records.Instant(n)*3_600_000 }
	truck := records.Vehicle{Carrier: "tansy-ridge", Number: "T-14"}
	w.writeAt(h(0), "hank", &records.Receipt{Lot: "R-1", Item: "barley", Status: records.Organic, Weight: lb(12000, 118), To: "silo-1", Via: []records.StationCode{"pit", "conveyor"}, Source: "odell-brook", TheirLot: "North 7/25 <b>", Vehicle: truck})
	w.writeAt(h(2), "hank", &records.Receipt{Lot: "R-2", Item: "barley", Status: records.Organic, Weight: lb(8000, 122), To: "silo-1", Via: []records.StationCode{"pit", "conveyor"}, Source: "tansy-ridge", TheirLot: "T-9", Vehicle: truck})
	w.writeAt(h(6), "hank", &records.Process{Process: "steeping", Station: "steep-1", Inputs: []records.Input{{From: "silo-1", Weight: lb(4000, 120)}},
		Outputs: []records.Output{{Lot: "G-1", Item: "green-malt", Status: records.Organic, To: "floor-1", Weight: lb(6200, 440)}}})
	bags, err := records.ParseMass("50 lb")
	if err != nil {
		t.Fatal(err)
	}
	w.writeAt(h(60), "hank", &records.Process{Process: "kilning", Station: "kiln", Inputs: []records.Input{{Lot: "G-1", From: "floor-1", Weight: lb(6200, 440), Last: true}},
		Outputs: []records.Output{{Lot: "M-1", Item: "pale-malt", Status: records.Organic, To: "warehouse", Weight: lb(3350, 41), Bags: 67, BagNet: &bags}, {Lot: "B-1", Item: "rootlets", Status: records.Organic, To: "by-product", Weight: lb(140, 60)}}})
	w.writeAt(h(61), "hank", &records.Receipt{Lot: "C-1", Item: "wheat", Status: records.Conventional, Weight: lb(2000, 118), To: "silo-2", Via: []records.StationCode{"pit", "conveyor"}, Source: "tansy-ridge", Vehicle: truck})
	w.writeAt(h(70), "hank", &records.Receipt{Lot: "R-3", Item: "rye", Status: records.Organic, Weight: lb(2000, 118), To: "silo-3", Via: []records.StationCode{"pit", "conveyor"}, Source: "odell-brook", Vehicle: truck})
	w.writeAt(h(80), "nora", &records.Handover{Lot: "M-1", From: "warehouse", To: "copper-gate", Use: records.Sale, Status: records.Organic, Weight: lb(1000, 41), Bags: 20, Received: &records.Acceptance{By: "Silas Werth"}})
	w.writeAt(h(82), "nora", &records.Handover{Lot: "M-1", From: "warehouse", To: "odell-brook", Use: records.Sale, Status: records.Organic, Weight: lb(500, 41), Bags: 10})
	w.writeAt(h(84), "nora", &records.Handover{Lot: "B-1", From: "by-product", To: "odell-brook", Use: records.Feed, Weight: lb(140, 60), Last: true, Label: "rootlets"})
	w.writeAt(h(85), "hank", &records.Sample{Lot: "M-1", Act: "kept", Number: 6, Where: "shelf 3"})
	w.writeAt(h(86), "nora", &records.Result{Lot: "M-1", Values: []records.Measured{{Name: "Moisture", Value: records.Quantity{Value: records.NewDecimal(41, 1), Unit: "%"}}}})
	w.writeAt(h(87), "nora", &records.Hold{Lots: []records.LotCode{"R-3"}, Why: "a smell of <mould>"})
	return w
}
