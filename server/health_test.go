package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/memory"
)

// sickStore is a store that does not take batches while it is told to.
type sickStore struct {
	*memory.Store
	with atomic.Pointer[records.Error]
}

func (s *sickStore) Append(ctx context.Context, b records.Batch) error {
	if err := s.with.Load(); err != nil {
		return err
	}
	return s.Store.Append(ctx, b)
}

func (s *sickStore) Ready(context.Context) error {
	if err := s.with.Load(); err != nil {
		return err
	}
	return nil
}

// fresh lets health be looked at anew.
func (w *world) freshHealth() {
	w.health.mu.Lock()
	defer w.health.mu.Unlock()
	w.health.until = time.Time{}
}

// Healthy from the first day, without a plan; then in every kind of trouble it says which in one sentence, in the asker's language, and
// nothing of where; and it is healthy again when the trouble is over.
func TestHealth(t *testing.T) {
	store := &sickStore{Store: memory.New()}
	w := worldOn(t, store, at("2026-03-02T05:00:00-05:00"))
	w.wants(w.ask(nobody, "/healthz", nil), 200, `{"status":"ok"}`)
	w.adopt()
	w.freshHealth()
	w.wants(w.ask(nobody, "/healthz", nil), 200, `{"status":"ok"}`)

	sentences := map[string]bool{}
	for kind := records.Internal; kind <= records.Unavailable; kind++ {
		store.with.Store(&records.Error{Kind: kind, What: "appending in /var/lib/quillmere/journal.db at db1.quillmere.example did not work"})
		w.freshHealth()
		a := w.ask(nobody, "/healthz", nil)
		d := w.problemOf(a, 503)
		if d.Code != "not-ready" || d.Detail == "" || a.Header.Get("Retry-After") == "" || strings.Contains(a.body, "quillmere") {
			t.Errorf("kind %d: %s", kind, a.body)
		}
		sentences[d.Detail] = true
		if es := w.problemOf(w.ask(nobody, "/healthz?lang=es", nil), 503); es.Detail == d.Detail {
			t.Errorf("kind %d: the same in Spanish: %s", kind, es.Detail)
		}
	}
	if len(sentences) < len(troubleOf)+1 {
		t.Errorf("only %d sentences: %v", len(sentences), sentences)
	}
	store.with.Store(nil)
	if a := w.ask(nobody, "/healthz", nil); a.StatusCode != 503 {
		t.Errorf("%d: what was found a moment ago is not kept", a.StatusCode)
	}
	w.freshHealth()
	w.wants(w.ask(nobody, "/healthz", nil), 200)

	w.clock.add(-time.Hour)
	w.freshHealth()
	w.wants(w.ask(nobody, "/healthz", nil), 503, "The clock of this machine stands before the newest entry.")
}

// HEAD is answered as GET is, without the body, wherever there is one to be had.
func TestHead(t *testing.T) {
	w := plant(t)
	for path, as := range map[string]role{"/healthz": nobody, "/": nobody, "/today": crew, "/api/head": crew} {
		get := w.ask(as, path, nil)
		req := httptest.NewRequest("HEAD", "http://localhost"+path, nil)
		if w.token[as] != "" {
			req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[as]})
		}
		head := w.send(req)
		if head.StatusCode != get.StatusCode || head.body != "" || head.Header.Get("Content-Type") != get.Header.Get("Content-Type") {
			t.Errorf("%s: %d and %q; GET has %d", path, head.StatusCode, head.body, get.StatusCode)
		}
	}
}

// What could not be done in the time for it is no fault: whoever asks is told to send it again.
func TestTookTooLong(t *testing.T) {
	w := plant(t)
	r := &request{lang: "en", now: w.Now()}
	out := w.problem(&route{JSON: true}, r, fmt.Errorf("appending in the journal: %w", context.DeadlineExceeded))
	if d := out.json.(details); out.status != 503 || d.Code != "too-long" || !strings.Contains(d.Detail, "Send it again") || out.after == 0 {
		t.Errorf("%d %+v", out.status, d)
	}
}

// Every kind of error has a sentence of its own for whoever watches, and a code; none of them has anything of the error's.
func TestWhyShut(t *testing.T) {
	said := map[string]records.ErrorKind{}
	for kind := range codeOf {
		if kind == records.Conflict {
			continue // nothing that opens a plant gives it
		}
		err := fmt.Errorf("opening: %w", &records.Error{Kind: kind, What: "/var/secret/plant.key can be read", Do: "mongodb://user:pw@db1/mill"})
		code, says := WhyShut(err)
		if code != codeOf[kind] || strings.ContainsAny(says, "/@") || !strings.HasPrefix(says, "It can not be opened: ") {
			t.Errorf("%s %q", code, says)
		}
		if other, twice := said[says]; twice {
			t.Errorf("%v and %v are told alike: %s", kind, other, says)
		}
		said[says] = kind
	}
}
