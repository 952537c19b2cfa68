package server

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"grainward/records"
)

// A lead signs in at the company's page in a real browser, at both sizes: the plants, a trace through them, and a page that refreshes
// itself when a plant has grown.
func TestBrowserCompany(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			c := newFirm(t)
			c.page.Company.File.People[0].At = append(c.page.Company.File.People[0].At, c.page.Company.File.People[0].At[0])
			c.page.Company.File.People[0].At[2].Plant = "store" // so that one that can not be opened is there too
			b := newBrowser(t, "http://"+theFirm+":"+c.port, s)
			shot := func(name string) {
				b.axe(name)
				if *pictures == "" {
					return
				}
				png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(*pictures, "company-"+name+"-"+s.name+".png"), png, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			b.open("/")
			b.reads("Sign in with your password")
			shot("start")
			b.do(chromedp.SetValue(chromedp.CSS("#plant"), "malthouse"), chromedp.SendKeys(chromedp.CSS("#person"), "nora"), chromedp.SendKeys(chromedp.CSS("#secret"), "not her password"))
			b.press("button.main", "That is not right")
			if b.eval(`document.querySelector('#person').value + document.querySelector('#secret').value + document.querySelector('#plant').value`) != "noramalthouse" {
				t.Error("what was typed is gone, or the password came back")
			}
			b.do(chromedp.SendKeys(chromedp.CSS("#secret"), thePassword))
			b.press("button.main", "Tree head")
			b.reads("Can not be opened")
			shot("plants")
			c.mill.write(records.Entry{By: "ben", Fact: &records.Deviation{What: "A belt slipped.", Station: "mill"}})
			b.reads("4 entries")
			b.press(`nav a[href="/trace"]`, "Lot or bag")
			shot("trace-empty")
			if cut := b.eval(`[...document.querySelectorAll('form.filter option')].filter(o => {
				const s = o.parentElement, c = getComputedStyle(s), m = document.createElement('span')
				m.style.font = c.font
				m.style.whiteSpace = 'pre'
				m.style.position = 'absolute'
				m.textContent = o.text
				document.body.append(m)
				const need = m.getBoundingClientRect().width + parseFloat(c.paddingLeft) + parseFloat(c.paddingRight) + 20
				m.remove()
				return o.text.length > 0 && need > s.getBoundingClientRect().width
			}).map(o => o.text).join('; ')`); cut != "" {
				t.Errorf("cut off in the form: %s", cut)
			}
			b.do(chromedp.SendKeys(chromedp.CSS("#subject"), "B-1"))
			b.press("form.filter button", "FLOUR-7")
			shot("trace")
			b.open("/trace?plant=mill&subject=NEVER")
			b.reads("Nothing at this plant")
			shot("trace-none")
			if wide := b.eval(`document.documentElement.scrollWidth > window.innerWidth`); wide != "false" {
				t.Error("the page is wider than the window")
			}
			b.press(`.out button`, "Sign in with your password")
		})
	}
}
