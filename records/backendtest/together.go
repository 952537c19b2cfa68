package backendtest

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"grainward/records"
)

func oneWinner(t *testing.T, o Opened) { race(t, []records.Store{o.Store}) }

func oneWinnerBeside(t *testing.T, o Opened) {
	if o.Beside == nil {
		t.Skipf("backend %s has one writing process at a time", o.Name)
	}
	second := o.Beside(t)
	defer closeStore(t, second)
	race(t, []records.Store{o.Store, second})
}

// race lets many goroutines append after the same position, round after round, and looks for exactly one that
// succeeded, whole, while every other was told of the conflict. Batches differ in length, so that a loser that left a
// tail behind shows.
func race(t *testing.T, stores []records.Store) {
	const rounds, racers = 20, 12
	var want []records.Row
	var heads []checkpoint
	for round := range rounds {
		errs := make([]error, racers)
		batches := make([][]records.Row, racers)
		var start, done sync.WaitGroup
		start.Add(1)
		for i := range racers {
			batches[i] = rowsFrom(10000*round+100*i, 1+(i+round)%5)
			done.Go(func() {
				start.Wait()
				errs[i] = stores[i%len(stores)].Append(t.Context(), records.Batch{After: records.Position(len(want)), Rows: batches[i],
					Checkpoint: fmt.Appendf(nil, "round %d racer %d", round, i)})
			})
		}
		start.Done()
		done.Wait()
		winner := -1
		for i, err := range errs {
			switch {
			case err == nil && winner < 0:
				winner = i
			case err == nil:
				t.Fatalf("round %d: both %d and %d succeeded", round, winner, i)
			default:
				wantKind(t, fmt.Sprintf("round %d, racer %d", round, i), err, records.Conflict)
			}
		}
		if winner < 0 {
			t.Fatalf("round %d: nobody succeeded", round)
		}
		want = append(want, batches[winner]...)
		heads = append(heads, checkpoint{len(want), fmt.Sprintf("round %d racer %d", round, winner)})
	}
	for _, s := range stores {
		wantJournal(t, s, want)
		wantCheckpoints(t, s, heads)
	}
}

// readWhileAppending checks that each reading is the journal as of one moment during the call: gapless, whole
// batches, nothing less than what was acknowledged before it began.
func readWhileAppending(t *testing.T, o Opened) {
	const batches, size, readers = 60, 7, 3
	var wg sync.WaitGroup
	readings, done := make(chan struct{}), make(chan struct{})
	wg.Go(func() {
		defer close(done)
		for b := range batches {
			if err := o.Store.Append(t.Context(), records.Batch{After: records.Position(b * size), Rows: rowsFrom(b*size, size)}); err != nil {
				t.Errorf("appending batch %d: %v", b, err)
				return
			}
			if _, ok := <-readings; !ok { // a reading ends for each batch, while the other readers are in the midst of theirs
				return
			}
		}
	})
	var reading sync.WaitGroup
	for range readers {
		reading.Go(func() {
			for {
				if err := readMoment(t.Context(), o.Store, size); err != nil {
					t.Error(err)
					return
				}
				select {
				case readings <- struct{}{}:
				case <-done:
					return
				}
			}
		})
	}
	reading.Wait()
	close(readings)
	wg.Wait()
	if !t.Failed() {
		wantJournal(t, o.Store, rowsFrom(0, batches*size))
	}
}

func readMoment(ctx context.Context, s records.Store, size int) error {
	atLeast, err := s.Head(ctx)
	if err != nil {
		return err
	}
	n := 0
	err = s.Read(ctx, 0, func(at records.Position, r records.Row) error {
		if want := rowAt(n); int(at) != n || string(r.Bytes) != string(want.Bytes) || r.Leaf != want.Leaf {
			return fmt.Errorf("reading while others append: position %d with %.60q where %d was due", at, r.Bytes, n)
		}
		n++
		return nil
	})
	if err != nil {
		return err
	}
	if n < int(atLeast) || n%size != 0 {
		return fmt.Errorf("reading while others append: %d rows, of batches of %d, when at least %d were acknowledged", n, size, atLeast)
	}
	return nil
}

// appendWhileReading calls the store from inside visit: neither may wait for the other.
func appendWhileReading(t *testing.T, o Opened) {
	mustAppend(t, o.Store, 0, rowsFrom(0, 3), "")
	seen := 0
	err := o.Store.Read(t.Context(), 0, func(at records.Position, r records.Row) error {
		seen++
		if at >= 3 {
			return nil // a row appended meanwhile: may be seen
		}
		wantRows(t, readAll(t, o.Store, int(at))[:1], []records.Row{r})
		mustAppend(t, o.Store, 3+int(at), rowsFrom(3+int(at), 1), "")
		return nil
	})
	if err != nil || seen < 3 || seen > 6 {
		t.Fatalf("saw %d rows, error %v", seen, err)
	}
	wantJournal(t, o.Store, rowsFrom(0, 6))
}

// closeWhileAppending: each append either succeeded, and then is there, or returned an error.
func closeWhileAppending(t *testing.T, o Opened) {
	var wg sync.WaitGroup
	acknowledged := 0
	running := make(chan struct{})
	wg.Go(func() {
		for {
			if err := o.Store.Append(t.Context(), records.Batch{After: records.Position(acknowledged), Rows: rowsFrom(acknowledged, 1)}); err != nil {
				if acknowledged < 5 {
					t.Errorf("appending before Close: %v", err)
					close(running)
				}
				return
			}
			if acknowledged++; acknowledged == 5 {
				close(running)
			}
		}
	})
	<-running
	closeStore(t, o.Store)
	wg.Wait()
	if o.Reopen == nil {
		return
	}
	s := o.Reopen(t)
	defer closeStore(t, s)
	if head := mustHead(t, s); head < acknowledged {
		t.Fatalf("%d rows after reopening, %d were acknowledged", head, acknowledged)
	}
	wantJournal(t, s, rowsFrom(0, mustHead(t, s)))
}
