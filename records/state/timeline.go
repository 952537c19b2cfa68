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
// Most records happen last and are put at the end of one long list, which all snapshots share. One that happened a little
// before the last would shift what snapshots see, and copying the whole list for it once a batch costs the more the longer
// the journal is. So the end of a long list, from that record's place on, becomes a short list of its own (late), which
// is copied instead; it goes back into the long one when it has grown.
type Timeline struct {
	base    []*Record // never changed in place below its length; its spare room belongs to the newest state
	late    []*Record // what comes after base; empty while records come in the order in which they happened
	joined  *joined   // base and late as one list, made when first asked for; nil while late is empty
	version uint64
	epoch   uint64 // in which the part that is changed in place (late, or a base without one) was copied; see State.edit
}

// lateMost bounds the late part. A base that is shorter is copied whole: that costs no more. A variable, so that tests can
// make short lists long.
var lateMost = 4096

// joined is the one list of a timeline in two parts. Snapshots that hold the same parts share it.
type joined struct{ all atomic.Pointer[[]*Record] }

func (j *joined) of(base, late []*Record) []*Record {
	if j.all.Load() == nil {
		all := slices.Concat(base, late)
		j.all.CompareAndSwap(nil, &all) // else another reader was quicker, and all readers have one list
	}
	return *j.all.Load()
}

// Version differs between two timelines of one journal with different contents. 0 is the empty timeline.
func (t Timeline) Version() uint64 { return t.version }

// Len is the number of records.
func (t Timeline) Len() int { return len(t.base) + len(t.late) }

// All is every record; the caller must not change the slice.
func (t Timeline) All() []*Record {
	if len(t.late) == 0 {
		return t.base
	}
	return t.joined.of(t.base, t.late)
}

// First is the earliest record, or nil.
func (t Timeline) First() *Record {
	if t.Len() == 0 {
		return nil
	}
	return t.at(0)
}

// Until is the records that happened at or before an instant.
func (t Timeline) Until(at records.Instant) []*Record { return t.cut(0, t.after(at)) }

// Between is the records that happened from one instant to another, both included.
func (t Timeline) Between(from, to records.Instant) []*Record {
	if to < from {
		return nil
	}
	return t.cut(t.after(from-1), t.after(to))
}

// Last is the latest record at or before an instant, or nil.
func (t Timeline) Last(at records.Instant) *Record {
	if n := t.after(at); n > 0 {
		return t.at(n - 1)
	}
	return nil
}

// at is the record at a place.
func (t Timeline) at(i int) *Record {
	if i < len(t.base) {
		return t.base[i]
	}
	return t.late[i-len(t.base)]
}

// cut is the records from one place to another. Only a stretch that lies in both parts makes one list of them.
func (t Timeline) cut(from, to int) []*Record {
	n := len(t.base)
	switch {
	case to <= n:
		return t.base[from:to]
	case from >= n:
		return t.late[from-n : to-n]
	}
	return t.All()[from:to]
}

// after is the number of records with Happened <= at.
func (t Timeline) after(at records.Instant) int {
	if n := t.Len(); n == 0 || t.at(n-1).Happened <= at {
		return n // asking about now is the common case
	}
	by := func(r *Record, at records.Instant) int {
		if r.Happened <= at {
			return -1
		}
		return 1
	}
	n, _ := slices.BinarySearchFunc(t.base, at, by)
	if n == len(t.base) {
		late, _ := slices.BinarySearchFunc(t.late, at, by)
		n += late
	}
	return n
}

// insert puts a record in its place.
func (t *Timeline) insert(r *Record, epoch, version uint64) {
	t.version = version
	t.rejoin()
	i, _ := t.find(r)
	switch {
	case i < t.Len():
		t.part(i, epoch)
		if n := len(t.base); i >= n {
			t.late = slices.Insert(t.late, i-n, r)
		} else {
			t.base = slices.Insert(t.base, i, r)
		}
	case len(t.late) == 0:
		t.base = append(t.base, r)
		return
	default:
		t.late, t.joined = append(t.late, r), new(joined)
	}
	if len(t.late) > lateMost {
		t.base, t.late, t.joined = append(t.base, t.late...), nil, nil // base has no spare room: this is a copy
		t.epoch = epoch
	}
}

// remove takes a record out.
func (t *Timeline) remove(r *Record, epoch, version uint64) {
	t.rejoin()
	i, found := t.find(r)
	if !found {
		return
	}
	t.version = version
	t.part(i, epoch)
	if n := len(t.base); i < n {
		t.base = slices.Delete(t.base, i, i+1)
	} else if t.late = slices.Delete(t.late, i-n, i-n+1); len(t.late) == 0 {
		t.joined, t.epoch = nil, 0 // base is no copy of ours
	}
}

// find is the place of a record, or the place it would have.
func (t *Timeline) find(r *Record) (int, bool) {
	n := len(t.base)
	switch {
	case len(t.late) > 0 && order(t.late[0], r) <= 0:
		if order(t.late[len(t.late)-1], r) < 0 {
			return t.Len(), false
		}
		i, found := slices.BinarySearchFunc(t.late, r, order)
		return n + i, found
	case n == 0 || order(t.base[n-1], r) < 0:
		return n, false
	}
	return slices.BinarySearchFunc(t.base, r, order)
}

// rejoin takes the one list that a reader made of both parts for the base.
func (t *Timeline) rejoin() {
	if t.joined == nil {
		return
	}
	if all := t.joined.all.Load(); all != nil {
		t.base, t.late, t.joined, t.epoch = *all, nil, nil, 0
	}
}

// part readies the part that has a place for a change, so that a reader's view never moves under it. It copies once after each
// snapshot: the late part, which begins or reaches further back with a place that is not far from it; everything, to one
// list again, when the place is far back or all is short.
func (t *Timeline) part(i int, epoch uint64) {
	n, ours := len(t.base), t.epoch == epoch
	switch {
	case len(t.late) > 0 && i >= n:
		if !ours {
			t.late = slices.Clone(t.late)
		}
	case len(t.late) == 0 && ours:
	case n > lateMost && n-i+len(t.late) <= lateMost:
		t.base, t.late = t.base[:i:i], slices.Concat(t.base[i:], t.late)
	default:
		t.base, t.late = slices.Concat(t.base, t.late), nil
	}
	t.joined, t.epoch = nil, epoch
	if len(t.late) > 0 {
		t.joined = new(joined)
	}
}

// Common is how many records two lists begin with that are the same ones.
func Common(a, b []*Record) (n int) {
	if len(a) > 0 && len(b) > 0 && &a[0] == &b[0] {
		return min(len(a), len(b)) // a timeline that grew at its end
	}
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}
