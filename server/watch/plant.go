package watch

import (
	"strconv"
	"sync/atomic"
	"time"
)

// Plant is what is counted of one plant. A nil Plant counts nothing, so that nobody who tells it things has to ask.
type Plant struct {
	board *Board
	name  string
	looks atomic.Pointer[Looks]
	shut  atomic.Pointer[shut]
}

// shut is why a plant can not be opened.
type shut struct{ kind, says string }

// Show says how a plant is looked at. Before it, the plant is counted as not ready.
func (p *Plant) Show(l Looks) {
	if p != nil {
		p.looks.Store(&l)
		p.shut.Store(nil)
	}
}

// Shut says that a plant can not be opened: the kind of the error, which is a label of its figures, and a sentence that names nothing but the
// trouble. It lasts until it is shown, or shut for another reason.
func (p *Plant) Shut(kind, says string) {
	if p != nil {
		p.shut.Store(&shut{kind, says})
	}
}

// Asked counts a request: the row of the table that answered, never the path that was asked for.
func (p *Plant) Asked(method, route string, status int, took time.Duration) {
	if p == nil {
		return
	}
	p.board.requests.WithLabelValues(p.name, method, route, strconv.Itoa(status/100)+"xx").Inc()
	p.board.answers.WithLabelValues(p.name, route).Observe(took.Seconds())
}

// Refused counts an answer that was an error, by the code it bears.
func (p *Plant) Refused(code string) {
	if p != nil {
		p.board.refusals.WithLabelValues(p.name, code).Inc()
	}
}

// Secret counts a PIN or password that was given.
func (p *Plant) Secret(outcome string) {
	if p != nil {
		p.board.signIns.WithLabelValues(p.name, outcome).Inc()
	}
}

// Appended counts a batch. kind is of the error when the store did not take it, else empty.
func (p *Plant) Appended(entries int, took time.Duration, kind string) {
	switch {
	case p == nil:
	case kind != "":
		p.board.failures.WithLabelValues(p.name, kind).Inc()
	default:
		p.board.batches.WithLabelValues(p.name).Observe(float64(entries))
		p.board.commits.WithLabelValues(p.name).Observe(took.Seconds())
	}
}
