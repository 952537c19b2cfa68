package server

import (
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/pages"
)

// staff is everybody of the plan in force: first who is at work, then who has left.
func (s *Server) staff(r *request) (reply, error) {
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return reply{}, err
	}
	p := &pages.Staff{Frame: s.frame(r, r.say("staff"), "people"), Add: "/new-person"}
	for i := range r.plan.People {
		who := &r.plan.People[i]
		row := r.staffRow(who, have[who.Code])
		if r.atWork(who.Code) == nil {
			row.PIN, row.Password, row.Left = false, false, true // they count no longer
			p.Gone = append(p.Gone, row)
		} else {
			p.Rows = append(p.Rows, row)
		}
	}
	return page(p)
}

func (r *request) staffRow(who *plan.Person, has auth.Secrets) pages.StaffRow {
	row := pages.StaffRow{Href: "/people/" + string(who.Code), Name: who.Name, Code: string(who.Code), Role: who.Role, PIN: has.PIN != 0, Password: has.Password != 0}
	for _, l := range who.Languages {
		if name, ok := languageNames[l]; ok {
			l = name
		}
		row.Languages = strings.TrimPrefix(row.Languages+", "+l, ", ")
	}
	if row.Languages == "" {
		row.Languages = languageNames[languageOf(r.plan, who)]
	}
	if n := len(who.Trained); n > 0 {
		row.Trained = r.say("trained-n", n)
	}
	if has.Until != 0 {
		row.Until = r.clock(has.Until)
	}
	if who.Until != nil {
		row.Last = who.Until.String()
	}
	return row
}

// languageNames are those that pages speak, in themselves.
var languageNames = map[string]string{"en": "English", "es": "español"}

// theMember is the person in the address, as long as they are at work.
func (r *request) theMember() (*plan.Person, error) {
	if who := r.atWork(records.PersonCode(r.params["person"])); who != nil {
		return who, nil
	}
	return nil, notFound()
}

func (s *Server) member(r *request) (reply, error) {
	who, err := r.theMember()
	if err != nil {
		return reply{}, err
	}
	p, err := s.memberPage(r, who)
	if err == nil && slices.Contains([]string{"unlocked", "signins-ended"}, r.query.Get("done")) {
		p.Notice = r.say(r.query.Get("done"))
	}
	return reply{page: p}, err
}

func (s *Server) memberPage(r *request, who *plan.Person) (*pages.Member, error) {
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return nil, err
	}
	p := &pages.Member{Frame: s.frame(r, who.Name, "people"), Row: r.staffRow(who, have[who.Code]), Own: who == r.who, IsLead: roleOf(who.Role) == lead, Signable: true, Retire: "/people/" + string(who.Code) + "/leave"}
	for _, t := range who.Trained {
		p.Training = append(p.Training, pages.Row{Name: taskTitle(r.plan, t.Task, r.lang), Value: t.On.String()})
	}
	return p, nil
}

// changeMember does one of what a lead can do about somebody's secrets. What was typed is never sent out again.
func (s *Server) changeMember(r *request) (reply, error) {
	who, err := r.theMember()
	if err != nil {
		return reply{}, err
	}
	done := func(what string, err error) (reply, error) {
		s.Log.Info(what, "request", r.id)
		return reply{redirect: "/people/" + string(who.Code) + "?done=" + what}, err
	}
	do := r.form.Get("do")
	switch do {
	case "unlock":
		return done("unlocked", s.Auth.Unlock(r.ctx, who.Code))
	case "end":
		return done("signins-ended", s.Auth.EndSignIns(r.ctx, who.Code))
	case "make", "pin", "password":
	default:
		return reply{}, notFound()
	}
	return s.setSecret(r, who, do)
}

func (s *Server) setSecret(r *request, who *plan.Person, do string) (reply, error) {
	field := do
	if do == "make" {
		field = "pin"
	}
	text := r.form.Get(field)
	var ms []pages.Message
	if do != "make" && text != r.form.Get("twice") {
		ms = []pages.Message{{Field: field, Text: r.say("secret-differs")}}
	}
	var err error
	if len(ms) == 0 {
		if ms, err = s.confirm(r); err != nil {
			return reply{}, err
		}
	}
	if do == "make" && len(ms) == 0 {
		if text, err = auth.NewPIN(); err != nil {
			return reply{}, err
		}
	}
	if len(ms) == 0 {
		if do == "password" {
			err = s.Auth.SetPassword(r.ctx, who.Code, r.who.Code, text, who.Name, r.plan.Plant.Name)
		} else {
			err = s.Auth.SetPIN(r.ctx, who.Code, r.who.Code, text)
		}
		if err != nil && records.KindOf(err) != records.Invalid {
			return reply{}, err
		}
		if err != nil {
			ms = []pages.Message{{Field: field, Text: r.say(weakSecret[field])}}
		}
	}
	p, err := s.memberPage(r, who)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		p.Messages = ms
		return again(p)
	}
	out := reply{page: p}
	if who == r.who { // it ended every sign-in of theirs; this browser has just given the secret
		token, err := s.enterAs(r, who, r.by)
		if err != nil {
			return reply{}, err
		}
		out.token = &token
	}
	s.Log.Info("secret set", "request", r.id, "kind", field)
	if p.Notice = r.say(secretSet[field], who.Name); do == "make" {
		p.NewPIN = text
	}
	return out, nil
}
