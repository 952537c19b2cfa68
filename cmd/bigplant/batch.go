package bigplant

import (
	"fmt"
	"math"
	"math/rand/v2"

	"grainward/records"
)

// portion is a mass in lb with its moisture in percent, to a tenth. Products that are added to something are turned into float64 here and
// elsewhere, which keeps compilers from fusing the two: the same seed is to give the same bytes on every machine.
type portion struct {
	lb       int
	moisture float64
}

func (p portion) dry() float64 { return float64(p.lb) * (1 - p.moisture/100) }

// after is what is left of the dry matter after a loss, at another moisture.
func (p portion) after(loss, moisture float64) portion {
	moisture = math.Round(moisture*10) / 10
	return portion{int(p.dry()*(1-loss)/(1-moisture/100)/5) * 5, moisture}
}

func (p portion) weight() records.Weight {
	w := records.Weight{Mass: lb(p.lb)}
	if p.moisture > 0 {
		d := fixed(p.moisture, 1)
		w.Moisture = &d
	}
	return w
}

func lb(n int) records.Mass { return records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "lb"} }

// week is the grain of one house for seven batches: loads that come in, and what each batch draws from the silo.
type week struct {
	grain string // barley or wheat
	loads [5]portion
	draws [7]portion
}

const (
	aLoad  = 28_000 // lb on a truck
	aBatch = 20_000
)

// loadDays are the days of a week, counted from Monday, on which the loads come.
var loadDays = [5]int{0, 0, 1, 2, 3}

func (p *Plant) from(what, house, n int) *rand.Rand {
	return rand.New(rand.NewPCG(p.seed, uint64(what)<<56|uint64(house)<<48|uint64(uint32(n))))
}

func (p *Plant) week(house, n int) (w week) {
	r := p.from(1, house, n)
	w.grain = "barley"
	if house == houses-1 && n%2 == 1 {
		w.grain = "wheat"
	}
	sum := 0
	for i := range w.loads {
		w.loads[i] = portion{aLoad + 20*(r.IntN(21)-10), 11.5 + float64(r.IntN(16))/10}
		sum += w.loads[i].lb
	}
	for i := range w.draws {
		w.draws[i] = portion{aBatch + 20*(r.IntN(11)-5), 12.2}
		if i == 6 {
			w.draws[i].lb = sum
		}
		sum -= w.draws[i].lb
	}
	return w
}

// batch is one day's steep of a house on its way to the bags.
type batch struct {
	house                             int
	start                             int // days after the first
	first                             bool
	grain                             string
	raw, steeped, green, kilned, malt portion
	roots, kept                       int // lb
	bags                              int // of 55 lb
	sales                             [3]sale
	protein, wet                      float64
}

type sale struct {
	to        records.PartnerCode
	bags      int
	after     int // days after bagging
	confirmed int // days after that
}

func (p *Plant) batch(house, start int) *batch {
	r := p.from(2, house, start)
	w := p.week(house, start/7)
	b := &batch{house: house, start: start, grain: w.grain, raw: w.draws[start%7]}
	b.first = house == houses-1 && start%7 == 0 && start > 0
	vary := func(x float64) float64 { return x * (1 + float64(0.06*max(-3, min(3, r.NormFloat64())))) }
	b.steeped = b.raw.after(vary(0.01), 44.9+float64(0.5*r.NormFloat64()))
	b.green = b.steeped.after(vary(0.055), 43.2+float64(0.5*r.NormFloat64()))
	b.kilned = b.green.after(vary(0.003), 3.6+float64(0.1*r.NormFloat64()))
	share := vary(0.04)
	b.malt = b.kilned.after(0.003+float64(share*0.97), b.kilned.moisture+0.1)
	b.roots = int(float64(b.malt.lb)*share/5) * 5
	b.kept = 6 + r.IntN(4)
	b.bags = (b.malt.lb - b.kept) / 55
	left := b.bags
	for i := range b.sales {
		s := &b.sales[i]
		s.bags = left / (len(b.sales) - i)
		left -= s.bags
		s.to, s.after, s.confirmed = buyer(r.IntN(buyers)), 2+i+r.IntN(3), 1+r.IntN(4)
		if i > 0 {
			s.after = max(s.after, b.sales[i-1].after)
		}
	}
	b.protein, b.wet = 10.4+float64(1.6*r.Float64()), max(3.1, min(4.4, b.malt.moisture))
	return b
}

// code is the batch's lot at a stage: "" steeped, G green, K kilned, M cleaned, B in bags.
func (b *batch) code(stage string) records.LotCode {
	return records.LotCode(fmt.Sprintf("H%d-%05d%s", b.house+1, b.start, stage))
}

func (b *batch) item(stage string) records.ItemCode { return records.ItemCode(stage + "-" + b.grain) }

// rootletLot is the by-product of a week's batches.
func rootletLot(house, week int) records.LotCode {
	return records.LotCode(fmt.Sprintf("R%d-%04d", house+1, week))
}

func loadLot(house, week, n int) records.LotCode {
	return records.LotCode(fmt.Sprintf("G%d-%04d-%d", house+1, week, n+1))
}
