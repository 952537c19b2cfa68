// Package booktest opens books for tests and, when a test ends, holds each of them to what every book promises: its
// live state is the state replayed from its store, and its tree head is that of the stored bytes. It is imported by
// tests only.
package booktest

import (
	"context"
	"crypto/rand"
	"sync/atomic"
	"testing"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/state"
	"grainward/records/state/statetest"
)

// Clock is a clock that tests set.
type Clock struct{ now atomic.Int64 }

// At sets the clock.
func (c *Clock) At(i records.Instant) { c.now.Store(int64(i)) }

// Now reads it.
func (c *Clock) Now() records.Instant { return records.Instant(c.now.Load()) }

// Origin is the journal name of test books.
const Origin = "booktest.invalid/journal"

// Key makes a private key and its verifier.
func Key(t testing.TB) (signer, verifier string) {
	t.Helper()
	signer, verifier, err := ledger.GenerateKey(rand.Reader, Origin)
	if err != nil {
		t.Fatal(err)
	}
	return signer, verifier
}

// Open opens a book on a store, with a clock standing at `now`. The test's end closes it and checks it.
func Open(t testing.TB, store records.Store, now records.Instant) (*book.Book, *Clock) {
	t.Helper()
	signer, _ := Key(t)
	return OpenAs(t, store, signer, now)
}

// OpenAs is Open with a key of the test's own.
func OpenAs(t testing.TB, store records.Store, signer string, now records.Instant) (*book.Book, *Clock) {
	t.Helper()
	clock := &Clock{}
	clock.At(now)
	// Shared costs a lone book nothing but a rest, and two of them need it.
	b, err := book.Open(context.Background(), store, book.Options{Origin: Origin, Signer: signer, Now: clock.Now, Shared: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		Check(t, b, store)
		if err := b.Close(); err != nil {
			t.Error("closing the book:", err)
		}
	})
	return b, clock
}

// Check compares a book with its store.
func Check(t testing.TB, b *book.Book, store records.Store) {
	t.Helper()
	view := b.View()
	replayed := state.New()
	var tree ledger.Tree
	err := store.Read(context.Background(), 0, func(pos records.Position, row records.Row) error {
		if pos >= view.Head.Size {
			return nil // written by another book since
		}
		e, err := records.Parse(row.Bytes)
		if err != nil {
			return err
		}
		replayed.Apply(pos, e)
		tree.Append(ledger.LeafHash(row.Bytes))
		return nil
	})
	if err != nil {
		t.Error("replaying:", err)
		return
	}
	if live, again := statetest.Dump(view.State), statetest.Dump(replayed); live != again {
		t.Errorf("the live state is not the replayed one. Live:\n%s\nReplayed:\n%s", live, again)
	}
	if tree.Size() != int64(view.Head.Size) || tree.Root() != view.Head.Root {
		t.Errorf("the head says %d entries and root %v; the stored bytes come to %d and %v", view.Head.Size, view.Head.Root, tree.Size(), tree.Root())
	}
}
