package server

import (
	"encoding/json"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/server/auth"
)

func auditorScenarios() map[string]scenario {
	form := func(pairs ...string) func(string) url.Values {
		return func(string) url.Values {
			v := url.Values{}
			for i := 0; i < len(pairs); i += 2 {
				v.Set(pairs[i], pairs[i+1])
			}
			return v
		}
	}
	ask := func(string) []byte {
		return []byte(`{"for":"Inspector Quist","from":"2026-03-01","to":"2026-03-09","ends":"2026-03-20"}`)
	}
	return map[string]scenario{
		"GET /links":              {path: "/links", status: [4]int{303, 403, 403, 200}, words: []string{"Links for reading", "No link has been made yet", `value="2026-03-23"`}},
		"POST /links":             {path: "/links", form: form("for", "Ida Roan, certifier", "from", "2026-03-01", "to", "2026-03-09", "ends", "2026-03-20"), status: [4]int{401, 403, 403, 200}, words: []string{"Ida Roan, certifier", "http://localhost/auditor/"}},
		"GET /links/:link":        {path: "/links/none", status: [4]int{303, 403, 403, 404}},
		"POST /links/:link":       {path: "/links/none", form: form(), status: [4]int{401, 403, 403, 404}},
		"GET /auditor":            {path: "/auditor", status: [4]int{303, 303, 303, 303}},
		"GET /auditor/:link":      {path: "/auditor/none.none", status: [4]int{404, 404, 404, 404}},
		"POST /auditor/leave":     {path: "/auditor/leave", form: form(), status: [4]int{303, 303, 303, 303}},
		"POST /auditor/binder":    {path: "/auditor/binder", form: form(), status: [4]int{401, 403, 403, 303}},
		"GET /records":            {path: "/records", status: [4]int{303, 403, 200, 200}, words: []string{"Footwear change", "Hank Osgood"}},
		"GET /proof/:position":    {path: "/proof/1", status: [4]int{303, 403, 200, 200}, words: []string{"c2sp.org/tlog-proof@v1", "footwear-check"}},
		"GET /check":              {path: "/check", status: [4]int{303, 200, 200, 200}, words: []string{"Paste an entry and its proof"}},
		"POST /check":             {path: "/check", form: form(), status: [4]int{401, 422, 422, 422}, words: []string{"Paste the entry."}},
		"POST /api/check":         {path: "/api/check", body: func(string) []byte { return proofJSON }, media: "application/json", status: [4]int{401, 200, 200, 200}, words: []string{`"holds":true,"index":0,"size":1`}},
		"GET /api/links":          {path: "/api/links", status: [4]int{401, 403, 403, 200}, words: []string{`"links":[]`}},
		"POST /api/links":         {path: "/api/links", body: ask, media: "application/json", status: [4]int{401, 403, 403, 201}, words: []string{`"for":"Inspector Quist"`, `"secret":"`}},
		"DELETE /api/links/:link": {path: "/api/links/none", body: func(string) []byte { return nil }, status: [4]int{401, 403, 403, 404}},
	}
}

// proofJSON is the proof of the description, which holds.
var proofJSON = func() []byte {
	b, err := json.Marshal(examples["POST /api/check"])
	if err != nil {
		panic(err)
	}
	return b
}()

// link makes a link for the week and gives its token.
func (w *world) link(ends time.Duration) (string, auth.Link) {
	w.Helper()
	from, _ := calendar.ParseDate("2026-03-05")
	to, _ := calendar.ParseDate("2026-03-09")
	token, l, err := w.auth.MakeLink(w.Context(), auth.Link{For: "Ida Roan", From: from, To: to, By: "nora", Ends: w.clock.now().Add(ends)})
	if err != nil {
		w.Fatal(err)
	}
	return token, l
}

// read asks as somebody with a link and no sign-in.
func (w *world) read(pass, method, path, media, body string) answered {
	w.Helper()
	req := httptest.NewRequest(method, "http://localhost"+path, strings.NewReader(body))
	if media != "" {
		req.Header.Set("Content-Type", media)
	}
	req.AddCookie(&http.Cookie{Name: linkCookie, Value: pass})
	key := w.key // an auditor's browser is no device of the plant
	w.key = ""
	defer func() { w.key = key }()
	return w.send(req)
}

// A link opens what the table says and nothing else, and writes nothing whatever it asks.
func TestEveryRouteWithALink(t *testing.T) {
	all := scenarios()
	for _, more := range []map[string]scenario{floorScenarios(), officeScenarios(), apiScenarios(), paperScenarios(), auditorScenarios()} {
		for name, sc := range more {
			all[name] = sc
		}
	}
	opens := map[string]int{"GET /auditor": 200, "GET /findings": 200, "GET /records": 200, "GET /entry/:position": 200, "GET /proof/:position": 200, "GET /check": 200, "POST /check": 422, "POST /api/check": 200,
		"GET /photo/:key": 404, "GET /document/:code/file/:position": 404, "GET /lots/:lot": 404, "GET /binder/:job": 404, "GET /binder/:job/file": 404, "GET /api/binder/:job": 404,
		"GET /api/proof/:position": 200, "POST /auditor/binder": 303}
	for _, rt := range routes() {
		name := rt.Method + " " + rt.Path
		if rt.Least == nobody || rt.Path == "/api/events" {
			continue // open to everybody, link or not; the stream would not end
		}
		t.Run(name, func(t *testing.T) {
			w := plant(t)
			pass, _ := w.link(24 * time.Hour)
			before := w.size()
			sc := all[name]
			body, media := "", ""
			switch {
			case sc.body != nil:
				body, media = string(sc.body("nora")), sc.media
			case sc.form != nil:
				body, media = sc.form("nora").Encode(), "application/x-www-form-urlencoded"
			}
			got := w.read(pass, rt.Method, sc.path, media, body)
			want, open := opens[name]
			if open != rt.Link {
				t.Fatalf("the table says %v of a link and this test %v", rt.Link, open)
			}
			if !open {
				want = 403
			}
			if got.StatusCode != want {
				t.Errorf("status %d, not %d\n%s", got.StatusCode, want, got.body)
			}
			if w.size() != before {
				t.Error("it wrote")
			}
			if !open {
				for _, never := range []string{"gull", "Leaf hash", "jewellery", "checkpoint", "Hank"} {
					if strings.Contains(got.body, never) {
						t.Errorf("%q is in it\n%s", never, got.body)
					}
				}
			}
			delete(opens, name)
		})
	}
	for name := range opens {
		t.Errorf("%s is not in the table", name)
	}
}

func TestLinkShowsItsPeriod(t *testing.T) {
	w := plant(t)
	pass, l := w.link(24 * time.Hour)
	get := func(path string) answered { return w.read(pass, "GET", path, "", "") }
	took := w.read("", "GET", "/auditor/"+url.PathEscape(pass), "", "")
	if took.StatusCode != 303 || took.to() != "/auditor" || !strings.Contains(took.Header.Get("Set-Cookie"), "HttpOnly; SameSite=Lax") {
		t.Fatal(took.StatusCode, took.Header)
	}
	w.wants(get("/auditor"), 200, "For Ida Roan", "2026-03-05", "2026-03-09", "Made by Nora Feldt")
	// the plan was adopted on 2 March, before the period; the sign-off is within
	w.wants(get("/entry/0"), 404)
	w.wants(get("/proof/0"), 404)
	w.wants(get("/api/proof/0"), 404)
	w.wants(get("/entry/1"), 200, "Everybody on the floor wears")
	rows := get("/records")
	w.wants(rows, 200, `href="/entry/1"`, `href="/entry/2"`)
	if strings.Contains(rows.body, `href="/entry/0"`) || strings.Contains(rows.body, "kind=plan") {
		t.Error("a record from before the period is listed")
	}
	found := get("/findings?show=all")
	w.wants(found, 200, "A gull got in")
	if strings.Contains(found.body, "2 Mar") || !strings.Contains(w.ask(lead, "/findings?show=all&page=1", nil).body+w.ask(lead, "/findings?show=all", nil).body, "2 Mar") {
		t.Error("findings from before the period are shown, or the lead sees none either")
	}
	if strings.Contains(found.body, `href="/answer`) || strings.Contains(found.body, `href="/today"`) {
		t.Error("an auditor is offered what a lead does")
	}
	// every page is listed, and never the secret
	_, secret, _ := strings.Cut(pass, ".")
	used := w.ask(lead, "/links/"+l.ID, nil)
	w.wants(used, 200, "/entry/1", "/findings", "/auditor/…")
	if strings.Contains(used.body, secret) {
		t.Error("the list of what was read has the secret in it")
	}
	// withdrawn, it opens nothing, and says so
	w.wants(w.ask(lead, "/links/"+l.ID, url.Values{}), 303)
	w.wants(get("/records"), 403, "This link has ended")
	w.wants(w.read("", "GET", "/auditor/"+url.PathEscape(pass), "", ""), 403, "This link has ended")
	// one that ends by itself
	short, _ := w.link(time.Hour)
	w.clock.add(time.Hour)
	w.wants(w.read(short, "GET", "/records", "", ""), 403, "This link has ended")
	w.wants(w.read("made.up", "GET", "/records", "", ""), 303)
}

func TestLinksOfALead(t *testing.T) {
	w := plant(t)
	v := url.Values{"for": {" "}, "from": {"2026-03-09"}, "to": {"2026-03-01"}, "ends": {"2026-03-20"}}
	w.wants(w.ask(lead, "/links", v), 422, "Write who it is for")
	v.Set("for", "Ida <b>Roan</b>")
	w.wants(w.ask(lead, "/links", v), 422, "2026-03-01", "Ida &lt;b&gt;Roan&lt;/b&gt;")
	v.Set("to", "2026-03-10")
	v.Set("ends", "2030-01-01")
	w.wants(w.ask(lead, "/links", v), 422, "The last day lies between")
	v.Set("ends", "soon")
	w.wants(w.ask(lead, "/links", v), 422, "Good until the end of: ")
	v.Set("ends", "2026-03-09") // today is good until its end
	made := w.ask(lead, "/links", v)
	w.wants(made, 200, "Ida &lt;b&gt;Roan&lt;/b&gt;")
	m := regexp.MustCompile(`href="http://localhost(/auditor/[^"]+)"`).FindStringSubmatch(made.body)
	if m == nil {
		t.Fatal(made.body)
	}
	w.wants(w.read("", "GET", m[1], "", ""), 303)
	if again := w.ask(lead, "/links", nil); strings.Contains(again.body, m[1]) {
		t.Error("the secret is shown again")
	}
}

func TestCheckAProof(t *testing.T) {
	w := plant(t)
	page := w.ask(crew, "/proof/1", nil)
	pre := regexp.MustCompile(`(?s)<pre tabindex="0">(.*?)</pre>`).FindAllStringSubmatch(page.body, -1)
	if len(pre) != 2 || w.Key == "" {
		t.Fatal(page.body)
	}
	entry, proof := html.UnescapeString(pre[0][1]), html.UnescapeString(pre[1][1])
	if _, err := records.Parse([]byte(entry)); err != nil {
		t.Fatal(err)
	}
	form := func(entry, proof, key string) url.Values {
		return url.Values{"entry": {entry}, "proof": {proof}, "key": {key}}
	}
	w.wants(w.ask(visitor, "/check", form(entry, proof, w.Key)), 200, "It holds", "number 1")
	w.wants(w.ask(visitor, "/check", form(entry+"\r\n", strings.ReplaceAll(proof, "\n", "\r\n"), " "+w.Key+"\n")), 200, "It holds") // as a browser sends it
	w.wants(w.ask(visitor, "/check", form(strings.Replace(entry, "hank", "vera", 1), proof, w.Key)), 200, "It does not hold")
	other, otherKey, err := ledger.GenerateKey(nil, "quillmere.example/journal")
	if err != nil || other == "" {
		t.Fatal(err)
	}
	w.wants(w.ask(visitor, "/check", form(entry, proof, otherKey)), 200, "It does not hold")
	w.wants(w.ask(visitor, "/check", form(entry, strings.Replace(proof, "index 1", "index 2", 1), w.Key)), 200, "It does not hold")
	w.wants(w.ask(visitor, "/check", form(entry, "nonsense", w.Key)), 422, "not a tlog-proof")
	w.wants(w.ask(visitor, "/check", form(entry, "", w.Key)), 422, "Paste the proof")
	w.wants(w.ask(visitor, "/check", form(entry, proof, "")), 422, "public key")
}

func TestBrowserAuditor(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			b := newBrowser(t, w.serve(), s)
			pass, _ := w.link(24 * time.Hour)
			b.open("/auditor/" + url.PathEscape(pass))
			b.reads("For Ida Roan")
			b.axe("where a link leads")
			b.press(`a[href="/records"]`, "Footwear change")
			b.axe("records")
			b.press(`a[href="/entry/1"]`, "Leaf hash")
			b.press(`a[href="/proof/1"]`, "tlog-proof@v1")
			b.axe("a proof")
			got := b.eval("[...document.querySelectorAll('pre'), document.querySelector('.part:last-of-type .code')].map(p => p.textContent).join('\\u0000')")
			parts := strings.Split(got, "\x00")
			b.press(`nav a[href="/check"]`, "Paste an entry")
			b.do(chromedp.SetValue(chromedp.CSS("#entry"), parts[0]), chromedp.SetValue(chromedp.CSS("#proof"), parts[1]), chromedp.SetValue(chromedp.CSS("#key"), parts[2]))
			b.press("button.main", "It holds")
			b.axe("a proof that holds")
			b.press(`nav a[href="/auditor"]`, "The binder of the period")
			b.press(`form[action="/auditor/binder"] button`, "2026-03-05")
			b.reads("Download")
			b.open("/today")
			b.reads("does not open this page")
			b.axe("what a link does not open")
			b.open("/auditor")
			b.press(`form[action="/auditor/leave"] button`, "Who are you?")
		})
	}
}
