package server

import (
	"net/url"
	"strings"

	"grainward/records"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/pages"
)

// people lets somebody choose who they are. Their names are shown on enrolled devices only; elsewhere a code or name is typed,
// together with a password.
func (s *Server) people(r *request) (reply, error) {
	if r.who != nil {
		return redirect("/today")
	}
	p := &pages.People{Frame: s.frame(r, r.say("who-are-you"), ""), NoPlan: r.plan == nil, FirstPIN: s.FirstPIN, Next: r.next()}
	if s.Network != nil && s.Network.Shown().Authority != nil {
		p.Install = "/install"
	}
	if r.plan == nil {
		return page(p)
	}
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return reply{}, err
	}
	p.NoPINs = len(have) == 0
	if r.device == "" && !p.NoPINs {
		return page(s.secretPage(r, nil, auth.Secrets{}))
	}
	for _, who := range r.present() {
		if r.device == "" {
			break
		}
		href := url.URL{Path: "/sign-in/" + string(who.Code)}
		if p.Next != "" {
			href.RawQuery = url.Values{"next": {p.Next}}.Encode()
		}
		p.People = append(p.People, pages.Somebody{Href: href.String(), Name: who.Name, Initials: who.Initials, Role: who.Role, HasPIN: have[who.Code].Any()})
	}
	return page(p)
}

func (s *Server) askSecret(r *request) (reply, error) {
	who := r.atWork(records.PersonCode(r.params["person"]))
	switch {
	case who != nil && r.who == who:
		if rt, _ := find("GET", pathOf(r.next())); rt == nil || r.role >= rt.Least || !r.couldBe(rt.Least) {
			return redirect(orToday(r.next()))
		}
	case r.device == "" && (who == nil || r.ended != who.Code): // nobody is named to a stranger
		r.path = "/"
		return s.people(r)
	case who == nil:
		return reply{}, notFound()
	}
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return reply{}, err
	}
	p := s.secretPage(r, who, have[who.Code])
	p.Ended = r.ended == who.Code
	return page(p)
}

func pathOf(address string) string {
	path, _, _ := strings.Cut(address, "?")
	return path
}

func orToday(address string) string {
	if address == "" {
		return "/today"
	}
	return address
}

// secretPage asks for the PIN or the password of somebody; for a code or name too when who is nil.
func (s *Server) secretPage(r *request, who *plan.Person, has auth.Secrets) *pages.Secret {
	p := &pages.Secret{Next: r.next(), Enrolled: r.device != "", Typed: r.form.Get("person")}
	switch {
	case who == nil:
		p.Kind, p.Has = "password", true
		p.Frame = s.frame(r, r.say("sign-in"), "")
		return p
	case r.who == who && r.couldBe(lead):
		p.Kind, p.Has, p.StepUp = "password", has.Password != 0, true
	case r.device == "":
		p.Kind, p.Has = "password", true
	case has.Password != 0 && has.PIN != 0:
		p.Kind, p.Has = "either", true
	case has.Password != 0:
		p.Kind, p.Has = "password", true
	default:
		p.Kind, p.Has = "pin", has.PIN != 0
	}
	if r.query.Get("lang") == "" {
		r.lang = languageOf(r.plan, who)
	}
	p.Code, p.Who = string(who.Code), who.Name
	p.Frame = s.frame(r, who.Name, "")
	return p
}

// somebody is whose code or name was typed; nil when nobody's.
func (r *request) somebody(text string) *plan.Person {
	text = strings.TrimSpace(text)
	if who := r.atWork(records.PersonCode(strings.ToLower(text))); who != nil || r.plan == nil || text == "" {
		return who
	}
	var found *plan.Person
	for _, who := range r.present() {
		if strings.EqualFold(who.Name, text) {
			if found != nil {
				return nil // two of one name: the code tells them apart
			}
			found = who
		}
	}
	return found
}

// outcomeWords are what came of a secret, for those who count.
var outcomeWords = [...]string{auth.Right: "right", auth.Wrong: "wrong", auth.Wait: "wait", auth.Locked: "locked", auth.NoPIN: "none-set"}

// compared counts a secret that was given, and logs one that was not taken.
func (s *Server) compared(r *request, a auth.Answer) {
	s.Watch.Secret(outcomeWords[a.Outcome])
	if a.Outcome != auth.Right {
		s.Log.Warn("secret refused", "request", r.id, "outcome", outcomeWords[a.Outcome])
	}
}

// try compares a secret of whoever's code or name was given. who is nil when there is nobody; the answer is then that of a wrong one.
func (s *Server) try(r *request, person, secret string) (who *plan.Person, a auth.Answer, err error) {
	who = r.somebody(person)
	t := auth.Try{Person: records.PersonCode(person), Secret: secret, Device: r.device, Address: r.address}
	if who != nil {
		t.Person = who.Code
	}
	if a, err = s.Auth.Check(r.ctx, t); err != nil {
		return nil, a, err
	}
	if who == nil && a.Outcome == auth.Right { // of somebody who has left
		a = auth.Answer{Outcome: auth.Wrong}
	}
	s.compared(r, a)
	return who, a, nil
}

// enterAs makes the request that of somebody whose secret was right, and gives the token for their browser.
func (s *Server) enterAs(r *request, who *plan.Person, by auth.Kind) (token string, err error) {
	if r.token != "" {
		if err := s.Auth.SignOut(r.ctx, r.token); err != nil {
			return "", err
		}
	}
	token, in, err := s.Auth.SignIn(r.ctx, who.Code, by, r.device)
	if err != nil {
		return "", err
	}
	s.Log.Info("signed in", "request", r.id)
	r.be(who, in)
	return token, nil
}

func (s *Server) signIn(r *request) (reply, error) {
	before := r.who
	who, a, err := s.try(r, r.form.Get("person"), r.form.Get("secret"))
	switch {
	case err != nil:
		return reply{}, err
	case who == nil && r.device != "":
		return reply{}, notFound()
	case a.Outcome != auth.Right:
		return s.secretAgain(r, who, a, "")
	case before == who && a.By == auth.PIN:
		return s.secretAgain(r, who, a, r.say("step-up-pin"))
	}
	token, err := s.enterAs(r, who, a.By)
	if err != nil {
		return reply{}, err
	}
	out, err := s.goOn(r)
	if err != nil {
		rt, _ := find("POST", r.path)
		if rt == nil {
			rt = &route{}
		}
		out = s.problem(rt, r, err)
	}
	out.token = &token
	if r.device != "" {
		out.key = &r.key // for another year
	}
	return out, nil
}

// secretAgain is the form that comes back. What was held is held on; the secret is never sent out again.
func (s *Server) secretAgain(r *request, who *plan.Person, a auth.Answer, message string) (reply, error) {
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return reply{}, err
	}
	shown := who
	if r.device == "" && (who == nil || r.who != who && r.ended != who.Code) { // a stranger is shown what they typed, and no name
		shown = nil
	}
	var has auth.Secrets
	if shown != nil {
		has = have[shown.Code]
	}
	p := s.secretPage(r, shown, has)
	p.Held, p.HeldPath, p.Message = heldFields(r.form), r.form.Get("held"), message
	status := 422
	if a.Outcome == auth.Wait || a.Outcome == auth.Locked {
		status = 429
	}
	if message == "" && a.Outcome != auth.NoPIN { // the page says that itself
		p.Message = r.refusedSecret(a, p.Kind)
	}
	return reply{status: status, page: p}, nil
}

func (r *request) toSecond(at records.Instant) string {
	if r.plan == nil {
		return at.String()
	}
	return at.Time().In(r.plan.Location()).Format("15:04:05")
}

func (s *Server) signOut(r *request) (reply, error) {
	if err := s.Auth.SignOut(r.ctx, r.token); err != nil {
		return reply{}, err
	}
	gone := ""
	return reply{redirect: "/", token: &gone}, nil
}
