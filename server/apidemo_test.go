package server

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math/big"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"grainward/cmd/demoplant"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/server/auth"
)

// demo is the invented malt house with eighteen months of records, and somebody signed in for each role.
func demo(t *testing.T) (w *world, verifier string) {
	t.Helper()
	ctx := context.Background()
	c := &clock{at: at("2026-03-09T15:00:00Z")}
	signer, verifier, err := ledger.GenerateKey(nil, "demo.example/journal")
	if err != nil {
		t.Fatal(err)
	}
	store := memory.New()
	if _, err := demoplant.Write(ctx, store, "demo.example/journal", signer, 1, c.at); err != nil {
		t.Fatal(err)
	}
	b, err := book.Open(ctx, store, book.Options{Origin: "demo.example/journal", Signer: signer, Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	a, err := auth.Open(filepath.Join(t.TempDir(), "people.db"), auth.Options{Now: c.now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	w = &world{T: t, clock: c, auth: a}
	w.Server = New(Config{Book: b, Auth: a, Now: c.now, Version: "0.1", MakeBinder: tinyBinder, TempDir: t.TempDir()})
	t.Cleanup(func() { w.binders.close() })
	for _, who := range b.View().State.PlanAt(c.at).People {
		if r := roleOf(who.Role); w.token[r] == "" && who.AtWork(b.View().State.PlanAt(c.at).Day(c.at)) {
			if w.token[r], _, err = a.SignIn(ctx, who.Code, auth.Password, ""); err != nil {
				t.Fatal(err)
			}
		}
	}
	return w, verifier
}

func got[T any](w *world, as role, path string) (out T) {
	w.Helper()
	a := w.ask(as, path, nil)
	w.wants(a, 200)
	if err := json.Unmarshal([]byte(a.body), &out); err != nil {
		w.Fatal(err)
	}
	return out
}

// kilograms reads an exact mass.
func kilograms(t *testing.T, text string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		t.Fatalf("%q is no number", text)
	}
	return r
}

// Everything of the demo can be read, a page at a time, and is as described (world.send holds every answer to it): each of its
// entries too, by the schema made from the tags. What was read adds up to what was written.
func TestDemoThroughTheInterface(t *testing.T) {
	w, verifier := demo(t)
	head := got[headJSON](w, lead, "/api/head")
	var tree ledger.Tree
	n, from := 0, 0
	for pages := 0; ; pages++ {
		part := got[struct {
			Size    int
			Entries []struct {
				Position int
				Leaf     string
				Entry    json.RawMessage
			}
			Next *int
		}](w, crew, fmt.Sprintf("/api/entries?from=%d&count=1000", from))
		for _, e := range part.Entries {
			// RFC 6962 section 2.1, without our own code: SHA-256 of a zero byte and the bytes
			sum := sha256.Sum256(append([]byte{0}, e.Entry...))
			if hex.EncodeToString(sum[:]) != e.Leaf || e.Position != n {
				t.Fatalf("entry %d at %d is not the bytes of its leaf: %s", e.Position, n, e.Entry)
			}
			tree.Append(ledger.LeafHash(e.Entry))
			n++
		}
		if part.Next == nil {
			break
		}
		if from = *part.Next; pages > 200 {
			t.Fatal("it does not end")
		}
	}
	if root := tree.Root(); int64(n) != int64(head.Size) || hexOf(root[:]) != head.Root {
		t.Errorf("%d entries and root %s; the head says %d and %s", n, hexOf(root[:]), head.Size, head.Root)
	}

	one := got[struct{ Entry json.RawMessage }](w, crew, "/api/entries/4711")
	proof, err := ledger.ParseProof([]byte(w.ask(visitor, "/api/proof/4711", nil).body))
	if err != nil {
		// the demo has no visitor: the lead asks
		if proof, err = ledger.ParseProof([]byte(w.ask(lead, "/api/proof/4711", nil).body)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := ledger.CheckProof(proof, ledger.LeafHash(one.Entry), verifier); err != nil {
		t.Error(err)
	}

	w.lotsAddUp()
	findings := got[findingsPage](w, crew, "/api/findings?count=1000")
	if findings.Total < 100 || findings.Total != len(findings.Findings) {
		t.Errorf("%d findings of %d", len(findings.Findings), findings.Total)
	}
	gaps := got[findingsPage](w, crew, "/api/findings?rule=gap&show=open")
	for _, f := range gaps.Findings {
		if f.Rule != "gap" || f.Closed || f.Sentence == "" {
			t.Errorf("%+v", f)
		}
	}
	for _, path := range []string{"/api/plan", "/api/plan?at=2025-01-01T00:00:00Z", "/api/week?from=2026-03-02", "/api/week?from=2026-03-16", "/api/documents", "/api/crew"} {
		if a := w.ask(crew, path, nil); a.StatusCode != 200 && a.StatusCode != 404 {
			t.Errorf("%s: %d", path, a.StatusCode)
		}
	}
	w.wants(w.ask(lead, "/api/reviews", nil), 200, `"limit"`)
	week := w.ask(crew, "/api/week?from=2026-03-02", nil).body
	for _, word := range []string{`"result":"done"`, `"task":`, `"signoffs":[`} {
		if !strings.Contains(week, word) {
			t.Errorf("%s is not in the week", word)
		}
	}
}

type findingsPage struct {
	Total    int
	Findings []struct {
		Rule, Sentence string
		Closed         bool
	}
}

// lotsAddUp looks at every lot and some traces: masses are exact, so sums must be too.
func (w *world) lotsAddUp() {
	w.Helper()
	type where struct{ Station, Holder, Mass string }
	type lot struct {
		Code, Entered, Standing string
		Where                   []where
	}
	var all []lot
	for from := 0; ; {
		part := got[struct {
			Lots []lot
			Next *int
		}](w, crew, fmt.Sprintf("/api/lots?from=%d&count=500", from))
		all = append(all, part.Lots...)
		if part.Next == nil {
			break
		}
		from = *part.Next
	}
	if len(all) < 100 {
		w.Fatalf("%d lots", len(all))
	}
	standing := 0
	for _, l := range all {
		sum := new(big.Rat)
		for _, p := range l.Where {
			if (p.Station == "") == (p.Holder == "") {
				w.Errorf("%s: %+v", l.Code, p)
			}
			sum.Add(sum, kilograms(w.T, p.Mass))
		}
		if sum.Cmp(kilograms(w.T, l.Standing)) != 0 {
			w.Errorf("lot %s stands with %s and in places with %s", l.Code, l.Standing, sum.FloatString(9))
		}
		if sum.Sign() > 0 {
			standing++
		}
	}
	if standing == 0 {
		w.Error("nothing is left anywhere")
	}
	for i := 0; i < len(all); i += len(all) / 8 {
		code := url.PathEscape(all[i].Code)
		whole := got[struct {
			Entered, Standing, Used, Adjusted string
			Events                            []int
		}](w, crew, "/api/lots/"+code)
		left, right := kilograms(w.T, whole.Entered), kilograms(w.T, whole.Used)
		left.Add(left, kilograms(w.T, whole.Adjusted))
		right.Add(right, kilograms(w.T, whole.Standing))
		if left.Cmp(right) != 0 || len(whole.Events) == 0 {
			w.Errorf("lot %s: entered and adjusted %s, used and standing %s, %d events", all[i].Code, left.FloatString(9), right.FloatString(9), len(whole.Events))
		}
		for _, dir := range []string{"both", "back", "forward"} {
			trace := got[struct {
				Direction string
				Lots      []struct{ Code string }
			}](w, crew, "/api/lots/"+code+"/trace?direction="+dir)
			if trace.Direction != dir || len(trace.Lots) == 0 || trace.Lots[0].Code != all[i].Code {
				w.Errorf("%+v", trace)
			}
		}
	}
	balance := got[struct {
		Lines []map[string]string
		Steps []struct{ Verdict string }
	}](w, lead, "/api/balance?from=2026-01-01&to=2026-02-28")
	for _, l := range balance.Lines {
		sum := new(big.Rat)
		for name, sign := range map[string]int64{"opening": 1, "received": 1, "made": 1, "used": -1, "sent": -1, "sampled": -1, "unexplained": 1, "closing": -1} {
			sum.Add(sum, new(big.Rat).Mul(big.NewRat(sign, 1), kilograms(w.T, l[name])))
		}
		if sum.Sign() != 0 {
			w.Errorf("%v is off by %s", l, sum.FloatString(9))
		}
	}
	if len(balance.Lines) == 0 || len(balance.Steps) == 0 {
		w.Errorf("%+v", balance)
	}
	for i := range w.Book.View().State.PlanAt(w.clock.now()).Stations {
		got[struct{ Contacts []struct{ Lot string } }](w, crew, "/api/stations/"+string(w.Book.View().State.PlanAt(w.clock.now()).Stations[i].Code))
	}
}
