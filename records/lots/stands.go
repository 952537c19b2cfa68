package lots

import (
	"iter"
	"slices"

	"grainward/records"
)

// Stands is what of a lot stands where. That is mostly one place and hardly ever more than a few, so a list is smaller and quicker
// than a map.
type Stands []stand

type stand struct {
	place Place
	mass  records.Micrograms // not zero
}

func (s Stands) find(p Place) int {
	return slices.IndexFunc(s, func(x stand) bool { return x.place == p })
}

// Of is what stands at a place; zero when nothing does.
func (s Stands) Of(p Place) records.Micrograms {
	if i := s.find(p); i >= 0 {
		return s[i].mass
	}
	return 0
}

// All are the places at which something stands, and what does.
func (s Stands) All() iter.Seq2[Place, records.Micrograms] {
	return func(yield func(Place, records.Micrograms) bool) {
		for i := range s {
			if !yield(s[i].place, s[i].mass) {
				return
			}
		}
	}
}

// Places are those at which something stands.
func (s Stands) Places() iter.Seq[Place] {
	return func(yield func(Place) bool) {
		for i := range s {
			if !yield(s[i].place) {
				return
			}
		}
	}
}

// put says what stands at a place from now on, and gives what stood there before.
func (s *Stands) put(p Place, m records.Micrograms) (was records.Micrograms) {
	i := s.find(p)
	switch {
	case i >= 0 && m == 0:
		was = (*s)[i].mass
		*s = slices.Delete(*s, i, i+1)
	case i >= 0:
		was, (*s)[i].mass = (*s)[i].mass, m
	case m != 0:
		*s = append(*s, stand{p, m})
	}
	return was
}
