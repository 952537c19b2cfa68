package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"html"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/company"
	"grainward/records/memory"
)

// firm is a company of two plants behind one front on a port of this machine: a malt house and a mill that takes its malt.
type firm struct {
	*testing.T
	malt, mill *world
	page       *Server
	front      *Front
	port       string
}

const firmFile = `
name: Quillmere Grain
host: company.localhost
plants:
  - {code: malthouse, dir: a, host: malthouse.localhost, partners: {weir-mill: mill}}
  - {code: mill, dir: b, host: mill.localhost, partners: {quillmere: malthouse}}
  - {code: store, dir: c, host: store.localhost}
people:
  - name: Nora Feldt
    at: {malthouse: nora, mill: feldt}
`

const millPlan = `grainward: 1
plant: {name: Weir Mill, address: 4 Weir Road, zone: America/New_York, units: lb, languages: [en, es], since: 2026-03-02}
stations:
  - {code: store, title: Store, kind: store, packaged: true}
  - {code: mill, title: Mill, kind: mill, holds: passes}
items:
  - {code: malt, title: Malt, stage: raw}
tasks:
  - code: sweep
    title: Sweep the mill
    family: sanitation
    stations: [mill]
    when: [{rule: FREQ=DAILY, opens: "05:00", due: "06:00", lapses: "20:00"}]
partners:
  - {code: quillmere, name: Quillmere Malt, roles: [supplier]}
people:
  - {code: feldt, name: Nora Feldt, initials: NF, role: lead, languages: [en]}
  - {code: ada, name: Ada Rook, initials: AR, role: lead, languages: [es]}
  - {code: ben, name: Ben Carr, initials: BC, role: crew, languages: [en]}
`

// newFirm builds it. The store's records can not be opened.
func newFirm(t *testing.T) *firm {
	t.Helper()
	c := &firm{T: t, malt: plant(t)}
	c.malt.clock.add(0)
	c.malt.adoptText(strings.Replace(thePlan(), "\npartners:\n", "\npartners:\n  - {code: weir-mill, name: Weir Mill, roles: [customer]}\n", 1))
	c.mill = worldOn(t, memory.New(), at("2026-03-02T04:00:00-05:00"))
	c.adoptMill(millPlan)
	c.mill.clock.Lock()
	c.mill.clock.at = c.malt.clock.at
	c.mill.clock.Unlock()
	for who, w := range map[records.PersonCode]*world{"feldt": c.mill, "ada": c.mill, "ben": c.mill, "hank": c.malt} {
		if err := w.auth.SetPassword(context.Background(), who, "", thePassword); err != nil {
			t.Fatal(err)
		}
	}
	c.goods()
	file, err := company.Parse([]byte(firmFile))
	if err != nil {
		t.Fatal(err)
	}
	c.malt.Host, c.mill.Host = "malthouse.localhost", "mill.localhost"
	firm := NewCompany(file)
	c.page = New(Config{Company: firm, Host: file.Host, Now: c.malt.clock.now, Version: "0.1", TempDir: t.TempDir()})
	c.page.rates.off = true
	c.front = &Front{}
	c.front.Put(c.page)
	for _, p := range file.Plants {
		c.front.Keep(p.Host, nil)
	}
	c.front.Put(c.malt.Server)
	c.front.Put(c.mill.Server)
	firm.Opened("malthouse", c.malt.Server)
	firm.Opened("mill", c.mill.Server)
	firm.Failed("store", &records.Error{Kind: records.Denied, What: "the plant's private key can be read by others", Do: "Run `chmod 600`."})
	c.serve()
	return c
}

// adoptMill puts a plan of the mill in force.
func (c *firm) adoptMill(text string) {
	c.Helper()
	sum := sha256.Sum256([]byte(text))
	c.mill.write(records.Entry{By: "ada", Fact: &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])}})
}

// goods: a lot of the malt house goes to the mill, is ground there, and another goes that nobody wrote down.
func (c *firm) goods() {
	kg := func(n int64) records.Weight {
		return records.Weight{Mass: records.Mass{Value: records.NewDecimal(n, 0), Unit: "lb"}}
	}
	c.malt.write(records.Entry{By: "hank", Fact: &records.Receipt{Lot: "B-1", Item: "pale-malt", Status: records.Organic, Weight: kg(2000), To: "warehouse", Source: "odell-brook", TheirLot: "field 7"}})
	c.malt.write(records.Entry{By: "nora", Fact: &records.Handover{Lot: "B-1", From: "warehouse", To: "weir-mill", Use: records.Sale, Weight: kg(600)}})
	c.malt.write(records.Entry{By: "nora", Fact: &records.Handover{Lot: "B-1", From: "warehouse", To: "weir-mill", Use: records.Sale, Weight: kg(900)}})
	c.mill.write(records.Entry{By: "ben", Fact: &records.Receipt{Lot: "W-7", Item: "malt", Status: records.Organic, Weight: kg(600), To: "store", Source: "quillmere", TheirLot: "b 1"}})
	c.mill.write(records.Entry{By: "ben", Fact: &records.Process{Process: "milling", Station: "mill", Inputs: []records.Input{{Lot: "W-7", From: "store", Weight: kg(600)}},
		Outputs: []records.Output{{Lot: "FLOUR-7", Item: "malt", Status: records.Organic, To: "store", Weight: kg(590)}}}})
}

func (c *firm) serve() {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		c.Fatal(err)
	}
	_, c.port, _ = net.SplitHostPort(ln.Addr().String())
	c.front.reachedAt(ln, nil)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- c.front.serve(ctx, ln, nil) }()
	c.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			c.Error("stopping:", err)
		}
	})
}

// request is one to a host of the company, by a real connection.
func (c *firm) request(host, method, path string, form url.Values) *http.Request {
	c.Helper()
	var body io.Reader
	if form != nil {
		body = strings.NewReader(form.Encode())
	}
	req, err := http.NewRequest(method, "http://127.0.0.1:"+c.port+path, body)
	if err != nil {
		c.Fatal(err)
	}
	req.Host = host + ":" + c.port
	if form != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return req
}

func (c *firm) send(req *http.Request) answered {
	c.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(req)
	if err != nil {
		c.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		c.Fatal(err)
	}
	return answered{res, string(b)}
}

// ask gets a page of a host with a cookie of a sign-in.
func (c *firm) ask(host, path, cookie string) answered {
	c.Helper()
	req := c.request(host, "GET", path, nil)
	if cookie != "" {
		req.AddCookie(&http.Cookie{Name: cookieName, Value: cookie})
	}
	return c.send(req)
}

// signIn signs somebody in at the company's page and gives the cookie.
func (c *firm) signIn(plant, person string) string {
	c.Helper()
	got := c.send(c.request("company.localhost", "POST", "/sign-in", url.Values{"plant": {plant}, "person": {person}, "secret": {thePassword}}))
	if got.StatusCode != 303 || got.to() != "/plants" {
		c.Fatalf("%s at %s: %d %s", person, plant, got.StatusCode, got.body)
	}
	for _, k := range got.Cookies() {
		if k.Name == cookieName {
			return k.Value
		}
	}
	c.Fatal("no cookie")
	return ""
}

// has checks what is in an answer, and what is not (words that begin with !).
func (c *firm) has(a answered, status int, words ...string) {
	c.Helper()
	if a.StatusCode != status {
		c.Errorf("status %d, not %d: %s", a.StatusCode, status, a.body)
	}
	a.body = html.UnescapeString(a.body)
	for _, word := range words {
		if not, is := strings.CutPrefix(word, "!"); is == strings.Contains(a.body, not) {
			c.Errorf("%q: %v\n%s", word, !is, a.body)
		}
	}
}
