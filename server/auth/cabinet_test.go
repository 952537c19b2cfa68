package auth

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"grainward/records"
)

// heldUp is a cabinet in which a writer died in its turn: until a moment nobody else writes.
type heldUp struct {
	Cabinet
	until  time.Time
	values map[string][]byte
}

func (c *heldUp) Get(_ context.Context, drawer, key string) ([]byte, int64, error) {
	return c.values[drawer+"/"+key], int64(len(c.values[drawer+"/"+key])), nil
}

func (c *heldUp) Put(_ context.Context, drawer, key string, value []byte, _ int64) (bool, error) {
	if time.Now().Before(c.until) {
		return false, nil
	}
	c.values[drawer+"/"+key] = value
	return true, nil
}

func (c *heldUp) Delete(context.Context, string, string) error { return nil }

func (c *heldUp) Each(context.Context, string, func(string, []byte) error) error { return nil }

// A server that was killed while it set a PIN makes the next try wait, and not fail.
func TestWriterDied(t *testing.T) {
	for long, kind := range map[time.Duration]records.ErrorKind{10 * time.Second: -1, time.Hour: records.Busy} {
		synctest.Test(t, func(t *testing.T) {
			begun := time.Now()
			c := &heldUp{until: begun.Add(long), values: map[string][]byte{}}
			s, err := New(c, Options{Now: func() records.Instant { return records.InstantOf(time.Now()) }, Params: cheap})
			if err != nil {
				t.Fatal(err)
			}
			err = s.SetPIN(t.Context(), "nora", "", "4071")
			if kind == -1 && (err != nil || c.values["people/nora"] == nil) || kind != -1 && records.KindOf(err) != kind {
				t.Errorf("held up for %s: after %s %v", long, time.Since(begun), err)
			}
		})
	}
}
