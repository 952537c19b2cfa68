package server

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"grainward/records"
	crewpage "grainward/server/crew"
)

// Sign off online in three touches: the row, all as it should be, sign.
func TestBrowserCrewThreeTouches(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w, g := crewPlant(t)
			b := device(t, g, s, t.TempDir(), w, 0)
			b.crewAt("entrance")
			b.sees("Who are you?")
			b.looked("people")
			b.am("hank", "4071")
			b.sees("Now")
			b.looked("list")
			before := w.size()
			b.tap(`[data-task="hygiene-check"]`)
			b.sees("Hands washed")
			b.looked("all-right")
			b.tap("#all-right")
			b.sees("Sign as Hank Osgood")
			b.looked("check")
			b.tap("#finish")
			b.sees("Signed: Before the shift")
			b.allSent()
			got := w.since(before)
			if len(got) != 1 || got[0].By != "hank" || got[0].DeviceTime != 0 {
				t.Fatalf("%+v", got)
			}
			f := got[0].Fact.(*records.Signoff)
			if f.Task != "hygiene-check" || f.Outcome != records.Passed || len(f.Answers) != 3 || f.Window == 0 {
				t.Errorf("%+v", f)
			}
			b.comes(`document.querySelector('#part-done [data-task="hygiene-check"][data-state="done"]')`)
			b.looked("done")
			b.tap("#who")
			b.tap("#sign-out")
			b.sees("Who are you?")
		})
	}
}

// looked checks a screen with axe and the ruler, and pictures it on request.
func (b *browser) looked(name string) {
	b.Helper()
	b.axe(name)
	if bad := b.eval(gloveCheck); bad != "" {
		b.Errorf("%s:\n%s", name, bad)
	}
	if v := b.eval("(window.violations ?? []).join(' ')"); v != "" {
		b.Errorf("%s: the content security policy was broken: %s", name, v)
	}
	b.shoot("crew-" + name)
}

func (b *browser) allSent() {
	b.Helper()
	b.comes(`document.querySelector('#unsent')?.innerText.includes('Everything is sent')`)
}

// digits types a number on the pad.
func (b *browser) digits(keys string) {
	b.Helper()
	for _, d := range keys {
		b.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll('.pad .key')].find(k => k.textContent === '` + string(d) + `').click()`))
	}
}

// everythingAsked signs the task that asks for everything, with a number for its cold side and a photo.
func (b *browser) everythingAsked(cold string, big bool) {
	b.Helper()
	b.everythingSaid(cold, "all as always", "Signed: Everything a task can ask", big)
}

// everythingSaid is the same with words of the caller's; then is what the page says once it is signed.
func (b *browser) everythingSaid(cold, words, then string, big bool) {
	b.Helper()
	photo := filepath.Join(b.TempDir(), "shelf.png")
	if err := os.WriteFile(photo, wide(big), 0o600); err != nil {
		b.Fatal(err)
	}
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#part-other').open = true`))
	b.tap(`[data-task="everything"]`)
	b.sees("Mind the step.")
	b.looked("cautions")
	b.tap("main .main")
	b.sees("Cold side")
	if b.eval(`document.querySelector('.reading').innerText.trim()`) != "degF" {
		b.Error("the unit is not beside the number")
	}
	b.digits(cold)
	b.looked("number")
	b.tap("#go-on")
	if cold == "55" {
		b.sees("Cold side: 55 degF, should be -10 to 40 degF")
		b.looked("action")
		b.do(chromedp.SendKeys(chromedp.CSS("#answer"), "Ice put on."))
		b.tap("#go-on")
		b.sees("Must a lot be held because of it?")
		b.tap(`[data-value="true"]`)
		b.sees("The code of the lot")
		b.do(chromedp.SendKeys(chromedp.CSS("#answer"), "no spaces here"))
		b.tap("#go-on")
		b.sees("no spaces.")
		b.do(chromedp.SetValue(chromedp.CSS("#answer"), "R-26-014"))
		b.tap("#go-on")
	}
	b.sees("Clean to the eye")
	b.looked("yesno")
	b.tap(`[data-value="true"]`)
	b.sees("Colour")
	b.tap(`[data-value="pale"]`)
	b.sees("In words")
	b.do(chromedp.SendKeys(chromedp.CSS("#answer"), words))
	b.tap("#go-on")
	b.sees("A picture")
	b.do(chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{photo}))
	b.comes("document.querySelector('canvas.preview')")
	b.looked("photo")
	b.tap("#go-on")
	b.sees("What was used?")
	b.looked("agents")
	b.tap("label:has(#many-0)")
	b.tap("#go-on")
	b.sees("Number on the container")
	b.do(chromedp.SendKeys(chromedp.CSS("#answer"), "OZ-7"))
	b.tap("#go-on")
	b.sees("Who stood by?")
	b.tap(`[data-value="grete"]`)
	b.sees("Sign as Hank Osgood")
	b.looked("check-everything")
	b.tap("#finish")
	b.sees(then)
}

func (b *browser) threeTouches(task string) {
	b.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll('details').forEach(d => d.open = true)`))
	b.tap(`button[data-task="` + task + `"]`)
	b.comes("document.querySelector('#all-right')")
	b.tap("#all-right")
	b.comes("document.querySelector('#finish')")
	b.tap("#finish")
	b.sees("Signed: ")
}

// With the network gone three sign-offs and a photo are made, the browser is killed and opened again, and when the network is back the
// four arrive, once each. No PIN lies on the device.
func TestBrowserCrewNoNetwork(t *testing.T) {
	const pin = "90714263"
	w, g := crewPlant(t)
	if err := w.auth.SetPIN(context.Background(), "hank", "", pin); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	b := device(t, g, sizes[0], dir, w, 0)
	b.crewAt("entrance")
	b.am("hank", pin)
	b.sees("Now")
	b.cached()
	before := w.size()
	g.cut()
	b.offline(true)

	b.crewAt("entrance") // from the device
	b.sees("No network. Everything you sign is kept on this device.")
	b.sees("Who are you?")
	b.tap(`[data-person="hank"]`)
	b.sees("Without the network your PIN can not be checked.")
	b.looked("offline-pin")
	b.tap("#without")
	b.sees("Now")
	b.looked("offline-list")
	b.threeTouches("hygiene-check")
	b.sees("1 record is not sent yet.")
	b.threeTouches("footwear-check")
	b.sees("2 records are not sent yet.")
	b.tap("#where")
	b.tap(`[data-station="bench"]`)
	b.everythingAsked("35", true)
	b.sees("3 records and 1 photo are not sent yet.")
	b.looked("offline-unsent")
	if w.size() != before {
		t.Fatal("it was sent over no network")
	}
	b.kill()

	b = device(t, g, sizes[0], dir, w, 0)
	b.offline(true)
	b.crewAt("entrance")
	b.sees("3 records and 1 photo are not sent yet.")
	b.tap(`#show-unsent`)
	b.sees("Everything a task can ask")
	b.looked("unsent")
	b.tap("#back")
	b.sees("Who are you?")
	g.open()
	b.offline(false)
	// the sign-in outlived the restart, or its PIN is asked for
	b.comes(`document.querySelector('#unsent').innerText.includes('Everything is sent') || document.querySelector('[data-needs="hank"]')`)
	if b.eval(`!!document.querySelector('[data-needs="hank"]')`) == "true" {
		b.looked("pin-needed")
		b.tap(`[data-needs="hank"]`)
		b.pin(pin)
	}
	b.allSent()
	got := w.since(before)
	tasks := ""
	for _, e := range got {
		f := e.Fact.(*records.Signoff)
		tasks += string(f.Task) + " "
		if e.By != "hank" || f.Outcome != records.Passed {
			t.Errorf("%+v", e)
		}
	}
	if tasks != "hygiene-check footwear-check everything " {
		t.Fatalf("there arrived %s", tasks)
	}
	all := got[2].Fact.(*records.Signoff)
	photo := all.Answers[4].Photo
	data, err := w.Book.Blob(context.Background(), photo)
	if err != nil {
		t.Fatal(err)
	}
	if wd, ht := jpegSize(t, data); max(wd, ht) != 1600 || wd != 2*ht {
		t.Errorf("the photo is %d by %d", wd, ht)
	}
	if all.Agents[0].Lot != "OZ-7" || all.Second != "grete" || all.Answers[0].Value.String() != "35 degF" {
		t.Errorf("%+v", all)
	}
	if n := g.times("PUT /api/photos/" + photo); n == 0 {
		t.Error("the photo went by another way")
	}
	b.noSecrets(pin)
	b.kill()
	noneOnDisk(t, dir, pin)
}

// noSecrets looks through all that a script can read for a PIN and for anything that looks like a sign-in.
func (b *browser) noSecrets(pin string) {
	b.Helper()
	const read = `(async () => {
		const out = [JSON.stringify({...localStorage}), JSON.stringify({...sessionStorage}), document.cookie];
		for (const { name } of await indexedDB.databases()) {
			const db = await new Promise((ok, no) => { const r = indexedDB.open(name); r.onsuccess = () => ok(r.result); r.onerror = no; });
			for (const store of db.objectStoreNames) out.push(name + '/' + store + ' ' + JSON.stringify(await new Promise(ok => { const r = db.transaction(store).objectStore(store).getAll(); r.onsuccess = () => ok(r.result); })));
			db.close();
		}
		for (const name of await caches.keys()) {
			const cache = await caches.open(name);
			for (const q of await cache.keys()) { const r = await cache.match(q); out.push(q.url + ' ' + JSON.stringify([...r.headers]) + ' ' + await r.text()); }
		}
		return out.join('\n');
	})()`
	all, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](read, chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatal(err)
	}
	if !strings.Contains(all, "grainward/queue") || !strings.Contains(all, "/queue.mjs") || !strings.Contains(all, "hygiene-check") {
		b.Fatal("the look into the device found nothing of what must be there")
	}
	if strings.Contains(all, pin) || strings.Contains(strings.ToLower(all), "set-cookie") {
		b.Error("a secret lies on the device")
	}
	cookies, err := chromedp.Call(b.ctx, network.GetCookies, network.GetCookiesParams{})
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range cookies.Cookies {
		if !c.HTTPOnly || strings.Contains(all, c.Value) {
			b.Errorf("scripts can read the cookie %s", c.Name)
		}
	}
	if len(cookies.Cookies) == 0 {
		b.Error("there is no cookie at all")
	}
}

// noneOnDisk looks for a PIN in every byte a browser wrote.
func noneOnDisk(t *testing.T, dir, pin string) {
	t.Helper()
	seen := 0
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		data, err := os.ReadFile(path)
		if bytes.Contains(data, []byte(pin)) {
			t.Errorf("the PIN is in %s", path)
		}
		if bytes.Contains(data, []byte("hygiene-check")) {
			seen++
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	if seen == 0 {
		t.Error("nothing of the page is on disk, so this look shows nothing")
	}
}

// Answers lost on the way, the queue sent twice at once, a guest network in between: each entry arrives once.
func TestBrowserCrewOnce(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("bench")
	b.am("hank", "4071")
	b.sees("Now")
	before := w.size()
	g.lose.Store(true)
	b.everythingAsked("35", false)
	b.comes(`document.querySelector('#unsent').innerText.includes('not sent yet')`)
	for g.times("POST /api/entries") == 0 {
		// the photo's answer is lost first; the entry is not sent before its photo is known to be there
		if n := g.times("PUT /api/photos/" + b.photoKey()); n > 0 {
			break
		}
	}
	g.lose.Store(false)
	g.guest.Store(true)
	b.eval(`void dispatchEvent(new Event('online'))`)
	b.comes(`document.querySelector('#unsent').innerText.includes('not sent yet')`)
	g.guest.Store(false)
	twice := `import(document.querySelector('script[type=module]').src.replace('crew.mjs', 'queue.mjs')).then(q => Promise.all([q.sendAll(), q.sendAll(), q.sendAll()])).then(() => 'sent')`
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](twice, chromedp.EvalAwaitPromise)); err != nil {
		t.Fatal(err)
	}
	b.allSent()
	if n := w.size() - before; n != 1 {
		t.Fatalf("%d entries", n)
	}

	// and one whose own answer is lost
	before = w.size()
	b.crewAt("entrance")
	b.sees("Now")
	g.lose.Store(true)
	b.threeTouches("hygiene-check")
	b.comes(`document.querySelector('#unsent').innerText.includes('1 record is not sent yet')`)
	for w.size() == before {
		time.Sleep(time.Millisecond) // it arrives; only its answer does not
	}
	g.lose.Store(false)
	b.eval(`void dispatchEvent(new Event('online'))`)
	b.allSent()
	if n := w.size() - before; n != 1 || g.times("POST /api/entries") < 3 {
		t.Errorf("%d entries in %d sendings", n, g.times("POST /api/entries"))
	}
}

func (b *browser) photoKey() string {
	b.Helper()
	key, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`import(document.querySelector('script[type=module]').src.replace('crew.mjs', 'queue.mjs')).then(q => q.unsent()).then(u => u[0]?.photos[0] ?? '')`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatal(err)
	}
	return key
}

// Two devices sign the same window without a network: both records stay, one answers the window, the other is shown as such.
func TestBrowserCrewTwoOnOneWindow(t *testing.T) {
	w, g := crewPlant(t)
	if err := w.auth.SetPIN(context.Background(), "grete", "", "5192"); err != nil {
		t.Fatal(err)
	}
	var both [2]*browser
	for i, who := range [][2]string{{"hank", "4071"}, {"grete", "5192"}} {
		both[i] = device(t, g, sizes[0], t.TempDir(), w, 0)
		both[i].crewAt("entrance")
		both[i].am(who[0], who[1])
		both[i].sees("Now")
	}
	before := w.size()
	g.cut()
	for _, b := range both {
		b.offline(true)
		b.threeTouches("hygiene-check")
		b.sees("1 record is not sent yet.")
	}
	g.open()
	for _, b := range both {
		b.offline(false)
		b.allSent()
	}
	if n := w.size() - before; n != 2 {
		t.Fatalf("%d entries", n)
	}
	b := both[1]
	b.comes(`document.querySelector('#part-done [data-task="hygiene-check"][data-state="done"]')?.innerText.includes('Hank Osgood')`)
	b.comes(`document.querySelector('#part-done [data-task="hygiene-check"][data-state="beside"]')?.innerText.includes('Grete Holm')`)
	b.sees("The window was answered by Hank Osgood")
	b.looked("beside")
}

// An answer outside its limits asks at once for the action and for lots to hold, which makes a hold too.
func TestBrowserCrewOutside(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w, g := crewPlant(t)
			b := device(t, g, s, t.TempDir(), w, 0)
			b.crewAt("bench")
			b.am("hank", "4071")
			b.sees("Now")
			before := w.size()
			b.everythingAsked("55", false)
			b.allSent()
			got := w.since(before)
			if len(got) != 2 {
				t.Fatalf("%d entries", len(got))
			}
			f := got[0].Fact.(*records.Signoff)
			if f.Action != "Ice put on." || f.Outcome != records.Failed || f.Answers[0].Value.String() != "55 degF" || len(f.Lots) != 1 {
				t.Errorf("%+v", f)
			}
			h := got[1].Fact.(*records.Hold)
			if h.Lots[0] != "R-26-014" || !strings.Contains(h.Why, "55 degF") || !strings.Contains(h.Why, "Ice put on.") {
				t.Errorf("%+v", h)
			}
			b.sees("Did not pass")
		})
	}
}

// A wrong PIN is said to be one; a sign-in that ran out while a queue waits loses nothing, and says whose PIN it waits for.
func TestBrowserCrewSignInEnds(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("entrance")
	b.tap(`[data-person="hank"]`)
	b.pin("1111")
	b.sees("That is neither the PIN nor the password.")
	b.looked("pin-wrong")
	w.clock.add(time.Minute) // a wrong try asks for a wait
	b.pin("4071")
	b.sees("Now")
	before := w.size()
	w.clock.add(2 * time.Hour)
	b.threeTouches("hygiene-check")
	b.sees("The PIN of Hank Osgood is needed")
	b.sees("1 record is not sent yet.")
	if w.size() != before {
		t.Fatal("it was written under no sign-in")
	}
	// somebody else's sign-in does not send it
	b.tap("#who")
	b.tap(`[data-person="nora"]`)
	b.pin("4071")
	b.comes("document.querySelector('#who')?.innerText === 'Nora Feldt'")
	b.sees("The PIN of Hank Osgood is needed")
	if w.size() != before {
		t.Fatal("it was written under somebody else's sign-in")
	}
	b.looked("somebody-elses")
	b.tap(`[data-needs="hank"]`)
	b.pin("4071")
	b.allSent()
	if got := w.since(before); len(got) != 1 || got[0].By != "hank" {
		t.Errorf("%+v", got)
	}
}

// A device whose clock is off says so, and the entry keeps both times.
func TestBrowserCrewClockOff(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 3*time.Hour)
	b.crewAt("entrance")
	b.am("hank", "4071")
	b.sees("This device’s clock is 3 h ahead of the plant’s.")
	b.looked("clock")
	// windows are shown by the plant's time all the same
	b.comes(`document.querySelector('#part-now [data-task="hygiene-check"]').innerText.includes('by 13:00')`)
	before := w.size()
	b.threeTouches("hygiene-check")
	b.allSent()
	e := w.since(before)[0]
	off := e.DeviceTime.Sub(e.Happened)
	if off < 3*time.Hour-time.Minute || off > 3*time.Hour+time.Minute || w.clock.now().Sub(e.Happened).Abs() > 2*time.Minute {
		t.Errorf("happened %s, by the device %s", e.Happened, e.DeviceTime)
	}
	b.comes(`document.querySelector('#part-done [data-task="hygiene-check"]')?.innerText.includes('07:3')`)
	// "it was done earlier" is said in the plant's time
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelectorAll('details').forEach(d => d.open = true)`))
	b.tap(`#part-other [data-task="footwear-check"], #part-late [data-task="footwear-check"]`)
	b.tap("#all-right")
	b.comes("document.querySelector('#finish')")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('details.more').open = true`), chromedp.SetValue(chromedp.CSS("#when"), "2026-03-09T04:15"))
	b.looked("done-earlier")
	b.tap("#finish")
	b.allSent()
	b.comes("true")
	for len(w.since(before)) < 2 {
		time.Sleep(time.Millisecond)
	}
	if e := w.since(before)[1]; e.Happened.Sub(at("2026-03-09T04:15:00-04:00")).Abs() > time.Minute {
		t.Errorf("done earlier: %s", e.Happened)
	}
}

// Spanish by person, and switched by hand; with the dark look.
func TestBrowserCrewSpanish(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.dark()
	b.crewAt("entrance")
	b.tap(`[data-person="lucia"]`) // whose language is Spanish: all of the page that asks her is
	b.sees("Su PIN")
	b.sees("Todo está enviado.")
	b.sees("Atrás")
	b.tap("#back")
	b.am("hank", "4071")
	b.sees("Everything is sent.")
	b.looked("dark")
	b.tap("#language")
	b.sees("Todo está enviado.")
	b.sees("Antes del turno")
	if b.eval("document.documentElement.lang") != "es" {
		t.Error("the page does not say that it is Spanish")
	}
	b.looked("spanish")
	b.tap(`[data-task="hygiene-check"]`)
	b.sees("Todo como debe ser")
	b.tap("#all-right")
	b.sees("Firmar como Hank Osgood")
	b.looked("spanish-check")
	b.crewAt("entrance") // it is remembered for this person
	b.sees("Todo está enviado.")
}

// The phone's back button goes one question back and keeps what was answered; taps that come twice sign once.
func TestBrowserCrewBackAndDoubleTaps(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("entrance")
	b.am("hank", "4071")
	b.sees("Now")
	before := w.size()
	b.tap(`[data-task="footwear-wash"]`)
	b.sees("Pairs washed")
	b.digits("12")
	b.tap("#go-on")
	b.sees("Worn-out pairs")
	b.eval("history.back()")
	b.sees("Pairs washed")
	b.comes("document.querySelector('#answer').value === '12'")
	b.eval("history.back()")
	b.sees("Now")
	b.tap(`[data-task="footwear-wash"]`)
	b.sees("Pairs washed")
	b.digits("12")
	b.tap("#go-on")
	b.sees("Worn-out pairs")
	b.tap("#skip")
	b.sees("What was used?")
	b.tap("#go-on")
	b.comes("document.querySelector('#finish')")
	b.eval(`(() => { const f = document.querySelector('#finish'); f.click(); f.click(); setTimeout(() => f.click(), 0); setTimeout(() => f.click(), 30); return '' })()`)
	b.sees("Signed: Wash the floor footwear")
	b.allSent()
	if n := w.size() - before; n != 1 {
		t.Errorf("%d entries", n)
	}
	b.eval("history.forward()") // to screens that are not there any more
	b.sees("Now")
	if n := w.size() - before; n != 1 {
		t.Errorf("%d entries", n)
	}
}

// What the server refuses stays on the device with the server's words, can be shown, sent again and handed over.
func TestBrowserCrewRefused(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("bench")
	b.am("hank", "4071")
	b.sees("Now")
	g.cut()
	b.offline(true)
	w.adoptText(strings.Replace(thePlan(), "code: everything", "code: other-thing", 1)) // the plan changes while the phone is away
	b.everythingAsked("35", false)
	before := w.size()
	g.open()
	b.offline(false)
	b.sees("1 record needs a look")
	b.looked("refused")
	if w.size() != before {
		t.Fatal("it was written")
	}
	b.tap("#show-unsent")
	b.sees("Needs a look")
	b.comes(`document.querySelector('.item[data-state="refused"]').innerText.includes('everything')`)
	b.looked("refused-list")
	b.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll('.doing button')].find(x => x.textContent === 'Hand it to the lead').click()`))
	b.sees(`"task": "everything"`)
	b.looked("hand-over")
	b.tap("#back")
	w.adopt() // the lead puts the task back
	w.clock.add(0)
	b.comes(`document.querySelector('.item')`)
	b.eval(`[...document.querySelectorAll('.doing button')].find(x => x.textContent === 'Send it again').click()`)
	// it happened under a plan without the task: it is refused again, and is still here
	b.comes(`document.querySelector('.item[data-state="refused"]')`)
	b.crewAt("bench")
	b.sees("1 record needs a look")
}

// A queued sign-off is corrected by a second entry that goes out after it.
func TestBrowserCrewCorrectQueued(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("entrance")
	b.am("hank", "4071")
	b.sees("Now")
	before := w.size()
	g.cut()
	b.offline(true)
	b.threeTouches("hygiene-check")
	b.tap(`#part-signed button`)
	b.sees("Why is it corrected?")
	b.do(chromedp.SendKeys(chromedp.CSS("#answer"), "jacket was torn"))
	b.tap("#go-on")
	b.sees("What is wrong?")
	b.looked("correct-queued")
	b.tap(`[data-value="answers"]`)
	for _, yes := range []string{"true", "true", "false"} {
		b.comes(`document.querySelector('[data-value="` + yes + `"]')`)
		was := b.eval("document.querySelector('h1').innerText")
		b.tap(`[data-value="` + yes + `"]`)
		b.comes("document.querySelector('h1').innerText !== " + fmt.Sprintf("%q", was))
	}
	b.tap("#skip") // nothing was done
	b.sees("Must a lot be held")
	b.tap(`[data-value="false"]`)
	b.comes("document.querySelector('#finish')")
	b.tap("#finish")
	b.sees("Corrected: Before the shift")
	b.sees("2 records are not sent yet.")
	g.open()
	b.offline(false)
	b.allSent()
	got := w.since(before)
	if len(got) != 2 {
		t.Fatalf("%d entries", len(got))
	}
	c, ok := got[1].Fact.(*records.Correct)
	if !ok || c.Target != got[0].ID || c.Reason != "jacket was torn" || *c.With.Fact.(*records.Signoff).Answers[2].Yes {
		t.Errorf("%+v", got[1].Fact)
	}
}

// Text typed by people is shown as text.
func TestBrowserCrewHostileText(t *testing.T) {
	w, g := crewPlant(t)
	const bad = `<img src=x onerror="document.title='broken'"><b id=bold>Ω</b>`
	w.adoptText(strings.Replace(thePlan(), "{en: Everything a task can ask, es: Todo lo que una tarea puede pedir}", `{en: '`+strings.ReplaceAll(bad, "'", "''")+`', es: x}`, 1))
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("bench")
	b.am("hank", "4071")
	b.sees("Now")
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#part-other').open = true`))
	b.sees("<img src=x")
	b.looked("hostile")
	if b.eval("document.querySelector('#bold') === null && document.title !== 'broken'") != "true" {
		t.Error("a title was read as markup")
	}
	before := w.size()
	b.everythingSaid("35", bad, "Signed: <img src=x", false)
	b.allSent()
	if f, is := w.last().Fact.(*records.Signoff); !is || w.size() != before+1 || !slices.ContainsFunc(f.Answers, func(r records.Response) bool { return r.Text == bad }) {
		t.Errorf("what was typed did not arrive as typed: %+v", w.last().Fact)
	}
	if b.eval("document.querySelector('#bold') === null && document.title !== 'broken'") != "true" {
		t.Error("an answer was read as markup")
	}
	b.open("/crew?station=%3Cscript%3E")
	b.comes("document.body.dataset.ready")
	b.sees("Where are you?") // a station the plan does not have
}

// The first load of the crew's page, with the day's work, on an empty cache: every byte that goes over the wire, heads too. What the service
// worker puts aside after it (the forms for goods, the shell once more) is told apart.
func TestBrowserCrewWeight(t *testing.T) {
	w, g := crewPlant(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	g.worker.Lock()
	b.open("/crew?station=entrance")
	b.am("hank", "4071")
	b.sees("Now")
	b.allSent()
	n := g.sent.Load()
	g.worker.Unlock()
	b.cached()
	atOnce, from := g.sent.Load(), time.Now()
	const names = `caches.keys().then(async names => { const all = []; for (const n of names) for (const q of await (await caches.open(n)).keys()) all.push(q.url); return all.join(' ') })`
	for missing := "all"; missing != ""; { // the forms about goods are put aside a little later
		have, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](names, chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(missing, err)
		}
		missing = ""
		for _, name := range crewpage.Names() {
			if name != "icon.png" && !strings.Contains(have, "/"+name) {
				missing += " " + name
			}
		}
		if time.Since(from) > time.Minute {
			t.Fatal("not put aside:", missing)
		}
	}
	t.Logf("%d bytes until the work is there, %d with the service worker, %d with the forms about goods", n, atOnce, g.sent.Load())
	if n > 60_000 {
		t.Errorf("the first load takes %d bytes", n)
	}
	if n < 20_000 {
		t.Error("so little can not be all of it")
	}
}

// A device nobody enrolled takes no PIN and is told nobody's name; a lead's password is taken there.
func TestBrowserCrewStranger(t *testing.T) {
	w, g := crewPlant(t)
	b := newBrowser(t, g.url, sizes[0])
	b.crewAt("entrance")
	b.sees("This device is not enrolled")
	if got := b.eval("document.documentElement.outerHTML"); strings.Contains(got, "Osgood") || strings.Contains(got, "jewellery") {
		t.Error("a stranger is told of the plant")
	}
	b.looked("stranger")
	b.do(chromedp.SendKeys(chromedp.CSS("#name"), "hank"), chromedp.SendKeys(chromedp.CSS("#secret"), "4071"))
	b.tap("main .main")
	b.comes("document.querySelector('.error').innerText !== ''")
	b.do(chromedp.SetValue(chromedp.CSS("#name"), "nora"), chromedp.SetValue(chromedp.CSS("#secret"), thePassword))
	b.tap("main .main")
	b.sees("Nora Feldt")
	b.sees("Now")
	before := w.size()
	b.threeTouches("hygiene-check")
	b.allSent()
	if got := w.since(before); len(got) != 1 || got[0].By != "nora" {
		t.Errorf("%+v", got)
	}
}
