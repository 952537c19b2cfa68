package watch_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	dto "github.com/prometheus/client_model/go"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"grainward/server/watch"
)

// read is what a board shows, read by the parser of the Prometheus project.
func read(t *testing.T, b *watch.Board) map[string]*dto.MetricFamily {
	t.Helper()
	res := httptest.NewRecorder()
	b.Handler().ServeHTTP(res, httptest.NewRequest("GET", "/metrics", nil))
	if res.Code != 200 {
		t.Fatal(res.Code, res.Body)
	}
	text := res.Body.String()
	problems, err := promlint.New(strings.NewReader(text)).Lint()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		if strings.HasPrefix(p.Metric, "grainward_") {
			t.Errorf("%s: %s", p.Metric, p.Text)
		}
	}
	parser := expfmt.NewTextParser(model.UTF8Validation)
	all, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// value is the one sample of a family that has these labels.
func value(t *testing.T, all map[string]*dto.MetricFamily, name string, labels ...string) float64 {
	t.Helper()
	f := all["grainward_"+name]
	if f == nil {
		t.Fatalf("there is no grainward_%s", name)
	}
next:
	for _, m := range f.Metric {
		have := map[string]string{}
		for _, l := range m.Label {
			have[l.GetName()] = l.GetValue()
		}
		for i := 0; i < len(labels); i += 2 {
			if have[labels[i]] != labels[i+1] {
				continue next
			}
		}
		switch f.GetType() {
		case dto.MetricType_COUNTER:
			return m.Counter.GetValue()
		case dto.MetricType_HISTOGRAM:
			return float64(m.Histogram.GetSampleCount())
		}
		return m.Gauge.GetValue()
	}
	t.Fatalf("grainward_%s has none with %v", name, labels)
	return 0
}

// What is told is what is shown, plant by plant; what is not known is not shown.
func TestBoard(t *testing.T) {
	b := watch.NewBoard("0.1")
	mill, malt, shut := b.Plant("mill"), b.Plant("malt"), b.Plant("shut")
	shut.Shut("denied", "It can not be opened.")
	mill.Shut("not-found", "It can not be opened.") // and was, later
	for range 3 {
		mill.Asked("GET", "/lots/:lot", 200, 3*time.Millisecond)
	}
	mill.Asked("GET", "/lots/:lot", 404, time.Millisecond)
	malt.Asked("POST", "/sign-in", 422, time.Second)
	mill.Refused("not-found")
	mill.Secret("wrong")
	mill.Secret("wrong")
	mill.Appended(64, 4*time.Millisecond, "")
	mill.Appended(1, time.Second, "full")
	bytes, free, devices := int64(123_456), int64(1)<<40, 7
	judged := time.Date(2026, 3, 9, 7, 30, 0, 0, time.UTC)
	mill.Show(watch.Looks{Ready: func(context.Context) string { return "" }, Figures: func(context.Context) watch.Figures {
		return watch.Figures{Entries: 65, Bytes: &bytes, Free: &free, Devices: &devices, Streams: 2, Behind: 1500 * time.Millisecond, Findings: map[string]int{"major": 4}, Judged: judged, Backup: judged.Add(-time.Hour)}
	}})
	malt.Show(watch.Looks{Ready: func(context.Context) string { return "The disk is full, or nearly." }, Figures: func(context.Context) watch.Figures { return watch.Figures{} }})
	all := read(t, b)
	for _, c := range []struct {
		want   float64
		name   string
		labels []string
	}{
		{3, "requests_total", []string{"plant", "mill", "method", "GET", "route", "/lots/:lot", "class", "2xx"}},
		{1, "requests_total", []string{"plant", "mill", "class", "4xx"}},
		{1, "requests_total", []string{"plant", "malt", "method", "POST", "class", "4xx"}},
		{4, "request_seconds", []string{"plant", "mill", "route", "/lots/:lot"}},
		{1, "refusals_total", []string{"plant", "mill", "code", "not-found"}},
		{2, "secrets_total", []string{"plant", "mill", "outcome", "wrong"}},
		{1, "batch_entries", []string{"plant", "mill"}},
		{1, "commit_seconds", []string{"plant", "mill"}},
		{1, "commit_failures_total", []string{"plant", "mill", "kind", "full"}},
		{65, "journal_entries", []string{"plant", "mill"}},
		{123_456, "journal_bytes", []string{"plant", "mill"}},
		{1 << 40, "disk_free_bytes", []string{"plant", "mill"}},
		{4, "findings", []string{"plant", "mill", "severity", "major"}},
		{float64(judged.Unix()), "findings_judged_timestamp_seconds", []string{"plant", "mill"}},
		{float64(judged.Unix() - 3600), "backup_timestamp_seconds", []string{"plant", "mill"}},
		{7, "devices", []string{"plant", "mill"}},
		{2, "event_streams", []string{"plant", "mill"}},
		{1.5, "behind_seconds", []string{"plant", "mill"}},
		{1, "ready", []string{"plant", "mill"}},
		{0, "ready", []string{"plant", "malt"}},
		{0, "ready", []string{"plant", "shut"}},
		{1, "shut", []string{"plant", "shut", "kind", "denied"}},
		{1, "build_info", []string{"version", "0.1"}},
	} {
		if got := value(t, all, c.name, c.labels...); got != c.want {
			t.Errorf("grainward_%s %v is %v, not %v", c.name, c.labels, got, c.want)
		}
	}
	for _, name := range []string{"shut", "journal_bytes", "devices", "findings", "backup_timestamp_seconds"} {
		if n := len(all["grainward_"+name].Metric); n != 1 {
			t.Errorf("grainward_%s: %d plants know it", name, n)
		}
	}
	if all["go_goroutines"] == nil || all["process_resident_memory_bytes"] == nil {
		t.Error("nothing of the runtime or the process")
	}
	shut.Asked("GET", "/", 200, 0)
	var none *watch.Plant // nobody watches
	none.Asked("GET", "/", 200, 0)
	none.Shut("internal", "")
	none.Refused("x")
	none.Secret("right")
	none.Appended(1, 0, "")
	none.Show(watch.Looks{})
}

// The door tells the health of all plants, answers nothing else, and ends with its context.
func TestDoor(t *testing.T) {
	b := watch.NewBoard("0.1")
	trouble := "The disk is full, or nearly."
	for name, says := range map[string]*string{"mill": new(string), "malt": &trouble} {
		b.Plant(name).Show(watch.Looks{Ready: func(context.Context) string { return *says }, Figures: func(context.Context) watch.Figures { return watch.Figures{} }})
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- b.Serve(ctx, ln) }()
	ask := func(method, path string, status int, words ...string) {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), method, "http://"+ln.Addr().String()+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil || res.StatusCode != status {
			t.Errorf("%s %s: %d %s %v", method, path, res.StatusCode, body, err)
		}
		for _, word := range words {
			if !strings.Contains(string(body), word) {
				t.Errorf("%q is not in %s", word, body)
			}
		}
	}
	ask("GET", "/healthz", 503, "mill: ok\n", "malt: The disk is full, or nearly.\n")
	ask("HEAD", "/healthz", 503)
	b.Plant("store").Shut("busy", "It can not be opened: another program holds it.")
	ask("GET", "/healthz", 503, "store: It can not be opened: another program holds it.\n")
	b.Plant("store").Show(watch.Looks{Ready: func(context.Context) string { return "" }, Figures: func(context.Context) watch.Figures { return watch.Figures{} }})
	b.Plant("late")
	ask("GET", "/healthz", 503, "store: ok\n", "late: It is being opened.\n")
	b.Plant("late").Show(watch.Looks{Ready: func(context.Context) string { return "" }, Figures: func(context.Context) watch.Figures { return watch.Figures{} }})
	trouble = ""
	ask("GET", "/healthz", 200, "malt: ok\n")
	ask("GET", "/metrics", 200, `grainward_ready{plant="malt"} 1`)
	ask("GET", "/", 404)
	ask("GET", "/debug/pprof/", 404)
	ask("POST", "/metrics", 405)
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
