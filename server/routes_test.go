package server

import (
	"maps"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/records"
)

// scenario is one route tried with every role.
type scenario struct {
	path   string
	form   func(as string) url.Values // of a POST
	status [lead + 1]int              // nobody, visitor, crew, lead
	words  []string                   // for those who may; nobody else sees any of them
	open   bool                       // the words are for everybody
	body   func(as string) []byte     // in place of form
	media  string                     // of body
}

const someFinding = "missed:walk-round@office:2026-03-02T11:00:00.000Z"

// scenarios has a row for every row of the table of routes, which TestEveryRouteWithEveryRole checks.
func scenarios() map[string]scenario {
	form := func(pairs ...string) func(string) url.Values {
		return func(as string) url.Values {
			v := url.Values{"as": {as}, "id": {records.NewEntryID().String()}}
			for i := 0; i < len(pairs); i += 2 {
				v.Set(pairs[i], pairs[i+1])
			}
			return v
		}
	}
	return map[string]scenario{
		"GET /":                    {path: "/", status: [4]int{200, 303, 303, 303}, words: nil},
		"GET /sign-in/:person":     {path: "/sign-in/grete", status: [4]int{200, 200, 200, 200}, words: []string{"Grete Holm", "Ask the lead to set one"}, open: true},
		"POST /sign-in":            {path: "/sign-in", form: form("person", "hank", "secret", "5192"), status: [4]int{422, 422, 422, 422}, words: []string{"That is not the PIN."}, open: true},
		"GET /healthz":             {path: "/healthz", status: [4]int{200, 200, 200, 200}, words: []string{`{"status":"ok"}`}, open: true},
		"POST /sign-out":           {path: "/sign-out", form: form(), status: [4]int{303, 303, 303, 303}},
		"GET /static/:file":        {path: "/static/style.css", status: [4]int{200, 200, 200, 200}, words: []string{"--paper"}, open: true},
		"GET /crew":                {path: "/crew?station=entrance", status: [4]int{200, 200, 200, 200}, words: []string{"crew.mjs", `href="/today"`}},
		"GET /crew/:version/:file": {path: "/crew/any/queue.mjs", status: [4]int{200, 200, 200, 200}, words: []string{"sendAll"}},
		"GET /api/crew":            {path: "/api/crew", status: [4]int{200, 200, 200, 200}, words: []string{"Hank Osgood", `"zone":"America/New_York"`}},
		"GET /today":               {path: "/today", status: [4]int{303, 200, 200, 200}, words: []string{"Today’s work", "Footwear change at the floor entrance", "Before the shift: fit, clean, hands washed", "Overdue", "Later today"}},
		"GET /station/:station":    {path: "/station/entrance", status: [4]int{303, 200, 200, 200}, words: []string{"Before the shift: fit, clean, hands washed"}},
		"GET /sign/:task/:station": {path: hygiene, status: [4]int{303, 403, 200, 200},
			words: []string{"Hands washed, jewellery off, hair covered", "How did it go?", "Sign it off"}},
		"POST /sign/:task/:station": {path: hygiene, form: signing, status: [4]int{401, 403, 303, 303}},
		"GET /receipt/:position":    {path: "/receipt/1", status: [4]int{303, 403, 200, 200}, words: []string{"Written down", "It passes by the plan."}},
		"GET /entry/:position":      {path: "/entry/1", status: [4]int{303, 403, 200, 200}, words: []string{"Everybody on the floor wears footwear kept for it", "Signed by", "Leaf hash"}},
		"GET /photo/:key":           {path: "/photo/" + strings.Repeat("a", 64), status: [4]int{303, 403, 404, 404}},
		"GET /correct/:position":    {path: "/correct/1", status: [4]int{303, 403, 200, 200}, words: []string{"Why is it corrected?"}},
		"POST /correct/:position": {path: "/correct/1", form: form("outcome", "passed", "a-worn", "yes", "a-clean", "yes", "reason", "checked again", "again", "4071"),
			status: [4]int{401, 403, 303, 303}},
		"GET /withdraw/:position":    {path: "/withdraw/1", status: [4]int{303, 403, 200, 200}, words: []string{"Why is it withdrawn?"}},
		"POST /withdraw/:position":   {path: "/withdraw/1", form: form("reason", "r", "again", "4071"), status: [4]int{401, 403, 303, 303}},
		"GET /binder":                {path: "/binder", status: [4]int{303, 403, 403, 200}, words: []string{"Make the binder"}},
		"POST /binder":               {path: "/binder", form: form("from", "2026-03-01", "to", "2026-03-09"), status: [4]int{401, 403, 403, 303}},
		"GET /binder/:job":           {path: "/binder/none", status: [4]int{303, 403, 403, 404}},
		"GET /binder/:job/file":      {path: "/binder/none/file", status: [4]int{303, 403, 403, 404}},
		"GET /people":                {path: "/people", status: [4]int{303, 403, 403, 200}, words: []string{"Grete Holm", "cannot sign in yet", "Gone Away"}},
		"GET /people/:person":        {path: "/people/grete", status: [4]int{303, 403, 403, 200}, words: []string{"Grete Holm", "New PIN", "End all sign-ins"}},
		"POST /people/:person":       {path: "/people/grete", form: form("do", "pin", "pin", "5192", "twice", "5192", "again", thePassword), status: [4]int{401, 403, 403, 200}, words: []string{"The PIN of Grete Holm is set."}},
		"GET /people/:person/leave":  {path: "/people/grete/leave", status: [4]int{303, 403, 403, 200}, words: []string{"Grete Holm leaves"}},
		"POST /people/:person/leave": {path: "/people/grete/leave", form: form("last", "2026-03-20"), status: [4]int{401, 403, 403, 200}, words: []string{"Adopt this plan", "2026-03-20"}},
		"GET /new-person":            {path: "/new-person", status: [4]int{303, 403, 403, 200}, words: []string{"Add a person to the plan"}},
		"POST /new-person":           {path: "/new-person", form: form("name", "Ida Brandt", "initials", "IB", "code", "ida", "role", "crew", "languages", "es,en", "from", "2026-03-10"), status: [4]int{401, 403, 403, 200}, words: []string{"Adopt this plan", "Ida Brandt"}},
		"POST /api/plan/look":        {path: "/api/plan/look", body: func(string) []byte { return asBody(lookAsk{Text: thePlan(), Days: 7}) }, media: "application/json", status: [4]int{401, 403, 403, 200}, words: []string{`"changes":[]`, `"from":"2026-03-02"`}},
		"GET /plan":                  {path: "/plan", status: [4]int{303, 403, 403, 200}, words: []string{"The plan in force", "Adopted by"}},
		"POST /plan":                 {path: "/plan", form: form("text", strings.ReplaceAll(thePlan(), "jewellery", "rings"), "again", thePassword), status: [4]int{401, 403, 403, 303}},
		"GET /plan/new":              {path: "/plan/new", status: [4]int{303, 403, 403, 200}, words: []string{"Show what would change"}},
		"POST /plan/new":             {path: "/plan/new", form: form("text", thePlan()), status: [4]int{401, 403, 403, 200}, words: []string{"It says what the plan in force says."}},
		"GET /devices":               {path: "/devices", status: [4]int{303, 403, 403, 200}, words: []string{"Floor tablet", "Make a code"}},
		"POST /devices":              {path: "/devices", form: form("name", "Kiln tablet"), status: [4]int{401, 403, 403, 200}, words: []string{"Code for Kiln tablet", "http://localhost/enrol?code="}},
		"GET /devices/:device":       {path: "/devices/none", status: [4]int{303, 403, 403, 404}},
		"POST /devices/:device":      {path: "/devices/none", form: form("name", "x"), status: [4]int{401, 403, 403, 404}},
		"GET /enrol":                 {path: "/enrol", status: [4]int{200, 200, 200, 200}, words: []string{"Enrolment code"}, open: true},
		"POST /enrol":                {path: "/enrol", form: form("code", "0000-0000"), status: [4]int{422, 422, 422, 422}, words: []string{"That code is not taken"}, open: true},
		"POST /api/sign-in":          {path: "/api/sign-in", body: func(string) []byte { return []byte(`{"person":"hank","secret":"5192"}`) }, media: "application/json", status: [4]int{401, 401, 401, 401}, words: []string{"secret-wrong"}, open: true},
		"POST /api/sign-out":         {path: "/api/sign-out", form: form(), status: [4]int{204, 204, 204, 204}},
		"GET /install":               {path: "/install", status: [4]int{200, 200, 200, 200}, words: []string{"This network"}, open: true},
		"GET /authority.crt":         {path: "/authority.crt", status: [4]int{404, 404, 404, 404}},
		"GET /authority.pem":         {path: "/authority.pem", status: [4]int{404, 404, 404, 404}},
		"GET /network":               {path: "/network", status: [4]int{303, 403, 403, 200}, words: []string{"--listen 0.0.0.0:8443"}},
	}
}

var people = [...]string{nobody: "hank", visitor: "vera", crew: "hank", lead: "nora"}

func TestEveryRouteWithEveryRole(t *testing.T) {
	all := scenarios()
	maps.Copy(all, floorScenarios())
	maps.Copy(all, officeScenarios())
	maps.Copy(all, apiScenarios())
	maps.Copy(all, paperScenarios())
	maps.Copy(all, auditorScenarios())
	for _, rt := range routes() {
		name := rt.Method + " " + rt.Path
		sc, ok := all[name]
		if !ok {
			t.Errorf("the route %s has no scenario", name)
			continue
		}
		delete(all, name)
		if rt.Says == "" {
			t.Errorf("%s does not say what it is for", name)
		}
		for as := nobody; as <= lead; as++ {
			t.Run(name+" "+as.String(), func(t *testing.T) {
				w := plant(t)
				before := w.size()
				var form url.Values
				var got answered
				if sc.body != nil {
					got = w.sendBody(as, rt.Method, sc.path, sc.media, sc.body(people[as]))
				} else {
					if rt.Method == "POST" {
						form = sc.form(people[as])
					}
					got = w.ask(as, sc.path, form)
				}
				if got.StatusCode != sc.status[as] {
					t.Errorf("status %d, not %d\n%s", got.StatusCode, sc.status[as], got.body)
				}
				may := as >= rt.Least
				for _, word := range sc.words {
					if has := strings.Contains(got.body, word); has != (may || sc.open) {
						t.Errorf("%q is in it: %v\n%s", word, has, got.body)
					}
				}
				if !may {
					if w.size() != before {
						t.Error("it wrote")
					}
					for _, never := range []string{"gull", "Leaf hash", "jewellery", "checkpoint"} {
						if strings.Contains(got.body, never) {
							t.Errorf("%q is in it\n%s", never, got.body)
						}
					}
				}
				if got.StatusCode >= 400 && rt.JSON != (got.Header.Get("Content-Type") == "application/problem+json") {
					t.Errorf("the problem is %s", got.Header.Get("Content-Type"))
				}
				for _, bad := range []string{"ZgotmplZ", "<nil>", "%!", "runtime error", "goroutine"} {
					if strings.Contains(got.body, bad) {
						t.Errorf("%q is in it\n%s", bad, got.body)
					}
				}
				w.safe(got)
			})
		}
	}
	for name := range all {
		t.Errorf("the scenario %s is of no route", name)
	}
}

// safe checks what every answer carries.
func (w *world) safe(a answered) {
	w.Helper()
	part := strings.HasPrefix(a.Request.URL.Path, "/crew/") && a.StatusCode == 200
	for name, value := range safety {
		if part && !slices.Contains(partSafety, name) {
			continue
		}
		if a.Header.Get(name) != value {
			w.Errorf("%s is %q", name, a.Header.Get(name))
		}
	}
	if csp := a.Header.Get("Content-Security-Policy"); !part && strings.Contains(csp, "unsafe") || !part && !strings.Contains(csp, "frame-ancestors 'none'") {
		w.Error(csp)
	}
	if len(a.Header.Get("X-Request-Id")) != 16 {
		w.Error("no request id")
	}
	if c := a.Header.Get("Cache-Control"); c != "no-store" && !strings.Contains(c, "immutable") {
		w.Error(c)
	}
}

// Sent from another site's page, or to a name that is not this machine's, nothing is taken.
func TestFromElsewhere(t *testing.T) {
	w := plant(t)
	before := w.size()
	for name, change := range map[string]func(h map[string]string) string{
		"another site":            func(h map[string]string) string { h["Sec-Fetch-Site"] = "cross-site"; return "localhost" },
		"the same site":           func(h map[string]string) string { h["Sec-Fetch-Site"] = "same-site"; return "localhost" },
		"another origin":          func(h map[string]string) string { h["Origin"] = "http://elsewhere.example"; return "localhost" },
		"no origin":               func(h map[string]string) string { h["Origin"] = "null"; return "localhost" },
		"another port":            func(h map[string]string) string { h["Origin"] = "http://localhost:9999"; return "localhost" },
		"a name that points here": func(h map[string]string) string { h["Sec-Fetch-Site"] = "same-origin"; return "elsewhere.example" },
	} {
		h := map[string]string{}
		host := change(h)
		req := request1(host, hygiene, signing("hank"), w.token[crew])
		for k, v := range h {
			req.Header.Set(k, v)
		}
		got := w.send(req)
		if got.StatusCode != 403 || w.size() != before {
			t.Errorf("%s: %d, and the journal has %d entries", name, got.StatusCode, w.size())
		}
		w.safe(got)
	}
	for _, h := range []map[string]string{{"Sec-Fetch-Site": "same-origin"}, {"Origin": "http://localhost"}, {}} {
		req := request1("localhost", hygiene, signing("hank"), w.token[crew])
		for k, v := range h {
			req.Header.Set(k, v)
		}
		if got := w.send(req); got.StatusCode != 303 {
			t.Errorf("%v: %d\n%s", h, got.StatusCode, got.body)
		}
	}
}

// A person who leaves is out at once, whatever their sign-in says; a role is that of the plan in force now.
func TestRolesAreThePlans(t *testing.T) {
	w := plant(t)
	token := w.signedIn("gone")
	w.wants(w.asToken(token, "/findings", nil), 303)
	w.wants(w.asToken(token, "/api/head", nil), 401)
	if got := w.ask(nobody, "/", nil); strings.Contains(got.body, "Gone Away") {
		t.Error("somebody who left can be chosen")
	}
}

func TestSignInLast(t *testing.T) {
	w := plant(t)
	w.clock.add(31 * time.Minute)
	got := w.ask(crew, "/station/floor-1", nil)
	if got.to() != "/sign-in/hank?next=%2Fstation%2Ffloor-1" {
		t.Fatal(got.to())
	}
	w.wants(w.ask(nobody, got.to(), nil), 200, "Hank Osgood", `name="next" value="/station/floor-1"`)
	got = w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}, "next": {"/station/floor-1"}})
	w.wants(got, 303)
	if got.to() != "/station/floor-1" {
		t.Error(got.to())
	}
	c := got.Header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(c, want) {
			t.Errorf("%s is not in %s", want, c)
		}
	}
	if strings.Contains(c, "Secure") {
		t.Error("Secure without TLS: no browser would send it back")
	}
	w.TLS = true
	if c := w.cookie("x"); !strings.Contains(c, "Secure") {
		t.Error(c)
	}
}

func TestNextIsOursOnly(t *testing.T) {
	w := plant(t)
	for _, bad := range []string{"https://elsewhere.example/", "//elsewhere.example/today", `/\elsewhere.example`, "javascript:alert(1)", "/sign-out", "/api/head", "/nowhere", "/static/style.css", "today", "/today\r\nX: y", "http:/today"} {
		got := w.ask(nobody, "/sign-in", url.Values{"person": {"hank"}, "secret": {"4071"}, "next": {bad}})
		if got.to() != "/today" {
			t.Errorf("%q leads to %q", bad, got.to())
		}
	}
}

// What the table names is what find finds, so that a held form goes where it was going.
func TestFindAgreesWithTheRouter(t *testing.T) {
	for _, rt := range routes() {
		path := rt.Path
		for _, part := range strings.Split(rt.Path, "/") {
			if strings.HasPrefix(part, ":") {
				path = strings.Replace(path, part, "x-1", 1)
			}
		}
		got, params := find(rt.Method, path)
		if got == nil || got.Path != rt.Path || len(params) != strings.Count(rt.Path, ":") {
			t.Errorf("%s %s finds %v", rt.Method, path, got)
		}
	}
	if rt, _ := find("POST", "/sign//entrance"); rt != nil {
		t.Error("an empty value fits")
	}
	paths := []string{}
	for _, rt := range routes() {
		paths = append(paths, rt.Method+rt.Path)
	}
	slices.Sort(paths)
	if len(slices.Compact(paths)) != len(routes()) {
		t.Error("a route is there twice")
	}
}
