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

// stretch is how many rows are hashed and read in one go, by one core.
const stretch = 256

// mostGone is how many positions in a row are tried before the rest of a damaged store is given up, and someGone how many before it is
// asked where it goes on, if it can say.
const (
	mostGone = 10_000
	someGone = 4
)

// piece is the next of what a store gave: rows, or positions whose rows it could not give, and why.
type piece struct {
	from, end records.Position // end is the position after the last
	rows      []records.Row
	found     []looked
	looked    chan struct{} // closed when found is there
	why       string
}

// looked is what one row turned out to be.
type looked struct {
	leaf  ledger.Hash
	entry records.Entry
	err   error
}

// look hashes and reads the rows.
func (p *piece) look() {
	p.found = make([]looked, len(p.rows))
	for i := range p.rows {
		p.found[i].leaf = leafHash(p.rows[i].Bytes)
		p.found[i].entry, p.found[i].err = records.Parse(p.rows[i].Bytes)
	}
	close(p.looked)
}

// rows reads every row up to the limit: one goroutine has the store give them, every core looks at stretches of them, and this one
// holds what was found against the rest, in order. What is under way is bounded.
func (r *reading) rows(ctx context.Context) error {
	cores := runtime.GOMAXPROCS(0)
	todo, inOrder := make(chan *piece, 2*cores), make(chan *piece, 2*cores)
	var workers sync.WaitGroup
	for range cores {
		workers.Go(func() {
			for p := range todo {
				p.look()
			}
		})
	}
	s := &source{store: r.store, head: r.head, limit: r.limit, stretch: r.stretch, hand: func(p *piece) {
		if p.rows != nil {
			p.looked = make(chan struct{})
			todo <- p
		}
		inOrder <- p
	}}
	var err error
	go func() {
		defer close(inOrder)
		defer close(todo)
		err = s.read(ctx)
	}()
	for p := range inOrder {
		r.taken(p)
	}
	workers.Wait()
	r.next = s.next
	return err
}

// taken holds a piece against the rest.
func (r *reading) taken(p *piece) {
	if p.rows == nil {
		r.gap(p.from, p.end-1, p.why)
		return
	}
	<-p.looked
	for i, l := range p.found {
		r.take(p.from+records.Position(i), l, p.rows[i].Leaf)
	}
	r.report.Entries = p.end
	if r.progress != nil {
		r.progress(p.end, r.limit)
	}
}

// source has a store give its rows, and hands them on in pieces.
type source struct {
	store       records.Store
	head, limit records.Position // what the store says it holds; where to stop
	next        records.Position // the next position to be visited
	waiting     []records.Row    // visited and not handed on yet; the last is at next-1
	stretch     int
	hand        func(*piece)
}

var errEnough = errors.New("enough")

// read goes to the limit. Past a row that can not be read it goes on with the next.
func (s *source) read(ctx context.Context) error {
	gone := records.Position(0) // positions in a row that could not be read
	for s.next < s.limit {
		before := s.next
		err := s.store.Read(ctx, s.next, s.visit)
		s.flush()
		if err != nil && !errors.Is(err, errEnough) && records.KindOf(err) != records.Corrupt {
			return err
		}
		if s.next > before {
			gone = 0
		}
		switch {
		case err == nil && s.next < s.head:
			s.missing(s.head, fmt.Sprintf("the store says it holds %d entries and gives none from position %d on", s.head, s.next))
			return nil
		case err == nil || errors.Is(err, errEnough):
			return nil
		case gone == mostGone:
			s.missing(max(s.head, s.next+1), fmt.Sprintf("nothing can be read from position %d on: %s", s.next, firstLine(err)))
			return nil
		}
		s.missing(s.next+1, firstLine(err))
		if gone++; gone%someGone == 0 {
			if err := s.resume(ctx, firstLine(err)); err != nil {
				return err
			}
		}
	}
	return nil
}

// resume goes on to where the store has something again. Each position that is asked for behind a gap can cost it a look at all it has.
func (s *source) resume(ctx context.Context, why string) error {
	store, can := s.store.(records.Resumer)
	if !can || s.next >= s.head {
		return nil
	}
	at, there, err := store.Resume(ctx, s.next)
	switch {
	case records.KindOf(err) == records.Corrupt:
		return nil // it can not say after all
	case err != nil:
		return err
	case !there:
		at = s.head
	}
	if at = min(at, s.head); at > s.next {
		s.missing(at, why)
	}
	return nil
}

func (s *source) visit(at records.Position, row records.Row) error {
	if at != s.next {
		return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d is missing", s.next)}
	}
	if at >= s.limit {
		return errEnough
	}
	s.next++
	if s.waiting = append(s.waiting, row); len(s.waiting) == s.stretch {
		s.flush()
	}
	return nil
}

// flush hands on the rows that wait.
func (s *source) flush() {
	if len(s.waiting) > 0 {
		s.hand(&piece{from: s.next - records.Position(len(s.waiting)), end: s.next, rows: s.waiting})
		s.waiting = nil
	}
}

// missing hands on that there are no rows from the next position until end.
func (s *source) missing(end records.Position, why string) {
	s.hand(&piece{from: s.next, end: end, why: why})
	s.next = end
}
