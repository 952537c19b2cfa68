package book_test

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"grainward/records"
	"grainward/records/book/booktest"
	"grainward/records/memory"
)

// What one server writes is seen on another that nobody asks for anything.
func TestFollows(t *testing.T) {
	store := memory.New()
	signer, _ := booktest.Key(t)
	a, clock := booktest.OpenAs(t, store, signer, noon.Add(-time.Hour))
	must(a.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	b, _ := booktest.OpenAs(t, shared{store}, signer, noon)
	for range 5 {
		e := scrub(noon)
		must(a.Admit(context.Background(), e))
		for {
			grown := b.Changed()
			if _, there := b.View().State.Find(e.ID); there {
				break
			}
			<-grown // hangs when it does not follow
		}
	}
	if a, b := a.View().Head, b.View().Head; a.Size != b.Size || a.Root != b.Root {
		t.Errorf("heads %v and %v", a, b)
	}
}

// Nothing is refused for want of what another server has just written.
func TestRefusesByTheLatest(t *testing.T) {
	store := memory.New()
	signer, _ := booktest.Key(t)
	a, clock := booktest.OpenAs(t, store, signer, noon.Add(-time.Hour))
	b, other := booktest.OpenAs(t, shared{store}, signer, noon)
	must(a.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	other.At(noon)
	must(b.Admit(context.Background(), scrub(noon))) // at once, by the plan adopted on the other
	for range 20 {
		d := scrub(noon)
		d.Kind, d.Meaning, d.Fact = records.KindDeviation, records.Performed, &records.Deviation{What: "dust"}
		must(a.Admit(context.Background(), d))
		answer := scrub(noon)
		answer.Kind, answer.Fact = records.KindAnswer, &records.Answer{Deviation: d.ID, Cause: "x", Action: "x", Lots: "x", Prevention: "x", Closes: true}
		must(b.Admit(context.Background(), answer))
	}
}

// away is a store that can not be read for a while.
type away struct {
	*memory.Store
	gone   atomic.Bool
	looked chan struct{}
}

func (a *away) Head(ctx context.Context) (records.Position, error) {
	if a.gone.Load() {
		select {
		case a.looked <- struct{}{}:
		default:
		}
		return 0, &records.Error{Kind: records.Unavailable, What: "away"}
	}
	return a.Store.Head(ctx)
}

func (a *away) Close() error { return nil }

// A store that is away is said to be, what was known stays, and it goes on by itself when the store is back.
func TestFollowsAgain(t *testing.T) {
	store := memory.New()
	signer, _ := booktest.Key(t)
	a, clock := booktest.OpenAs(t, store, signer, noon.Add(-time.Hour))
	must(a.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	seen := &away{Store: store, looked: make(chan struct{}, 1)}
	b, _ := booktest.OpenAs(t, seen, signer, noon)
	seen.gone.Store(true)
	<-seen.looked
	<-seen.looked // by the second look, the first is noted
	if err := b.Behind(); records.KindOf(err) != records.Unavailable {
		t.Errorf("behind: %v", err)
	}
	if b.View().Head.Size != 1 {
		t.Error("what was known is gone")
	}
	grown := b.Changed()
	must(a.Admit(context.Background(), scrub(noon)))
	seen.gone.Store(false)
	<-grown
	must(b.Admit(context.Background(), scrub(noon))) // after the look that brought the view
	if err := b.Behind(); err != nil {
		t.Errorf("still behind: %v", err)
	}
}

// outrun is a store to which somebody else always writes first.
type outrun struct {
	*away
	first func()
}

func (o *outrun) Append(ctx context.Context, b records.Batch) error {
	o.first()
	return o.away.Append(ctx, b)
}

// Another server was quicker, and then what it wrote can not be read: the database is away, which is no fault of what was sent. (A device
// keeps what is refused as a conflict until somebody looks at it.)
func TestOutrunAndAway(t *testing.T) {
	store := memory.New()
	signer, _ := booktest.Key(t)
	a, clock := booktest.OpenAs(t, store, signer, noon.Add(-time.Hour))
	must(a.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
	clock.At(noon)
	seen := &outrun{away: &away{Store: store}}
	b, _ := booktest.OpenAs(t, seen, signer, noon)
	seen.first = func() {
		must(a.Admit(context.Background(), scrub(noon)))
		seen.gone.Store(true)
	}
	e := scrub(noon)
	if _, err := b.Admit(context.Background(), e); records.KindOf(err) != records.Unavailable {
		t.Errorf("outrun, and then away: %v", err)
	}
	seen.first = func() {}
	seen.gone.Store(false)
	if got := must(b.Admit(context.Background(), e)); got[0].Position != 2 || got[0].Already {
		t.Errorf("sent again: %+v", got)
	}
}

// Other servers are quicker for as long as anybody waits: whoever sent something is told to send it again, and not that it is at fault.
func TestOutrunForLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := memory.New()
		signer, _ := booktest.Key(t)
		a, clock := booktest.OpenAs(t, store, signer, noon.Add(-time.Hour))
		must(a.Admit(context.Background(), adoption(planText, noon.Add(-time.Hour))))
		clock.At(noon)
		seen := &outrun{away: &away{Store: store}}
		b, _ := booktest.OpenAs(t, seen, signer, noon)
		times := 0
		seen.first = func() {
			must(a.Admit(context.Background(), scrub(noon)))
			time.Sleep(time.Second)
			times++
		}
		if _, err := b.Admit(context.Background(), scrub(noon)); records.KindOf(err) != records.Unavailable || times < 10 {
			t.Errorf("outrun %d times: %v", times, err)
		}
	})
}
