package auth

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"time"

	"grainward/records"
)

// Cabinet is where a Store keeps what it knows. Drawers are the constants below; a key is 1 to 160 bytes of printable
// ASCII without spaces; a value is up to 16 KiB of JSON and is never shared: neither side keeps or changes the other's
// bytes. It may be used from many goroutines, and by several processes at once when the database allows that.
//
// Errors are faults of the place, a *records.Error where it can be told which (Unavailable, ReadOnly, Full, Corrupt). What
// was written when a call returned stays written.
type Cabinet interface {
	// Get reads a value and its revision, which is never 0. Nothing there is no error: value is nil and rev 0.
	Get(ctx context.Context, drawer, key string) (value []byte, rev int64, err error)
	// Put writes a value if its revision is still rev; rev 0 means that there must be none yet. ok is false when it is
	// another, and then nothing was written. The new revision is one that this key never had, not before a Delete either.
	Put(ctx context.Context, drawer, key string, value []byte, rev int64) (ok bool, err error)
	// Delete takes a value out, whatever its revision. One that is not there is no error.
	Delete(ctx context.Context, drawer, key string) error
	// Each calls do for every value of a drawer, in the order of keys, until do gives an error, which it returns. What is
	// written meanwhile may be seen or not; do may call the cabinet.
	Each(ctx context.Context, drawer string, do func(key string, value []byte) error) error
}

const (
	inPeople   = "people"
	inTries    = "tries"
	inSignIns  = "signins"
	inDevices  = "devices"
	inCodes    = "codes"
	inLinks    = "links"
	inAccesses = "accesses"
)

const (
	mostRaces    = 200                    // writes lost to others in a row before a change is given up
	longestPause = 100 * time.Millisecond // between two of them
)

// read is one value decoded.
func read[T any](ctx context.Context, c Cabinet, drawer, key string) (v T, there bool, err error) {
	b, rev, err := c.Get(ctx, drawer, key)
	if err != nil || rev == 0 {
		return v, false, err
	}
	return v, true, decode(b, &v, drawer)
}

func decode(b []byte, v any, drawer string) error {
	if err := json.Unmarshal(b, v); err != nil {
		return &records.Error{Kind: records.Corrupt, What: "what is kept of the " + drawer + " can not be read", Do: "Set the PINs anew; no record is lost by that.", Err: err}
	}
	return nil
}

// change lets do alter a value, or make one that is not there, and writes it when do says so; if somebody else wrote
// meanwhile, do is asked again with what they wrote, after a pause: a cabinet may hold everybody up for some seconds when a writer
// died before it had written, and the pauses last longer than that.
func change[T any](ctx context.Context, c Cabinet, drawer, key string, do func(v *T, there bool) (write bool, err error)) error {
	for race := range mostRaces {
		b, rev, err := c.Get(ctx, drawer, key)
		if err != nil {
			return err
		}
		var v T
		if rev != 0 {
			if err := decode(b, &v, drawer); err != nil {
				return err
			}
		}
		if write, err := do(&v, rev != 0); err != nil || !write {
			return err
		}
		out, err := json.Marshal(v)
		if err != nil {
			return fmt.Errorf("writing %s: %w", drawer, err)
		}
		if ok, err := c.Put(ctx, drawer, key, out, rev); err != nil || ok {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause(race)):
		}
	}
	return &records.Error{Kind: records.Busy, What: "too many write to the " + drawer + " at once", Do: "Try again."}
}

// pause is how long to wait after so many lost races; others who wait as well wait otherwise.
func pause(race int) time.Duration {
	long := min(time.Millisecond<<min(race, 10), longestPause)
	return long/2 + rand.N(long/2)
}

// all reads a whole drawer.
func all[T any](ctx context.Context, c Cabinet, drawer string, do func(key string, v T) error) error {
	return c.Each(ctx, drawer, func(key string, b []byte) error {
		var v T
		if err := decode(b, &v, drawer); err != nil {
			return err
		}
		return do(key, v)
	})
}
