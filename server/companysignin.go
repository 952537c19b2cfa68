package server

import (
	"encoding/json"
	"net/http"
	"strings"

	"grainward/records"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/pages"
)

// A sign-in at the company's page is one of the plant that was named: its password, its slow-down and lock, its idle and absolute ends; a
// new password ends it. The cookie of the company's host is the plant's code and that token.
const betweenToken = "." // in no code and in no token

func cutToken(cookie string) (company.PlantCode, string, bool) {
	code, token, ok := strings.Cut(cookie, betweenToken)
	return company.PlantCode(code), token, ok
}

// companyStart asks who somebody is.
func (s *Server) companyStart(r *request) (reply, error) {
	if r.who != nil {
		return redirect("/plants")
	}
	return page(s.companyForm(r))
}

func (s *Server) companyForm(r *request) *pages.Company {
	p := &pages.Company{Frame: s.frame(r, s.Company.File.Name, ""), Firm: s.Company.File.Name, Typed: r.form.Get("person"), Next: s.companyNext(r), Ended: r.lapsed}
	chosen := r.form.Get("plant")
	for _, x := range s.Company.File.Plants {
		title := string(x.Code)
		at, _ := s.Company.at(x.Code)
		if at != nil {
			if in := at.Book.View().State.PlanAt(r.now); in != nil {
				title = in.Plant.Name
			}
		} else {
			title = r.say("plant-shut", title)
		}
		p.Plants = append(p.Plants, pages.Option{Value: string(x.Code), Title: title, Chosen: string(x.Code) == chosen})
		p.Doors = append(p.Doors, pages.Link{Href: s.plantAddress(&x), Title: title})
	}
	return p
}

// companyNext is where somebody was going: only ever a page of this host.
func (s *Server) companyNext(r *request) string {
	next := r.wanted()
	if rt := findIn(s.table, "GET", pathOf(next)); rt == nil || rt.JSON || rt.Least == nobody {
		return ""
	}
	return next
}

// companyTry compares a password with that of a lead of a plant. leads is false for somebody who is none.
func (s *Server) companyTry(r *request, plantCode, person, secret string) (home *Server, who *plan.Person, a auth.Answer, leads bool, err error) {
	home, _ = s.Company.at(company.PlantCode(plantCode))
	if home == nil {
		return nil, nil, a, false, errNoCompanyPlant
	}
	r.plan = home.Book.View().State.PlanAt(r.now)
	if r.plan == nil {
		return home, nil, auth.Answer{Outcome: auth.Wrong}, false, nil
	}
	r.device = "" // no device is known on this host
	who, a, err = home.try(r, person, secret)
	return home, who, a, err == nil && a.Outcome == auth.Right && a.By == auth.Password && roleOf(who.Role) >= lead, err
}

// companyEnter signs somebody in whose password was right.
func (s *Server) companyEnter(r *request, home *Server, code string, who *plan.Person) (cookie string, err error) {
	if err := s.companyLeave(r); err != nil {
		return "", err
	}
	token, in, err := home.Auth.SignIn(r.ctx, who.Code, auth.Password, "")
	if err != nil {
		return "", err
	}
	s.Log.Info("signed in", "request", r.id)
	r.be(who, in)
	r.home = company.PlantCode(code)
	return code + betweenToken + token, nil
}

func (s *Server) companyLeave(r *request) error {
	code, token, ok := cutToken(r.token)
	if home, _ := s.Company.at(code); ok && home != nil {
		return home.Auth.SignOut(r.ctx, token)
	}
	return nil
}

func (s *Server) companySignIn(r *request) (reply, error) {
	code := r.form.Get("plant")
	home, who, a, leads, err := s.companyTry(r, code, r.form.Get("person"), r.form.Get("secret"))
	switch {
	case home == nil:
		return s.companyAgain(r, http.StatusUnprocessableEntity, r.say("company-which"))
	case err != nil:
		return reply{}, err
	case a.Outcome == auth.Wait || a.Outcome == auth.Locked:
		return s.companyAgain(r, http.StatusTooManyRequests, r.refusedSecret(a, "password"))
	case a.Outcome != auth.Right:
		return s.companyAgain(r, http.StatusUnprocessableEntity, r.refusedSecret(a, "password"))
	case !leads:
		return s.companyAgain(r, http.StatusForbidden, r.say("company-leads-only"))
	}
	next := s.companyNext(r)
	cookie, err := s.companyEnter(r, home, code, who)
	if err != nil {
		return reply{}, err
	}
	if next == "" {
		next = "/plants"
	}
	return reply{redirect: next, token: &cookie}, nil
}

// companyAgain is the form that comes back; the password is never sent out again.
func (s *Server) companyAgain(r *request, status int, message string) (reply, error) {
	r.plan = nil
	p := s.companyForm(r)
	p.Message = message
	return reply{status: status, page: p}, nil
}

func (s *Server) companySignOut(r *request) (reply, error) {
	gone := ""
	return reply{redirect: "/", token: &gone}, s.companyLeave(r)
}

// companySecretJSON is what POST /api/sign-in takes on the company's host.
type companySecretJSON struct {
	Plant  string `json:"plant"`
	Person string `json:"person"` // a code of that plant's plan, or a name
	Secret string `json:"secret"` // a lead's password there
}

func (s *Server) apiCompanySignIn(r *request) (reply, error) {
	if err := wellFormed(r.body); err != nil {
		return reply{}, err
	}
	var in companySecretJSON
	if err := json.Unmarshal(r.body, &in); err != nil {
		return reply{}, &records.Error{Kind: records.Invalid, What: `this takes {"plant": text, "person": text, "secret": text}`, Err: err}
	}
	home, who, a, leads, err := s.companyTry(r, in.Plant, in.Person, in.Secret)
	switch {
	case err != nil:
		return reply{}, err
	case a.Outcome != auth.Right:
		return reply{}, signInRefused{a}
	case !leads:
		return reply{}, tooLow{roleOf(who.Role), lead}
	}
	cookie, err := s.companyEnter(r, home, in.Plant, who)
	if err != nil {
		return reply{}, err
	}
	return reply{token: &cookie, json: signedInJSON{who.Code, who.Name, r.role.String(), r.lang, r.ends, ""}}, nil
}

func (s *Server) apiCompanySignOut(r *request) (reply, error) {
	gone := ""
	return reply{status: http.StatusNoContent, token: &gone}, s.companyLeave(r)
}
