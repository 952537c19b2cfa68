// Package offer says what the crew's forms about goods can offer at a moment: what stands where, which lots are held, who there is
// to hand over to, and how this plant usually does it, as its own records show: through which conveyors, into which
// stations, under which lot codes.
//
// It is a pure function of the audit's report. It judges nothing itself: whether lots are unlike is the plan's table, whether a
// lot is held and when it is best by is the audit's. It knows no HTTP and no looks; titles come in every language of the
// plan, because a phone that has gone offline can change hands.
//
// It stays bounded however old the journal is: what is there now, what began in the last days, and habits read from the last
// few hundred entries.
//
// # Masses
//
// Masses of the floor are whole micrograms, as decimal text: a program that reads JSON numbers as doubles keeps them exact.
//
// # Lot codes
//
// A code is suggested in the plant's own manner, which is read off the last one of its kind (Manner): the day's date in
// it and a number, or the code of what went in with another ending, or a number counted up. It is a suggestion; whoever
// signs decides.
package offer
