package server

import (
	"bufio"
	"context"
	"net/url"
	"strconv"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/pages"
)

// request is what was asked, in memory of our own.
type request struct {
	ctx          context.Context
	id           string
	method, path string
	params       map[string]string
	query, form  url.Values
	files        map[string][]byte // one for each field; longer than records.MaxBlob when it was too large
	body         []byte            // of a route that takes no form
	names        map[string]string // what the browser called those files
	token        string
	pass         string // of an auditor's link
	key          string // what the browser shows of an enrolled device
	host         string // under which it asked for us
	address      string // where it comes from
	language     string // Accept-Language
	now          records.Instant
	quiet        bool // asked by a page itself: it does not prolong the sign-in

	view   *book.View
	plan   *plan.Plan   // in force now; nil when none is
	who    *plan.Person // nil when nobody is signed in
	role   role
	by     auth.Kind          // the secret they signed in with: a lead's PIN gives them the crew's role
	ends   records.Instant    // when their sign-in runs out if nothing more is asked
	device records.DeviceCode // the enrolled device that asks; empty when it is none
	ended  records.PersonCode // whose sign-in has run out
	home   company.PlantCode  // on the company's page: the plant they signed in by
	lapsed bool               // there: a sign-in has run out
	lang   string
	link   *auth.Link // the auditor's link it comes with, when nobody is signed in
	closed bool       // it comes with one that has ended or was withdrawn
}

// reply is what is answered: one of page, json, redirect, data, file and stream.
type reply struct {
	status   int // 200 when 0
	page     pages.Page
	json     any
	redirect string
	data     []byte
	file     string              // path of a file to send
	media    string              // of data and file
	name     string              // under which a browser keeps it
	keep     bool                // it never changes under its address
	stream   func(*bufio.Writer) // writes for as long as it likes; it must keep nothing of the request's context
	token    *string
	pass     *string // gives the browser an auditor's link, or takes it away
	key      *string // makes the browser an enrolled device, or ends that
	scope    string  // the path below which a service worker may answer
	part     bool    // one of our own files that is part of a page and never one itself
	after    int     // seconds after which to ask again; said when not 0
}

func page(p pages.Page) (reply, error) { return reply{page: p}, nil }

// again is a form that comes back.
func again(p pages.Page) (reply, error) { return reply{status: 422, page: p}, nil }

func redirect(to string) (reply, error) { return reply{redirect: to}, nil }

// position reads the position in the address.
func (r *request) position() (records.Position, error) {
	n, err := strconv.ParseInt(r.params["position"], 10, 64)
	if err != nil || n < 0 || records.Position(n) >= r.view.State.Size() {
		return 0, notFound()
	}
	return records.Position(n), nil
}

func (r *request) say(key string, args ...any) string { return pages.Text(r.lang, key, args...) }

// frame is what goes around a page. here is its key in places, or that of the part it belongs to.
func (s *Server) frame(r *request, title, here string) pages.Frame {
	f := pages.Frame{Lang: r.lang, Title: title, Version: s.Version, Crew: r.role >= crew, Lead: r.role >= lead}
	if r.plan != nil {
		f.Plant = r.plan.Plant.Name
	}
	if s.Company != nil {
		f.Plant, f.NoJournal = s.Company.File.Name, true
	}
	if r.view != nil {
		f.Size, f.Root = int64(r.view.Head.Size), shortHex(r.view.Head.Root[:])
	}
	if r.who != nil {
		f.Person, f.Secret = r.who.Name, r.asked()
		f.Nav, f.Ways = r.ways(here)
		if s.Company != nil {
			f.Nav, f.Ways = r.companyWays(here), nil
		}
	} else if r.link != nil {
		f.Nav = r.linkWays(here)
	}
	if r.who == nil && r.method == "GET" {
		q := url.Values{"lang": {otherLanguage(r.lang)}}
		if next := r.query.Get("next"); next != "" {
			q.Set("next", next)
		}
		f.Other = (&url.URL{Path: r.path, RawQuery: q.Encode()}).String()
	}
	return f
}

func otherLanguage(lang string) string {
	if lang == "es" {
		return "en"
	}
	return "es"
}
