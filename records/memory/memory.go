// Package memory keeps a journal in memory, for tests and for throw-away plants.
//
// It knows the contract records.Store and nothing of what a fact means. Everything is gone when the process ends, so
// the promise that an appended batch survives a power cut is the one promise it does not keep; it must never be
// offered to a plant that keeps real records.
package memory

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"slices"
	"sync"

	"grainward/records"
)

// Store is a records.Store in memory. It is safe for use by many goroutines.
type Store struct {
	mu     sync.RWMutex
	closed bool
	rows   []records.Row // only ever grows; a reader may keep a slice of it without the lock
	heads  []head        // likewise
	blobs  map[string][]byte
}

type head struct {
	size   records.Position
	signed []byte
}

var _ records.Store = (*Store)(nil)

// New gives an empty store.
func New() *Store { return &Store{blobs: map[string][]byte{}} }

// Append stores the batch, as records.Backend says.
func (s *Store) Append(ctx context.Context, b records.Batch) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if len(b.Rows) == 0 {
		return &records.Error{Kind: records.Invalid, What: "the batch to append has no rows", Do: "append at least one row"}
	}
	copies := make([]records.Row, len(b.Rows))
	for i, r := range b.Rows {
		copies[i] = clone(r)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return errClosed()
	}
	if have := records.Position(len(s.rows)); have != b.After {
		return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the batch was made when the journal held %d entries, and it holds %d", b.After, have),
			Do: "read the newer entries and make the batch again"}
	}
	s.rows = append(s.rows, copies...)
	if len(b.Checkpoint) > 0 {
		s.heads = append(s.heads, head{records.Position(len(s.rows)), bytes.Clone(b.Checkpoint)})
	}
	return nil
}

// Read visits the rows that were there when it was called.
func (s *Store) Read(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
	s.mu.RLock()
	rows, closed := s.rows, s.closed
	s.mu.RUnlock()
	if closed {
		return errClosed()
	}
	for at := max(from, 0); at < records.Position(len(rows)); at++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := visit(at, clone(rows[at])); err != nil {
			return err
		}
	}
	return nil
}

// Head is the number of entries.
func (s *Store) Head(ctx context.Context) (records.Position, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return 0, errClosed()
	}
	return records.Position(len(s.rows)), ctx.Err()
}

// Checkpoints visits the signed tree heads, oldest first.
func (s *Store) Checkpoints(ctx context.Context, visit func(records.Position, []byte) error) error {
	s.mu.RLock()
	heads, closed := s.heads, s.closed
	s.mu.RUnlock()
	if closed {
		return errClosed()
	}
	for _, h := range heads {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := visit(h.size, bytes.Clone(h.signed)); err != nil {
			return err
		}
	}
	return nil
}

// PutBlob keeps a document or photo by its SHA-256.
func (s *Store) PutBlob(ctx context.Context, data []byte) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	if len(data) == 0 || len(data) > records.MaxBlob {
		return "", &records.Error{Kind: records.Invalid, What: fmt.Sprintf("the document has %d bytes", len(data)),
			Do: fmt.Sprintf("a document or photo has at least 1 byte and at most %d", records.MaxBlob)}
	}
	kept := bytes.Clone(data)
	key := keyOf(kept)
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return "", errClosed()
	}
	s.blobs[key] = kept // also when it is there already: a damaged copy is put right
	return key, nil
}

// GetBlob gives the bytes kept under a key.
func (s *Store) GetBlob(ctx context.Context, key string) ([]byte, error) {
	s.mu.RLock()
	data, ok := s.blobs[key]
	closed := s.closed
	s.mu.RUnlock()
	switch {
	case closed:
		return nil, errClosed()
	case !ok:
		return nil, &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no document with SHA-256 %q is kept", key)}
	case keyOf(data) != key:
		return nil, &records.Error{Kind: records.Corrupt, What: "the document kept as " + key + " no longer has that SHA-256", Do: "put the original in again"}
	}
	return bytes.Clone(data), ctx.Err()
}

// EachBlob visits every key with its size in bytes, in order of key.
func (s *Store) EachBlob(ctx context.Context, visit func(key string, size int64) error) error {
	s.mu.RLock()
	sizes, closed := map[string]int64{}, s.closed
	for key, data := range s.blobs {
		sizes[key] = int64(len(data))
	}
	s.mu.RUnlock()
	if closed {
		return errClosed()
	}
	for _, key := range slices.Sorted(maps.Keys(sizes)) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := visit(key, sizes[key]); err != nil {
			return err
		}
	}
	return nil
}

// Close lets go of everything; closing again does nothing.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed, s.rows, s.heads, s.blobs = true, nil, nil, nil
	return nil
}

func clone(r records.Row) records.Row {
	return records.Row{Bytes: bytes.Clone(r.Bytes), Leaf: r.Leaf}
}

func keyOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

func errClosed() error {
	return &records.Error{Kind: records.Internal, What: "the store in memory was closed"}
}
