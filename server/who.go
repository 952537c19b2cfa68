package server

import (
	"net/url"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/pages"
)

// identify finds out who is asking, by the token and by the plan as it is now: somebody who has left since they signed in is
// nobody.
func (s *Server) identify(r *request) error {
	r.view = s.Book.View()
	r.plan = r.view.State.PlanAt(r.now)
	r.lang = r.choose()
	if r.plan == nil || r.token == "" {
		return nil
	}
	look := s.Auth.Who
	if r.quiet {
		look = s.Auth.Look
	}
	code, runs, err := look(r.ctx, r.token)
	if err != nil {
		return err
	}
	who := r.atWork(code)
	switch {
	case who == nil:
	case runs:
		r.be(who)
	default:
		r.ended = code
		r.lang = languageOf(r.plan, who)
	}
	return nil
}

func (r *request) be(who *plan.Person) {
	r.who, r.role, r.lang = who, roleOf(who.Role), languageOf(r.plan, who)
}

// atWork is the person of a code if they are at the plant today, or nil.
func (r *request) atWork(code records.PersonCode) *plan.Person {
	if r.plan == nil || code == "" {
		return nil
	}
	who := r.plan.Person(code)
	if who == nil || !who.AtWork(r.plan.Day(r.now)) {
		return nil
	}
	return who
}

func languageOf(p *plan.Plan, who *plan.Person) string {
	for _, l := range append(slices.Clone(who.Languages), p.Plant.Languages...) {
		if slices.Contains(pages.Languages(), l) {
			return l
		}
	}
	return "en"
}

// choose is the language while nobody has said who they are: the one asked for, the browser's, the plant's.
func (r *request) choose() string {
	if l := r.query.Get("lang"); slices.Contains(pages.Languages(), l) {
		return l
	}
	for part := range strings.SplitSeq(r.language, ",") {
		l, _, _ := strings.Cut(strings.TrimSpace(part), ";")
		l, _, _ = strings.Cut(l, "-")
		if slices.Contains(pages.Languages(), l) {
			return l
		}
	}
	if r.plan != nil && len(r.plan.Plant.Languages) > 0 {
		return r.plan.Plant.Languages[0]
	}
	return "en"
}

// allow answers if whoever asks may; else it asks who they are, or says that their role does not reach.
func (s *Server) allow(rt *route, r *request) (reply, error) {
	switch {
	case r.role >= rt.Least:
		return rt.Handle(s, r)
	case r.who != nil:
		return reply{}, tooLow{r.role, rt.Least}
	case rt.JSON:
		return reply{}, errSignInFirst
	case r.method == "GET":
		to := url.URL{Path: r.path, RawQuery: r.query.Encode()}
		back := url.Values{"next": {to.String()}}
		if r.ended != "" {
			return redirect("/sign-in/" + url.PathEscape(string(r.ended)) + "?" + back.Encode())
		}
		return redirect("/?" + back.Encode())
	case rt.Holds:
		return s.hold(rt, r)
	}
	return reply{}, errSignInFirst
}

// people lets somebody choose who they are.
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
	for _, who := range r.present() {
		href := url.URL{Path: "/sign-in/" + string(who.Code)}
		if p.Next != "" {
			href.RawQuery = url.Values{"next": {p.Next}}.Encode()
		}
		p.People = append(p.People, pages.Somebody{Href: href.String(), Name: who.Name, Initials: who.Initials, Role: who.Role, HasPIN: have[who.Code]})
	}
	return page(p)
}

// present are the people at the plant today, in the plan's order.
func (r *request) present() (all []*plan.Person) {
	for i := range r.plan.People {
		if who := r.atWork(r.plan.People[i].Code); who != nil {
			all = append(all, who)
		}
	}
	return all
}

// next is where somebody was going: only ever a page of ours.
func (r *request) next() string {
	next := r.query.Get("next")
	if next == "" {
		next = r.form.Get("next")
	}
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || u.User != nil || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return ""
	}
	if rt, _ := find("GET", u.Path); rt == nil || rt.JSON || rt.Least == nobody {
		return ""
	}
	return u.String()
}

// find is the row of the table that answers a path, with the values in the path.
func find(method, path string) (*route, map[string]string) {
	have := strings.Split(path, "/")
	for _, rt := range routes() {
		want := strings.Split(rt.Path, "/")
		if rt.Method != method || len(want) != len(have) {
			continue
		}
		params := map[string]string{}
		if fits(want, have, params) {
			return &rt, params
		}
	}
	return nil, nil
}

func fits(want, have []string, params map[string]string) bool {
	for i, w := range want {
		if name, is := strings.CutPrefix(w, ":"); is && have[i] != "" {
			params[name] = have[i]
		} else if w != have[i] {
			return false
		}
	}
	return true
}

func (s *Server) askPIN(r *request) (reply, error) {
	who := r.atWork(records.PersonCode(r.params["person"]))
	if who == nil {
		return reply{}, notFound()
	}
	if r.who == who {
		return redirect("/today")
	}
	p, err := s.pinPage(r, who)
	p.Next = r.next()
	return reply{page: p}, err
}

func (s *Server) pinPage(r *request, who *plan.Person) (*pages.PIN, error) {
	if r.query.Get("lang") == "" {
		r.lang = languageOf(r.plan, who)
	}
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return nil, err
	}
	return &pages.PIN{Frame: s.frame(r, who.Name, ""), Code: string(who.Code), Who: who.Name, HasPIN: have[who.Code]}, nil
}

func (s *Server) signIn(r *request) (reply, error) {
	who := r.atWork(records.PersonCode(r.form.Get("person")))
	if who == nil {
		return reply{}, notFound()
	}
	a, err := s.Auth.Check(r.ctx, who.Code, r.form.Get("pin"))
	if err != nil {
		return reply{}, err
	}
	if a.Outcome != auth.Right {
		s.Log.Warn("sign-in refused", "request", r.id, "outcome", int(a.Outcome))
		return s.pinAgain(r, who, a)
	}
	if r.token != "" {
		if err := s.Auth.SignOut(r.ctx, r.token); err != nil {
			return reply{}, err
		}
	}
	token, err := s.Auth.SignIn(r.ctx, who.Code)
	if err != nil {
		return reply{}, err
	}
	s.Log.Info("signed in", "request", r.id)
	r.be(who)
	out, err := s.goOn(r)
	if err != nil {
		rt, _ := find("POST", r.path)
		if rt == nil {
			rt = &route{}
		}
		out = s.problem(rt, r, err)
	}
	out.token = &token
	return out, nil
}

func (s *Server) pinAgain(r *request, who *plan.Person, a auth.Answer) (reply, error) {
	p, err := s.pinPage(r, who)
	if err != nil {
		return reply{}, err
	}
	p.Next, p.Held = r.next(), heldFields(r.form)
	p.HeldPath = r.form.Get("held")
	status := 422
	if a.Outcome == auth.Wait || a.Outcome == auth.Locked {
		status = 429
	}
	if a.Outcome != auth.NoPIN { // the page says that itself
		p.Message = r.refusedPIN(a)
	}
	return reply{status: status, page: p}, nil
}

func (r *request) toSecond(at records.Instant) string {
	return at.Time().In(r.plan.Location()).Format("15:04:05")
}

func (s *Server) signOut(r *request) (reply, error) {
	if err := s.Auth.SignOut(r.ctx, r.token); err != nil {
		return reply{}, err
	}
	gone := ""
	return reply{redirect: "/", token: &gone}, nil
}
