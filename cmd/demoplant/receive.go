package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

var varieties = map[string]string{"barley": "Hallam two-row", "rye": "Dunmarrow", "oats": "Pale Finch", "corn": "Old Ember flint", "wheat": "Winter Gannet", "spelt": "Ochre Lane"}

var drivers = []string{"Edda Rourke", "Cosmo Vail", "Greta Ferrin", "Tam Rourke", "Lise Vail"}

// receive takes a load over. Now and then something is left out, or is not as the papers have it.
func (g *goods) receive(t *truck, at records.Instant, via []records.StationCode) *draft {
	r := g.rand("receive", t.lot)
	g.jobs = append(g.jobs, job{task: "receiving-check", station: "pit", at: at.Add(-22 * time.Minute), lots: []records.LotCode{t.lot}, reads: map[records.AskCode]float64{"moisture": t.moisture}})
	day := g.day(at)
	looked := day - calendar.Date(r.IntN(4))
	seal := fmt.Sprintf("SL%06d", r.IntN(1_000_000))
	f := &records.Receipt{Lot: t.lot, Item: records.ItemCode(t.item), Status: t.status, Weight: weigh(portion{t.mass, t.moisture}), Theirs: massOf(t.mass + (r.IntN(5)-2)*20),
		To: t.to, Via: via, Source: t.source, TheirLot: fmt.Sprintf("%s-%d", letters[t.item], 1000+r.IntN(9000)), Variety: varieties[t.item], Packaging: "bulk",
		Vehicle:    records.Vehicle{Carrier: "fell-runner", Number: fmt.Sprintf("FR %d", 10+r.IntN(30)), Clean: yes(), LastLoad: "feed barley", Seals: []records.Seal{{Papers: seal, Found: seal}}},
		Papers:     []string{fmt.Sprintf("bill of lading %d", 40000+r.IntN(9999)), fmt.Sprintf("weigh ticket %d", 7000+r.IntN(2999))},
		ReleasedBy: drivers[r.IntN(len(drivers))]}
	if t.to == "warehouse" {
		f.Packaging = fmt.Sprintf("%d sacks of 2,000 lb", t.mass/2000)
	}
	if t.status == records.Organic {
		f.Certificate, f.LookedUp, f.LastCertified = records.DocumentCode(t.source+"-organic"), &looked, t.source
	}
	var what string
	var rule, more string
	var shows []string // rules that show it beside the first
	switch organic := t.status == records.Organic; {
	case g.first("no carrier", at, 40):
		f.Vehicle.Carrier, what, rule = "", "A load was taken over and nobody wrote down who brought it", "receipt-particulars"
	case organic && g.first("no look-up", at, 80):
		f.LookedUp, what, rule = nil, "A supplier's certificate was not looked up at its issuer", "certificate-look-up"
	case g.first("seal", at, 120):
		f.Vehicle.Seals[0].Found, what, rule, more = seal[:7]+"X", "The seal on a truck was not the one on its papers", "seal-differs", "/1"
	case g.first("one-sided seal", at, 140):
		f.Vehicle.Seals[0].Found, what, rule, more = "", "A seal was copied from the papers and not read on the truck", "seal-unread", "/1"
	case g.first("not looked", at, 160):
		f.Vehicle.Clean, what, rule = nil, "Nobody wrote down whether a truck was clean", "vehicle-unchecked"
	case g.first("unclean", at, 235):
		no := false
		f.Vehicle.Clean, f.Note, what, rule = &no, "Old corn in the corners, swept out by the driver at the gate.", "A truck was found unclean and was emptied all the same", "vehicle-unclean"
	case g.first("unsigned", at, 255):
		f.ReleasedBy, what, rule = "", "The driver left without signing", "receipt-unsigned"
	case g.first("far off", at, 275):
		f.Theirs, what, rule = massOf(t.mass*102/100/10*10), "The supplier's weigh ticket has a load two percent heavier than ours", "mass-differs"
	case organic && t.source == "hollow-ash" && g.first("other certificate", at, 365):
		f.Certificate, f.LastCertified = "stillbend-organic", ""
		what, rule, shows = "A load came with the papers of another farm, and who had it last was not asked", "certificate-other", []string{"last-certified"}
	case organic && g.first("unmarked", at, 385):
		f.TheirLot, f.Papers, f.Vehicle.Number, f.Vehicle.Seals = "", nil, "", nil
		what, rule, shows = "A load was taken over with neither lot nor paper nor truck number", "container-unmarked", []string{"receipt-particulars"}
	case organic && g.first("no certificate", at, 345):
		f.Certificate, f.LookedUp, what, rule = "", nil, "Organic grain was taken over and no certificate was named", "certificate-missing"
	}
	d := g.write(at, records.Received, f)
	g.post(at, t.to, map[bool]records.LotCode{true: t.lot}[t.to == "warehouse"], t.mass)
	if what != "" {
		all := []Expected{about(rule, d, more)}
		for _, s := range shows {
			all = append(all, about(s, d, ""))
		}
		g.wrong(what, d, all...)
	}
	if end := g.day(g.until) - 18; t.source == "ferrin" && t.status == records.Organic && day > end && f.Certificate != "" {
		g.wrong("Organic grain was taken over on a certificate that had run out", d, about("certificate-lapsed", d, ""))
	}
	if t.item == "wheat" || t.item == "spelt" || t.item == "corn" {
		res := g.rand("don", t.lot)
		g.add(g.at(g.working(day+5), 10, 20+res.IntN(30)), lead, records.Received, &records.Result{Lot: t.lot, Laboratory: "tarn-lab", Method: "lateral flow",
			Values: []records.Measured{{Name: "DON", Value: quantity(0.15+0.3*res.Float64(), 2, "mg/kg")}}}).prompt()
	}
	return d
}

func quantity(x float64, decimals int, unit string) records.Quantity {
	return records.Quantity{Value: fixed(x, decimals), Unit: unit}
}
