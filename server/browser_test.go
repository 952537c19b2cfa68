package server

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"grainward/records"
	"grainward/records/calendar"
)

// Tests in a real browser: Debian's Chromium, at the size of a phone and of a desk.

var pictures = flag.String("pictures", "", "write a picture of every page, at both sizes, to this folder")

const chromium = "/usr/bin/chromium"

type size struct {
	name          string
	width, height int64
}

var sizes = []size{{"phone", 390, 844}, {"desk", 1280, 900}}

// browser is one window with cookies of its own.
type browser struct {
	*testing.T
	ctx  context.Context
	base string
	size size
	rule string // axe-core's source; empty when it is not here
}

func outside(t *testing.T, what string, missing bool) {
	t.Helper()
	if missing && os.Getenv("GRAINWARD_CI") != "" {
		t.Fatal(what + " is not here")
	}
	if missing {
		t.Skip(what + " is not here")
	}
}

func newBrowser(t *testing.T, base string, s size, more ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	if testing.Short() {
		t.Skip("no browser in a short run")
	}
	_, err := os.Stat(chromium)
	outside(t, "chromium", err != nil)
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.DisableGPU, chromedp.ExecPath(chromium), chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	opts = append(opts, more...)
	ctx, stopAll := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, stop := chromedp.NewContext(ctx)
	b := &browser{t, ctx, base, s, axeSource(t)}
	b.do(chromedp.EmulateViewport(s.width, s.height))
	if key, ok := keyAt.Load(base); ok && key != "" {
		b.carry(deviceCookie, key.(string))
	}
	t.Cleanup(func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Log("closing the browser:", err)
		}
		stop()
		stopAll()
	})
	return b
}

// carry gives the browser a cookie of the server's.
func (b *browser) carry(name, value string) {
	b.Helper()
	if _, err := chromedp.Call(b.ctx, network.SetCookie, network.SetCookieParams{Name: name, Value: value, URL: b.base}); err != nil {
		b.Fatal(err)
	}
}

// do runs steps, at most a minute.
func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	done := make(chan error, 1)
	go func() { done <- chromedp.Do(b.ctx, steps...) }()
	select {
	case err := <-done:
		if err != nil {
			b.Fatal(err)
		}
	case <-time.After(time.Minute):
		text, _ := b.try("document.location.href + '\\n' + document.body.innerText")
		b.Fatal("the browser waits for something that does not come, at " + text)
	}
}

func (b *browser) try(js string) (string, error) {
	return chromedp.Run(b.ctx, chromedp.Evaluate[string](js))
}

// eval is the value of an expression as text.
func (b *browser) eval(js string) string {
	b.Helper()
	s, err := b.try("String(" + js + ")")
	if err != nil {
		b.Fatal(err)
	}
	return s
}

func (b *browser) open(path string) { b.Helper(); b.do(chromedp.Navigate(b.base + path)) }

// press clicks and waits for the page that follows to have a heading with a word.
func (b *browser) press(sel, then string) {
	b.Helper()
	b.do(chromedp.Click(chromedp.CSS(sel)))
	b.reads(then)
}

// reads waits for a word on a page that is there whole. While one page goes and the next comes, the browser can not answer: it is asked
// again.
func (b *browser) reads(word string) {
	b.Helper()
	quoted, _ := json.Marshal(word)
	look := "String(document.readyState === 'complete' && !!document.querySelector('footer') && document.body.innerText.includes(" + string(quoted) + "))"
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	late := time.After(time.Minute)
	for {
		if got, err := b.try(look); err == nil && got == "true" {
			return
		}
		select {
		case <-again.C:
		case <-late:
			text, _ := b.try("document.location.href + '\\n' + document.body.innerText")
			b.Fatalf("%q does not come; there is %s", word, text)
		}
	}
}

func (b *browser) signIn(who, name string) {
	b.Helper()
	b.open("/")
	b.reads(name)
	b.press(`a[href="/sign-in/`+who+`"]`, "PIN")
	secret := "4071"
	if who == "nora" {
		secret = thePassword
	}
	b.do(chromedp.SendKeys(chromedp.CSS("#secret"), secret))
	b.press("button.main", "Today’s work")
}

func TestBrowserSignOff(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			b := newBrowser(t, w.serve(), s)
			b.signIn("hank", "Hank Osgood")
			before := w.size()
			b.open("/station/bench")
			b.press(`a[href="/sign/everything/bench"]`, "Mind the step.")
			// cautions stand before the work
			if b.eval(`document.querySelector('.cautions').compareDocumentPosition(document.querySelector('form.sign')) & Node.DOCUMENT_POSITION_FOLLOWING`) != "4" {
				t.Error("the cautions come after the work")
			}
			if b.eval(`document.querySelector('#a-cold').closest('.number').innerText.trim()`) != "degF" {
				t.Error("the unit is not beside the number")
			}
			photo := filepath.Join(t.TempDir(), "shelf.png")
			if err := os.WriteFile(photo, picture(), 0o600); err != nil {
				t.Fatal(err)
			}
			b.do(chromedp.SendKeys(chromedp.CSS("#a-cold"), "55"),
				chromedp.Click(chromedp.CSS(`input[name="a-clean"][value="yes"]`)),
				chromedp.Click(chromedp.CSS(`input[name="a-colour"][value="pale"]`)),
				chromedp.SendKeys(chromedp.CSS("#a-words"), "all as always"),
				chromedp.SetUploadFiles(chromedp.CSS("#a-picture"), []string{photo}),
				chromedp.Click(chromedp.CSS(`input[name="agent"][value="ozone-water"]`)),
				chromedp.SetValue(chromedp.CSS("#second"), "grete"),
				chromedp.Click(chromedp.CSS(`input[name="outcome"][value="passed"]`)))
			b.press("button.main", "is outside the limits")
			if w.size() != before {
				t.Fatal("it was written before the action was asked for")
			}
			if b.eval(`document.querySelector('#a-cold').value + document.querySelector('#a-words').value + document.querySelector('#second').value`) != "55all as alwaysgrete" {
				t.Error("what was typed is gone")
			}
			b.axe("out of its limits")
			b.do(chromedp.SendKeys(chromedp.CSS("#action"), "Ice put on."))
			// a double tap: two submits before the first answer can come
			b.eval(`(() => { const f = document.querySelector('form.sign'); const send = () => fetch(f.getAttribute('action'), {method: 'POST', body: new FormData(f)});
				window.both = Promise.all([send(), send()]).then(rs => rs.map(r => r.url).join(' ')); return 'sent' })()`)
			urls, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("window.both", chromedp.EvalAwaitPromise))
			if err != nil {
				t.Fatal(err)
			}
			want := fmt.Sprintf("%s/receipt/%d", b.base, before)
			if urls != want+" "+want || w.size() != before+1 {
				t.Fatalf("a double tap led to %s and the journal has %d more", urls, w.size()-before)
			}
			// and the button once more, as after going back
			b.press("button.main", "Written down")
			if w.size() != before+1 {
				t.Error("the back button wrote again")
			}
			f := w.last().Fact.(*records.Signoff)
			if f.Action != "Ice put on." || f.Answers[0].Value.String() != "55 degF" || len(f.Answers[4].Photo) != 64 {
				t.Errorf("%+v", f)
			}
			b.axe("receipt")
			b.press(`.out button`, "Who are you?")
			b.open("/today")
			b.reads("Who are you?")
		})
	}
}

func TestBrowserEndedWhileTyping(t *testing.T) {
	w := plant(t)
	b := newBrowser(t, w.serve(), sizes[0])
	b.signIn("hank", "Hank Osgood")
	before := w.size()
	b.open(hygiene)
	b.do(chromedp.Click(chromedp.CSS(`input[name="a-fit"][value="yes"]`)), chromedp.Click(chromedp.CSS(`input[name="a-hands"][value="yes"]`)), chromedp.Click(chromedp.CSS(`input[name="a-clothes"][value="yes"]`)),
		chromedp.Click(chromedp.CSS(`input[name="outcome"][value="passed"]`)))
	w.clock.add(time.Hour)
	b.press("button.main", "Your sign-in has ended.")
	b.axe("ended")
	b.do(chromedp.SendKeys(chromedp.CSS("#secret"), "4071"))
	b.press("button.main", "Written down")
	if w.size() != before+1 {
		t.Error(w.size())
	}
}

func TestBrowserLead(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			step := make(chan struct{})
			real := w.binders.maker
			w.binders.maker = func(ctx context.Context, out io.Writer, from, to calendar.Date, by string, progress func(int, int)) error {
				progress(1, 3)
				select {
				case <-step:
				case <-ctx.Done():
				}
				return real(ctx, out, from, to, by, progress)
			}
			b := newBrowser(t, w.serve(), s)
			b.signIn("nora", "Nora Feldt")
			b.press(`nav a[href="/findings"]`, "A gull got in")
			b.press(`a[href^="/answer?finding=deviation"]`, "What was the cause?")
			for _, f := range []string{"cause", "action", "lots", "prevention"} {
				b.do(chromedp.SendKeys(chromedp.CSS("#"+f), "text of "+f))
			}
			b.do(chromedp.Click(chromedp.CSS(`input[name="closes"][value="yes"]`)))
			b.do(chromedp.SendKeys(chromedp.CSS("#again"), "4071"))
			b.press("button.main", "What the records show")
			if strings.Contains(b.eval("document.body.innerText"), "A gull got in") {
				t.Error("closed and still there")
			}
			b.press(`nav a[href="/documents"]`, "Certificates, licences, reports")
			b.press(`nav.within a[href="/binder"]`, "Make the binder")
			b.press("button.main", "It is being made")
			b.axe("binder being made")
			b.reads("33 %")
			close(step) // the module sees that it is done and loads the page again
			b.reads("Download the binder")
			href := b.eval(`document.querySelector('a[download]').href`)
			got, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`fetch('`+href+`').then(r => r.text())`, chromedp.EvalAwaitPromise))
			if err != nil || !strings.HasPrefix(got, "a binder of 2026-02-01 to 2026-03-09") {
				t.Errorf("%q %v", got, err)
			}
		})
	}
}

// axeSource is the accessibility rules, or empty: without them a visitor's browser still goes the whole way. It is read
// before a browser is started, since a test can not be ended from within the browser's own goroutine.
func axeSource(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile("../testdata/axe/node_modules/axe-core/axe.min.js")
	switch {
	case err == nil:
		return string(b)
	case os.Getenv("GRAINWARD_CI") != "":
		t.Fatal("axe-core is not here: run npm install in testdata/axe")
	}
	t.Log("axe-core is not here (npm install in testdata/axe), so its rules are not asked")
	return ""
}

// axe runs the rules of WCAG 2.2 A and AA over the page as it is.
func (b *browser) axe(where string) {
	b.Helper()
	if b.rule == "" {
		return
	}
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Run(ctx, chromedp.Evaluate[string](b.rule+`;"loaded"`))
		return err
	}))
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](`axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa']})
		.then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ': ' + n.html.slice(0, 200) + ' ' + n.failureSummary)))`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatal(err)
	}
	for _, f := range found {
		b.Errorf("%s: %s", where, f)
	}
}

// main buttons and rows of work are as large as a glove and far enough apart, and nothing is wider than the window.
const gloveCheck = `(() => {
	const bad = [];
	const all = [...document.querySelectorAll('main button, main a.button:not(.small), main a.row, main .choice, main input:not([type=hidden]):not(.camera):not([type=radio]):not([type=checkbox]):not(.username), main select, main summary, .stations a')]
		.filter(e => e.checkVisibility());
	const boxes = all.map(e => [e, e.getBoundingClientRect()]);
	for (const [e, r] of boxes) if (r.height < 63.5) bad.push('low ' + Math.round(r.height) + ': ' + e.outerHTML.slice(0, 120));
	for (const [e, r] of boxes) for (const [f, s] of boxes) {
		if (e === f || e.contains(f) || f.contains(e)) continue;
		const dx = Math.max(r.left - s.right, s.left - r.right, 0), dy = Math.max(r.top - s.bottom, s.top - r.bottom, 0);
		if (Math.hypot(dx, dy) < 11.5) bad.push('near ' + Math.hypot(dx, dy).toFixed(1) + ': ' + e.outerHTML.slice(0, 90) + ' | ' + f.outerHTML.slice(0, 90));
	}
	if (document.documentElement.scrollWidth > window.innerWidth) bad.push('wider than the window: ' + document.documentElement.scrollWidth);
	return bad.slice(0, 6).join('\n');
})()`

// Every page there is, opened as it comes, checked with axe and with a ruler, and pictured on request.
func TestBrowserEveryPage(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			w.wants(w.ask(crew, everything, full("hank", "a-cold", "55", "action", "Ice put on; 38 degF after an hour.")), 303)
			w.wants(w.ask(crew, "/correct/3", full("hank", "a-cold", "35", "reason", "read the wrong side")), 303)
			hold := make(chan struct{})
			defer close(hold)
			base := w.serve()
			b := newBrowser(t, base, s)
			b.look("people", "/")
			b.look("people-es", "/?lang=es")
			b.look("pin", "/sign-in/hank")
			b.look("pin-none", "/sign-in/grete")
			b.signIn("nora", "Nora Feldt")
			b.look("today", "/today")
			b.eval(`document.querySelectorAll('details').forEach(d => d.open = true)`)
			b.look("today-open", "")
			b.look("station", "/station/entrance")
			b.look("station-empty", "/station/mill")
			b.look("sign", everything)
			b.press("button.main", "Say whether it passed.")
			b.look("sign-back", "")
			b.look("sign-real", "/sign/floor-scrub/floor-1")
			b.look("receipt", "/receipt/3")
			b.look("entry", "/entry/3")
			b.look("entry-plan", "/entry/0")
			b.look("entry-correction", "/entry/4")
			b.look("correct", "/correct/3")
			b.look("withdraw", "/withdraw/3")
			b.look("findings", "/findings")
			b.look("answer", "/answer?finding="+strings.ReplaceAll(someFinding, ":", "%3A"))
			b.press("button.main", "Fill in:")
			b.look("answer-back", "")
			b.look("binder", "/binder")
			b.press("button.main", "Download the binder")
			b.look("binder-done", "")
			b.look("staff", "/people")
			b.look("member", "/people/grete")
			b.look("member-lead", "/people/nora")
			b.do(chromedp.SendKeys(chromedp.CSS("#again"), thePassword))
			b.press(`button[value="make"]`, "The new PIN of")
			b.look("member-made", "")
			b.look("devices", "/devices")
			b.do(chromedp.SendKeys(chromedp.CSS("#name"), "Kiln tablet"))
			b.press("button.main", "Code for Kiln tablet")
			b.look("devices-code", "")
			b.look("device", "/devices/"+string(w.tab))
			b.look("enrol", "/enrol?code=7KQ2-M4XD")
			b.look("not-found", "/nowhere")
			b.look("findings-none", "/findings?severity=critical")
		})
	}
	t.Run("dark", func(t *testing.T) {
		w := plant(t)
		b := newBrowser(t, w.serve(), sizes[0])
		b.dark()
		b.signIn("nora", "Nora Feldt")
		for name, path := range map[string]string{"dark-today": "/today", "dark-sign": everything, "dark-findings": "/findings", "dark-entry": "/entry/1"} {
			b.open(path)
			b.axe(name)
			b.shoot(name)
		}
		b.open(everything)
		b.press("button.main", "Say whether it passed.")
		b.axe("dark-sign-back")
		b.shoot("dark-sign-back")
	})
	t.Run("no plan", func(t *testing.T) {
		w := newWorld(t)
		b := newBrowser(t, w.serve(), sizes[0])
		b.open("/")
		b.axe("no plan")
		b.shoot("no-plan")
		w.adopt()
		b.open("/")
		b.axe("no PINs")
		b.shoot("no-pins")
	})
}

func (b *browser) dark() {
	b.Helper()
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}}); err != nil {
		b.Fatal(err)
	}
}

func (b *browser) shoot(name string) {
	b.Helper()
	if *pictures == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(*pictures, name+"-"+b.size.name+".png"), png, 0o600); err != nil {
		b.Fatal(err)
	}
}

// Everything works without the module.
func TestWorksWithoutScript(t *testing.T) {
	w := plant(t)
	for _, path := range []string{"/today", everything, "/findings", "/binder", "/people", "/entry/1"} {
		if got := w.ask(lead, path, nil); strings.Count(got.body, "<script") != strings.Count(got.body, `<script type="module" src="/static/events.mjs`) {
			t.Errorf("%s loads a script that does more than refresh it", path)
		}
	}
	res, err := http.Get(w.serve() + "/static/progress.mjs")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if !strings.HasPrefix(res.Header.Get("Content-Type"), "text/javascript") {
		t.Error(res.Header.Get("Content-Type"))
	}
}
