package server

import (
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/pages"
)

// Who works here is the plan's to say: adding a person and letting one go change its text, which is then looked at and adopted
// like any other.

func (s *Server) newPersonForm(r *request) (reply, error) {
	r.form.Set("from", r.plan.Day(r.now).String())
	r.form.Set("role", "crew")
	return page(s.newPersonPage(r, nil, nil))
}

func (s *Server) newPersonPage(r *request, ms []pages.Message, faults []pages.PlanFault) *pages.NewPerson {
	v := r.form
	p := &pages.NewPerson{Frame: s.frame(r, r.say("person-add"), "people"), Messages: ms, Faults: faults, Code: v.Get("code"), Typed: v.Get("name"), Initials: v.Get("initials"), On: v.Get("from")}
	for _, role := range []string{"crew", "lead", "visitor"} {
		p.Roles = append(p.Roles, pages.Option{Value: role, Title: r.say("role-" + role), Chosen: role == v.Get("role")})
	}
	for _, l := range [][2]string{{"en", "English"}, {"es", "español"}, {"en,es", "English, español"}, {"es,en", "español, English"}} {
		p.Languages = append(p.Languages, pages.Option{Value: l[0], Title: l[1], Chosen: l[0] == v.Get("languages")})
	}
	return p
}

func (s *Server) newPerson(r *request) (reply, error) {
	who := plan.Person{Code: records.PersonCode(strings.TrimSpace(r.form.Get("code"))), Name: strings.TrimSpace(r.form.Get("name")), Initials: strings.TrimSpace(r.form.Get("initials")), Role: r.form.Get("role")}
	from, err := calendar.ParseDate(r.form.Get("from"))
	if err != nil || who.Name == "" || who.Initials == "" || records.CheckCode(string(who.Code)) != nil || who.Code == "" || roleWord(who.Role) {
		return again(s.newPersonPage(r, []pages.Message{{Field: "name", Text: r.say("person-fill")}}, nil))
	}
	who.From = &from
	for l := range strings.SplitSeq(r.form.Get("languages"), ",") {
		if _, known := languageNames[l]; known {
			who.Languages = append(who.Languages, l)
		}
	}
	text, err := plan.WithPerson([]byte(r.planText()), who)
	if err != nil {
		return again(s.newPersonPage(r, nil, planFaults(r.planText(), err)))
	}
	draftFor(r.form)
	return page(s.lookPage(r, string(text), r.say("person-added", who.Name), nil))
}

func roleWord(word string) bool { return word != "crew" && word != "lead" && word != "visitor" }

func (s *Server) leaveForm(r *request) (reply, error) {
	who, err := r.theMember()
	if err != nil {
		return reply{}, err
	}
	return page(s.leavePage(r, who, r.plan.Day(r.now).String(), nil))
}

func (s *Server) leavePage(r *request, who *plan.Person, last string, ms []pages.Message) *pages.Leave {
	return &pages.Leave{Frame: s.frame(r, r.say("leave-heading", who.Name), "people"), To: r.path, Who: who.Name, Last: last, Messages: ms}
}

func (s *Server) leave(r *request) (reply, error) {
	who, err := r.theMember()
	if err != nil {
		return reply{}, err
	}
	last, err := calendar.ParseDate(r.form.Get("last"))
	if err != nil {
		return again(s.leavePage(r, who, "", []pages.Message{{Field: "last", Text: r.say("day-unreadable")}}))
	}
	text, err := plan.WithLeaver([]byte(r.planText()), who.Code, last)
	if err != nil {
		ms := []pages.Message{}
		for _, f := range planFaults(r.planText(), err) {
			ms = append(ms, pages.Message{Field: "last", Text: f.Text})
		}
		return again(s.leavePage(r, who, r.form.Get("last"), ms))
	}
	draftFor(r.form)
	return page(s.lookPage(r, string(text), r.say("leave-heading", who.Name), nil))
}
