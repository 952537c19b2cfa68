// Package lots folds the entries about goods into what a person could see by walking through the plant: which lots
// there are, what stands where and with whom, what was in contact with each station and when, and what was made from
// what.
//
// It is a pure function of a state up to a moment, and of the clean-outs that passed (whether one did is a judgement,
// made in package audit and handed in). It knows no storage, no clock and no rule: facts that can not be true together
// are taken as far as they can be, and Assumed says what was assumed; whether that is a finding is the audit's business.
//
// # Masses
//
// All masses are whole micrograms, as is: dry matter is worked out where it is asked for. Nothing is ever rounded away: what a
// fact takes that was not there, what is left when the last was taken, and what a count finds differently, is kept as an
// Adjustment, so that for every lot
//
//	received or made + adjustments = standing somewhere + used up in processes
//
// holds to the microgram.
//
// # Mixed stations
//
// In a station that holds goods mixed (a silo), every lot put in is a resident until the station is proven empty by a
// passing clean-out or a count of nothing; a computed zero proves nothing. What leaves is taken from all residents in
// proportion to what is computed to be there: an estimate, and marked as one. A resident with nothing left by computation
// is still named as a parent of what leaves, with a share of 0, because a trace must not lose it.
//
// # Contact
//
// A lot is in contact with a holding station while any of it is there, with a station it only passes at the instant of
// the move, and with the station of a process from its start to its end.
package lots
