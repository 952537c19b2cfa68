package records

import "context"

// Batch is what is appended together.
type Batch struct {
	After      Position // how many entries the journal held when the batch was made; the batch's first position
	Rows       []Row    // at least one
	Checkpoint []byte   // the signed tree head after this batch; may be empty when there is no key
}

// Backend keeps the journal's rows in order. It is four methods, cut from the weakest database we use.
//
// The promises, each of which has a test in records/backendtest:
//
//   - Append stores the whole batch at positions After, After+1, … or nothing of it. When the journal does not hold
//     exactly After entries it returns an *Error of kind Conflict and changes nothing. A nil error means the batch
//     survives a power cut.
//   - Append may be called from many goroutines and, on a shared database, from many processes: of several batches
//     with the same After, exactly one succeeds.
//   - An empty batch is an *Error of kind Invalid.
//   - Read calls visit with every row from position from on, in order, without a gap, as of some moment during the
//     call; rows appended meanwhile may or may not be seen. An error from visit ends the reading and is returned as
//     it is. Reading from beyond the end visits nothing.
//   - No memory is shared: the caller may change the bytes it appended, and owns the bytes it is shown.
//   - Head is the number of entries stored; a batch whose Append has returned nil is counted.
//   - Close releases everything; calls after it return an error. Closing twice is allowed.
//   - A negative position to read from is taken as 0.
//   - A backend opened for reading only refuses Append with kind ReadOnly.
//   - What one process appended, another opens and reads the same.
type Backend interface {
	Append(ctx context.Context, b Batch) error
	Read(ctx context.Context, from Position, visit func(Position, Row) error) error
	Head(ctx context.Context) (Position, error)
	Close() error
}

// Heads gives the signed tree heads that were stored with batches, oldest first. Each comes with the number of
// entries it covers. An error from visit ends the visiting and is returned, perhaps wrapped.
type Heads interface {
	Checkpoints(ctx context.Context, visit func(size Position, signed []byte) error) error
}

// Bulk is a backend that appends many batches for less than it costs one after the other: for copying and for building a
// plant, when nobody waits for a single entry. It is as so many Appends, in order, each whole or not at all: on an error the
// first of them may be stored, and Head tells. Nil means that all survive a power cut.
type Bulk interface {
	AppendAll(ctx context.Context, batches []Batch) error
}

// Resumer is a backend that can say where rows go on behind some that are gone, for whoever looks at a damaged journal: Read tells only
// that one is missing. Resume gives the first position from one on at which something is stored, whether or not it can be read, and false
// when nothing is.
type Resumer interface {
	Resume(ctx context.Context, from Position) (at Position, there bool, err error)
}

// MaxBlob is the largest document or photo, in bytes.
const MaxBlob = 16 << 20

// Blobs keeps documents and photos by the SHA-256 of their bytes (64 lower-case hex digits).
//
// PutBlob is idempotent, returns the key, refuses empty bytes and more than MaxBlob with kind Invalid, and when it
// returns nil the bytes survive a power cut. GetBlob returns kind NotFound for a key that was never put, and Corrupt when
// the bytes kept no longer have their hash; putting the bytes again repairs them. EachBlob visits every key with its
// size, in order of key. A store opened for reading only refuses PutBlob with kind ReadOnly.
type Blobs interface {
	PutBlob(ctx context.Context, data []byte) (key string, err error)
	GetBlob(ctx context.Context, key string) ([]byte, error)
	EachBlob(ctx context.Context, visit func(key string, size int64) error) error
}

// Store is what a book needs of one database.
type Store interface {
	Backend
	Heads
	Blobs
}
