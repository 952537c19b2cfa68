package audit_test

import (
	"fmt"
	"strings"
	"testing"

	"grainward/audit"
	"grainward/records"
	"grainward/records/state"
)

// agentPlan is the plan of the stories with a cleaning agent of each sort.
var agentPlan = strings.Replace(strings.ReplaceAll(goodsPlan, "store], grade: ", "store], agents: [lye, quat, water], grade: "), "tasks:\n", `agents:
  - {code: lye, title: Lye, organic: "no"}
  - {code: quat, title: Quat, organic: conditions, check: rinse test}
  - {code: water, title: Water, organic: "yes"}
tasks:
`, 1)

// Check value C27 (listed or rinsed: from memory and second-hand): an agent that is not allowed where organic goods are, and
// goods that come before it was removed.
func TestAgentNotAllowed(t *testing.T) {
	type clean struct {
		at      int
		agent   records.AgentCode
		outcome records.Outcome
	}
	for name, c := range map[string]struct {
		cleans  []clean
		lot     records.LotCode
		station records.StationCode
		want    string
	}{
		"allowed":                             {[]clean{{1, "water", records.Passed}}, "A", "floor", ""},
		"not allowed, organic next":           {[]clean{{1, "lye", records.Passed}}, "A", "floor", "agent-not-allowed:lye A"},
		"not allowed, conventional next":      {[]clean{{1, "lye", records.Passed}}, "C", "floor", ""},
		"not allowed, in bags":                {[]clean{{1, "lye", records.Passed}}, "A", "pallets", ""},
		"not allowed, then washed with water": {[]clean{{1, "lye", records.Passed}, {3, "water", records.Passed}}, "A", "floor", ""},
		"not allowed, then only swept":        {[]clean{{1, "lye", records.Passed}, {3, "", records.Passed}}, "A", "floor", "agent-not-allowed:lye A"},
		"not allowed, then failed":            {[]clean{{1, "lye", records.Passed}, {3, "water", records.Failed}}, "A", "floor", "agent-not-allowed:lye A"},
		"not allowed, twice":                  {[]clean{{1, "lye", records.Passed}, {3, "lye", records.Passed}}, "A", "floor", "agent-not-allowed:lye A|agent-not-allowed:lye A"},
		"under conditions, check passed":      {[]clean{{1, "quat", records.Passed}}, "A", "floor", ""},
		"under conditions, check failed":      {[]clean{{1, "quat", records.Failed}}, "A", "floor", "agent-not-allowed:quat A"},
		"under conditions, failed, washed":    {[]clean{{1, "quat", records.Failed}, {3, "water", records.Passed}}, "A", "floor", ""},
	} {
		t.Run(name, func(t *testing.T) {
			s := &goodsStory{}
			s.add(-60, adoptionOf(agentPlan))
			for _, x := range c.cleans {
				if x.agent == "" {
					s.clean(x.at, 0, "sweep", "floor")
					continue
				}
				s.add(x.at, &records.Signoff{Task: "wash", Station: "floor", Outcome: x.outcome, Started: minute(x.at), Agents: []records.AgentUse{{Agent: x.agent}}})
			}
			s.receipt(5, c.lot, c.station)
			if odd := s.state().Oddities(); odd != nil {
				t.Fatal(odd)
			}
			var got []string
			for _, f := range audit.At(s.state(), minute(60)).Findings {
				if f.Rule == "agent-not-allowed" {
					got = append(got, fmt.Sprintf("%s:%s %s", f.Rule, f.Subject.Agent, f.Subject.Lot))
				}
			}
			if fmt.Sprint(strings.Join(got, "|")) != c.want {
				t.Errorf("found %q, want %q", strings.Join(got, "|"), c.want)
			}
		})
	}
}

// Work done as needed that did not pass is told, and weighs less once it was repeated and passed.
func TestNeededFailed(t *testing.T) {
	story := func(outcomes ...records.Outcome) *state.State {
		s := newStory()
		for i, o := range outcomes {
			s.add(i+1, &records.Signoff{Task: "wash", Station: "floor", Outcome: o})
		}
		return s.state()
	}
	for want, st := range map[string]*state.State{
		"[]":            story(records.Passed),
		"[major]":       story(records.Passed, records.Failed),
		"[note]":        story(records.Failed, records.Passed),
		"[major major]": story(records.Failed, records.Failed),
	} {
		got := []audit.Severity{}
		for _, f := range audit.At(st, minute(60)).Findings {
			if f.Rule == "needed-failed" {
				got = append(got, f.Severity)
			}
		}
		if fmt.Sprint(got) != want {
			t.Errorf("found %v, want %s", got, want)
		}
	}
}
