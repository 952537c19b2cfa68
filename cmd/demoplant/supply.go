package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// filling is one filling of a silo: by trucks, for the batches drawn from it until it is empty.
type filling struct {
	silo   records.StationCode
	trucks []*truck
	flows  []*flow
	purges int // lb put aside for purging
}

// truck is one load of grain coming in: into a silo in bulk, or into the warehouse in sacks.
type truck struct {
	lot      records.LotCode
	item     string
	status   records.Status
	at       records.Instant
	to       records.StationCode
	mass     int
	moisture float64
	source   records.PartnerCode
}

// supply decides which grain each batch is made of and when it comes in. Organic barley comes from silos 1 and 2 in
// turn, which are filled when empty; rye from silo 3, a truck a batch; everything else in sacks, a load a batch.
func (g *goods) supply() {
	var now *filling
	total, fills := 0.0, 0
	for _, f := range g.flows {
		r := g.rand("supply", f.no)
		f.mass = int(f.tons)*2000 + (r.IntN(11)-5)*5
		switch {
		case f.item == "barley" && f.status == records.Organic:
			if now == nil || total+f.tons > 38 {
				now = &filling{silo: records.StationCode(fmt.Sprintf("silo-%d", fills%2+1))}
				g.silos, total, fills = append(g.silos, now), 0, fills+1
			}
			total += f.tons
			now.flows, f.from = append(now.flows, f), now.silo
		case f.item == "rye":
			f.from = "silo-3"
			g.silos = append(g.silos, &filling{silo: "silo-3", flows: []*flow{f}})
		default:
			f.from, f.mass = "warehouse", int(f.tons)*2000
		}
	}
	g.fillSilos()
	for _, f := range g.flows {
		if f.from == "warehouse" {
			t := g.truck(f, g.before(f, 3+f.no%3), 0, f.mass, "warehouse")
			f.lots, f.moisture = []records.LotCode{t.lot}, t.moisture
			g.silos = append(g.silos, &filling{silo: "warehouse", trucks: []*truck{t}, flows: []*flow{f}})
		}
	}
}

func (g *goods) fillSilos() {
	var prior *filling // of silos 1 and 2
	for n, fill := range g.silos {
		first := fill.flows[0]
		sum := 0
		for _, f := range fill.flows {
			sum += f.mass
		}
		r := g.rand("filling", n)
		if fill.silo != "silo-3" {
			fill.purges = 340
		}
		sum += fill.purges + int(60*r.NormFloat64())/10*10
		day, parts := g.before(first, 4), 1
		if fill.silo != "silo-3" {
			parts = 2
			day = g.since
			if prior != nil {
				day = g.working(g.day(prior.flows[0].steepIn) + 2)
			}
			prior = fill
		}
		if limit := g.day(first.steepIn) - calendar.Date(parts); day > limit {
			day = max(limit, g.since)
		}
		if fri := g.day(g.flows[beforeTheGap].steepIn); beforeTheGap < len(g.flows) && (day == fri || day == fri+1) {
			day = fri - 1 // or the conveyor would be cleaned for this load, and not forgotten
		}
		for i := range parts {
			mass := sum
			if parts == 2 {
				mass = sum/2 + (r.IntN(9)-4)*100
				if i == 1 {
					mass = sum - fill.trucks[0].mass
					if next := g.working(day + 1); day > g.since && next < g.day(first.steepIn) && next != g.day(g.flows[beforeTheGap].steepIn) {
						day = next
					}
				}
			}
			fill.trucks = append(fill.trucks, g.truck(first, day, i, mass, fill.silo))
		}
		wet := 0.0
		var lots []records.LotCode
		for _, t := range fill.trucks {
			wet += t.moisture / float64(len(fill.trucks))
			lots = append(lots, t.lot)
		}
		for i, f := range fill.flows {
			f.lots, f.moisture, f.last = lots, tenth(wet+0.1*r.NormFloat64()), i == len(fill.flows)-1
		}
	}
}

// before is a working day some days before a batch goes into the steep.
func (g *goods) before(f *flow, days int) calendar.Date {
	d := g.day(f.steepIn) - calendar.Date(days)
	for !g.works(d) {
		d--
	}
	return max(d, g.since)
}

// letters of grains in lot codes: spelt's is D, for dinkel, since S is the sack's.
var letters = map[string]string{"barley": "B", "rye": "R", "oats": "O", "corn": "C", "wheat": "W", "spelt": "D"}

func (g *goods) truck(f *flow, day calendar.Date, n, mass int, to records.StationCode) *truck {
	r := g.rand("truck", f.no, n)
	y, m, d := day.Civil()
	t := &truck{lot: records.LotCode(fmt.Sprintf("IN%02d%02d%02d-%s%d", y%100, m, d, letters[f.item], n+1)), item: f.item, status: f.status, to: to, mass: mass,
		moisture: tenth(12.1 + 0.4*r.NormFloat64())}
	if f.status == records.Conventional {
		t.lot += "N"
	}
	switch {
	case f.wheaten() || f.status == records.Conventional:
		t.source = "ferrin"
	case f.item == "barley" && (f.no+n)%2 == 0:
		t.source = "hollow-ash"
	case f.item == "barley" || f.item == "rye":
		t.source = "stillbend"
	default:
		t.source = "hollow-ash"
	}
	// After the morning's batch has gone through the pit and the conveyor; on the first day before it.
	from := g.at(day, 12, 0)
	if day == g.since {
		from = g.at(day, 7, 5).Add(time.Duration(n) * 75 * time.Minute)
	}
	if to == "warehouse" {
		from = from.Add(90 * time.Minute)
	}
	t.at = from.Add(time.Duration(r.IntN(25)) * time.Minute)
	if n > 0 && g.day(t.at) != g.since {
		t.at = t.at.Add(35 * time.Minute)
	}
	return t
}

// whenEmpty is a moment in a window at which a silo is known to be empty, for it to be cleaned.
func (s *sim) whenEmpty(j *job) records.Instant {
	var gone records.Instant // since when it is empty
	r := s.rand("empty", j.station, j.opens)
	fits := func(from, to records.Instant) (records.Instant, bool) {
		for d := s.day(max(from, j.opens)); d <= s.day(min(to, j.due)); d++ {
			a, b := max(s.at(d, 7, 30), from.Add(90*time.Minute), j.opens), min(s.at(d, 15, 30), to.Add(-30*time.Minute), j.due)
			if s.works(d) && b > a.Add(20*time.Minute) {
				return between(r, a.Add(10*time.Minute), b, 0, 1), true
			}
		}
		return 0, false
	}
	for _, fill := range s.goods.silos {
		if fill.silo != j.station {
			continue
		}
		if at, ok := fits(gone, fill.trucks[0].at); ok {
			return at
		}
		gone = fill.flows[len(fill.flows)-1].steepIn
	}
	if at, ok := fits(gone, j.due); ok {
		return at
	}
	return j.at
}
