package demoplant

import (
	"time"

	"grainward/records"
)

// results are a batch's: net weights now and then, moisture and colour at our own bench when it is bagged, and what the laboratory
// sends about nine days later, until when its certificate gives typical values.
func (g *goods) results(f *flow, bagged records.Instant) {
	r := g.rand("results", f.no)
	if f.no%6 == 2 {
		g.netWeights(f, bagged)
	}
	colour := map[string]float64{"barley": 2.2, "rye": 3.3, "oats": 2.4, "corn": 1.9, "wheat": 2.2, "spelt": 2.3}[f.item]
	at := g.at(g.working(g.day(bagged)+9), 10, 5).Add(time.Duration(f.no%120) * time.Minute)
	if g.first("mistyped lot", bagged, 55) {
		d := g.write(bagged.Add(18*time.Minute), records.Performed, &records.Result{Lot: f.lot + "-11", Method: "bench", Values: []records.Measured{{Name: "Moisture", Value: quantity(3.8, 1, "%")}}})
		g.wrong("A result was written down for a lot that there is not", d, about("unknown-lot", d, "/"+string(f.lot)+"-11"))
	}
	if (f.item == "oats" || f.item == "corn") && f.class == "organic" && g.first("rejected", at, 280) {
		d := g.add(at.Add(time.Hour), lead, records.Approved, &records.Release{Lots: []records.LotCode{f.malt()}, Rejected: true, Why: "The farm takes back its word on the variety."})
		g.wrong("A batch was rejected, and nothing was said of the bags made of it", d, Expected{Rule: "rejected-parent", About: string(f.malt()) + "/" + string(f.bags())}, Expected{Rule: "rejected-parent", About: string(f.malt()) + "/" + string(f.sacks())})
	}
	for i, lot := range []records.LotCode{f.bags(), f.sacks()} {
		wet := g.planAt(bagged).Item(records.ItemCode(maltOf(f.item))).Certificate[0].Limits
		m := min(max(f.malted.moisture+0.05*r.NormFloat64(), wet.Min.Float()), wet.Max.Float())
		g.write(bagged.Add(time.Duration(20+i)*time.Minute), records.Performed, &records.Result{Lot: lot, Method: "bench", Values: []records.Measured{
			{Name: "Moisture", Value: quantity(m, 1, "%")}, {Name: "Colour", Value: quantity(colour+0.1*r.NormFloat64(), 1, "SRM")}}})
	}
	for i, lot := range []records.LotCode{f.bags(), f.sacks()} {
		res := &records.Result{Lot: lot, Laboratory: "tarn-lab", Method: "laboratory"}
		protein := 11 + 0.4*r.NormFloat64()
		high := i == 1 && f.item == "barley" && f.class == "organic" && g.first("protein", at, 245)
		if high {
			protein = 13.1
		}
		res.Values = []records.Measured{{Name: "Protein", Value: quantity(protein, 1, "%")}}
		unit := false
		switch {
		case f.item == "barley":
			res.Values = append(res.Values, records.Measured{Name: "Extract fine dry", Value: quantity(80.6+0.5*r.NormFloat64(), 1, "%")})
		case f.wheaten():
			don := quantity(0.2+0.25*r.Float64(), 2, "mg/kg")
			if unit = g.first("unit", at, 260); unit {
				don = quantity(310, 0, "ug/kg")
			}
			res.Values = append(res.Values, records.Measured{Name: "DON", Value: don})
		}
		d := g.add(at.Add(time.Duration(i)*time.Minute), lead, records.Received, res).prompt()
		if unit {
			g.wrong("The laboratory gave DON in another unit than the plan's", d, about("result-unit", d, "/2"))
		}
		if high {
			g.wrong("The laboratory found more protein in a batch than its certificate allows", d, about("result-outside", d, "/1"))
		}
	}
}

// netWeights are twelve bags of a batch, as many as an inspector would weigh of 12 to 250, each a result of its own:
// a result has one value of a name.
func (g *goods) netWeights(f *flow, bagged records.Instant) {
	r := g.rand("net", f.no)
	label := 55.09
	light := g.first("light bags", bagged, 370)
	if light {
		label = 54.80
	}
	short, fewer, n := g.first("short bag", bagged, 125), false, 12
	if !short && !light {
		if fewer = g.first("few bags", bagged, 175); fewer {
			n = 8
		}
	}
	for i := range n {
		weight := label + 0.09*r.NormFloat64()
		if short && i == 4 {
			weight = 53.4
		}
		d := g.write(bagged.Add(time.Duration(11*60+i*40)*time.Second), records.Performed, &records.Result{Lot: f.bags(), Method: "floor scale, tare taken off",
			Values: []records.Measured{{Name: "net weight", Value: quantity(weight, 1, "lb")}}})
		if light && i == 11 {
			g.wrong("The bags of a batch are light on average", d, Expected{Rule: "net-average", About: string(f.bags())})
		}
		if short && i == 4 {
			g.wrong("A bag is far too light", d, Expected{Rule: "net-short", About: string(f.bags())})
		}
		if fewer && i == 7 {
			g.wrong("Only eight bags of a batch were weighed", d, Expected{Rule: "net-sample", About: string(f.bags())})
		}
	}
}

// toHold are the batches that held stops.
func (f *flow) toHold() bool { return f.no%31 == 17 && f.class == "organic" }

// held stops a batch now and then until the bench has measured it again, and says whether it did. Once somebody moved
// pallets of it all the same.
func (g *goods) held(f *flow, bagged records.Instant) bool {
	if !f.toHold() {
		return false
	}
	both := []records.LotCode{f.bags(), f.sacks()}
	g.add(bagged.Add(2*time.Hour), assistant, records.Performed, &records.Hold{Lots: both, Why: "Bench moisture and kiln reading differ; to be measured again."})
	if g.first("held moved", bagged, 200) {
		at := bagged.Add(21 * time.Hour)
		w := scaled(440)
		d := g.write(at, records.Performed, &records.Move{Lot: f.bags(), From: "warehouse", To: "loading", Weight: w})
		g.wrong("Eight bags of a stopped batch were carried to the loading dock", d, about("stopped-moved", d, "/"+string(f.bags())))
		g.add(at.Add(48*time.Hour), assistant, records.Approved, &records.Release{Lots: both, Why: "Measured again: 3.8 %."})
		g.write(at.Add(49*time.Hour), records.Performed, &records.Move{Lot: f.bags(), From: "loading", To: "warehouse", Weight: w, Last: true})
		return true
	}
	if at := bagged.Add(22 * time.Hour); g.first("held shipped", at, 350) {
		h := g.hand(f.sacks(), f, named[0], records.Sale, 2000, 1)
		d := g.write(at, records.Released, h)
		g.post(at, "warehouse", f.sacks(), -2000)
		g.consign(f.sacks(), named[0])
		g.confirm(d, h, "Maud Ellery", 2000, 2)
		g.wrong("A sack of a stopped batch was handed to a customer who came for it", d, about("stopped-shipped", d, "/"+string(f.sacks())))
	}
	g.add(bagged.Add(50*time.Hour), assistant, records.Approved, &records.Release{Lots: both, Why: "Measured again: within the certificate's limits."})
	return true
}

// mistyped is what the lead puts right at the desk: a weight typed with a digit too many, corrected the same day.
func (g *goods) mistyped() {
	for _, d := range g.drafts {
		m, ok := d.entry.Fact.(*records.Move)
		if !ok || m.From != "silo-1" || !g.first("typed", d.entry.Happened, 66) {
			continue
		}
		right := *m
		wrong := *m
		wrong.Weight.Mass = records.Mass{Value: records.NewDecimal(int64(m.Weight.Mass.Value.Float())*10, 0), Unit: "lb"}
		d.entry.Fact = &wrong
		g.add(d.entry.Happened.Add(35*time.Minute), d.entry.By, records.Performed, &records.Correct{Target: d.entry.ID, Reason: "A digit too many", With: &records.Replacement{Kind: records.KindMove, Fact: &right}})
		g.wrong("The mass of a steep was typed with a digit too many, corrected", d)
		return
	}
}
