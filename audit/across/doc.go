// Package across follows goods from plant to plant of one company: a handover at one plant to a partner that is another plant of ours is
// joined to the receipts there that name the lot, and a trace goes on through them, both ways and through any number of plants.
//
// It knows the floors of plants (records/lots), their graphs (audit/trace), and the company's table of which partner is which plant. It
// must not know where records lie, who may see them (a plant that is not to be looked at is handed in without a floor), findings, or looks.
//
// # What is joined
//
// A handover counts when it goes to a partner of the plant, A, that the company says is plant B; a receipt at B when it comes from a
// partner of B that the company says is A. A receipt is joined to the handover it answers, for each lot it names: by TheirLot as it stands,
// else as the number of a bag of the lot, else letter case, spaces and signs aside, else as one of several names between commas (name.go). When
// it names none, only a paper number that both sides wrote down joins it.
//
// # Which of several
//
// Handovers that a receipt could answer are told apart by papers first: when any shares a paper number with the receipt, only those
// count. Else one must have left no later than a day after the receipt says it came (clocks and dates of two plants differ;
// common practice, no source). Of those left, the pairs are taken in the order: masses that agree before those that do not, the shorter
// time between, the earlier written. Each receipt takes one handover that no other has taken, as far as there is one; those left over take the best of
// all, which is how one load written down as two receipts is joined. Rule says what decided.
//
// # Masses
//
// What a plant handed over and what the receipts joined to it took in together are compared as two weighings are (audit.Differ).
//
// # Mirror image
//
// Forward and back are mirror images here as within a plant: lot L of B is forward of lot K of A exactly when K is back of L.
package across
