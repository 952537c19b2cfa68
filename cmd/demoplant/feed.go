package demoplant

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"grainward/records"
)

// through is one run of grain through the receiving pit and the enclosed conveyor, or the conveyor alone.
type through struct {
	at    records.Instant
	via   []records.StationCode
	truck *truck
	flow  *flow
	fill  *filling
}

// feed brings the grain in and to the steeps, in order, and has the pit and the conveyor cleaned between unlike grain.
func (g *goods) feed() {
	var runs []through
	for _, fill := range g.silos {
		for _, t := range fill.trucks {
			run := through{at: t.at, truck: t, fill: fill}
			if t.to != "warehouse" {
				run.via = []records.StationCode{"pit", "conveyor"}
				run.at = g.clear(run.at, time.Minute, run.via...)
			}
			runs = append(runs, run)
		}
		for _, f := range fill.flows {
			run := through{at: f.steepIn.Add(-8 * time.Minute), via: []records.StationCode{"conveyor"}, flow: f, fill: fill}
			if f.from == "warehouse" {
				run.via = []records.StationCode{"pit", "conveyor"}
			}
			runs = append(runs, run)
		}
	}
	slices.SortStableFunc(runs, func(a, b through) int { return cmp.Compare(a.at, b.at) })
	var barley *filling // the silo now drawn from, for purges
	wheat := 0
	for _, run := range runs {
		class := "organic"
		if f := run.flow; f != nil {
			class = f.class
		}
		var forgotten *Expected
		for _, st := range run.via {
			rank := g.needs(st, class, run.at)
			switch {
			case rank < 0:
			case st == "pit" && run.truck != nil && g.track(st).ends["conventional"] < g.track(st).ends["organic+wheat"] && g.first("pit forgotten", run.at, 320):
				rule := g.shortfall("pit", g.track(st).ends["organic+wheat"], run.at)
				if rule == "gap" {
					rule = "allergen-gap"
				}
				wheat := g.flowBefore(run, func(f *flow) bool { return f.wheaten() })
				forgotten = &Expected{Rule: rule, About: fmt.Sprintf("pit:%s:%s:%s", run.truck.lot, wheat.lots[0], run.at)}
				g.cleanOut("pit", rank, run.at.Add(2*time.Hour))
			case run.flow != nil && run.flow.no == beforeTheGap+1 && st == "conveyor":
				// forgotten: see gap
			case rank == 2 && st == "conveyor" && g.track(st).ends["conventional"] < g.track(st).ends["organic+wheat"] && barley != nil && barley.purges >= 320:
				if wheat++; wheat%2 == 1 {
					g.purge(barley, run.at.Add(-25*time.Minute), run)
					continue
				}
				g.cleanOut(st, rank, run.at.Add(-20*time.Minute))
			default:
				g.cleanOut(st, rank, run.at.Add(-20*time.Minute))
			}
		}
		if run.truck != nil {
			d := g.receive(run.truck, run.at, run.via)
			if forgotten != nil {
				g.wrong("Barley was tipped into the pit after wheat, and the pit had not been cleaned", d, *forgotten)
			}
		} else {
			if run.fill.silo == "silo-1" || run.fill.silo == "silo-2" {
				barley = run.fill
				if run.flow.last {
					barley = nil
				}
			}
			g.draw(run)
		}
		for _, st := range run.via {
			g.used(st, class, run.at)
		}
	}
}

// purge runs clean barley through the conveyor after wheat and puts it with the by-products. Once it was too little.
func (g *goods) purge(fill *filling, at records.Instant, run through) {
	mass := 320
	small := fill.silo == "silo-1" && g.first("small purge", at, 190)
	if small {
		mass = 180
	}
	fill.purges -= mass
	p := portion{mass, 12}
	lot := g.open("screenings", "conventional", at, fmt.Sprintf("Bin P-%d, lidded", mass%7+1))
	f := &records.Purge{Stations: []records.StationCode{"conveyor"}, From: fill.silo, Weight: weigh(p), Note: "After wheat, before barley.",
		Became: records.Output{Lot: lot.code, Item: "screenings", Status: records.Conventional, To: "by-product", Weight: weigh(p), Container: lot.label}}
	sold, spoilt := !small && g.first("purge organic", at, 350), false
	if sold {
		f.Became.Status = records.Organic
	} else if !small && g.first("waste", at, 120) {
		spoilt = true
		f.Became.Disposal = "A bolt came out with it: for the landfill"
	}
	d := g.write(at, records.Performed, f)
	if sold {
		g.wrong("Grain that was run through to clean the conveyor was written down as organic", d, about("purge-sold", d, ""))
	}
	lot.waste = spoilt
	lot.lb += mass
	g.post(at, fill.silo, "", -mass)
	g.used("conveyor", "organic", at)
	if !small {
		g.track("conveyor").outs = append(g.track("conveyor").outs, cleaned{stay{at, at}, 2})
		return
	}
	var shows []Expected
	wheat := g.flowBefore(run, func(f *flow) bool { return f.wheaten() })
	for _, l := range g.rawIn(run) {
		shows = append(shows, Expected{Rule: "weak-clean-out", About: fmt.Sprintf("conveyor:%s:%s:%s", l, wheat.lots[0], run.at)})
	}
	g.wrong("Too little grain was run through the conveyor after wheat", d, shows...)
	g.cleanOut("conveyor", 2, run.at.Add(3*time.Hour))
}

// rawIn are the lots a run takes along.
func (g *goods) rawIn(run through) []records.LotCode {
	if run.truck != nil {
		return []records.LotCode{run.truck.lot}
	}
	return run.flow.lots
}

// flowBefore is the newest batch before a run that fits.
func (g *goods) flowBefore(run through, fits func(*flow) bool) (last *flow) {
	for _, f := range g.flows {
		if f.steepIn < run.at && fits(f) {
			last = f
		}
	}
	return last
}

// draw moves a batch's grain into its steep tank.
func (g *goods) draw(run through) {
	f := run.flow
	m := &records.Move{From: f.from, To: f.steep, Via: run.via, Weight: weigh(portion{f.mass, f.moisture}), Last: f.last}
	if f.from == "warehouse" {
		m.Lot, m.Last = f.lots[0], true
		m.Note = fmt.Sprintf("%d sacks tipped", f.mass/2000)
	}
	d := g.write(run.at, records.Performed, m)
	if m.Lot == "" {
		g.post(run.at, f.from, "", -f.mass)
	} else {
		g.post(run.at, f.from, m.Lot, -f.mass)
	}
	if f.last && (f.no%2 == 0 || f.from != "silo-2") {
		at := run.at.Add(47 * time.Minute)
		g.write(at, records.Performed, &records.Count{Station: f.from, Note: "Hatch opened, light down: empty to the floor."})
		if f.from == "silo-3" && g.first("counted wrong silo", at, 295) {
			d := g.write(at.Add(90*time.Minute), records.Performed, &records.Count{Station: "silo-3", Found: []records.Found{{Weight: records.Weight{Mass: lb(14_000)}}}})
			g.wrong("What was read at silo 2 was written down for silo 3, which is empty", d, about("nothing-there", d, ""))
		}
	}
	if f.last {
		g.post(run.at, f.from, "", -g.standing(run.at, f.from, ""))
	}
	if f.no == beforeTheGap+1 {
		f.broke = true
		g.gap(f, run, d)
	}
}

// gap is a batch that went over the conveyor after non-organic barley with nothing cleaned. It was noticed only when it
// was bagged; by then it had become all that is listed here. See sellBroken.
func (g *goods) gap(f *flow, run through, d *draft) {
	before := g.flows[f.no-1]
	shows := []Expected{{Rule: g.shortfall("conveyor", before.steepIn, run.at), About: fmt.Sprintf("conveyor:%s:%s:%s", f.lots[0], before.lots[0], run.at)}}
	made := []struct {
		lot, from records.LotCode
		at        records.Instant
	}{{f.lot, f.lots[0], f.steepOut}, {f.green(), f.lot, f.strip}, {f.kilned(), f.green(), f.kilnOff}}
	for _, m := range made {
		shows = append(shows, Expected{Rule: "broken-made", About: fmt.Sprintf("%s:%s", m.lot, m.from)})
	}
	for _, lot := range []records.LotCode{f.malt(), f.bags(), f.sacks()} {
		from := f.malt()
		if lot == from {
			from = f.kilned()
		}
		shows = append(shows, Expected{Rule: "broken-made", About: fmt.Sprintf("%s:%s", lot, from)})
	}
	g.wrong("Organic rye went over the conveyor after non-organic barley, and it had not been taken apart between; noticed when it was bagged, and downgraded", d, shows...)
	g.cleanOut("conveyor", 2, run.at.Add(5*time.Hour))
}

// shortfall is the rule that shows a missing clean-out: another when something less was done.
func (g *goods) shortfall(st records.StationCode, since, by records.Instant) string {
	for _, b := range g.busy[st] {
		if b.from >= since && b.to <= by {
			return "weak-clean-out"
		}
	}
	return "gap"
}
