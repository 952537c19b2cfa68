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
	if s.Company != nil {
		return s.identifyAtCompany(r)
	}
	if err := s.identifySignedIn(r); err != nil {
		return err
	}
	return s.byLink(r)
}

func (s *Server) identifySignedIn(r *request) error {
	r.view = s.Book.View()
	r.plan = r.view.State.PlanAt(r.now)
	r.lang = r.choose()
	if r.key != "" {
		d, err := s.Auth.Device(r.ctx, r.key)
		if err != nil {
			return err
		}
		r.device = d.Code
	}
	if r.plan == nil || r.token == "" {
		return nil
	}
	look := s.Auth.Who
	if r.quiet {
		look = s.Auth.Look
	}
	in, err := look(r.ctx, r.token, r.device)
	if err != nil {
		return err
	}
	who := r.atWork(in.Person)
	switch {
	case who == nil:
	case in.Runs:
		r.be(who, in)
	default:
		r.ended = in.Person
		r.lang = languageOf(r.plan, who)
	}
	return nil
}

// be makes the request somebody's. A lead who gave a PIN has the crew's role: four digits are not enough for what a lead may do.
func (r *request) be(who *plan.Person, in auth.SignedIn) {
	r.who, r.role, r.lang, r.by, r.ends = who, roleOf(who.Role), languageOf(r.plan, who), in.By, in.Ends
	if in.By != auth.Password {
		r.role = min(r.role, crew)
	}
}

// couldBe says whether whoever is signed in by PIN would have a role if they gave their password.
func (r *request) couldBe(need role) bool {
	return r.who != nil && r.by != auth.Password && roleOf(r.who.Role) >= need
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
	for _, all := range [][]string{who.Languages, p.Plant.Languages} {
		for _, l := range all {
			if slices.Contains(pages.Languages(), l) {
				return l
			}
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

// allow answers if whoever asks may; else it asks who they are, or for a lead's password, or says that their role does not reach.
func (s *Server) allow(rt *route, r *request) (reply, error) {
	stepUp := r.couldBe(rt.Least)
	switch {
	case r.role >= rt.Least && (r.link == nil || rt.Least == nobody):
		return rt.Handle(s, r)
	case r.link != nil && rt.Link:
		if err := s.Auth.LogAccess(r.ctx, r.link.ID, r.path); err != nil {
			return reply{}, err
		}
		return rt.Handle(s, r)
	case r.link != nil:
		return reply{}, errNotByLink
	case r.closed:
		return reply{}, errLinkClosed
	case r.who != nil && !stepUp:
		return reply{}, tooLow{r.role, rt.Least}
	case rt.JSON && stepUp:
		return reply{}, errPasswordFirst
	case rt.JSON:
		return reply{}, errSignInFirst
	case r.method == "GET":
		to := url.URL{Path: r.path, RawQuery: r.query.Encode()}
		back := url.Values{"next": {to.String()}}
		switch {
		case stepUp:
			return redirect(signInHref(r.who.Code) + "?" + back.Encode())
		case r.ended != "":
			return redirect(signInHref(r.ended) + "?" + back.Encode())
		}
		return redirect("/?" + back.Encode())
	case rt.Holds:
		return s.hold(rt, r)
	case stepUp:
		return reply{}, errPasswordFirst
	}
	return reply{}, errSignInFirst
}

func signInHref(who records.PersonCode) string { return "/sign-in/" + url.PathEscape(string(who)) }

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
	next := r.wanted()
	if rt, _ := find("GET", pathOf(next)); rt == nil || rt.JSON || rt.Least == nobody {
		return ""
	}
	return next
}

// wanted is where a request says somebody was going, when that is a path and nothing else.
func (r *request) wanted() string {
	next := r.query.Get("next")
	if next == "" {
		next = r.form.Get("next")
	}
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || u.User != nil || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
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
