package server

import (
	"grainward/records"
	"grainward/server/pages"
)

func (s *Server) pinsForm(r *request) (reply, error) {
	p, err := s.pinsPage(r, nil, "")
	return reply{page: p}, err
}

func (s *Server) pinsPage(r *request, ms []pages.Message, chosen string) (*pages.PINs, error) {
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return nil, err
	}
	p := &pages.PINs{Frame: s.frame(r, r.say("pins"), "pins"), Messages: ms}
	if who := r.atWork(records.PersonCode(r.query.Get("set"))); who != nil {
		p.Notice = r.say("pin-for", who.Name)
	}
	for _, who := range r.present() {
		p.People = append(p.People, pages.PINRow{Name: who.Name, Role: who.Role, HasPIN: have[who.Code]})
		p.Options = append(p.Options, pages.Option{Value: string(who.Code), Title: who.Name, Chosen: string(who.Code) == chosen})
	}
	return p, nil
}

// setPIN gives a person a PIN. The form comes back without what was typed: a PIN is never sent out again.
func (s *Server) setPIN(r *request) (reply, error) {
	var ms []pages.Message
	who := r.atWork(records.PersonCode(r.form.Get("person")))
	pin := r.form.Get("pin")
	switch {
	case who == nil:
		ms = append(ms, pages.Message{Field: "person", Text: r.say("choose-who")})
	case pin != r.form.Get("again"):
		ms = append(ms, pages.Message{Field: "again", Text: r.say("pin-differs")})
	default:
		err := s.Auth.SetPIN(r.ctx, who.Code, r.who.Code, pin)
		if err == nil {
			s.Log.Info("pin set", "request", r.id)
			return redirect("/pins?set=" + string(who.Code))
		}
		if records.KindOf(err) != records.Invalid {
			return reply{}, err
		}
		ms = append(ms, pages.Message{Field: "pin", Text: r.say("pin-weak")})
	}
	p, err := s.pinsPage(r, ms, r.form.Get("person"))
	return reply{status: 422, page: p}, err
}
