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
// Where lots stand apart, what is taken is of the lot that was named. When none was and only one is there, that one was
// meant; when several are there, each is drawn on in proportion, as an estimate.
//
// # Mixed stations
//
// In a station that holds goods mixed (a silo), every lot put in is a resident until the station is proven empty by a
// passing clean-out or a count of nothing; a computed zero proves nothing. What leaves is taken from all residents in
// proportion to what is computed to be there, whichever lot was named: an estimate, and marked as one. When nothing is
// computed to be there, each resident is as likely. A resident with nothing left by computation
// is still named as a parent of what leaves, with a share of 0, because a trace must not lose it; so is a lot that was named and
// is no resident. Where nothing is known to be there, the lot named is believed.
//
// A count at a mixed station is of the sum, and shared out as the contents were computed; a lot that it names and that
// was not known to be there comes in by what was found of it.
//
// # Contact
//
// A lot is in contact with a holding station while any of it is there (in a mixed station until nothing of any is left),
// with a station it only passes at the instant of the move, and with the station of a process from its start to its end. A
// share of nothing passes.
//
// At equal instants entries count in the order of the journal; a clean-out that ends then comes after what was taken out of
// its station, and before what was put into it.
package lots
