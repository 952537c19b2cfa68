package server

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image/png"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"grainward/audit"
	"grainward/cmd/demoplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/lots"
	"grainward/records/memory"
	"grainward/server/auth"
)

// The forms about goods in a real browser, on the demo plant: a person with a phone, and the book afterwards.

// demoWorld is the demo plant on the morning of 16 July 2026 behind a gate: malt on the kiln, sacks in the warehouse.
func demoWorld(t *testing.T) (*world, *gate) {
	t.Helper()
	c := &clock{at: at("2026-07-16T11:00:00-04:00")}
	store := memory.New()
	if _, err := demoplant.Write(t.Context(), store, demoOrigin, demoSigner(), 1, c.at); err != nil {
		t.Fatal(err)
	}
	b, err := book.Open(t.Context(), store, book.Options{Origin: demoOrigin, Signer: demoSigner(), Now: c.now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	a, err := auth.Open(filepath.Join(t.TempDir(), "people.db"), auth.Options{Now: c.now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	for _, who := range []records.PersonCode{"tobias", "yesenia", "imke"} {
		if err := a.SetPIN(context.Background(), who, "", "4071"); err != nil {
			t.Fatal(err)
		}
	}
	w := &world{T: t, clock: c, auth: a}
	w.Server = New(Config{Book: b, Auth: a, Now: c.now, Version: "0.1", MakeBinder: tinyBinder, TempDir: t.TempDir()})
	t.Cleanup(func() { w.binders.close() })
	c.run()
	return w, newGate(t, w.serve())
}

// hit taps what a selector finds.
func (b *browser) hit(sel string) {
	b.Helper()
	quoted := strconv.Quote(sel)
	b.until("document.querySelector(" + quoted + ")")
	// Found and pressed in one step: a press by coordinates lands on what has come to stand there meanwhile.
	b.do(chromedp.Evaluate[chromedp.Void]("document.querySelector(" + quoted + ").click()"))
}

// arrives waits until so many entries came in.
func (w *world) arrives(b *browser, before records.Position, n int) []records.Entry {
	w.Helper()
	again := time.NewTicker(20 * time.Millisecond)
	defer again.Stop()
	late := time.After(time.Minute)
	for w.size() < before+records.Position(n) {
		select {
		case <-again.C:
		case <-late:
			w.Fatalf("%d entries came, not %d: %s", w.size()-before, n, b.eval("document.body.innerText"))
		}
	}
	got := w.since(before)
	if len(got) != n {
		w.Fatalf("%d entries came, not %d", len(got), n)
	}
	return got
}

// asks waits for a question.
func (b *browser) asks(title string) {
	b.Helper()
	quoted, _ := json.Marshal(title)
	b.until("document.querySelector('h1')?.innerText.trim() === " + string(quoted))
}

// chooses taps an answer by its value.
func (b *browser) chooses(title, value string) {
	b.Helper()
	b.asks(title)
	b.hit(`.answers [data-value="` + value + `"]`)
}

// weighs types a mass on the pad, in the unit that stands first.
func (b *browser) weighs(title, number string) {
	b.Helper()
	b.asks(title)
	b.digits(number)
	b.hit("#go-on")
}

func (b *browser) skips(title string)  { b.Helper(); b.asks(title); b.hit("#skip") }
func (b *browser) goesOn(title string) { b.Helper(); b.asks(title); b.hit("#go-on") }

func (b *browser) types(title, text string) {
	b.Helper()
	b.asks(title)
	b.do(chromedp.SetValue(chromedp.CSS("#answer"), text))
	b.hit("#go-on")
}

// goods opens a form from the station's page.
func (b *browser) goods(form string) {
	b.Helper()
	b.hit("#goods")
	b.asks("What do you want to write down?")
	b.hit(`[data-form="` + form + `"]`)
}

// warned reads the cautions, which come before the work.
func (b *browser) warned() {
	b.Helper()
	b.asks("Before you start")
	b.hit("main .main")
}

// signs reads the last screen and signs.
func (b *browser) signs(words ...string) {
	b.Helper()
	b.asks("Read it, then sign")
	text := b.eval("document.body.innerText")
	for _, word := range words {
		if !strings.Contains(text, word) {
			b.Errorf("%q is not to be read before signing: %s", word, text)
		}
	}
	b.hit("#finish")
	b.until("document.querySelector('[data-form], #pin')")
}

// releases gives the PIN once more, which goods that leave ask for.
func (b *browser) releases() {
	b.Helper()
	b.pin("4071")
	b.until("document.querySelector('[data-form]')")
	b.allSent()
}

// drawn draws with a finger: a stroke across the canvas.
func (b *browser) drawn(sel string, touch bool) {
	b.Helper()
	var box struct{ X, Y, W, H float64 }
	raw := b.eval(`(() => { document.querySelector('` + sel + `').scrollIntoView({block: 'center'}); const r = document.querySelector('` + sel + `').getBoundingClientRect(); return JSON.stringify({X: r.x, Y: r.y, W: r.width, H: r.height}) })()`)
	if err := json.Unmarshal([]byte(raw), &box); err != nil {
		b.Fatal(err)
	}
	at := func(x, y float64) (float64, float64) { return box.X + box.W*x, box.Y + box.H*y }
	path := [][2]float64{{.1, .6}, {.2, .2}, {.3, .7}, {.4, .3}, {.5, .7}, {.7, .4}, {.9, .5}}
	for i, p := range path {
		x, y := at(p[0], p[1])
		kind, mouse := input.DispatchTouchEventTypeTouchMove, input.DispatchMouseEventTypeMouseMoved
		if i == 0 {
			kind, mouse = input.DispatchTouchEventTypeTouchStart, input.DispatchMouseEventTypeMousePressed
		}
		b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			if touch {
				_, err := chromedp.Call(ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{{X: x, Y: y}}})
				return err
			}
			_, err := chromedp.Call(ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: mouse, X: x, Y: y, Button: input.MouseButtonLeft, Buttons: 1, ClickCount: 1})
			return err
		}))
	}
	x, y := at(.9, .5)
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if touch {
			_, err := chromedp.Call(ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: input.DispatchTouchEventTypeTouchEnd, TouchPoints: []*input.TouchPoint{}})
			return err
		}
		_, err := chromedp.Call(ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseReleased, X: x, Y: y, Button: input.MouseButtonLeft, ClickCount: 1})
		return err
	}))
}

func (w *world) floor() *lots.Floor { return audit.Floor(w.Book.View().State, w.clock.now()) }

func (w *world) stands(station records.StationCode, lot records.LotCode) records.Micrograms {
	if l := w.floor().Find(lot); l != nil {
		return l.At.Of(lots.Place{Station: station})
	}
	return -1
}

func TestBrowserGoodsReceipt(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w, g := demoWorld(t)
			b := device(t, g, s, t.TempDir(), w, 0)
			b.crewAt("pit")
			b.am("tobias", "4071")
			before := w.size()
			b.hit("#goods")
			b.asks("What do you want to write down?")
			b.looked("goods-menu")
			b.hit(`[data-form="receive"]`)
			b.asks("Before you start")
			b.looked("goods-cautions")
			b.hit("main .main")
			b.asks("What is it?")
			b.looked("goods-item")
			b.chooses("What is it?", "barley")
			b.chooses("From whom?", "hollow-ash")
			b.chooses("What does its paper say?", "organic")
			b.asks("Which lot code?")
			b.looked("goods-code")
			b.chooses("Which lot code?", "IN260716-B1")
			b.asks("How much?")
			b.digits("40000.5")
			b.looked("goods-mass")
			b.hit("#go-on")
			b.chooses("What was it weighed on?", "")
			b.weighs("What mass do their papers say?", "40020")
			b.weighs("How moist is it?", "12.3")
			b.asks("Which organic certificate?")
			b.looked("goods-certificate")
			b.chooses("Which organic certificate?", "hollow-ash-organic")
			b.chooses("Was the certificate looked up at its issuer today?", "true")
			b.chooses("Who was the last certified operation to have it?", "hollow-ash")
			b.types("Their lot number", "B-77")
			b.chooses("Who brought it?", "fell-runner")
			b.types("Number of the truck or trailer", "FR 12")
			b.chooses("Was the vehicle looked at and found clean?", "true")
			b.types("What did it carry before?", "<b>oats</b> & \"rye\"")
			b.types("Seal number on the papers", "SL1")
			b.types("Seal number on the vehicle", "SL1")
			b.chooses("Where did it go?", "silo-1")
			b.asks("What did it run through?")
			b.looked("goods-via")
			b.goesOn("What did it run through?")
			b.goesOn("How is it packed?")
			b.skips("Number of the delivery paper")
			b.chooses("Who signed for the other side?", "")
			b.types("What is their name?", "Edda Rourke")
			b.asks("Read it, then sign")
			b.looked("goods-check")
			b.signs("40,000.5 lb of Barley from Hollow Ash Farm into Silo 1, as lot IN260716-B1", `<b>oats</b> & "rye"`, "Receiving pit, Enclosed conveyor")
			got := w.arrives(b, before, 1)
			if got[0].By != "tobias" || got[0].Meaning != records.Received {
				t.Fatalf("%+v", got)
			}
			f := got[0].Fact.(*records.Receipt)
			if f.Vehicle.LastLoad != `<b>oats</b> & "rye"` || f.Vehicle.Seals[0] != (records.Seal{Papers: "SL1", Found: "SL1"}) || f.ReleasedBy != "Edda Rourke" || f.Certificate != "hollow-ash-organic" ||
				f.LookedUp.String() != "2026-07-16" || f.LastCertified != "hollow-ash" || fmt.Sprint(f.Via) != "[pit conveyor]" || f.Packaging != "bulk" || f.Theirs.String() != "40020 lb" {
				t.Errorf("%+v", f)
			}
			if got, want := w.stands("silo-1", "IN260716-B1"), pounds(t, "40000.5"); got != want {
				t.Errorf("%d µg in the silo, not %d", got, want)
			}
			// the next one of the day gets the next code
			b.hit(`[data-form="receive"]`)
			b.warned()
			b.chooses("What is it?", "barley")
			b.chooses("From whom?", "hollow-ash")
			b.chooses("What does its paper say?", "organic")
			b.chooses("Which lot code?", "IN260716-B2")
		})
	}
}

// Unloading the kiln, cleaning and bagging with the network gone: each form offers what the one before made, and says that it is not
// sent yet. When the network is back it goes out, and the book has what was typed.
func TestBrowserGoodsOffline(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w, g := demoWorld(t)
			b := device(t, g, s, t.TempDir(), w, 0)
			b.crewAt("kiln")
			b.am("tobias", "4071")
			b.cached()
			before := w.size()
			b.hit("#goods") // once with the network, so that the picture is here
			b.asks("What do you want to write down?")
			g.cut()
			b.offline(true)

			b.hit(`[data-form="process-kilning"]`)
			b.warned()
			b.asks("What went in?")
			b.looked("goods-kiln-in")
			b.chooses("What went in?", "kiln|SM260708-BG")
			b.chooses("All of it?", "all")
			b.weighs("How moist is it?", "43.5")
			b.until(`document.querySelector('h1').innerText.startsWith('It came there')`)
			b.looked("goods-kiln-begun")
			b.hit(`.answers [data-value="true"]`)
			b.chooses("Which lot code for: Kilned malt, uncleaned?", "SM260708-BK")
			b.weighs("How much came out: Kilned malt, uncleaned?", "16000")
			b.weighs("How moist is it now: Kilned malt, uncleaned?", "3.7")
			b.asks("Where did it go: Kilned malt, uncleaned?")
			b.looked("goods-kiln-to")
			b.chooses("Where did it go: Kilned malt, uncleaned?", "malt-bin-1")
			b.signs("Kilning at Kiln: 28,780 lb went in, 16,000 lb came out", "Kiln date\n2026-07-16", "Left there\nnothing")

			b.sees("1 entry you signed here")
			b.looked("goods-menu-unsent")
			b.hit(`[data-form="process-cleaning"]`)
			b.warned()
			b.chooses("What went in?", "malt-bin-1|SM260708-BK")
			b.chooses("All of it?", "all")
			b.skips("How moist is it?")
			b.weighs("How many minutes did it take?", "80")
			b.chooses("Which lot code for: Pale barley malt?", "SM260708-BM")
			b.weighs("How much came out: Pale barley malt?", "15000")
			b.skips("How moist is it now: Pale barley malt?")
			b.chooses("Where did it go: Pale barley malt?", "clean-bin-1")
			b.chooses("Did this come off as well: Rootlets and husk?", "true")
			b.asks("Which lot code for: Rootlets and husk?")
			b.looked("goods-container-code")
			b.chooses("Which lot code for: Rootlets and husk?", "BP260715-B")
			b.weighs("How much came out: Rootlets and husk?", "600")
			b.skips("How moist is it now: Rootlets and husk?")
			b.goesOn("Which container? It must be labelled and covered.")
			b.chooses("Where did it go: Rootlets and husk?", "by-product")
			b.signs("Cleaning at Malt cleaner: 16,000 lb went in, 15,600 lb came out")

			b.sees("2 entries you signed here")
			b.hit(`[data-form="process-bagging"]`)
			b.warned()
			b.chooses("What went in?", "clean-bin-1|SM260708-BM")
			b.chooses("All of it?", "all")
			b.skips("How moist is it?")
			b.skips("How many minutes did it take?")
			b.chooses("Which lot code for: Pale barley malt?", "SM260708-B-1")
			b.weighs("How many bags: Pale barley malt?", "120")
			b.asks("What is the net mass on each bag?")
			b.looked("goods-net")
			b.goesOn("What is the net mass on each bag?")
			b.skips("How moist is it now: Pale barley malt?")
			b.asks("What is printed as best by: Pale barley malt?")
			b.sees("6 months from the kiln date 2026-07-16")
			b.looked("goods-best-by")
			b.chooses("What is printed as best by: Pale barley malt?", "2027-01-16")
			b.chooses("Where did it go: Pale barley malt?", "warehouse")
			b.chooses("Did this come off as well: Pale barley malt?", "false")
			b.asks("Read it, then sign")
			b.looked("goods-bagging-check")
			b.signs("Bagging at Bagger: 15,000 lb went in, 6,600 lb came out", "120 × 55 lb", "Best by\n2027-01-16", "Floor scale")

			if w.size() != before {
				t.Fatal("something was sent without a network")
			}
			b.open("/crew?station=warehouse") // as after the phone restarts, still without a network
			b.until("document.body.dataset.ready")
			b.sees("not sent yet")
			// The sign-in has outlived the restart, which the page learns while it asks for a PIN: it asks no longer, but who has begun
			// to type may go on.
			b.hit(`[data-person="tobias"]`)
			b.until("document.querySelector('#without')")
			types := s.name == "desk"
			if types {
				b.digits("40")
			}
			g.open()
			b.offline(false)
			if types {
				b.until("!document.querySelector('#without')")
				b.digits("71")
				b.hit("#sign-in")
			} else {
				b.sees("You are still signed in here: no PIN was needed.")
				b.looked("still-signed-in")
			}
			b.until("!document.querySelector('#pin')")
			got := w.arrives(b, before, 3)
			kilning := got[0].Fact.(*records.Process)
			if kilning.Process != "kilning" || kilning.Started == 0 || !kilning.Inputs[0].Last || kilning.Outputs[0].KilnDate.String() != "2026-07-16" {
				t.Errorf("%+v", kilning)
			}
			for _, c := range []struct {
				station records.StationCode
				lot     records.LotCode
				lb      string
			}{{"kiln", "SM260708-BG", "0"}, {"malt-bin-1", "SM260708-BK", "0"}, {"clean-bin-1", "SM260708-BM", "0"}, {"warehouse", "SM260708-B-1", "6600"}, {"by-product", "BP260715-B", "1130"}} {
				if got, want := w.stands(c.station, c.lot), pounds(t, c.lb); got != want {
					t.Errorf("%s at %s: %d µg, not %d", c.lot, c.station, got, want)
				}
			}
		})
	}
}

// A farm picks by-product up and its driver signs with a finger; the drawing is on file and on the entry's page.
func TestBrowserGoodsPickup(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w, g := demoWorld(t)
			b := device(t, g, s, t.TempDir(), w, 0)
			b.crewAt("by-product")
			b.am("tobias", "4071")
			before := w.size()
			b.goods("pickup")
			b.chooses("Which lot?", "by-product|BP260715-B")
			b.chooses("All of it?", "all")
			b.chooses("To whom?", "hollow-ash")
			b.chooses("For what?", "feed")
			b.goesOn("Its common name, on the label that goes with it")
			b.goesOn("Which container? It must be labelled and covered.")
			b.chooses("Was the container or trailer looked at before loading, and fit?", "true")
			b.chooses("Who takes it?", "hollow-ash")
			b.skips("Number of the truck or trailer")
			b.skips("Number of the delivery paper")
			b.chooses("Who takes it over?", "")
			b.types("What is their name?", "Tam <i>Rourke</i>")
			b.asks("Tam <i>Rourke</i>: sign here with a finger")
			b.hit("#go-on")
			b.sees("Nothing is drawn yet.")
			touch := s.name == "phone"
			b.drawn("#signature", touch)
			b.sees("There is a drawing.")
			b.looked("goods-signature")
			b.hit("#clear")
			b.sees("Nothing is drawn yet.")
			b.drawn("#signature", touch)
			b.hit("#go-on")
			b.signs("530 lb of BP260715-B (Rootlets and husk) to Hollow Ash Farm, for animal feed", "Signature\ndrawn with a finger", "Received by\nTam <i>Rourke</i>")
			b.asks("Your PIN once more")
			b.looked("goods-pin")
			b.do(chromedp.NavigateBack()) // who goes back has not signed
			b.asks("Read it, then sign")
			b.hit("#finish")
			b.releases()
			got := w.arrives(b, before, 1)
			f := got[0].Fact.(*records.Handover)
			if f.Received == nil || f.Received.By != "Tam <i>Rourke</i>" || len(f.Received.Signature) != 64 || f.Received.At == 0 || !f.Last || f.Label != "Malt rootlets and husk" || f.Use != records.Feed {
				t.Fatalf("%+v", f)
			}
			data, err := w.Book.Blob(t.Context(), f.Received.Signature)
			if err != nil {
				t.Fatal(err)
			}
			if drawn, all := ink(t, data); drawn < 500 || drawn > all/4 {
				t.Errorf("%d of %d points of the drawing are ink", drawn, all)
			}
			if got := w.stands("by-product", "BP260715-B"); got != 0 {
				t.Errorf("%d µg are left", got)
			}
			if chain := audit.Chain(w.floor(), "BP260715-B"); chain[len(chain)-1].Received != "Tam <i>Rourke</i>" {
				t.Errorf("custody: %+v", chain[len(chain)-1])
			}
			b.open("/entry/" + positionText(before))
			b.reads("Signature drawn")
			b.until(`[...document.querySelectorAll('img.drawn')].some(i => i.complete && i.naturalWidth === 720)`)
			b.looked("goods-entry")
		})
	}
}

// ink counts the dark points of a PNG.
func ink(t *testing.T, data []byte) (dark, all int) {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	box := img.Bounds()
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if r, _, _, _ := img.At(x, y).RGBA(); r < 0x4000 {
				dark++
			}
			all++
		}
	}
	return dark, all
}

// A lot is stopped and then chosen for dispatch, more of it than there is: the page says so before anybody signs, asks for a word about it,
// and lets the person go on. Then a move, and dispatch with a name alone.
func TestBrowserGoodsDoubts(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w, g := demoWorld(t)
			b := device(t, g, s, t.TempDir(), w, 0)
			b.crewAt("warehouse")
			b.am("tobias", "4071")
			before := w.size()
			b.goods("hold")
			b.chooses("Where do they stand?", "warehouse")
			b.asks("Which lots are to be stopped?")
			b.looked("goods-hold")
			b.hit(`.choice:has([value="SM260706-B-1"])`)
			b.hit("#go-on")
			b.types("Why?", "Musty <smell>")
			b.signs("Stopped: SM260706-B-1")
			b.allSent()

			b.hit(`[data-form="dispatch"]`)
			b.asks("Which lot?")
			b.sees("HELD")
			b.looked("goods-dispatch")
			b.chooses("Which lot?", "warehouse|SM260706-B-1")
			b.asks("All of it?")
			b.looked("goods-all")
			b.chooses("All of it?", "part")
			b.weighs("How many bags?", "1000")
			b.chooses("To whom?", "owl-still")
			b.chooses("For what?", "sale")
			b.chooses("As what does it go out?", "organic-100")
			b.goesOn("How is it packed?")
			b.chooses("Who takes it?", "fell-runner")
			b.types("Number of the truck or trailer", "FR 9")
			b.chooses("Was the vehicle looked at and found clean?", "true")
			b.skips("What did it carry before?")
			b.types("Seal number on the papers", "SM00001")
			b.types("Number of the delivery paper", "note 7")
			b.chooses("Does somebody sign for it here and now?", "true")
			b.chooses("Who takes it over?", "")
			b.types("What is their name?", "Hesper Lind")
			b.skips("Hesper Lind: sign here with a finger")
			b.asks("Is there anything to say about this?")
			b.sees("Lot SM260706-B-1 is held: Musty <smell>")
			b.sees("55,000 lb, and by the records 7,645 lb of it stands at Warehouse")
			b.sees("is organic, and it would go out as 100 % organic")
			b.looked("goods-doubts")
			b.types("Is there anything to say about this?", "The lead said so.")
			b.asks("Read it, then sign")
			b.looked("goods-doubts-check")
			b.signs("55,000 lb of SM260706-B-1 (Pale barley malt) to Owl Still Spirits, for sale", "Look at this before you sign", "the name alone", "The lead said so.")
			b.releases()

			b.hit(`[data-form="move"]`)
			b.asks("From which station?")
			b.looked("goods-move")
			b.chooses("From which station?", "warehouse")
			b.chooses("Which lot?", "warehouse|SM260704-S-1")
			b.chooses("All of it?", "part")
			b.weighs("How much?", "1000")
			b.chooses("What was it weighed on?", "floor-scale")
			b.chooses("Where did it go?", "kiln")
			b.goesOn("What did it run through?")
			b.asks("Is there anything to say about this?")
			b.sees("Kiln holds SM260708-BG, which the plan keeps apart from this.")
			b.skips("Is there anything to say about this?")
			b.signs("1,000 lb of SM260704-S-1", "to Kiln")
			b.allSent()

			got := w.arrives(b, before, 3)
			f := got[1].Fact.(*records.Handover)
			if f.Note != "The lead said so." || f.Bags != 1000 || f.Weight.Mass.String() != "55000 lb" || f.Received.Signature != "" || f.Received.By != "Hesper Lind" || f.Vehicle.Seals[0].Papers != "SM00001" {
				t.Errorf("%+v", f)
			}
			if got := w.stands("kiln", "SM260704-S-1"); got != pounds(t, "1000") {
				t.Errorf("%d µg on the kiln", got)
			}
			found := map[string]bool{}
			for _, fd := range audit.At(w.Book.View().State, w.clock.now()).Findings {
				if fd.Subject.Lot == "SM260706-B-1" || fd.Rule == "together" {
					found[fd.Rule] = true
				}
			}
			for _, rule := range []string{"stopped-shipped", "short", "status-raised", "together"} {
				if !found[rule] {
					t.Errorf("the audit has no %s: %v", rule, found)
				}
			}
		})
	}
}

// In Spanish, for somebody who reads nothing else; and back through the questions keeps what was answered.
func TestBrowserGoodsSpanish(t *testing.T) {
	w, g := demoWorld(t)
	b := device(t, g, sizes[0], t.TempDir(), w, 0)
	b.crewAt("by-product")
	b.am("yesenia", "4071")
	before := w.size()
	b.hit("#goods")
	b.asks("¿Qué quiere anotar?")
	b.looked("goods-menu-es")
	b.hit(`[data-form="count"]`)
	b.chooses("¿Qué puesto se contó?", "by-product")
	b.chooses("¿Qué se encontró?", "goods")
	b.asks("¿Cuánto se encontró de BP260715-B?")
	b.do(chromedp.NavigateBack())
	b.asks("¿Qué se encontró?")
	b.until(`document.querySelector('.answers [data-value="goods"]').getAttribute('aria-pressed') === 'true'`)
	b.chooses("¿Qué se encontró?", "goods")
	b.weighs("¿Cuánto se encontró de BP260715-B?", "525")
	b.chooses("¿Se encontró allí otro lote?", "false")
	b.asks("Léalo y firme")
	b.looked("goods-check-es")
	b.hit("#finish")
	b.until("document.querySelector('[data-form]')")
	if got := w.arrives(b, before, 1); got[0].By != "yesenia" {
		t.Errorf("%+v", got)
	}
	if got := w.stands("by-product", "BP260715-B"); got != pounds(t, "525") {
		t.Errorf("%d µg", got)
	}
	for _, key := range []string{"g-", "undefined"} {
		if strings.Contains(b.eval("document.body.innerText"), key) {
			t.Errorf("%q is on the page", key)
		}
	}
}
