package bigplant

import (
	"fmt"
	"time"

	"grainward/records"
)

// longestSale is the most days after the start of a batch that anything is still written about it.
const longestSale = 8 + 7 + 5

// sales are the bags and the by-product that leave on a day, the confirmations that come back, and the laboratory's results.
func (t *today) sales() {
	n := int(t.day - t.since)
	for h := range houses {
		for start := max(0, n-longestSale); start <= n-9; start++ {
			b := t.batch(h, start)
			for i := range b.sales {
				if s := &b.sales[i]; start+8+s.after == n {
					t.sell(b, i)
				}
			}
			if start+17 == n {
				t.signed(t.at(10*60+h), leadCode(h%leads), records.Received, &records.Result{Lot: b.code("B"), Laboratory: "assay-house", Method: "laboratory",
					Values: []records.Measured{{Name: "Protein", Value: records.Quantity{Value: fixed(b.protein, 1), Unit: "%"}}}})
			}
		}
		if n >= 15 && n%7 == 1 {
			t.collect(h, n/7-2)
		}
	}
}

// sell hands over a part of a batch, and has it confirmed days later.
func (t *today) sell(b *batch, i int) {
	s := &b.sales[i]
	weight := records.Weight{Mass: lb(s.bags * 55), Scale: "floor-scale"}
	h := &records.Handover{Lot: b.code("B"), From: "warehouse", To: s.to, Use: records.Sale, Weight: weight, Bags: s.bags, Last: i == len(b.sales)-1, Status: records.Organic, Packaging: "bags on pallets", Checked: yes(),
		Vehicle: records.Vehicle{Carrier: "cartway", Number: fmt.Sprintf("CW %d", 10+t.r.IntN(30)), Clean: yes(), LastLoad: "bagged flour", Seals: []records.Seal{{Papers: fmt.Sprintf("BP%05d", t.r.IntN(100_000))}}},
		Papers:  []string{fmt.Sprintf("delivery note %d", 10000+t.r.IntN(89999))}}
	at := t.at(12*60 + 20 + 20*i)
	d := t.signed(at, t.someone(), records.Released, h)
	t.confirm(d, h, "Goods in", s.bags*55, s.confirmed)
}

func (t *today) confirm(d *draft, h *records.Handover, by string, mass, days int) {
	m := lb(mass)
	happened := t.at(9*60 + 10).Add(time.Duration(days) * 24 * time.Hour)
	t.write(t.r, happened, happened.Add(time.Second), leadCode(t.r.IntN(leads)), records.Received, &records.Handover{Confirms: d.ID, Lot: h.Lot, To: h.To, Weight: records.Weight{Mass: m},
		Received: &records.Acceptance{By: by, At: d.Happened.Add(3 * time.Hour), Mass: &m}})
}

// collect hands a week's rootlets to a farm.
func (t *today) collect(h, week int) {
	sum, grain := 0, ""
	for start := week * 7; start < week*7+7; start++ {
		b := t.batch(h, start)
		sum, grain = sum+b.roots, b.grain
	}
	label := "Malt rootlets"
	if grain == "wheat" {
		label = "Wheat malt rootlets"
	}
	f := &records.Handover{Lot: rootletLot(h, week), From: "by-product", To: suppliers[h%len(suppliers)], Use: records.Feed, Weight: portion{sum, 7}.weight(), Last: true, Status: records.Conventional, Label: label,
		Container: fmt.Sprintf("Bin %d, lidded", h+1), Checked: yes(), Vehicle: records.Vehicle{Carrier: "cartway", Number: "trailer 2", Clean: yes(), LastLoad: "hay"}, Papers: []string{fmt.Sprintf("feed slip %d", 300+week)}}
	d := t.signed(t.at(16*60+20), t.someone(), records.Released, f)
	t.confirm(d, f, "Yard", sum, 2)
}
