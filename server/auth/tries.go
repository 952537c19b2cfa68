package auth

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"time"

	"grainward/records"
)

// limit is how many wrong tries are borne.
type limit struct {
	free   int           // that cost no wait
	lock   int           // that lock
	forget time.Duration // after which one is forgotten; 0: only a right one clears them
}

var (
	ofPerson = limit{free: 3, lock: 10}
	ofPlace  = limit{free: 9, lock: 30, forget: 5 * time.Minute}
)

const (
	firstWait   = 15 * time.Second
	longestWait = 15 * time.Minute
	firstLock   = time.Hour // the next lock is twice as long
	longestLock = 24 * time.Hour
	forgotten   = 24 * time.Hour // after which a count that nobody added to is nothing
)

// count is the wrong tries of a person or place.
type count struct {
	Tries     int             `json:"tries"`
	Locks     int             `json:"locks,omitzero"` // how often they locked
	NotBefore records.Instant `json:"notBefore,omitzero"`
	At        records.Instant `json:"at"` // of the last
}

func onDevices(p records.PersonCode) string { return "device:" + plainCode(string(p)) }
func elsewhere(p records.PersonCode) string { return "elsewhere:" + plainCode(string(p)) }

// plainCode is a code as part of a key. What is no code is hashed: a stranger may send anything.
func plainCode(code string) string {
	if code != "" && records.CheckCode(code) == nil {
		return code
	}
	sum := sha256.Sum256([]byte(code))
	return "?" + hex.EncodeToString(sum[:8])
}

// putBack moves a count with a clock that was set back: what is left of a wait stays, and it does not last until the time comes
// again at which the clock was.
func (n *count) putBack(now records.Instant) (moved bool) {
	if !ahead(n.At, now) {
		return false
	}
	if n.NotBefore != 0 {
		n.NotBefore = now.Add(n.NotBefore.Sub(n.At))
	}
	n.At = now
	return true
}

// waiting says whether the next try is not taken yet.
func (n *count) waiting(now records.Instant, l limit) (a Answer, yes bool) {
	if n.NotBefore <= now {
		return Answer{}, false
	}
	a = Answer{Outcome: Wait, Until: n.NotBefore}
	if n.Tries >= l.lock {
		a.Outcome = Locked
	}
	return a, true
}

// add counts one more. Only when none is waited for.
func (n *count) add(now records.Instant, l limit) {
	switch {
	case now >= max(n.At, n.NotBefore).Add(forgotten):
		*n = count{}
	case l.forget > 0: // not while it waits: whoever tries at each end of a wait is to be locked in the end
		n.Tries = max(0, n.Tries-int(max(0, now.Sub(max(n.At, n.NotBefore)))/l.forget))
	}
	if n.Tries >= l.lock { // the lock has run out: slow again, but not at once locked
		n.Tries = l.free
	}
	n.Tries++
	n.At, n.NotBefore = now, 0
	switch over := n.Tries - l.free; {
	case n.Tries >= l.lock:
		n.NotBefore = now.Add(min(longestLock, firstLock<<min(n.Locks, 10)))
		n.Locks++
	case over > 0:
		n.NotBefore = now.Add(min(longestWait, firstWait<<min(over-1, 10)))
	}
}

// reserve counts a try as a wrong one before it is known to be; ok is false when it is not to be compared.
func (s *Store) reserve(ctx context.Context, key string, l limit) (a Answer, ok bool, err error) {
	err = change(ctx, s.in, inTries, key, func(n *count, _ bool) (bool, error) {
		now := s.now()
		moved := n.putBack(now)
		var wait bool
		if a, wait = n.waiting(now, l); wait {
			ok = false
			return moved, nil
		}
		n.add(now, l)
		a, ok = Answer{Outcome: Wrong, Until: n.NotBefore}, true
		return true, nil
	})
	return a, ok && err == nil, err
}

// peek says whether the next try of a person or place is not taken yet.
func (s *Store) peek(ctx context.Context, key string, l limit) (a Answer, wait bool, err error) {
	n, there, err := read[count](ctx, s.in, inTries, key)
	if err == nil && there && ahead(n.At, s.now()) {
		err = change(ctx, s.in, inTries, key, func(v *count, there bool) (bool, error) {
			moved := there && v.putBack(s.now())
			n = *v
			return moved, nil
		})
	}
	if err != nil {
		return Answer{}, false, err
	}
	a, wait = n.waiting(s.now(), l)
	return a, wait, nil
}

// giveBack takes one try of a place back that was right after all, or not compared.
func (s *Store) giveBack(ctx context.Context, key string) error {
	return change(ctx, s.in, inTries, key, func(n *count, there bool) (bool, error) {
		if !there || n.Tries == 0 {
			return false, nil
		}
		n.Tries--
		n.NotBefore = 0
		return true, nil
	})
}
