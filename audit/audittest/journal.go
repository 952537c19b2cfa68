package audittest

import (
	"cmp"
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/plan"
)

// record is an entry as it now counts, at the position where it was first written.
type record struct {
	pos records.Position
	records.Entry
}

// stretch is a plan and when it was in force: from from until next, next not included.
type stretch struct {
	from, next records.Instant
	plan       *plan.Plan
}

// duty is one task at one station.
type duty struct {
	task    records.TaskCode
	station records.StationCode
}

type journal struct {
	at      records.Instant
	entries []records.Entry // as first written
	used    []record        // that count and happened by at, in order of (happened, position)
	plans   []stretch       // all, also those adopted after at
	bad     map[records.Position]bool
	byID    map[records.EntryID]int // the first entry with an id
	fixes   map[int][]int           // corrections that change an entry, in order of position
	signed  map[duty][]record       // sign-offs of used by duty, same order
	docs    []record                // document entries of used
	good    map[records.Position]bool
	found   []Expected
}

const never = records.Instant(1<<62 - 1)

func read(entries []records.Entry, at records.Instant) *journal {
	j := &journal{at: at, entries: entries, bad: map[records.Position]bool{}, byID: map[records.EntryID]int{}, fixes: map[int][]int{},
		signed: map[duty][]record{}, good: map[records.Position]bool{}}
	for p, e := range entries {
		if _, taken := j.byID[e.ID]; taken {
			j.bad[records.Position(p)] = true
		} else {
			j.byID[e.ID] = p
		}
	}
	for q, e := range entries {
		if fix, ok := e.Fact.(*records.Correct); ok {
			p, known := j.byID[fix.Target]
			if !known || p >= q || fix.With != nil && fix.With.Kind != j.firstKind(p) {
				j.bad[records.Position(q)] = true
				continue
			}
			j.fixes[p] = append(j.fixes[p], q)
		}
	}
	var counting []record
	for p := range entries {
		if entries[p].Kind == records.KindCorrect {
			// Withdrawn or replaced, that it was made stays on record.
			counting = append(counting, record{records.Position(p), entries[p]})
		} else if e, counts := j.now(p); counts {
			counting = append(counting, record{records.Position(p), e})
		}
	}
	slices.SortFunc(counting, func(a, b record) int { return cmp.Or(cmp.Compare(a.Happened, b.Happened), cmp.Compare(a.pos, b.pos)) })
	for _, r := range counting {
		if adoption, ok := r.Fact.(*records.Adoption); ok {
			p, err := plan.Parse([]byte(adoption.Text))
			if err != nil {
				j.bad[r.pos] = true
			} else {
				j.adopt(r.Happened, p)
			}
		}
		if r.Happened > at {
			continue
		}
		j.used = append(j.used, r)
		switch fact := r.Fact.(type) {
		case *records.Signoff:
			d := duty{fact.Task, fact.Station}
			j.signed[d] = append(j.signed[d], r)
		case *records.Document:
			j.docs = append(j.docs, r)
		}
	}
	for _, list := range j.signed {
		for _, r := range list {
			j.good[r.pos] = j.passes(r)
		}
	}
	return j
}

func (j *journal) adopt(from records.Instant, p *plan.Plan) {
	if n := len(j.plans); n > 0 {
		j.plans[n-1].next = from
	}
	j.plans = append(j.plans, stretch{from, never, p})
}

// now is how the entry at p counts: as the latest of its corrections says that is not itself withdrawn.
func (j *journal) now(p int) (e records.Entry, counts bool) {
	e = j.entries[p]
	for _, q := range slices.Backward(j.fixes[p]) {
		by, counts := j.now(q)
		if !counts {
			continue // the correction was withdrawn: the one before it counts again
		}
		fix := by.Fact.(*records.Correct)
		if fix.Withdraw {
			return e, false
		}
		if first, ok := e.Fact.(*records.Correct); ok {
			// A correction that is replaced keeps its own envelope: only what it puts in place changes.
			e.Fact = &records.Correct{Target: first.Target, Reason: first.Reason, With: fix.With}
			return e, true
		}
		if fix.With.Happened != 0 {
			e.Happened = fix.With.Happened
		}
		if fix.With.By != "" {
			if e.Paper != nil { // who typed it in typed it in; who signed the paper was wrong
				e.Paper = &records.Paper{Whose: fix.With.By, Sheet: e.Paper.Sheet}
			} else {
				e.By = fix.With.By
			}
		}
		e.Fact = fix.With.Fact
		return e, true
	}
	return e, true
}

// firstKind is the kind of the entry first written, at the end of a chain of corrections; "" when the chain leads nowhere.
func (j *journal) firstKind(p int) records.Kind {
	for {
		fix, ok := j.entries[p].Fact.(*records.Correct)
		if !ok {
			return j.entries[p].Kind
		}
		target, known := j.byID[fix.Target]
		if !known || target >= p {
			return ""
		}
		p = target
	}
}

// planAt is the plan in force at an instant, or nil.
func (j *journal) planAt(t records.Instant) *plan.Plan {
	for _, s := range j.plans {
		if s.from <= t && t < s.next {
			return s.plan
		}
	}
	return nil
}

// lead says whether whoever signed an entry was a lead when it happened.
func (j *journal) lead(r record) bool {
	p := j.planAt(r.Happened)
	leads := func(who records.PersonCode) bool {
		return p != nil && p.Person(who) != nil && p.Person(who).Role == "lead"
	}
	return leads(r.By) && (r.Paper == nil || leads(r.Paper.Whose))
}

// didIt is who did the work: a name on a sheet of paper counts, not who copied the sheet.
func didIt(e records.Entry) records.PersonCode {
	if e.Paper == nil {
		return e.By
	}
	return e.Paper.Whose
}

func (j *journal) judgeAssumed() {
	for _, r := range j.used {
		if j.bad[r.pos] {
			j.find("assumed", fmt.Sprintf("%s/%d", r.ID, r.pos), r.Happened, r.pos)
		}
	}
}

// closed says whether the last answer of a lead to a finding closes it.
func (j *journal) closed(id string) (closed bool) {
	for _, r := range j.used {
		a, ok := r.Fact.(*records.Answer)
		if ok && j.lead(r) && (a.Finding == id || !a.Deviation.IsZero() && "deviation:"+a.Deviation.String() == id) {
			closed = a.Closes
		}
	}
	return closed
}
