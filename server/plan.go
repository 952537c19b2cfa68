package server

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"unicode/utf8"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/server/pages"
)

const (
	adoptionsShown = 50
	changesShown   = 100
	triedDays      = 30 // a plan is tried on, unless another number is asked for
	triedMost      = 366
)

// planPage is the plan in force, with those before it.
func (s *Server) planPage(r *request) (reply, error) {
	p := &pages.Plan{Frame: s.frame(r, r.say("the-plan"), "plan")}
	all := r.view.State.Plans()
	for i := len(all) - 1; i >= 0; i-- {
		in := all[i]
		fact := in.Record.Fact.(*records.Adoption)
		if in.From <= r.now && p.Text == "" {
			p.Text = fact.Text
			p.Rows = []pages.Row{{Name: r.say("plan-since"), Value: r.moment(in.From)}, {Name: r.say("plan-by"), Value: personName(r.plan, in.Record.By), Href: entryHref(in.Record.Position)},
				{Name: r.say("plan-has"), Value: r.say("plan-counts", len(in.Plan.Tasks), len(in.Plan.Stations), len(in.Plan.People))}, {Name: r.say("row-plan-hash"), Value: fact.SHA256}}
		}
		if len(p.Earlier) < adoptionsShown {
			p.Earlier = append(p.Earlier, pages.Adopted{Href: entryHref(in.Record.Position), Position: positionText(in.Record.Position), Who: personName(r.plan, in.Record.By), When: r.moment(in.From), Note: fact.Note})
		}
	}
	return page(p)
}

// planText is the text of the plan in force; empty when none is.
func (r *request) planText() (text string) {
	for _, in := range r.view.State.Plans() {
		if in.From <= r.now {
			text = in.Record.Fact.(*records.Adoption).Text
		}
	}
	return text
}

func (s *Server) planForm(r *request) (reply, error) {
	return page(&pages.PlanNew{Frame: s.frame(r, r.say("plan-new"), "plan"), Text: r.planText(), Days: strconv.Itoa(triedDays)})
}

// lookAtPlan shows what putting a text in force would change; faults of the text come back all at once, with their lines.
func (s *Server) lookAtPlan(r *request) (reply, error) {
	text := strings.ReplaceAll(r.form.Get("text"), "\r\n", "\n") // as browsers send what was typed
	if file := r.files["file"]; len(file) > 0 {
		text = string(file)
	}
	if _, err := plan.Parse([]byte(text)); err != nil {
		return again(&pages.PlanNew{Frame: s.frame(r, r.say("plan-new"), "plan"), Text: strings.ToValidUTF8(text, "?"), Days: r.form.Get("days"), Faults: planFaults(text, err)})
	}
	return page(s.lookPage(r, text, r.say("plan-new"), nil))
}

// planFaults are the faults of a text, each with its line as it was written.
func planFaults(text string, err error) (fs []pages.PlanFault) {
	var own *records.Error
	if !errors.As(err, &own) || len(own.Fields) == 0 {
		return []pages.PlanFault{{Text: err.Error()}}
	}
	lines := strings.Split(text, "\n")
	for _, f := range own.Fields {
		fault := pages.PlanFault{}
		if f.Line > 0 {
			fault.Line = strconv.Itoa(f.Line)
			if f.Line <= len(lines) {
				fault.Quote = strings.ToValidUTF8(strings.TrimRight(lines[f.Line-1], "\r"), "?")
			}
		}
		f.Line = 0
		said, quote, quoted := strings.Cut(f.String(), "\n") // most come with their line and a mark below it
		if fault.Text = said; quoted {
			fault.Quote = quote
		}
		fs = append(fs, fault)
	}
	return fs
}

// lookPage is what putting a text, which is a plan, in force would change.
func (s *Server) lookPage(r *request, text, heading string, ms []pages.Message) *pages.PlanLook {
	next, err := plan.Parse([]byte(text))
	if err != nil {
		next = &plan.Plan{}
	}
	p := &pages.PlanLook{Frame: s.frame(r, heading, "plan"), Heading: heading, Draft: draftOf(r.form).String(), As: string(r.who.Code), Text: text, Note: r.form.Get("note"), Messages: ms, First: r.plan == nil}
	days, err := strconv.Atoi(r.form.Get("days"))
	if err != nil || days < 1 || days > triedMost {
		days = triedDays
	}
	p.Days = strconv.Itoa(days)
	for i, ch := range plan.Diff(r.plan, next) {
		if i >= changesShown {
			p.More++
			continue
		}
		p.Changes = append(p.Changes, ch.Sentence+".")
	}
	for _, n := range next.Notes() {
		p.Notes = append(p.Notes, fmt.Sprint(n))
	}
	if len(p.Changes) > 0 {
		from, what := r.tried(text, days)
		p.From, p.Same = r.day(from.Time().In(r.plan.Location())), what.Same
		p.Come, p.Gone = r.byRule(what.Come), r.byRule(what.Gone)
	}
	return p
}

// byRule counts findings by rule, with the first of each.
func (r *request) byRule(fs []*audit.Finding) (out []pages.RuleCount) {
	for _, c := range r.countByRule(fs) {
		out = append(out, pages.RuleCount{Severity: c.Severity, N: c.Count, Such: c.Such})
	}
	return out
}

// adoptPlan puts a plan in force from now on.
func (s *Server) adoptPlan(r *request) (reply, error) {
	text := strings.ReplaceAll(r.form.Get("text"), "\r\n", "\n")
	if _, err := plan.Parse([]byte(text)); err != nil {
		return again(&pages.PlanNew{Frame: s.frame(r, r.say("plan-new"), "plan"), Text: strings.ToValidUTF8(text, "?"), Days: r.form.Get("days"), Faults: planFaults(text, err)})
	}
	sum := sha256.Sum256([]byte(text))
	fact := &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:]), Note: strings.TrimSpace(r.form.Get("note"))}
	e := records.Entry{ID: draftOf(r.form), Happened: r.now, By: r.who.Code, Meaning: records.Approved, Kind: records.KindPlan, Fact: fact}
	if _, sent, err := s.written(e, false); sent {
		return reply{redirect: "/plan"}, err
	}
	var ms []pages.Message
	var err error
	switch as := records.PersonCode(r.form.Get("as")); {
	case as != r.who.Code:
		ms = []pages.Message{{Text: r.say("not-you", personName(r.plan, as), r.who.Name)}}
	case utf8.RuneCountInString(fact.Note) > textMost:
		ms = []pages.Message{{Field: "note", Text: r.say("too-long", textMost)}}
	default:
		if ms, err = s.confirm(r); err != nil {
			return reply{}, err
		}
	}
	if len(ms) == 0 {
		if _, ms, err = s.put(r, e, false); err != nil {
			return reply{}, err
		}
	}
	if len(ms) > 0 {
		return again(s.lookPage(r, text, r.say("plan-new"), ms))
	}
	return redirect("/plan")
}

func draftFor(v url.Values) url.Values {
	v.Set("id", records.NewEntryID().String())
	return v
}
