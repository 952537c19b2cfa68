package yardstick

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/sqlite"
)

// opened is the journal open, with what opening it cost.
type opened struct {
	book       *book.Book
	took, scan time.Duration // the best of each
	heap       uint64        // bytes it keeps
	auditor    *audit.Auditor
	report     *audit.Report
}

// opening is the cold start against the bare reading and hashing.
func opening(ctx context.Context, r *run) ([]Row, error) {
	o, err := r.opened(ctx)
	if err != nil {
		return nil, err
	}
	return []Row{{Name: "opening", What: "opening the journal", Ours: seconds(o.took), Peer: "reading and hashing", Theirs: seconds(o.scan),
		Ratio: over(o.took, o.scan), Limit: &Limit{Most: 3}, Also: []Also{{"entries a second", Figure{float64(r.Size) / o.took.Seconds(), ""}}}}}, nil
}

// memory is what the open book keeps.
func memory(ctx context.Context, r *run) ([]Row, error) {
	o, err := r.opened(ctx)
	if err != nil {
		return nil, err
	}
	return []Row{{Name: "memory", What: "memory an entry, journal open", Ours: Figure{float64(o.heap) / float64(r.Size), "B"}, Limit: &Limit{Most: 600, Unit: "B"},
		Also: []Also{{"on the heap after a collection, all together", Figure{float64(o.heap) / 1e6, "MB"}}}}}, nil
}

// opened opens the journal, in turn with its peer, and keeps it open the last time.
func (r *run) opened(ctx context.Context) (*opened, error) {
	if r.open != nil {
		return r.open, nil
	}
	b, err := r.journal(ctx)
	if err != nil {
		return nil, err
	}
	o := &opened{}
	for turn := range r.Rounds {
		r.Say(fmt.Sprintf("reading the journal bare, and opening it, round %d of %d", turn+1, r.Rounds))
		scan, err := bareScan(ctx, b.Journal, r.Size)
		if err != nil {
			return nil, err
		}
		before := live()
		begun := time.Now()
		bk, err := openBook(ctx, b.Journal)
		if err != nil {
			return nil, err
		}
		took := time.Since(begun)
		o.heap = live() - before
		if got := bk.View().Head.Size; int(got) != r.Size {
			return nil, errors.Join(fmt.Errorf("the book has %d entries of %d", got, r.Size), bk.Close())
		}
		if turn == 0 || took < o.took {
			o.took = took
		}
		if turn == 0 || scan < o.scan {
			o.scan = scan
		}
		if turn == r.Rounds-1 {
			o.book = bk
			break
		}
		if err := bk.Close(); err != nil {
			return nil, err
		}
	}
	r.open = o
	return o, nil
}

func openBook(ctx context.Context, path string) (*book.Book, error) {
	store, err := sqlite.Open(ctx, path, sqlite.Read)
	if err != nil {
		return nil, err
	}
	b, err := book.Open(ctx, store, book.Options{})
	if err != nil {
		return nil, errors.Join(err, store.Close())
	}
	return b, nil
}

// bareScan reads every row and compares it with its hash, on one core.
func bareScan(ctx context.Context, path string, want int) (took time.Duration, err error) {
	store, err := sqlite.Open(ctx, path, sqlite.Read)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	runtime.GC()
	rows := 0
	begun := time.Now()
	err = store.Read(ctx, 0, func(pos records.Position, row records.Row) error {
		if ledger.LeafHash(row.Bytes) != row.Leaf {
			return fmt.Errorf("the entry at position %d is damaged", pos)
		}
		rows++
		return nil
	})
	took = time.Since(begun)
	if err == nil && rows != want {
		err = fmt.Errorf("%d rows of %d", rows, want)
	}
	return took, err
}

// live is what is on the heap after a collection.
func live() uint64 {
	runtime.GC()
	runtime.GC() // what finalizers of the first let go
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// letGo closes the book, for measures that would rather have its memory.
func (r *run) letGo() error {
	if r.open == nil {
		return nil
	}
	err := r.open.book.Close()
	r.open = nil
	runtime.GC()
	return err
}

func (r *run) close() error { return r.letGo() }

func seconds(d time.Duration) Figure { return Figure{d.Seconds(), "s"} }

func over(a, b time.Duration) float64 { return a.Seconds() / b.Seconds() }
