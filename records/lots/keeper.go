package lots

import (
	"slices"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// Keeper folds the goods of one journal again and again as it grows, and goes on from what it has folded: from the end, when an
// entry happened after everything known, and else from the last mark before it. Its floors are those of Fold, which a property
// test holds it to. It may be used by one goroutine at a time; its floors by any number.
type Keeper struct {
	events    []*state.Record // as last folded
	cleanOuts []CleanOut
	plans     []state.InForce
	marks     []*mark
	turns     turn
	last      *Floor
}

// mark is a fold that can be gone on from: everything up to some entry, before the clean-outs that came after it.
type mark struct {
	folder    *folder
	n         int  // events that were applied
	cleanOuts int  // that were taken
	heir      bool // a fold went on from it
}

// At is the floor at a moment. The clean-outs are those that passed, in order of To.
func (k *Keeper) At(st *state.State, at records.Instant, cleanOuts []CleanOut) *Floor {
	events := st.Goods().Until(at)
	cleanOuts = cleanOuts[:endedBy(cleanOuts, at)]
	if k.last != nil && sameList(k.events, events) && sameList(k.cleanOuts, cleanOuts) && samePlans(k.plans, st.Plans(), Forever) {
		f := *k.last // the same floor, seen at another moment
		f.At = at
		return &f
	}
	same := k.forget(st, events, cleanOuts)
	k.events, k.cleanOuts, k.plans = events, cleanOuts, st.Plans()
	f := k.goOn(st, same)
	if n := k.marks[len(k.marks)-1].cleanOuts; len(f.due) > 0 || n < len(cleanOuts) {
		f = f.next(st, k.turn(), false)
		f.finish(cleanOuts[n:], at)
	}
	floor := *f.Floor
	floor.At = at
	k.last = &floor
	return k.last
}

// Earlier is the floor at a moment that is not after the one folded last: what is returned folds it, from the last mark before it. The keeper
// goes on as if nobody had asked, and may do so meanwhile.
func (k *Keeper) Earlier(st *state.State, at records.Instant) (fold func() *Floor) {
	n, _ := slices.BinarySearchFunc(k.events, at, func(r *state.Record, at records.Instant) int {
		if r.Happened <= at {
			return -1
		}
		return 1
	})
	c := endedBy(k.cleanOuts, at)
	events, cleanOuts := k.events[:n], k.cleanOuts[:c]
	from := &mark{folder: newFolder(st)}
	from.folder.turn = k.turn()
	for _, m := range slices.Backward(k.marks) {
		if m.n <= n { // then the clean-outs in it had ended too
			from = &mark{folder: m.folder.next(st, k.turn(), false), n: m.n, cleanOuts: m.cleanOuts}
			break
		}
	}
	return func() *Floor {
		f := from.folder
		f.finish(f.take(events[from.n:], cleanOuts[from.cleanOuts:]), at)
		f.At = at
		return f.Floor
	}
}

// endedBy is how many clean-outs had ended by a moment.
func endedBy(cleanOuts []CleanOut, at records.Instant) int {
	n, _ := slices.BinarySearchFunc(cleanOuts, at, func(c CleanOut, at records.Instant) int {
		if c.To <= at {
			return -1
		}
		return 1
	})
	return n
}

func (k *Keeper) turn() turn {
	k.turns++
	return k.turns
}

// forget drops the marks that do not agree with what is known now, and says up to where the entries are the same.
func (k *Keeper) forget(st *state.State, events []*state.Record, cleanOuts []CleanOut) (same int) {
	same, cleaned := state.Common(k.events, events), state.Common(k.cleanOuts, cleanOuts)
	k.marks = slices.DeleteFunc(k.marks, func(m *mark) bool {
		if m.n == 0 {
			return true
		}
		if m.n > same || m.cleanOuts > cleaned {
			return true
		}
		by := events[m.n-1].Happened
		return m.cleanOuts < len(cleanOuts) && cleanOuts[m.cleanOuts].To <= by || !samePlans(k.plans, st.Plans(), by)
	})
	return same
}

// goOn folds what comes after the last mark. Of a long stretch, marks are left on the way, the closer the nearer to its end:
// what comes in late has mostly happened a little while ago. One is left where the entries begin to be others than before: a device
// that sends late has more to send of the same time.
func (k *Keeper) goOn(st *state.State, same int) *folder {
	at := &mark{folder: newFolder(st), heir: true}
	at.folder.turn = k.turn()
	if len(k.marks) > 0 {
		at = k.marks[len(k.marks)-1]
		if at.n == len(k.events) {
			return at.folder
		}
		at = k.from(at, st)
	}
	for at.n < len(k.events) {
		to := len(k.events)
		for behind := 16; len(k.events)-behind > at.n; behind *= 32 {
			to = len(k.events) - behind
		}
		if at.n < same {
			to = min(to, same)
		}
		left := at.folder.take(k.events[at.n:to], k.cleanOuts[at.cleanOuts:])
		at.n, at.cleanOuts = to, len(k.cleanOuts)-len(left)
		k.leave(at)
		if to < len(k.events) {
			at = k.from(at, st)
		}
	}
	if len(k.marks) == 0 {
		k.leave(at)
	}
	return at.folder
}

// from is the work that goes on from a mark.
func (k *Keeper) from(m *mark, st *state.State) *mark {
	n := &mark{folder: m.folder.next(st, k.turn(), !m.heir), n: m.n, cleanOuts: m.cleanOuts}
	m.heir = true
	return n
}

// leave keeps a mark, and gives up those that have others close by for their age.
func (k *Keeper) leave(m *mark) {
	m.heir = false
	k.marks = append(k.marks, m)
	for i := len(k.marks) - 2; i > 0; i-- {
		if gap, age := k.marks[i+1].n-k.marks[i-1].n, m.n-k.marks[i+1].n; gap <= age/2 {
			k.marks = slices.Delete(k.marks, i, i+1)
		}
	}
}

func sameList[T comparable](a, b []T) bool { return len(a) == len(b) && state.Common(a, b) == len(a) }

// samePlans says whether the same plans were in force up to a moment.
func samePlans(a, b []state.InForce, by records.Instant) bool {
	until := func(all []state.InForce) []*plan.Plan {
		var out []*plan.Plan
		for _, p := range all {
			if p.From <= by {
				out = append(out, p.Plan)
			}
		}
		return out
	}
	return slices.Equal(until(a), until(b)) && slices.EqualFunc(a[:min(len(a), len(until(a)))], b[:min(len(b), len(until(b)))], func(x, y state.InForce) bool { return x.From == y.From })
}
