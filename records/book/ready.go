package book

import (
	"context"
	"errors"
	"fmt"
	"time"

	"grainward/records"
)

// failure is a batch that the store did not take.
type failure struct {
	err error
	at  time.Time
}

// failureCounts is how long a batch that was not taken counts as trouble when nothing was written since: the disk may have been
// put right, and nobody signs anything at night.
const failureCounts = time.Minute

// noted keeps how the newest batch went. That another process was quicker is no trouble.
func (b *Book) noted(rows int, took time.Duration, err error) {
	switch {
	case err == nil:
		b.failed.Store(nil)
	case !records.IsConflict(err):
		b.failed.Store(&failure{err, time.Now()})
	}
	if b.told != nil {
		b.told(rows, took, err)
	}
}

// ErrClock is that this machine's clock stands before the newest entry: what is written now would seem to be older than what is
// there.
var ErrClock = errors.New("the clock stands before the newest entry")

// Ready says what stands against writing an entry now; nil when nothing is known to. It writes nothing.
func (b *Book) Ready(ctx context.Context) error {
	if b.signer == "" {
		return readOnly()
	}
	select {
	case <-b.stop:
		return closed()
	default:
	}
	if err := b.Behind(); err != nil {
		return err
	}
	if f := b.failed.Load(); f != nil && time.Since(f.at) < failureCounts {
		return f.err
	}
	if st := b.View().State; st.Size() > 0 {
		if newest := st.First(st.Size() - 1).Recorded; newest > b.now().Add(ahead) {
			return &records.Error{Kind: records.Unavailable, What: fmt.Sprintf("the newest entry was written at %s, and it is %s by the clock here", newest, b.now()),
				Do: "set this machine's clock right", Err: ErrClock}
		}
	}
	if s, ok := b.store.(records.Ready); ok {
		return s.Ready(ctx)
	}
	_, err := b.store.Head(ctx)
	return err
}

// Footprint is what the store takes up; ok is false for a store that does not know.
func (b *Book) Footprint(ctx context.Context) (f records.Footprint, ok bool, err error) {
	s, ok := b.store.(records.Sized)
	if !ok {
		return f, false, nil
	}
	f, err = s.Footprint(ctx)
	return f, true, err
}
