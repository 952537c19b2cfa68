package book_test

import (
	"context"
	"sync"
	"testing"

	"grainward/records"
)

// Whoever asks Changed before the view is told of everything written after that view, however many listen and write.
func TestChanged(t *testing.T) {
	b, clock, _ := open(t)
	const listeners, writers, each = 8, 4, 25
	want := b.View().Head.Size + writers*each
	var all sync.WaitGroup
	for range listeners {
		all.Go(func() {
			seen := records.Position(0)
			for seen < want {
				grown := b.Changed()
				size := b.View().Head.Size
				if size < seen {
					t.Errorf("the journal shrank from %d to %d", seen, size)
				}
				if seen = size; seen < want {
					<-grown // a wake-up that is missed hangs the test
				}
			}
		})
	}
	for range writers {
		all.Go(func() {
			for range each {
				if _, err := b.Admit(context.Background(), scrub(clock.Now())); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
}

func TestChangedOnlyWhenItGrows(t *testing.T) {
	b, clock, _ := open(t)
	e := scrub(clock.Now())
	if _, err := b.Admit(context.Background(), e); err != nil {
		t.Fatal(err)
	}
	grown := b.Changed()
	if _, err := b.Admit(context.Background(), e); err != nil { // the same thing again
		t.Fatal(err)
	}
	e = records.Entry{ID: records.NewEntryID(), Kind: records.KindDeviation, Fact: &records.Deviation{}}
	if _, err := b.Admit(context.Background(), e); err == nil {
		t.Fatal("an empty deviation was taken")
	}
	select {
	case <-grown:
		t.Error("nothing was written and it says that the journal grew")
	default:
	}
	if _, err := b.Admit(context.Background(), scrub(clock.Now())); err != nil {
		t.Fatal(err)
	}
	<-grown
}
