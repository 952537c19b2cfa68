package server

import (
	"encoding/json"
	"fmt"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
)

// lookAsk is what POST /api/plan/look takes.
type lookAsk struct {
	Text string `json:"text"` // of the plan, as YAML
	Days int    `json:"days"` // how many days back it is tried on, 1 to 366; 30 when left out
}

// lookJSON is what putting a plan in force would change. Nothing was written.
type lookJSON struct {
	Changes []changeJSON    `json:"changes"`
	Notes   []string        `json:"notes"` // what may not be meant
	From    string          `json:"from"`  // the day since when it is tried on the records; empty when no plan is in force
	Come    []ruleCountJSON `json:"come"`  // findings that would appear, by rule
	Gone    []ruleCountJSON `json:"gone"`  // findings that would go
	Same    int             `json:"same"`  // findings that would be the same
}

// changeJSON is one difference between the plan in force and the other.
type changeJSON struct {
	Path     string `json:"path"`
	Before   string `json:"before"`
	After    string `json:"after"`
	Sentence string `json:"sentence"`
}

// ruleCountJSON is how many findings of a rule there are, and one of them in words.
type ruleCountJSON struct {
	Rule     string `json:"rule"`
	Severity string `json:"severity"`
	Count    int    `json:"count"`
	Such     string `json:"such"`
}

// apiLookAtPlan shows what a plan would change, before POST /api/entries puts it in force.
func (s *Server) apiLookAtPlan(r *request) (reply, error) {
	if err := wellFormed(r.body); err != nil {
		return reply{}, err
	}
	var ask lookAsk
	if err := json.Unmarshal(r.body, &ask); err != nil {
		return reply{}, &records.Error{Kind: records.Invalid, What: `this takes {"text": text, "days": number}`, Err: err}
	}
	if ask.Days < 0 || ask.Days > triedMost {
		return reply{}, &records.Error{Kind: records.Invalid, What: "that many days can not be tried", Fields: []records.FieldError{{Field: "days", Value: fmt.Sprint(ask.Days), Want: fmt.Sprintf("1 to %d", triedMost)}}}
	}
	next, err := plan.Parse([]byte(ask.Text))
	if err != nil {
		return reply{}, err
	}
	out := lookJSON{}
	for _, ch := range plan.Diff(r.plan, next) {
		out.Changes = append(out.Changes, changeJSON(ch))
	}
	for _, n := range next.Notes() {
		out.Notes = append(out.Notes, fmt.Sprint(n))
	}
	if r.plan != nil {
		from, what := r.tried(ask.Text, ask.Days)
		out.From, out.Same = r.plan.Day(from).String(), what.Same
		out.Come, out.Gone = r.countByRule(what.Come), r.countByRule(what.Gone)
	}
	return reply{json: out}, nil
}

// tried judges the last days (triedDays when 0) as if a plan's text had been in force.
func (r *request) tried(text string, days int) (from records.Instant, what audit.WhatIf) {
	if days == 0 {
		days = triedDays
	}
	from = r.plan.At(r.plan.Day(r.now).AddDays(-days), plan.DayTime{})
	what = audit.UnderPlan(r.view.State, text, r.who.Code, from, r.now)
	return what.From, what
}

// countByRule counts findings by rule, with the first of each.
func (r *request) countByRule(fs []*audit.Finding) (out []ruleCountJSON) {
	at := map[string]int{}
	for _, f := range fs {
		n, known := at[f.Rule]
		if !known {
			n = len(out)
			at[f.Rule] = n
			out = append(out, ruleCountJSON{Rule: f.Rule, Severity: f.Severity.String(), Such: f.Sentence(r.lang)})
		}
		out[n].Count++
	}
	return out
}
