package server

import (
	"errors"
	"net/http"

	"grainward/records"
	"grainward/records/book"
	"grainward/server/pages"
)

// statusOf is the one place where a kind of error becomes a status.
var statusOf = map[records.ErrorKind]int{
	records.Internal:    http.StatusInternalServerError,
	records.Invalid:     http.StatusUnprocessableEntity,
	records.Conflict:    http.StatusConflict,
	records.NotFound:    http.StatusNotFound,
	records.Denied:      http.StatusForbidden,
	records.Busy:        http.StatusServiceUnavailable,
	records.ReadOnly:    http.StatusServiceUnavailable,
	records.Full:        http.StatusInsufficientStorage,
	records.TooNew:      http.StatusServiceUnavailable,
	records.Corrupt:     http.StatusInternalServerError,
	records.Unavailable: http.StatusServiceUnavailable,
}

// Errors of asking, which the records know nothing of.
var (
	errSignInFirst = errors.New("nobody is signed in")
	errCrossSite   = errors.New("sent from another site")
	errTooLarge    = errors.New("too large")
	errTooManyOpen = errors.New("too many pages are listening")
)

func notFound() error { return &records.Error{Kind: records.NotFound, What: "there is no such page"} }

// tooLow says that a role does not reach.
type tooLow struct{ have, need role }

func (e tooLow) Error() string { return "the role " + e.have.String() + " is not enough" }

// usedID says that a form's id is in the journal already with other content.
type usedID struct{ at records.Position }

func (e usedID) Error() string { return "the id of this form is already used" }

// problem makes the answer of an error: a page in plain words, or problem details (RFC 9457).
func (s *Server) problem(rt *route, r *request, err error) reply {
	p := &pages.Problem{Request: r.id, Back: pages.Link{Href: "/today", Title: r.say("back-to-work")}}
	if r.who == nil {
		p.Back = pages.Link{Href: "/", Title: r.say("back-to-start")}
	}
	status := s.explain(r, err, p)
	p.Frame = s.frame(r, p.Heading, "")
	if rt.JSON {
		return reply{status: status, json: details{Title: p.Heading, Status: status, Detail: p.Text, Lines: p.Lines, Request: r.id}}
	}
	return reply{status: status, page: p}
}

// details is an RFC 9457 problem. The type is the default, about:blank: the status says which.
type details struct {
	Title   string   `json:"title"`
	Status  int      `json:"status"`
	Detail  string   `json:"detail"`
	Lines   []string `json:"errors,omitempty"`
	Request string   `json:"request"`
}

func (s *Server) explain(r *request, err error, p *pages.Problem) (status int) {
	var low tooLow
	var used usedID
	switch {
	case errors.Is(err, errSignInFirst):
		p.Heading, p.Text = r.say("sign-in-first"), r.say("ended-nothing")
		return http.StatusUnauthorized
	case errors.Is(err, errCrossSite):
		p.Heading, p.Text = r.say("cross-site"), r.say("cross-say")
		return http.StatusForbidden
	case errors.Is(err, errTooLarge):
		p.Heading, p.Text = r.say("too-large"), r.say("too-large-say")
		return http.StatusRequestEntityTooLarge
	case errors.Is(err, errTooManyOpen):
		p.Heading, p.Text = r.say("unavailable"), r.say("too-many-open")
		return http.StatusServiceUnavailable
	case errors.As(err, &low):
		p.Heading, p.Text = r.say("forbidden"), r.say("forbidden-say", r.say("role-"+low.have.String()), r.say("role-"+low.need.String()))
		return http.StatusForbidden
	case errors.As(err, &used):
		p.Heading, p.Text, p.Back = r.say("conflict"), r.say("conflict-say", positionText(used.at)), pages.Link{Href: entryHref(used.at), Title: r.say("position", positionText(used.at))}
		return http.StatusConflict
	}
	var own *records.Error
	kind := records.KindOf(err)
	known := errors.As(err, &own)
	switch {
	case kind == records.NotFound:
		p.Heading, p.Text = r.say("not-found"), r.say("not-found-say")
	case kind == records.Invalid || kind == records.Conflict || kind == records.Denied:
		p.Heading, p.Text, p.Do = r.say("invalid"), own.What+".", own.Do
		for _, f := range own.Fields {
			p.Lines = append(p.Lines, f.String())
		}
	case known && kind != records.Internal && kind != records.Corrupt:
		s.Log.Error("trouble", "request", r.id, "err", err)
		p.Heading, p.Text, p.Do = r.say("unavailable"), own.What+".", own.Do
	default: // its words are for the log, not for a page
		s.Log.Error("trouble", "request", r.id, "err", err)
		p.Heading, p.Text = r.say("trouble"), r.say("trouble-say")
	}
	return statusOf[kind]
}

// refusal is what the book found wrong with one draft, as messages of its form; ok is false when it was something else.
func refusal(err error) (ms []pages.Message, ok bool) {
	var all *book.Errors
	var own *records.Error
	if !errors.As(err, &all) || !errors.As(err, &own) || own.Kind != records.Invalid {
		return nil, false
	}
	ms = append(ms, pages.Message{Text: own.What + "."})
	for _, f := range own.Fields {
		ms = append(ms, pages.Message{Text: f.String()})
	}
	return ms, true
}
