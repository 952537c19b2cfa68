package demoplant

import (
	"fmt"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// batch is some grain on its way through the house.
type batch struct {
	no           int
	item         string // barley, rye, oats, corn, wheat or spelt
	status       records.Status
	tons         float64
	lot          records.LotCode
	steep, floor records.StationCode
	steepIn      records.Instant
	steepOut     records.Instant
	load, strip  records.Instant // of the bed
	kilnLoad     records.Instant
	kilnOff      records.Instant
}

// beforeTheGap is the batch after which the conveyor was not cleaned; see feed.go.
const beforeTheGap = 51

// The codes a batch goes under from stage to stage: steeped under its own, then as green malt, as it comes off the kiln,
// cleaned, and in bags and sacks.
func (b *batch) green() records.LotCode  { return b.lot + "G" }
func (b *batch) kilned() records.LotCode { return b.lot + "K" }
func (b *batch) malt() records.LotCode   { return b.lot + "M" }
func (b *batch) bags() records.LotCode   { return b.lot + "-1" }
func (b *batch) sacks() records.LotCode  { return b.lot + "-2" }

func (b *batch) wheaten() bool { return b.item == "wheat" || b.item == "spelt" }

// class is the batch's as the changeover table names it.
func (b *batch) class() string {
	if b.wheaten() {
		return string(b.status) + "+wheat"
	}
	return string(b.status)
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
	b.status = records.Organic
	switch turn := k / 9; {
	case k%9 == 4 && turn%3 == 2:
		b.item = "spelt"
	case k%9 == 4:
		b.item = "wheat"
	case k%9 == 7 && turn%4 == 2:
		b.item = "oats"
	case k%9 == 7 && turn%4 == 3:
		b.item = "corn"
	case k%9 == 7:
		b.item = "rye"
	case k%9 == 1 && turn%2 == 1, k == beforeTheGap:
		b.status = records.Conventional
	}
	if k%3 == 2 || k%4 == 1 {
		b.tons = 8 // the third floor takes no more, and some recipes are small
	}
	y, m, dd := d.Civil()
	b.lot = records.LotCode(fmt.Sprintf("SM%02d%02d%02d-%s", y%100, m, dd, strings.ToUpper(b.item[:1])))
	if b.status == records.Conventional {
		b.lot += "N"
	}
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
	lot := b.lot
	do := func(task records.TaskCode, station records.StationCode, at records.Instant, reads map[records.AskCode]float64) {
		s.jobs = append(s.jobs, job{task: task, station: station, at: at, lots: []records.LotCode{lot}, reads: reads})
	}
	// after is work that becomes due when something else was signed off.
	after := func(task records.TaskCode, station records.StationCode, event, at records.Instant, agents []records.AgentUse) {
		s.jobs = append(s.jobs, job{task: task, station: station, opens: event, at: at, lots: []records.LotCode{lot}, agents: agents})
	}
	hours := func(lo, hi float64) time.Duration {
		return time.Duration((lo + (hi-lo)*r.Float64()) * float64(time.Hour)).Round(time.Second)
	}
	tons := map[records.AskCode]float64{"mass": b.tons}
	do("steep-in", b.steep, b.steepIn, tons)
	do("steep-out", b.steep, b.steepOut, nil)
	after("steep-clean", b.steep, b.steepOut, b.steepOut.Add(hours(2.4, 4.5)), steepAgents(b))
	do("load-bed", b.floor, b.load, tons)
	after("boiled-kernel", b.floor, b.load, b.load.Add(hours(114, 118)), nil)
	lot = b.green()
	do("strip-bed", b.floor, b.strip, nil)
	after("floor-scrub", b.floor, b.strip, b.strip.Add(hours(2, 4.5)), nil)
	depth := 29.0
	if b.tons == 8 {
		depth = 24
	}
	do("kiln-load", "kiln", b.kilnLoad, map[records.AskCode]float64{"depth": depth})
	lot = b.kilned()
	do("kiln-off", "kiln", b.kilnOff, map[records.AskCode]float64{"hours": b.kilnOff.Sub(b.kilnLoad).Hours()})
	after("kiln-clean", "kiln", b.kilnOff, b.kilnOff.Add(hours(1.4, 2.6)), nil)
	do("sensory-check", "bench", b.kilnOff.Add(hours(3, 5)), nil)
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

// held is the stretches in which a condition of the plan held at a station: a bed on the floor, grain in the steep or
// on the kiln.
func (s *sim) held(from records.TaskCode, at records.StationCode) (out []stretch) {
	for _, b := range s.grain {
		switch {
		case from == "load-bed" && at == b.floor:
			out = append(out, stretch{b.load, b.strip, &b, b.lot})
		case from == "steep-in" && at == b.steep:
			out = append(out, stretch{b.steepIn, b.steepOut, &b, b.lot})
		case from == "kiln-load" && at == "kiln":
			out = append(out, stretch{b.kilnLoad, b.kilnOff, &b, b.green()})
		}
	}
	return out
}

type stretch struct {
	from, to records.Instant
	batch    *batch
	lot      records.LotCode
}
