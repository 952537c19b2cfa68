package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"maps"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
)

// logText is a log in memory, with everything in it.
type logText struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *logText) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(b)
}

func (l *logText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

func (l *logText) logger() *slog.Logger {
	return slog.New(slog.NewJSONHandler(l, &slog.HandlerOptions{Level: slog.LevelDebug}))
}

// mark is in everything that is sent; it is a word that nothing else is.
const mark = "Zqx7Marked"

// secretsOf are what of a world may be in no log: names, codes, secrets, devices, what was written.
func (w *world) secretsOf() []string {
	never := []string{mark, strings.ToLower(mark), "4071", "5192", "51927", thePassword, w.key, string(w.tab), "Floor tablet", "gull", "192.0.2.1", "0.0.0.0", "127.0.0.1"}
	for i := range w.Book.View().State.PlanAt(w.Now()).People {
		p := &w.Book.View().State.PlanAt(w.Now()).People[i]
		never = append(never, p.Name, string(p.Code))
	}
	for _, token := range w.token {
		if token != "" {
			never = append(never, token)
		}
	}
	return never
}

// found are the words that a log holds, each as a word of its own.
func found(log string, words []string) (there []string) {
	for _, word := range words {
		if regexp.MustCompile(`(^|[^\pL\pN])` + regexp.QuoteMeta(word) + `($|[^\pL\pN])`).MatchString(log) {
			there = append(there, word)
		}
	}
	return there
}

// askEverything sends to the rows of a table what its scenario sends, and the same with marks in every place: address, query, fields,
// body, headers, cookies.
func (w *world) askEverything(table []route) (asked int) {
	all := scenarios()
	for _, more := range []map[string]scenario{floorScenarios(), officeScenarios(), apiScenarios(), paperScenarios(), auditorScenarios()} {
		maps.Copy(all, more)
	}
	for _, rt := range table {
		sc := all[rt.Method+" "+rt.Path]
		if strings.HasPrefix(rt.Path, "/sign-out") || rt.Path == "/api/sign-out" {
			continue // it would end what the others are asked with; the scenarios' test has it
		}
		as := max(rt.Least, crew)
		body, media := sc.body, sc.media
		form := url.Values{}
		if sc.form != nil {
			form = sc.form(people[as])
		}
		if body == nil {
			media = "application/x-www-form-urlencoded"
			body = func(string) []byte { return []byte(form.Encode()) }
		}
		w.sent(rt.Method, sc.path, media, body(people[as]), as, false)
		for name := range form {
			form.Set(name, mark)
		}
		form.Set("note", mark)
		path := rt.Path
		for part := range strings.SplitSeq(rt.Path, "/") {
			if strings.HasPrefix(part, ":") {
				path = strings.Replace(path, part, mark, 1)
			}
		}
		query := url.Values{"q": {mark}, "finding": {mark}, "next": {"/" + mark}, "day": {mark}, "from": {mark}, "to": {mark}, "subject": {mark}, "id": {mark}, "code": {mark}, "task": {mark}, "item": {mark}}
		marked := body(people[as])
		if sc.body != nil {
			marked = bytes.ReplaceAll(marked, []byte(`":"`), []byte(`":"`+mark+" "))
		}
		asked++
		w.sent(rt.Method, path+"?"+query.Encode(), media, marked, as, true)
		w.sent(rt.Method, sc.path, media, marked, as, true)
	}
	return asked
}

func (w *world) sent(method, path, media string, body []byte, as role, marked bool) {
	w.Helper()
	if method == "GET" {
		body = nil
	}
	req := httptest.NewRequest(method, "http://localhost"+path, bytes.NewReader(body))
	req.Header.Set("Content-Type", media)
	req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[as]})
	if marked {
		for _, h := range []string{"User-Agent", "Referer", "Accept-Language", "X-Forwarded-For", "X-Request-Id", "Authorization", quietHeader, "Forwarded", "Accept-Encoding"} {
			req.Header.Set(h, mark)
		}
		req.AddCookie(&http.Cookie{Name: linkCookie, Value: mark})
		req.AddCookie(&http.Cookie{Name: mark, Value: mark})
	}
	req.AddCookie(&http.Cookie{Name: deviceCookie, Value: w.key})
	res, err := w.app.Test(req, -1)
	if err != nil {
		w.Fatal(err)
	}
	_, _ = io.Copy(io.Discard, res.Body)
	res.Body.Close()
}

// Every row of the table is asked, rightly and with marks everywhere: the log has a line a request, and none of the marks, of the names,
// codes and secrets of the plant, or of what was written. A logger that logs what is asked for is found out by the same search.
func TestNoMarkInTheLog(t *testing.T) {
	w := plant(t)
	var log logText
	w.Server.Log = log.logger().With("plant", "quillmere")
	never := w.secretsOf()
	lines := strings.Count(log.String(), "\n")
	n := w.askEverything(routes())
	if there := found(log.String(), never); there != nil {
		for line := range strings.Lines(log.String()) {
			if found(line, there) != nil {
				t.Log(line)
				break
			}
		}
		t.Errorf("the log has %q", there)
	}
	asked := 0
	for line := range strings.Lines(log.String()) {
		var l struct {
			Msg, Plant, Request, Method, Route string
			Status                             int
			Seconds                            *float64
			Bytes                              *int
		}
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatal(err, line)
		}
		if l.Plant != "quillmere" {
			t.Error("of no plant: " + line)
		}
		if l.Msg != "asked" {
			continue
		}
		if asked++; l.Request == "" || l.Method == "" || l.Route == "" || l.Status == 0 || l.Bytes == nil || l.Seconds == nil {
			t.Error(line)
		}
	}
	if asked < 3*n || n < len(routes())-2 {
		t.Errorf("%d lines for 3 times %d requests of %d routes; before it %d", asked, n, len(routes()), lines)
	}

	w.seen = func(r *request) { w.Server.Log.Info("leak", "path", r.path, "form", r.form.Encode()) }
	w.askEverything(routes()[:12])
	if there := found(log.String(), never); len(there) < 2 {
		t.Errorf("a leak is not found out: %q", there)
	}
}

// What an error quotes, and addresses, stay out of what is logged of it; what was done, and the system's word for why, stay in.
func TestPlain(t *testing.T) {
	for want, err := range map[string]error{
		"invalid":   &records.Error{Kind: records.Invalid, What: "the lot " + mark + " is not known", Fields: []records.FieldError{{Field: "lot", Value: mark}}},
		"conflict":  fmt.Errorf("%s: %w", mark, &records.Error{Kind: records.Conflict}),
		"not-found": &records.Error{Kind: records.NotFound, What: mark},
		"denied":    &records.Error{Kind: records.Denied, What: mark},
		"appending in /srv/plant/journal.db did not work: no space left on device": &records.Error{Kind: records.Full, What: "appending in /srv/plant/journal.db did not work", Err: errors.New("no space left on device")},
		"reading … and … failed": fmt.Errorf("reading %q and “%s” failed", mark, mark),
		"read tcp …->…: reset":   errors.New("read tcp 10.20.30.40:443->192.168.7.9:51234: reset"),
		"dial …: refused":        errors.New("dial [fe80::1%eth0]:8443: refused"),
		"left open …":            errors.New("left open \"" + mark),
		"":                       nil,
	} {
		if got := plain(err); got != want {
			t.Errorf("%q, not %q", got, want)
		}
	}
}

// What the framework says of a connection has the addresses of a device; the log has not.
func TestLogHoldsNoAddresses(t *testing.T) {
	w := plant(t)
	var log logText
	w.Server.Log = log.logger()
	w.app.Server().Logger = quiet{w.Server.Log}
	w.app.Server().LogAllErrors = true
	base := strings.TrimPrefix(w.serve(), "http://")
	for _, text := range []string{"hello\r\n\r\n", "GET / HTTP/1.1\r\nHost: localhost\r\n" + mark} {
		conn, err := net.Dial("tcp", base)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(conn, text); err != nil {
			t.Fatal(err)
		}
		if text[0] == 'h' {
			_, _ = io.ReadAll(conn) // until it is let go
		}
		conn.Close()
	}
	for begun := time.Now(); !strings.Contains(log.String(), `"connection"`); time.Sleep(5 * time.Millisecond) {
		if time.Since(begun) > 10*time.Second {
			t.Fatal("the framework says nothing of connections; this test shows nothing")
		}
	}
	if there := found(log.String(), []string{"127.0.0.1", mark}); there != nil {
		t.Errorf("%q in %s", there, log.String())
	}
}
