package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// source names a timeline, that of a kind, of a document's filings, or of a duty's sign-offs, and how a duty's judgement uses it.
type source struct {
	kind     records.Kind
	document records.DocumentCode
	duty     state.Duty
	as       use
	agent    records.AgentCode // with a document: that needs it
}

// use is what of a duty an entry in a source can bear on, which tells since when.
type use int

const (
	own      use = iota // its sign-offs: chapters know theirs
	ruling              // the plans: everything
	excusing            // windows in the excused stretch
	opening             // windows: those that it opens, or that are due while something goes on
	backing             // sign-offs that come after it: checks of instruments, trainings
	allowing            // sign-offs on the days for which a document holds: of a task that relies on it, or that name the agent
)

func signoffsOf(t records.TaskCode, at records.StationCode) source {
	return source{duty: state.Duty{Task: t, Station: at}}
}

func (s source) of(st *state.State) state.Timeline {
	switch {
	case s.kind != "":
		return st.Kind(s.kind)
	case s.document != "":
		return st.Documents(s.document)
	}
	return st.Signoffs(s.duty)
}

// reader is a duty with what its judgement reads, its own sign-offs first. That follows from the plans.
type reader struct {
	state.Duty
	sources []source
}

func readerOf(st *state.State, d state.Duty) reader {
	in := []source{{duty: d}, {kind: records.KindPlan, as: ruling}, {kind: records.KindExcuse, as: excusing}}
	add := func(as use, more ...source) {
		for _, s := range more {
			if s.as = as; !slices.Contains(in, s) { // one plan after the other says the same
				in = append(in, s)
			}
		}
	}
	for _, p := range st.Plans() {
		t := p.Plan.Task(d.Task)
		if t == nil {
			continue
		}
		for _, code := range t.Relies {
			add(allowing, source{document: code})
		}
		for i := range p.Plan.Agents { // whichever somebody used
			if a := &p.Plan.Agents[i]; a.Approval != "" {
				add(allowing, source{document: a.Approval, agent: a.Code})
			}
		}
		if t.While != nil {
			add(opening, signoffsOf(t.While.From, d.Station), signoffsOf(t.While.Until, d.Station))
		}
		for i := range t.When {
			if e := t.When[i].After; e != nil {
				add(opening, eventSource(d, e))
			}
		}
		for i := range t.Asks {
			if i := p.Plan.Instrument(t.Asks[i].Instrument); i != nil {
				add(backing, signoffsOf(i.Calibration, i.Station))
			}
		}
		if t.Trained {
			add(backing, trainings(p.Plan, t.Code)...)
		}
	}
	return reader{d, in}
}

func trainings(p *plan.Plan, task records.TaskCode) (in []source) {
	for i := range p.Tasks {
		if t := &p.Tasks[i]; slices.Contains(t.Trains, task) {
			for _, s := range t.Stations {
				in = append(in, signoffsOf(t.Code, s))
			}
		}
	}
	return in
}

func (r *reader) versions(st *state.State) []uint64 {
	out := make([]uint64, len(r.sources))
	for i, s := range r.sources {
		out[i] = s.of(st).Version()
	}
	return out
}

// has says whether what is read has these versions.
func (r *reader) has(st *state.State, versions []uint64) bool {
	for i, s := range r.sources {
		if i >= len(versions) || s.of(st).Version() != versions[i] {
			return false
		}
	}
	return len(r.sources) == len(versions)
}

// next is when, after a moment, the first entry counts that was written ahead of its time.
func (r *reader) next(st *state.State, at records.Instant) records.Instant {
	next := forever
	for _, s := range r.sources {
		if later := s.of(st).Between(at+1, forever); len(later) > 0 {
			next = min(next, later[0].Happened)
		}
	}
	return next
}

// read is what of its sources a duty is judged by at a moment: all that had happened.
func (r *reader) read(st *state.State, at records.Instant) [][]*state.Record {
	out := make([][]*state.Record, len(r.sources))
	for i, s := range r.sources {
		out[i] = s.of(st).Until(at)
	}
	return out
}

// since is the earliest instant on which what is read otherwise than before can bear, other than through the duty's own sign-offs; forever
// when it can not. Both readings are of the same sources, and the plans are the same.
func (r *reader) since(was, now [][]*state.Record) records.Instant {
	since := forever
	for i, s := range r.sources {
		if s.as == own || s.as == ruling {
			continue
		}
		gone, come := differing(was[i], now[i])
		for _, list := range [][]*state.Record{gone, come} {
			for _, rec := range list {
				since = min(since, s.bears(r.Duty, rec, now[0]))
			}
		}
	}
	return since
}

// bears is the earliest instant on which an entry in a source can bear, where signed are the duty's sign-offs.
func (s *source) bears(d state.Duty, r *state.Record, signed []*state.Record) records.Instant {
	switch s.as {
	case excusing:
		if e := (excuse{r.Fact.(*records.Excuse)}); e.concerns(d) {
			return e.From
		}
		return forever
	case opening:
		return r.Happened
	case backing:
		return firstOf(during(signed, r.Happened, forever))
	}
	from := beginning
	if f := r.Fact.(*records.Document); f.From != nil {
		from = records.Instant(*f.From-1) * aDay // in no zone does its first day begin sooner
	}
	for _, signoff := range during(signed, from, forever) {
		if s.agent == "" || slices.ContainsFunc(signoff.Fact.(*records.Signoff).Agents, func(u records.AgentUse) bool { return u.Agent == s.agent }) {
			return signoff.Happened
		}
	}
	return forever
}

const aDay = 24 * 3600 * 1000

func firstOf(rs []*state.Record) records.Instant {
	if len(rs) == 0 {
		return forever
	}
	return rs[0].Happened
}

// unchanged says whether timelines have these versions.
func unchanged(versions []uint64, in []state.Timeline) bool {
	return slices.EqualFunc(versions, in, func(v uint64, tl state.Timeline) bool { return tl.Version() == v })
}
