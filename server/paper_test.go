package server

import (
	"net/url"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/calendar"
)

// paperScenarios are the routes of sheets to print and of what is typed in from them.
func paperScenarios() map[string]scenario {
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
		"GET /sheets":               {path: "/sheets", status: [4]int{303, 403, 403, 200}, words: []string{"Blank log sheets"}},
		"GET /sheets/stations":      {path: "/sheets/stations", status: [4]int{303, 403, 403, 200}, words: []string{"/crew?station=floor-1"}},
		"GET /sheets/log":           {path: "/sheets/log?day=2026-03-09", status: [4]int{303, 403, 403, 200}, words: []string{"floor-1.2026-03-09"}},
		"GET /paper":                {path: "/paper?sheet=entrance.2026-03-09", status: [4]int{303, 403, 200, 200}, words: []string{"/paper/hygiene-check/entrance"}},
		"POST /paper":               {path: "/paper", form: form("sheet", "entrance.2026-03-09"), status: [4]int{401, 403, 422, 422}, words: []string{"Choose a photo first."}},
		"GET /paper/:task/:station": {path: "/paper/hygiene-check/entrance?sheet=entrance.2026-03-09", status: [4]int{303, 403, 200, 200}, words: []string{"Who signed it on paper?"}},
		"POST /paper/:task/:station": {path: "/paper/hygiene-check/entrance", status: [4]int{401, 403, 303, 303},
			form: form("sheet", "entrance.2026-03-09", "whose", "grete", "clock", "06:10", "outcome", "passed", "a-fit", "yes", "a-hands", "yes", "a-clothes", "yes")},
	}
}

// line are the fields of the morning's hygiene check as typed in from paper.
func line(more ...string) url.Values {
	v := url.Values{"id": {records.NewEntryID().String()}, "as": {"hank"}, "sheet": {"entrance.2026-03-09"}, "whose": {"grete"}, "clock": {"06:10"}, "outcome": {"passed"},
		"a-fit": {"yes"}, "a-hands": {"yes"}, "a-clothes": {"yes"}, "window": {at("2026-03-09T05:00:00-04:00").String()}}
	for i := 0; i < len(more); i += 2 {
		v.Set(more[i], more[i+1])
	}
	return v
}

const paperHygiene = "/paper/hygiene-check/entrance"

// A line is written once however often it is sent, by whoever typed it, as the work of whoever signed; what is there already is
// shown before.
func TestTypeIn(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := line()
	for range 2 {
		got := w.ask(crew, paperHygiene, v)
		w.wants(got, 303)
		if got.to() != "/paper?sheet=entrance.2026-03-09&written="+positionText(before) || w.size() != before+1 {
			t.Fatalf("to %s with %d entries", got.to(), w.size()-before)
		}
	}
	e := w.last()
	if e.By != "hank" || e.Performer() != "grete" || e.Happened != at("2026-03-09T06:10:00-04:00") || e.Fact.(*records.Signoff).Window == 0 {
		t.Errorf("%+v", e)
	}
	w.wants(w.ask(crew, "/paper?sheet=entrance.2026-03-09&written="+positionText(before), nil), 200, "written down already", "Grete Holm, 06:10", "Written down:")
	w.wants(w.ask(crew, entryHref(before), nil), 200, "Typed in by Hank Osgood from the paper of Grete Holm", "No photo of the sheet was kept.")
	// on the day's work and in the report it is grete's
	w.wants(w.ask(crew, "/station/entrance", nil), 200, "Grete Holm")
	// another entry for the same line: asked about first, then both stay
	again := line("clock", "06:20", "whose", "lucia")
	w.wants(w.ask(crew, paperHygiene, again), 422, "This line is written down already", "Grete Holm, 06:10")
	if w.size() != before+1 {
		t.Fatal("it was written before it was asked about")
	}
	again.Set("twice", "yes")
	w.wants(w.ask(crew, paperHygiene, again), 303)
	// signed on a phone: shown as well
	w.wants(w.ask(crew, "/paper/footwear-check/entrance?sheet=entrance.2026-03-09&window="+url.QueryEscape(at("2026-03-09T05:00:00-04:00").String()), nil), 200, "This line is written down already", "Hank Osgood, 07:30")
}

// What can not be is said, and nothing typed is lost.
func TestTypeInFaults(t *testing.T) {
	w := plant(t)
	before := w.size()
	for name, c := range map[string]struct {
		more  []string
		words []string
	}{
		"nobody signed":    {[]string{"whose", ""}, []string{"Say who signed it on paper.", `value="06:10"`}},
		"no time":          {[]string{"clock", ""}, []string{"Give the time written on the paper."}},
		"no such time":     {[]string{"clock", "26:99"}, []string{"Please look at this", `value="grete" selected`}},
		"a time to come":   {[]string{"clock", "09:00"}, []string{"Please look at this"}},
		"nobody we know":   {[]string{"whose", "zoe"}, []string{"paper.whose"}},
		"another's form":   {[]string{"as", "nora"}, []string{"Please look at this"}},
		"an answer is out": {[]string{"a-fit", "no"}, []string{"What was done"}},
		"no such photo":    {[]string{"sheet-photo", "00"}, []string{"paper.sheet"}},
	} {
		got := w.ask(crew, paperHygiene, line(c.more...))
		if got.StatusCode != 422 {
			t.Errorf("%s: %d", name, got.StatusCode)
		}
		if name != "an answer is out" {
			w.wants(got, 422, c.words...)
		}
		if w.size() != before {
			t.Fatalf("%s: it was written", name)
		}
	}
	for _, sheet := range []string{"", "nowhere.2026-03-09", "entrance.2026-03-10", "entrance.yesterday", "floor-1.2026-03-09", "<script>.2026-03-09"} {
		got := w.ask(crew, paperHygiene, line("sheet", sheet))
		w.wants(got, 404)
	}
	w.wants(w.ask(crew, "/paper?sheet=entrance.2027-01-01", nil), 422, "That day is still to come.")
	got := w.ask(crew, "/paper?sheet="+url.QueryEscape("<img src=x>.2026-03-09"), nil)
	w.wants(got, 422, "There is no sheet")
	if strings.Contains(got.body, "<img") {
		t.Error("hostile text comes back as markup")
	}
	w.wants(w.ask(crew, "/paper?station=entrance&day=2026-03-02", nil), 200, "entrance.2026-03-02")
	w.wants(w.ask(nobody, paperHygiene, line()), 401, "held.clock", "held.whose") // what was typed comes back with the PIN
}

// The time on a line belongs to the day on which it lies in the line's window.
func TestPaperAroundMidnight(t *testing.T) {
	w := plant(t)
	// the night shift's window, on the sheet of the day on which it is due
	v := line("window", at("2026-03-08T21:00:00-04:00").String(), "clock", "23:30")
	w.wants(w.ask(crew, paperHygiene, v), 303)
	if e := w.last(); e.Happened != at("2026-03-08T23:30:00-04:00") || e.Fact.(*records.Signoff).Window == 0 {
		t.Errorf("%v %+v", e.Happened, e.Fact)
	}
	v = line("window", at("2026-03-08T21:00:00-04:00").String(), "clock", "01:15")
	v.Set("twice", "yes")
	w.wants(w.ask(crew, paperHygiene, v), 303)
	if e := w.last(); e.Happened != at("2026-03-09T01:15:00-04:00") {
		t.Errorf("%v", e.Happened)
	}
}

// The photo is put on file once and named by every line typed in from it.
func TestSheetPhoto(t *testing.T) {
	w := plant(t)
	v := url.Values{"sheet": {"entrance.2026-03-09"}}
	got := w.uploadAs("photo", crew, "/paper", v, picture())
	w.wants(got, 303)
	u, err := url.Parse(got.to())
	if err != nil || len(u.Query().Get("photo")) != 64 {
		t.Fatal(got.to())
	}
	w.wants(w.ask(crew, got.to(), nil), 200, "/photo/"+u.Query().Get("photo"))
	w.wants(w.ask(crew, paperHygiene, line("sheet-photo", u.Query().Get("photo"))), 303)
	if e := w.last(); e.Paper.Sheet != u.Query().Get("photo") {
		t.Errorf("%+v", e.Paper)
	}
	w.wants(w.uploadAs("photo", crew, "/paper", v, []byte("<html>")), 422)
}

// Log sheets are laid out on pages that hold no more than paper does, and every line of the day is on one.
func TestLogSheetsHoldTheDay(t *testing.T) {
	w := plant(t)
	p := w.Book.View().State.PlanAt(w.clock.now())
	r := &request{plan: p, lang: "en", now: w.clock.now(), view: w.Book.View()}
	for _, day := range []string{"2026-03-09", "2026-03-10", "2026-03-15"} {
		d, err := calendar.ParseDate(day)
		if err != nil {
			t.Fatal(err)
		}
		g := gridOf(w.report(), p, d, 1)
		for i := range p.Stations {
			st := &p.Stations[i]
			blocks := r.logBlocks(g, st.Code)
			if len(blocks) == 0 {
				continue
			}
			made, err := w.logPages(r, st, d, blocks)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for k, page := range made {
				n += len(page.Blocks)
				if page.Page != k+1 || page.Pages != len(made) || page.Code != string(st.Code)+"."+day {
					t.Errorf("%+v", page)
				}
			}
			if n != len(blocks) {
				t.Errorf("%s has %d lines on paper and %d on the day", st.Code, n, len(blocks))
			}
			windows := 0
			for duty, squares := range g.cells {
				if duty.Station == st.Code {
					windows += len(squares[0].windows)
				}
			}
			printed := 0
			for _, b := range blocks {
				if strings.Contains(b.Window, "–") {
					printed++
				}
			}
			if printed != windows {
				t.Errorf("%s on %s: %d windows printed of %d", st.Code, day, printed, windows)
			}
		}
	}
	w.wants(w.ask(lead, "/sheets/log?station=nowhere", nil), 404)
	w.wants(w.ask(lead, "/sheets/stations?station=nowhere", nil), 404)
	w.wants(w.ask(lead, "/sheets/log?station=entrance&day=2026-03-10&days=7&in=es&paper=a4", nil), 200, "entrance.2026-03-16", "paper-a4.css", "según necesidad", "Iniciales")
}
