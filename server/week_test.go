package server

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"grainward/audit/audittest"
	"grainward/records"
	"grainward/records/plan"
)

// randomWeek is a plant whose journal was drawn: sign-offs right and wrong at any time, excuses, withdrawals, and perhaps a plan
// without one of the tasks from some moment on.
func randomWeek(t *testing.T, seed uint64) *world {
	t.Helper()
	w := plant(t)
	rnd := rand.New(rand.NewPCG(seed, 1))
	p := w.Book.View().State.PlanAt(w.clock.now())
	from, half := at("2026-03-02T05:00:00-05:00"), records.Instant(30*60*1000)
	when := func() records.Instant { return from + records.Instant(rnd.IntN(48*7+3))*half }
	var ids []records.EntryID
	for range 160 {
		task := &p.Tasks[rnd.IntN(len(p.Tasks))]
		station := task.Stations[rnd.IntN(len(task.Stations))]
		switch rnd.IntN(12) {
		case 0:
			f := when()
			w.writeAt(f, "nora", &records.Excuse{Task: task.Code, From: f, To: f + records.Instant(rnd.IntN(96))*half, Reason: "drawn"})
		case 1:
			if len(ids) > 0 {
				w.writeAt(w.clock.now(), "nora", &records.Correct{Target: ids[rnd.IntN(len(ids))], Withdraw: true, Reason: "drawn"})
			}
		default:
			fact := &records.Signoff{Task: task.Code, Station: station, Outcome: records.Passed}
			if rnd.IntN(6) == 0 {
				fact.Outcome = records.Failed
			}
			for i := range task.Asks {
				if a := &task.Asks[i]; a.Type != "photo" && rnd.IntN(9) > 0 {
					fact.Answers = append(fact.Answers, rightAnswer(a))
				}
			}
			ids = append(ids, w.writeAt(when(), "hank", fact))
		}
	}
	if rnd.IntN(2) == 0 {
		text := strings.Replace(thePlan(), "opens: \"05:00\"", "opens: \"04:30\"", 1)
		sum := sha256.Sum256([]byte(text))
		w.writeAt(when(), "nora", &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
	}
	return w
}

func rightAnswer(a *plan.Ask) records.Response {
	r, yes := records.Response{Ask: a.Code}, a.Right != "no"
	switch a.Type {
	case "number":
		v := records.NewDecimal(1, 0)
		if a.Limits.Max != nil {
			v = *a.Limits.Max
		} else if a.Limits.Min != nil {
			v = *a.Limits.Min
		}
		r.Value = &records.Quantity{Value: v, Unit: a.Unit}
	case "yesno":
		r.Yes = &yes
	case "choice":
		if r.Choice = a.Right; r.Choice == "" {
			r.Choice = a.Choices[0]
		}
	default:
		r.Text = "drawn"
	}
	return r
}

// drawnGrid is a grid as it stands in the browser: by task, station and day, how many windows have which mark.
const drawnGrid = `JSON.stringify((() => {
	const days = [...document.querySelectorAll('table.grid thead th[data-day]')].map(th => th.dataset.day);
	const out = {};
	for (const body of document.querySelectorAll('table.grid tbody')) {
		const group = body.querySelector('.group th').innerText.trim();
		for (const tr of body.querySelectorAll('tr:not(.group)')) {
			const name = tr.querySelector('th').innerText.trim();
			[...tr.querySelectorAll('td')].forEach((td, i) => {
				for (const chip of td.querySelectorAll('.chip')) {
					const mark = chip.querySelector('use').getAttribute('href').replace('#mark-', '');
					out[[name, group, days[i], mark].join(' | ')] = Number(chip.querySelector('.n').textContent);
				}
			});
		}
	}
	return out;
})())`

// drawnMonth is the same of a month, where only the worst mark is drawn and the words have the counts.
const drawnMonth = `JSON.stringify((() => {
	const days = [...document.querySelectorAll('table.grid thead th[data-day]')].map(th => th.dataset.day);
	const out = {};
	for (const body of document.querySelectorAll('table.grid tbody')) {
		const group = body.querySelector('.group th').innerText.trim();
		for (const tr of body.querySelectorAll('tr:not(.group)')) {
			const name = tr.querySelector('th').innerText.trim();
			[...tr.querySelectorAll('td')].forEach((td, i) => { if (td.querySelector('a')) out[[name, group, days[i]].join(' | ')] = td.textContent.replace(/\s+/g, ' ').trim(); });
		}
	}
	return out;
})())`

// A week is drawn right: what stands in the browser is what a slow audit, written apart from ours, counts from the entries.
func TestBrowserWeekIsDrawnRight(t *testing.T) {
	for seed := range uint64(4) {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			w := randomWeek(t, seed)
			b := newBrowser(t, w.serve(), sizes[seed%2])
			b.signIn("nora", "Nora Feldt")
			for _, monday := range []string{"2026-03-02", "2026-03-09"} {
				want := w.slowGrid(monday, 7)
				b.open("/week?day=" + monday)
				b.reads("Mon 2 Mar"[:4])
				got := map[string]int{}
				if err := json.Unmarshal([]byte(b.eval(drawnGrid)), &got); err != nil {
					t.Fatal(err)
				}
				for k := range got {
					if strings.HasSuffix(k, " | note") { // signed out of turn: no window
						delete(got, k)
					}
				}
				if len(want) < 20 || !maps.Equal(got, want) {
					for k := range want {
						if got[k] != want[k] {
							t.Errorf("%s: %d drawn, %d counted", k, got[k], want[k])
						}
					}
					for k := range got {
						if want[k] == 0 {
							t.Errorf("%s: %d drawn, none counted", k, got[k])
						}
					}
				}
			}
			b.open("/month?day=2026-03-09")
			b.reads("March 2026")
			texts := map[string]string{}
			if err := json.Unmarshal([]byte(b.eval(drawnMonth)), &texts); err != nil {
				t.Fatal(err)
			}
			words := map[string]string{"missed": "Missed", "failed": "Did not pass", "overdue": "Overdue", "open": "To do", "late": "Done late", "put-right": "Put right", "coming": "Coming", "excused": "Excused", "done": "Done"}
			n := 0
			for k, count := range w.slowGrid("2026-03-01", 31) {
				i := strings.LastIndex(k, " | ")
				if text := texts[k[:i]]; !strings.Contains(text, fmt.Sprintf("%s: %d,", words[k[i+3:]], count)) {
					t.Errorf("%s: %d counted, and the month says %q", k, count, text)
				}
				n++
			}
			if n < 100 {
				t.Error("the month has only", n)
			}
		})
	}
}

// slowGrid counts windows by task, station, day and mark from the bare entries, with the slow audit.
func (w *world) slowGrid(first string, days int) map[string]int {
	w.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		w.Fatal(err)
	}
	start, err := time.ParseInLocation("2006-01-02", first, zone)
	if err != nil {
		w.Fatal(err)
	}
	st := w.Book.View().State
	var entries []records.Entry
	for i := range st.Size() {
		entries = append(entries, st.First(i).Entry)
	}
	p := st.PlanAt(w.clock.now())
	out := map[string]int{}
	until := records.InstantOf(start.AddDate(0, 0, days))
	for _, x := range audittest.Windows(entries, w.clock.now(), until) {
		day := x.Due.Time().In(zone)
		if day.Before(start) || !day.Before(start.AddDate(0, 0, days)) {
			continue
		}
		out[strings.Join([]string{p.Task(x.Task).Title.In("en"), p.Station(x.Station).Title.In("en"), day.Format("2006-01-02"), strings.ReplaceAll(x.Result, " ", "-")}, " | ")]++
	}
	return out
}

// The grid is gone about by keys, a cell opens with who signed, its first column stays, and the whole prints on one sheet across.
func TestBrowserWeekByKeys(t *testing.T) {
	w := randomWeek(t, 7)
	base := w.serve()
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			b := newBrowser(t, base, s)
			b.signIn("nora", "Nora Feldt")
			for _, path := range []string{"/week?day=2026-03-04", "/month?day=2026-03-04", "/week?day=2026-03-04&by=family&only=floor"} {
				b.open(path)
				b.reads("A window stands on the day")
				b.axe(path)
				if bad := b.eval(`document.documentElement.scrollWidth > window.innerWidth`); bad != "false" {
					t.Errorf("%s is wider than the window", path)
				}
				if n := b.eval(`document.querySelectorAll('table.grid td a[tabindex="0"]').length`); n != "1" {
					t.Errorf("%s has %s stops", path, n)
				}
				if still := b.eval(`(() => { const s = document.querySelector('.scroller'), th = s.querySelector('tbody th.duty'); s.scrollLeft = 0; const a = th.getBoundingClientRect().left; s.scrollLeft = 500; return Math.abs(th.getBoundingClientRect().left - a) < 2 })()`); still != "true" {
					t.Errorf("%s: the first column moves", path)
				}
				if n := w.pages(b); n != 1 {
					t.Errorf("%s prints on %d sheets", path, n)
				}
			}
			b.open("/week?day=2026-03-04")
			b.reads("A window stands on the day")
			b.eval(`document.querySelector('table.grid td a[tabindex="0"]').focus()`)
			before := b.eval(`document.activeElement.getAttribute('href')`)
			b.do(chromedp.KeyEvent(kb.ArrowDown), chromedp.KeyEvent(kb.ArrowRight))
			after := b.eval(`document.activeElement.getAttribute('href')`)
			if before == after || !strings.HasPrefix(after, "/week/2026-03-0") {
				t.Errorf("from %s the arrows lead to %s", before, after)
			}
			b.do(chromedp.KeyEvent(kb.Enter))
			b.reads("Back to the week")
			b.axe("cell")
			b.open("/week/2026-03-09/footwear-check/entrance")
			b.reads("Hank Osgood")
			b.press(`a[href="/entry/1"]`, "Leaf hash")
		})
	}
}

// pages is on how many sheets the page prints.
func (w *world) pages(b *browser) int {
	pdf, err := chromedp.Call(b.ctx, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PreferCSSPageSize: new(true)})
	if err != nil {
		b.Fatal(err)
	}
	return strings.Count(string(pdf.Data), "/Type /Page\n")
}

// A journal of five years gives a page no larger than a week of it.
func TestWeekIsBounded(t *testing.T) {
	w := plant(t)
	short := len(w.ask(lead, "/week?day=2026-03-04", nil).body)
	for i := range records.Instant(1500) {
		w.writeAt(at("2026-03-02T06:00:00-05:00")+i*360_000, "hank", &records.Signoff{Task: "walk-round", Station: "office", Outcome: records.Passed})
	}
	w.clock.add(5 * 365 * 24 * time.Hour)
	token := w.signedIn("nora") // the old sign-in has ended
	w.token[lead] = token
	for _, path := range []string{"/week?day=2026-03-04", "/week", "/week?day=2031-03-03", "/week?day=nonsense", "/week/2026-03-04/walk-round/office"} {
		got := w.ask(lead, path, nil)
		w.wants(got, 200)
		if len(got.body) > 3*short {
			t.Errorf("%s has %d bytes, and a week had %d", path, len(got.body), short)
		}
	}
	for _, path := range []string{"/week/2026-13-04/walk-round/office", "/week/2026-03-04/nothing/office", "/week/2026-03-04/%3Cscript%3E/x"} {
		w.wants(w.ask(lead, path, nil), 404)
	}
}
