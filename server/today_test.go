package server

import (
	"fmt"
	"strings"
	"testing"

	"grainward/records"
)

// On a day on which more is signed than anybody reads, the page shows the newest and says so: it does not grow with the day.
func TestADayWithMoreDoneThanIsShown(t *testing.T) {
	w := plant(t)
	sign := func(n int) (first, last records.Position) {
		first = w.size()
		for range n {
			w.writeAt(w.clock.now(), "hank", &records.Signoff{Task: "everything", Station: "bench", Outcome: records.Passed})
		}
		return first, w.size() - 1
	}
	first, _ := sign(doneMost)
	page := func(who role) string {
		t.Helper()
		a := w.ask(who, "/station/bench", nil)
		w.wants(a, 200)
		return a.body
	}
	entry := func(at records.Position) string { return fmt.Sprintf(`href="/entry/%d"`, at) }
	if text := page(crew); strings.Contains(text, "The last ") || !strings.Contains(text, entry(first)) || strings.Count(text, `href="/entry/`) != doneMost {
		t.Errorf("all of %d are shown and %d are seen", doneMost, strings.Count(text, `href="/entry/`))
	}
	_, last := sign(30)
	said := fmt.Sprintf("The last %d of %d.", doneMost, doneMost+30)
	text := page(crew)
	if n := strings.Count(text, `href="/entry/`); n != doneMost || !strings.Contains(text, entry(last)) || strings.Contains(text, entry(first)) {
		t.Errorf("%d rows, the newest among them: %v, the oldest: %v", n, strings.Contains(text, entry(last)), strings.Contains(text, entry(first)))
	}
	if !strings.Contains(text, said+" The others are among the records.") || !strings.Contains(text, `<a href="/records">Records</a></p>`) {
		t.Errorf("it does not say that there are more")
	}
	if text := page(visitor); !strings.Contains(text, said) || strings.Contains(text, `<a href="/records">Records</a></p>`) {
		t.Errorf("a visitor is told that there are more, and is not led where they may not go")
	}
}
