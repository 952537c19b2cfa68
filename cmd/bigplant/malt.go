package bigplant

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// malt is what happens to grain in the houses on a day: the batch of each stage that has come so far.
func (t *today) malt() {
	n := int(t.day - t.since)
	for h := range houses {
		t.receive(h, n)
		if n >= 8 {
			t.unload(t.batch(h, n-8))
		}
		if n >= 7 {
			t.strip(t.batch(h, n-7))
		}
		if n >= 2 {
			t.lay(t.batch(h, n-2))
		}
		t.steep(t.batch(h, n))
		if n >= 8 {
			t.dress(t.batch(h, n-8))
		}
		if n%7 == 6 {
			t.emptySilo(h, n)
		}
	}
}

// did signs off a task that belongs to a step with goods.
func (t *today) did(code records.TaskCode, st records.StationCode, at records.Instant, lots ...records.LotCode) {
	d := t.signoff(taskOf[code], st, at)
	d.Fact.(*records.Signoff).Lots = lots
}

// clean is a clean-out between barley and wheat.
func (t *today) clean(st records.StationCode, minute int) {
	t.did("changeover-clean", st, t.at(minute))
}

func yes() *bool { b := true; return &b }

// receive takes over the day's loads.
func (t *today) receive(h, n int) {
	w := t.week(h, n/7)
	if h == houses-1 && n%7 == 0 && n > 0 {
		t.clean(station("pit", h), 5*60+30)
		t.clean(station("conveyor", h), 5*60+50)
	}
	for i, load := range w.loads {
		if loadDays[i] != n%7 {
			continue
		}
		source := suppliers[t.r.IntN(len(suppliers))]
		looked := t.day - calendar.Date(t.r.IntN(4))
		seal := fmt.Sprintf("SL%06d", t.r.IntN(1_000_000))
		theirs := lb(load.lb + 20*(t.r.IntN(5)-2))
		lot := loadLot(h, n/7, i)
		at := t.at(6*60 + 40 + 45*(i%2) + h)
		t.signed(at, t.someone(), records.Received, &records.Receipt{Lot: lot, Item: records.ItemCode(w.grain), Status: records.Organic, Weight: load.weight(), Theirs: &theirs,
			To: station("silo", h), Via: []records.StationCode{station("pit", h), station("conveyor", h)}, Source: source, TheirLot: fmt.Sprintf("L-%d", 1000+t.r.IntN(9000)), Variety: "Hallam two-row", Packaging: "bulk",
			LastCertified: source, Certificate: records.DocumentCode(source + "-organic"), LookedUp: &looked,
			Vehicle: records.Vehicle{Carrier: "cartway", Number: fmt.Sprintf("CW %d", 10+t.r.IntN(30)), Clean: yes(), LastLoad: "feed barley", Seals: []records.Seal{{Papers: seal, Found: seal}}},
			Papers:  []string{fmt.Sprintf("weigh ticket %d", 7000+t.r.IntN(2999))}, ReleasedBy: "Yard of " + string(source)})
		t.signed(at.Add(25*time.Minute), t.someone(), records.Performed, &records.Result{Lot: lot, Method: "bench", Values: []records.Measured{
			{Name: "Moisture", Value: records.Quantity{Value: fixed(load.moisture, 1), Unit: "%"}}, {Name: "Protein", Value: records.Quantity{Value: fixed(9.6+float64(2*t.r.Float64()), 1), Unit: "%"}}}})
	}
}

// steep draws the day's batch from the silo.
func (t *today) steep(b *batch) {
	st := nth("steep", b.house, b.start%steeps)
	t.signed(t.at(10*60+2), t.someone(), records.Performed, &records.Move{From: station("silo", b.house), To: st, Via: []records.StationCode{station("conveyor", b.house)}, Weight: b.raw.weight(), Last: b.start%7 == 6})
	t.did("steep-in", st, t.at(10*60+8))
}

// emptySilo counts nothing in the silo on a Sunday and cleans it.
func (t *today) emptySilo(h, n int) {
	st := station("silo", h)
	t.signed(t.at(17*60), t.someone(), records.Performed, &records.Count{Station: st})
	t.did("silo-clean", st, t.at(18*60))
}

// lay takes a batch from the steep to the floor.
func (t *today) lay(b *batch) {
	st, floor := nth("steep", b.house, b.start%steeps), nth("floor", b.house, (b.start+2)%floors)
	t.did("steep-out", st, t.at(8*60))
	t.signed(t.at(8*60+4), t.someone(), records.Performed, &records.Process{Process: "steeping", Station: st, Started: t.day0(b.start, 10*60+4),
		Inputs:  []records.Input{{From: st, Weight: b.raw.weight(), Last: true}},
		Outputs: []records.Output{{Lot: b.code(""), Item: b.item("steeped"), Status: records.Organic, To: st, Weight: b.steeped.weight()}}})
	t.signed(t.at(9*60+20), t.someone(), records.Performed, &records.Move{Lot: b.code(""), From: st, To: floor, Weight: b.steeped.weight(), Last: true})
	t.did("load-bed", floor, t.at(9*60+30), b.code(""))
	t.did("steep-clean", st, t.at(9*60+50))
}

// strip takes a batch from the floor to the kiln, which has just been emptied.
func (t *today) strip(b *batch) {
	floor, kiln := nth("floor", b.house, (b.start+2)%floors), station("kiln", b.house)
	t.signed(t.at(6*60), t.someone(), records.Performed, &records.Process{Process: "germination", Station: floor, Started: t.day0(b.start+2, 9*60+30),
		Inputs:  []records.Input{{Lot: b.code(""), From: floor, Weight: b.steeped.weight(), Last: true}},
		Outputs: []records.Output{{Lot: b.code("G"), Item: b.item("green"), Status: records.Organic, To: floor, Weight: b.green.weight()}}})
	if b.first {
		t.clean(kiln, 6*60+42)
	}
	t.signed(t.at(6*60+50), t.someone(), records.Performed, &records.Move{Lot: b.code("G"), From: floor, To: kiln, Weight: b.green.weight(), Last: true})
	t.did("strip-bed", floor, t.at(6*60+53), b.code("G"))
	t.did("kiln-load", kiln, t.at(6*60+56), b.code("G"))
	t.did("floor-scrub", floor, t.at(7*60+40))
	if b.first {
		for i, kind := range []string{"bin", "cleaner", "clean-bin", "bagger"} {
			t.clean(station(kind, b.house), 17*60+30+20*i)
		}
	}
}

// unload takes a batch off the kiln.
func (t *today) unload(b *batch) {
	kiln, day := station("kiln", b.house), t.day
	t.did("kiln-off", kiln, t.at(6*60), b.code("K"))
	t.signed(t.at(6*60+6), t.someone(), records.Performed, &records.Process{Process: "kilning", Station: kiln, Started: t.day0(b.start+7, 6*60+56),
		Inputs:  []records.Input{{Lot: b.code("G"), From: kiln, Weight: b.green.weight(), Last: true}},
		Outputs: []records.Output{{Lot: b.code("K"), Item: b.item("kilned"), Status: records.Organic, To: station("bin", b.house), Weight: b.kilned.weight(), KilnDate: &day}}})
	t.did("kiln-clean", kiln, t.at(6*60+30))
}

// dress cleans and bags a batch.
func (t *today) dress(b *batch) {
	day, best := t.day, t.day.AddMonths(6)
	t.signed(t.at(12*60+10), t.someone(), records.Performed, &records.Process{Process: "cleaning", Station: station("cleaner", b.house), Started: t.at(11 * 60),
		Inputs: []records.Input{{Lot: b.code("K"), From: station("bin", b.house), Weight: b.kilned.weight(), Last: true}},
		Outputs: []records.Output{{Lot: b.code("M"), Item: b.item("malt"), Status: records.Organic, To: station("clean-bin", b.house), Weight: b.malt.weight(), KilnDate: &day},
			{Lot: rootletLot(b.house, b.start/7), Item: b.item("rootlets"), Status: records.Organic, To: "by-product", Weight: portion{b.roots, 7}.weight(), Container: fmt.Sprintf("Bin %d, lidded", b.house+1)}}})
	kept := lb(b.kept)
	t.signed(t.at(12*60+20), t.someone(), records.Performed, &records.Sample{Lot: b.code("M"), Act: "kept", Number: b.kept, From: station("clean-bin", b.house), Mass: &kept, Where: "Sample shelf"})
	net := lb(55)
	rest := b.malt
	rest.lb -= b.kept
	t.signed(t.at(15*60+40), t.someone(), records.Performed, &records.Process{Process: "bagging", Station: station("bagger", b.house), Started: t.at(14*60 + 30),
		Inputs:  []records.Input{{Lot: b.code("M"), From: station("clean-bin", b.house), Weight: rest.weight(), Last: true}},
		Outputs: []records.Output{{Lot: b.code("B"), Item: b.item("malt"), Status: records.Organic, To: "warehouse", Weight: portion{b.bags * 55, rest.moisture}.weight(), Bags: b.bags, BagNet: &net, KilnDate: &day, BestBy: &best}}})
	t.signed(t.at(15*60+55), t.someone(), records.Performed, &records.Result{Lot: b.code("B"), Method: "bench", Values: []records.Measured{{Name: "Moisture", Value: records.Quantity{Value: fixed(b.wet, 1), Unit: "%"}}}})
	if t.one(50) {
		t.hold(b)
	}
}

// day0 is about so many minutes after midnight on another day.
func (t *today) day0(days, minutes int) records.Instant {
	return t.base - records.Instant(int(t.day-t.since)-days)*86_400_000 + records.Instant(minutes)*60_000
}
