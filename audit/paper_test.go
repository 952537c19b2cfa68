package audit_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/audit"
	"grainward/audit/audittest"
	"grainward/records"
	"grainward/records/state"
)

const paperPlan = `grainward: 1
plant: {name: Testhof Malt, address: 1 Test Lane, zone: America/New_York, since: 2026-03-03}
profile: {lateEntry: 24h, reviewWorkingDays: 7}
stations:
  - {code: floor, title: Floor, kind: germination floor, holds: separate}
tasks:
  - {code: scrub, title: Scrub, family: floor, stations: [floor], trained: true, second: true}
people:
  - {code: ana, name: Ana Test, initials: AT, role: lead}
  - {code: ben, name: Ben Test, initials: BT, role: crew, trained: [{task: scrub, on: 2026-01-02}]}
  - {code: cleo, name: Cleo Test, initials: CT, role: crew}
`

// Who signed the sheet of paper did the work: their training, their second person, their own review. Who typed it in did not.
// An entry typed in days later is late, whoever typed it. Values: the meaning of the rules; no source.
func TestPaperIsWhoseItIs(t *testing.T) {
	scrub := func(second records.PersonCode) *records.Signoff {
		return &records.Signoff{Task: "scrub", Station: "floor", Outcome: records.Passed, Second: second}
	}
	review := &records.Review{From: 0, To: 1}
	for name, c := range map[string]struct {
		by, whose records.PersonCode
		fact      *records.Signoff
		reviewer  records.PersonCode
		onPaper   records.PersonCode // whose signature the review is, when it came from paper
		days      int                // until it was typed in
		want      []string
	}{
		"trained, typed in by somebody who is not":      {by: "cleo", whose: "ben", fact: scrub("ana")},
		"not trained, typed in by somebody who is":      {by: "ben", whose: "cleo", fact: scrub("ana"), want: []string{"signer-untrained"}},
		"the second person typed it in":                 {by: "ana", whose: "ben", fact: scrub("ana")},
		"the second person is who did it":               {by: "ana", whose: "ben", fact: scrub("ben"), want: []string{"second-missing"}},
		"typed in three days after":                     {by: "cleo", whose: "ben", fact: scrub("ana"), days: 3, want: []string{"late-entry"}},
		"reviewed by the lead who typed it in":          {by: "ana", whose: "ben", fact: scrub("ana"), reviewer: "ana"},
		"reviewed by the lead who did it":               {by: "ben", whose: "ana", fact: scrub("ben"), reviewer: "ana", want: []string{"review-own", "signer-untrained"}},
		"a lead's review typed in by one of the crew":   {by: "cleo", whose: "ben", fact: scrub("ana"), reviewer: "cleo", onPaper: "ana", want: []string{"lead-only"}},
		"one of the crew's review typed in by a lead":   {by: "cleo", whose: "ben", fact: scrub("ana"), reviewer: "ana", onPaper: "ben", want: []string{"lead-only"}},
		"not from paper: who signs is who did the work": {by: "cleo", fact: scrub("ana"), want: []string{"signer-untrained"}},
	} {
		t.Run(name, func(t *testing.T) {
			s := &goodsStory{}
			s.add(-60, adoptionOf(paperPlan))
			s.add(0, c.fact)
			e := &s.entries[1]
			e.By = c.by
			e.Recorded = e.Recorded.Add(time.Duration(c.days) * 24 * time.Hour)
			if c.whose != "" {
				e.Paper = &records.Paper{Whose: c.whose}
			}
			if c.reviewer != "" {
				s.add(30, review)
				r := &s.entries[2]
				r.By = c.reviewer
				if c.onPaper != "" {
					r.Paper = &records.Paper{Whose: c.onPaper}
				}
			}
			at := minute(5 * 24 * 60)
			st := state.New()
			for i, e := range s.entries {
				st.Apply(records.Position(i), e)
			}
			var got []string
			for _, f := range audit.At(st, at).Findings {
				got = append(got, f.Rule)
			}
			slices.Sort(got)
			if !slices.Equal(got, c.want) {
				t.Errorf("%v, not %v", got, c.want)
			}
			var oracle []string
			for _, f := range audittest.Findings(s.entries, at) {
				rule, _, _ := strings.Cut(f.ID, ":")
				oracle = append(oracle, rule)
			}
			slices.Sort(oracle)
			if !slices.Equal(oracle, c.want) {
				t.Errorf("the slow audit says %v, not %v", oracle, c.want)
			}
		})
	}
}

// A correction of who did it changes the name on the paper, and leaves who typed it in.
func TestPaperCorrected(t *testing.T) {
	s := &goodsStory{}
	s.add(-60, adoptionOf(paperPlan))
	s.add(0, &records.Signoff{Task: "scrub", Station: "floor", Outcome: records.Passed})
	s.entries[1].By, s.entries[1].Paper = "cleo", &records.Paper{Whose: "ana"}
	s.add(10, &records.Correct{Target: s.entries[1].ID, Reason: "misread the initials", With: &records.Replacement{Kind: records.KindSignoff, By: "ben", Fact: s.entries[1].Fact}})
	st := s.state()
	if now := st.Now(1); now.By != "cleo" || now.Performer() != "ben" {
		t.Error(now.By, now.Performer())
	}
	if first := st.First(1); first.Performer() != "ana" {
		t.Error("the entry first written changed")
	}
}
