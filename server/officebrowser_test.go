package server

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"grainward/records"
)

// until asks the page until an expression is true of it.
func (b *browser) until(js string) {
	b.Helper()
	if !b.becomes(js) {
		text, _ := b.try("document.location.href + '\\n' + document.body.innerText")
		b.Fatalf("%s does not come true; there is %s", js, text)
	}
}

// becomes says whether an expression comes to be true within a minute.
func (b *browser) becomes(js string) bool {
	b.Helper()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	late := time.After(time.Minute)
	for {
		if got, err := b.try("String(!!(" + js + "))"); err == nil && got == "true" {
			return true
		}
		select {
		case <-again.C:
		case <-late:
			return false
		}
	}
}

func says(word string) string {
	quoted, _ := json.Marshal(word)
	return "document.getElementById('main').innerText.includes(" + string(quoted) + ")"
}

// Two people, each with a browser: what one signs shows on the other's page by itself, with the scroll, the focus and what is
// half typed left as they were; and the page says when it hears nothing any more.
func TestBrowserRefreshesItself(t *testing.T) {
	w := plant(t)
	for range 30 {
		w.write(records.Entry{By: "hank", Fact: &records.Deviation{What: "Something else that went wrong."}})
	}
	base := w.streams()
	hers, his := newBrowser(t, base, sizes[1]), newBrowser(t, base, sizes[0])
	hers.signIn("nora", "Nora Feldt")
	his.signIn("hank", "Hank Osgood")
	hers.open("/findings")
	hers.until(says("A gull got in"))
	hers.eval(`(() => { window.here = 'the same page'; const a = document.querySelector('.findings a[href="/entry/2"]'); a.focus(); window.scrollTo(0, 700); return '' })()`)

	his.open(everything)
	his.do(chromedp.SendKeys(chromedp.CSS("#a-cold"), "55"), chromedp.SetValue(chromedp.CSS("#second"), "grete"),
		chromedp.Click(chromedp.CSS(`input[name="a-clean"][value="yes"]`)), chromedp.Click(chromedp.CSS(`input[name="a-colour"][value="pale"]`)),
		chromedp.SendKeys(chromedp.CSS("#a-words"), "as always"), chromedp.Click(chromedp.CSS(`input[name="outcome"][value="failed"]`)))
	his.press("button.main", "is outside the limits")
	his.do(chromedp.Click(chromedp.CSS(`input[name="none-taken"]`)))
	his.press("button.main", "Written down")

	hers.until(says("outside the limits, and no action taken was written down"))
	if got := hers.eval(`window.here + ' ' + window.scrollY + ' ' + document.activeElement.getAttribute('href')`); got != "the same page 700 /entry/2" {
		t.Error("it lost its place:", got)
	}
	if got := hers.eval(`document.getElementById('live').textContent`); !strings.HasPrefix(got, "Refreshed at") {
		t.Error(got)
	}
	hers.axe("refreshed")

	// while something is typed, the page stays as it is and says so; when it is taken back, it follows
	hers.do(chromedp.SendKeys(chromedp.CSS("#q"), "gull"))
	w.wants(w.ask(crew, hygiene, signing("hank")), 303)
	w.write(records.Entry{By: "hank", Fact: &records.Deviation{What: "An owl this time."}})
	hers.until(`document.getElementById('live').textContent.includes('while you type')`)
	if hers.eval(says("An owl this time.")) != "false" || hers.eval(`document.getElementById('q').value`) != "gull" {
		t.Error("it was refreshed while something was typed")
	}
	hers.axe("typing")
	hers.eval(`(() => { document.getElementById('q').value = ''; document.getElementById('q').blur(); return '' })()`)
	hers.until(says("An owl this time."))

	// the server goes away
	w.events.stop()
	hers.until(`document.getElementById('live').dataset.state === 'fresh'`)
}

// A page left open after its sign-in ended says so, and does not show what was written since.
func TestBrowserRefreshEnds(t *testing.T) {
	w := plant(t)
	b := newBrowser(t, w.streams(), sizes[0])
	b.signIn("nora", "Nora Feldt")
	b.open("/findings")
	b.until(says("A gull got in"))
	w.clock.add(time.Hour)
	w.write(records.Entry{By: "hank", Fact: &records.Deviation{What: "An owl this time."}})
	b.until(`document.getElementById('live').textContent.includes('Your sign-in has ended')`)
	if b.eval(says("An owl this time.")) != "false" {
		t.Error("it was refreshed for nobody")
	}
	b.axe("ended")
	b.press("#live a", "PIN")
}
