package server

import (
	"bufio"
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"grainward/records"
)

// stream is a listener of the events, as a browser is one.
type stream struct {
	*world
	res   *http.Response
	lines *bufio.Scanner
	end   context.CancelFunc
}

// streams makes streams of events last, as they do outside tests, and serves.
func (w *world) streams() (base string) {
	w.events.lasts, w.events.beat = time.Hour, time.Hour
	return w.serve()
}

func (w *world) listenAs(base string, as role) *stream {
	w.Helper()
	ctx, end := context.WithCancel(w.Context())
	req, err := http.NewRequestWithContext(ctx, "GET", base+"/api/events", nil)
	if err != nil {
		w.Fatal(err)
	}
	req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[as]})
	req.AddCookie(&http.Cookie{Name: deviceCookie, Value: w.key})
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		w.Fatal(err)
	}
	w.Cleanup(func() { end(); res.Body.Close() })
	return &stream{w, res, bufio.NewScanner(res.Body), end}
}

// hears reads on until a line begins so.
func (x *stream) hears(line string) {
	x.Helper()
	for x.lines.Scan() {
		if strings.HasPrefix(x.lines.Text(), line) {
			return
		}
	}
	x.Fatalf("the stream ended and %q did not come", line)
}

func (x *stream) ends() {
	x.Helper()
	for x.lines.Scan() {
	}
	if err := x.lines.Err(); err != nil {
		x.Error(err)
	}
}

func TestEvents(t *testing.T) {
	w := plant(t)
	base := w.streams()
	a, b := w.listenAs(base, lead), w.listenAs(base, crew)
	if m := a.res.Header.Get("Content-Type"); a.res.StatusCode != 200 || m != "text/event-stream; charset=utf-8" {
		t.Fatal(a.res.StatusCode, m)
	}
	w.safe(answered{Response: a.res})
	a.hears(`data: {"size":3}`)
	b.hears(`data: {"size":3}`)
	w.wants(w.ask(crew, hygiene, signing("hank")), 303)
	a.hears("event: journal")
	a.hears("id: 4")
	a.hears(`data: {"size":4}`)
	b.hears(`data: {"size":4}`)
	w.events.stop()
	a.ends()
	b.ends()
}

// A stream is no use of a sign-in: it ends when the sign-in does, and says so.
func TestEventsEndWithTheSignIn(t *testing.T) {
	w := plant(t)
	base := w.streams()
	x := w.listenAs(base, crew)
	x.hears(`data: {"size":3}`)
	w.clock.add(29 * time.Minute)
	w.write(records.Entry{By: "nora", Fact: &records.Deviation{What: "once"}})
	x.hears(`data: {"size":4}`)
	w.clock.add(2 * time.Minute) // 31 since it was used last
	w.write(records.Entry{By: "nora", Fact: &records.Deviation{What: "twice"}})
	x.hears("event: ended")
	x.ends()

	out := w.listenAs(base, lead)
	if out.res.StatusCode != 401 || out.res.Header.Get("Content-Type") != "application/problem+json" {
		t.Error(out.res.StatusCode)
	}
}

// Signed out in another window, or gone from the plant: the stream ends at the next line that keeps it alive.
func TestEventsLookAgain(t *testing.T) {
	w := plant(t)
	w.events.lasts, w.events.beat = time.Hour, time.Millisecond
	x := w.listenAs(w.serve(), crew)
	x.hears(": here")
	x.hears(": here")
	if err := w.auth.SignOut(t.Context(), w.token[crew]); err != nil {
		t.Fatal(err)
	}
	x.hears("event: ended")
	x.ends()
}

func TestEventsAreBounded(t *testing.T) {
	w := plant(t)
	base := w.streams()
	var all []*stream
	for range listenersEach {
		x := w.listenAs(base, crew)
		x.hears(`data: {"size":3}`)
		all = append(all, x)
	}
	if x := w.listenAs(base, crew); x.res.StatusCode != 503 || x.res.Header.Get("Retry-After") == "" {
		t.Error(x.res.StatusCode, x.res.Header)
	}
	w.listenAs(base, lead).hears(`data: {"size":3}`) // somebody else has their own room
	// One that goes makes room: what is written next can not be sent to it.
	all[0].end()
	for {
		w.write(records.Entry{By: "nora", Fact: &records.Deviation{What: "once"}})
		w.events.mu.Lock()
		n := w.events.of["hank"]
		w.events.mu.Unlock()
		if n < listenersEach {
			break
		}
	}
	if x := w.listenAs(base, crew); x.res.StatusCode != 200 {
		t.Error(x.res.StatusCode)
	}
	v := newEvents()
	for i := range listenersMost {
		if _, ok := v.enter(records.PersonCode(rune('a' + i/listenersEach))); !ok {
			t.Fatal("full after", i)
		}
	}
	if _, ok := v.enter("z"); ok {
		t.Error("there is no end of listeners")
	}
}

// A page that refreshes itself does not keep its sign-in from ending; one that somebody opens does.
func TestRefreshingDoesNotProlong(t *testing.T) {
	w := plant(t)
	look := func(quiet bool) answered {
		req := newGet("/findings", w.token[lead])
		if quiet {
			req.Header.Set(quietHeader, "1")
		}
		return w.send(req)
	}
	w.clock.add(20 * time.Minute)
	w.wants(look(true), 200)
	w.clock.add(11 * time.Minute)
	if got := look(true); got.StatusCode != 303 {
		t.Errorf("still signed in: %d", got.StatusCode)
	}
	w = plant(t)
	w.clock.add(20 * time.Minute)
	w.wants(look(false), 200)
	w.clock.add(11 * time.Minute)
	w.wants(look(true), 200)
}
