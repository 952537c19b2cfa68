package audit

import (
	"cmp"
	"slices"
	"sync"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// Report is everything the audit has to say at one moment. It is shared; nothing in it may be changed.
type Report struct {
	State    *state.State
	At       records.Instant
	Until    records.Instant // windows that open by then are in Work
	Findings []*Finding      // worst first, then newest first
	Work     []*Work         // every duty of every plan so far, by task and station
	Goods    *Goods          // lots, stations and hands, with how they were judged
	Batches  []Batch         // what was or is to be reviewed, oldest first
}

// Duty finds one duty's work, or nil.
func (r *Report) Duty(d state.Duty) *Work {
	i, ok := slices.BinarySearchFunc(r.Work, d, func(w *Work, d state.Duty) int { return orderDuty(w.Duty, d) })
	if !ok {
		return nil
	}
	return r.Work[i]
}

func orderDuty(a, b state.Duty) int {
	return cmp.Or(cmp.Compare(a.Task, b.Task), cmp.Compare(a.Station, b.Station))
}

// ahead is how far beyond the moment windows are expanded: at least two days, enough to show the crew today and tomorrow. It
// goes in steps, so that what was expanded holds for a while.
const (
	ahead     = 48 * 3600 * 1000
	aheadStep = 6 * 3600 * 1000
)

func expandUntil(at records.Instant) records.Instant { return (at/aheadStep+1)*aheadStep + ahead }

// At judges a state at a moment, from nothing.
func At(st *state.State, at records.Instant) *Report { return new(Auditor).At(st, at) }

// Auditor judges the same journal again and again as it grows, and does again only what a new entry, or the passing of
// time, can have changed. Its answers are those of the function At, which a property test holds it to. It may be used
// by one goroutine at a time, and must only ever be given states of one journal.
type Auditor struct {
	duties     map[state.Duty]*dutyMemo
	entries    entriesMemo
	clock      clockMemo
	review     reviewMemo
	deviations deviationMemo
	goods      goodsMemo
	lists      dutyLists
	answers    answersMemo
	order      order
}

// At judges a state at a moment. Moments may go back and forth; going forward is fast.
func (a *Auditor) At(st *state.State, at records.Instant) *Report {
	if a.duties == nil {
		a.duties = map[state.Duty]*dutyMemo{}
	}
	rep := &Report{State: st, At: at, Until: expandUntil(at)}
	var gone, come []placed
	duties := a.lists.of(st)
	var wg sync.WaitGroup
	wg.Go(func() { rep.Goods, gone, come = a.goods.at(st, duties, at) }) // nothing about duties depends on it, nor it on them
	var groups [][]*Finding
	exc := excuses(st, at)
	for _, m := range a.judge(st, duties.readers, exc, at) {
		rep.Work = append(rep.Work, &m.work)
		groups = append(groups, m.findings)
	}
	entries := a.entries.at(st, at)
	batches, reviewed := a.review.at(st, at)
	rep.Batches = batches
	groups = append(groups, entries, a.clock.at(st, at), reviewed, oddityFindings(st, at), a.deviations.at(st, at), documentFindings(st, at), retentionFindings(st, at))

	wg.Wait()
	a.answers.take(st, st.Kind(records.KindAnswer).Until(at), st.Kind(records.KindPlan).Version())
	rep.Findings = a.order.collect(groups, gone, come, &a.answers)
	return rep
}

// Floor is the floor at a moment that is not after that of the last report: what is returned folds it, beside the auditor's own work when it
// must be, from a mark that was left on the way.
func (a *Auditor) Floor(at records.Instant) (fold func() *lots.Floor) {
	return a.goods.keeper.Earlier(a.goods.auditor.st, at)
}

// dutyLists are the duties there are, and those that matter for goods, for as long as no other becomes known.
type dutyLists struct {
	plans                  uint64
	known                  int
	all, cleaning, guarded []state.Duty
	readers                []reader // all, with what their judgement reads
}

func (l *dutyLists) of(st *state.State) *dutyLists {
	if plans, known := st.Kind(records.KindPlan).Version(), st.KnownDuties(); l.all == nil || l.plans != plans || l.known != known {
		*l = dutyLists{plans: plans, known: known, all: allDuties(st)}
		for _, d := range l.all {
			l.readers = append(l.readers, readerOf(st, d))
		}
		l.cleaning, l.guarded = cleaning(st, l.all), guarded(st, l.all)
	}
	return l
}

// allDuties are the duties of every plan so far and of every sign-off, by task and station.
func allDuties(st *state.State) []state.Duty {
	seen := map[state.Duty]bool{}
	for _, in := range st.Plans() {
		for i := range in.Plan.Tasks {
			for _, s := range in.Plan.Tasks[i].Stations {
				seen[state.Duty{Task: in.Plan.Tasks[i].Code, Station: s}] = true
			}
		}
	}
	for d := range st.Duties() {
		seen[d] = true
	}
	out := make([]state.Duty, 0, len(seen))
	for d := range seen {
		out = append(out, d)
	}
	slices.SortFunc(out, orderDuty)
	return out
}
