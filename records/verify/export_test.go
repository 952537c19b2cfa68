package verify

import (
	"context"
	"errors"
	"fmt"

	"grainward/records"
)

// InStretches is Journal with stretches of another length, so that a short journal has many.
func InStretches(ctx context.Context, store records.Store, o Options, length int) (Report, error) {
	return journal(ctx, store, o, func(r *reading, ctx context.Context) error {
		r.stretch = length
		return r.rows(ctx)
	})
}

// InTurn is Journal with every row looked at when it is visited, by one goroutine: the slow version that Journal is held against.
func InTurn(ctx context.Context, store records.Store, o Options) (Report, error) {
	return journal(ctx, store, o, func(r *reading, ctx context.Context) error {
		for gone := 0; r.next < r.limit; {
			before := r.next
			err := store.Read(ctx, r.next, func(at records.Position, row records.Row) error {
				if at >= r.limit {
					return errEnough
				}
				entry, err := records.Parse(row.Bytes)
				r.take(at, looked{leafHash(row.Bytes), entry, err}, row.Leaf)
				r.next++
				r.report.Entries = r.next
				return nil
			})
			if err != nil && !errors.Is(err, errEnough) && records.KindOf(err) != records.Corrupt {
				return err
			}
			if r.next > before {
				gone = 0
			}
			end := max(r.head, r.next+1)
			switch {
			case err == nil && r.next < r.head:
				r.gap(r.next, r.head-1, fmt.Sprintf("the store says it holds %d entries and gives none from position %d on", r.head, r.next))
				r.next = r.head
				return nil
			case err == nil || errors.Is(err, errEnough):
				return nil
			case gone == mostGone:
				r.gap(r.next, end-1, fmt.Sprintf("nothing can be read from position %d on: %s", r.next, firstLine(err)))
				r.next = end
				return nil
			}
			r.gap(r.next, r.next, firstLine(err))
			r.next++
			gone++
		}
		return nil
	})
}
