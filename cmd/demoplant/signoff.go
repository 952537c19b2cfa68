package demoplant

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"time"

	"grainward/records"
	"grainward/records/plan"
)

// job is one piece of work of the plan, with the time at which somebody finishes it.
type job struct {
	task     records.TaskCode
	station  records.StationCode
	opens    records.Instant // of the window on the wall; 0 for work done as needed
	due      records.Instant
	at       records.Instant
	by       records.PersonCode // 0: whoever is there
	second   records.PersonCode
	trainees []records.PersonCode
	lots     []records.LotCode
	agents   []records.AgentUse // instead of the usual ones
	reads    map[records.AskCode]float64
	note     string
}

// window is the address of the duty and its window, as it stands in findings.
func (j *job) window() string {
	return fmt.Sprintf("%s@%s:%s", j.task, j.station, j.opens)
}

// rand is a source of chance of its own for each named thing, so that one more job does not reshuffle the others.
func (s *sim) rand(about ...any) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprint(h, about...)
	return rand.New(rand.NewPCG(s.seed, h.Sum64()))
}

// between is an instant some way from one to another; lo and hi are shares of the way.
func between(r *rand.Rand, from, to records.Instant, lo, hi float64) records.Instant {
	if to <= from {
		return from
	}
	return from + records.Instant(float64(to-from)*(lo+(hi-lo)*r.Float64()))
}

// add writes an entry down: at the next round of the tablets unless the caller says otherwise.
func (s *sim) add(at records.Instant, by records.PersonCode, m records.Meaning, f records.Fact) *draft {
	id := s.id(at, len(s.drafts))
	sent := min(nextRound(at), max(at, s.until))
	d := &draft{entry: records.Entry{ID: id, Happened: at, By: by, Device: device(f), Meaning: m, Kind: f.Kind(), Fact: f}, recorded: sent}
	s.drafts = append(s.drafts, d)
	return d
}

func nextRound(at records.Instant) records.Instant {
	const every = records.Instant(round / time.Millisecond)
	return (at + every - 1) / every * every
}

// id is the version 7 id (RFC 9562 section 5.7) a device would have made at that time.
func (s *sim) id(at records.Instant, n int) (id records.EntryID) {
	r := s.rand("id", at, n)
	binary.BigEndian.PutUint64(id[:8], uint64(at)<<16|r.Uint64()&0x0fff|0x7000)
	binary.BigEndian.PutUint64(id[8:], r.Uint64()&(1<<62-1)|1<<63)
	return id
}

// device is the tablet nearest to the work.
func device(f records.Fact) records.DeviceCode {
	station := records.StationCode("office")
	switch f := f.(type) {
	case *records.Signoff:
		station = f.Station
	case *records.Deviation:
		station = f.Station
	case *records.Receipt:
		station = f.To
	case *records.Move:
		station = f.To
	case *records.Process:
		station = f.Station
	case *records.Purge:
		station = f.Stations[0]
	case *records.Count:
		station = f.Station
	case *records.Sample:
		station = "bench"
	case *records.Handover:
		if f.From != "" {
			station = f.From
		}
	case *records.Correct:
		if f.With != nil {
			return device(f.With.Fact)
		}
	}
	switch station {
	case "floor-1", "floor-2", "floor-3", "entrance", "steep-1", "steep-2":
		return "tablet-floor"
	case "kiln", "bench":
		return "tablet-kiln"
	case "office":
		return "office-desk"
	}
	return "tablet-dry"
}

// perform does a job, unless something goes wrong with it.
func (s *sim) perform(j *job) {
	if j.by == "" {
		j.by = s.pick(j)
	}
	for i, sl := range s.slips {
		if sl.task == j.task && s.day(j.at) >= sl.from && (sl.when == nil || sl.when(j)) {
			s.slips = append(s.slips[:i:i], s.slips[i+1:]...)
			sl.do(j)
			return
		}
	}
	s.sign(j, nil)
}

// sign writes the sign-off of a job, changed by the caller before it is written.
func (s *sim) sign(j *job, change func(*records.Signoff)) *draft {
	p := s.planAt(j.at)
	t := p.Task(j.task)
	r := s.rand("sign", j.task, j.station, j.at)
	f := &records.Signoff{Task: j.task, Station: j.station, Window: j.opens, Outcome: records.Passed, Lots: j.lots,
		Trainees: j.trainees, Second: j.second, Note: j.note}
	if minutes := effort[t.Family]; minutes > 0 {
		f.Started = max(j.opens, j.at.Add(-time.Duration(minutes*(0.7+0.6*r.Float64())*float64(time.Minute))))
	}
	var blobs [][]byte
	for i := range t.Asks {
		if answer, blob, ok := s.answer(r, j, &t.Asks[i]); ok {
			f.Answers = append(f.Answers, answer)
			if blob != nil {
				blobs = append(blobs, blob)
			}
		}
	}
	if f.Agents = j.agents; f.Agents == nil {
		f.Agents = usualAgents(t)
	}
	if t.Second && f.Second == "" {
		f.Second = s.beside(j.at, j.by)
	}
	if change != nil {
		change(f)
	}
	d := s.add(j.at, j.by, records.Performed, f)
	d.blobs = blobs
	return d
}

// effort is how many minutes work of a family takes, where that is worth noting.
var effort = map[string]float64{plan.Floor: 45, plan.CleanOut: 40, plan.Turning: 30, plan.TrainingLog: 90, plan.WalkRound: 25}

// usualAgents are what the crew reaches for: the first on the task's list.
func usualAgents(t *plan.Task) []records.AgentUse {
	if len(t.Agents) == 0 {
		return nil
	}
	use := records.AgentUse{Agent: t.Agents[0]}
	if use.Agent == "ozone-water" {
		use.Strength = &records.Quantity{Value: records.NewDecimal(22, 1), Unit: "mg/L"}
	}
	return []records.AgentUse{use}
}

// set changes the number a sign-off gives to a question.
func set(f *records.Signoff, ask records.AskCode, value, unit string) {
	d, err := records.ParseDecimal(value)
	if err != nil {
		panic(err) // the caller wrote a constant
	}
	for i := range f.Answers {
		if f.Answers[i].Ask == ask {
			f.Answers[i].Value = &records.Quantity{Value: d, Unit: unit}
		}
	}
}
