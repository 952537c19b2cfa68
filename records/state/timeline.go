package state

import (
	"cmp"
	"slices"
	"sync/atomic"

	"grainward/records"
)

// Record is one entry as it now counts.
type Record struct {
	Position records.Position // of the entry first written
	records.Entry
	Corrected *Correction // nil for the great majority, which was never corrected
}

// Correction says how a record came to differ from what was first written.
type Correction struct {
	First records.Entry    // as first written
	By    records.Position // of the correction that counts
}

// order sorts by the time of the work, then by position: two sign-offs of the same millisecond keep the order in which
// the journal took them.
func order(a, b *Record) int {
	if c := cmp.Compare(a.Happened, b.Happened); c != 0 {
		return c
	}
	return cmp.Compare(a.Position, b.Position)
}

// Timeline is records in the order in which they happened.
//
// Most records happen last and are put at the end of one list, which all snapshots share. Putting one in between, or taking one
// out, would move what snapshots see, and copying a long list for it, once a batch, costs the more the longer the journal
// is. So a long list stays as it is, and two short ones beside it, which are copied instead, say what belongs in between and
// what no longer counts. Whoever asks for a stretch gets one list; the three become one again when somebody has asked for all, or
// when they have grown. While a journal is opened nobody has a snapshot, and what comes a little late is put into the list itself.
type Timeline struct {
	base    []*Record // never changed in place below its length; its spare room belongs to the newest state
	added   []*Record // in order; what else there is
	removed []*Record // in order; what of base is not
	joined  *joined   // the one list, made when first asked for; nil while base is all
	version uint64
	whole   uint64 // the epoch in which base was made or copied, so that no snapshot has it; see State.edit
	epoch   uint64 // the one in which added and removed were
}

// besideMost is how many records may lie beside a base. One that is no longer than this is copied itself: that costs no more. A
// variable, so that tests can make short lists long.
var besideMost = 2048

// joined is the one list of a timeline in parts. Snapshots that hold the same parts share it; after each snapshot a change begins
// another.
type joined struct {
	all   atomic.Pointer[[]*Record]
	epoch uint64
}

// Version differs between two timelines of one journal with different contents. 0 is the empty timeline.
func (t Timeline) Version() uint64 { return t.version }

// Len is the number of records.
func (t Timeline) Len() int { return len(t.base) + len(t.added) - len(t.removed) }

// All is every record; the caller must not change the slice.
func (t Timeline) All() []*Record {
	if t.joined == nil {
		return t.base
	}
	if t.joined.all.Load() == nil {
		all := merged(t.base, t.added, t.removed)
		t.joined.all.CompareAndSwap(nil, &all) // else another reader was quicker, and all readers have one list
	}
	return *t.joined.all.Load()
}

// merged is base with added and without removed, as a list of its own.
func merged(base, added, removed []*Record) []*Record {
	out := make([]*Record, 0, len(base)+len(added)-len(removed))
	for len(added)+len(removed) > 0 {
		if len(removed) == 0 || len(added) > 0 && order(added[0], removed[0]) < 0 {
			i, _ := slices.BinarySearchFunc(base, added[0], order)
			out, base, added = append(append(out, base[:i]...), added[0]), base[i:], added[1:]
			continue
		}
		i, _ := slices.BinarySearchFunc(base, removed[0], order) // always there
		out, base, removed = append(out, base[:i]...), base[i+1:], removed[1:]
	}
	return append(out, base...)
}

// First is the earliest record, or nil.
func (t Timeline) First() *Record {
	n := 0
	for n < len(t.removed) && t.base[n] == t.removed[n] {
		n++
	}
	switch {
	case len(t.added) > 0 && (n == len(t.base) || order(t.added[0], t.base[n]) < 0):
		return t.added[0]
	case n < len(t.base):
		return t.base[n]
	}
	return nil
}

// Until is the records that happened at or before an instant.
func (t Timeline) Until(at records.Instant) []*Record { return t.cut(place{}, t.after(at)) }

// Between is the records that happened from one instant to another, both included.
func (t Timeline) Between(from, to records.Instant) []*Record {
	if to < from {
		return nil
	}
	return t.cut(t.after(from-1), t.after(to))
}

// Last is the latest record at or before an instant, or nil.
func (t Timeline) Last(at records.Instant) *Record {
	p := t.after(at)
	for p.removed > 0 && t.base[p.base-1] == t.removed[p.removed-1] {
		p.base, p.removed = p.base-1, p.removed-1
	}
	switch {
	case p.added > 0 && (p.base == 0 || order(t.base[p.base-1], t.added[p.added-1]) < 0):
		return t.added[p.added-1]
	case p.base > 0:
		return t.base[p.base-1]
	}
	return nil
}

// place is how many of each part come before an instant.
type place struct{ base, added, removed int }

// after is the place behind the records with Happened <= at.
func (t Timeline) after(at records.Instant) place {
	return place{passed(t.base, at), passed(t.added, at), passed(t.removed, at)}
}

func passed(list []*Record, at records.Instant) int {
	if n := len(list); n == 0 || list[n-1].Happened <= at {
		return n // asking about now is the common case
	}
	n, _ := slices.BinarySearchFunc(list, at, func(r *Record, at records.Instant) int {
		if r.Happened <= at {
			return -1
		}
		return 1
	})
	return n
}

// cut is the records from one place to another. Where nothing lies beside them they are a stretch of base, and a short stretch is
// a list of its own; only for a long one are all made one list.
func (t Timeline) cut(from, to place) []*Record {
	base, added, removed := t.base[from.base:to.base], t.added[from.added:to.added], t.removed[from.removed:to.removed]
	switch {
	case len(added)+len(removed) == 0:
		return base
	case len(base) <= len(t.base)/8 && t.joined.all.Load() == nil:
		return merged(base, added, removed)
	}
	n := from.base + from.added - from.removed
	return t.All()[n : n+len(base)+len(added)-len(removed)]
}

// insert puts a record in its place.
func (t *Timeline) insert(r *Record, epoch, version uint64) {
	t.version = version
	t.rejoin()
	n := len(t.base)
	if n == 0 {
		t.whole = epoch
	}
	i, taken := n, false
	if n > 0 && order(t.base[n-1], r) >= 0 {
		i, taken = slices.BinarySearchFunc(t.base, r, order)
	}
	switch {
	case i == n || t.short(epoch) || t.whole == epoch && n-i <= besideMost && !taken: // at the end, or where nobody sees it move
		t.base = slices.Insert(t.base, i, r)
		if t.joined != nil {
			t.joined = t.joined.in(epoch)
		}
	default:
		t.own(epoch)
		if i, ok := slices.BinarySearchFunc(t.removed, r, order); ok && t.removed[i] == r {
			t.removed = slices.Delete(t.removed, i, i+1) // as it was first written counts again
		} else {
			t.added = put(t.added, r)
		}
		t.settle(epoch)
	}
}

// remove takes a record out.
func (t *Timeline) remove(r *Record, epoch, version uint64) {
	t.rejoin()
	i, inBase := slices.BinarySearchFunc(t.base, r, order)
	k, beside := slices.BinarySearchFunc(t.added, r, order)
	if !inBase && !beside {
		return
	}
	t.version = version
	switch {
	case t.short(epoch):
		t.base = slices.Delete(t.base, i, i+1)
	case beside:
		t.own(epoch)
		t.added = slices.Delete(t.added, k, k+1)
		t.settle(epoch)
	default:
		t.own(epoch)
		t.removed = put(t.removed, r)
		t.settle(epoch)
	}
}

func put(list []*Record, r *Record) []*Record {
	i, _ := slices.BinarySearchFunc(list, r, order)
	return slices.Insert(list, i, r)
}

// short says that base is all and short enough to be changed in place, and copies it once after each snapshot, so that a reader's
// view never moves under it.
func (t *Timeline) short(epoch uint64) bool {
	if t.joined != nil || len(t.base) > besideMost {
		return false
	}
	if t.whole != epoch {
		t.base, t.whole = slices.Clone(t.base), epoch
	}
	return true
}

// own does that for what lies beside base.
func (t *Timeline) own(epoch uint64) {
	if t.joined == nil || t.epoch != epoch {
		t.added, t.removed, t.epoch = slices.Clone(t.added), slices.Clone(t.removed), epoch
	}
	t.joined = t.joined.in(epoch)
}

// in is j when it is of the epoch; what a reader made of it since is gone by then (rejoin).
func (j *joined) in(epoch uint64) *joined {
	if j != nil && j.epoch == epoch {
		return j
	}
	return &joined{epoch: epoch}
}

// settle makes one list of the parts when much, or nothing, lies beside base.
func (t *Timeline) settle(epoch uint64) {
	switch n := len(t.added) + len(t.removed); {
	case n > besideMost:
		t.base, t.whole = merged(t.base, t.added, t.removed), epoch
		fallthrough
	case n == 0:
		t.added, t.removed, t.joined, t.epoch = nil, nil, nil, 0
	}
}

// rejoin takes the one list that a reader made for the base.
func (t *Timeline) rejoin() {
	if t.joined == nil {
		return
	}
	if all := t.joined.all.Load(); all != nil {
		t.base, t.added, t.removed, t.joined, t.whole, t.epoch = *all, nil, nil, nil, 0, 0
	}
}

// Common is how many things two lists begin with that are the same.
func Common[T comparable](a, b []T) (n int) {
	if len(a) > 0 && len(b) > 0 && &a[0] == &b[0] {
		return min(len(a), len(b)) // it grew at its end
	}
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}
