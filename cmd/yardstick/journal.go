package yardstick

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"grainward/cmd/bigplant"
	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/sqlite"
)

// built is the journal that is measured on.
type built struct {
	*Place
	plant  *bigplant.Plant
	last   records.Instant // when the last entry was taken in
	middle records.Instant // when the one half way was
	target records.Entry   // a sign-off of about then
}

// atOnce is how many entries are appended in one transaction.
const atOnce = 20_000

// journal writes the journal, once, as it would stand in a plant's file: canonical bytes, leaf hashes, and at the end a signed tree
// head. Entries are made by one goroutine, made into bytes by as many as there are cores, and appended by another.
func (r *run) journal(ctx context.Context) (b *built, err error) {
	if r.plant != nil {
		return r.plant, nil
	}
	p, err := bigplant.New(r.Seed)
	if err != nil {
		return nil, err
	}
	r.Say(fmt.Sprintf("writing a journal of %s entries", whole(float64(r.Size))))
	place, err := r.NewPlant(ctx, r.sub("plant"), []byte(p.PlanText()))
	if err != nil {
		return nil, err
	}
	store, err := sqlite.Open(ctx, place.Journal, sqlite.Write)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	b = &built{Place: place, plant: p}

	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	stretches := make(chan []records.Row, 1)
	ended := make(chan error, 1)
	go func() { ended <- r.appendAll(ctx, stop, store, place, stretches) }()
	var some []records.Entry
	hand := func() error {
		rows, err := format(some)
		some = some[:0]
		if err != nil {
			return err
		}
		select {
		case stretches <- rows:
			return nil
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
	at := 0
	err = p.Each(r.Size, func(e records.Entry) error {
		if at++; at == r.Size/2 {
			b.middle = e.Recorded
		}
		if _, ok := e.Fact.(*records.Signoff); ok && at >= r.Size/2 && b.target.Kind == "" {
			b.target = e
		}
		b.last = e.Recorded
		if some = append(some, e); len(some) == atOnce {
			return hand()
		}
		return nil
	})
	if err == nil && len(some) > 0 {
		err = hand()
	}
	if err != nil {
		stop(err)
	}
	close(stretches)
	if err = errors.Join(err, <-ended); err != nil {
		return nil, err
	}
	r.plant = b
	return b, nil
}

// appendAll appends stretches as they come. The head is signed once, for the last of them.
func (r *run) appendAll(ctx context.Context, stop context.CancelCauseFunc, store *sqlite.Store, place *Place, stretches <-chan []records.Row) error {
	var tree ledger.Tree
	bar := r.Bar("writing the journal")
	at := 0
	for rows := range stretches {
		if ctx.Err() != nil {
			continue // whoever makes them is told by ctx
		}
		batch := records.Batch{After: records.Position(at), Rows: rows}
		for i := range rows {
			tree.Append(rows[i].Leaf)
		}
		if at += len(rows); at == r.Size {
			signed, err := ledger.Sign(ledger.Checkpoint{Origin: place.Origin, Size: int64(at), Root: tree.Root()}, place.Signer)
			if err != nil {
				stop(err)
				return err
			}
			batch.Checkpoint = signed
		}
		if err := store.Append(ctx, batch); err != nil {
			stop(err)
			return err
		}
		if bar != nil {
			bar(at, r.Size)
		}
	}
	return nil
}

// format makes entries into rows on every core.
func format(entries []records.Entry) ([]records.Row, error) {
	rows, errs := make([]records.Row, len(entries)), make([]error, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for w := range errs {
		wg.Go(func() {
			for i := w; i < len(entries) && errs[w] == nil; i += len(errs) {
				rows[i], errs[w] = records.Format(entries[i])
			}
		})
	}
	wg.Wait()
	return rows, errors.Join(errs...)
}
