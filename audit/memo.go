package audit

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// dutyMemo is a duty's work as last judged, and for how long that holds: while every timeline it was computed from is
// unchanged, and until the next instant at which time alone changes it.
type dutyMemo struct {
	inputs   []uint64
	from, to records.Instant // the moments for which it holds: from <= at < to
	work     Work
	findings []*Finding
	past     *past // what of it a new sign-off does not change; nil when there is no such part
}

// judge gives every duty's memo for the moment, in the order of the duties. Duties do not depend on each other's
// judgement, so those that have to be judged again are shared out over the cores.
func (a *Auditor) judge(st *state.State, duties []state.Duty, exc []excuse, at records.Instant) []*dutyMemo {
	memos := make([]*dutyMemo, len(duties))
	var stale []int
	for i, d := range duties {
		if memos[i] = a.duties[d]; memos[i] == nil || !memos[i].holds(st, d, at) {
			stale = append(stale, i)
		}
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(stale)) {
		wg.Go(func() {
			for k := next.Add(1) - 1; k < int64(len(stale)); k = next.Add(1) - 1 {
				memos[stale[k]] = memos[stale[k]].judgeAgain(st, duties[stale[k]], exc, at)
			}
		})
	}
	wg.Wait()
	for _, i := range stale {
		a.duties[duties[i]] = memos[i]
	}
	return memos
}

func (m *dutyMemo) holds(st *state.State, d state.Duty, at records.Instant) bool {
	return m.from <= at && at < m.to && unchanged(m.inputs, inputs(st, d))
}

// judgeAgain judges a duty at a moment, going on from the past that m, which may be nil, has settled.
func (m *dutyMemo) judgeAgain(st *state.State, d state.Duty, exc []excuse, at records.Instant) *dutyMemo {
	in := inputs(st, d)
	n := &dutyMemo{inputs: make([]uint64, len(in)), from: at}
	for i, tl := range in {
		n.inputs[i] = tl.Version()
	}
	if m != nil && m.past.holds(in, at) {
		n.past = m.past
	} else {
		n.past = settle(st, d, in, exc, at)
	}
	n.work, n.findings = n.past.goOn(st, d, exc, at)
	n.to = horizon(&n.work, in, at)
	return n
}

func unchanged(versions []uint64, in []state.Timeline) bool {
	if len(versions) != len(in) {
		return false
	}
	for i, tl := range in {
		if tl.Version() != versions[i] {
			return false
		}
	}
	return true
}

// inputs are the timelines a duty's judgement reads.
func inputs(st *state.State, d state.Duty) []state.Timeline {
	in := []state.Timeline{st.Signoffs(d), st.Kind(records.KindPlan), st.Kind(records.KindExcuse), st.Kind(records.KindDocument)}
	for _, p := range st.Plans() {
		t := p.Plan.Task(d.Task)
		if t == nil {
			continue
		}
		if t.While != nil {
			in = append(in, st.Signoffs(state.Duty{Task: t.While.From, Station: d.Station}), st.Signoffs(state.Duty{Task: t.While.Until, Station: d.Station}))
		}
		for i := range t.When {
			if e := t.When[i].After; e != nil {
				x := expander{st: st, duty: d}
				in = append(in, x.eventTimeline(e))
			}
		}
		for i := range t.Asks {
			if i := p.Plan.Instrument(t.Asks[i].Instrument); i != nil {
				in = append(in, st.Signoffs(state.Duty{Task: i.Calibration, Station: i.Station}))
			}
		}
		if t.Trained {
			in = append(in, trainings(st, p.Plan, t.Code)...)
		}
	}
	return in
}

func trainings(st *state.State, p *plan.Plan, task records.TaskCode) (in []state.Timeline) {
	for i := range p.Tasks {
		if t := &p.Tasks[i]; slices.Contains(t.Trains, task) {
			for _, s := range t.Stations {
				in = append(in, st.Signoffs(state.Duty{Task: t.Code, Station: s}))
			}
		}
	}
	return in
}

// horizon is the next instant after the moment at which a window opens, becomes overdue or lapses, at which windows
// further ahead have to be expanded, or at which an entry written ahead of its time comes to count.
func horizon(w *Work, in []state.Timeline, at records.Instant) records.Instant {
	next := (at/aheadStep + 1) * aheadStep
	sooner := func(t records.Instant) {
		if t > at && t < next {
			next = t
		}
	}
	for i := len(w.Windows) - 1; i >= 0; i-- {
		j := &w.Windows[i]
		sooner(j.Opens)
		sooner(j.Due + 1)
		sooner(j.Lapses + 1)
	}
	for _, tl := range in {
		if later := tl.Between(at+1, math.MaxInt64); len(later) > 0 {
			sooner(later[0].Happened)
		}
	}
	return next
}

// entriesMemo is the findings about how entries were written, of the first n positions. They depend on the entry as it counts and on
// the plan, so a correction touches only what it corrects.
type entriesMemo struct {
	plans uint64
	n     records.Position
	found []entryFinding // in order of position
}

type entryFinding struct {
	position records.Position
	happened records.Instant
	*Finding
}

func (m *entriesMemo) at(st *state.State, at records.Instant) []*Finding {
	if p := st.Kind(records.KindPlan).Version(); m.plans != p || m.n > st.Size() {
		*m = entriesMemo{plans: p}
	}
	known := m.n
	for ; m.n < st.Size(); m.n++ {
		m.found = append(m.found, m.judge(st, m.n)...)
		if r := st.First(m.n); r != nil && r.Kind == records.KindCorrect {
			if root := st.Root(m.n); root < known {
				from, _ := slices.BinarySearchFunc(m.found, root, byPosition)
				to, _ := slices.BinarySearchFunc(m.found, root+1, byPosition)
				m.found = slices.Replace(m.found, from, to, m.judge(st, root)...)
			}
		}
	}
	out := make([]*Finding, 0, len(m.found))
	for i := range m.found {
		if m.found[i].happened <= at {
			out = append(out, m.found[i].Finding)
		}
	}
	return out
}

func byPosition(f entryFinding, pos records.Position) int { return cmp.Compare(f.position, pos) }

// judge gives the findings of one position.
func (m *entriesMemo) judge(st *state.State, pos records.Position) (out []entryFinding) {
	r := st.Now(pos)
	if r == nil {
		return nil
	}
	for _, f := range entryFindings(st, r) {
		out = append(out, entryFinding{pos, r.Happened, f})
	}
	return out
}

// reviewMemo is the batches of the first n positions, and how far the reviews known then covered them.
type reviewMemo struct {
	plans, reviews uint64
	n              records.Position
	from, to       records.Instant // the moments for which the reviews are the same ones: from <= at < to
	batches        []Batch
	own            []*Finding
}

func (m *reviewMemo) at(st *state.State, at records.Instant) ([]Batch, []*Finding) {
	p, tl := st.Kind(records.KindPlan).Version(), st.Kind(records.KindReview)
	fresh := m.plans != p || m.n > st.Size()
	if fresh {
		*m = reviewMemo{plans: p}
	}
	grown := m.n // batches that reach no further than this are covered as they were
	m.batches = batches(st, m.batches, m.n)
	m.n = st.Size()
	var all []review
	if fresh || m.reviews != tl.Version() || at < m.from || at >= m.to {
		grown, m.reviews, m.own = 0, tl.Version(), nil
		all = reviews(st, at)
		for i := range all {
			m.own = append(m.own, all[i].own(st)...)
		}
		m.from, m.to = at, forever
		if later := tl.Between(at+1, forever); len(later) > 0 {
			m.to = later[0].Happened
		}
	}
	out, findings := make([]Batch, 0, len(m.batches)), slices.Clone(m.own)
	for i := range m.batches {
		b := &m.batches[i]
		if b.Runs[len(b.Runs)-1].To >= grown {
			if all == nil {
				all = reviews(st, at)
			}
			b.cover(all)
		}
		out = append(out, *b)
		findings = append(findings, b.findings(at)...)
	}
	return out, findings
}
