package server

import (
	"net/url"
	"slices"
	"strings"

	"grainward/records"
	"grainward/server/auth"
	"grainward/server/pages"
)

const heldPrefix = "held."

// hold asks for the PIN or password when a form arrives after its sign-in has ended, or when it needs a lead's password. What was typed goes along in the page and comes back
// with the PIN. Pictures are put on file at once, but only for somebody whose sign-in ran out (and is remembered):
// a stranger can not fill the disk.
func (s *Server) hold(rt *route, r *request) (reply, error) {
	who := r.who // who is signed in by PIN, and needs to give the password
	if who == nil {
		who = r.atWork(r.ended)
	}
	if who == nil && r.device != "" {
		who = r.atWork(records.PersonCode(r.form.Get("as")))
	}
	if who == nil && (r.device != "" || r.plan == nil) {
		return reply{}, errSignInFirst
	}
	if (r.ended != "" || r.who != nil) && rt.Uploads {
		keep := func() (err error) { _, err = s.keepPhotos(r); return err }
		if rt.Papers {
			keep = func() error { return s.keepDocument(r, &sheet{request: r}) }
		}
		if err := keep(); err != nil {
			return reply{}, err
		}
	}
	have, err := s.Auth.People(r.ctx)
	if err != nil {
		return reply{}, err
	}
	var has auth.Secrets
	if who != nil {
		has = have[who.Code]
	}
	p := s.secretPage(r, who, has)
	p.Ended, p.HeldPath, p.Typed = r.who == nil, r.path, ""
	for _, name := range sortedNames(r.form) {
		for _, v := range r.form[name] {
			p.Held = append(p.Held, pages.Field{Name: name, Value: v})
		}
	}
	return reply{status: 401, page: p}, nil
}

// heldFields are the fields a PIN form carried along.
func heldFields(form url.Values) (fs []pages.Field) {
	for _, name := range sortedNames(form) {
		if plain, held := strings.CutPrefix(name, heldPrefix); held {
			for _, v := range form[name] {
				fs = append(fs, pages.Field{Name: plain, Value: v})
			}
		}
	}
	return fs
}

func sortedNames(form url.Values) []string {
	var names []string
	for name := range form {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// goOn takes somebody who has just signed in to what they were doing: a form that was held, a page, or today's work.
func (s *Server) goOn(r *request) (reply, error) {
	path := r.form.Get("held")
	rt, params := find("POST", path)
	if rt == nil || !rt.Holds {
		if next := r.next(); next != "" {
			return redirect(next)
		}
		return redirect("/today")
	}
	fields := heldFields(r.form)
	r.path, r.params, r.form = path, params, url.Values{}
	for _, f := range fields {
		r.form.Add(f.Name, f.Value)
	}
	return s.allow(rt, r)
}
