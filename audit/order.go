package audit

import (
	"cmp"
	"slices"

	"grainward/records/state"
)

// A finding is never changed once it was made. One that is answered is shown as a copy with its answers, so that reports given
// before stay as they were, and what has not changed is the same finding in one report and the next.

// order keeps all findings as they were last put in order. Between one judgement and the next few go and few come: these are
// sorted, and everything between them is copied in stretches.
type order struct {
	parts  [][]*Finding
	sorted []placed
	shown  []*Finding // what the last report was given
}

// placed is a finding, the part it came in, and how it is shown.
type placed struct {
	found, shown *Finding
	part         int
}

// readFirst puts findings by weight, and those of the same weight (an id that two entries share) as their parts come.
func readFirst(a, b placed) int {
	if a.found == b.found {
		return cmp.Compare(a.part, b.part)
	}
	return cmp.Or(weight(a.found, b.found), cmp.Compare(a.part, b.part), slices.Compare(a.found.Evidence, b.found.Evidence))
}

// collect is all findings in order, each as its answers show it: those of the parts, and others of which is said what has gone and
// come. Parts must not be changed afterwards, nor what is returned.
func (o *order) collect(parts [][]*Finding, gone, come []placed, answers *answersMemo) []*Finding {
	for i := range come {
		come[i].shown = answers.shown(come[i].found)
	}
	for i := range max(len(parts), len(o.parts)) {
		var old, now []*Finding
		if i < len(o.parts) {
			old = o.parts[i]
		}
		if i < len(parts) {
			now = parts[i]
		}
		old, now = differing(old, now)
		for _, f := range old {
			gone = append(gone, placed{f, nil, i})
		}
		for _, f := range now {
			come = append(come, placed{f, answers.shown(f), i})
		}
	}
	o.parts = parts
	changed := answers.takeChanged()
	if len(gone)+len(come)+len(changed) == 0 && o.shown != nil {
		return o.shown
	}
	if len(gone)+len(come) > 0 {
		slices.SortStableFunc(gone, readFirst)
		slices.SortStableFunc(come, readFirst)
		o.sorted = exchange(o.sorted, gone, come)
	} else {
		o.sorted = slices.Clone(o.sorted)
	}
	o.shown = make([]*Finding, len(o.sorted))
	for i := range o.sorted {
		x := &o.sorted[i]
		if len(changed) > 0 && changed[x.found.ID] {
			x.shown = answers.shown(x.found)
		}
		o.shown[i] = x.shown
	}
	return o.shown
}

// exchange is a sorted list without what has gone and with what has come, both sorted too.
func exchange(old, gone, come []placed) []placed {
	out := make([]placed, 0, len(old)-len(gone)+len(come))
	upTo := func(x placed) { // moves what reads before x over
		n, _ := slices.BinarySearchFunc(old, x, readFirst)
		out, old = append(out, old[:n]...), old[n:]
	}
	for len(gone)+len(come) > 0 {
		if len(come) > 0 && (len(gone) == 0 || readFirst(come[0], gone[0]) < 0) {
			upTo(come[0])
			out, come = append(out, come[0]), come[1:]
			continue
		}
		upTo(gone[0])
		is := slices.IndexFunc(old, func(x placed) bool { return x.found == gone[0].found }) // nearly always the first
		out = append(out, old[:is]...)
		old, gone = old[is+1:], gone[1:]
	}
	return append(out, old...)
}

// answersMemo is the answers by the id of the finding they are to, as last known.
type answersMemo struct {
	plans   uint64
	records []*state.Record // that were taken in
	by      map[string][]*state.Record
	changed map[string]bool // ids whose answers changed since takeChanged was asked
	st      *state.State
}

// take takes in the answers known at a moment. They mostly grow at their end.
func (m *answersMemo) take(st *state.State, now []*state.Record, plans uint64) {
	m.st = st
	same := 0
	if m.by == nil || m.plans != plans {
		m.changeAll()
	} else if same = state.Common(m.records, now); same < len(m.records) {
		same = 0
		m.changeAll()
	}
	if same == 0 {
		m.by = map[string][]*state.Record{}
	}
	m.plans, m.records = plans, now
	for _, r := range now[same:] {
		id := answeredBy(r)
		m.by[id] = append(m.by[id], r)
		m.change(id)
	}
}

func (m *answersMemo) changeAll() {
	for id := range m.by {
		m.change(id)
	}
}

func (m *answersMemo) change(id string) {
	if m.changed == nil {
		m.changed = map[string]bool{}
	}
	m.changed[id] = true
}

func (m *answersMemo) takeChanged() map[string]bool {
	changed := m.changed
	m.changed = nil
	return changed
}

// shown is a finding with its answers: itself, when there are none.
func (m *answersMemo) shown(f *Finding) *Finding {
	by := m.by[f.ID]
	if by == nil {
		return f
	}
	answered := *f
	answered.answer(m.st, by)
	return &answered
}
