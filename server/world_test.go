package server

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/records/plan"
	"grainward/server/auth"
)

// world is a plant with a week behind it, and a server for it. It is Monday, 9 March 2026, half past seven in the morning.
type world struct {
	*testing.T
	*Server
	clock *clock
	auth  *auth.Store
	token [lead + 1]string // of one person for each role: of the lead by password, of the others by PIN on the device
	key   string           // of an enrolled device; sent with everything, but by strangers
	tab   records.DeviceCode
	first records.Position // the first sign-off, by hank
}

type clock struct {
	sync.Mutex
	at   records.Instant
	runs time.Time // since when it runs; it stands when zero
}

func (c *clock) now() records.Instant {
	c.Lock()
	defer c.Unlock()
	if c.runs.IsZero() {
		return c.at
	}
	return c.at.Add(time.Since(c.runs))
}

func (c *clock) run()                { c.Lock(); defer c.Unlock(); c.runs = time.Now() }
func (c *clock) add(d time.Duration) { c.Lock(); defer c.Unlock(); c.at = c.at.Add(d) }

func at(text string) records.Instant {
	i, err := records.ParseInstant(text)
	if err != nil {
		panic(err)
	}
	return i
}

// thePlan is the starter plan with a visitor and two tasks that ask for everything a task can ask for.
func thePlan() string {
	text := string(plan.Starter())
	text = strings.Replace(text, "\npeople:\n", `
people:
  - {code: vera, name: Vera Quist, initials: VQ, role: visitor, languages: [en]}
  - {code: gone, name: Gone Away, initials: GA, role: lead, languages: [en], until: 2026-03-01}
`, 1)
	return strings.Replace(text, "\ntasks:\n", `
tasks:
  - code: everything
    title: {en: Everything a task can ask, es: Todo lo que una tarea puede pedir}
    family: monitoring
    stations: [bench]
    agents: [ozone-water, potable-water]
    second: true
    asks:
      - {code: cold, title: {en: Cold side, es: Lado frío}, type: number, unit: degF, limits: {min: -10, max: 40}}
      - {code: clean, title: {en: Clean to the eye, es: Limpio a la vista}, type: yesno, right: "yes"}
      - {code: colour, title: {en: Colour, es: Color}, type: choice, choices: [pale, amber], right: pale}
      - {code: words, title: {en: In words, es: En palabras}, type: text}
      - {code: picture, title: {en: A picture, es: Una foto}, type: photo, optional: true}
    cautions:
      - {text: {en: Mind the step., es: Cuidado con el escalón.}, source: "common practice, no source"}
    clauses: [21 CFR 117.145]
`, 1)
}

func newWorld(t *testing.T) *world {
	t.Helper()
	return worldOn(t, memory.New(), at("2026-03-02T05:00:00-05:00"))
}

// theKey is the plant's private key, the same for all of its servers.
var theKey = sync.OnceValue(func() string {
	signer, _, err := ledger.GenerateKey(nil, "quillmere.example/journal")
	if err != nil {
		panic(err)
	}
	return signer
})

// worldOn is a world with a journal that is there already.
func worldOn(t *testing.T, store records.Store, now records.Instant) *world {
	t.Helper()
	c := &clock{at: now}
	signer := theKey()
	b, err := book.Open(context.Background(), store, book.Options{Origin: "quillmere.example/journal", Signer: signer, Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	a, err := auth.Open(filepath.Join(t.TempDir(), "people.db"), auth.Options{Now: c.now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	w := &world{T: t, clock: c, auth: a}
	key, err := ledger.VerifierOf(signer)
	if err != nil {
		t.Fatal(err)
	}
	w.Server = New(Config{Book: b, Key: key, Auth: a, Now: c.now, Version: "0.1", MakeBinder: tinyBinder, FirstPIN: "grainward pin nora", TempDir: t.TempDir()})
	t.Cleanup(func() { w.binders.close() })
	w.rates.off = true                    // tests ask by the thousand
	w.events.pause, w.events.lasts = 0, 0 // a stream that is read whole must end; tests of streams let it last
	return w
}

// tinyBinder stands in for the real one, which is handed in by whoever wires the program together.
func tinyBinder(ctx context.Context, out io.Writer, from, to calendar.Date, madeBy string, progress func(done, all int)) error {
	progress(1, 2)
	_, err := io.WriteString(out, "a binder of "+from.String()+" to "+to.String()+" made by "+madeBy)
	progress(2, 2)
	return err
}

func (w *world) adopt() { w.Helper(); w.adoptText(thePlan()) }

// plant is a world with a plan, a week without work, two sign-offs, PINs and somebody signed in for each role.
func plant(t *testing.T) *world {
	t.Helper()
	return plantOn(t, memory.New())
}

// plantOn is plant with its journal in an empty store.
func plantOn(t *testing.T, store records.Store) *world {
	t.Helper()
	w := worldOn(t, store, at("2026-03-02T05:00:00-05:00"))
	w.adopt()
	w.clock.Lock()
	w.clock.at = at("2026-03-09T07:30:00-04:00")
	w.clock.Unlock()
	yes := true
	w.first = w.write(records.Entry{By: "hank", Fact: &records.Signoff{Task: "footwear-check", Station: "entrance", Outcome: records.Passed,
		Answers: []records.Response{{Ask: "worn", Yes: &yes}, {Ask: "clean", Yes: &yes}}}})
	w.write(records.Entry{By: "nora", Fact: &records.Deviation{What: "A gull got in through the dock door.", Station: "warehouse"}})
	w.staff()
	return w
}

// staff gives somebody of each role a PIN, and signs them in.
func (w *world) staff() {
	t := w.T
	t.Helper()
	ctx := context.Background()
	w.key, w.tab = w.enrolled("Floor tablet")
	for r, who := range map[role]records.PersonCode{visitor: "vera", crew: "hank", lead: "nora"} {
		if err := w.auth.SetPIN(ctx, who, "", "4071"); err != nil {
			t.Fatal(err)
		}
		if r == lead {
			if err := w.auth.SetPassword(ctx, who, "", thePassword); err != nil {
				t.Fatal(err)
			}
		}
		w.token[r] = w.signedIn(who)
	}
}

const thePassword = "seven wet sacks of rye"

// enrolled is a new device: what its browser shows, and its code.
func (w *world) enrolled(name string) (key string, code records.DeviceCode) {
	w.Helper()
	text, _, err := w.auth.MakeCode(context.Background(), "nora", name, 0)
	if err != nil {
		w.Fatal(err)
	}
	key, d, _, err := w.auth.Enrol(context.Background(), text, "192.0.2.1")
	if err != nil || key == "" {
		w.Fatal(err)
	}
	return key, d.Code
}

// signedIn is a sign-in of somebody: with a password for nora, with a PIN for the others. It hangs on no device, so that a test may
// ask without one; people_test.go has those that do.
func (w *world) signedIn(who records.PersonCode) (token string) {
	w.Helper()
	by := auth.PIN
	if who == "nora" {
		by = auth.Password
	}
	token, _, err := w.auth.SignIn(context.Background(), who, by, "")
	if err != nil {
		w.Fatal(err)
	}
	return token
}

func (w *world) write(e records.Entry) records.Position {
	w.Helper()
	e.ID, e.Happened, e.Kind = records.NewEntryID(), w.clock.now(), e.Fact.Kind()
	row, _ := records.RowOf(e.Kind)
	e.Meaning = row.Meanings[0]
	got, err := w.Book.Admit(context.Background(), e)
	if err != nil {
		w.Fatal(err)
	}
	return got[0].Position
}

func (w *world) size() records.Position { return w.Book.View().Head.Size }

// answered is what came back.
type answered struct {
	*http.Response
	body string
}

// ask sends a request as somebody of a role. form is nil for GET.
func (w *world) ask(as role, path string, form url.Values) answered {
	w.Helper()
	return w.asToken(w.token[as], path, form)
}

func (w *world) asToken(token, path string, form url.Values) answered {
	w.Helper()
	var req *http.Request
	if form == nil {
		req = httptest.NewRequest("GET", "http://localhost"+path, nil)
	} else {
		req = httptest.NewRequest("POST", "http://localhost"+path, strings.NewReader(form.Encode()))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if token != "" {
		req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
	}
	return w.send(req)
}

func (w *world) send(req *http.Request) answered {
	w.Helper()
	if _, err := req.Cookie(deviceCookie); w.key != "" && err != nil {
		req.AddCookie(&http.Cookie{Name: deviceCookie, Value: w.key})
	}
	res, err := w.app.Test(req, -1)
	if err != nil {
		w.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		w.Fatal(err)
	}
	a := answered{res, string(b)}
	w.asDescribed(req, a)
	return a
}

func (a answered) to() string { return a.Header.Get("Location") }

// wants checks a status and words.
func (w *world) wants(a answered, status int, words ...string) {
	w.Helper()
	if a.StatusCode != status {
		w.Errorf("status %d, not %d: %s", a.StatusCode, status, a.body)
	}
	for _, word := range words {
		if !strings.Contains(a.body, word) {
			w.Errorf("%q is not in it:\n%s", word, a.body)
		}
	}
}

// signing are the fields of a sign-off that is in order.
func signing(as string) url.Values {
	return url.Values{"id": {records.NewEntryID().String()}, "as": {as}, "outcome": {"passed"}, "a-fit": {"yes"}, "a-hands": {"yes"}, "a-clothes": {"yes"}}
}

const hygiene = "/sign/hygiene-check/entrance"

func request1(host, path string, form url.Values, token string) *http.Request {
	req := httptest.NewRequest("POST", "http://"+host+path, strings.NewReader(form.Encode()))
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
	return req
}

func newGet(path, token string) *http.Request {
	req := httptest.NewRequest("GET", "http://localhost"+path, nil)
	req.AddCookie(&http.Cookie{Name: cookieName, Value: token})
	return req
}
