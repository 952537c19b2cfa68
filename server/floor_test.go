package server

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"grainward/records"
)

// floorScenarios are the routes of week, stations, lots, balance and drill.
func floorScenarios() map[string]scenario {
	return map[string]scenario{
		"GET /week":  {path: "/week", status: [4]int{303, 403, 200, 200}, words: []string{"Before the shift: fit, clean, hands washed", "table class=\"grid"}},
		"GET /month": {path: "/month", status: [4]int{303, 403, 200, 200}, words: []string{"March 2026"}},
		"GET /week/:day/:task/:station": {path: "/week/2026-03-09/footwear-check/entrance", status: [4]int{303, 403, 200, 200},
			words: []string{"Can be signed until", "Hank Osgood, "}},
		"GET /lots":                   {path: "/lots", status: [4]int{303, 403, 200, 200}, words: []string{"Find a lot", "No lot is as you asked."}},
		"GET /lots/:lot":              {path: "/lots/NONE", status: [4]int{303, 403, 404, 404}},
		"GET /balance":                {path: "/balance", status: [4]int{303, 403, 403, 200}, words: []string{"Inventory, in lb", "No goods in this period."}},
		"GET /drills":                 {path: "/drills", status: [4]int{303, 403, 403, 200}, words: []string{"Start a drill", "No recall drill has been finished yet."}},
		"POST /drills":                {path: "/drills", form: drillForm("of", "lot", "what", "NONE", "why", "w", "lead", "nora", "level", "A"), status: [4]int{401, 403, 403, 422}},
		"GET /drills/:drill":          {path: "/drills/none", status: [4]int{303, 403, 403, 404}},
		"POST /drills/:drill/contact": {path: "/drills/none/contact", form: drillForm("partner", "copper-gate", "reached", "yes"), status: [4]int{401, 403, 403, 404}},
		"POST /drills/:drill/finish":  {path: "/drills/none/finish", form: drillForm("lessons", "l"), status: [4]int{401, 403, 403, 404}},
		"GET /stations":               {path: "/stations?day=2026-03-09", status: [4]int{303, 403, 200, 200}, words: []string{"Silo 1", "Nothing is there by the records."}},
		"GET /stations/:station":      {path: "/stations/silo-1", status: [4]int{303, 403, 200, 200}, words: []string{"There now", "Today’s work there"}},
	}
}

func drillForm(pairs ...string) func(string) url.Values {
	return func(as string) url.Values {
		v := url.Values{"as": {as}, "id": {records.NewEntryID().String()}}
		for i := 0; i < len(pairs); i += 2 {
			v.Set(pairs[i], pairs[i+1])
		}
		return v
	}
}

// What stands where, found in every way there is; what is held comes first, and what people wrote is text.
func TestLots(t *testing.T) {
	w := floorGoods(t)
	all := w.ask(crew, "/lots", nil)
	w.wants(all, 200, "M-1", "1850.0 lb, Warehouse", "R-3", "Held or rejected: 1", "1 to ")
	if strings.Index(all.body, "R-3") > strings.Index(all.body, "M-1") {
		t.Error("what is held does not come first")
	}
	if strings.Contains(all.body, ">B-1<") || strings.Contains(all.body, ">G-1<") {
		t.Error("what is gone is listed")
	}
	for q, want := range map[string]string{"m-1": "M-1", "M-1/12": "M-1", "label:M-1/12": "M-1", "north 7": "R-1", "B-1": "B-1"} {
		got := w.ask(crew, "/lots?q="+url.QueryEscape(q), nil)
		w.wants(got, 200, `class="code">`+want+"<")
		if strings.Count(got.body, `<a class="row"`) != 1 {
			t.Errorf("%q finds more than one", q)
		}
	}
	w.wants(w.ask(crew, "/lots?q=nothing+such", nil), 200, "No lot is as you asked.")
	for path, rows := range map[string]int{"/lots?stage=finished": 1, "/lots?status=conventional": 1, "/lots?all=yes": 7, "/lots?all=yes&stage=raw": 4, "/lots?page=99&all=yes": 7} {
		if got := w.ask(crew, path, nil); strings.Count(got.body, `<a class="row"`) != rows {
			t.Errorf("%s lists %d lots, not %d", path, strings.Count(got.body, `<a class="row"`), rows)
		}
	}
}

// A lot's page says what the trace says: where it is, what it was made of with estimated shares, holds, results, samples.
func TestLot(t *testing.T) {
	w := floorGoods(t)
	malt := w.ask(lead, "/lots/M-1", nil)
	// 20,000 lb stood in the silo, of which R-1 is 60 %: so is what was drawn from it
	w.wants(malt, 200, "1850.0 lb, Warehouse", "1000.0 lb, with Copper Gate Brewhouse", "500.0 lb, with Odell Brook Farm", "Moisture 4.1 %", "6 set aside", "shelf 3", `href="/lots/R-1"`, `href="/lots/R-2"`, `href="/lots/G-1"`,
		"est.", "2400.00 lb", "1600.00 lb", "2 steps before", "Mass accounted for, on dry matter:")
	if strings.Contains(malt.body, "<style") || strings.Contains(malt.body, " style=") {
		t.Error("the drawing brings a style")
	}
	w.wants(w.ask(crew, "/lots/R-1", nil), 200, "North 7/25 &lt;b&gt;", "Odell Brook Farm", "12000.0 lb", "60.0 %")
	w.wants(w.ask(crew, "/lots/R-3", nil), 200, "a smell of &lt;mould&gt;", "it still stands", "Lot R-3 came to")
	w.wants(w.ask(crew, "/lots/R-1?deep=1", nil), 200, "lots further on are not drawn", "/lots/R-1?deep=3#lineage")
	w.wants(w.ask(crew, "/lots/%3Cscript%3E", nil), 404)
	es := w.asLanguage("es", "/lots/M-1")
	for _, never := range []string{"Where it is", "steps before", "organic<", "green malt"} {
		if strings.Contains(es, never) {
			t.Errorf("%q is said in Spanish", never)
		}
	}
}

// A station's page has what stands there, every resident of a mixed one, and its gaps, drawn and in the table.
func TestPlace(t *testing.T) {
	w := floorGoods(t)
	silo := w.ask(crew, "/stations/silo-1?stretch=week&day=2026-03-03", nil)
	w.wants(silo, 200, "R-1", "R-2", "Lots since it was last proven empty", "16000.0 lb", "9600.0 lb", "6400.0 lb", "est.", `<svg xmlns`)
	belt := w.ask(lead, "/stations/conveyor?stretch=week&day=2026-03-06", nil)
	w.wants(belt, 200, `class="tl-gap"`, "Lot R-3 came to", "only ran through", "What the records show about it")
	w.wants(w.ask(crew, "/stations?stretch=month&day=2026-03-06", nil), 200, "16000.0 lb in 2 lots", "2000.0 lb of lot C-1")
	for _, path := range []string{"/stations/nowhere", "/stations/%3Cb%3E"} {
		w.wants(w.ask(crew, path, nil), 404)
	}
	for _, stretch := range []string{"day", "week", "month", "year"} {
		for _, day := range []string{"2026-03-08", "2026-11-01", "0001-01-01", "9999-12-31", "no"} {
			w.wants(w.ask(crew, "/stations/silo-1?stretch="+stretch+"&day="+day, nil), 200)
		}
	}
}

// asLanguage is a page as the crew member who speaks Spanish sees it.
func (w *world) asLanguage(lang, path string) string {
	w.Helper()
	for _, who := range w.Book.View().State.PlanAt(w.clock.now()).People {
		if len(who.Languages) > 0 && who.Languages[0] == lang && who.Role != "visitor" {
			token := w.signedIn(who.Code)
			return w.asToken(token, path, nil).body
		}
	}
	w.Fatal("nobody speaks " + lang)
	return ""
}

// A silo that was never emptied, with thousands of lots run through it, gives pages that stay small.
func TestBusySiloIsBounded(t *testing.T) {
	w := floorGoods(t)
	from := at("2026-03-07T08:00:00-05:00")
	for i := range records.Instant(900) {
		w.writeAt(from+i*60_000, "hank", &records.Receipt{Lot: records.LotCode(fmt.Sprintf("BUSY-%d", i)), Item: "barley", Status: records.Organic, Weight: lb(10, 118), To: "silo-1", Via: []records.StationCode{"conveyor"}, Source: "odell-brook"})
	}
	w.writeAt(w.clock.now(), "hank", &records.Process{Process: "steeping", Station: "steep-1", Inputs: []records.Input{{From: "silo-1", Weight: lb(400, 120)}},
		Outputs: []records.Output{{Lot: "G-2", Item: "green-malt", Status: records.Organic, To: "floor-1", Weight: lb(620, 440)}}})
	w.clock.add(time.Minute)
	for _, path := range []string{"/stations", "/stations/silo-1", "/stations/conveyor?stretch=month", "/lots", "/lots/G-2", "/lots/G-2?deep=1000", "/lots/BUSY-7"} {
		got := w.ask(lead, path, nil)
		w.wants(got, 200)
		if len(got.body) > 250_000 {
			t.Errorf("%s has %d bytes", path, len(got.body))
		}
	}
}

// The balance says what the command line says of the same period, in the plant's unit, and every difference with its 2u.
func TestBalance(t *testing.T) {
	w := floorGoods(t)
	all := w.ask(lead, "/balance?from=2026-03-01&to=2026-03-09&all=yes", nil)
	// 4,000 lb at 12.0 % are 3,520 lb dry, 6,200 lb at 44.0 % are 3,472: 1.4 % less
	w.wants(all, 200, "Processes: 2.", "3520.0 lb", "3472.0 lb", "1.4 %", "± ", `href="/lots/G-1"`, "steeping", "Received as organic")
	// 1,850 lb of malt are left of 3,350: 1,000 and 500 were sold
	w.wants(all, 200, "3350.0", "1500.0", "1850.0")
	w.wants(w.ask(lead, "/balance?from=x&to=2026-03-09", nil), 200, "Choose a day.")
	w.wants(w.ask(lead, "/balance?from=2026-03-09&to=2026-03-01", nil), 200, "lies before")
	w.wants(w.ask(lead, "/balance?from=2031-01-01&to=2031-02-01&page=7", nil), 200)
}

// Clean-outs and purges are drawn whether they came to anything or not, and say which.
func TestCleaningsAreDrawn(t *testing.T) {
	w := floorGoods(t)
	p := w.Book.View().State.PlanAt(w.clock.now())
	task := p.Task("changeover-clean")
	when := at("2026-03-07T09:00:00-05:00")
	for i, outcome := range []records.Outcome{records.Passed, records.Failed} {
		fact := &records.Signoff{Task: task.Code, Station: "conveyor", Outcome: outcome, Action: "swept again"}
		for k := range task.Asks {
			if task.Asks[k].Type != "photo" {
				fact.Answers = append(fact.Answers, rightAnswer(&task.Asks[k]))
			}
		}
		w.writeAt(when+records.Instant(i)*3_600_000, "hank", fact)
	}
	for i, mass := range []int64{10, 400} { // the plan asks for 300 lb
		w.writeAt(when+records.Instant(i+2)*3_600_000, "hank", &records.Purge{Stations: []records.StationCode{"conveyor"}, Lot: "C-1", From: "silo-2", Weight: lb(mass, 118),
			Became: records.Output{Lot: records.LotCode(fmt.Sprint("P-", i)), Item: "wheat", Status: records.Conventional, To: "by-product", Weight: lb(mass, 118)}})
	}
	got := w.ask(crew, "/stations/conveyor?stretch=day&day=2026-03-07", nil)
	grade := gradeTitle(p, task.Grade, "en")
	w.wants(got, 200, grade+", passed: ", grade+", did not pass: ", "Purge of 10 lb, did not pass", "Purge of 400 lb, passed", `class="tl-pass"`, `class="tl-fail"`, "run through to clean")
	if n := strings.Count(got.body, `class="tl-clean"`); n != 4 {
		t.Errorf("%d signs are drawn, not 4", n)
	}
}
