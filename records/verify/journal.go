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

// stretch is how many rows are hashed and read at once, on every core.
const stretch = 2048

// mostGone is how many positions in a row are tried before the rest of a damaged store is given up.
const mostGone = 10_000

// Journal verifies a store. What it finds is in the report; an error says that the verification could not be done
// (a kind of records.Error, or ctx's). The store may be written meanwhile: what is added after the call began may
// or may not be looked at.
func Journal(ctx context.Context, store records.Store, o Options) (Report, error) {
	if o.Verifier == "" {
		return Report{}, &records.Error{Kind: records.Invalid, What: "there is no verifier key to hold the checkpoints against", Do: "Give the plant's public key, one line of plant.vkey."}
	}
	r := &reading{store: store, progress: o.Progress, ids: map[records.EntryID]records.Position{}, files: map[string]namedFile{}}
	head, err := store.Head(ctx)
	if err != nil {
		return Report{}, err
	}
	r.history.report = &r.report
	// The checkpoints are read after the head and before the rows: on a store in use, whatever they cover is there
	// by the time the rows are read.
	if err := r.history.takePromises(ctx, store, o); err != nil {
		return Report{}, err
	}
	r.head, r.limit = head, max(head, r.history.promised())
	if err := r.rows(ctx); err != nil {
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
	next        records.Position // the next position to be visited
	waiting     []records.Row    // visited and not looked at yet; the last is at next-1
	ids         map[records.EntryID]records.Position
	files       map[string]namedFile
}

var errEnough = errors.New("enough")

// rows reads every row up to the limit. Past one that can not be read it goes on with the next.
func (r *reading) rows(ctx context.Context) error {
	gone := records.Position(0) // positions in a row that could not be read
	for r.next < r.limit {
		before := r.next
		err := r.store.Read(ctx, r.next, r.visit)
		r.look()
		if err != nil && !errors.Is(err, errEnough) && records.KindOf(err) != records.Corrupt {
			return err
		}
		if r.next > before {
			gone = 0
		}
		switch {
		case err == nil && r.next < r.head:
			r.gap(r.next, r.head-1, fmt.Sprintf("the store says it holds %d entries and gives none from position %d on", r.head, r.next))
			r.next = r.head
			return nil
		case err == nil || errors.Is(err, errEnough):
			return nil
		case gone == mostGone:
			r.gap(r.next, max(r.head, r.next+1)-1, fmt.Sprintf("nothing can be read from position %d on: %s", r.next, firstLine(err)))
			r.next = max(r.head, r.next+1)
			return nil
		}
		r.gap(r.next, r.next, firstLine(err))
		r.next++
		gone++
	}
	return nil
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

func (r *reading) visit(at records.Position, row records.Row) error {
	if at != r.next {
		return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d is missing", r.next)}
	}
	if at >= r.limit {
		return errEnough
	}
	r.next++
	if r.waiting = append(r.waiting, row); len(r.waiting) == stretch {
		r.look()
	}
	return nil
}

// looked is what one row turned out to be.
type looked struct {
	leaf  ledger.Hash
	entry records.Entry
	err   error
}

// look hashes and reads the waiting rows on every core, and then holds them against the rest in order.
func (r *reading) look() {
	if len(r.waiting) == 0 {
		return
	}
	first := r.next - records.Position(len(r.waiting))
	found := make([]looked, len(r.waiting))
	inParallel(len(r.waiting), func(i int) {
		found[i].leaf = leafHash(r.waiting[i].Bytes)
		found[i].entry, found[i].err = records.Parse(r.waiting[i].Bytes)
	})
	for i, l := range found {
		r.take(first+records.Position(i), l, r.waiting[i].Leaf)
	}
	r.waiting = r.waiting[:0]
	r.report.Entries = r.next
	if r.progress != nil {
		r.progress(r.next, r.limit)
	}
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
