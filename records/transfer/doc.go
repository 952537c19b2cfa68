// Package transfer copies a journal with its documents and photos from one store to another, whatever databases they are.
//
// It knows the contract records.Store and the tree over the rows; it must not know any database, nor what a fact means.
//
// Nothing is taken on trust on the way: every row must hash to the leaf kept beside it, every signed tree head must have the
// root that the rows come to at its size, and at the end the rows are read back from where they were put and must come to
// the same tree head. Batches keep their borders where a signed head stands, so that every head is kept.
//
// A copy that was broken off is gone on with by copying again: what is there already must be the beginning of the same
// journal, row for row; otherwise nothing is written.
package transfer
