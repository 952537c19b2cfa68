package lots

import (
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// draw takes mass out of a place, and puts what it took behind the portions given: of the lot named, or of all that a mixed station holds in proportion. Where lots stand
// apart and none is named, the only one there was meant; of several each is drawn on in proportion, and that is assumed.
func (f *folder) draw(out []Portion, r *state.Record, code records.LotCode, from Place, w records.Weight, last bool) []Portion {
	m := mass(w)
	if from.Holder == "" {
		if s := f.station(r, from.Station); s.Mixed {
			return f.drawMixed(out, r, s, code, m, w.Moisture, last)
		}
	}
	if code == "" {
		switch here := f.here(from); len(here) {
		case 0:
			f.assume(r, "nothing-there", "", from, m)
			return out
		case 1:
			code = f.Lots[here[0]].Code
		default:
			f.assume(r, "which-lot", "", from, m)
			return f.drawShares(out, r, from, here, m, w.Moisture, last)
		}
	}
	return f.drawLot(out, r, code, from, m, w.Moisture, last)
}

// drawLot takes mass of one lot from a place. What was not there is assumed to have been; what is left over when the last
// was taken is assumed to be none.
func (f *folder) drawLot(out []Portion, r *state.Record, code records.LotCode, from Place, m records.Micrograms, moisture *records.Decimal, last bool) []Portion {
	i := f.lot(r, code)
	left := f.Lots[i].At.Of(from) - m
	if left < 0 && !last {
		f.assume(r, "short", code, from, -left)
	}
	f.remain(r, i, from, left, last)
	return append(out, Portion{Lot: i, Mass: m, Moisture: moisture, From: from})
}

// drawMixed takes mass from all residents of a mixed station, whichever was named. One that is named and no resident is
// believed, as far as it can be: it is all of what leaves when nothing else is known to be there, and else a share of
// nothing beside what is.
func (f *folder) drawMixed(out []Portion, r *state.Record, s *Station, code records.LotCode, m records.Micrograms, moisture *records.Decimal, last bool) []Portion {
	from := Place{Station: s.Code}
	switch {
	case len(s.Residents) == 0 && code == "":
		f.assume(r, "nothing-there", "", from, m)
		return out
	case len(s.Residents) == 0:
		return f.drawLot(out, r, code, from, m, moisture, last)
	}
	before := len(out)
	out = f.drawShares(out, r, from, slices.Clone(s.Residents), m, moisture, last)
	if code == "" {
		return out
	}
	i := f.lot(r, code)
	if !slices.ContainsFunc(out[before:], func(p Portion) bool { return p.Lot == i }) {
		f.assume(r, "short", code, from, m)
		out = append(out, Portion{Lot: i, Moisture: moisture, From: from, Estimated: true})
	}
	return out
}

// drawShares takes mass from several lots at a station, in proportion to what is computed to be there.
func (f *folder) drawShares(out []Portion, r *state.Record, from Place, lots []int, m records.Micrograms, moisture *records.Decimal, last bool) []Portion {
	there := f.masses(lots, from)
	if short := m - sum(there); short > 0 && !last {
		f.assume(r, "short", "", from, short)
	}
	shares := share(m, there)
	out = slices.Grow(out, len(lots))
	for k, i := range lots {
		f.own(i).event(r)
		out = append(out, Portion{Lot: i, Mass: shares[k], Moisture: moisture, From: from, Estimated: true})
		if there[k] != 0 || shares[k] != 0 { // else there is nothing to change: of many residents nothing has been left for years
			f.remain(r, i, from, there[k]-shares[k], last)
		}
	}
	return out
}

// remain writes what is left of a lot at a place after some was taken: never less than nothing, and nothing after the
// last.
func (f *folder) remain(r *state.Record, lot int, from Place, left records.Micrograms, last bool) {
	switch {
	case last:
		f.adjust(r, lot, from, -left, LastTaken)
		left = 0
	case left < 0:
		f.adjust(r, lot, from, -left, NotThere)
		left = 0
	}
	f.set(r, lot, from, left)
}
