package auth

import (
	"context"
	"io"
	"sync"
	"time"
)

const memoriesMost = 4096 // values kept; a floor has some dozens

// memory is a Cabinet beside which, for a short while, is kept what was read of it: a crew that signs off at once asks who is who
// thousands of times a second, and the answer is hardly ever another one. Only recent looks there; whoever compares a secret or
// changes a value reads the cabinet itself.
//
// What is written through it counts at once. What another process writes (a device withdrawn on another server, a PIN set from
// the command line) counts when the time to keep has passed.
type memory struct {
	Cabinet
	keep time.Duration
	now  func() time.Time

	mu    sync.Mutex
	have  map[place]memo
	turns uint64 // writes so far: what was read across one is not kept
}

type place struct{ drawer, key string }

type memo struct {
	value any // decoded; whoever gets it changes nothing in it
	until time.Time
}

// moment is when a value was about to be read.
type moment struct {
	at   time.Time
	turn uint64
}

func remember(c Cabinet, keep time.Duration) *memory {
	return &memory{Cabinet: c, keep: keep, now: time.Now, have: map[place]memo{}}
}

// recall is what is kept of a place, if it may still be gone by.
func (m *memory) recall(drawer, key string) (value any, ok bool, asked moment) {
	asked.at = m.now()
	m.mu.Lock()
	defer m.mu.Unlock()
	asked.turn = m.turns
	kept, ok := m.have[place{drawer, key}]
	return kept.value, ok && asked.at.Before(kept.until), asked
}

// store keeps what was read since a moment.
func (m *memory) store(drawer, key string, value any, asked moment) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.turns != asked.turn {
		return
	}
	if len(m.have) >= memoriesMost {
		clear(m.have)
	}
	m.have[place{drawer, key}] = memo{value, asked.at.Add(m.keep)}
}

// Put writes, and forgets what was there whether or not that worked.
func (m *memory) Put(ctx context.Context, drawer, key string, value []byte, rev int64) (bool, error) {
	defer m.forget(drawer, key)
	return m.Cabinet.Put(ctx, drawer, key, value, rev)
}

// Delete takes out, here and there.
func (m *memory) Delete(ctx context.Context, drawer, key string) error {
	defer m.forget(drawer, key)
	return m.Cabinet.Delete(ctx, drawer, key)
}

func (m *memory) forget(drawer, key string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.turns++
	delete(m.have, place{drawer, key})
}

// Close closes the cabinet if it can be closed.
func (m *memory) Close() error {
	if c, ok := m.Cabinet.(io.Closer); ok {
		return c.Close()
	}
	return nil
}

// recent is read, or what it gave a short while ago. That nothing is there is never kept: whoever makes tokens up would fill the
// memory.
func recent[T any](ctx context.Context, c Cabinet, drawer, key string) (v T, there bool, err error) {
	m, ok := c.(*memory)
	if !ok {
		return read[T](ctx, c, drawer, key)
	}
	kept, ok, asked := m.recall(drawer, key)
	if ok {
		return kept.(T), true, nil
	}
	if v, there, err = read[T](ctx, c, drawer, key); there && err == nil {
		m.store(drawer, key, v, asked)
	}
	return v, there, err
}
