package demoplant

import (
	"math"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// goods is the plant's grain while it is simulated: beside the entries, what stands where, so that nobody takes what is
// not there unless it is a mistake.
type goods struct {
	*sim
	flows      []*flow
	silos      []*filling
	stations   map[records.StationCode]*track
	busy       map[records.StationCode][]stay // clean-outs
	ledger     []posting
	bins       map[string]*container // of by-product, by class
	filled     []*container
	made       map[string]bool
	shipped    bool  // some of a broken batch went out as organic
	mixedUp    *flow // run into another's bin
	grinding   []*grinding
	rye        *flow                 // kept back for blends
	mixed      calendar.Date         // day of the last blend
	milledDays map[calendar.Date]int // runs of the mill, by day
	unwashed   records.LotCode       // of wheat, after which the mill was not washed; "done" once that was found
	trucksOut  int
	consigned  map[records.LotCode][]records.PartnerCode
}

// flow is a batch with what its goods need to know.
type flow struct {
	batch
	class             string
	from              records.StationCode // silo or warehouse
	lots              []records.LotCode   // raw; several out of a silo
	mass              int                 // of grain, lb
	moisture          float64
	last              bool // the silo is empty after it
	bin               int
	offKiln           portion // off the kiln
	malted            portion // cleaned
	kilnDate          calendar.Date
	undated           bool // nobody wrote its kiln date down until it was bagged
	cleaning, bagging stay
	gone              bool // nothing of it was bagged under its own code
	mixedWith         *flow
	broke             bool // its organic status is lost
	milled            int  // bags, out of the batch's
	blended           int
	left              int // lb of bags kept back for blends
}

// portion is a mass in lb with its moisture in percent as the meter showed it.
type portion struct {
	lb       int
	moisture float64
}

func (p portion) dry() float64 { return float64(p.lb) * (1 - p.moisture/100) }

// posting is mass coming to (or leaving) a place.
type posting struct {
	at    records.Instant
	place records.StationCode
	lot   records.LotCode
	lb    int
}

type stay struct{ from, to records.Instant }

func (s *sim) newGoods() *goods {
	g := &goods{sim: s, stations: map[records.StationCode]*track{}, busy: map[records.StationCode][]stay{}, bins: map[string]*container{},
		made: map[string]bool{}, milledDays: map[calendar.Date]int{}, consigned: map[records.LotCode][]records.PartnerCode{}}
	for _, b := range s.grain {
		g.flows = append(g.flows, &flow{batch: b, class: b.class(), kilnDate: s.day(b.kilnOff)})
	}
	g.supply()
	return g
}

// run writes everything about goods, once the rest of the work is known.
func (g *goods) run() {
	for i := range g.jobs {
		j := &g.jobs[i]
		if t := g.versions[len(g.versions)-1].plan.Task(j.task); t != nil && t.Grade != "" {
			g.occupy(j.station, j.at)
		}
	}
	g.feed()
	for _, f := range g.flows {
		g.house(f)
	}
	g.drySide()
	g.collect()
	g.mistyped()
	g.drills()
	g.counts()
}

// longestCleanOut is how long before its sign-off a clean-out can have begun; see effort.
const longestCleanOut = 60 * time.Minute

func (g *goods) occupy(station records.StationCode, done records.Instant) {
	g.busy[station] = append(g.busy[station], stay{done.Add(-longestCleanOut), done})
}

// clear is the first moment from t on, in steps of a few minutes, at which no clean-out is under way at the stations
// during the time that follows.
func (g *goods) clear(t records.Instant, takes time.Duration, stations ...records.StationCode) records.Instant {
	for again := true; again; {
		again = false
		for _, st := range stations {
			for _, b := range g.busy[st] {
				if b.from < t.Add(takes+time.Minute) && b.to > t.Add(-time.Minute) {
					t, again = b.to.Add(4*time.Minute), true
				}
			}
		}
	}
	return t
}

// first says once, at the first moment on or after so many days, that a mistake is to be made.
func (g *goods) first(name string, at records.Instant, days int) bool {
	if g.made[name] || g.day(at) < g.since.AddDays(days) || at > g.until {
		return false
	}
	g.made[name] = true
	return true
}

// wrong lists a mistake, if it has come to be written by the last moment.
func (g *goods) wrong(what string, d *draft, shows ...Expected) {
	if d.recorded <= g.until {
		g.note(what, d.entry.Happened, d.entry.ID, shows...)
	}
}

func about(rule string, d *draft, more string) Expected {
	return Expected{Rule: rule, About: d.entry.ID.String() + more}
}

func (g *goods) post(at records.Instant, place records.StationCode, lot records.LotCode, mass int) {
	g.ledger = append(g.ledger, posting{at, place, lot, mass})
}

// standing is what the ledger has of a lot at a place at a moment; of all lots when none is named.
func (g *goods) standing(at records.Instant, place records.StationCode, lot records.LotCode) (sum int) {
	for _, p := range g.ledger {
		if p.at <= at && p.place == place && (lot == "" || p.lot == lot) {
			sum += p.lb
		}
	}
	return sum
}

func (g *goods) write(at records.Instant, m records.Meaning, f records.Fact) *draft {
	who := g.onShift(at)
	by := assistant
	if len(who) > 0 {
		by = who[g.rand("goods by", at).IntN(len(who))]
	}
	return g.add(at, by, m, f)
}

func lb(n int) records.Mass { return records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "lb"} }

func massOf(n int) *records.Mass { m := lb(n); return &m }

// weigh is a weight as people write it down. Dry grain is held to the bench's meter; wet grain to the oven, which the
// plan does not list.
func weigh(p portion) records.Weight {
	w := records.Weight{Mass: lb(p.lb)}
	if p.moisture > 0 {
		d := records.NewDecimal(int64(math.Round(p.moisture*10)), 1)
		w.Moisture = &d
		if p.moisture < 20 {
			w.Meter = "moisture-meter"
		}
	}
	return w
}

// scaled is a weight off the floor scale.
func scaled(n int) records.Weight { return records.Weight{Mass: lb(n), Scale: "floor-scale"} }

// tenth is a moisture as a meter shows it.
func tenth(x float64) float64 { return math.Round(x*10) / 10 }

// after gives what is left of a portion's dry matter after a loss, at another moisture, to the 5 lb.
func (p portion) after(loss, moisture float64) portion {
	moisture = tenth(moisture)
	return portion{int(math.Round(p.dry()*(1-loss)/(1-moisture/100)/5)) * 5, moisture}
}

func yes() *bool { b := true; return &b }

// track is what a station has had, as the one who plans the clean-outs keeps it in mind.
type track struct {
	ends map[string]records.Instant // of the last contact, by class
	outs []cleaned
}

type cleaned struct {
	stay
	rank int
}

func (g *goods) track(st records.StationCode) *track {
	if g.stations[st] == nil {
		g.stations[st] = &track{ends: map[string]records.Instant{}}
	}
	return g.stations[st]
}

// needs is the rank of the clean-out the plan wants before a class comes to a station; -1 none.
func (g *goods) needs(st records.StationCode, class string, at records.Instant) int {
	p, tr, most := g.planAt(at), g.track(st), -1
	for was, end := range tr.ends {
		grade, needed := p.GradeFor(was, class, st)
		if !needed {
			continue
		}
		rank, _ := p.GradeRank(grade)
		done := false
		for _, c := range tr.outs {
			done = done || c.from >= end && c.to <= at && c.rank >= rank
		}
		if !done {
			most = max(most, rank)
		}
	}
	return most
}

// used notes a contact.
func (g *goods) used(st records.StationCode, class string, until records.Instant) {
	if tr := g.track(st); tr.ends[class] < until {
		tr.ends[class] = until
	}
}

var cleanTasks = []records.TaskCode{"sweep-out", "changeover-clean", "changeover-clean", "wet-wash"}

// ready has a station cleaned before a class comes to it at a moment, if the plan wants it.
func (g *goods) ready(st records.StationCode, class string, at records.Instant, lots ...records.LotCode) {
	rank := g.needs(st, class, at)
	if rank < 0 {
		return
	}
	g.cleanOut(st, rank, at.Add(-8*time.Minute), lots...)
}

// cleanOut puts a clean-out of a rank on the list; the tracker knows it from then on.
func (g *goods) cleanOut(st records.StationCode, rank int, at records.Instant, lots ...records.LotCode) {
	g.jobs = append(g.jobs, job{task: cleanTasks[rank], station: st, at: at, lots: lots})
	if rank == 1 {
		rank = 2 // nobody opens it only to vacuum
	}
	g.track(st).outs = append(g.track(st).outs, cleaned{stay{at.Add(-longestCleanOut), at}, rank})
	g.occupy(st, at)
}

// workday is the first working day on or after one on which the dry side is not closed.
func (g *goods) workday(d calendar.Date) calendar.Date {
	for ; ; d++ {
		open := g.works(d)
		for _, e := range g.away {
			open = open && (e.Station != "cleaner" || g.at(d, 12, 0) < e.From || g.at(d, 12, 0) > e.To)
		}
		if open {
			return d
		}
	}
}
