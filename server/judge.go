package server

import (
	"sync"
	"sync/atomic"

	"grainward/audit"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/lots"
	"grainward/records/state"
)

// fresh is how long a report of the present is good for while nothing is written, in milliseconds.
const fresh = 3000

// judge shares one auditor among requests: a report of the present is made at most once for each version of the
// journal and each few seconds, however many ask.
type judge struct {
	mu      sync.Mutex
	auditor audit.Auditor
	last    *audit.Report
	made    int // how many reports, for tests
	seen    atomic.Pointer[judged]
}

// judged is what is counted of the last report, for whoever watches the machine and must not wait for the next.
type judged struct {
	at     records.Instant
	counts map[string]int
}

func countOf(r *audit.Report) *judged {
	n := map[string]int{}
	for s := audit.Note; s <= audit.Critical; s++ {
		n[s.String()] = 0
	}
	for i := range r.Findings {
		n[r.Findings[i].Severity.String()]++
	}
	return &judged{r.At, n}
}

// report is what the records show now: everything that was written when it was asked for. Those who ask while one is being made share the next,
// however many entries come meanwhile; else a busy floor would have each of them wait for one of their own.
func (j *judge) report(b *book.Book, now func() records.Instant) *audit.Report {
	return j.since(b.View().State.Version(), b, now)
}

// since is a report of at least the version that was there when somebody asked. The view is taken under the lock, so the auditor only ever
// sees the journal grow.
func (j *judge) since(asked uint64, b *book.Book, now func() records.Instant) *audit.Report {
	j.mu.Lock()
	defer j.mu.Unlock()
	st, at := b.View().State, now()
	if j.last != nil && j.last.State.Version() >= asked && at >= j.last.At && at-j.last.At < fresh {
		return j.last
	}
	j.last = j.auditor.At(st, at)
	j.made++
	j.seen.Store(countOf(j.last))
	return j.last
}

// floors are the floors at moments, of one state of the journal. The auditor left marks from which those of the past are folded; that is
// done when others may have the auditor again.
func (j *judge) floors(moments ...records.Instant) (st *state.State, floors []*lots.Floor) {
	j.mu.Lock()
	st = j.last.State
	folds := make([]func() *lots.Floor, len(moments))
	for i, at := range moments {
		if folds[i] = func() *lots.Floor { return audit.Floor(st, at) }; at <= j.last.At {
			folds[i] = j.auditor.Floor(at)
		}
	}
	j.mu.Unlock()
	for _, fold := range folds {
		floors = append(floors, fold())
	}
	return st, floors
}

func (s *Server) report() *audit.Report { return s.judge.report(s.Book, s.Now) }
