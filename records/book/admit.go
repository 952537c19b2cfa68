package book

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"time"

	"grainward/records"
)

// Receipt says where an entry is.
type Receipt struct {
	Position records.Position
	Recorded records.Instant
	Already  bool // it was there before: the same id, saying the same
}

// ahead is how far a device's clock may run before ours.
const ahead = 2 * time.Minute

// mostAtOnce bounds a batch made of many waiting callers; a single caller's drafts are never split.
const mostAtOnce = 1024

// patience is how long a batch is tried again when other processes keep taking its position.
const patience = 30 * time.Second

// longestRest bounds the rest after a batch on a shared store.
const longestRest = 20 * time.Millisecond

type request struct {
	ctx    context.Context
	drafts []records.Entry
	answer chan reply
}

type reply struct {
	receipts []Receipt
	err      error
}

// Admit writes drafts down: all of them or, when one can not be taken, none. It returns when they are durable. The
// error is an *Errors when drafts are at fault, listing every one of them.
//
// When ctx ends before that, the outcome is open; asking again with the same ids tells, and never writes twice.
func (b *Book) Admit(ctx context.Context, drafts ...records.Entry) ([]Receipt, error) {
	if b.signer == "" {
		return nil, readOnly()
	}
	if len(drafts) == 0 {
		return nil, nil
	}
	req := &request{ctx: ctx, drafts: drafts, answer: make(chan reply, 1)}
	select {
	case b.requests <- req:
	case <-b.stop:
		return nil, closed()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	select {
	case r := <-req.answer:
		return r.receipts, r.err
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func closed() error {
	return &records.Error{Kind: records.Unavailable, What: "the journal is being closed", Do: "Send it again; nothing was written."}
}

// run is the committer: the one goroutine that writes.
func (b *Book) run() {
	defer close(b.stopped)
	var look <-chan time.Time // never, on a store of our own
	pause := between
	if b.shared {
		look = time.After(pause)
	}
	for {
		select {
		case <-b.stop:
			return
		case <-look:
			pause = b.follow(pause)
			look = time.After(pause)
		case req := <-b.requests:
			begun := time.Now()
			b.commit(b.gather(req))
			if b.shared {
				b.rest(time.Since(begun))
			}
		}
	}
}

// rest leaves other writers of a shared store as long as the batch took. Whoever has just written is always quicker than
// one who has to read that first, and would otherwise keep the others out for as long as it is busy. What waits
// meanwhile shares the next batch.
func (b *Book) rest(d time.Duration) {
	select {
	case <-time.After(min(d, longestRest)):
	case <-b.stop:
	}
}

// gather takes what else is waiting. As long as more comes, whoever is on the way here and could run goes first: each would else
// be a batch of its own, and a batch costs as much as a dozen entries. Nobody waits for it while the processor has nothing to do.
func (b *Book) gather(first *request) []*request {
	reqs, n, had := []*request{first}, len(first.drafts), 0
	for n < mostAtOnce {
		select {
		case req := <-b.requests:
			reqs, n = append(reqs, req), n+len(req.drafts)
		default:
			if n == had {
				return reqs
			}
			had = n
			runtime.Gosched()
		}
	}
	return reqs
}

// commit writes requests down as one batch and answers them.
func (b *Book) commit(reqs []*request) {
	for begun := time.Now(); len(reqs) > 0; {
		p := b.prepareLatest(reqs)
		if len(p.rows) == 0 {
			p.deliver()
			return
		}
		err := b.append(p)
		if err == nil {
			p.deliver()
			return
		}
		// Either another process was quicker, or the outcome is unknown. What is in the store by now decides.
		conflict := records.IsConflict(err)
		ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
		caught := b.catchUp(ctx, nil)
		cancel()
		if caught == nil {
			caught = b.publish(nil)
		}
		p.refuse() // those at fault are answered; the rest go on
		reqs = p.going
		switch {
		case !conflict:
		case caught != nil:
			err = caught // what is in the way; that another process was quicker is no fault of what was sent
		case time.Since(begun) > patience:
			err = &records.Error{Kind: records.Unavailable, What: "other servers have been quicker to write for half a minute", Do: "Send it again; nothing was written."}
		default:
			continue
		}
		b.fail(reqs, err)
		return
	}
}

// fail answers requests whose batch could not be appended. An entry that is in the journal all the same (its commit
// got through although the answer did not) is reported as written.
func (b *Book) fail(reqs []*request, err error) {
	for _, req := range reqs {
		p := b.prepare([]*request{req})
		if len(p.rows) == 0 {
			p.deliver()
			continue
		}
		req.answer <- reply{err: err}
	}
}

// append makes a prepared batch durable, then applies and publishes it.
func (b *Book) append(p *prepared) error {
	b.mu.Lock()
	size := b.tree.Size()
	for _, row := range p.rows {
		b.tree.Append(row.Leaf)
	}
	head, err := b.sign(records.Position(b.tree.Size()), b.tree.Root())
	b.tree.Truncate(size)
	b.mu.Unlock()
	if err != nil {
		return err
	}
	begun := time.Now()
	err = b.store.Append(context.Background(), records.Batch{After: b.st.Size(), Rows: p.rows, Checkpoint: head.Checkpoint})
	b.noted(len(p.rows), time.Since(begun), err)
	if err != nil {
		return err
	}
	b.mu.Lock()
	for i, e := range p.entries {
		b.st.Apply(b.st.Size(), e)
		b.tree.Append(p.rows[i].Leaf)
	}
	b.mu.Unlock()
	return b.publish(head.Checkpoint)
}

// prepared is what becomes of requests when they are checked against the journal as it is.
type prepared struct {
	entries []records.Entry
	rows    []records.Row
	going   []*request // that are not at fault
	results [][]Receipt
	refused map[*request]error
}

// prepareLatest is prepare that refuses nothing, on a shared store, for want of what another process has just written: a plan
// adopted there, a deviation to be answered.
func (b *Book) prepareLatest(reqs []*request) *prepared {
	p := b.prepare(reqs)
	if !b.shared || len(p.refused) == 0 {
		return p
	}
	before := b.st.Size()
	b.follow(between)
	if b.st.Size() == before {
		return p
	}
	return b.prepare(reqs)
}

// prepare checks requests in order, each seeing those before it, and makes the bytes of what is new.
func (b *Book) prepare(reqs []*request) *prepared {
	p := &prepared{refused: map[*request]error{}}
	a := newAdmission(b)
	for _, req := range reqs {
		if err := req.ctx.Err(); err != nil {
			p.refused[req] = err
			continue
		}
		receipts, err := a.take(req.ctx, req.drafts)
		if err != nil {
			p.refused[req] = err
			continue
		}
		p.going = append(p.going, req)
		p.results = append(p.results, receipts)
	}
	p.entries, p.rows = a.entries, a.rows
	return p
}

func (p *prepared) deliver() {
	p.refuse()
	for i, req := range p.going {
		req.answer <- reply{receipts: p.results[i]}
	}
}

func (p *prepared) refuse() {
	for req, err := range p.refused {
		req.answer <- reply{err: err}
	}
	p.refused = nil
}

// Fault is one draft that was not taken, by its place among the drafts.
type Fault struct {
	Draft int
	Err   error
}

// Errors lists every draft that was not taken. Nothing of what was handed in together with them was written.
type Errors struct{ Faults []Fault }

// Error is the faults, one after the other.
func (e *Errors) Error() string {
	var errs []error
	for _, f := range e.Faults {
		if len(e.Faults) > 1 {
			errs = append(errs, fmt.Errorf("entry %d of those sent: %w", f.Draft+1, f.Err))
			continue
		}
		errs = append(errs, f.Err)
	}
	return errors.Join(errs...).Error()
}

// Unwrap gives the faults' errors, so that records.KindOf finds their kind.
func (e *Errors) Unwrap() []error {
	var errs []error
	for _, f := range e.Faults {
		errs = append(errs, f.Err)
	}
	return errs
}
