// Package yardstick measures what `grainward bench` prints: each number of the design against its limit, beside a peer that does the bare
// minimum of the same work, in the same run and on the same disk. It is the one place where a measure is defined.
//
// What is measured on is a journal of cmd/bigplant in an ordinary plant's directory, written through the store that a plant uses. The
// measures, in the order of the design:
//
//	sign-offs   64 enrolled devices at once, over HTTP, against a server in a process of its own that has the journal open; until
//	            each is acknowledged, which is when it is durable. Peer: records of the same size written to a file, one fsync each.
//	opening     book.Open on the journal. Peer: reading and hashing the same rows, and nothing else.
//	findings    all findings from nothing, against opening; and the fold and the findings after one more entry, for entries of several
//	            sorts, some about what happened years before.
//	trace       the lots reached from one, with expected shares by mass, in a graph of as many lots as the journal has entries
//	            and twice as many edges. Peers: SQLite's recursive query over an indexed table, a bare breadth-first walk, gonum's. All
//	            must reach the same lots, or there is no figure.
//	binder      the binder of the last eight months, which of 1,000,000 entries has 500,000 rows. Peer: excelize's stream writer, given the
//	            same cells. And the most memory that is live while it is written, above what was live before: the open journal and its
//	            findings are not counted, what the binder folds, sorts and keeps of them is.
//	memory      what the open book keeps on the heap, an entry.
//	crew-page   what a browser fetches for the crew's page until the day's work is there, as it goes over the line.
//
// # What decides on a noisy machine
//
// Ours and the peer's take turns, several rounds of them, and the best of each counts: what disturbs a run only ever makes it slower.
// After one more entry, where runs are many, the median counts and the worst is told. Sign-offs are counted round by round too, the best
// round against the disk's best.
//
// It knows how to measure and what is promised. It must not know how the program is wired: who makes a plant's directory and serves
// it is handed in.
package yardstick
