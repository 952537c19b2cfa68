package server

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/valyala/fasthttp"
	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/faulttest"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/server/auth"
)

// raw hands the server the bytes of a request as they would come over a connection. ok is false when they are none.
func (w *world) raw(b []byte) (a answered, ok bool) {
	w.Helper()
	var c fasthttp.RequestCtx
	if err := c.Request.ReadLimitBody(bufio.NewReader(bytes.NewReader(b)), bodyMost); err != nil {
		return answered{}, false
	}
	w.app.Handler() // which makes the table of routes ready
	w.app.Server().Handler(&c)
	res := &http.Response{StatusCode: c.Response.StatusCode(), Header: http.Header{}}
	c.Response.Header.VisitAll(func(k, v []byte) { res.Header.Add(string(k), string(v)) })
	var body bytes.Buffer
	if !c.Response.IsBodyStream() { // events go on
		body.Write(c.Response.Body())
	}
	return answered{res, body.String()}, true
}

func rawPost(path, token, media string, body []byte) []byte {
	return append(fmt.Appendf(nil, "POST %s HTTP/1.1\r\nHost: localhost\r\nCookie: %s=%s\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n", path, cookieName, token, media, len(body)), body...)
}

// Entries by the ten thousand that are wrong somewhere: each is answered with a sentence, none is a fault of the server's.
func TestMalformedByTheThousand(t *testing.T) {
	w := plant(t)
	rng := rand.New(rand.NewPCG(faulttest.Seed(t, 7), 11))
	tries := 10_000
	if faulttest.Campaign(t) {
		tries = 100_000
	}
	facts := []string{`{"task":"hygiene-check","station":"entrance","outcome":"passed"}`, `{"what":"x"}`, `{"lots":["A"],"why":"w"}`, `{"from":"dock","to":"dock","weight":{"mass":"1 kg"}}`, `{"text":"x","sha256":"y"}`}
	before, refused, taken, how := w.size(), 0, 0, map[int]int{}
	for i := range tries {
		kind := records.Kinds()[rng.IntN(len(records.Kinds()))].Kind
		body := draftJSON("hank", member{"kind", q(string(kind))}, member{"fact", facts[rng.IntN(len(facts))]})
		for range 1 + rng.IntN(4) {
			body = spoiled(rng, body)
		}
		a, ok := w.raw(rawPost("/api/entries", w.token[crew], "application/json", body))
		if !ok {
			t.Fatal("it could not be sent")
		}
		how[a.StatusCode]++
		if a.StatusCode == 201 || a.StatusCode == 200 {
			taken++ // what was spoiled did not matter
			continue
		}
		refused++
		var d details
		if a.StatusCode < 400 || a.StatusCode > 499 || json.Unmarshal([]byte(a.body), &d) != nil || d.Detail == "" || d.Code == "" {
			t.Fatalf("%d: status %d %s for\n%q", i, a.StatusCode, a.body, body)
		}
		if i%50 == 0 {
			if err := theDescription().checkAnswer("POST", "/api/entries", a.StatusCode, a.Header.Get("Content-Type"), []byte(a.body)); err != nil {
				t.Error(err)
			}
		}
	}
	if refused < tries/2 || int(w.size()-before) > taken {
		t.Errorf("%d refused, %d taken, and the journal grew by %d", refused, taken, w.size()-before)
	}
	if how[400] < tries/10 || how[422] < tries/10 || how[401] > 0 {
		t.Errorf("not wrong in the ways that were meant: %v", how)
	}
	faulttest.Count(t, tries, "malformed entries", fmt.Sprintf("%d refused, each with 4xx and a sentence; by status %v", refused, how))
}

// spoiled changes one thing of a body.
func spoiled(rng *rand.Rand, b []byte) []byte {
	b = bytes.Clone(b)
	if len(b) == 0 {
		return b
	}
	at := rng.IntN(len(b))
	switch rng.IntN(7) {
	case 0:
		b[at] = byte(rng.IntN(256))
	case 1:
		return b[:at]
	case 2:
		return append(b[:at:at], b[min(len(b), at+1+rng.IntN(8)):]...)
	case 3:
		return append(b[:at:at], append([]byte(strings.Repeat([]string{"[", "{\"a\":", "\"", "0", "\x00", "\xff", ","}[rng.IntN(7)], 1+rng.IntN(40))), b[at:]...)...)
	case 4:
		return bytes.Replace(b, []byte(`"`), []byte(``), 1+rng.IntN(3))
	case 5:
		return bytes.Replace(b, []byte(`hank`), []byte(strings.Repeat("h", rng.IntN(5000))), 1)
	case 6:
		return bytes.Replace(b, []byte(`:`), []byte(`:[`), 1+rng.IntN(6))
	}
	return b
}

// FuzzApp is the whole application against bytes that claim to be a request, from nobody, from the crew and from a lead: nothing is a fault
// of the server's, and nobody who is not signed in writes anything. The seeds reach the handler of every route, which
// TestEveryRouteIsFuzzed looks at.
func FuzzApp(f *testing.F) {
	for _, s := range samples() {
		for as := nobody; as <= lead; as++ {
			f.Add(s.method, s.path, s.media, "en", string(s.body), uint8(as))
		}
	}
	f.Add("POST", hygiene, "multipart/form-data; boundary=x", "es;q=0.9", "--x\r\nContent-Disposition: form-data; name=\"a-picture\"; filename=\"p\"\r\n\r\n\x89PNG\r\n--x--\r\n", uint8(crew))
	f.Add("GET", "/api/entries?from=18446744073709551616&count=-1", "", "*", "", uint8(crew))
	f.Add("GET", "/api/trace?subject=station:entrance@2026-03-01..x&direction=up", "", "", "", uint8(lead))
	f.Add("PUT", "/api/photos/"+hexOf(sum(aPicture)), "image/png", "", string(aPicture), uint8(crew))
	f.Add("GET", "/week?day=9999-99-99&lang=xx", "", ";;q", "", uint8(crew))
	f.Add("POST", "/sign-in", "application/x-www-form-urlencoded", "es-MX,en", "person=hank&pin=4071&held=/sign/hygiene-check/entrance&held.id=x&next=//x", uint8(nobody))
	w, tokens := fuzzed(f, memory.New())
	f.Fuzz(func(t *testing.T, method, path, media, language, body string, as uint8) {
		w.T = t
		who := role(as % uint8(lead+1))
		if who != nobody {
			tokens[who] = w.renewed(tokens[who], who)
		}
		before := w.size()
		a, ok := w.raw(fmt.Appendf(nil, "%s %s HTTP/1.1\r\nHost: localhost\r\nCookie: %s=%s\r\nAccept-Language: %s\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n%s", method, path, cookieName, tokens[who], language, media, len(body), body))
		if !ok {
			return
		}
		if a.StatusCode >= 500 && a.StatusCode != 503 { // 503 says "not now": one binder is made at a time
			t.Errorf("%d %s", a.StatusCode, a.body)
		}
		if who == nobody && w.size() != before {
			t.Error("somebody who is not signed in wrote")
		}
		if html := strings.HasPrefix(a.Header.Get("Content-Type"), "text/html"); a.Header.Get("X-Content-Type-Options") == "" || html && a.Header.Get("Content-Security-Policy") == "" {
			t.Error("no content security policy")
		}
	})
}

// renewed is a sign-in, or a new one when it has been ended.
func (w *world) renewed(token string, who role) string {
	if in, err := w.auth.Who(context.Background(), token, ""); err != nil {
		w.Fatal(err)
	} else if in.Runs {
		return token
	}
	return w.signedIn(map[role]records.PersonCode{visitor: "vera", crew: "hank", lead: "nora"}[who])
}

// TestEveryRouteIsFuzzed: the seeds of FuzzApp reach the handler of every route of the table.
func TestEveryRouteIsFuzzed(t *testing.T) {
	w, tokens := fuzzed(t, memory.New())
	w.T = t
	reached := w.counted()
	for _, s := range samples() {
		tokens[lead] = w.renewed(tokens[lead], lead)
		if _, ok := w.raw(s.bytesOf(tokens[lead], "")); !ok {
			t.Errorf("%s: the seed is no request", s.route)
		}
	}
	for _, rt := range routes() {
		if reached[rt.Method+" "+rt.Path] == 0 {
			t.Errorf("%s %s is not reached by any seed", rt.Method, rt.Path)
		}
	}
}

// FuzzUpload is the bytes of a photo or document, whose type is told from themselves: it is kept as what it is, or refused.
func FuzzUpload(f *testing.F) {
	f.Add(aPicture, "image/png")
	f.Add([]byte("%PDF-1.7\n"), "application/pdf")
	f.Add([]byte("\xff\xd8\xff\xe0\x00\x10JFIF"), "image/jpeg")
	f.Add([]byte("<html><script>alert(1)</script>"), "image/png")
	f.Add([]byte{}, "")
	w, tokens := fuzzed(f, memory.New())
	f.Fuzz(func(t *testing.T, data []byte, media string) {
		w.T = t
		key := hexOf(sum(data))
		for _, path := range []string{"/api/photos/", "/api/files/"} {
			s := sample{method: "PUT", path: path + key, media: media, body: data}
			a, ok := w.raw(s.bytesOf(tokens[lead], ""))
			if !ok {
				return
			}
			if a.StatusCode >= 500 {
				t.Fatalf("%d %s", a.StatusCode, a.body)
			}
			if a.StatusCode >= 300 {
				continue
			}
			got, ok := w.raw((&sample{method: "GET", path: "/photo/" + key}).bytesOf(tokens[lead], ""))
			if kept := got.Header.Get("Content-Type"); !ok || got.StatusCode == 200 && (got.body != string(data) || strings.Contains(kept, "html") || strings.Contains(kept, "svg")) {
				t.Errorf("kept and given as %s", kept)
			}
		}
	})
}

// fuzzed is a plant that outlives a single try, with somebody of each role signed in.
func fuzzed(f testing.TB, store records.Store) (w *world, tokens [lead + 1]string) {
	c := &clock{at: at("2026-03-09T07:30:00-04:00")}
	signer, _, err := ledger.GenerateKey(nil, "quillmere.example/journal")
	if err != nil {
		f.Fatal(err)
	}
	b, err := book.Open(context.Background(), store, book.Options{Origin: "quillmere.example/journal", Signer: signer, Now: c.now})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { b.Close() })
	a, err := auth.Open(filepath.Join(f.TempDir(), "people.db"), auth.Options{Now: c.now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}, Remember: auth.Briefly})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { a.Close() })
	adopted := &records.Adoption{Text: thePlan(), SHA256: hexOf(sum([]byte(thePlan())))}
	gull := &records.Deviation{What: "A gull got in through the dock door.", Station: "warehouse"}
	for _, fact := range []records.Fact{adopted, gull} {
		row, _ := records.RowOf(fact.Kind())
		if _, err := b.Admit(context.Background(), records.Entry{ID: records.NewEntryID(), Happened: c.at, By: "nora", Kind: fact.Kind(), Meaning: row.Meanings[0], Fact: fact}); err != nil {
			f.Fatal(err)
		}
	}
	if err := a.SetPIN(context.Background(), "hank", "", "4862"); err != nil {
		f.Fatal(err)
	}
	for who, code := range map[role]records.PersonCode{visitor: "vera", crew: "hank", lead: "nora"} {
		by := auth.PIN
		if who == lead {
			by = auth.Password
		}
		if tokens[who], _, err = a.SignIn(context.Background(), code, by, ""); err != nil {
			f.Fatal(err)
		}
	}
	w = &world{clock: c, auth: a}
	w.Server = New(Config{Book: b, Auth: a, Now: c.now, Version: "0.1", MakeBinder: tinyBinder, TempDir: f.TempDir()})
	w.rates.off = true
	return w, tokens
}

// What is larger than its route takes is not read, and is told as a problem or a page of the asker's language.
func TestTooLargeForItsRoute(t *testing.T) {
	w := plant(t)
	base := w.serve()
	once := func(method, path, media, token, language string, size int) (int, string, string) {
		t.Helper()
		req, err := http.NewRequest(method, base+path, io.LimitReader(zeros{}, int64(size)))
		if err != nil {
			t.Fatal(err)
		}
		req.ContentLength = int64(size)
		req.Header.Set("Content-Type", media)
		req.Header.Set("Accept-Language", language)
		if token != "" {
			req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			return 0, err.Error(), "" // the connection was closed while it was still being sent
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(b), res.Header.Get("Content-Type")
	}
	// A client that is still sending when the connection is closed may never see the answer (RFC 9112 section 9.6); on a busy machine
	// that happens to the best. So it asks again.
	ask := func(method, path, media, token, language string, size int) (status int, body, is string) {
		t.Helper()
		for range 50 {
			if status, body, is = once(method, path, media, token, language, size); status != 0 {
				break
			}
		}
		return status, body, is
	}
	if status, body, media := ask("POST", "/api/sign-nowhere", "application/json", "", "es", formMost+1); status != 413 || !strings.Contains(body, `"code":"too-large"`) || media != "application/problem+json" || !strings.Contains(body, "MiB como máximo") {
		t.Errorf("%d %s %s", status, body, media)
	}
	if status, body, media := ask("POST", "/people/grete", "application/x-www-form-urlencoded", w.token[lead], "en", formMost+1); status != 413 || !strings.HasPrefix(media, "text/html") {
		t.Errorf("%d %s %s", status, body, media)
	}
	// pictures only from a browser that carries a sign-in: without one, no more is read than of any form
	if status, body, _ := ask("PUT", "/api/photos/x", "image/png", "", "en", formMost+1); status != 413 {
		t.Errorf("%d %s", status, body)
	}
	if status, body, _ := ask("PUT", "/api/photos/x", "image/png", w.token[crew], "en", formMost+1); status != 422 {
		t.Errorf("%d %s", status, body)
	}
}

// Who sends slowly, or sends no request at all, is told and let go.
func TestSlowAndStrange(t *testing.T) {
	w := plant(t)
	w.app.Server().ReadTimeout = 100 * time.Millisecond
	base := strings.TrimPrefix(w.serve(), "http://")
	for name, c := range map[string]struct{ text, want string }{
		"half a head":    {"GET /today HTTP/1.1\r\nHost: local", ""},
		"no HTTP":        {"hello\r\n\r\n", "400"},
		"a head too big": {"GET /today HTTP/1.1\r\nHost: localhost\r\nX: " + strings.Repeat("x", 20<<10) + "\r\n\r\n", "431"},
	} {
		conn, err := net.Dial("tcp", base)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		if err := conn.SetDeadline(time.Now().Add(20 * time.Second)); err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(conn, c.text); err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(conn) // until the server closes
		if err != nil && !strings.Contains(err.Error(), "reset") {
			t.Errorf("%s: it was not let go: %v", name, err)
		}
		if !strings.Contains(string(b), c.want) || strings.Contains(string(b), " 500 ") {
			t.Errorf("%s: %s", name, b)
		}
	}
}

func TestTooManyFields(t *testing.T) {
	w := plant(t)
	v := signing("hank")
	for i := range fieldsMost {
		v.Set(fmt.Sprint("x", i), "")
	}
	w.wants(w.ask(crew, hygiene, v), 413)
	w.wants(w.ask(crew, hygiene, signing("hank")), 303)
}

// Buckets against a slow, obviously right count: in any stretch of time no more is taken than was saved up and came in.
func TestRatesProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := rate{float64(rapid.IntRange(1, 20).Draw(t, "burst")), float64(rapid.IntRange(1, 50).Draw(t, "a second")) / 10}
		now := time.Unix(1_000_000, 0)
		x := newRates()
		x.now = func() time.Time { return now }
		var taken []time.Time
		for range rapid.IntRange(1, 200).Draw(t, "asks") {
			now = now.Add(time.Duration(rapid.IntRange(0, 3000).Draw(t, "ms")) * time.Millisecond)
			wait := x.take(asker{aPerson, "k"}, of)
			if wait == 0 {
				taken = append(taken, now)
				continue
			}
			now = now.Add(wait)
			if x.take(asker{aPerson, "k"}, of) != 0 {
				t.Fatalf("after waiting %s as told, it is refused again", wait)
			}
			taken = append(taken, now)
		}
		for i := range taken {
			for j := i; j < len(taken); j++ {
				if n, most := float64(j-i+1), of.burst+taken[j].Sub(taken[i]).Seconds()*of.perSecond; n > most+1e-6 {
					t.Fatalf("%v taken in %s; %v is the most", n, taken[j].Sub(taken[i]), most)
				}
			}
		}
	})
}

// However many askers there are, the memory is bounded, and who has asked too often is not forgotten by it.
func TestRatesAreBounded(t *testing.T) {
	now := time.Unix(1_000_000, 0)
	x := newRates()
	x.now = func() time.Time { return now }
	for range 61 {
		x.take(asker{aNobody, "greedy"}, unsigned)
	}
	for i := range 3 * askersMost {
		x.take(asker{anAddress, fmt.Sprint(i)}, ofAddress)
		if len(x.all) > askersMost {
			t.Fatal(len(x.all))
		}
	}
	if x.take(asker{aNobody, "greedy"}, unsigned) == 0 {
		t.Error("it was forgotten that it asked too often")
	}
}

func TestTooOften(t *testing.T) {
	w := plant(t)
	now := time.Unix(1_000_000, 0)
	w.rates.off, w.rates.now = false, func() time.Time { return now }
	var a answered
	for range int(unsigned.burst) + 1 {
		a = w.ask(nobody, "/sign-in", url.Values{"person": {"nobody-here"}, "pin": {"1"}})
	}
	w.wants(a, 429, "Too many at once")
	if a.Header.Get("Retry-After") != "2" {
		t.Error(a.Header.Get("Retry-After"))
	}
	w.wants(w.enter1(crew, draftJSON("hank")), 201) // somebody else's asking is no reason to refuse the crew
	for range int(ofPerson.burst) {
		if a = w.enter1(crew, []byte("{}")); a.StatusCode == 429 {
			break
		}
	}
	if d := w.problemOf(a, 429); d.Code != "too-many" || a.Header.Get("Retry-After") == "" || d.Until == "" {
		t.Errorf("%+v", d)
	}
	now = now.Add(5 * time.Second)
	w.wants(w.enter1(crew, draftJSON("hank")), 201)
}

// A row of the table is found by comparing parts of paths; the slow way splits both.
func TestFindIn(t *testing.T) {
	table := routes()
	slow := func(method, path string) *route {
		have := strings.Split(path, "/")
		for i := range table {
			if want := strings.Split(table[i].Path, "/"); table[i].Method == method && len(want) == len(have) && fits(want, have, map[string]string{}) {
				return &table[i]
			}
		}
		return nil
	}
	var paths []string
	for _, rt := range table {
		for _, part := range []string{"a", "", "today", ":task", "a/b", "/"} {
			for _, end := range []string{"", "/", "x", "/x"} {
				var parts []string
				for p := range strings.SplitSeq(rt.Path, "/") {
					if strings.HasPrefix(p, ":") {
						p = part
					}
					parts = append(parts, p)
				}
				paths = append(paths, strings.Join(parts, "/")+end)
			}
		}
	}
	paths = append(paths, "", "/", "//", "today", ":station")
	found := 0
	for _, path := range paths {
		for _, method := range []string{"GET", "POST", "PUT", ""} {
			got, want := findIn(table, method, path), slow(method, path)
			if got != want {
				t.Errorf("%s %s: %v, the slow way %v", method, path, got, want)
			}
			if got != nil {
				found++
			}
		}
	}
	if found < len(table) {
		t.Errorf("only %d were found", found)
	}
}
