package server

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records/faulttest"
)

// sample is a request that its route takes, or would if what it names were there.
type sample struct {
	route               string
	method, path, media string
	body                []byte
	json                bool
}

// samples has one for every route: those of the scenarios.
func samples() (all []sample) {
	scenes := scenarios()
	for _, more := range []map[string]scenario{floorScenarios(), officeScenarios(), apiScenarios(), paperScenarios(), auditorScenarios()} {
		maps.Copy(scenes, more)
	}
	for _, rt := range routes() {
		sc := scenes[rt.Method+" "+rt.Path]
		s := sample{route: rt.Method + " " + rt.Path, method: rt.Method, path: sc.path, media: sc.media, json: rt.JSON}
		switch {
		case sc.body != nil:
			s.body = sc.body("nora")
		case sc.form != nil:
			s.media, s.body = "application/x-www-form-urlencoded", []byte(sc.form("nora").Encode())
		}
		all = append(all, s)
	}
	return all
}

// bytesOf is a request as it comes over a connection. headers end with a line's end each.
func (s *sample) bytesOf(token, headers string) []byte {
	head := fmt.Sprintf("%s %s HTTP/1.1\r\nHost: localhost\r\nCookie: %s=%s\r\n%s", s.method, s.path, cookieName, token, headers)
	if s.media != "" {
		head += "Content-Type: " + s.media + "\r\n"
	}
	if s.body != nil || s.method != "GET" {
		head += fmt.Sprintf("Content-Length: %d\r\n", len(s.body))
	}
	return append([]byte(head+"\r\n"), s.body...)
}

// counted counts which routes' handlers are reached.
func (w *world) counted() map[string]int {
	n := map[string]int{}
	for i := range w.table {
		rt := &w.table[i]
		handle := rt.Handle
		rt.Handle = func(s *Server, r *request) (reply, error) {
			n[rt.Method+" "+rt.Path]++
			return handle(s, r)
		}
	}
	return n
}

// leading is a lead's sign-in that is renewed when something that was asked has ended it.
func (w *world) leading() string {
	w.Helper()
	who, err := w.auth.Who(w.Context(), w.token[lead], "")
	if err != nil {
		w.Fatal(err)
	}
	if !who.Runs {
		w.token[lead] = w.signedIn("nora")
	}
	return w.token[lead]
}

// TestHostileByTheThousand spoils requests of every route there is: path, query, headers, type, body. Whatever comes of it is no fault
// of the server's, and what is refused is refused with a sentence.
func TestHostileByTheThousand(t *testing.T) {
	w := plant(t)
	seed := faulttest.Seed(t, 7)
	rng := rand.New(rand.NewPCG(seed, 17))
	all, reached := samples(), w.counted()
	tries := 3000
	if faulttest.Campaign(t) {
		tries = 60_000
	}
	var sent, refused, broken int
	how, ways := map[int]int{}, map[string]int{}
	for i := range tries {
		s := all[i%len(all)]
		way, headers := s.spoil(rng)
		ways[way]++
		before := w.size()
		a, ok := w.raw(s.bytesOf(w.leading(), headers))
		if !ok {
			broken++ // no request at all; TestBrokenConnections sends such
			continue
		}
		sent++
		how[a.StatusCode]++
		if a.StatusCode < 400 {
			continue
		}
		refused++
		if w.size() != before {
			t.Errorf("%s (%s): status %d, and something was written", s.route, way, a.StatusCode)
		}
		if a.StatusCode >= 500 || !sentence(a, s.json) {
			t.Fatalf("%s (%s): status %d\n%.300q\nfor\n%.600q", s.route, way, a.StatusCode, a.body, s.bytesOf("", headers))
		}
	}
	for _, s := range all {
		if reached[s.route] == 0 {
			t.Errorf("%s was never reached", s.route)
		}
	}
	faulttest.Count(t, sent, fmt.Sprintf("malformed requests over all %d routes (%d more were no HTTP)", len(all), broken), fmt.Sprintf("%d refused, each with 4xx and a sentence; by status %v; by way %v", refused, how, ways))
	if refused < tries/4 {
		t.Errorf("only %d of %d were refused: not wrong in the ways that were meant", refused, tries)
	}
}

// sentence says whether an answer that refuses says why, to a person or to a program.
func sentence(a answered, json1 bool) bool {
	if strings.HasPrefix(a.Header.Get("Content-Type"), "application/problem+json") {
		var d details
		return json.Unmarshal([]byte(a.body), &d) == nil && len(d.Detail) > 10 && d.Code != ""
	}
	return strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") && strings.Contains(a.body, "<h1") && len(a.body) > 400
}

var junk = []string{"", "%00", "%ff%fe", "..%2f..%2fetc%2fpasswd", "%F0%9F%8C%BE", "-1", "18446744073709551616", "1e309", "null", "'%22%3E%3Cscript%3E", "%E2%80%AE", "2026-02-30", "9999-99-99T99:99:99Z", strings.Repeat("a", 3000), "true", "%0d%0aSet-Cookie:x=y", "NaN"}

// spoil makes one thing, or several, wrong with a request, and says which.
func (s *sample) spoil(rng *rand.Rand) (way, headers string) {
	pick := func(from []string) string { return from[rng.IntN(len(from))] }
	switch way = pick([]string{"path", "query", "body", "body", "body", "type", "language", "cookie", "encoding", "method", "deep", "utf8", "multipart", "range"}); way {
	case "path":
		parts := strings.Split(s.path, "/")
		if len(parts) > 2 {
			parts[2+rng.IntN(len(parts)-2)] = pick(junk)
		} else {
			parts = append(parts, pick(junk))
		}
		s.path = strings.Join(parts, "/")
	case "query":
		sign := "?"
		if strings.Contains(s.path, "?") {
			sign = "&"
		}
		name := pick([]string{"from", "to", "day", "at", "subject", "count", "lang", "next", "station", "task", "code", "page", "kind", "window", "%00", "a[]", ""})
		s.path += sign + name + "=" + pick(junk)
	case "body":
		for range 1 + rng.IntN(3) {
			s.body = spoiled(rng, s.body)
		}
	case "type":
		s.media = pick([]string{"", "text/plain", "application/json", "application/xml", "multipart/form-data", "multipart/form-data; boundary=", "application/x-www-form-urlencoded; charset=utf-16", "image/png", "\xff/\xfe", strings.Repeat("x", 2000), "application/json; charset=\"", "*/*"})
	case "language":
		headers = "Accept-Language: " + pick([]string{"*", "xx-XX;q=nonsense,,,;", strings.Repeat("es,", 1500), "es;q=\x80\xff", "en-US-x-" + strings.Repeat("a", 4000), ";;;=;q"}) + "\r\n"
	case "cookie":
		headers = fmt.Sprintf("Cookie: %s=%s; %s=%s\r\n", deviceCookie, pick([]string{"x", ".", "tablet." + strings.Repeat("A", 43), strings.Repeat("z", 5000), "\xff"}), "link", pick(junk))
	case "encoding":
		headers = "Content-Encoding: " + pick([]string{"gzip", "br", "deflate", "zstd", "gzip, gzip", "nonsense"}) + "\r\n"
		if rng.IntN(2) == 0 && s.body != nil {
			s.body = zipped(s.body)
			s.body = s.body[:rng.IntN(len(s.body))]
		}
	case "method":
		s.method = pick([]string{"POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "GET", "GRAIN"})
	case "deep":
		n := 1 + rng.IntN(20_000)
		s.media, s.body = "application/json", []byte(strings.Repeat(pick([]string{"[", `{"a":`, `{"fact":{"answers":[`}), n))
	case "utf8":
		s.body = bytes.ReplaceAll(s.body, []byte("a"), []byte{0xc3, 0x28})
		s.path = strings.Replace(s.path, "e", "%c3%28", 1)
	case "multipart":
		s.media = "multipart/form-data; boundary=b"
		s.body = []byte(pick([]string{"", "--b", "--b--", "--b\r\n\r\n", "--b\r\nContent-Disposition: form-data; name=\"as\"\r\n\r\nnora", "--b\r\nContent-Disposition: form-data; name=\"a-picture\"; filename=\"../../x\"\r\nContent-Type: image/png\r\n\r\nnot one\r\n--b--\r\n",
			"--b\r\nContent-Disposition: form-data\r\n\r\nx\r\n--b--\r\n", "--b\r\nContent-Disposition: form-data; name=\"" + strings.Repeat("n", 5000) + "\"\r\n\r\nx\r\n--b--\r\n", strings.Repeat("--b\r\nContent-Disposition: form-data; name=\"x\"\r\n\r\ny\r\n", 1500) + "--b--\r\n"}))
	case "range":
		headers = "Range: " + pick([]string{"bytes=0-", "bytes=9-1", "bytes=-999999999999", "lines=1-2", "bytes=0-1,2-3,4-5", "\xff"}) + "\r\nIf-None-Match: " + pick([]string{"*", "\"", "W/", strings.Repeat("\"a\",", 900)}) + "\r\nIf-Modified-Since: yesterday\r\n"
	}
	return way, headers
}

func zipped(b []byte) []byte {
	var out bytes.Buffer
	z := gzip.NewWriter(&out)
	_, _ = z.Write(b)
	_ = z.Close()
	return out.Bytes()
}

// TestBrokenConnections sends over real connections what is no request, or the beginning of one. Each is answered with 4xx and a
// sentence, or, where HTTP knows no answer, let go; and the server answers the next one.
func TestBrokenConnections(t *testing.T) {
	w := plant(t)
	w.app.Server().ReadTimeout = 150 * time.Millisecond
	base := strings.TrimPrefix(w.serve(), "http://")
	cookie := fmt.Sprintf("Host: localhost\r\nCookie: %s=%s\r\n", cookieName, w.token[crew])
	post := "POST /api/entries HTTP/1.1\r\n" + cookie + "Content-Type: application/json\r\n"
	form := "POST /withdraw/1 HTTP/1.1\r\n" + cookie
	const letGo = 0 // closed without an answer
	cases := map[string]struct {
		text   string
		status []int
	}{
		"nothing":                            {"", []int{letGo, 408}},
		"half a line":                        {"GET /tod", []int{letGo, 408}},
		"half a head":                        {"GET /today HTTP/1.1\r\nHost: local", []int{letGo, 408}},
		"a body that does not come":          {post + "Content-Length: 100\r\n\r\n{", []int{letGo, 408, 400}},
		"a form that does not come":          {form + "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 100\r\n\r\nas=h", []int{letGo, 408, 400}},
		"no HTTP":                            {"hello there\r\n\r\n", []int{400, 404, 403}},
		"bytes":                              {"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", []int{letGo, 400, 408}},
		"a head too large":                   {"GET /today HTTP/1.1\r\n" + cookie + "X: " + strings.Repeat("x", 20<<10) + "\r\n\r\n", []int{431}},
		"a path too long":                    {"GET /" + strings.Repeat("x", 20<<10) + " HTTP/1.1\r\n" + cookie + "\r\n", []int{431, 414}},
		"too many headers":                   {"GET /today HTTP/1.1\r\n" + cookie + strings.Repeat("X: y\r\n", 4000) + "\r\n", []int{431}},
		"a header without a colon":           {"GET /today HTTP/1.1\r\n" + cookie + "no colon\r\n\r\n", []int{400, 408}},
		"a length that is none":              {post + "Content-Length: many\r\n\r\n{}", []int{400}},
		"a length below nothing":             {post + "Content-Length: -5\r\n\r\n{}", []int{400}},
		"a length beyond all":                {post + "Content-Length: 99999999999999999999\r\n\r\n{}", []int{400, 413}},
		"larger than it may be":              {post + "Content-Length: 900000000\r\n\r\n{}", []int{413}},
		"chunks that are none":               {post + "Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n", []int{400}},
		"a chunk without its end":            {post + "Transfer-Encoding: chunked\r\n\r\n5\r\n{}", []int{letGo, 408, 400}},
		"a chunk with a wrong end":           {post + "Transfer-Encoding: chunked\r\n\r\n2\r\n{}xx0\r\n\r\n", []int{400}},
		"a chunk beyond all":                 {post + "Transfer-Encoding: chunked\r\n\r\nffffffffffffffff\r\n{}", []int{400, 413}},
		"chunks larger than they may be":     {post + "Transfer-Encoding: chunked\r\n\r\n" + strings.Repeat("10000\r\n"+strings.Repeat("x", 1<<16)+"\r\n", 40), []int{413, letGo}},
		"a broken gzip":                      {post + "Content-Encoding: gzip\r\nContent-Length: 6\r\n\r\n\x1f\x8b\x08\x00ab", []int{400, 415, 422}},
		"a multipart form without its end":   {form + "Content-Type: multipart/form-data; boundary=b\r\nContent-Length: 60\r\n\r\n--b\r\nContent-Disposition: form-data; name=\"as\"\r\n\r\nhank........", []int{400, 422}},
		"a multipart form without a border":  {form + "Content-Type: multipart/form-data\r\nContent-Length: 4\r\n\r\nas=x", []int{400, 415, 422}},
		"another type":                       {post[:len(post)-len("Content-Type: application/json\r\n")] + "Content-Type: application/xml\r\nContent-Length: 4\r\n\r\n<a/>", []int{415}},
		"another version":                    {"GET /today HTTP/9.9\r\n" + cookie + "\r\n", []int{400, 505, 303, 200}},
		"a method nobody knows":              {"GRAIN /today HTTP/1.1\r\n" + cookie + "\r\n", []int{405, 404}},
		"JSON so deep":                       {post + fmt.Sprintf("Content-Length: %d\r\n\r\n", 1<<20) + strings.Repeat("[", 1<<20), []int{400, 422}},
		"JSON that is no UTF-8":              {post + "Content-Length: 8\r\n\r\n{\"id\":\xff\xfe", []int{400, 422}},
		"a zero byte in the path":            {"GET /to\x00day HTTP/1.1\r\n" + cookie + "\r\n", []int{400, 403, 404}},
		"a host that is another":             {"GET /today HTTP/1.1\r\nHost: elsewhere.example\r\n\r\n", []int{421, 400, 403}},
		"no host":                            {"GET /today HTTP/1.1\r\n\r\n", []int{400, 403, 421}},
		"a request within the body of a GET": {"GET /today HTTP/1.1\r\n" + cookie + "Content-Length: 30\r\n\r\nGET /people HTTP/1.1\r\nHost: x\r\n", []int{200, 303, 400}},
	}
	try := func(name, text string) (status int, body string) {
		status, body, err := overConnection(base, text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if status >= 500 || status >= 400 && len(strings.Fields(body)) < 4 {
			t.Errorf("%s: status %d, with %q", name, status, body)
		}
		return status, body
	}
	names := slices.Sorted(maps.Keys(cases))
	for _, name := range names {
		c := cases[name]
		if status, body := try(name, c.text); !slices.Contains(c.status, status) {
			t.Errorf("%s: status %d, not one of %v\n%.300s", name, status, c.status, body)
		}
	}
	rng := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	cut := faulttest.Times(t, 64)
	var wg sync.WaitGroup
	for part := range slices.Chunk(rng.Perm(cut), (cut+15)/16) { // most of them wait until they are let go
		var texts []string
		for range part {
			text := cases[names[rng.IntN(len(names))]].text
			texts = append(texts, text[:rng.IntN(len(text)+1)])
		}
		wg.Go(func() {
			for _, text := range texts {
				try(fmt.Sprintf("cut off: %.200q, %d bytes", text, len(text)), text)
			}
		})
	}
	wg.Wait()
	if res, err := http.Get("http://" + base + "/"); err != nil || res.StatusCode != 200 {
		t.Errorf("after all that: %v %v", res, err)
	}
	faulttest.Count(t, len(names)+cut, fmt.Sprintf("broken connections: %d kinds, and %d of them cut off somewhere", len(names), cut), "each answered with 4xx and a sentence, or let go")
}

// overConnection sends bytes and reads the answer; status 0 is a connection that was closed without one.
func overConnection(base, text string) (status int, body string, err error) {
	conn, err := net.Dial("tcp", base)
	if err != nil {
		return 0, "", err
	}
	defer conn.Close()
	if err := conn.SetDeadline(time.Now().Add(20 * time.Second)); err != nil {
		return 0, "", err
	}
	go func() { _, _ = io.WriteString(conn, text) }() // the answer may come before it is all sent
	res, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		if netErr, ok := err.(net.Error); ok && netErr.Timeout() {
			return 0, "", fmt.Errorf("it was not let go: %w", err)
		}
		return 0, "", nil
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil && !strings.Contains(err.Error(), "reset") {
		return res.StatusCode, string(b), err
	}
	return res.StatusCode, string(b), nil
}
