package lots

import (
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// station finds a station as the plan in force at a record holds it.
func (f *folder) station(r *state.Record, code records.StationCode) *Station {
	s := f.Stations[code]
	if s == nil {
		s = &Station{Code: code}
		f.Stations[code] = s
	}
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
			gone := f.Lots[i].At[Place{Station: s.Code}] == 0
			if gone {
				f.leave(r, s.Code, i, r.Happened)
			}
			return gone
		})
	}
	s.Mixed = mixed
}

// here are the lots computed to be at a station, in order of arrival there.
func (f *folder) here(at Place) (out []int) {
	if s := f.Stations[at.Station]; s != nil {
		for _, i := range s.Residents {
			if f.Lots[i].At[at] != 0 {
				out = append(out, i)
			}
		}
	}
	return out
}

func (f *folder) masses(lots []int, at Place) []records.Micrograms {
	out := make([]records.Micrograms, len(lots))
	for k, i := range lots {
		out[k] = f.Lots[i].At[at]
	}
	return out
}

// put adds mass of a lot to what is at a station. Of a share of nothing, out of a mixed station, there is nothing to
// stay: it passes, and in a mixed station becomes a resident, so that a trace does not lose it.
func (f *folder) put(r *state.Record, lot int, at Place, m records.Micrograms) {
	if m != 0 {
		f.set(r, lot, at, f.Lots[lot].At[at]+m)
		return
	}
	s := f.station(r, at.Station)
	if _, there := f.open[contactKey{s.Code, lot}]; !there {
		f.touch(r, s.Code, lot, r.Happened, false)
	}
	if s.Mixed && !slices.Contains(s.Residents, lot) {
		s.Residents = append(s.Residents, lot)
	}
}

// set writes what of a lot is at a place. A stay at a station begins when there is something, and ends when nothing is
// left.
func (f *folder) set(r *state.Record, lot int, at Place, m records.Micrograms) {
	l := f.Lots[lot]
	var s *Station
	if at.Holder == "" && at != Samples {
		s = f.station(r, at.Station) // first: a new plan looks at what was there
	}
	was := l.At[at]
	if m != 0 {
		l.At[at] = m
	} else {
		delete(l.At, at)
	}
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
	if !s.Mixed || !slices.Contains(s.Residents, lot) {
		s.Residents = append(s.Residents, lot)
	}
	key := contactKey{s.Code, lot}
	if _, there := f.open[key]; !there {
		f.open[key] = len(f.Contacts[s.Code])
		f.Contacts[s.Code] = append(f.Contacts[s.Code], Contact{Lot: lot, From: r.Happened, To: Forever, Began: r})
	}
}

func (f *folder) depart(r *state.Record, s *Station, lot int) {
	if !s.Mixed {
		f.leave(r, s.Code, lot, r.Happened)
		s.Residents = slices.DeleteFunc(s.Residents, func(i int) bool { return i == lot })
		return
	}
	// In a mixed station all leave together, when nothing of any is left; they stay residents until that is proven.
	if s.standing == 0 {
		for _, i := range s.Residents {
			f.leave(r, s.Code, i, r.Happened)
		}
	}
}

func (f *folder) leave(r *state.Record, station records.StationCode, lot int, at records.Instant) {
	key := contactKey{station, lot}
	if k, ok := f.open[key]; ok {
		c := &f.Contacts[station][k]
		c.To, c.Ended = at, r
		delete(f.open, key)
	}
}

// pass notes that a lot ran through stations at the instant of a record.
func (f *folder) pass(r *state.Record, via []records.StationCode, purge bool, lot int) {
	for _, s := range via {
		f.touch(r, s, lot, r.Happened, purge)
	}
}

// touch notes a contact from an instant to that of the record.
func (f *folder) touch(r *state.Record, station records.StationCode, lot int, from records.Instant, purge bool) {
	f.Contacts[station] = append(f.Contacts[station], Contact{Lot: lot, From: from, To: r.Happened, Began: r, Ended: r, Purge: purge})
}
