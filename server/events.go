package server

import (
	"bufio"
	"context"
	"fmt"
	"sync"
	"time"

	"grainward/records"
)

// events tells pages that are open that the journal grew (server-sent events, WHATWG HTML 9.2). What grew is not said: the page
// asks for itself again, and gets what its reader may see.
type events struct {
	beat  time.Duration // a line is sent at least this often, and the sign-in is looked at again
	pause time.Duration // between two events: what is written meanwhile is one
	lasts time.Duration // a browser then comes back by itself; shorter than the time the framework gives one answer
	done  chan struct{} // closed when the server stops
	once  sync.Once

	mu  sync.Mutex
	all int
	of  map[records.PersonCode]int
}

const (
	listenersMost = 64 // of everybody
	listenersEach = 8  // of one person
)

func newEvents() *events {
	return &events{beat: 15 * time.Second, pause: time.Second, lasts: 100 * time.Second, done: make(chan struct{}), of: map[records.PersonCode]int{}}
}

// stop ends every stream. It may be called again.
func (v *events) stop() { v.once.Do(func() { close(v.done) }) }

// open is how many listen.
func (v *events) open() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.all
}

// enter counts a listener in; leave is to be called when it goes. ok is false when there are too many.
func (v *events) enter(who records.PersonCode) (leave func(), ok bool) {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.all >= listenersMost || v.of[who] >= listenersEach {
		return nil, false
	}
	v.all++
	v.of[who]++
	return func() {
		v.mu.Lock()
		defer v.mu.Unlock()
		v.all--
		if v.of[who]--; v.of[who] == 0 {
			delete(v.of, who)
		}
	}, true
}

// listen answers with a stream that says how large the journal is, now and whenever it has grown.
func (s *Server) listen(r *request) (reply, error) {
	leave, ok := s.events.enter(r.who.Code)
	if !ok {
		return reply{}, errTooManyOpen
	}
	return reply{media: "text/event-stream; charset=utf-8", stream: func(w *bufio.Writer) {
		defer leave()
		// The browser has gone, most likely; there is nobody to tell.
		_ = s.tell(w, shown{r.token, r.key}, r.who.Code)
	}}, nil
}

// shown is what a browser shows of itself: its sign-in, and the device it is.
type shown struct{ token, key string }

// growth is what a stream tells of.
type growth struct {
	size  func() records.Position // of what is shown
	grown func() <-chan struct{}  // closed or sent on when it may have grown; asked for before the size is
	still func() bool             // whether whoever reads may still
}

func (s *Server) tell(w *bufio.Writer, by shown, who records.PersonCode) error {
	return s.events.tell(w, growth{func() records.Position { return s.Book.View().Head.Size }, s.Book.Changed, func() bool { return s.stillMay(by, who) }})
}

// tell writes events until the server stops, the time of one answer is over, the sign-in ends, or nobody reads any more.
func (v *events) tell(w *bufio.Writer, of growth) error {
	beat, over := time.NewTicker(v.beat), time.NewTimer(v.lasts)
	defer beat.Stop()
	defer over.Stop()
	send := func(format string, args ...any) error {
		if _, err := fmt.Fprintf(w, format, args...); err != nil {
			return err
		}
		return w.Flush()
	}
	if err := send("retry: 2000\n\n"); err != nil {
		return err
	}
	ended := func() error { return send("event: ended\ndata: {}\n\n") }
	if !of.still() {
		return ended()
	}
	for told := records.Position(-1); ; {
		grown := of.grown()
		if size := of.size(); size != told {
			if err := send("event: journal\nid: %d\ndata: {\"size\":%d}\n\n", size, size); err != nil {
				return err
			}
			told = size
			select {
			case <-time.After(v.pause):
			case <-over.C:
				return nil
			case <-v.done:
				return nil
			}
		}
		select {
		case <-grown:
		case <-beat.C:
			if err := send(": here\n\n"); err != nil {
				return err
			}
		case <-over.C:
			return nil
		case <-v.done:
			return nil
		}
		if !of.still() {
			return ended()
		}
	}
}

// stillMay asks who is signed in as for a new request, but does not count as use.
func (s *Server) stillMay(by shown, who records.PersonCode) bool {
	ctx, cancel := context.WithTimeout(context.Background(), askedTime)
	defer cancel()
	r := &request{ctx: ctx, token: by.token, key: by.key, now: s.Now(), quiet: true}
	return s.identify(r) == nil && r.who != nil && r.who.Code == who && r.role >= crew
}
