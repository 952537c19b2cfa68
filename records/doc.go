// Package records is the vocabulary of Grainward: the words everything else speaks.
//
// Ten words, from the outside in:
//
//	plan        what the plant says it will do (package records/plan)
//	journal     every entry ever written, in order; only ever appended to
//	position    an entry's place in the journal, counted from 0; also its leaf index in the Merkle tree
//	entry       one signed statement: an envelope around one fact
//	fact        what happened, in one of the kinds of kinds.go
//	signoff     the fact that a task was done at a station, with its answers
//	correction  a later entry that replaces or withdraws an earlier one; both stay
//	happened    when the work was done, by the clock of whoever did it
//	recorded    when the journal took the entry in
//	moment      the instant a question is asked about
//
// One picture, and the only direction data flows:
//
//	plan + journal  ->  state at a moment  ->  audit  ->  exports, server
//	written down        folded in memory       pure       shown, handed over
//
// # Canonical bytes
//
// An entry becomes bytes once, when it is admitted: RFC 8785 (JCS) JSON of the envelope. Those exact bytes are
// stored, hashed as the leaf of the tree, and exported. They are never made again from the decoded entry.
//
// RFC 8785 writes every number as a double, which silently rounds integers above 2^53, so no measured value is ever
// a JSON number here: decimals, masses and quantities are strings (see Decimal). The position is not part of the
// bytes: the tree already binds it, and an entry keeps its bytes when two servers race for a position.
//
// # Moments
//
// "At T" means: corrections are resolved with everything known now, then the entries with happened <= T are used,
// whenever they were written down. "As known at T" means: only entries with recorded <= T exist at all. Both can be
// asked for; neither is a mode of the journal.
//
// # What this package must not know
//
// Any database, HTTP, the current time, and what is overdue. It says whether an entry is well formed, never whether
// the news in it is good.
package records
