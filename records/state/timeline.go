package state

import (
	"cmp"
	"slices"

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
type Timeline struct {
	records []*Record
	version uint64
	epoch   uint64 // of the last copy; see State.edit
}

// Version differs between two timelines of one journal with different contents. 0 is the empty timeline.
func (t Timeline) Version() uint64 { return t.version }

// Len is the number of records.
func (t Timeline) Len() int { return len(t.records) }

// All is every record; the caller must not change the slice.
func (t Timeline) All() []*Record { return t.records }

// Until is the records that happened at or before an instant.
func (t Timeline) Until(at records.Instant) []*Record {
	return t.records[:t.after(at)]
}

// Between is the records that happened from one instant to another, both included.
func (t Timeline) Between(from, to records.Instant) []*Record {
	if to < from {
		return nil
	}
	return t.records[t.after(from-1):t.after(to)]
}

// Last is the latest record at or before an instant, or nil.
func (t Timeline) Last(at records.Instant) *Record {
	if n := t.after(at); n > 0 {
		return t.records[n-1]
	}
	return nil
}

// after is the number of records with Happened <= at.
func (t Timeline) after(at records.Instant) int {
	if n := len(t.records); n == 0 || t.records[n-1].Happened <= at {
		return n // asking about now is the common case
	}
	n, _ := slices.BinarySearchFunc(t.records, at, func(r *Record, at records.Instant) int {
		if r.Happened <= at {
			return -1
		}
		return 1
	})
	return n
}

// insert puts a record in its place.
func (t *Timeline) insert(r *Record, epoch, version uint64) {
	t.version = version
	if n := len(t.records); n == 0 || order(t.records[n-1], r) < 0 {
		t.records = append(t.records, r)
		return
	}
	t.own(epoch)
	i, _ := slices.BinarySearchFunc(t.records, r, order)
	t.records = slices.Insert(t.records, i, r)
}

// remove takes a record out.
func (t *Timeline) remove(r *Record, epoch, version uint64) {
	i, found := slices.BinarySearchFunc(t.records, r, order)
	if !found {
		return
	}
	t.own(epoch)
	t.version = version
	t.records = slices.Delete(t.records, i, i+1)
}

// own copies the records once after each snapshot, so that a reader's view never moves under it.
func (t *Timeline) own(epoch uint64) {
	if t.epoch != epoch {
		t.records = slices.Clone(t.records)
		t.epoch = epoch
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
