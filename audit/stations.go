package audit

import (
	"maps"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// settled is how lots were kept apart at a station in a first part of its timeline. It is cut off where nothing reaches across, so
// what comes later changes nothing of it, and is judged by going on from here.
type settled struct {
	n, cleaned int             // contacts and clean-outs in it
	at         records.Instant // when the next contact begins
	reach      records.Instant // when the last of its contacts ended
	newest     []leaving       // by class
	inside     [][]int
	purges     []lots.Contact
	apart      Apart
	broke      map[int]*Broken // lots that it broke, each the first time
	found      []*Finding
}

// stationMemo is a station as last judged.
type stationMemo struct {
	contacts  lots.Contacts
	cleanOuts []lots.CleanOut
	past, now *settled
}

// A new cut is made when so many contacts have come after the last one; the newest may still change. Variables for tests only.
var (
	longestStretch = 64
	newestContacts = 16
)

// judgeStation judges a station, going on from what m, which may be nil, has settled. It gives m back when nothing has changed.
func judgeStation(st *state.State, f *lots.Floor, sorts *lotSorts, code records.StationCode, m *stationMemo) *stationMemo {
	contacts, cleanOuts := f.Contacts[code], f.CleanOuts[code]
	n := &stationMemo{contacts: contacts, cleanOuts: cleanOuts, past: &settled{at: beginning, reach: beginning}}
	if m != nil {
		same, cleaned := m.contacts.Common(contacts), state.Common(m.cleanOuts, cleanOuts)
		if same == m.contacts.Len() && same == contacts.Len() && cleaned == len(m.cleanOuts) && cleaned == len(cleanOuts) {
			m.contacts, m.cleanOuts = contacts, cleanOuts // told by what they share with the next
			return m
		}
		if p := m.past; p.n <= same && p.cleaned <= cleaned && (p.n == contacts.Len() || contacts.At(p.n).From >= p.at) && (p.cleaned == len(cleanOuts) || cleanOuts[p.cleaned].To >= p.at) {
			n.past = p
		}
	}
	if contacts.Len()-n.past.n > longestStretch {
		if cut := n.cut(st, code); cut > n.past.n {
			n.past = n.stretch(st, f, sorts, code, cut)
		}
	}
	n.now = n.stretch(st, f, sorts, code, contacts.Len())
	return n
}

// cut is the last contact but for the newest before which all others ended; 0 when there is none.
func (m *stationMemo) cut(st *state.State, code records.StationCode) (cut int) {
	packaged := packaging(st, code)
	reach := m.past.reach
	for i := m.past.n; i < m.contacts.Len()-newestContacts; i++ {
		c := m.contacts.At(i)
		if reach < c.From {
			cut = i
		}
		if !packaged(c) {
			reach = max(reach, c.To)
		}
	}
	return cut
}

// stretch judges the contacts from the past's end to an index.
func (m *stationMemo) stretch(st *state.State, f *lots.Floor, sorts *lotSorts, code records.StationCode, to int) *settled {
	p := m.past
	n := &settled{n: to, at: forever, reach: p.reach, newest: slices.Clone(p.newest), inside: slices.Clip(p.inside), purges: slices.Clip(p.purges), broke: maps.Clone(p.broke)}
	n.apart = Apart{slices.Clip(p.apart.Arrivals), slices.Clip(p.apart.Together), slices.Clip(p.apart.Occupied)}
	if n.broke == nil {
		n.broke = map[int]*Broken{}
	}
	n.cleaned = len(m.cleanOuts)
	if to < m.contacts.Len() {
		n.at = m.contacts.At(to).From
		for n.cleaned = p.cleaned; n.cleaned < len(m.cleanOuts) && m.cleanOuts[n.cleaned].To < n.at; {
			n.cleaned++
		}
	}
	x := &stationJudge{st: st, f: f, station: code, from: p, classes: classes{station: code, sorts: sorts}, contacts: loose(st, code, m.contacts.Cut(p.n, to)), cleanOuts: m.cleanOuts[:n.cleaned], settled: n}
	for _, c := range x.contacts {
		n.reach = max(n.reach, c.To)
	}
	x.look()
	x.arrivals()
	x.together()
	x.occupied()
	news := Apart{n.apart.Arrivals[len(p.apart.Arrivals):], n.apart.Together[len(p.apart.Together):], n.apart.Occupied[len(p.apart.Occupied):]}
	n.found = append(slices.Clip(p.found), news.findings(st, f)...)
	return n
}
