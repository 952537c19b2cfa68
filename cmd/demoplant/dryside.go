package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// turns of a machine of the dry side on a working day: two runs, with room for a clean-out before each and the
// afternoon for opening and washing.
type turns struct {
	day  calendar.Date
	next int // run of that day
	from [2]int
	wash calendar.Date // washed in the afternoon of this day; dry by the second run of the next
}

// take gives the start and the end of the next free run on or after a day; last asks for the second run of a day whose
// next day is worked too.
func (g *goods) take(t *turns, from calendar.Date, last bool) (start, end records.Instant) {
	for {
		day := g.workday(max(from, t.day))
		if day > t.day {
			t.day, t.next = day, 0
		}
		if t.next == 0 && t.wash == g.lastWorked(day) {
			t.next = 1
		}
		if last && t.next == 0 && g.works(day+1) {
			t.next = 1
		}
		if t.next > 1 || last && !g.works(day+1) {
			from, t.next = day+1, 2
			continue
		}
		r := g.rand("turn", t.from, day, t.next)
		start = g.at(day, t.from[t.next], 20+r.IntN(8))
		t.next++
		return start, start.Add(time.Duration(80+r.IntN(12)) * time.Minute)
	}
}

func (g *goods) lastWorked(d calendar.Date) calendar.Date {
	for d--; !g.works(d); d-- {
	}
	return d
}

// drySide cleans and bags every batch in the order in which it came off the kiln.
func (g *goods) drySide() {
	g.turns()
	for _, f := range g.flows {
		if f.kilnOff > g.until {
			continue
		}
		g.clean(f, f.cleaning.from, f.cleaning.to)
		if g.mixedUp == f {
			g.mixUp(f)
		}
	}
	for _, f := range g.flows {
		if f.kilnOff > g.until || f.gone {
			continue
		}
		end := f.bagging.to
		g.bag(f, f.bagging.from, end)
		if f.wheaten() {
			g.wash("bagger", end, f)
		}
		g.mill(f, end)
		g.blend(f, end)
		g.sell(f, end)
	}
	g.grind()
}

// turns gives every batch its time at the cleaner and, on a later day, at the bagger.
func (g *goods) turns() {
	cleaner, bagger := &turns{from: [2]int{7, 10}}, &turns{from: [2]int{7, 10}}
	for _, f := range g.flows {
		if f.kilnOff > g.until {
			continue
		}
		f.cleaning.from, f.cleaning.to = g.take(cleaner, g.day(f.kilnOff)+1, false)
		f.bagging.from, f.bagging.to = g.take(bagger, g.day(f.cleaning.to)+1, f.wheaten())
		if f.wheaten() {
			bagger.wash, bagger.next = g.day(f.bagging.to), 2
		}
	}
	for i, f := range g.flows { // the batch that will be run into another's bin
		if i == 0 || f.class != "conventional" || f.broke || f.kilnOff > g.until {
			continue
		}
		other := g.flows[i-1]
		if other.bin == 2 && other.class == "organic" && !other.broke && !other.undated && other.cleaning.to < f.cleaning.from && f.cleaning.to.Add(4*time.Hour) < other.bagging.from && g.first("mixed up", f.cleaning.to, 150) {
			g.mixedUp = f
		}
	}
}

// wash washes a machine in the afternoon after wheat, and has it looked at next morning.
func (g *goods) wash(st records.StationCode, after records.Instant, f *flow) {
	d := g.day(after)
	g.cleanOut(st, 3, max(g.at(d, 13, 40), after.Add(75*time.Minute)), f.bags())
	at := g.at(d, 13, 40)
	g.jobs = append(g.jobs, job{task: "dry-check", station: st, opens: max(at, after.Add(75*time.Minute)), at: g.at(d+1, 7, 50)})
}

// machine gets a machine ready for a run, unless that is forgotten, and notes the run.
func (g *goods) machine(st records.StationCode, class string, start, end records.Instant, forget bool) {
	if !forget {
		g.ready(st, class, start)
	}
	g.used(st, class, end)
}

func (g *goods) bin(kind string, n int) records.StationCode {
	return records.StationCode(fmt.Sprintf("%s-bin-%d", kind, n))
}

// clean runs a batch through the cleaner: rootlets and husk off, malt into the clean bin of the same number.
func (g *goods) clean(f *flow, start, end records.Instant) {
	r := g.rand("clean", f.no)
	weak := false
	if rank := g.needs("cleaner", f.class, start); rank == 2 && f.class == "organic" && g.track("cleaner").ends["conventional"] < g.track("cleaner").ends["organic+wheat"] && g.first("weak", start, 130) {
		weak = true
		g.jobs = append(g.jobs, job{task: "sweep-out", station: "cleaner", at: start.Add(-8 * time.Minute)})
		g.occupy("cleaner", start.Add(-8*time.Minute))
	}
	wheatEnd := g.lastOf("cleaner", start)
	g.machine("cleaner", f.class, start, end, weak)
	item := records.ItemCode("rootlets")
	if f.wheaten() {
		item = "wheat-rootlets"
	}
	class := f.class
	if f.broke {
		class = "conventional" // its rootlets go with those
		g.used("cleaner", class, end)
	}
	c := g.open(item, class, end, fmt.Sprintf("Bin %s-%d, lidded", binLetters[class], f.no%5+1))
	share := rootletShare * (1 + 0.08*r.NormFloat64())
	heavy := !f.undated && g.first("rootlets", start, 310)
	if heavy {
		share = 0.078
	}
	malt := f.offKiln.after(lostCleaner+share*0.97, f.offKiln.moisture+0.1)
	roots := portion{int(float64(malt.lb)*share/5) * 5, tenth(7 + 0.4*r.NormFloat64())}
	c.lb += roots.lb
	f.malted = malt
	to := f.bin
	if g.mixedUp == f {
		to = g.flows[f.no-1].bin
	}
	fact := &records.Process{Process: "cleaning", Station: "cleaner", Started: start, Inputs: []records.Input{{Lot: f.kilned(), From: g.bin("malt", f.bin), Weight: weigh(f.offKiln), Last: true}},
		Outputs: []records.Output{{Lot: f.malt(), Item: records.ItemCode(maltOf(f.item)), Status: f.status, To: g.bin("clean", to), Weight: weigh(malt), KilnDate: &f.kilnDate},
			{Lot: c.code, Item: c.item, Status: c.status, To: "by-product", Weight: weigh(roots), Container: c.label}}}
	if f.undated {
		fact.Outputs[0].KilnDate = nil
	}
	unlabelled := !f.undated && g.first("unlabelled", end, 150)
	if unlabelled {
		fact.Outputs[1].Container = ""
	}
	d := g.write(end, records.Performed, fact)
	switch {
	case weak:
		var shows []Expected
		for _, x := range []struct {
			lot records.LotCode
			at  records.Instant
		}{{f.kilned(), start}, {f.malt(), end}, {c.code, end}} {
			shows = append(shows, Expected{Rule: "weak-clean-out", About: fmt.Sprintf("cleaner:%s:%s:%s", x.lot, wheatEnd, x.at)})
		}
		g.wrong("The cleaner was only swept out after wheat", d, shows...)
		g.cleanOut("cleaner", 2, end.Add(60*time.Minute))
	case f.undated:
		g.wrong("The kiln date of a batch was not written down until it was bagged", d, about("kiln-date-missing", d, "/1"))
	case heavy:
		g.wrong("Too many rootlets came off a batch", d, about("by-product-out-of-band", d, ""))
	case unlabelled:
		g.wrong("Rootlets were put aside and no container was named", d, about("by-product-unlabelled", d, "/2"))
	}
	kept, few := 6+r.IntN(4), g.first("few samples", end, 85)
	if few {
		kept = 3
	}
	s := g.write(end.Add(9*time.Minute), records.Performed, &records.Sample{Lot: f.malt(), Act: "kept", Number: kept, From: g.bin("clean", to), Mass: massOf(kept), Where: "Sample shelf, " + f.item})
	if few {
		g.wrong("Too few samples of a batch were kept", s, Expected{Rule: "samples-few", About: string(f.bags())}, Expected{Rule: "samples-few", About: string(f.sacks())})
	}
	f.malted.lb -= kept
	g.discard(f, kept)
}

// maltOf is the item a grain becomes.
func maltOf(grain string) string {
	switch grain {
	case "barley":
		return "pale-malt"
	case "oats":
		return "oat-malt"
	}
	return grain + "-malt"
}

// lastOf is the lot of wheat that a machine of the dry side had last: the by-product, which left it last, or the malt.
func (g *goods) lastOf(st records.StationCode, at records.Instant) (lot records.LotCode) {
	for i := len(g.drafts) - 1; i >= 0; i-- {
		p, ok := g.drafts[i].entry.Fact.(*records.Process)
		if !ok || p.Station != st || g.drafts[i].entry.Happened > at {
			continue
		}
		out := p.Outputs[len(p.Outputs)-1]
		if it := g.planAt(at).Item(out.Item); it != nil && len(it.Allergens) > 0 {
			return out.Lot
		}
	}
	return ""
}

// discard throws a batch's samples out in the month after their best-by.
func (g *goods) discard(f *flow, n int) {
	due := f.kilnDate.AddMonths(6)
	at := g.at(g.working(due+8), 14, 5).Add(time.Duration(f.no%50) * time.Minute)
	d := g.write(at, records.Performed, &records.Sample{Lot: f.malt(), Act: "discarded", Number: n, Note: "Past best-by"})
	if g.first("samples early", at, 330) {
		d.entry.Happened -= records.Instant(60 * 24 * time.Hour / time.Millisecond)
		d.recorded = nextRound(d.entry.Happened)
		g.wrong("Samples were thrown out two months too early", d, Expected{Rule: "samples-early", About: string(f.malt())})
	}
}

// bag fills bags of 55 lb and what is left into sacks.
func (g *goods) bag(f *flow, start, end records.Instant) {
	r := g.rand("bag", f.no)
	forget := f.class == "organic" && g.track("bagger").ends["conventional"] > g.track("bagger").ends["organic"] && g.needs("bagger", f.class, start) == 2 && g.first("bagger forgotten", start, 300)
	before, beforeEnd := g.lotBefore(f), g.track("bagger").ends["conventional"]
	g.machine("bagger", f.class, start, end, forget)
	n := 110 + r.IntN(60)
	best := f.kilnDate.AddMonths(6)
	printed := best
	misprint := g.first("best-by", end, 110)
	if misprint {
		printed = f.kilnDate.AddMonths(7)
	}
	item := records.ItemCode(maltOf(f.item))
	rest := f.malted.lb - n*55
	bin := g.bin("clean", f.bin)
	from := f.malt()
	if f.mixedWith != nil {
		from += "D"
	}
	bags := records.Output{Lot: f.bags(), Item: item, Status: f.status, To: "warehouse", Weight: scaled(n * 55), Bags: n, BagNet: massOf(55), KilnDate: &f.kilnDate, BestBy: &printed}
	sacks := records.Output{Lot: f.sacks(), Item: item, Status: f.status, To: "warehouse", Weight: records.Weight{Mass: lb(rest)}, Bags: (rest + 1999) / 2000, KilnDate: &f.kilnDate, BestBy: &best}
	bags.Weight.Moisture, sacks.Weight.Moisture = weigh(f.malted).Moisture, weigh(f.malted).Moisture
	miscount, unprinted := g.first("bag count", end, 170), g.first("no best-by", end, 225)
	early := g.first("best-by early", end, 355)
	if early {
		sooner := f.kilnDate.AddMonths(5)
		sacks.BestBy = &sooner
	}
	if miscount {
		bags.Bags = n + 10
	}
	if unprinted {
		sacks.BestBy = nil
	}
	fact := &records.Process{Process: "bagging", Station: "bagger", Started: start, Inputs: []records.Input{{Lot: from, From: bin, Weight: weigh(f.malted), Last: true}}, Outputs: []records.Output{bags, sacks}}
	d := g.write(end, records.Performed, fact)
	g.post(end, "warehouse", f.bags(), n*55)
	g.post(end, "warehouse", f.sacks(), rest)
	switch {
	case misprint:
		g.wrong("Bags were printed with a best-by a month too late", d, about("best-by-late", d, "/1"))
	case early:
		g.wrong("Sacks were printed with a best-by a month too early", d, about("best-by-early", d, "/2"))
	case miscount:
		g.wrong("Ten bags more were written down than the malt that was bagged", d, about("bags-differ", d, "/"+string(f.bags())))
	case unprinted:
		g.wrong("Sacks went without a best-by", d, about("best-by-missing", d, "/2"))
	case forget:
		var shows []Expected
		rule := g.shortfall("bagger", beforeEnd, start)
		for _, x := range []struct {
			lot records.LotCode
			at  records.Instant
		}{{f.malt(), start}, {f.bags(), end}, {f.sacks(), end}} {
			shows = append(shows, Expected{Rule: rule, About: fmt.Sprintf("bagger:%s:%s:%s", x.lot, before, x.at)})
		}
		g.wrong("Organic malt was bagged after non-organic malt, and the bagger was not cleaned", d, shows...)
		f.broke, g.shipped = true, true // see sellBroken
		g.cleanOut("bagger", 2, end.Add(60*time.Minute))
	}
	g.results(f, end)
}

// lotBefore is the last lot bagged before a batch: what left the bagger last.
func (g *goods) lotBefore(f *flow) records.LotCode {
	for i := f.no - 1; i >= 0; i-- {
		if g.flows[i].class == "conventional" && !g.flows[i].gone {
			return g.flows[i].sacks()
		}
	}
	return ""
}
