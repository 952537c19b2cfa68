package state

import (
	"maps"
	"slices"
)

// shelf is timelines by a key. All snapshots share what has not changed: a change after a snapshot copies the list of pointers and
// the one timeline, and only a key that is new the places too. A plant has hundreds of duties, and a batch of sign-offs is about a
// few of them.
type shelf[K comparable] struct {
	places      map[K]int // into lines
	lines       []*line
	epoch       uint64 // in which lines was copied; see State.Snapshot
	placesEpoch uint64
}

// line is a timeline, and the epoch in which it was copied.
type line struct {
	Timeline
	epoch uint64
}

// of is the timeline of a key; an empty one when there is none.
func (s *shelf[K]) of(k K) (t Timeline) {
	if i, ok := s.places[k]; ok {
		t = s.lines[i].Timeline
	}
	return t
}

// own is the timeline of a key, to be changed: no snapshot has it.
func (s *shelf[K]) own(k K, epoch uint64) *Timeline {
	if s.epoch != epoch {
		s.lines, s.epoch = slices.Clone(s.lines), epoch
	}
	i, ok := s.places[k]
	if !ok {
		if s.placesEpoch != epoch {
			s.places, s.placesEpoch = maps.Clone(s.places), epoch
		}
		if s.places == nil {
			s.places = map[K]int{}
		}
		i = len(s.lines)
		s.places[k] = i
		s.lines = append(s.lines, &line{epoch: epoch})
	}
	l := s.lines[i]
	if l.epoch != epoch {
		l = &line{l.Timeline, epoch}
		s.lines[i] = l
	}
	return &l.Timeline
}
