package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
)

// mixUp is a batch that is not organic run into the bin of one that is, which still waited there to be bagged. It was
// noticed the same day; the two went on as one, as what they then were.
func (g *goods) mixUp(f *flow) {
	other := g.flows[f.no-1]
	bin := g.bin("clean", other.bin)
	at := f.cleaning.to
	var before *flow // that the bin held last
	for _, x := range g.flows[:other.no] {
		if x.bin == other.bin {
			before = x
		}
	}
	lot, noticed := other.malt()+"D", at.Add(2*time.Hour)
	both := portion{other.malted.lb + f.malted.lb, other.malted.moisture}
	g.write(noticed.Add(-time.Hour), records.Performed, &records.Deviation{What: "The slide of the clean bins stood at 2 instead of 6: non-organic malt ran onto organic.", Station: bin,
		Lots: []records.LotCode{other.malt(), f.malt()}, Action: "Bin closed, lead called."})
	dev := g.drafts[len(g.drafts)-1]
	g.add(noticed.Add(25*time.Hour), lead, records.Verified, &records.Answer{Deviation: dev.entry.ID, Closes: true, Cause: "Slide not read before starting.", Action: "Both lots downgraded as one.",
		Lots: "Sold as non-organic.", Prevention: "The bin's number is called back before the cleaner starts."}).prompt()
	g.wrong("Non-organic malt was run onto organic malt in its bin; noticed, reported and answered", dev, Expected{Rule: "deviation", About: dev.entry.ID.String(), Closed: true})
	d := g.write(noticed, records.Performed, &records.Process{Process: "downgrading", Station: bin, Started: noticed,
		Inputs:  []records.Input{{Lot: other.malt(), From: bin, Weight: weigh(other.malted), Last: true}, {Lot: f.malt(), From: bin, Weight: weigh(f.malted), Last: true}},
		Outputs: []records.Output{{Lot: lot, Item: "pale-malt", Status: records.Conventional, To: bin, Weight: weigh(both), KilnDate: &other.kilnDate}}})
	shows := []Expected{{Rule: "together", About: fmt.Sprintf("%s:%s+%s:%s", bin, other.malt(), f.malt(), at)}}
	for _, x := range []struct {
		lot records.LotCode
		at  records.Instant
	}{{f.malt(), at}, {lot, noticed}} {
		shows = append(shows, Expected{Rule: "gap", About: fmt.Sprintf("%s:%s:%s:%s", bin, x.lot, before.malt(), x.at)})
	}
	g.wrong("and the two went on as one lot that is not organic", d, shows...)
	f.gone, other.mixedWith, other.malted, other.class, other.status = true, f, both, "conventional", records.Conventional
	g.cleanOut(bin, 2, other.bagging.to.Add(3*time.Hour))
	g.occupied(bin)
}

// occupied is the clean-out of a bin that was signed off with a batch in it.
func (g *goods) occupied(bin records.StationCode) {
	for _, f := range g.flows {
		if f.bin != 2 || f.bagging.from == 0 || f.bagging.from < f.cleaning.to.Add(5*time.Hour) || !g.first("occupied", f.cleaning.to, 380) {
			continue
		}
		at := f.cleaning.to.Add(3 * time.Hour)
		g.jobs = append(g.jobs, job{task: "changeover-clean", station: bin, at: at})
		g.slips = append(g.slips, &slip{task: "changeover-clean", from: g.day(at), when: func(j *job) bool { return j.station == bin && j.at == at }, do: func(j *job) {
			d := g.sign(j, nil)
			g.note("A bin was signed off as cleaned with malt in it", at, d.entry.ID, Expected{Rule: "cleaned-occupied", About: d.entry.ID.String() + "/" + string(f.malt())})
		}})
		return
	}
}
