package state

import (
	"hash/maphash"
	"sync"

	"grainward/records"
)

// ids finds positions by id. It only grows, so one table serves every snapshot; a snapshot ignores what is beyond it.
//
// It is an open-addressed table of positions: the id itself is read from the record. A map with the ids as keys takes three
// times the room, and a journal has a million of them.
type ids struct {
	sync.RWMutex
	seed  maphash.Seed
	slots []uint32  // position + 1; 0 is empty. A power of two of them
	taken int       // slots in use
	all   []*Record // every record so far, by position
}

// slotOf is where an id is looked for first. The hash is seeded: whoever sends an entry chooses its id.
func (t *ids) slotOf(id records.EntryID) int {
	return int(maphash.Bytes(t.seed, id[:]) & uint64(len(t.slots)-1))
}

// find is the position of the first entry with an id.
func (t *ids) find(id records.EntryID) (records.Position, bool) {
	if len(t.slots) == 0 {
		return 0, false
	}
	for i := t.slotOf(id); t.slots[i] != 0; i = (i + 1) & (len(t.slots) - 1) {
		if at := t.slots[i] - 1; t.all[at].ID == id {
			return records.Position(at), true
		}
	}
	return 0, false
}

// add takes in a record whose id is not there yet.
func (t *ids) add(r *Record) {
	if 4*(t.taken+1) > 3*len(t.slots) {
		t.grow()
	}
	t.set(r)
	t.taken++
}

func (t *ids) set(r *Record) {
	i := t.slotOf(r.ID)
	for t.slots[i] != 0 {
		i = (i + 1) & (len(t.slots) - 1)
	}
	t.slots[i] = uint32(r.Position) + 1
}

func (t *ids) grow() {
	old := t.slots
	t.slots = make([]uint32, max(64, 2*len(old)))
	for _, at := range old {
		if at != 0 {
			t.set(t.all[at-1])
		}
	}
}
