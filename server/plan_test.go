package server

import (
	"encoding/json"
	"net/url"
	"strings"
	"testing"
	"time"

	"grainward/records"
)

// form fills in what every form of the lead has.
func leadForm(pairs ...string) url.Values {
	v := url.Values{"id": {records.NewEntryID().String()}, "as": {"nora"}}
	for i := 0; i < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return v
}

func TestPlanIsAdopted(t *testing.T) {
	w := plant(t)
	// faults come all at once, with their lines
	bad := strings.Replace(strings.Replace(thePlan(), "family: monitoring", "family: no-such", 1), "role: visitor", "role: king", 1)
	got := w.ask(lead, "/plan/new", leadForm("text", bad))
	w.wants(got, 422, "This text is no plan yet", "family: no-such", "role: king", "Line ")
	if strings.Count(got.body, `class="quote"`) != 2 {
		t.Error("not one quoted line a fault")
	}
	for _, junk := range []string{"", "\x00", "<script>alert(1)</script>", strings.Repeat("a: [", 500), "people: 1"} {
		got := w.ask(lead, "/plan/new", leadForm("text", junk))
		w.wants(got, 422, "This text is no plan yet")
		if strings.Contains(got.body, "<script>alert") {
			t.Error("markup comes back")
		}
	}
	// a task that nobody did is taken out: its findings would go
	text := strings.Replace(thePlan(), "Everything a task can ask", "All of it", 1)
	before := w.size()
	w.wants(w.ask(lead, "/plan/new", leadForm("text", strings.ReplaceAll(text, "\n", "\r\n"), "days", "7")), 200, "What changes", "All of it", "Nothing past changes", "findings would be the same")
	w.wants(w.ask(lead, "/plan", leadForm("text", text, "note", "shorter")), 422, "Give your password or PIN once more", "shorter", "What changes")
	w.wants(w.ask(lead, "/plan", leadForm("text", text, "again", "4072")), 422, "neither the PIN nor the password")
	if w.size() != before {
		t.Fatal("it was adopted without the secret")
	}
	v := leadForm("text", text, "note", "shorter", "again", thePassword)
	w.wants(w.ask(lead, "/plan", v), 303)
	w.wants(w.ask(lead, "/plan", v), 303) // a second tap
	if w.size() != before+1 || w.last().Fact.(*records.Adoption).Text != text || w.last().Device != w.tab {
		t.Fatal(w.size(), w.last().Device)
	}
	w.wants(w.ask(lead, "/plan", nil), 200, "shorter", "Nora Feldt", "All of it")
	w.wants(w.ask(crew, everything, nil), 200, "All of it")
}

func TestPeopleComeAndGo(t *testing.T) {
	w := plant(t)
	got := w.ask(lead, "/new-person", leadForm("name", `Zoë "Zo" <b>Quill</b>`, "initials", "ZQ", "code", "zoe", "role", "crew", "languages", "es,en", "from", "2026-03-09"))
	w.wants(got, 200, "Adopt this plan", "Zoë")
	if strings.Contains(got.body, "<b>Quill") {
		t.Error("a name is markup")
	}
	text := textarea(got.body)
	if !strings.Contains(text, "# ") || !strings.Contains(text, "code: zoe") {
		t.Fatal("the remarks are gone, or the person is not there")
	}
	w.wants(w.ask(lead, "/plan", leadForm("text", text, "again", thePassword)), 303)
	w.clock.add(time.Second)
	w.wants(w.ask(lead, "/people", nil), 200, "cannot sign in yet", "Zo")
	w.wants(w.ask(lead, "/people/zoe", leadForm("do", "pin", "pin", "5192", "twice", "5192", "again", thePassword)), 200, "is set")
	w.wants(w.ask(nobody, "/sign-in", url.Values{"person": {"zoe"}, "secret": {"5192"}}), 303)
	w.wants(w.ask(lead, "/new-person", leadForm("name", "Twice", "initials", "T", "code", "zoe", "role", "crew", "from", "2026-03-09")), 422, "This text is no plan yet")
	w.wants(w.ask(lead, "/new-person", leadForm("name", "x")), 422, "Fill in name")
	// and goes
	w.wants(w.ask(lead, "/people/zoe/leave", leadForm("last", "soon")), 422, "Choose a day.")
	got = w.ask(lead, "/people/zoe/leave", leadForm("last", "2026-03-09"))
	w.wants(got, 200, "Adopt this plan")
	w.wants(w.ask(lead, "/plan", leadForm("text", textarea(got.body), "again", thePassword)), 303)
	w.clock.add(26 * time.Hour)
	token := w.signedIn("zoe")
	w.wants(w.asToken(token, "/today", nil), 303)
	w.token[lead] = w.signedIn("nora")
	w.wants(w.ask(lead, "/people", nil), 200, "Have left", "last day 2026-03-09")
}

// textarea is the text that the page carries along.
func textarea(body string) string {
	_, rest, _ := strings.Cut(body, `<textarea name="text" hidden>`)
	text, _, _ := strings.Cut(rest, "</textarea>")
	return strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&lt;", "<", "&gt;", ">", "&amp;", "&", "&#43;", "+").Replace(text)
}

func asBody(v any) []byte {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err) // a value of this test's own
	}
	return b
}
