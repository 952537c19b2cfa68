package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// dispatchDay is the next moment after another at which trucks are loaded: on working Mondays, Wednesdays and Fridays,
// after the day's dispatch check.
func (g *goods) dispatchDay(after records.Instant) records.Instant {
	d := g.day(after) + 1
	for d.Weekday()%2 != 1 || !g.works(d) {
		d++
	}
	g.trucksOut++
	return g.at(d, 12, 20).Add(time.Duration(g.trucksOut*7%170) * time.Minute)
}

// pickCustomer is one of all customers: those of the plan's own text oftener than the others.
func (g *goods) pickCustomer(about ...any) records.PartnerCode {
	r := g.rand("customer", fmt.Sprint(about...))
	if n := r.IntN(customers * 6 / 5); n < customers {
		return customer(n)
	}
	return named[r.IntN(len(named))]
}

// sell is where a batch goes: most bags to the fulfilment warehouse and from there to customers by the pallet and less,
// the sacks to one or two customers from our own door.
func (g *goods) sell(f *flow, bagged records.Instant) {
	r := g.rand("sell", f.no)
	at := g.dispatchDay(bagged.Add(36 * time.Hour))
	if f.broke {
		g.sellBroken(f, at)
		return
	}
	if g.held(f, bagged) {
		at = g.dispatchDay(bagged.Add(9 * 24 * time.Hour))
	}
	bags := g.standing(bagged, "warehouse", f.bags())/55 - f.milled - f.blended
	if f.item == "rye" && f.class == "organic" && !f.toHold() {
		f.left = 40 * 55 // kept back for blends
		bags -= 40
		g.rye = f
	}
	h := g.hand(f.bags(), f, "saltgate", records.Storage, bags*55, bags)
	d := g.write(at, records.Released, h)
	g.post(at, "warehouse", f.bags(), -bags*55)
	h.Last = f.milled+f.blended == 0 && f.left == 0
	switch {
	case g.first("never confirmed", at, 500):
		g.wrong("A load for the fulfilment warehouse was never confirmed", d, about("unconfirmed", d, ""))
	case g.day(at) >= g.day(g.until)-13 && g.first("not yet confirmed", at, 540) && at < g.until.Add(-8*24*time.Hour):
		g.wrong("A load for the fulfilment warehouse is not confirmed yet", d, about("unconfirmed", d, ""))
	case g.first("other mass", at, 215):
		c := g.confirm(d, h, "Gate office", bags*55-165, 2)
		g.wrong("The fulfilment warehouse counted three bags fewer", c, about("mass-differs", c, ""))
	default:
		g.confirm(d, h, "Gate office", bags*55, 1+r.IntN(3))
	}
	left, when := bags, g.at(g.day(at)+2, 10, 0)
	for n := 0; left > 0; n++ {
		take := min(left, 12+r.IntN(30))
		if left-take < 8 {
			take = left
		}
		to := g.pickCustomer("onward", f.no, n)
		when = g.at(g.day(when)+calendar.Date(1+r.IntN(6)), 9, 30).Add(time.Duration(r.IntN(330)) * time.Minute)
		o := g.hand(f.bags(), f, to, records.Sale, take*55, take)
		o.From, o.FromHolder, o.Vehicle.Seals, o.Checked, o.Last = "", "saltgate", nil, nil, take == left
		o.Received = &records.Acceptance{By: "Goods in", At: when.Add(2 * time.Hour), Mass: massOf(take * 55)}
		var what, rule, more string
		switch {
		case g.first("early", when, 190):
			o.Received.At, what, rule = when.Add(-26*time.Hour), "A customer's signature bears the day before the delivery", "received-early"
		case take == left && g.first("not holder", when, 230):
			o.Last, o.Weight, o.Bags, o.Received.Mass = false, scaled(take*55+550), take+10, massOf(take*55+550)
			what, rule, more = "The fulfilment warehouse sent on ten bags more than it had", "not-holder", "/"+string(f.bags())
		}
		d := g.add(when, assistant, records.Released, o)
		if what != "" {
			g.wrong(what, d, about(rule, d, more))
		}
		g.consign(f.bags(), to)
		left -= take
	}
	mass, sacks := g.standing(bagged, "warehouse", f.sacks()), 0
	sacks = (mass + 1999) / 2000
	half := mass
	if f.no%2 == 0 && mass > 5000 {
		half, sacks = 4000, 2
	}
	g.sale(f.sacks(), f, g.dispatchDay(at.Add(time.Duration(r.IntN(4))*24*time.Hour)), half, sacks, g.pickCustomer("sacks", f.no), half == mass, f)
	if half < mass {
		late := g.dispatchDay(at.Add(6 * 24 * time.Hour))
		old := f.class == "organic" && !f.toHold() && g.first("old", at, 95)
		if old {
			late = g.dispatchDay(at.Add(200 * 24 * time.Hour))
		}
		d := g.sale(f.sacks(), f, late, mass-half, (mass-half+1999)/2000, g.pickCustomer("more sacks", f.no), true, f)
		if old {
			g.wrong("Sacks forgotten at the back of the warehouse were sold after their best-by", d, about("best-by-passed", d, "/"+string(f.sacks())))
		}
	}
}

func (g *goods) consign(lot records.LotCode, to records.PartnerCode) {
	g.consigned[lot] = append(g.consigned[lot], to)
}

// hand is a handover from our door as it is usually filled in.
func (g *goods) hand(lot records.LotCode, f *flow, to records.PartnerCode, use records.Use, mass, bags int) *records.Handover {
	r := g.rand("hand", lot, to, mass)
	seal := fmt.Sprintf("SM%05d", r.IntN(100_000))
	return &records.Handover{Lot: lot, From: "warehouse", To: to, Use: use, Weight: scaled(mass), Bags: bags, Status: f.status, Packaging: "bags on pallets", Checked: yes(),
		Vehicle: records.Vehicle{Carrier: "fell-runner", Number: fmt.Sprintf("FR %d", 10+r.IntN(30)), Clean: yes(), LastLoad: "bagged flour", Seals: []records.Seal{{Papers: seal}}},
		Papers:  []string{fmt.Sprintf("delivery note %d", 10000+r.IntN(89999))}}
}

// sale hands goods to a customer who confirms some days later.
func (g *goods) sale(lot records.LotCode, f *flow, at records.Instant, mass, bags int, to records.PartnerCode, last bool, mistakes *flow) *draft {
	h := g.hand(lot, f, to, records.Sale, mass, bags)
	h.Last = last
	g.consign(lot, to)
	var what, rule, more string
	extra := 0
	if mistakes != nil {
		switch organic := f.status == records.Organic; {
		case last && g.first("too much", at, 155):
			h.Last, extra = false, 600
			h.Weight = scaled(mass + extra)
			what, rule, more = "More of a lot was handed over than was there", "short", "/"+string(lot)
		case last && g.first("other door", at, 175):
			h.From, h.Last = "loading", false
			what, rule, more = "A delivery was written down from the dock, where the lot was not", "two-places", "/"+string(lot)
		case organic && g.first("status up", at, 315):
			h.Status, what, rule, more = records.Organic100, "A lot was sold as 100 % organic, and it is organic", "status-raised", "/"+string(lot)
		case organic && g.first("status", at, 145):
			h.Status, what, rule = "", "The papers of a delivery did not name its organic status", "status-unnamed"
		case g.first("truck out", at, 265):
			h.Checked, h.Vehicle.Clean, what, rule = nil, nil, "Nobody wrote down whether a delivery truck was clean", "vehicle-unchecked"
		case g.first("carrier out", at, 285):
			h.Vehicle.Carrier, what, rule = "", "A delivery does not say who took it", "dispatch-particulars"
		}
	}
	d := g.write(at, records.Released, h)
	g.post(at, "warehouse", lot, -mass)
	if what != "" {
		g.wrong(what, d, about(rule, d, more))
	}
	if mistakes != nil && g.first("confirmed other", at, 340) {
		c := g.confirm(d, &records.Handover{Lot: f.bags(), To: to}, "Goods in", mass, 1)
		g.wrong("A customer confirmed another lot than they got; asked again, they confirmed the right one", c, about("confirmed-other", c, ""))
	}
	g.confirm(d, h, "Goods in", mass+extra, 1+g.rand("days", lot, at).IntN(4))
	return d
}

// sellBroken is how a batch went whose organic status was lost: stopped, downgraded and sold as what it then was. Of the one
// bagged on a bagger nobody had cleaned a sack was gone as organic before anybody noticed.
func (g *goods) sellBroken(f *flow, at records.Instant) {
	if g.shipped {
		g.shipped = false
		h := g.hand(f.sacks(), f, "owl-still", records.Sale, 2000, 1)
		d := g.write(at, records.Released, h)
		g.post(at, "warehouse", f.sacks(), -2000)
		g.consign(f.sacks(), "owl-still")
		g.confirm(d, h, "Hesper Lind", 2000, 2)
		g.wrong("One sack of it went out as organic before anybody noticed", d, about("broken-shipped", d, "/"+string(f.sacks())))
	}
	noticed := g.at(g.working(g.day(at)+1), 9, 15)
	both := []records.LotCode{f.bags(), f.sacks()}
	g.add(noticed, lead, records.Approved, &records.Hold{Lots: both, Why: "It followed non-organic goods, and the clean-out between them was too little."}).prompt()
	g.add(noticed.Add(26*time.Hour), lead, records.Approved, &records.Release{Lots: both, Why: "Sound; to be downgraded and sold as non-organic. Whoever was served was told."}).prompt()
	now := noticed.Add(27 * time.Hour)
	best := f.kilnDate.AddMonths(6)
	for _, lot := range both {
		mass := g.standing(now, "warehouse", lot)
		w := weigh(portion{mass, f.malted.moisture})
		item := records.ItemCode(maltOf(f.item))
		g.write(now, records.Performed, &records.Process{Process: "downgrading", Station: "warehouse", Started: now, Inputs: []records.Input{{Lot: lot, From: "warehouse", Weight: w, Last: true}},
			Outputs: []records.Output{{Lot: lot + "D", Item: item, Status: records.Conventional, To: "warehouse", Weight: w, KilnDate: &f.kilnDate, BestBy: &best, Bags: (mass + 54) / 55}}})
		g.post(now, "warehouse", lot, -mass)
		g.post(now, "warehouse", lot+"D", mass)
		down := *f
		down.status = records.Conventional
		g.sale(lot+"D", &down, g.dispatchDay(now), mass, (mass+54)/55, g.pickCustomer("downgraded", lot), true, nil)
		now = now.Add(20 * time.Minute)
	}
}
