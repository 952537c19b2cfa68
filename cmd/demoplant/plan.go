package demoplant

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

//go:embed plan.yaml
var baseText string

// edit changes one passage of the plan's text, wherever it stands; a passage that is not there is a mistake in this file.
type edit struct{ old, new string }

func amend(text string, edits ...edit) string {
	for _, e := range edits {
		if !strings.Contains(text, e.old) {
			panic(fmt.Sprintf("demoplant: plan.yaml has no passage %q", e.old))
		}
		text = strings.ReplaceAll(text, e.old, e.new)
	}
	return text
}

// moved sets the plan's own dates.
func moved(since, last calendar.Date) []edit {
	return []edit{
		{"since: 2025-01-20", "since: " + since.String()},
		{"dates: [2025-05-26, 2025-07-04]", "dates: [" + strings.Join(holidays(since, last), ", ") + "]"},
		{"on: 2024-12-09", "on: " + since.AddDays(-42).String()},
		{"\n# Never take a person out", customerRows() + "\n# Never take a person out"},
	}
}

// holidays are the days on which the dry side rests, of every year the story touches and the one after.
func holidays(since, last calendar.Date) (days []string) {
	first, _, _ := since.Civil()
	final, _, _ := last.Civil()
	for y := first; y <= final+1; y++ {
		for _, d := range []calendar.Date{
			day(y, time.January, 1), onOrAfter(day(y, time.May, 25), time.Monday), day(y, time.July, 4),
			onOrAfter(day(y, time.September, 1), time.Monday), onOrAfter(day(y, time.November, 22), time.Thursday), day(y, time.December, 25),
		} {
			days = append(days, d.String())
		}
	}
	return days
}

func day(y int, m time.Month, d int) calendar.Date {
	date, err := calendar.NewDate(y, m, d)
	if err != nil {
		panic(err) // the callers above write days that every year has
	}
	return date
}

func onOrAfter(d calendar.Date, w time.Weekday) calendar.Date {
	for d.Weekday() != w {
		d++
	}
	return d
}

// tightened is what the lead changed after the first half year: a midday reading of the beds, traps twice a week, and
// the papers of the ozone generator wanted on file (which nobody has filed to this day).
var tightened = []edit{
	{"    asks:\n      - {code: top,",
		"      - {rule: FREQ=DAILY, opens: \"11:00\", due: \"13:00\", lapses: \"15:00\"}\n    asks:\n      - {code: top,"},
	{"      - {rule: FREQ=WEEKLY;BYDAY=TU, opens: \"05:00\", due: \"21:00\", lapses: \"12:00 +2\"}\n    asks:\n      - {code: rodents,",
		"      - {rule: \"FREQ=WEEKLY;BYDAY=TU,FR\", opens: \"05:00\", due: \"21:00\", lapses: \"12:00 +2\"}\n    asks:\n      - {code: rodents,"},
	{"\ntasks:\n", "  - {code: generator-papers, title: Papers of the ozone generator, of: agent, about: ozone-water}\n\ntasks:\n"},
}

// joined adds the new man to the list of people, which ends the text.
func joined(text string, from calendar.Date) string {
	return text + fmt.Sprintf("  - code: %s\n    name: Anselm Okoye\n    initials: AO\n    role: crew\n    languages: [en]\n    from: %s\n", newcomer, from)
}

// left gives the last day of the man who leaves.
func left(last calendar.Date) edit {
	return edit{"    initials: CB\n", "    initials: CB\n    until: " + last.String() + "\n"}
}

// version is the plan as adopted at an instant.
type version struct {
	from records.Instant
	text string
	note string
	plan *plan.Plan
}

// adopt reads a text and puts it in force.
func (s *sim) adopt(text, note string, from func(*plan.Plan) records.Instant) error {
	p, err := plan.Parse([]byte(text))
	if err != nil {
		return fmt.Errorf("the demo plant's plan (%s): %w", note, err)
	}
	v := version{from: from(p), text: text, note: note, plan: p}
	s.versions = append(s.versions, v)
	sum := sha256.Sum256([]byte(text))
	s.add(v.from, lead, records.Approved, &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:]), Note: note}).prompt()
	return nil
}

// planAt is the plan that was up on the wall at an instant.
func (s *sim) planAt(at records.Instant) *plan.Plan {
	p := s.versions[0].plan
	for _, v := range s.versions {
		if v.from <= at {
			p = v.plan
		}
	}
	return p
}
