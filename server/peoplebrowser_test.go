package server

import (
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"grainward/records"
)

// fresh makes the browser one that is no enrolled device and nobody's.
func (b *browser) fresh() {
	b.Helper()
	b.open("/")
	b.carry(deviceCookie, "none")
	b.carry(cookieName, "none")
}

func (b *browser) typed(sel, text string) {
	b.Helper()
	b.do(chromedp.SendKeys(chromedp.CSS(sel), text))
}

// anew is press for a page whose words were there before: it waits for another page.
func (b *browser) anew(sel, then string) {
	b.Helper()
	b.eval(`document.querySelector('footer').remove()`) // reads waits for one
	b.press(sel, then)
}

// A lead on a browser of their own makes a code; a phone is enrolled with it; a PIN is given wrong until it waits; the lead lets it go on.
func TestBrowserEnrolAndLock(t *testing.T) {
	w := plant(t)
	base := w.serve()
	desk := newBrowser(t, base, sizes[1])
	desk.fresh()
	desk.open("/")
	desk.reads("PINs are not taken here")
	desk.axe("stranger")
	desk.shoot("stranger")
	desk.typed("#person", "nora")
	desk.typed("#secret", "quite another thing")
	desk.press("button.main", "there is nobody of that name")
	desk.axe("stranger refused")
	desk.typed("#secret", thePassword)
	desk.press("button.main", "Today’s work")
	desk.open("/devices")
	desk.typed("#name", `Kiln <b>tablet</b>`)
	desk.press("button.main", "Code for Kiln <b>tablet</b>")
	code := desk.eval(`document.querySelector('.secret-once').innerText`)

	phone := newBrowser(t, base, sizes[0])
	phone.fresh()
	phone.open("/enrol?code=" + code)
	phone.reads("Make this one of the plant’s devices")
	phone.press("button.main", "Who are you?")
	phone.press(`a[href="/sign-in/hank"]`, "Hank Osgood")
	for n := range 4 {
		phone.typed("#secret", "0001")
		want := "That is not the PIN."
		if n == 3 {
			want = "The next try is taken at"
		}
		phone.anew("button.main", want)
	}
	phone.typed("#secret", "4071")
	phone.press("button.main", "Too many wrong tries")
	phone.axe("waiting")
	phone.shoot("waiting")
	for n := 5; n <= 10; n++ { // each a moment after the wait has run out
		w.clock.add(15*time.Second<<(n-5) + time.Second)
		phone.typed("#secret", "0001")
		phone.anew("button.main", "The next try is taken at")
	}
	phone.typed("#secret", "4071")
	phone.press("button.main", "Ten wrong tries: locked until")
	phone.axe("locked")
	phone.shoot("locked")
	desk.open("/people/hank")
	desk.reads("locked until")
	desk.press(`form:has(input[value="unlock"]) button`, "Tries are taken again.")
	phone.typed("#secret", "4071")
	phone.press("button.main", "Today’s work")
}

// A lead who signed in with a PIN goes on to a lead's page by giving the password; adds a person, lets one go, adopts a plan.
func TestBrowserPlanAndPeople(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			b := newBrowser(t, w.serve(), s)
			b.open("/sign-in/nora")
			b.typed("#secret", "4071")
			b.press("button.main", "Today’s work")
			b.open("/people")
			b.reads("You signed in with your PIN")
			b.axe("step up")
			b.shoot("step-up")
			b.typed("#secret", thePassword)
			b.press("button.main", "Add a person")
			b.press(`a[href="/new-person"]`, "Add a person to the plan")
			b.axe("new person")
			b.shoot("new-person")
			b.typed("#name", "Zoë Quill")
			b.typed("#initials", "ZQ")
			b.typed("#code", "zoe")
			b.press("button.main", "Zoë Quill comes")
			b.axe("look at a person")
			b.shoot("plan-look-person")
			b.typed("#again", thePassword)
			b.anew("button.main", "The plan in force")
			b.open("/people/zoe/leave")
			b.axe("leave")
			b.shoot("leave")
			b.press("button.main", "Adopt this plan")
			b.typed("#again", thePassword)
			b.anew("button.main", "The plan in force")
			b.axe("plan")
			b.shoot("plan")
			p := w.Book.View().State.PlanAt(w.clock.now())
			if who := p.Person("zoe"); who == nil || who.Until == nil || !strings.Contains(w.last().Fact.(*records.Adoption).Text, "# ") {
				t.Fatal("she did not come and go, or the remarks are gone")
			}
			b.open("/plan/new")
			b.eval(`(() => { const t = document.querySelector('#text'); t.value = t.value.replace('role: visitor', 'role: king'); return '' })()`)
			b.press("button.main", "This text is no plan yet")
			b.axe("plan with a fault")
			b.shoot("plan-new-fault")
			b.eval(`(() => { const t = document.querySelector('#text'); t.value = t.value.replace('role: king', 'role: visitor').replace('Weekly walk round', 'Walk <b>round</b>')
				.replace(/opens: "?06:00"?/, 'opens: "05:00"'); return '' })()`)
			b.press("button.main", "What changes")
			b.axe("look at a plan")
			b.shoot("plan-look")
			if b.eval("document.documentElement.scrollWidth > window.innerWidth") == "true" {
				t.Error("wider than the window")
			}
			before := w.size()
			b.typed("#again", thePassword)
			b.anew("button.main", "The plan in force")
			if w.size() != before+1 {
				t.Error(w.size())
			}
		})
	}
}
