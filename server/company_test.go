package server

import (
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/pb33f/libopenapi"
	validator "github.com/pb33f/libopenapi-validator"
	"github.com/xuri/excelize/v2"

	"grainward/audit"
	"grainward/records"
	"grainward/server/auth"
)

const theFirm = "company.localhost"

// Leads see the plants the company file says are theirs, by password, whichever of them they sign in by.
func TestCompanyShowsTheirPlants(t *testing.T) {
	c := newFirm(t)
	start := c.ask(theFirm, "/", "")
	c.has(start, 200, "Quillmere Grain", "Weir Mill", `value="malthouse"`, "store (can not be opened now)", "http://mill.localhost:"+c.port+"/", "!Nora Feldt", "!Ada Rook")
	nora := c.signIn("malthouse", "nora")
	if got := c.ask(theFirm, "/", nora); got.to() != "/plants" {
		t.Error(got.to())
	}
	both := []string{"Weir Mill", "http://malthouse.localhost:" + c.port + "/findings?severity=", "Tree head", c.mill.Book.View().Head.Root.String(), c.malt.Book.View().Head.Root.String(), "Plants of the company that are not yours: 1.", "!can not be opened"}
	c.has(c.ask(theFirm, "/plants", nora), 200, both...)
	c.has(c.ask(theFirm, "/plants", c.signIn("mill", "Nora Feldt")), 200, both...)
	ada := c.signIn("mill", "ada")
	c.has(c.ask(theFirm, "/plants", ada), 200, "Weir Mill", "Hallazgos abiertos", "!malthouse.localhost", "!"+c.malt.Book.View().Head.Root.String(), "!Quillmere Malt", "Plantas de la empresa que no son suyas: 2.")
	c.has(c.ask(theFirm, "/plants", ""), 303)

	// the same as JSON
	var got plantsJSON
	if err := json.Unmarshal([]byte(c.ask(theFirm, "/api/plants", nora).body), &got); err != nil {
		t.Fatal(err)
	}
	o := c.malt.report().Outlook(0)
	if len(got.Plants) != 2 || got.Plants[0].State != "open" || got.Plants[0].Open.Major != o.Open[audit.Major] || *got.Plants[0].Overdue != len(o.Overdue) || *got.Plants[1].Overdue != 1 ||
		*got.Plants[0].Size != c.malt.size() || !strings.Contains(got.Plants[1].Head, got.Plants[1].Root) {
		t.Errorf("%+v %+v", got.Plants[0], got.Plants[1])
	}

	// a person who is no lead, a wrong password, a plant that is not there
	sign := func(plant, person, secret string) answered {
		return c.send(c.request(theFirm, "POST", "/sign-in", url.Values{"plant": {plant}, "person": {person}, "secret": {secret}}))
	}
	c.has(sign("mill", "ben", thePassword), 403, "This page is for leads")
	c.has(sign("malthouse", "hank", "4071"), 422, "That is not right")
	c.has(sign("mill", "nora", thePassword), 422, "That is not right")
	c.has(sign("store", "nora", thePassword), 422, "Choose a plant that is open")
	c.has(sign("", "", ""), 422, "Choose a plant that is open")
	for _, a := range []answered{sign("mill", "ben", thePassword), sign("malthouse", "hank", "4071")} {
		if len(a.Cookies()) != 0 {
			t.Error("somebody who may not is signed in")
		}
	}

	// signing out, a new password, and time end it
	c.has(c.send(withCookie(c.request(theFirm, "POST", "/sign-out", url.Values{}), ada)), 303)
	c.has(c.ask(theFirm, "/plants", ada), 303)
	if err := c.malt.auth.SetPassword(t.Context(), "nora", "", "another nine wet sacks"); err != nil {
		t.Fatal(err)
	}
	c.malt.clock.add(2 * time.Second)
	c.has(c.ask(theFirm, "/plants", nora), 303)
}

func withCookie(req *http.Request, cookie string) *http.Request {
	req.AddCookie(&http.Cookie{Name: cookieName, Value: cookie})
	return req
}

// Wrong passwords at the company's page slow down and lock as at the plant, since it is the plant that compares.
func TestCompanyLocksAsThePlantDoes(t *testing.T) {
	c := newFirm(t)
	last := 0
	for range 40 {
		got := c.send(c.request(theFirm, "POST", "/sign-in", url.Values{"plant": {"mill"}, "person": {"ada"}, "secret": {"not her password"}}))
		if last = got.StatusCode; last == 429 {
			c.mill.clock.add(15 * time.Minute)
			c.malt.clock.add(15 * time.Minute)
		}
	}
	got := c.send(c.request(theFirm, "POST", "/sign-in", url.Values{"plant": {"mill"}, "person": {"ada"}, "secret": {thePassword}}))
	c.has(got, 429)
	at, err := c.mill.auth.Check(t.Context(), auth.Try{Person: "ada", Secret: thePassword, Address: "192.0.2.9"})
	if err != nil || at.Outcome != auth.Locked {
		t.Errorf("at the plant itself: %+v %v", at, err)
	}
}

// A sign-in that ran out is asked for again, and leads to where somebody was going.
func TestCompanyAsksAgain(t *testing.T) {
	c := newFirm(t)
	nora := c.signIn("malthouse", "nora")
	c.malt.clock.add(31 * time.Minute)
	c.mill.clock.add(31 * time.Minute)
	got := c.ask(theFirm, "/trace?plant=mill&subject=W-7", nora)
	if got.to() != "/?next=%2Ftrace%3Fplant%3Dmill%26subject%3DW-7" {
		t.Fatal(got.to())
	}
	c.has(c.ask(theFirm, got.to(), nora), 200, "Your sign-in has ended", `value="/trace?plant=mill&subject=W-7"`)
	for next, want := range map[string]string{"/trace?plant=mill&subject=W-7": "/trace?plant=mill&subject=W-7", "https://elsewhere.example/": "/plants", "//elsewhere.example/plants": "/plants", "/api/plants": "/plants", "/people": "/plants"} {
		in := c.send(c.request(theFirm, "POST", "/sign-in", url.Values{"plant": {"malthouse"}, "person": {"nora"}, "secret": {thePassword}, "next": {next}}))
		if in.to() != want {
			t.Errorf("%q leads to %q", next, in.to())
		}
	}
}

// What one plant gave to a browser opens nothing at another, on any route: a sign-in, an enrolled device, an auditor's link, and
// the company's cookie. Each is answered as somebody who shows nothing is.
func TestPlantsAreApart(t *testing.T) {
	c := newFirm(t)
	end := c.malt.clock.now().Add(24 * time.Hour)
	day := c.malt.Book.View().State.PlanAt(c.malt.clock.now()).Day(c.malt.clock.now())
	pass, _, err := c.malt.auth.MakeLink(t.Context(), auth.Link{For: "Ida Roan", From: day - 7, To: day, By: "nora", Ends: end})
	if err != nil {
		t.Fatal(err)
	}
	strange := map[string]func(*http.Request){
		"a sign-in": func(r *http.Request) { r.AddCookie(&http.Cookie{Name: cookieName, Value: c.malt.token[lead]}) },
		"a sign-in on its device": func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: cookieName, Value: c.malt.token[crew]})
			r.AddCookie(&http.Cookie{Name: deviceCookie, Value: c.malt.key})
		},
		"a link": func(r *http.Request) { r.AddCookie(&http.Cookie{Name: linkCookie, Value: pass}) },
		"the company's": func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: cookieName, Value: c.signIn("malthouse", "nora")})
		},
		"the company's, ours": func(r *http.Request) {
			r.AddCookie(&http.Cookie{Name: cookieName, Value: "mill." + c.malt.token[lead]})
		},
	}
	before := c.mill.size()
	table := map[string]route{}
	for _, rt := range routes() {
		table[rt.Method+" "+rt.Path] = rt
	}
	tried := 0
	for name, rt := range table {
		path := rt.Path
		for part := range strings.SplitSeq(rt.Path, "/") {
			if strings.HasPrefix(part, ":") {
				path = strings.Replace(path, part, map[string]string{":person": "ben", ":position": "0", ":task": "sweep", ":station": "mill", ":lot": "W-7", ":file": "style.css"}[part], 1)
			}
		}
		path = strings.ReplaceAll(path, "//", "/x/")
		ask := func(show func(*http.Request)) answered {
			var form url.Values
			if rt.Method == "POST" {
				form = url.Values{"as": {"feldt"}, "id": {records.NewEntryID().String()}}
			}
			req := c.request("mill.localhost", rt.Method, path, form)
			show(req)
			return c.send(req)
		}
		plain := ask(func(*http.Request) {})
		for what, show := range strange {
			got := ask(show)
			tried++
			// a link that is none of this plant's is told so; nothing else may differ
			if got.StatusCode == 429 && strings.HasSuffix(path, "/sign-in") { // so many tries of nobody's
				continue
			}
			if got.StatusCode != plain.StatusCode && !(what == "a link" && got.StatusCode >= 400) {
				t.Errorf("%s with %s of another plant: %d, and with nothing %d\n%s", name, what, got.StatusCode, plain.StatusCode, got.body)
			}
			if rt.Least > nobody && got.StatusCode < 300 {
				t.Errorf("%s with %s of another plant is answered:\n%s", name, what, got.body)
			}
			if strings.Contains(got.body, "Nora Feldt") || strings.Contains(got.body, "Ben Carr") {
				t.Errorf("%s with %s of another plant names somebody:\n%s", name, what, got.body)
			}
		}
	}
	if c.mill.size() != before {
		t.Error("it wrote")
	}
	t.Logf("%d requests on %d routes", tried, len(table))

	// and a plant's own sign-in opens nothing on the company's page: by PIN, of somebody who is no lead, or without the plant's code
	for _, cookie := range []string{c.malt.token[lead], "malthouse." + c.malt.token[crew], "mill." + c.malt.token[lead], "store." + c.malt.token[lead], "malthouse.", ".", "malthouse." + pass} {
		for _, rt := range companyRoutes() {
			if rt.Method != "GET" || rt.Least == nobody {
				continue
			}
			if got := c.ask(theFirm, rt.Path, cookie); got.StatusCode < 300 {
				t.Errorf("%s with %.12s…: %d\n%s", rt.Path, cookie, got.StatusCode, got.body)
			}
		}
	}
	req := c.request(theFirm, "GET", "/plants", nil)
	req.AddCookie(&http.Cookie{Name: linkCookie, Value: pass})
	c.has(c.send(req), 303)
}

// Hosts: nobody's is told how to ask; another plant's page can send nothing; one that can not be opened says so while the others go on.
func TestFrontByHost(t *testing.T) {
	c := newFirm(t)
	c.has(c.ask("elsewhere.example", "/", ""), 421, "No plant of this name", "Ninguna planta", "!malthouse.localhost")
	c.has(c.ask("127.0.0.1", "/today", ""), 421, "malthouse.localhost:"+c.port, "mill.localhost", theFirm)
	c.has(c.ask("localhost", "/", ""), 421, "mill.localhost")
	c.has(c.ask("MILL.localhost.", "/api/crew", ""), 200, "Weir Mill")
	c.has(c.ask("malthouse.localhost", "/api/crew", ""), 200, "!Weir Mill")
	before := c.mill.size()
	for name, value := range map[string]string{"Sec-Fetch-Site": "same-site", "Origin": "http://malthouse.localhost:" + c.port} {
		req := withCookie(c.request("mill.localhost", "POST", "/deviation", url.Values{"what": {"x"}, "as": {"feldt"}, "id": {records.NewEntryID().String()}}), c.mill.signedIn("feldt"))
		req.Header.Set(name, value)
		c.has(c.send(req), 403)
	}
	if c.mill.size() != before {
		t.Error("a form of one plant's page was taken at another")
	}
	shut := c.ask("store.localhost", "/today", "")
	c.has(shut, 503, "can not be opened now", "no se puede abrir", "!chmod")
	if shut.Header.Get("Retry-After") != "30" {
		t.Error(shut.Header)
	}
	for name := range safety {
		if shut.Header.Get(name) == "" {
			t.Errorf("no %s", name)
		}
	}
	big := c.request("store.localhost", "POST", "/paper", url.Values{"x": {strings.Repeat("y", 4096)}})
	if got := c.send(big); got.StatusCode < 400 {
		t.Error(got.StatusCode)
	}
	c.has(c.ask("mill.localhost", "/", ""), 200)
}

// What is wrong with a plant is on the page of those who belong there; when it is open it is shown, and nobody has to start anything.
func TestCompanySaysWhatIsShut(t *testing.T) {
	c := newFirm(t)
	c.page.Company.File.People[0].At = append(c.page.Company.File.People[0].At, c.page.Company.File.People[0].At[0])
	c.page.Company.File.People[0].At[2].Plant = "store"
	nora := c.signIn("malthouse", "nora")
	c.has(c.ask(theFirm, "/plants", nora), 200, "Can not be opened; it is tried again by itself", "The plant's private key can be read by others. Run `chmod 600`.")
	c.page.Company.Failed("store", http.ErrServerClosed) // an error of somebody else's words
	c.has(c.ask(theFirm, "/plants", nora), 200, "What is wrong is in the log of the server.", "!Server closed")
	w := plant(t)
	w.Host = "store.localhost"
	c.page.Company.Opened("store", w.Server)
	c.front.Put(w.Server)
	c.has(c.ask("store.localhost", "/api/crew", ""), 200)
	c.has(c.ask(theFirm, "/plants", nora), 200, "!Can not be opened")
}

// A lead at one plant who is crew at the other sees the one's figures, and is told of the other.
func TestCompanyNotLeadEverywhere(t *testing.T) {
	c := newFirm(t)
	c.adoptMill(strings.Replace(millPlan, "{code: feldt, name: Nora Feldt, initials: NF, role: lead", "{code: feldt, name: Nora Feldt, initials: NF, role: crew", 1))
	nora := c.signIn("malthouse", "nora")
	c.has(c.ask(theFirm, "/plants", nora), 200, "You are no lead at this plant", "!"+c.mill.Book.View().Head.Root.String())
	c.has(c.ask(theFirm, "/trace?plant=malthouse&subject=B-1", nora), 200, "You do not see that plant here", "!W-7")
}

// A trace goes on at the mill for who may see both; for who may not, it says that it went on, and nothing of the mill's.
func TestCompanyTrace(t *testing.T) {
	c := newFirm(t)
	nora := c.signIn("malthouse", "nora")
	c.has(c.ask(theFirm, "/trace", nora), 200, "Lot or bag", "Weir Mill")
	c.has(c.ask(theFirm, "/trace?plant=malthouse&subject=B-1&direction=forward", nora), 200, "W-7", "FLOUR-7", "B-1 left Quillmere", "The receipt writes “b 1”", "only this one’s mass agrees",
		"http://mill.localhost:"+c.port+"/lots/FLOUR-7", "B-1 was handed over to Weir Mill (mill)", "answer other handovers")
	c.has(c.ask(theFirm, "/trace?plant=mill&subject=FLOUR-7&direction=back", nora), 200, "B-1", "W-7")
	c.has(c.ask(theFirm, "/trace?plant=mill&subject=NEVER", nora), 404, "Nothing at this plant is called \"NEVER\".")
	c.has(c.ask(theFirm, "/trace?plant=nowhere&subject=B-1", nora), 422, "the code of a plant that is yours to see")
	ada := c.signIn("mill", "ada")
	c.has(c.ask(theFirm, "/trace?plant=mill&subject=FLOUR-7", ada), 200, "W-7", "Usted no ve esa planta aquí", "!B-1", "«b 1»")
	c.has(c.ask(theFirm, "/trace?plant=malthouse&subject=B-1", ada), 422, "!W-7")
	var f struct {
		Plants, Loose []any
		Joins         []struct{ Named, Rule string }
	}
	if err := json.Unmarshal([]byte(c.ask(theFirm, "/api/trace?plant=malthouse&subject=B-1", nora).body), &f); err != nil || len(f.Plants) != 2 || len(f.Joins) != 1 || f.Joins[0].Named != "respelt" || f.Joins[0].Rule != "mass" || len(f.Loose) != 1 {
		t.Errorf("%+v %v", f, err)
	}
	c.has(c.ask(theFirm, "/api/trace?plant=malthouse&subject=B-1&direction=up", nora), 422, "direction")
}

// The trace as a drawing and as a workbook: what a reader may see, and nothing of a plant that is not theirs.
func TestCompanyTraceFiles(t *testing.T) {
	c := newFirm(t)
	nora, ada := c.signIn("malthouse", "nora"), c.signIn("mill", "ada")
	c.has(c.ask(theFirm, "/trace?plant=malthouse&subject=B-1&direction=forward", nora), 200, `href="/api/trace.svg?direction=forward&plant=malthouse&subject=B-1"`, "/api/trace.xlsx?", "Workbook (xlsx)")
	c.has(c.ask(theFirm, "/trace?plant=mill&subject=NEVER", nora), 404, "!trace.svg")
	svg := c.ask(theFirm, "/api/trace.svg?plant=malthouse&subject=B-1&direction=forward", nora)
	c.has(svg, 200, "Quillmere Floor Maltings (malthouse)", "Weir Mill (mill)", "FLOUR-7", "[1]", "only this one’s mass agrees", "answer other handovers", c.malt.Book.View().Head.Root.String()[:12])
	if svg.Header.Get("Content-Type") != "image/svg+xml" || svg.Header.Get("Content-Disposition") != `attachment; filename="trace-malthouse-B-1.svg"` {
		t.Error(svg.Header)
	}
	c.has(c.ask(theFirm, "/api/trace.svg?plant=mill&subject=FLOUR-7", ada), 200, "Rastreo por las plantas", "Usted no ve esa planta", "!B-1", "!Quillmere Floor", "!"+c.malt.Book.View().Head.Root.String()[:12])
	book := c.ask(theFirm, "/api/trace.xlsx?plant=mill&subject="+url.QueryEscape("their-lot:b 1"), nora)
	c.has(book, 200)
	if book.Header.Get("Content-Type") != binderMedia || book.Header.Get("Content-Disposition") != `attachment; filename="trace-mill-their-lot-b-1.xlsx"` {
		t.Error(book.Header)
	}
	f, err := excelize.OpenReader(strings.NewReader(book.body))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	joins, err := f.GetRows("From plant to plant")
	if err != nil || len(joins) != 2 || !slices.Contains(joins[1], "Quillmere Floor Maltings") || !slices.Contains(joins[1], "W-7") {
		t.Errorf("%v %v", joins, err)
	}
	lots, err := f.GetRows("Lots")
	if err != nil || len(lots) < 4 {
		t.Errorf("%v %v", lots, err)
	}
	for _, path := range []string{"/api/trace.svg", "/api/trace.xlsx"} {
		c.has(c.ask(theFirm, path+"?plant=mill&subject=NEVER", nora), 404)
		c.has(c.ask(theFirm, path+"?plant=malthouse&subject=B-1", ada), 422, "!W-7")
		c.has(c.ask(theFirm, path+"?plant=malthouse&subject=B-1&direction=up", nora), 422, "direction")
	}
}

// The company's routes, as nobody and as a lead; each carries what every answer does.
func TestEveryCompanyRoute(t *testing.T) {
	c := newFirm(t)
	nora := c.signIn("malthouse", "nora")
	body := `{"plant":"mill","person":"ada","secret":"` + thePassword + `"}`
	want := map[string][2]int{ // nobody, a lead
		"GET /": {200, 303}, "POST /sign-in": {422, 422}, "POST /sign-out": {303, 303}, "GET /plants": {303, 200}, "GET /trace": {303, 200}, "GET /static/:file": {200, 200}, "GET /install": {200, 200},
		"GET /authority.crt": {404, 404}, "GET /authority.pem": {404, 404}, "GET /api/openapi.json": {200, 200}, "POST /api/sign-in": {200, 200}, "POST /api/sign-out": {204, 204},
		"GET /api/head": {401, 200}, "GET /api/plants": {401, 200}, "GET /api/trace": {401, 422}, "GET /api/trace.svg": {401, 422}, "GET /api/trace.xlsx": {401, 422}, "GET /api/events": {401, 200},
	}
	c.page.events.lasts = 0
	for _, rt := range companyRoutes() {
		name := rt.Method + " " + rt.Path
		for i, cookie := range []string{"", ""} {
			if i == 1 { // each time anew: signing in or out ends the sign-in that was there
				cookie = c.signIn("malthouse", "nora")
			}
			req := c.request(theFirm, rt.Method, strings.Replace(rt.Path, ":file", "company.css", 1), map[bool]url.Values{true: {}}[rt.Method == "POST"])
			if rt.Takes == aJSON {
				req = c.request(theFirm, rt.Method, rt.Path, nil)
				req.Body, req.ContentLength = http.NoBody, 0
				again, err := http.NewRequest(rt.Method, req.URL.String(), strings.NewReader(body))
				if err != nil {
					t.Fatal(err)
				}
				again.Host = req.Host
				again.Header.Set("Content-Type", "application/json")
				req = again
			}
			if cookie != "" {
				withCookie(req, cookie)
			}
			got := c.send(req)
			if got.StatusCode != want[name][i] {
				t.Errorf("%s, %d: %d, not %d\n%s", name, i, got.StatusCode, want[name][i], got.body)
			}
			c.malt.safe(got)
			if got.StatusCode >= 400 && rt.JSON != (got.Header.Get("Content-Type") == "application/problem+json") {
				t.Errorf("%s: the problem is %s", name, got.Header.Get("Content-Type"))
			}
		}
		delete(want, name)
	}
	for name := range want {
		t.Errorf("%s is no route", name)
	}
	c.has(c.ask(theFirm, "/people", nora), 404)
	c.has(c.ask(theFirm, "/api/entries", nora), 404)

	b, err := describe("1", companyRoutes())
	if err != nil {
		t.Fatal(err)
	}
	doc, err := libopenapi.NewDocument(b)
	if err != nil {
		t.Fatal(err)
	}
	v, errs := validator.NewValidator(doc)
	if errs != nil {
		t.Fatal(errs)
	}
	if good, faults := v.ValidateDocument(); !good {
		t.Error(faults)
	}
}

// A page that is open is told when a plant it shows has grown, and when the sign-in has ended.
func TestCompanyEvents(t *testing.T) {
	c := newFirm(t)
	nora := c.signIn("malthouse", "nora")
	c.page.events.lasts = time.Minute
	req := withCookie(c.request(theFirm, "GET", "/api/events", nil), nora)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	var told []string
	buf := make([]byte, 4096)
	for len(told) < 3 {
		n, err := res.Body.Read(buf)
		if err != nil && n == 0 {
			t.Fatal(err, told)
		}
		for _, line := range strings.Split(string(buf[:n]), "\n") {
			if line == "event: journal" || line == "event: ended" {
				told = append(told, line)
				switch len(told) {
				case 1:
					c.mill.write(records.Entry{By: "ben", Fact: &records.Deviation{What: "A belt slipped.", Station: "mill"}})
				case 2:
					if err := c.malt.auth.SetPassword(t.Context(), "nora", "", "another nine wet sacks"); err != nil {
						t.Fatal(err)
					}
					c.malt.clock.add(2 * time.Second)
				}
			}
		}
	}
	if !slices.Equal(told, []string{"event: journal", "event: journal", "event: ended"}) {
		t.Error(told)
	}
}
