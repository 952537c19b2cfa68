package records

import (
	"strings"
	"testing"
)

const sentDraft = `{"id":"0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e","sent":"2026-03-09T07:31:00-04:00","happened":"2026-03-09T07:30:00-04:00","by":"hank","kind":"deviation","fact":{"what":"A gull."},"again":"4071"}`

func TestParseDraftWith(t *testing.T) {
	var sent Instant
	var again string
	e, err := ParseDraftWith([]byte(sentDraft), map[string]any{"sent": &sent, "again": &again}, "recorded", "device")
	if err != nil {
		t.Fatal(err)
	}
	if e.By != "hank" || e.Meaning != Performed || e.Fact.(*Deviation).What != "A gull." || sent.Sub(e.Happened).Seconds() != 60 || again != "4071" {
		t.Errorf("%+v %v %q", e, sent, again)
	}
}

func TestParseDraftWithRefuses(t *testing.T) {
	change := func(old, fresh string) string { return strings.Replace(sentDraft, old, fresh, 1) }
	for name, c := range map[string]struct{ text, want string }{
		"nothing":              {``, "the text is empty"},
		"a list":               {`[]`, "not a group"},
		"half of it":           {sentDraft[:40], "stops in the middle"},
		"no end":               {sentDraft[:len(sentDraft)-1], "stops in the middle"},
		"two of them":          {sentDraft + sentDraft, "something follows"},
		"an unknown member":    {change(`"by"`, `"colour":"red","by"`), "colour: there is no such member"},
		"one in the fact":      {change(`"what"`, `"colour":"red","what"`), "fact.colour: there is no such member"},
		"a member twice":       {change(`"by"`, `"by":"x","by"`), "by: it is there twice"},
		"a sent twice":         {change(`"by"`, `"sent":"2026-03-09T07:31:00Z","by"`), "sent: it is there twice"},
		"what the journal has": {change(`"by"`, `"recorded":"2026-03-09T07:31:00Z","by"`), "recorded: leave it out"},
		"a clock that is none": {change(`07:31:00-04:00`, `7:31`), "sent: "},
		"a secret in numbers":  {change(`"4071"`, `4071`), "again is \"4071\": it is a number and must be text"},
		"no id":                {change(`"id":"0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e",`, ``), "id: a version 7 UUID"},
		"one on the sheet":     {change(`"by"`, `"paper":{"whose":"ana","colour":1},"by"`), "paper.colour: there is no such member"},
		"another kind":         {change(`deviation`, `party`), "kind is \"party\""},
	} {
		var sent Instant
		var again string
		_, err := ParseDraftWith([]byte(c.text), map[string]any{"sent": &sent, "again": &again}, "recorded", "device")
		if err == nil || KindOf(err) != Invalid || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
