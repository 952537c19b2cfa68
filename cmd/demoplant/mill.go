package demoplant

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"grainward/records"
)

// mill grinds some bags of a batch for a customer: barley on Tuesdays, wheat on a Thursday after which the mill can be
// washed and dried.
func (g *goods) mill(f *flow, bagged records.Instant) {
	switch {
	case f.broke || f.toHold():
		return
	case f.item == "barley" && f.class == "organic" && f.no%4 == 0:
		f.milled = 20
	case f.wheaten() && f.no%2 == 0:
		f.milled = 16
	default:
		return
	}
	d, want := g.workday(g.day(bagged)+1), time.Tuesday
	if f.wheaten() {
		want = time.Thursday
	}
	for d.Weekday() != want || !g.works(d) || f.wheaten() && !g.works(d+1) || g.workday(d) != d {
		d++
	}
	start := g.at(d, 9, 10+g.rand("mill", f.no).IntN(15)).Add(time.Duration(g.milledDays[d]) * 80 * time.Minute) // one after the other
	g.milledDays[d]++
	g.grinding = append(g.grinding, &grinding{f, start})
}

// grinding is one run of the mill.
type grinding struct {
	flow  *flow
	start records.Instant
}

// grind does the runs of the mill in order.
func (g *goods) grind() {
	slices.SortStableFunc(g.grinding, func(a, b *grinding) int { return cmp.Compare(a.start, b.start) })
	for _, x := range g.grinding {
		g.grindOne(x.flow, x.start)
	}
}

func (g *goods) grindOne(f *flow, start records.Instant) {
	r, d := g.rand("grind", f.no), g.day(start)
	end := start.Add(65 * time.Minute)
	forget := f.class == "organic" && g.unwashed != "" && g.unwashed != "done"
	rule := g.shortfall("mill", g.track("mill").ends["organic+wheat"], start)
	if rule == "gap" {
		rule = "allergen-gap"
	}
	g.machine("mill", f.class, start, end, forget)
	in := f.milled * 55
	out := in - 3 - r.IntN(5)
	gain := f.class == "organic" && !forget && g.first("gain", end, 290)
	if gain {
		out = in + 130
	}
	item, status := records.ItemCode("milled-malt"), f.status
	if f.wheaten() {
		item = "milled-wheat-malt"
	}
	best := d.AddMonths(3)
	lot := f.lot + "-G"
	w := weigh(portion{out, f.malted.moisture})
	dr := g.write(end, records.Performed, &records.Process{Process: "milling", Station: "mill", Started: start,
		Inputs:  []records.Input{{Lot: f.bags(), From: "warehouse", Weight: weigh(portion{in, f.malted.moisture})}},
		Outputs: []records.Output{{Lot: lot, Item: item, Status: status, To: "warehouse", Weight: w, Bags: f.milled, BestBy: &best}}})
	g.post(end, "warehouse", f.bags(), -in)
	g.post(end, "warehouse", lot, out)
	switch {
	case gain:
		g.wrong("More malt came out of the mill than went in: a bag was not counted going in", dr, about("dry-gain", dr, ""))
	case forget:
		g.wrong("Barley was milled after wheat and the mill had not been washed", dr,
			Expected{Rule: rule, About: fmt.Sprintf("mill:%s:%s:%s", f.bags(), g.unwashed, start)}, Expected{Rule: rule, About: fmt.Sprintf("mill:%s:%s:%s", lot, g.unwashed, end)})
		g.unwashed = "done"
		g.cleanOut("mill", 3, g.at(d, 15, 30))
		g.jobs = append(g.jobs, job{task: "dry-check", station: "mill", opens: g.at(d, 15, 30), at: g.at(g.working(d+1), 8, 5)})
	case f.wheaten() && g.unwashed == "" && g.first("mill unwashed", end, 140):
		g.unwashed = lot
	case f.wheaten():
		g.wash("mill", end, f)
	}
	if f.wheaten() && g.first("milled toxin", end, 60) {
		res := g.add(g.at(g.working(d+6), 11, 15), lead, records.Received, &records.Result{Lot: lot, Laboratory: "tarn-lab", Values: []records.Measured{{Name: "DON", Value: quantity(1.3, 1, "mg/kg")}}}).prompt()
		g.wrong("Milled wheat malt was found with more DON than advised", res, about("don-wheat", res, "/1"))
	}
	at := g.dispatchDay(end)
	g.sale(lot, f, at, out, f.milled, g.pickCustomer("mill", f.no), true, nil)
}

// blend makes a customer's own recipe of pale malt and the newest rye malt.
func (g *goods) blend(f *flow, bagged records.Instant) {
	if f.item != "barley" || f.class != "organic" || f.no%6 != 3 || g.rye == nil || f.broke || f.undated {
		return
	}
	d := g.workday(g.day(bagged) + 1)
	for d.Weekday() == time.Friday || g.workday(d) != d || g.mixed == d {
		d++
	}
	g.mixed = d
	r := g.rand("blend", f.no)
	start := g.at(d, 10, 10+r.IntN(30))
	end := start.Add(70 * time.Minute)
	g.machine("mixer", f.class, start, end, false)
	eager := f.toHold()
	if eager && !g.first("blended held", end, 100) {
		return
	}
	f.blended = 14
	rye := g.rye
	first := min(f.kilnDate, rye.kilnDate)
	best := first.AddMonths(6)
	lot := f.lot + "-H"
	younger := !eager && f.kilnDate != rye.kilnDate && g.first("blend best-by", end, 270)
	if younger {
		best = max(f.kilnDate, rye.kilnDate).AddMonths(6)
		younger = best != first.AddMonths(6)
	}
	in, more := f.blended*55, 6*55
	d2 := g.write(end, records.Performed, &records.Process{Process: "blending", Station: "mixer", Started: start, Note: "Recipe 7/3 of the customer",
		Inputs: []records.Input{{Lot: f.bags(), From: "warehouse", Weight: weigh(portion{in, f.malted.moisture})},
			{Lot: rye.bags(), From: "warehouse", Weight: weigh(portion{more, rye.malted.moisture})}},
		Outputs: []records.Output{{Lot: lot, Item: "harbour-blend", Status: records.Organic, To: "warehouse", Weight: weigh(portion{in + more, f.malted.moisture}), Bags: 20, BagNet: massOf(55), BestBy: &best}}})
	g.post(end, "warehouse", f.bags(), -in)
	if eager {
		g.wrong("A stopped batch was blended into a customer's recipe", d2, about("stopped-made", d2, "/"+string(f.bags())+"/"+string(lot)))
	}
	if younger {
		g.wrong("A blend was labelled with the best-by of the younger malt in it", d2, about("best-by-mixed", d2, "/1"))
	}
	g.post(end, "warehouse", rye.bags(), -more)
	g.post(end, "warehouse", lot, in+more)
	rye.left -= more
	if rye.left < 8*55 {
		g.rye = nil
	}
	kept := 5 + r.IntN(3)
	many := g.first("many samples", end, 160)
	if many {
		kept = 12
	}
	s := g.write(end.Add(12*time.Minute), records.Performed, &records.Sample{Lot: lot, Act: "kept", Number: kept, From: "warehouse", Mass: massOf(kept), Where: "Sample shelf, blends"})
	if many {
		g.wrong("More samples of a blend were kept than the plan asks for", s, Expected{Rule: "samples-many", About: string(lot)})
	}
	g.post(end.Add(12*time.Minute), "warehouse", lot, -kept)
	g.sale(lot, f, g.dispatchDay(end), in+more-kept, 20, "lantern-dog", true, nil)
}
