package trace

import (
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// exposed adds the lots that could have met residue of an agent. At a station where a sign-off says the agent was used,
// the exposure begins when that work began and ends when the first passing clean-out of the station, begun at or after its end and
// itself done without the agent, was finished; without one it lasts. A lot is exposed when it was in contact with the station in that
// stretch. The work counts whether it passed or failed: the agent was used.
func (x *resolver) exposed(code records.AgentCode) error {
	known := x.p != nil && x.p.Agent(code) != nil
	var named []string
	for _, r := range x.st.Kind(records.KindSignoff).Until(x.f.At) {
		fact := r.Fact.(*records.Signoff)
		for _, a := range fact.Agents {
			named = append(named, string(a.Agent))
		}
		if !uses(fact, code) {
			continue
		}
		known = true
		end := lots.Forever
		for _, c := range x.f.CleanOuts[fact.Station] {
			if clean, ok := c.Record.Fact.(*records.Signoff); ok && uses(clean, code) || c.From < r.Happened {
				continue
			}
			end = min(end, c.To)
		}
		begun := begunAt(r, fact)
		for c := range x.f.Contacts[fact.Station].All() {
			if c.From >= end { // what arrives at the instant the clean-out ends comes after it
				break
			}
			if c.To > begun || c.From == c.To && c.From >= begun {
				x.add(c.Lot)
			}
		}
	}
	if known {
		return nil
	}
	if x.p != nil {
		for _, a := range x.p.Agents {
			named = append(named, string(a.Code))
		}
	}
	return neverExisted("cleaning agent", string(code), named)
}

func uses(s *records.Signoff, code records.AgentCode) bool {
	return slices.ContainsFunc(s.Agents, func(a records.AgentUse) bool { return a.Agent == code })
}

// begunAt is when the work of a sign-off began: what was noted, when it is not after the end.
func begunAt(r *state.Record, s *records.Signoff) records.Instant {
	if s.Started != 0 && s.Started < r.Happened {
		return s.Started
	}
	return r.Happened
}

// handled adds the lots a person had to do with: those in contact with a station while the person's work there went on
// (from its beginning to its end, both included), or, when none was, those that came to it next; those the sign-off names; and
// those of any entry about goods that the person signed. Standing by as the second person counts like signing.
func (x *resolver) handled(code records.PersonCode) error {
	known := x.p != nil && x.p.Person(code) != nil
	var named []string
	for _, r := range x.st.Kind(records.KindSignoff).Until(x.f.At) {
		fact := r.Fact.(*records.Signoff)
		named = append(named, string(r.Performer()))
		if r.Performer() != code && fact.Second != code {
			continue
		}
		known = true
		for _, l := range fact.Lots {
			if i := x.f.Index(l); i >= 0 {
				x.add(i)
			}
		}
		x.touchedDuring(fact.Station, begunAt(r, fact), r.Happened)
	}
	for i, l := range x.f.Lots {
		for _, r := range l.Events {
			if r.Performer() == code {
				known = true
				x.add(i)
			}
		}
	}
	if known {
		return nil
	}
	if x.p != nil {
		for _, p := range x.p.People {
			named = append(named, string(p.Code))
		}
	}
	return neverExisted("person", string(code), named)
}

func (x *resolver) touchedDuring(station records.StationCode, from, to records.Instant) {
	any, next := false, records.Instant(0)
	for c := range x.f.Contacts[station].All() {
		if c.From > to {
			if any || next != 0 && c.From > next {
				return
			}
			next = c.From
			x.add(c.Lot)
			continue
		}
		if c.To >= from {
			any = true
			x.add(c.Lot)
		}
	}
}
