package lots

import (
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// station finds a station as the plan in force at a record holds it.
func (f *folder) station(r *state.Record, code records.StationCode) *Station {
	s := f.ownStation(code)
	if p := f.st.PlanAt(r.Happened); p != nil && p != s.plan {
		s.plan = p
		if row := p.Station(code); row != nil {
			f.holds(r, s, row.Holds == "mixed")
		}
	}
	return s
}

// holds says how a station holds goods from a record on. When a plan no longer mixes there, residents of which nothing is
// left by computation can no longer be told of, and are taken to have left.
func (f *folder) holds(r *state.Record, s *Station, mixed bool) {
	if s.Mixed && !mixed {
		s.Residents = slices.DeleteFunc(s.Residents, func(i int) bool {
			gone := f.Lots[i].At.Of(Place{Station: s.Code}) == 0
			if gone {
				f.leave(r, s, i, r.Happened)
			}
			return gone
		})
	}
	if mixed && !s.Mixed {
		s.filling++
		for _, i := range s.Residents {
			f.reside(s, i)
		}
	}
	s.Mixed = mixed
}

// reside notes that a lot is a resident of a mixed station, and says whether it was not.
func (f *folder) reside(s *Station, lot int) bool {
	l := f.Lots[lot]
	k := slices.IndexFunc(l.resides, func(r residence) bool { return r.at == s.Code })
	if k >= 0 && l.resides[k].filling == s.filling {
		return false
	}
	l = f.own(lot)
	if k < 0 {
		l.resides = append(l.resides, residence{s.Code, s.filling})
	} else {
		l.resides[k].filling = s.filling
	}
	return true
}

// here are the lots computed to be at a station, in order of arrival there.
func (f *folder) here(at Place) (out []int) {
	if s := f.Stations[at.Station]; s != nil {
		for _, i := range s.Residents {
			if f.Lots[i].At.Of(at) != 0 {
				out = append(out, i)
			}
		}
	}
	return out
}

func (f *folder) masses(lots []int, at Place) []records.Micrograms {
	out := make([]records.Micrograms, len(lots))
	for k, i := range lots {
		out[k] = f.Lots[i].At.Of(at)
	}
	return out
}

// put adds mass of a lot to what is at a station. Of a share of nothing, out of a mixed station, there is nothing to
// stay: it passes, and in a mixed station becomes a resident, so that a trace does not lose it.
func (f *folder) put(r *state.Record, lot int, at Place, m records.Micrograms) {
	if m != 0 {
		f.set(r, lot, at, f.Lots[lot].At.Of(at)+m)
		return
	}
	s := f.station(r, at.Station)
	if _, there := s.open[lot]; !there {
		f.touch(r, s.Code, lot, r.Happened, false)
	}
	if s.Mixed && f.reside(s, lot) {
		s.Residents = append(s.Residents, lot)
	}
}

// set writes what of a lot is at a place. A stay at a station begins when there is something, and ends when nothing is
// left.
func (f *folder) set(r *state.Record, lot int, at Place, m records.Micrograms) {
	var s *Station
	if at.ours() {
		s = f.station(r, at.Station) // first: a new plan looks at what was there
	}
	l := f.own(lot)
	was := l.At.put(at, m)
	switch {
	case s == nil:
	case was == 0 && m != 0:
		s.standing++
		f.arrive(r, s, lot)
	case was != 0 && m == 0:
		s.standing--
		f.depart(r, s, lot)
	}
}

func (f *folder) arrive(r *state.Record, s *Station, lot int) {
	if !s.Mixed || f.reside(s, lot) {
		s.Residents = append(s.Residents, lot)
	}
	if _, there := s.open[lot]; !there {
		s.open[lot] = f.Contacts[s.Code].Len()
		f.own(lot).Here++
		f.changeContacts(s.Code, func(cs *Contacts) {
			cs.append(Contact{Lot: lot, From: r.Happened, To: Forever, Began: r}, f.turn)
		})
	}
}

func (f *folder) depart(r *state.Record, s *Station, lot int) {
	if !s.Mixed {
		f.leave(r, s, lot, r.Happened)
		s.Residents = slices.DeleteFunc(s.Residents, func(i int) bool { return i == lot })
		return
	}
	// In a mixed station all leave together, when nothing of any is left; they stay residents until that is proven.
	if s.standing == 0 {
		for _, i := range s.Residents {
			f.leave(r, s, i, r.Happened)
		}
	}
}

func (f *folder) leave(r *state.Record, s *Station, lot int, at records.Instant) {
	k, ok := s.open[lot]
	if !ok {
		return
	}
	f.changeContacts(s.Code, func(cs *Contacts) { cs.end(k, at, r, f.turn) })
	delete(s.open, lot)
	l := f.own(lot)
	l.Here, l.Left = l.Here-1, max(l.Left, at)
}

// pass notes that a lot ran through stations at the instant of a record.
func (f *folder) pass(r *state.Record, via []records.StationCode, purge bool, lot int) {
	for _, s := range via {
		f.touch(r, s, lot, r.Happened, purge)
	}
}

// touch notes a contact from an instant to that of the record. Contacts are in order of From, and such a one may have begun before
// others that are known.
func (f *folder) touch(r *state.Record, station records.StationCode, lot int, from records.Instant, purge bool) {
	l := f.own(lot)
	l.Since, l.Left = min(l.Since, from), max(l.Left, r.Happened)
	c := Contact{Lot: lot, From: from, To: r.Happened, Began: r, Ended: r, Purge: purge}
	cs := f.Contacts[station]
	n := cs.Len()
	at := n
	if n > 0 && cs.At(n-1).From > from {
		at = cs.Begun(from + 1)
	}
	f.changeContacts(station, func(cs *Contacts) { cs.insert(at, c, f.turn) })
	if at == n {
		return
	}
	if s := f.ownStation(station); len(s.open) > 0 {
		for lot, k := range s.open {
			if k >= at {
				s.open[lot] = k + 1
			}
		}
	}
}
