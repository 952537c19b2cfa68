package state

import (
	"iter"
	"slices"

	"grainward/records"
	"grainward/records/plan"
)

// Size is the number of positions taken.
func (s *State) Size() records.Position { return records.Position(len(s.entries)) }

// Version changes with every entry.
func (s *State) Version() uint64 { return s.version }

// First is the entry at a position as it was first written, or nil.
func (s *State) First(pos records.Position) *Record {
	if pos < 0 || pos >= s.Size() {
		return nil
	}
	return s.entries[pos]
}

// Now is the entry at a position as it counts, or nil when there is none or it is withdrawn.
func (s *State) Now(pos records.Position) *Record {
	if len(s.now) > 0 {
		if r, corrected := s.now[pos]; corrected {
			return r
		}
	}
	return s.First(pos)
}

// Corrections are the positions of the corrections that name the entry at a position, in journal order.
func (s *State) Corrections(pos records.Position) []records.Position { return s.corrections[pos] }

// Root is the position of the entry first written that the one at a position corrects, at however many removes; the
// position itself for an entry that corrects nothing.
func (s *State) Root(pos records.Position) records.Position {
	if s.First(pos) == nil {
		return pos
	}
	return s.root(pos)
}

// Find is the position of an id.
func (s *State) Find(id records.EntryID) (records.Position, bool) {
	s.ids.RLock()
	pos, ok := s.ids.find(id)
	s.ids.RUnlock()
	return pos, ok && pos < s.Size()
}

// Kind is the timeline of one kind.
func (s *State) Kind(k records.Kind) Timeline { return s.kinds.of(k) }

// Goods is the timeline of all entries about goods.
func (s *State) Goods() Timeline { return s.goods }

// Signoffs is the timeline of one duty.
func (s *State) Signoffs(d Duty) Timeline { return s.duties.of(d) }

// Documents is the timeline of the documents of one code.
func (s *State) Documents(code records.DocumentCode) Timeline { return s.documents.of(code) }

// KnownDuties is how many duties were ever signed off; it only grows.
func (s *State) KnownDuties() int { return len(s.duties.lines) }

// Duties are all duties that were ever signed off, in no order.
func (s *State) Duties() iter.Seq2[Duty, Timeline] {
	return func(yield func(Duty, Timeline) bool) {
		for d, i := range s.duties.places {
			if !yield(d, s.duties.lines[i].Timeline) {
				return
			}
		}
	}
}

// Plans are the plans in the order in which they came into force. It is not to be changed.
func (s *State) Plans() []InForce { return s.plans }

// PlanAt is the plan in force at an instant, or nil when none was yet.
func (s *State) PlanAt(at records.Instant) *plan.Plan {
	i, _ := slices.BinarySearchFunc(s.plans, at, func(p InForce, at records.Instant) int {
		if p.From <= at {
			return -1
		}
		return 1
	})
	if i == 0 {
		return nil
	}
	return s.plans[i-1].Plan
}

// Oddities is what the fold had to assume, in order of position.
func (s *State) Oddities() []Oddity { return s.oddities }

// AsKnown is the state as it was known at an instant: of the entries recorded by then, at their positions.
func (s *State) AsKnown(at records.Instant) *State {
	return s.fold(func(r *Record) bool { return r.Recorded <= at })
}

// Prefix is the state as it was when the journal held n entries.
func (s *State) Prefix(n records.Position) *State {
	return s.fold(func(r *Record) bool { return r.Position < n })
}

func (s *State) fold(keep func(*Record) bool) *State {
	old := New()
	for _, r := range s.entries {
		if r != nil && keep(r) {
			old.Apply(r.Position, r.Entry)
		}
	}
	return old
}
