package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

// serve runs a world's server on a port of this machine until the test ends.
// keyAt is the secret of the enrolled device for each server under test, so that a browser can be that device.
var keyAt sync.Map

func (w *world) serve() string {
	w.Helper()
	ctx, stop := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- w.Server.Run(ctx, "127.0.0.1:0", func(u string) { ready <- u }) }()
	w.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			w.Error("stopping:", err)
		}
	})
	select {
	case u := <-ready:
		keyAt.Store(u, w.key)
		return u
	case err := <-ended:
		ended <- err
		w.Fatal(err)
		return ""
	}
}

// What a handler was given stays as it was while the framework uses its memory for thousands of other requests. The test first shows
// that the framework's own values do change, so that it can fail.
func TestRequestsSurvive(t *testing.T) {
	const n, at = 3000, 16
	// the framework by itself
	type pair struct{ kept, copied string }
	var mu sync.Mutex
	var bare []pair
	app := fiber.New(fiber.Config{DisableStartupMessage: true})
	app.Post("/:x", func(c *fiber.Ctx) error {
		mu.Lock()
		defer mu.Unlock()
		bare = append(bare, pair{c.Params("x"), strings.Clone(c.Params("x"))}, pair{c.FormValue("y"), strings.Clone(c.FormValue("y"))})
		return nil
	})
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	go app.Listener(ln)
	many(t, n, at, func(c *http.Client, i int) error {
		return post(c, fmt.Sprintf("http://%s/param-%06d", ln.Addr(), i), url.Values{"y": {fmt.Sprintf("value-%06d", i)}})
	})
	if err := app.Shutdown(); err != nil {
		t.Fatal(err)
	}
	changed := 0
	for _, p := range bare {
		if p.kept != p.copied {
			changed++
		}
	}
	if changed == 0 {
		t.Error("the framework's values did not change, so this test shows nothing")
	}

	// and our own
	w := plant(t)
	type asked struct {
		r    *request
		text string
	}
	var all []asked
	flat := func(r *request) string {
		return fmt.Sprint(r.method, r.path, r.params, r.query, r.form, r.token, r.language, r.id)
	}
	w.seen = func(r *request) {
		mu.Lock()
		defer mu.Unlock()
		all = append(all, asked{r, strings.Clone(flat(r))})
	}
	base := w.serve()
	many(t, n, at, func(c *http.Client, i int) error {
		v := url.Values{"y": {fmt.Sprintf("value-%06d", i)}, "z": {"z" + strings.Repeat("long", i%100)}}
		req, err := http.NewRequest("POST", fmt.Sprintf("%s/withdraw/param-%06d?q=query-%06d", base, i, i), strings.NewReader(v.Encode()))
		if err != nil {
			return err
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Accept-Language", fmt.Sprintf("en;q=0.%06d", i))
		req.AddCookie(&http.Cookie{Name: cookieName, Value: fmt.Sprintf("token-%06d", i)})
		return finish(c.Do(req))
	})
	if len(all) != n {
		t.Errorf("%d requests seen of %d", len(all), n)
	}
	for _, a := range all {
		if len(a.r.params) != 1 || a.r.token == "" || len(a.r.form) != 2 || a.r.language == "" {
			t.Fatalf("not all of it was read: %s", a.text)
		}
		if got := flat(a.r); got != a.text {
			t.Fatalf("it was\n%s\nand is now\n%s", a.text, got)
		}
	}
}

// many does something n times from a few goroutines, each with connections of its own.
func many(t *testing.T, n, workers int, do func(c *http.Client, i int) error) {
	t.Helper()
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			tr := &http.Transport{}
			defer tr.CloseIdleConnections()
			c := &http.Client{Transport: tr, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
			for i := w; i < n; i += workers {
				if err := do(c, i); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	wg.Wait()
}

func post(c *http.Client, to string, v url.Values) error {
	return finish(c.PostForm(to, v))
}

func finish(res *http.Response, err error) error {
	if err != nil {
		return err
	}
	defer res.Body.Close()
	_, err = io.Copy(io.Discard, res.Body)
	return err
}

// Sign-offs from many people at once over real connections: each is written once and says what was sent.
func TestManyAtOnce(t *testing.T) {
	w := plant(t)
	base := w.serve()
	before := w.size()
	const n = 300
	many(t, n, 8, func(c *http.Client, i int) error {
		v := full("hank", "note", fmt.Sprintf("note %d", i), "a-words", fmt.Sprintf("words %d", i))
		req, err := http.NewRequest("POST", base+everything, strings.NewReader(v.Encode()))
		if err != nil {
			return err
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[crew]})
		req.AddCookie(&http.Cookie{Name: deviceCookie, Value: w.key})
		res, err := c.Do(req)
		if err != nil {
			return err
		}
		defer res.Body.Close()
		if res.StatusCode != 303 {
			return fmt.Errorf("status %d", res.StatusCode)
		}
		return nil
	})
	if w.size() != before+n {
		t.Fatal(w.size())
	}
	seen := map[string]bool{}
	st := w.Book.View().State
	for p := before; p < w.size(); p++ {
		f := st.First(p).Fact.(*records.Signoff)
		_, k, _ := strings.Cut(f.Note, " ")
		if f.Answers[3].Text != "words "+k || seen[k] {
			t.Errorf("%q with %q", f.Note, f.Answers[3].Text)
		}
		seen[k] = true
	}
}

func TestCheckListen(t *testing.T) {
	for _, ok := range []string{"127.0.0.1:0", "127.8.8.8:80", "[::1]:8417", "localhost:8417", "[::ffff:127.0.0.1]:80"} {
		if err := CheckListen(ok); err != nil {
			t.Error(err)
		}
	}
	for _, bad := range []string{":8417", "0.0.0.0:8417", "[::]:80", "192.0.2.7:80", "10.0.0.1:80", "plant.example:80", "127.0.0.1", "", "localhost.example:80"} {
		err := CheckListen(bad)
		var own *records.Error
		if !errors.As(err, &own) || own.Kind != records.Invalid || own.Do == "" {
			t.Errorf("%q: %v", bad, err)
		}
	}
	w := newWorld(t)
	if err := w.Server.Run(t.Context(), "0.0.0.0:0", func(string) { t.Error("it listens") }); records.KindOf(err) != records.Invalid {
		t.Error(err)
	}
}

func TestPortTaken(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	w := newWorld(t)
	if err := w.Server.Run(t.Context(), ln.Addr().String(), nil); records.KindOf(err) != records.Busy {
		t.Error(err)
	}
}

func TestEmptyPlant(t *testing.T) {
	w := newWorld(t)
	w.wants(w.ask(nobody, "/", nil), 200, "No plan has been adopted yet")
	w.wants(w.ask(nobody, "/today", nil), 303)
	w.wants(w.ask(nobody, "/sign-in/nora", nil), 200, "No plan has been adopted yet")
	w.wants(w.ask(nobody, "/sign-in", url.Values{"person": {"nora"}, "secret": {"4071"}}), 422)
	w.wants(w.ask(nobody, hygiene, signing("hank")), 401)
	w.adopt()
	w.wants(w.ask(nobody, "/", nil), 200, "Nobody has a PIN or password yet", "grainward pin nora")
}

func TestProblems(t *testing.T) {
	w := plant(t)
	for _, path := range []string{"/nowhere", "/entry/99", "/entry/-1", "/entry/x", "/entry/9999999999999999999", "/station/nowhere", "/sign/no/entrance", "/sign/hygiene-check/kiln", "/receipt/99", "/correct/99", "/withdraw/99",
		"/photo/x", "/binder/x", "/binder/x/file", "/answer?finding=x", "/static/..%2fpages.go", "/static/nothing.css", "/sign-in/nobody"} {
		w.wants(w.ask(lead, path, nil), 404)
	}
	w.wants(w.ask(lead, "/receipt/0", nil), 303)
	big := strings.Repeat("x", formMost+1)
	if got, ok := w.raw(rawPost("/people/grete", w.token[lead], "application/x-www-form-urlencoded", []byte("person="+big))); !ok || got.StatusCode != 413 || !strings.Contains(got.body, "too large") {
		t.Error(got.StatusCode, got.body)
	}
	w.wants(w.ask(crew, everything, full("hank", "note", big)), 413)
	req := request1("localhost", "/people/grete", url.Values{}, w.token[lead])
	req.Header.Set("Content-Type", "multipart/form-data")
	if got := w.send(req); got.StatusCode != 422 {
		t.Error(got.StatusCode)
	}
	req = request1("localhost", everything, url.Values{}, w.token[crew])
	req.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	w.wants(w.send(req), 422, "can not be read")
	req.Method = "PUT"
	if got := w.send(req); got.StatusCode != 404 {
		t.Error(got.StatusCode)
	}
	for kind := records.Internal; kind <= records.Unavailable; kind++ {
		if statusOf[kind] < 400 {
			t.Errorf("kind %d has no status", kind)
		}
		r := &request{id: "x", lang: "en"}
		out := w.problem(&route{}, r, &records.Error{Kind: kind, What: "what it was"})
		if out.status != statusOf[kind] || out.page == nil {
			t.Errorf("kind %d: %+v", kind, out)
		}
	}
	if out := w.problem(&route{JSON: true}, &request{id: "x", lang: "en"}, errors.New("secret of the machine room")); out.status != 500 || strings.Contains(fmt.Sprint(out.json), "secret") {
		t.Errorf("%+v", out)
	}
}

// Too much to be read at all is refused in the same words, over a real connection.
func TestBodyLimit(t *testing.T) {
	w := plant(t)
	base := w.serve()
	res, err := http.Post(base+everything, "application/x-www-form-urlencoded", io.LimitReader(zeros{}, bodyMost+1<<20))
	if err != nil {
		return // the connection was closed before all was sent: refused as well
	}
	defer res.Body.Close()
	b, _ := io.ReadAll(res.Body)
	if res.StatusCode != 413 || !strings.Contains(string(b), "too large") {
		t.Errorf("%d %s", res.StatusCode, b)
	}
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// A fault in a handler is a page of its own and says nothing of the inside.
func TestPanic(t *testing.T) {
	w := plant(t)
	var log bytes.Buffer
	w.Server.Log = slog.New(slog.NewTextHandler(&log, nil))
	w.seen = func(*request) { panic("secret of the machine room") }
	got := w.ask(crew, "/today", nil)
	w.wants(got, 500, "Something is wrong on our side")
	if strings.Contains(got.body, "secret") || !strings.Contains(log.String(), got.Header.Get("X-Request-Id")) {
		t.Error(got.body, log.String())
	}
}

// Nothing people typed, no PIN, no name and no token is logged.
func TestLogHoldsNothingPersonal(t *testing.T) {
	w := plant(t)
	var log bytes.Buffer
	w.Server.Log = slog.New(slog.NewTextHandler(&log, nil))
	w.ask(nobody, "/sign-in/hank", nil)
	w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}})
	w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"77331"}})
	w.ask(crew, everything, full("hank", "note", "unrepeatable", "second", "zzzz"))
	w.ask(lead, "/people/grete", url.Values{"person": {"grete"}, "secret": {"5192"}, "again": {"5192"}})
	for _, never := range []string{"hank", "Hank", "grete", "4071", "77331", "5192", "unrepeatable", "zzzz", w.token[crew]} {
		if strings.Contains(log.String(), never) {
			t.Errorf("%q is in the log:\n%s", never, log.String())
		}
	}
	if !strings.Contains(log.String(), "route=/sign-in/:person") {
		t.Error(log.String())
	}
}

// However many ask, the journal is judged once until something is written or a few seconds pass.
func TestJudgedOnce(t *testing.T) {
	w := plant(t)
	for range 5 {
		w.wants(w.ask(lead, "/findings", nil), 200)
	}
	if w.judge.made != 1 {
		t.Errorf("judged %d times", w.judge.made)
	}
	w.wants(w.ask(crew, everything, full("hank")), 303)
	w.ask(lead, "/findings", nil)
	if w.judge.made != 2 {
		t.Errorf("judged %d times", w.judge.made)
	}
	w.clock.add(fresh * time.Millisecond)
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() { w.ask(lead, "/today", nil) })
	}
	wg.Wait()
	if w.judge.made != 3 {
		t.Errorf("judged %d times", w.judge.made)
	}
}

func TestBinder(t *testing.T) {
	w := plant(t)
	step, begun := make(chan struct{}), make(chan struct{}, 1)
	w.binders.maker = func(ctx context.Context, out io.Writer, from, to calendar.Date, by string, progress func(done, all int)) error {
		progress(1, 4)
		begun <- struct{}{}
		select {
		case <-step:
		case <-ctx.Done():
			return ctx.Err()
		}
		return tinyBinder(ctx, out, from, to, by, progress)
	}
	for _, bad := range [][]string{{"", "2026-03-09", "First day: Choose a day."}, {"2026-03-01", "soon", "Last day: Choose a day."}, {"2026-03-09", "2026-03-01", "lies before the first"}} {
		w.wants(w.ask(lead, "/binder", url.Values{"from": {bad[0]}, "to": {bad[1]}}), 422, bad[2])
	}
	period := url.Values{"from": {"2026-03-01"}, "to": {"2026-03-09"}}
	got := w.ask(lead, "/binder", period)
	w.wants(got, 303)
	job := got.to()
	<-begun
	w.wants(w.ask(lead, job, nil), 200, "It is being made", `value="25"`, "2026-03-01 to 2026-03-09")
	w.wants(w.ask(lead, "/api"+job, nil), 200, `"state":"running","percent":25}`)
	w.wants(w.ask(lead, job+"/file", nil), 404)
	w.wants(w.ask(lead, "/binder", period), 422, "Another binder is being made")
	close(step)
	w.binders.wg.Wait()
	w.wants(w.ask(lead, job, nil), 200, "Download the binder")
	got = w.ask(lead, job+"/file", nil)
	if got.body != "a binder of 2026-03-01 to 2026-03-09 made by Nora Feldt" || got.Header.Get("Content-Type") != binderMedia ||
		got.Header.Get("Content-Disposition") != `attachment; filename="binder-2026-03-01-2026-03-09.xlsx"` {
		t.Error(got.body, got.Header)
	}
	w.binders.maker = func(context.Context, io.Writer, calendar.Date, calendar.Date, string, func(int, int)) error {
		return &records.Error{Kind: records.Full, What: "the disk is full", Do: "Make room."}
	}
	got = w.ask(lead, "/binder", period)
	w.binders.wg.Wait()
	w.wants(w.ask(lead, got.to(), nil), 200, "Could not be made", "the disk is full. Make room.")
	w.binders.maker = func(context.Context, io.Writer, calendar.Date, calendar.Date, string, func(int, int)) error {
		panic("secret")
	}
	got = w.ask(lead, "/binder", period)
	w.binders.wg.Wait()
	if got = w.ask(lead, got.to(), nil); strings.Contains(got.body, "secret") || !strings.Contains(got.body, "Could not be made") {
		t.Error(got.body)
	}
	w.binders.maker = tinyBinder
	for range binderKept + 2 {
		w.ask(lead, "/binder", period)
		w.binders.wg.Wait()
	}
	files, err := os.ReadDir(w.binders.dir)
	if err != nil || len(files) > binderKept {
		t.Error(len(files), err)
	}
	w.wants(w.ask(lead, job, nil), 404)
	dir := w.binders.dir
	if err := w.binders.close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Error("the files stay behind:", err)
	}
	w.binders = newBinders(nil, "")
	w.wants(w.ask(lead, "/binder", period), 503, "No binders are made here")
}

// A server told to stop lets what is under way finish.
func TestStopsGently(t *testing.T) {
	w := plant(t)
	inside, leave := make(chan struct{}), make(chan struct{})
	w.seen = func(*request) { close(inside); <-leave }
	ctx, stop := context.WithCancel(t.Context())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- w.Server.Run(ctx, "127.0.0.1:0", func(u string) { ready <- u }) }()
	base := <-ready
	status := make(chan int, 1)
	go func() {
		tr := &http.Transport{DisableKeepAlives: true}
		res, err := (&http.Client{Transport: tr}).Get(base + "/")
		if err != nil {
			status <- 0
			return
		}
		res.Body.Close()
		status <- res.StatusCode
	}()
	<-inside
	stop()
	close(leave)
	if got := <-status; got != 200 {
		t.Errorf("a request under way got %d", got)
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
}

// The whole way through, over real connections and with a browser's cookies.
func TestThroughTheDoor(t *testing.T) {
	w := plant(t)
	base := w.serve()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	at, err := url.Parse(base)
	if err != nil {
		t.Fatal(err)
	}
	jar.SetCookies(at, []*http.Cookie{{Name: deviceCookie, Value: w.key}})
	c := &http.Client{Jar: jar}
	res, err := c.PostForm(base+"/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}})
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != 200 || res.Request.URL.Path != "/today" {
		t.Fatal(res.StatusCode, res.Request.URL)
	}
	if res, err = c.PostForm(base+everything, full("hank")); err != nil {
		t.Fatal(err)
	}
	b, _ := io.ReadAll(res.Body)
	res.Body.Close()
	if !strings.HasPrefix(res.Request.URL.Path, "/receipt/") || !strings.Contains(string(b), "Written down") {
		t.Fatal(res.Request.URL, string(b))
	}
	if res, err = c.PostForm(base+"/sign-out", nil); err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res, err = c.Get(base + "/today"); err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.Request.URL.Path != "/" {
		t.Error(res.Request.URL)
	}
}

// Whatever a form holds, it is read without a fault, and what is read can be written down or is refused with reasons.
func FuzzDecodeSign(f *testing.F) {
	p, err := plan.Parse([]byte(thePlan()))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(full("hank").Encode())
	f.Add("a-cold=−4,5&a-clean=&outcome=passed&agent=ozone-water&agent=zzz&when=2026-03-08T02:30&id=x")
	f.Add("a-cold=1e9&a-words=%00%ff&note=%e2%80%ae")
	f.Fuzz(func(t *testing.T, query string) {
		v, err := url.ParseQuery(query)
		if err != nil {
			return
		}
		s := decodeSign("en", p, p.Task("everything"), "bench", v)
		e := records.Entry{ID: s.draft, Happened: 1, Recorded: 2, By: "hank", Meaning: records.Performed, Kind: records.KindSignoff, Fact: s.fact}
		if err := records.CheckShape(e); err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatalf("%v", err)
			}
			return
		}
		if _, err := records.Format(e); err != nil {
			t.Fatal(err)
		}
		for _, r := range s.fact.Answers {
			if r.Value != nil && r.Value.Unit != "degF" {
				t.Error("a number lost its unit")
			}
		}
	})
}

func TestPointed(t *testing.T) {
	for in, want := range map[string]string{"3,5": "3.5", "-4,25": "-4.25", "−4,5": "-4.5", "1,234": "1,234", "1,2,3": "1,2,3", "1,5.0": "1,5.0", "12": "12", "12,": "12.", "3,1415": "3.1415"} {
		if got := pointed(in); got != want {
			t.Errorf("%q: %q, not %q", in, got, want)
		}
	}
}

// A server told to stop before it has begun ends too, however that race goes.
func TestStopsBeforeItBegins(t *testing.T) {
	for range 50 {
		w := newWorld(t)
		ctx, stop := context.WithCancel(t.Context())
		stop()
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Server.Serve(ctx, ln); err != nil {
			t.Fatal(err)
		}
	}
}
