package state

import (
	"slices"

	"grainward/records"
)

// correct lets a correction take effect: the entry at the root of its chain is taken out of the timelines and put
// back as it now counts.
func (s *State) correct(r *Record, fact *records.Correct) {
	target, ok := s.Find(fact.Target)
	switch {
	case !ok || target >= r.Position:
		s.assume(r, "it corrects an entry that was not in the journal before it, so it changes nothing")
		return
	case fact.With != nil && fact.With.Kind != s.entries[s.root(target)].Kind:
		s.assume(r, "it replaces an entry by one of another kind, so it changes nothing")
		return
	}
	s.editCorrected()
	s.corrections[target] = append(slices.Clone(s.corrections[target]), r.Position)

	root := s.root(target)
	if s.entries[root].Kind == records.KindCorrect {
		return // the chain ends in a correction that changed nothing; corrections themselves always stay on their timeline
	}
	if before := s.Now(root); before != nil {
		s.displace(before)
	}
	after := s.resolve(root)
	s.now[root] = after
	if after != nil {
		s.place(after)
	}
}

// root is the entry first written that a position corrects, at however many removes; itself for an entry that is no
// correction. Targets always lie earlier, so it ends.
func (s *State) root(pos records.Position) records.Position {
	for {
		fact, ok := s.entries[pos].Fact.(*records.Correct)
		if !ok {
			return pos
		}
		target, ok := s.Find(fact.Target)
		if !ok || target >= pos {
			return pos
		}
		pos = target
	}
}

// resolve computes the entry at a root as it counts; nil when it is withdrawn.
func (s *State) resolve(root records.Position) *Record {
	first := s.entries[root]
	by, fact := s.standing(root)
	switch {
	case fact == nil:
		return first
	case fact.Withdraw:
		return nil
	}
	r := &Record{Position: root, Entry: first.Entry, Corrected: &Correction{First: first.Entry, By: by}}
	r.Fact = fact.With.Fact
	if fact.With.Happened != 0 {
		r.Happened = fact.With.Happened
	}
	if fact.With.By != "" {
		r.did(fact.With.By)
	}
	return r
}

// did puts right who did the work: on the sheet of paper when it was typed in from one, as whoever typed it stays the same.
func (r *Record) did(who records.PersonCode) {
	if r.Paper == nil {
		r.By = who
		return
	}
	r.Paper = &records.Paper{Whose: who, Sheet: r.Paper.Sheet} // the entry first written keeps its own
}

// standing is the correction of an entry that counts: the latest that was not itself withdrawn, with what a
// correction of it put in its place.
func (s *State) standing(pos records.Position) (by records.Position, fact *records.Correct) {
	all := s.corrections[pos]
	for i := len(all) - 1; i >= 0; i-- {
		c := s.entries[all[i]].Fact.(*records.Correct)
		inner, over := s.standing(all[i])
		switch {
		case over == nil:
			return all[i], c
		case over.Withdraw:
			continue
		}
		return inner, &records.Correct{Target: c.Target, Reason: over.Reason, With: over.With}
	}
	return 0, nil
}
