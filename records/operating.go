package records

import "context"

// Ready is a store that says whether it would take a batch now, without writing one. nil means that nothing is known to stand
// against it; the error is of the kind that Append would give. It asks the database or the disk each time.
type Ready interface {
	Ready(ctx context.Context) error
}

// Footprint is what a store takes up, in bytes.
type Footprint struct {
	Stored int64 // everything on its disk: rows, documents, indexes, and what is not folded in yet
	Free   int64 // what may still be written there; -1 when it can not be told
}

// Sized is a store that knows its size.
type Sized interface {
	Footprint(ctx context.Context) (Footprint, error)
}
