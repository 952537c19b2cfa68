package audit

import (
	"cmp"
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// dutyMemo is a duty's work as last judged, and for how long that holds: while every timeline it was computed from is
// unchanged, and until the next instant at which time alone changes it.
type dutyMemo struct {
	versions []uint64          // of what it reads
	read     [][]*state.Record // what of that had happened
	from, to records.Instant   // the moments for which it holds: from <= at < to
	work     Work
	findings []*Finding
}

// judge gives every duty's memo for the moment, in their order. Duties do not depend on each other's judgement, so those that have
// to be judged again are shared out over the cores.
func (a *Auditor) judge(st *state.State, duties []reader, exc []excuse, at records.Instant) []*dutyMemo {
	memos := make([]*dutyMemo, len(duties))
	var stale []int
	for i := range duties {
		m := a.duties[duties[i].Duty]
		if memos[i] = m; m == nil || at < m.from || at >= m.to || !duties[i].has(st, m.versions) {
			stale = append(stale, i)
		}
	}
	share(len(stale), func() func(int) {
		j := &dutyJudge{st: st, exc: exc, at: at, expander: expander{st: st, at: at}}
		return func(k int) { memos[stale[k]] = j.judge(&duties[stale[k]], memos[stale[k]]) }
	})
	for _, i := range stale {
		a.duties[duties[i].Duty] = memos[i]
	}
	return memos
}

// dutyJudge judges duties one after the other at one moment, in the same room.
type dutyJudge struct {
	st       *state.State
	exc      []excuse
	at       records.Instant
	expander expander
	checks   []signed
	waiting  []int
}

// check holds sign-offs of a duty against their tasks; the list is good until the next.
func (j *dutyJudge) check(d state.Duty, rs []*state.Record) []signed {
	j.checks = checkInto(j.checks[:0], j.st, d, rs)
	return j.checks
}

// judge judges a duty, going on from an older memo, which may be nil.
func (j *dutyJudge) judge(d *reader, old *dutyMemo) *dutyMemo {
	m := &dutyMemo{versions: d.versions(j.st), read: d.read(j.st, j.at), from: j.at, work: Work{Duty: d.Duty}}
	w := author{j, m.read[0], m}
	switch {
	case old == nil || old.versions[1] != m.versions[1]: // other plans, and other sources perhaps
		w.write(beginning, forever, false)
	default:
		since := d.since(old.read, m.read)
		if since == forever && old.versions[0] == m.versions[0] && old.from <= j.at && j.at < old.to {
			m.from, m.work, m.findings = old.from, old.work, old.findings
			break
		}
		w.goOn(old, since)
	}
	m.to = min(d.next(j.st, j.at), m.horizon(j.at))
	return m
}

// horizon is the next instant after the moment at which a window opens, becomes overdue or lapses, or at which windows further ahead
// have to be expanded.
func (m *dutyMemo) horizon(at records.Instant) records.Instant {
	next := (at/aheadStep + 1) * aheadStep
	sooner := func(t records.Instant) {
		if t > at && t < next {
			next = t
		}
	}
	for i := m.work.chapters[len(m.work.chapters)-1].windows; i < len(m.work.Windows); i++ { // those before have lapsed
		j := &m.work.Windows[i]
		sooner(j.Opens)
		sooner(j.Due + 1)
		sooner(j.Lapses + 1)
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
