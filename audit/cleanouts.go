package audit

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// cleanOuts are the sign-offs that passed by a moment and give a clean-out grade, in the order in which they ended.
func cleanOuts(st *state.State, at records.Instant) []lots.CleanOut {
	all := new(cleanOutsMemo).all(st, cleaning(st, allDuties(st)))
	n, _ := slices.BinarySearchFunc(all, at, func(c lots.CleanOut, at records.Instant) int {
		if c.To <= at {
			return -1
		}
		return 1
	})
	return all[:n]
}

// cleanOutsMemo is every clean-out as last known.
type cleanOutsMemo struct {
	plans  uint64
	duties map[state.Duty]*dutyCleanOuts
	sorted []lots.CleanOut
}

// dutyCleanOuts are those that one duty gives.
type dutyCleanOuts struct {
	version uint64
	records []*state.Record // the sign-offs that were looked at
	list    []lots.CleanOut
}

func (m *cleanOutsMemo) all(st *state.State, duties []state.Duty) []lots.CleanOut {
	if v := st.Kind(records.KindPlan).Version(); m.duties == nil || m.plans != v {
		*m = cleanOutsMemo{plans: v, duties: map[state.Duty]*dutyCleanOuts{}}
	}
	var added []lots.CleanOut
	gone := false
	for _, d := range duties {
		x := m.duties[d]
		if x == nil {
			x = &dutyCleanOuts{}
			m.duties[d] = x
		}
		if tl := st.Signoffs(d); x.version != tl.Version() {
			more, less := x.update(st, d, tl)
			added, gone = append(added, more...), gone || less
		}
	}
	switch {
	case gone:
		m.sorted = nil
		for _, x := range m.duties {
			m.sorted = append(m.sorted, x.list...)
		}
		slices.SortFunc(m.sorted, ended)
	case len(added) > 0:
		slices.SortFunc(added, ended)
		if n := len(m.sorted); n > 0 && ended(added[0], m.sorted[n-1]) < 0 {
			m.sorted = slices.Clone(m.sorted) // whoever was given the list keeps it as it was
			added = append(added, m.sorted...)
			m.sorted = m.sorted[:0]
			slices.SortFunc(added, ended)
		}
		m.sorted = append(m.sorted, added...)
	}
	return m.sorted
}

// update looks at the sign-offs that are new, and says whether some that were looked at are not there any more.
func (x *dutyCleanOuts) update(st *state.State, d state.Duty, tl state.Timeline) (added []lots.CleanOut, gone bool) {
	all := tl.All()
	same := state.Common(x.records, all)
	if same < len(x.records) {
		same, gone, x.list = 0, true, nil
	}
	for _, s := range checkAll(st, d, all[same:]) {
		if s.task == nil || s.task.Grade == "" || !s.checked.Passes {
			continue
		}
		rank, ok := s.plan.GradeRank(s.task.Grade)
		if !ok {
			continue
		}
		from := s.rec.Happened
		if s.fact.Started != 0 && s.fact.Started < from {
			from = s.fact.Started
		}
		added = append(added, lots.CleanOut{Station: d.Station, From: from, To: s.rec.Happened, Grade: rank, Record: s.rec})
	}
	x.version, x.records, x.list = tl.Version(), all, append(x.list, added...)
	return added, gone
}

// ended puts clean-outs in the order in which they ended.
func ended(a, b lots.CleanOut) int {
	return cmp.Or(cmp.Compare(a.To, b.To), cmp.Compare(a.Record.Position, b.Record.Position))
}
