// Package state folds the journal into what is known: every entry as it was written and as it now counts, timelines
// by kind and by duty, and which plan was in force when.
//
// State is a pure function of the journal's entries in order of position. It knows nothing of storage, of the current
// time, and of judgement: it never says that something is late or wrong. What can not be true together is kept as it
// was said, and Oddities says what the fold assumed.
//
// # Corrections
//
// An entry that was corrected counts as its latest correction says (records.Correct has the rules), sorted into the
// timelines by the time it then has. The entry as first written stays at its position. Late and corrected entries
// leave the same state as if everything had been written in order, which a property test holds against a slow fold.
//
// # Snapshots
//
// A State is changed only by Apply, by one goroutine. Snapshot gives an unchanging view of it for any number of
// readers, at the cost of a few words: timelines only grow at their end, where an older view does not look, and are
// copied before anything is put into their middle. Each timeline has a Version that changes when its contents do, so
// that whoever computed something from it can tell whether it still holds.
package state
