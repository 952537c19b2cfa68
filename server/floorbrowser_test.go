package server

import (
	"testing"
)

// Every page of the floor at both sizes, light and dark, in both languages: axe finds nothing, nothing is wider than the window, what is
// pressed is large enough; pictures on request.
func TestBrowserFloorPages(t *testing.T) {
	w := floorGoods(t)
	w.ask(lead, "/drills", drillForm("of", "lot", "what", "M-1", "why", "a stone", "lead", "nora", "level", "A")("nora"))
	base := w.serve()
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			b := newBrowser(t, base, s)
			b.signIn("nora", "Nora Feldt")
			for _, x := range []struct{ name, path, then string }{
				{"stations", "/stations?day=2026-03-05", "Silo 1"}, {"place", "/stations/conveyor?day=2026-03-05", "There now"}, {"place-mixed", "/stations/silo-1?stretch=day&day=2026-03-03", "Lots since"},
				{"lots", "/lots", "Find a lot"}, {"lots-none", "/lots?q=none", "No lot is as you asked."}, {"lot", "/lots/M-1", "Where it is now"}, {"lot-held", "/lots/R-3", "Held"},
				{"balance", "/balance?from=2026-03-01&to=2026-03-09&all=yes", "Inventory"}, {"drills", "/drills", "Going on"}, {"drill", "/drills/drill-2026-03-09", "Still to reach"},
			} {
				b.open(x.path)
				b.reads(x.then)
				b.eval(`document.querySelectorAll('details').forEach(d => d.open = true)`)
				b.axe(x.name)
				if bad := b.eval(gloveCheck); bad != "" {
					t.Errorf("%s:\n%s", x.name, bad)
				}
				b.shoot("floor-" + x.name)
			}
			b.dark()
			for _, path := range []string{"/stations/conveyor?day=2026-03-05", "/lots/M-1", "/drills/drill-2026-03-09", "/week?day=2026-03-05"} {
				b.open(path)
				b.reads("")
				b.axe("dark " + path)
			}
		})
	}
}
