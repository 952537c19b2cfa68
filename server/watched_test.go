package server

import (
	"net/http/httptest"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"grainward/server/watch"
)

// scraped is what a board shows of a name with labels; -1 when it does not.
func scraped(t *testing.T, b *watch.Board, name, labels string) float64 {
	t.Helper()
	res := httptest.NewRecorder()
	b.Handler().ServeHTTP(res, httptest.NewRequest("GET", "/metrics", nil))
	m := regexp.MustCompile(`(?m)^grainward_` + regexp.QuoteMeta(name+"{"+labels+"}") + ` (\S+)$`).FindStringSubmatch(res.Body.String())
	if m == nil {
		return -1
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// What was done is what is counted; no label is anything that was asked for or typed.
func TestWatched(t *testing.T) {
	w := plant(t)
	board := watch.NewBoard("0.1")
	w.Watch = board.Plant("quillmere")
	w.Watch.Show(w.Looks(nil))
	is := func(want float64, name, labels string) {
		t.Helper()
		if got := scraped(t, board, name, labels); got != want {
			t.Errorf("grainward_%s{%s} is %v, not %v", name, labels, got, want)
		}
	}
	is(-1, "findings", `plant="quillmere",severity="major"`) // nothing was judged yet, and nothing is for this
	if w.judge.made != 0 {
		t.Error("a judgement was made to be counted")
	}
	for range 3 {
		w.wants(w.ask(crew, "/today", nil), 200)
	}
	w.wants(w.ask(crew, "/lots/NO-SUCH", nil), 404)
	w.wants(w.ask(crew, "/lots/NOR-THIS", nil), 404)
	w.wants(w.enter1(crew, draftJSON("hank")), 201)
	w.wants(w.enter1(crew, []byte("{")), 400)
	w.wants(w.ask(nobody, "/nowhere/at/all", nil), 404)
	w.wants(w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"9999"}}), 422)
	w.wants(w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}}), 303)
	is(3, "requests_total", `class="2xx",method="GET",plant="quillmere",route="/today"`)
	is(2, "requests_total", `class="4xx",method="GET",plant="quillmere",route="/lots/:lot"`)
	is(1, "requests_total", `class="2xx",method="POST",plant="quillmere",route="/api/entries"`)
	is(1, "requests_total", `class="4xx",method="any",plant="quillmere",route="*"`)
	is(1, "secrets_total", `outcome="wrong",plant="quillmere"`)
	is(1, "secrets_total", `outcome="right",plant="quillmere"`)
	is(float64(w.size()), "journal_entries", `plant="quillmere"`)
	is(1, "devices", `plant="quillmere"`)
	is(1, "ready", `plant="quillmere"`)
	counts := countOf(w.judge.last).counts
	if counts["major"] == 0 {
		t.Fatal("the plant has no findings to count")
	}
	for severity, n := range counts {
		is(float64(n), "findings", `plant="quillmere",severity="`+severity+`"`)
	}
	w.send(httptest.NewRequest("BREW", "http://localhost/today", nil)) // a method that is none
	res := httptest.NewRecorder()
	board.Handler().ServeHTTP(res, httptest.NewRequest("GET", "/metrics", nil))
	for _, never := range []string{"NO-SUCH", "NOR-THIS", "nowhere", "BREW", "hank", "Osgood", "entrance", string(w.tab)} {
		if strings.Contains(res.Body.String(), never) {
			t.Errorf("%q is in the metrics", never)
		}
	}
}
