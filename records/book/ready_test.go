package book_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/memory"
)

// sick is a store whose disk fills up when told to.
type sick struct {
	*memory.Store
	full bool
}

func (s *sick) Append(ctx context.Context, b records.Batch) error {
	if s.full {
		return &records.Error{Kind: records.Full, What: "the disk is full"}
	}
	return s.Store.Append(ctx, b)
}

// Ready until a batch is not taken, again when one is; not when the clock stands before the newest entry, when the book is closed, or
// without the key. Each batch is told of, with how it went.
func TestReady(t *testing.T) {
	store := &sick{Store: memory.New()}
	var rows []int
	var failed int
	clock := booktest.Clock{}
	clock.At(noon.Add(-time.Hour))
	signer, _ := booktest.Key(t)
	b, err := book.Open(t.Context(), store, book.Options{Origin: "testhof.example/journal", Signer: signer, Now: clock.Now,
		Appended: func(n int, took time.Duration, err error) {
			if rows = append(rows, n); err != nil {
				failed++
			}
			if took < 0 {
				t.Error(took)
			}
		}})
	if err != nil {
		t.Fatal(err)
	}
	ready := func() error { return b.Ready(t.Context()) }
	if err := ready(); err != nil {
		t.Errorf("empty: %v", err)
	}
	must(b.Admit(t.Context(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	store.full = true
	if _, err := b.Admit(t.Context(), scrub(noon)); records.KindOf(err) != records.Full {
		t.Fatal(err)
	}
	if err := ready(); records.KindOf(err) != records.Full {
		t.Errorf("after a batch that was not taken: %v", err)
	}
	store.full = false
	must(b.Admit(t.Context(), scrub(noon), scrub(noon)))
	if err := ready(); err != nil {
		t.Errorf("after one that was: %v", err)
	}
	if len(rows) != 3 || rows[0] != 1 || rows[2] != 2 || failed != 1 {
		t.Errorf("told of %v, %d of which failed", rows, failed)
	}
	clock.At(noon.Add(-time.Minute)) // clocks are set right by a little now and then
	if err := ready(); err != nil {
		t.Errorf("a minute back: %v", err)
	}
	clock.At(noon.Add(-time.Hour))
	if err := ready(); !errors.Is(err, book.ErrClock) {
		t.Errorf("an hour back: %v", err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if err := ready(); err == nil {
		t.Error("ready after Close")
	}
	reader, err := book.Open(t.Context(), memory.New(), book.Options{Now: clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	if err := reader.Ready(t.Context()); records.KindOf(err) != records.ReadOnly {
		t.Errorf("without the key: %v", err)
	}
}
