package server

import (
	"net/url"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/plan"
)

// office is plant with something in every list of the office: lots that are held and rejected, a result outside its limits,
// documents, a review with records written after it, and a correction.
func office(t *testing.T) *world {
	t.Helper()
	w := plant(t)
	p := w.Book.View().State.PlanAt(w.clock.now())
	item, station, partner := p.Items[0].Code, stationOf(p), p.Partners[0].Code
	for _, lot := range []records.LotCode{"B-101", "B-102", "B-103"} {
		w.write(records.Entry{By: "hank", Fact: &records.Receipt{Lot: lot, Item: item, Status: records.Organic, Weight: records.Weight{Mass: records.Mass{Value: records.NewDecimal(40000, 0), Unit: "lb"}}, To: station, Source: partner}})
	}
	w.write(records.Entry{By: "hank", Fact: &records.Hold{Lots: []records.LotCode{"B-101", "B-102"}, Why: "Wet through at the top of the load."}})
	w.write(records.Entry{By: "nora", Fact: &records.Release{Lots: []records.LotCode{"B-102"}, Rejected: true, Why: "Sprouted."}})
	w.wants(w.ask(crew, everything, full("hank", "a-cold", "55", "action", "Ice put on; 38 degF after an hour.")), 303)
	w.wants(w.ask(crew, "/correct/"+positionText(w.size()-1), full("hank", "a-cold", "35", "reason", "read the wrong side")), 303)
	key, err := w.Book.PutBlob(t.Context(), []byte("%PDF-1.7\n%%EOF\n"))
	if err != nil {
		t.Fatal(err)
	}
	from, to := p.Day(w.clock.now()).AddDays(-300), p.Day(w.clock.now()).AddDays(20)
	w.write(records.Entry{By: "nora", Fact: &records.Document{Code: "water-test", Title: "Water test of the year", Type: "laboratory report", Subject: records.Subject{Of: "plant"}, Issuer: "Invented Waters Lab", From: &from, To: &to,
		File: &records.File{SHA256: key, Size: 16, Media: "application/pdf", Name: "water.pdf"}}})
	w.write(records.Entry{By: "nora", Fact: &records.Review{From: 1, To: w.size() - 1}})
	w.wants(w.ask(crew, hygiene, signing("hank")), 303)
	return w
}

func stationOf(p *plan.Plan) records.StationCode {
	for i := range p.Stations {
		if p.Stations[i].Holds == "mixed" || p.Stations[i].Holds == "separate" {
			return p.Stations[i].Code
		}
	}
	return p.Stations[0].Code
}

// received is the position of the first receipt.
func (w *world) received() string {
	return positionText(w.Book.View().State.Kind(records.KindReceipt).All()[0].Position)
}

// Every page of the office at both sizes: looked at with axe and a ruler, and pictured on request.
func TestBrowserOfficePages(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := office(t)
			b := newBrowser(t, w.streams(), s)
			b.signIn("nora", "Nora Feldt")
			b.look("findings", "/findings")
			b.look("findings-station", "/findings?by=station&q=ozone")
			b.look("findings-none", "/findings?q=nothing+of+this+name")
			b.look("deviation", "/deviation")
			b.press("button.main", "Fill in:")
			b.look("deviation-back", "")
			b.look("excuse-choose", "/excuse")
			b.look("excuse", "/excuse?from=2026-03-09T00%3A00&to=2026-03-10T00%3A00")
			b.look("excuse-beyond", "/excuse?station=floor-1&from=2026-03-09T00%3A00&to=2026-04-10T00%3A00")
			b.look("holds", "/holds")
			b.look("hold", "/hold?lot=B-103&finding="+url.QueryEscape(someFinding))
			b.look("release", "/release?lot=B-101")
			b.press("button.main", "Fill in:")
			b.look("release-back", "")
			b.look("result-choose", "/result")
			b.look("result", "/result?lot=B-103")
			b.look("reword", "/reword/2")
			b.look("reword-goods", "/reword/"+w.received())
			b.look("reviews", "/reviews")
			b.look("review", "/review/2026-03-09")
			b.press("main button.main", "Please look at this")
			b.look("review-back", "")
			b.look("documents", "/documents")
			b.look("documents-30", "/documents?within=30")
			b.look("document", "/document/water-test")
			b.look("document-missing", "/document/recall-plan")
			b.look("document-new", "/documents/new?code=water-test")
			b.press("button.main", "Choose the file.")
			b.look("document-back", "")
			b.look("entry-receipt", "/entry/3")
			b.look("entry-release", "/entry/7")
		})
	}
	t.Run("dark", func(t *testing.T) {
		w := office(t)
		b := newBrowser(t, w.streams(), sizes[0])
		b.dark()
		b.signIn("nora", "Nora Feldt")
		for _, path := range []string{"/findings", "/review/2026-03-09", "/documents", "/holds", "/excuse?from=2026-03-09T00%3A00&to=2026-03-10T00%3A00"} {
			b.open(path)
			name := "dark" + strings.ReplaceAll(strings.SplitN(path, "?", 2)[0], "/", "-")
			b.axe(name)
			b.shoot(name)
		}
	})
}
