package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
)

// container is a covered bin of by-product, from the first that went in until the farm takes it.
type container struct {
	code   records.LotCode
	item   records.ItemCode
	class  string
	label  string
	status records.Status
	since  records.Instant
	lb     int
	waste  bool // written down as waste
}

var binLetters = map[string]string{"organic": "B", "organic+wheat": "W", "conventional": "N"}

// open is the container for a class of by-product that is being filled, or a new one. Purged grain gets one of its own.
func (g *goods) open(item records.ItemCode, class string, at records.Instant, label string) *container {
	key := string(item) + class
	if item != "screenings" && g.bins[key] != nil && g.bins[key].since > at.Add(-5*24*time.Hour) && g.pickup(g.bins[key].since) > at {
		return g.bins[key]
	}
	y, m, d := g.day(at).Civil()
	c := &container{item: item, class: class, since: at, label: label, code: records.LotCode(fmt.Sprintf("BP%02d%02d%02d-%s", y%100, m, d, binLetters[class])), status: records.Organic}
	if class == "conventional" {
		c.status = records.Conventional
	}
	if item == "screenings" {
		c.code += "P"
	}
	g.bins[key] = c
	g.filled = append(g.filled, c)
	return c
}

// pickup is when the farm next comes after a container was begun: on a Tuesday.
func (g *goods) pickup(since records.Instant) records.Instant {
	d := g.day(since) + 1
	for d.Weekday() != time.Tuesday {
		d++
	}
	return g.at(g.working(d), 16, 20)
}

// collect hands the containers to the feed farm, which confirms some days later by its own scale.
func (g *goods) collect() {
	for i, c := range g.filled {
		at := g.pickup(c.since).Add(time.Duration(i%20) * time.Minute)
		late := g.first("bin kept", at, 240)
		if late {
			at = at.Add(14 * 24 * time.Hour)
		}
		r := g.rand("collect", c.code)
		label := map[records.ItemCode]string{"rootlets": "Malt rootlets and husk", "wheat-rootlets": "Malt rootlets and husk of wheat", "screenings": "Grain screenings"}[c.item]
		h := &records.Handover{Lot: c.code, From: "by-product", To: "hollow-ash", Use: records.Feed, Weight: weigh(portion{c.lb, 7.5}), Last: true, Status: records.Conventional, Label: label,
			Container: c.label, Checked: yes(), Vehicle: records.Vehicle{Carrier: "hollow-ash", Number: "HA trailer 2", Clean: yes(), LastLoad: "hay"}, Papers: []string{fmt.Sprintf("feed slip %d", 300+i)}}
		var what, rule, more string
		switch {
		case late:
		case g.first("bin unlooked", at, 100):
			h.Checked, h.Vehicle = nil, records.Vehicle{Carrier: "fell-runner", Number: "FR 12"}
			what, rule = "A hired trailer took by-product and nobody wrote down that it was looked at", "feed-unchecked"
		case g.first("bin unnamed", at, 180):
			h.Label, what, rule = "", "By-product left without its common name on it", "feed-unnamed"
		}
		if c.item == "rootlets" && g.first("toxin", at, 400) {
			g.add(at.Add(-50*time.Minute), lead, records.Received, &records.Result{Lot: c.code, Laboratory: "tarn-lab", Values: []records.Measured{{Name: "DON", Value: quantity(6.2, 1, "mg/kg")}}})
			what, rule, more = "Rootlets with more DON than most animals may be fed went to the farm", "don-feed", "/"+string(c.code)
		}
		if c.waste {
			what, rule, more = "Grain written down as waste went to the farm with the other bins", "waste-as-feed", "/"+string(c.code)
		}
		d := g.write(at, records.Released, h)
		if late {
			g.wrong("A bin of rootlets stood forgotten for weeks", d, Expected{Rule: "by-product-old", About: string(c.code)})
		}
		if what != "" {
			g.wrong(what, d, about(rule, d, more))
		}
		g.confirm(d, h, "Tam Rourke", c.lb+(r.IntN(5)-2)*c.lb/500, 1+r.IntN(4))
	}
}

// confirm is the other party's signature, brought in some days later.
func (g *goods) confirm(d *draft, h *records.Handover, by string, mass, days int) *draft {
	at := g.at(g.day(d.entry.Happened)+1, 9, 10)
	for n := 1; n < days || !g.works(g.day(at)); n++ {
		at = g.at(g.day(at)+1, 9, 10)
	}
	at = at.Add(time.Duration(g.rand("confirm", d.entry.ID).IntN(180)) * time.Minute)
	return g.add(at, assistant, records.Received, &records.Handover{Confirms: d.entry.ID, Lot: h.Lot, To: h.To, Weight: records.Weight{Mass: lb(mass)},
		Received: &records.Acceptance{By: by, At: d.entry.Happened.Add(3 * time.Hour), Mass: massOf(mass)}}).prompt()
}
