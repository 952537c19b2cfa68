package lots

import (
	"maps"
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// A floor that was handed out never changes, and the next one shares what it can with it. The folder works in turns: what it
// changes in a turn it first copies, once, so that floors of earlier turns keep theirs. Lists that only grow at their end need no
// copy: an older floor does not look beyond its own length. That holds for one successor; any other (entries came in late and
// the fold went back to an earlier turn) first gives up the room behind its lists.

// turn tells which parts of a floor are the folder's own to change.
type turn uint64

// next is a folder that goes on from this one, which must not be used for folding any more. Only one may be the heir.
func (f *folder) next(st *state.State, now turn, heir bool) *folder {
	floor := *f.Floor
	n := *f
	n.Floor, n.st, n.turn, n.due = &floor, st, now, slices.Clone(f.due)
	n.ownLots, n.ownTransfers, n.ownLists = false, false, map[records.StationCode]bool{}
	floor.Contacts, floor.CleanOuts, floor.Stations = maps.Clone(f.Contacts), maps.Clone(f.CleanOuts), maps.Clone(f.Stations)
	floor.index, n.handed, n.confirmations = f.index.next(), f.handed.next(), f.confirmations.next()
	if heir {
		return &n
	}
	floor.Lots, floor.Steps, floor.Transfers = slices.Clip(f.Lots), slices.Clip(f.Steps), slices.Clip(f.Transfers)
	floor.Adjustments, floor.Assumed = slices.Clip(f.Adjustments), slices.Clip(f.Assumed)
	for s, list := range floor.CleanOuts {
		floor.CleanOuts[s] = slices.Clip(list)
	}
	return &n
}

// own is a lot that may be changed.
func (f *folder) own(lot int) *Lot {
	l := f.Lots[lot]
	if l.turn == f.turn {
		return l
	}
	if !f.ownLots {
		f.Lots, f.ownLots = append(make([]*Lot, 0, len(f.Lots)+16), f.Lots...), true
	}
	mine := *l
	mine.turn, mine.At = f.turn, slices.Clone(l.At)
	mine.Outputs, mine.Made, mine.Spent, mine.Handed = slices.Clip(l.Outputs), slices.Clip(l.Made), slices.Clip(l.Spent), slices.Clip(l.Handed)
	mine.Holds, mine.rejections, mine.resides, mine.Events = slices.Clone(l.Holds), slices.Clone(l.rejections), slices.Clone(l.resides), slices.Clip(l.Events)
	f.Lots[lot] = &mine
	return &mine
}

// ownStation is a station that may be changed, a new one if there was none.
func (f *folder) ownStation(code records.StationCode) *Station {
	s := f.Stations[code]
	switch {
	case s == nil:
		s = &Station{Code: code, open: map[int]int{}, turn: f.turn}
	case s.turn == f.turn:
		return s
	default:
		mine := *s
		mine.turn, mine.open, mine.Residents = f.turn, maps.Clone(s.open), slices.Clone(s.Residents)
		s = &mine
	}
	f.Stations[code] = s
	return s
}

// changeContacts changes a station's contacts.
func (f *folder) changeContacts(station records.StationCode, how func(cs *Contacts)) {
	cs := f.Contacts[station]
	if !f.ownLists[station] {
		f.ownLists[station] = true
		cs.pages = slices.Clone(cs.pages)
	}
	how(&cs)
	f.Contacts[station] = cs
}

// ownTransfer is a transfer that may be changed.
func (f *folder) ownTransfer(i int) *Transfer {
	if !f.ownTransfers {
		f.Transfers, f.ownTransfers = slices.Clone(f.Transfers), true
	}
	t := *f.Transfers[i]
	f.Transfers[i] = &t
	return &t
}

// layered is a map of which older versions stay as they were: a large part that is shared, and what is recent on top.
type layered[K comparable, V any] struct {
	base, recent map[K]V
}

// most is how much is copied each turn before it is laid down with the rest.
const most = 1024

func (m *layered[K, V]) get(k K) (V, bool) {
	if v, ok := m.recent[k]; ok {
		return v, true
	}
	v, ok := m.base[k]
	return v, ok
}

// put changes this version only; see next.
func (m *layered[K, V]) put(k K, v V) {
	if m.recent == nil {
		m.recent = map[K]V{}
	}
	m.recent[k] = v
}

// next is a version that may be changed.
func (m layered[K, V]) next() layered[K, V] {
	switch {
	case len(m.recent) == 0:
		return layered[K, V]{base: m.base}
	case len(m.recent) < most:
		return layered[K, V]{base: m.base, recent: maps.Clone(m.recent)}
	case len(m.base) == 0:
		return layered[K, V]{base: m.recent}
	}
	all := maps.Clone(m.base)
	maps.Copy(all, m.recent)
	return layered[K, V]{base: all}
}
