package book

import (
	"context"
	"time"
)

// between is how often a shared store is looked at for what other processes wrote; after a look that did not work, the
// pause doubles up to longestPause.
const (
	between      = 100 * time.Millisecond
	longestPause = 2 * time.Second
)

// follow takes in what other processes wrote, and gives the pause until the next look. It is the committer that calls it, so
// nothing is applied twice.
func (b *Book) follow(pause time.Duration) time.Duration {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	go func() { // a database that is away must not keep the book from closing
		select {
		case <-b.stop:
			cancel()
		case <-ctx.Done():
		}
	}()
	before := b.st.Size()
	err := b.catchUp(ctx, nil)
	if b.st.Size() != before { // also when it failed half way
		if published := b.publish(nil); err == nil {
			err = published
		}
	}
	if err != nil {
		since := time.Now()
		if before := b.behind.Load(); before != nil {
			since = before.at
		}
		b.behind.Store(&failure{err, since})
		return min(2*pause, longestPause)
	}
	b.behind.Store(nil)
	return between
}

// Behind says why a shared book does not know what other processes have written lately; nil when its last look at the store
// worked, and for a book that is not shared. What it shows meanwhile is the journal as it was.
func (b *Book) Behind() error {
	if f := b.behind.Load(); f != nil {
		return f.err
	}
	return nil
}

// BehindFor is for how long Behind has been saying so; 0 when it does not.
func (b *Book) BehindFor() time.Duration {
	if f := b.behind.Load(); f != nil {
		return time.Since(f.at)
	}
	return 0
}
