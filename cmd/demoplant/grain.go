package demoplant

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// batch is one lot of grain on its way through the house.
type batch struct {
	no           int
	item         string // barley, rye or wheat
	tons         float64
	lot          records.LotCode
	steep, floor records.StationCode
	steepIn      records.Instant
	steepOut     records.Instant
	load, strip  records.Instant // of the bed
	kilnLoad     records.Instant
	kilnOff      records.Instant
}

// malt sends a batch into the steep every second day. Each of the three floors then has one for five days and a day
// to be scrubbed in, and the kiln stands empty half the time.
func (s *sim) malt() {
	for k := 0; ; k++ {
		d := s.since + calendar.Date(2*k)
		if s.at(d, 9, 0) > s.until {
			return
		}
		b := s.batch(k, d)
		s.grain = append(s.grain, b)
		s.batchJobs(&b)
	}
}

func (s *sim) batch(k int, d calendar.Date) batch {
	r := s.rand("batch", k)
	mins := func(lo, hi float64) time.Duration {
		return time.Duration((lo + (hi-lo)*r.Float64()) * float64(time.Minute)).Round(time.Second)
	}
	b := batch{no: k, item: "barley", tons: 10, steep: records.StationCode(fmt.Sprintf("steep-%d", k%2+1)), floor: records.StationCode(fmt.Sprintf("floor-%d", k%3+1))}
	switch {
	case k%9 == 4:
		b.item = "wheat"
	case k%9 == 7:
		b.item = "rye"
	}
	if k%3 == 2 || k%4 == 1 {
		b.tons = 8 // the third floor takes no more, and some recipes are small
	}
	y, m, dd := d.Civil()
	b.lot = records.LotCode(fmt.Sprintf("SM%02d%02d%02d-%s", y%100, m, dd, map[string]string{"barley": "B", "wheat": "W", "rye": "R"}[b.item]))
	b.steepIn = s.at(d, 9, 40).Add(mins(0, 40))
	b.steepOut = s.at(d+2, 10, 40).Add(mins(0, 50))
	b.load = b.steepOut.Add(mins(45, 75))
	b.strip = s.at(d+7, 14, 20).Add(mins(0, 60))
	b.kilnLoad = b.strip.Add(mins(35, 60))
	// Hours that pass, not hours on the wall: on the nights on which the clock changes the two differ.
	b.kilnOff = b.kilnLoad.Add(mins(22.9*60, 23.6*60))
	return b
}

func (s *sim) batchJobs(b *batch) {
	r := s.rand("batch jobs", b.no)
	lots := []records.LotCode{b.lot}
	do := func(task records.TaskCode, station records.StationCode, at records.Instant, reads map[records.AskCode]float64) {
		s.jobs = append(s.jobs, job{task: task, station: station, at: at, lots: lots, reads: reads})
	}
	// after is work that becomes due when something else was signed off.
	after := func(task records.TaskCode, station records.StationCode, event, at records.Instant, agents []records.AgentUse) {
		s.jobs = append(s.jobs, job{task: task, station: station, opens: event, at: at, lots: lots, agents: agents})
	}
	hours := func(lo, hi float64) time.Duration {
		return time.Duration((lo + (hi-lo)*r.Float64()) * float64(time.Hour)).Round(time.Second)
	}
	tons := map[records.AskCode]float64{"mass": b.tons}
	do("steep-in", b.steep, b.steepIn, tons)
	do("steep-out", b.steep, b.steepOut, nil)
	after("steep-clean", b.steep, b.steepOut, b.steepOut.Add(hours(1.5, 4)), steepAgents(b))
	do("load-bed", b.floor, b.load, tons)
	after("boiled-kernel", b.floor, b.load, b.load.Add(hours(114, 118)), nil)
	do("strip-bed", b.floor, b.strip, nil)
	after("floor-scrub", b.floor, b.strip, b.strip.Add(hours(2, 4.5)), nil)
	depth := 29.0
	if b.tons == 8 {
		depth = 24
	}
	do("kiln-load", "kiln", b.kilnLoad, map[records.AskCode]float64{"depth": depth})
	do("kiln-off", "kiln", b.kilnOff, map[records.AskCode]float64{"hours": b.kilnOff.Sub(b.kilnLoad).Hours()})
	after("kiln-clean", "kiln", b.kilnOff, b.kilnOff.Add(hours(0.7, 2)), nil)
	if b.item == "wheat" {
		s.changeover(b)
	}
}

// steepAgents: every tenth tank gets peracetic acid instead of ozonated water, and once in a long while another.
func steepAgents(b *batch) []records.AgentUse {
	switch {
	case peracetic(b):
		return []records.AgentUse{{Agent: "peracetic-acid", Lot: fmt.Sprintf("PAA-%02d", b.no/10+1)}, {Agent: "potable-water"}}
	case b.no%60 == 31:
		return []records.AgentUse{{Agent: "quat", Lot: "QT-02"}, {Agent: "potable-water"}}
	}
	return nil
}

func peracetic(b *batch) bool { return b.no%10 == 3 }

// changeover is the clean-out of what wheat ran through, before anything without wheat follows.
func (s *sim) changeover(b *batch) {
	for i, at := range []struct {
		station records.StationCode
		day     calendar.Date
	}{{"pit", s.day(b.steepIn)}, {"conveyor", s.day(b.steepIn)}, {"cleaner", s.day(b.kilnOff) + 1}, {"bagger", s.day(b.kilnOff) + 2}, {"mill", s.day(b.kilnOff) + 3}} {
		r := s.rand("changeover", b.no, i)
		when := between(r, s.at(s.working(at.day), 13, 10), s.at(s.working(at.day), 15, 40), 0, 1)
		s.jobs = append(s.jobs, job{task: "changeover-clean", station: at.station, at: when, lots: []records.LotCode{b.lot}})
	}
}

// held is the stretches in which a condition of the plan held at a station: a bed on the floor, grain in the steep or
// on the kiln.
func (s *sim) held(from records.TaskCode, at records.StationCode) (out []stretch) {
	for _, b := range s.grain {
		switch {
		case from == "load-bed" && at == b.floor:
			out = append(out, stretch{b.load, b.strip, &b})
		case from == "steep-in" && at == b.steep:
			out = append(out, stretch{b.steepIn, b.steepOut, &b})
		case from == "kiln-load" && at == "kiln":
			out = append(out, stretch{b.kilnLoad, b.kilnOff, &b})
		}
	}
	return out
}

type stretch struct {
	from, to records.Instant
	batch    *batch
}
