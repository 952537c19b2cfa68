package demoplant

import (
	"fmt"
	"math"
	"time"

	"grainward/records"
)

// fixed is a number rounded to some decimals.
func fixed(x float64, decimals int) records.Decimal {
	return records.NewDecimal(int64(math.Round(x*math.Pow10(decimals))), decimals)
}

// What of the dry matter is lost, as the worked model of the malting arithmetic has it: about 1 % steeping, 5.5 %
// breathing on the floor; a little dust off the kiln and the cleaner. Rootlets and husk are about 4 % of the malt.
const (
	lostSteeping = 0.010
	lostFloor    = 0.055
	lostKiln     = 0.003
	lostCleaner  = 0.003
	rootletShare = 0.040
)

// house takes a batch from the steep tank to the malt bin.
func (g *goods) house(f *flow) {
	r := g.rand("house", f.no)
	vary := func(x float64) float64 { return x * (1 + 0.06*r.NormFloat64()) }
	kinds := []records.ItemCode{"steeped-grain", "green-malt", "kilned-malt"}
	if f.wheaten() {
		kinds = []records.ItemCode{"steeped-wheat", "green-wheat-malt", "kilned-wheat-malt"}
	}
	process := func(name string, at records.StationCode, from, to records.Instant, in records.Input, out records.Output) *draft {
		return g.write(to, records.Performed, &records.Process{Process: name, Station: at, Started: from, Inputs: []records.Input{in}, Outputs: []records.Output{out}})
	}
	move := func(lot records.LotCode, from, to records.StationCode, p portion, at records.Instant) {
		g.write(at, records.Performed, &records.Move{Lot: lot, From: from, To: to, Weight: weigh(p), Last: true})
	}
	raw := portion{f.mass, f.moisture}
	steeped := raw.after(vary(lostSteeping), 44.9+0.5*r.NormFloat64())
	process("steeping", f.steep, f.steepIn, f.steepOut.Add(-5*time.Minute), records.Input{From: f.steep, Weight: weigh(raw), Last: true},
		records.Output{Lot: f.lot, Item: kinds[0], Status: f.status, To: f.steep, Weight: weigh(steeped)})
	move(f.lot, f.steep, f.floor, steeped, f.load.Add(-4*time.Minute))

	lost := vary(lostFloor)
	long := f.item == "barley" && f.status == records.Organic && g.first("overgrown", f.strip, 205)
	if long {
		lost = 0.125
	}
	green := steeped.after(lost, 43.2+0.5*r.NormFloat64())
	d := process("germination", f.floor, f.load, f.strip.Add(-3*time.Minute), records.Input{Lot: f.lot, From: f.floor, Weight: weigh(steeped), Last: true},
		records.Output{Lot: f.green(), Item: kinds[1], Status: f.status, To: f.floor, Weight: weigh(green)})
	if long {
		g.wrong("A bed grew too long: more dry matter was breathed away than the plan expects", d, about("loss-out-of-band", d, ""))
	}
	move(f.green(), f.floor, "kiln", green, f.kilnLoad.Add(-4*time.Minute))

	if rank := g.needs("kiln", f.class, f.kilnLoad.Add(-4*time.Minute)); rank > 0 {
		g.cleanOut("kiln", 2, f.kilnLoad.Add(-5*time.Hour))
	}
	f.offKiln = green.after(vary(lostKiln), 3.6+0.12*r.NormFloat64())
	f.bin = g.maltBin(f)
	kilned := &f.kilnDate
	if f.undated = g.first("undated", f.kilnOff, 325); f.undated {
		kilned = nil
	}
	off := f.kilnOff.Add(8 * time.Minute)
	process("kilning", "kiln", f.kilnLoad, off, records.Input{Lot: f.green(), From: "kiln", Weight: weigh(green), Last: true},
		records.Output{Lot: f.kilned(), Item: kinds[2], Status: f.status, To: records.StationCode(fmt.Sprintf("malt-bin-%d", f.bin)), Weight: weigh(f.offKiln), KilnDate: kilned})
	g.used("kiln", f.class, off)
	g.track("kiln").outs = append(g.track("kiln").outs, cleaned{stay{off, f.kilnOff.Add(160 * time.Minute)}, 0}) // swept each time
}

// maltBin is the pair of malt bins a batch goes through: 5 for wheat and spelt, 6 for what is not organic, the others in turn.
func (g *goods) maltBin(f *flow) int {
	switch f.class {
	case "organic":
		return f.no%4 + 1
	case "conventional":
		return 6
	}
	return 5
}
