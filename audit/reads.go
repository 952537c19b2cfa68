package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// source names a timeline: that of a kind, of a document's filings, or of a duty's sign-offs.
type source struct {
	kind     records.Kind
	document records.DocumentCode
	duty     state.Duty
}

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
	in := []source{{duty: d}, {kind: records.KindPlan}, {kind: records.KindExcuse}}
	add := func(more ...source) {
		for _, s := range more {
			// One plan after the other says the same. But what reads its own sign-offs in another way than a chapter does says so.
			if !slices.Contains(in[1:], s) {
				in = append(in, s)
			}
		}
	}
	for _, p := range st.Plans() {
		t := p.Plan.Task(d.Task)
		if t == nil {
			continue
		}
		for _, code := range reliedOn(p.Plan, t) {
			add(source{document: code})
		}
		if t.While != nil {
			add(signoffsOf(t.While.From, d.Station), signoffsOf(t.While.Until, d.Station))
		}
		for i := range t.When {
			if e := t.When[i].After; e != nil {
				add(eventSource(d, e))
			}
		}
		for i := range t.Asks {
			if i := p.Plan.Instrument(t.Asks[i].Instrument); i != nil {
				add(signoffsOf(i.Calibration, i.Station))
			}
		}
		if t.Trained {
			add(trainings(p.Plan, t.Code)...)
		}
	}
	return reader{d, in}
}

// reliedOn are the documents that sign-offs of a task can rely on: its own, and the approvals of agents, whichever somebody used.
// Photos and reports are on file by the thousand, and nothing is judged by them.
func reliedOn(p *plan.Plan, t *plan.Task) []records.DocumentCode {
	all := slices.Clone(t.Relies)
	for i := range p.Agents {
		if code := p.Agents[i].Approval; code != "" {
			all = append(all, code)
		}
	}
	return all
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

// next is when, after a moment, the first entry counts that was written ahead of its time, of the sources from the n-th on.
func (r *reader) next(st *state.State, at records.Instant, n int) records.Instant {
	next := forever
	for _, s := range r.sources[n:] {
		if later := s.of(st).Between(at+1, forever); len(later) > 0 {
			next = min(next, later[0].Happened)
		}
	}
	return next
}

// unchanged says whether timelines have these versions.
func unchanged(versions []uint64, in []state.Timeline) bool {
	return slices.EqualFunc(versions, in, func(v uint64, tl state.Timeline) bool { return tl.Version() == v })
}
