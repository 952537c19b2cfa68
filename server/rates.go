package server

import (
	"math"
	"sync"
	"time"
)

// rate is how many requests one asker may make: so many at once, and so many a second from then on.
type rate struct {
	burst, perSecond float64
}

// The rates are far above what a plant does with its hands: a tablet that comes back after a month sends a few hundred entries and
// photos at once, and a wall of tablets behind one address asks now and then. What is above them is a fault or an attack.
var (
	ofAddress = rate{1500, 50} // everything from one address
	ofPerson  = rate{1000, 20} // what one person sends to be written down, and what is sent from one enrolled device
	unsigned  = rate{60, 1}    // what is sent from one address by nobody who is signed in
)

const (
	askersMost = 8192 // buckets kept; those that are full again say nothing and go first
	anAddress  = 'a'
	aPerson    = 'p'
	aNobody    = 'n' // at an address
	aDevice    = 'd'
)

// asker is who asks: a kind, and its address or code.
type asker struct {
	kind byte
	name string
}

// rates are token buckets by asker, of bounded memory.
type rates struct {
	now func() time.Time
	off bool // of tests that ask thousands of times

	mu  sync.Mutex
	all map[asker]*bucket
}

type bucket struct {
	rate rate
	left float64
	at   time.Time
}

func newRates() *rates { return &rates{now: time.Now, all: map[asker]*bucket{}} }

// take takes one token. wait is how long until there is one again; 0 when it was taken.
func (x *rates) take(key asker, of rate) (wait time.Duration) {
	if x.off {
		return 0
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	now := x.now()
	b, ok := x.all[key]
	if !ok {
		if len(x.all) >= askersMost {
			x.forget(now)
		}
		b = &bucket{rate: of, left: of.burst, at: now}
		x.all[key] = b
	}
	b.fill(now)
	if b.left < 1-1e-9 { // what was waited for is there, whatever a sum of fractions came to
		return time.Duration(math.Ceil((1-b.left)/of.perSecond*1000)) * time.Millisecond
	}
	b.left--
	return 0
}

func (b *bucket) fill(now time.Time) {
	if since := now.Sub(b.at).Seconds(); since > 0 {
		b.left, b.at = min(b.rate.burst, b.left+since*b.rate.perSecond), now
	}
}

// forget makes room: buckets that are full say nothing; if there are none, the fullest half goes, which favours nobody who has
// asked too often.
func (x *rates) forget(now time.Time) {
	for share := 1.0; len(x.all) >= askersMost; share -= 0.25 {
		for key, b := range x.all {
			if b.fill(now); b.left >= share*b.rate.burst {
				delete(x.all, key)
			}
		}
	}
}

// tooMany says that somebody asks too often.
type tooMany struct{ wait time.Duration }

func (e tooMany) Error() string { return "asked too often" }

// meter counts a request, once it is known where it came from.
func (s *Server) meter(r *request) error {
	if wait := s.rates.take(asker{anAddress, r.address}, ofAddress); wait > 0 {
		return tooMany{wait}
	}
	return nil
}

// meterWriting counts what is sent to be written down, once it is known who sends it.
func (s *Server) meterWriting(r *request) error {
	if r.method == "GET" {
		return nil
	}
	key, of := asker{aNobody, r.address}, unsigned
	if r.who != nil {
		key, of = asker{aPerson, string(r.who.Code)}, ofPerson
	}
	if r.device != "" {
		if wait := s.rates.take(asker{aDevice, string(r.device)}, ofPerson); wait > 0 {
			return tooMany{wait}
		}
	}
	if wait := s.rates.take(key, of); wait > 0 {
		return tooMany{wait}
	}
	return nil
}
