package verify

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync"

	"grainward/records"
	"grainward/records/ledger"
)

// Options say what a journal is held against.
type Options struct {
	Verifier string                           // the plant's public key as ledger.GenerateKey wrote it; required
	Origin   string                           // the journal's name in its checkpoints; empty accepts any, and only one
	Extra    [][]byte                         // signed checkpoints kept elsewhere: from binders, from proof files
	Progress func(done, all records.Position) // called now and then; may be nil
}

// Journal verifies a store. What it finds is in the report; an error says that the verification could not be done
// (a kind of records.Error, or ctx's). The store may be written meanwhile: what is added after the call began may
// or may not be looked at.
func Journal(ctx context.Context, store records.Store, o Options) (Report, error) {
	return journal(ctx, store, o, (*reading).rows)
}

// journal is Journal with rows read by what is handed in.
func journal(ctx context.Context, store records.Store, o Options, rows func(*reading, context.Context) error) (Report, error) {
	if o.Verifier == "" {
		return Report{}, &records.Error{Kind: records.Invalid, What: "there is no verifier key to hold the checkpoints against", Do: "Give the plant's public key, one line of plant.vkey."}
	}
	r := newReading(store, o)
	head, err := store.Head(ctx)
	if err != nil {
		return Report{}, err
	}
	// The checkpoints are read after the head and before the rows: on a store in use, whatever they cover is there
	// by the time the rows are read.
	if err := r.history.takePromises(ctx, store, o); err != nil {
		return Report{}, err
	}
	r.head, r.limit = head, max(head, r.history.promised())
	if err := rows(r, ctx); err != nil {
		return Report{}, err
	}
	r.history.finish(r.next)
	if err := r.checkFiles(ctx); err != nil {
		return Report{}, err
	}
	r.report.sort()
	return r.report, nil
}

// reading is one verification under way.
type reading struct {
	store    records.Store
	progress func(done, all records.Position)
	report   Report
	history  history

	head, limit records.Position // what the store says it holds; where to stop
	next        records.Position // the position after the last
	stretch     int              // rows that are looked at in one go
	ids         map[records.EntryID]records.Position
	files       map[string]namedFile
}

func newReading(store records.Store, o Options) *reading {
	r := &reading{store: store, progress: o.Progress, stretch: stretch, ids: map[records.EntryID]records.Position{}, files: map[string]namedFile{}}
	r.history.report = &r.report
	return r
}

func firstLine(err error) string {
	var own *records.Error
	if errors.As(err, &own) {
		return own.What
	}
	return err.Error()
}

// gap notes rows that are not there. Neighbouring ones become one fault.
func (r *reading) gap(from, to records.Position, why string) {
	r.history.interrupt()
	if n := len(r.report.Faults); n > 0 {
		if last := &r.report.Faults[n-1]; last.Kind == Missing && last.To == from-1 {
			last.To = to
			last.Sentence = fmt.Sprintf("the entries at %s are not there or can not be read", places(last.Position, to))
			return
		}
	}
	r.report.add(from, to, Missing, "%s", why)
}

func (r *reading) take(at records.Position, l looked, stored ledger.Hash) {
	if l.err != nil {
		r.report.add(at, at, Malformed, "the entry at position %d can not be read: %v", at, l.err)
	} else {
		if first, used := r.ids[l.entry.ID]; used {
			r.report.add(at, at, Repeated, "the entry at position %d has the id %s, which is that of position %d", at, l.entry.ID, first)
		} else {
			r.ids[l.entry.ID] = at
		}
		r.noteFiles(at, l.entry.Fact)
	}
	r.history.add(at, l.leaf, stored)
}

// inParallel calls do for each of n, on every core.
func inParallel(n int, do func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				do(i)
			}
		})
	}
	wg.Wait()
}
