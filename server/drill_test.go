package server

import (
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"grainward/records"
)

// A drill from start to finish in the browser, with a second lead looking on: the clock runs, calls are written down by both, figures
// change by themselves, what was interrupted is gone on with, and the end has figures and lessons.
func TestBrowserDrill(t *testing.T) {
	w := floorGoods(t)
	base := w.serve()
	b, other := newBrowser(t, base, sizes[0]), newBrowser(t, base, sizes[1])
	b.signIn("nora", "Nora Feldt")
	other.signIn("nora", "Nora Feldt")
	b.open("/drills")
	b.press("form.sign button.main", "Fill in: What is traced")
	b.axe("start that comes back")
	b.do(chromedp.SendKeys(chromedp.CSS("#what"), "M-9"), chromedp.SendKeys(chromedp.CSS("#why"), "a stone in a bag"))
	b.press("form.sign button.main", "M-9")
	if w.last().Kind == records.KindDrill {
		t.Fatal("a drill of a lot that never was")
	}
	b.do(chromedp.SetValue(chromedp.CSS("#what"), "M-1/12"))
	b.press("form.sign button.main", "Still to reach: 2 of 2")
	start := w.last().Fact.(*records.Drill)
	if start.Subject != "label:M-1/12" || start.Level != "A" || start.Lead != "nora" || start.Drill != "drill-2026-03-09" {
		t.Errorf("%+v", start)
	}
	b.axe("drill")
	if got := b.eval(`document.querySelector('a[href="tel:5550120"]').textContent`); got != "555-0120" {
		t.Error(got)
	}
	b.until(`Number(document.querySelector('.clock .face').textContent.split(':')[2]) >= 2`) // it runs
	w.clock.add(2 * time.Minute)
	other.open("/drills")
	other.press(`a[href="/drills/drill-2026-03-09"]`, "Still to reach: 2 of 2") // gone on with
	other.until(`document.querySelector('.clock .face').textContent >= '00:02:00'`)
	b.call("copper-gate", "yes", "Silas Werth", "450")
	b.reads("Still to reach: 1 of 2")
	b.reads("450.0 lb")
	other.reads("Still to reach: 1 of 2") // by itself
	other.reads("still holds 450.0 lb")
	other.call("odell-brook", "no", "", "")
	other.reads("Not reached, tries: 1")
	b.reads("Not reached, tries: 1") // and the other way
	other.call("odell-brook", "yes", "Wendell Marsh", "0")
	other.reads("Still to reach: 0 of 2")
	other.reads("2 of 2 (100.0 %)")
	w.clock.add(7 * time.Minute)
	other.press(`form[action$="/finish"] button.main`, "Fill in: What was learnt")
	other.do(chromedp.SendKeys(chromedp.CSS("#lessons"), "Keep the night number of the farm by the telephone."))
	other.press(`form[action$="/finish"] button.main`, "What it came to")
	other.axe("finished")
	b.reads("What it came to")
	end := w.last().Fact.(*records.Drill)
	figures := map[string]string{}
	for _, m := range end.Figures {
		figures[m.Name] = m.Value.String()
	}
	// 1,000 and 500 lb were sold, counted by hand from the handovers
	for name, want := range map[string]string{"consignees to reach": "2", "reached": "2", "tried": "2", "shipped": "1500.0 lb", "found with consignees": "450.0 lb", "reached, percent": "100.0 %"} {
		if got := strings.TrimSpace(figures[name]); got != want {
			t.Errorf("%s: %s, not %s", name, got, want)
		}
	}
	other.open("/drills")
	other.reads("took 00:09:")
	other.axe("drills")
}

// call writes down that a partner was called.
func (b *browser) call(partner, reached, spoke, holds string) {
	b.Helper()
	at := "#partner-" + partner
	b.eval(`document.querySelector('` + at + ` details').open = true`)
	b.do(chromedp.Click(chromedp.CSS(at + ` input[name="reached"][value="` + reached + `"]`)))
	if spoke != "" {
		b.do(chromedp.SendKeys(chromedp.CSS("#spoke-"+partner), spoke))
	}
	if holds != "" {
		b.do(chromedp.SendKeys(chromedp.CSS("#holds-"+partner), holds))
	}
	b.do(chromedp.Click(chromedp.CSS(at + " button.main")))
}

// However often a form of a drill is sent, it is written once; after the end nothing more is.
func TestDrillOnce(t *testing.T) {
	w := floorGoods(t)
	form := drillForm("of", "lot", "what", "M-1", "why", "a stone", "lead", "nora", "level", "B")("nora")
	before := w.size()
	for range 2 {
		if got := w.ask(lead, "/drills", form); got.StatusCode != 303 || got.to() != "/drills/drill-2026-03-09" {
			t.Fatal(got.StatusCode, got.to(), got.body)
		}
	}
	for _, wrong := range []struct {
		form url.Values
		want string
	}{
		{drillForm("partner", "copper-gate")("nora"), "Say whether somebody was reached."},
		{drillForm("partner", "nobody", "reached", "yes")("nora"), "The plan does not know that partner."},
		{drillForm("partner", "copper-gate", "reached", "yes", "holds", "a lot")("nora"), "is no mass"},
		{drillForm("partner", "copper-gate", "reached", "yes")("hank"), "Hank Osgood"},
	} {
		w.wants(w.ask(lead, "/drills/drill-2026-03-09/contact", wrong.form), 422, wrong.want)
	}
	contact := drillForm("partner", "copper-gate", "reached", "yes", "spoke", "<b>S</b>", "holds", "1,5")("nora")
	finish := drillForm("lessons", "learnt")("nora")
	for range 2 {
		w.wants(w.ask(lead, "/drills/drill-2026-03-09/contact", contact), 303)
	}
	w.wants(w.ask(lead, "/drills/drill-2026-03-09", nil), 200, "&lt;b&gt;S&lt;/b&gt;", "still holds 1.5 lb", "level B asks for 1, enough")
	for range 2 {
		w.wants(w.ask(lead, "/drills/drill-2026-03-09/finish", finish), 303)
	}
	if w.size() != before+3 {
		t.Errorf("%d entries, not 3", w.size()-before)
	}
	w.wants(w.ask(lead, "/drills/drill-2026-03-09/contact", drillForm("partner", "copper-gate", "reached", "no")("nora")), 422, "finished meanwhile")
	w.wants(w.ask(lead, "/drills", form), 303) // the back button still leads to it
	w.wants(w.ask(lead, "/drills", nil), 200, "drill-2026-03-09", "Mass accounted for", "took 00:00:00")
	taken := drillForm("of", "lot", "what", "M-1", "why", "w", "lead", "nora", "level", "A", "code", "drill-2026-03-09")("nora")
	w.wants(w.ask(lead, "/drills", taken), 422, "was started before")
	second := drillForm("of", "station", "what", "conveyor", "from", "2026-03-03", "to", "2026-03-05", "why", "w", "lead", "nora", "level", "C")("nora")
	if got := w.ask(lead, "/drills", second); got.to() != "/drills/drill-2026-03-09-2" {
		t.Error(got.to(), got.body)
	}
	w.wants(w.ask(lead, "/drills/drill-2026-03-09-2", nil), 200, "station:conveyor@2026-03-03..2026-03-05", "M-1")
}
