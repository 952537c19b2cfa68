package demoplant

import (
	"fmt"
	"slices"
	"time"

	"grainward/records"
)

// drills are two recall drills: each takes a batch's bags that went to many, calls all of them and adds up what they say.
func (g *goods) drills() {
	for n, days := range []int{150, 420} {
		from := g.at(g.working(g.since.AddDays(days)), 9, 0)
		var f *flow
		for _, x := range g.flows {
			if x.kilnOff < from.Add(-45*24*time.Hour) && x.class == "organic" && x.item == "barley" {
				f = x
			}
		}
		if f == nil {
			continue
		}
		code := "drill-" + g.day(from).String()
		g.add(from, lead, records.Performed, &records.Drill{Drill: code, Step: "start", Subject: "lot:" + string(f.bags()), Why: []string{"Yearly drill: a customer reports a piece of wire in a bag", "Second drill: the laboratory takes back a result"}[n], Lead: lead, Level: "A"}).prompt()
		called := slices.Compact(slices.Sorted(slices.Values(g.consigned[f.bags()])))
		called = append([]records.PartnerCode{"saltgate"}, called...)
		r := g.rand("drill", n)
		at, reached := from.Add(18*time.Minute), 0
		for i, to := range called {
			d := &records.Drill{Drill: code, Step: "contact", Partner: to, Method: "telephone", Reached: i != 4 || n == 1}
			if d.Reached {
				reached++
				d.Spoke, d.Holds = "Goods in", massOf(r.IntN(4)*55)
			}
			g.add(at, lead, records.Performed, d).prompt()
			at = at.Add(time.Duration(4+r.IntN(6)) * time.Minute)
		}
		g.add(at.Add(25*time.Minute), lead, records.Performed, &records.Drill{Drill: code, Step: "finish",
			Figures: []records.Measured{{Name: "consignees", Value: quantity(float64(len(called)), 0, "")}, {Name: "reached", Value: quantity(float64(reached), 0, "")},
				{Name: "minutes", Value: quantity(at.Sub(from).Minutes(), 0, "min")}},
			Lessons: fmt.Sprintf("%d of %d answered within two hours. Numbers that answer at night were asked for and written into the plan.", reached, len(called))}).prompt()
	}
}
