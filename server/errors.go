package server

import (
	"context"
	"errors"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"grainward/records"
	"grainward/records/book"
	"grainward/server/auth"
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
	errSignInFirst   = errors.New("nobody is signed in")
	errPasswordFirst = errors.New("this needs a lead's password, and a PIN was given")
	errCrossSite     = errors.New("sent from another site")
	errTooLarge      = errors.New("too large")
	errTooManyOpen   = errors.New("too many pages are listening")
	errNoSecret      = errors.New("a signature of this meaning needs the signer's secret again")
)

func notFound() error { return &records.Error{Kind: records.NotFound, What: "there is no such page"} }

// tooLow says that a role does not reach.
type tooLow struct{ have, need role }

func (e tooLow) Error() string { return "the role " + e.have.String() + " is not enough" }

// usedID says that an id is in the journal already with other content.
type usedID struct{ at records.Position }

func (e usedID) Error() string { return "the id is already used" }

// wrongMedia says that a route takes something else than what came.
type wrongMedia struct{ takes string }

func (e wrongMedia) Error() string { return "sent as something else than " + e.takes }

// secretRefused says that a secret was not taken.
type secretRefused struct{ auth.Answer }

func (e secretRefused) Error() string { return "the secret was not taken" }

// signInRefused is the same for somebody who wants to sign in.
type signInRefused struct{ auth.Answer }

func (e signInRefused) Error() string { return "the secret was not taken" }

// unreadable says that a body is not what it should be at all.
type unreadable struct{ key string } // of a text

func (e unreadable) Error() string { return "the body can not be read: " + e.key }

// busy says that something is being done already. key is of a text.
type busy struct{ key string }

func (e busy) Error() string { return "busy: " + e.key }

// told is what is said about an error: on a page, or as problem details.
type told struct {
	status        int
	code          string // stable, for programs
	heading, text string
	do            string // what to do about it
	faults        []records.FieldError
	back          pages.Link // where to go on from its page, when not the start
	at            *records.Position
	needs         records.PersonCode // who has to be signed in
	until         records.Instant    // when it may be tried again
}

// problem makes the answer of an error: a page in plain words, or problem details (RFC 9457).
func (s *Server) problem(rt *route, r *request, err error) reply {
	t := s.explain(r, err)
	s.Watch.Refused(t.code)
	out := reply{status: t.status}
	if t.until > r.now {
		out.after = int(math.Ceil(t.until.Sub(r.now).Seconds()))
	}
	if rt.JSON {
		out.json = t.details(r.id)
		return out
	}
	p := &pages.Problem{Request: r.id, Heading: t.heading, Text: t.text, Do: t.do, Back: t.back}
	if p.Back == (pages.Link{}) {
		p.Back = pages.Link{Href: "/today", Title: r.say("back-to-work")}
		if s.Company != nil {
			p.Back = pages.Link{Href: "/plants", Title: r.say("nav-plants")}
		}
		if r.who == nil {
			p.Back = pages.Link{Href: "/", Title: r.say("back-to-start")}
		}
	}
	for _, f := range t.faults {
		p.Lines = append(p.Lines, r.faultText(f))
	}
	p.Frame = s.frame(r, p.Heading, "")
	out.page = p
	return out
}

// details is an RFC 9457 problem. Its type is the default, about:blank: the status says which, and code says it closer.
type details struct {
	Title    string             `json:"title"`
	Status   int                `json:"status"`
	Detail   string             `json:"detail"`             // what is wrong and what to do, for a person
	Code     string             `json:"code"`               // what is wrong, for a program; these words stay
	Request  string             `json:"request"`            // names this request in the log
	Errors   []faultJSON        `json:"errors,omitempty"`   // the values at fault
	Position *records.Position  `json:"position,omitempty"` // of the entry that has the id already
	Needs    records.PersonCode `json:"needs,omitempty"`    // who has to be signed in
	Until    string             `json:"until,omitempty"`    // when it may be tried again
}

// faultJSON is one value at fault.
type faultJSON struct {
	Field string `json:"field"`           // a path, such as fact.answers[0].value
	Given string `json:"given,omitempty"` // as it came
	Want  string `json:"want"`            // what would be right
}

func (t *told) details(request string) details {
	d := details{Title: t.heading, Status: t.status, Detail: t.text, Code: t.code, Request: request, Position: t.at, Needs: t.needs}
	if t.do != "" {
		d.Detail += " " + t.do
	}
	for _, f := range t.faults {
		d.Errors = append(d.Errors, faultJSON{f.Field, f.Value, f.Want})
	}
	if t.until != 0 {
		d.Until = t.until.String()
	}
	return d
}

// explain words an error. Those that are ours to mend go into the log, with a page that does not show their words.
func (s *Server) explain(r *request, err error) told {
	if t, ok := r.explainAsking(err); ok {
		return t
	}
	var own *records.Error
	kind := records.KindOf(err)
	known := errors.As(err, &own)
	t := told{status: statusOf[kind], code: codeOf[kind]}
	switch {
	case kind == records.NotFound:
		t.heading, t.text = r.say("not-found"), r.say("not-found-say")
	case kind == records.Invalid || kind == records.Conflict || kind == records.Denied:
		t.heading, t.text, t.do, t.faults = r.say("invalid"), r.sentence(own.What), r.ofBook(own.Do), r.worded(own.Fields)
	case known && kind != records.Internal && kind != records.Corrupt:
		s.Log.Error("trouble", "request", r.id, "kind", codeOf[kind], "err", plain(err))
		t.heading, t.until = r.say("unavailable"), r.now.Add(laterTime)
		switch kind { // which file it is concerns whoever reads the log, not the crew
		case records.Full:
			t.text = r.say("disk-full")
		case records.ReadOnly:
			t.text = r.say("no-writing")
		default:
			t.text, t.do = r.sentence(own.What), r.ofBook(own.Do)
		}
	default:
		s.Log.Error("trouble", "request", r.id, "kind", codeOf[kind], "err", plain(err))
		t.heading, t.text = r.say("trouble"), r.say("trouble-say")
	}
	return t
}

// laterTime is when to try again what does not work for the moment.
const laterTime = 10 * time.Second

// codeOf names the kinds of errors for programs. The words stay as they are.
var codeOf = map[records.ErrorKind]string{
	records.Internal:    "trouble",
	records.Invalid:     "invalid",
	records.Conflict:    "conflict",
	records.NotFound:    "not-found",
	records.Denied:      "denied",
	records.Busy:        "busy",
	records.ReadOnly:    "read-only",
	records.Full:        "full",
	records.TooNew:      "too-new",
	records.Corrupt:     "corrupt",
	records.Unavailable: "unavailable",
}

// CodeOf is the word for programs of an error's kind.
func CodeOf(err error) string { return codeOf[records.KindOf(err)] }

// explainAsking words what the records know nothing of.
func (r *request) explainAsking(err error) (told, bool) {
	var low tooLow
	var used usedID
	var you notYou
	var media wrongMedia
	var secret secretRefused
	var signin signInRefused
	var bad unreadable
	var ask asking
	var busy busy
	var many tooMany
	var no badRequest
	var ill notReady
	switch {
	case errors.Is(err, errSignInFirst):
		return told{status: http.StatusUnauthorized, code: "sign-in-first", heading: r.say("sign-in-first"), text: r.say("ended-nothing")}, true
	case errors.Is(err, errPasswordFirst):
		return told{status: http.StatusForbidden, code: "password-first", heading: r.say("password-first"), text: r.say("password-first-say"), needs: r.who.Code,
			back: pages.Link{Href: signInHref(r.who.Code), Title: r.say("give-password")}}, true
	case errors.Is(err, errCrossSite):
		return told{status: http.StatusForbidden, code: "cross-site", heading: r.say("cross-site"), text: r.say("cross-say")}, true
	case errors.Is(err, errTooLarge):
		return told{status: http.StatusRequestEntityTooLarge, code: "too-large", heading: r.say("too-large"), text: r.say("too-large-say")}, true
	case errors.Is(err, errLinkClosed):
		return told{status: http.StatusForbidden, code: "link-closed", heading: r.say("link-closed"), text: r.say("link-closed-say")}, true
	case errors.Is(err, errNotByLink):
		return told{status: http.StatusForbidden, code: "not-by-link", heading: r.say("forbidden"), text: r.say("not-by-link"), back: pages.Link{Href: "/auditor", Title: r.say("nav-auditor")}}, true
	case errors.Is(err, errTooManyOpen):
		return told{status: http.StatusServiceUnavailable, code: "too-many-open", heading: r.say("unavailable"), text: r.say("too-many-open"), until: r.now.Add(laterTime)}, true
	case errors.Is(err, errNoSecret):
		return told{status: http.StatusUnprocessableEntity, code: "secret-missing", heading: r.say("invalid"), text: r.say(againMissing[r.asked()]),
			faults: []records.FieldError{{Field: "again", Want: r.say(againMissing[r.asked()])}}}, true
	case errors.As(err, &low):
		return told{status: http.StatusForbidden, code: "role", heading: r.say("forbidden"),
			text: r.say("forbidden-say", r.say("role-"+low.have.String()), r.say("role-"+low.need.String()))}, true
	case errors.As(err, &you):
		t := told{status: http.StatusForbidden, code: "somebody-else", heading: r.say("not-yours-heading"), needs: you.needs,
			text: r.say("not-yours-say", personName(r.plan, you.needs), r.who.Name)}
		if you.gone {
			t.code, t.text = "somebody-gone", r.say("not-yours-gone", personName(r.plan, you.needs))
		}
		return t, true
	case errors.As(err, &used):
		return told{status: http.StatusConflict, code: "id-used", heading: r.say("conflict"), text: r.say("conflict-say", positionText(used.at)), at: &used.at,
			back: pages.Link{Href: entryHref(used.at), Title: r.say("position", positionText(used.at))}}, true
	case errors.As(err, &media):
		return told{status: http.StatusUnsupportedMediaType, code: "media", heading: r.say("wrong-media"), text: r.say("wrong-media-say", media.takes)}, true
	case errors.As(err, &bad):
		return told{status: http.StatusBadRequest, code: bad.key, heading: r.say("invalid"), text: r.say(bad.key)}, true
	case errors.As(err, &signin):
		t := r.explainSecret(signin.Answer)
		if t.faults = nil; t.status == http.StatusUnprocessableEntity {
			t.status = http.StatusUnauthorized
		}
		t.heading = r.say("sign-in-first")
		return t, true
	case errors.As(err, &secret):
		return r.explainSecret(secret.Answer), true
	case errors.As(err, &ask):
		return told{status: http.StatusUnprocessableEntity, code: "invalid", heading: r.say("not-understood"), text: r.say("not-understood-say"), faults: ask.faults}, true
	case errors.As(err, &many):
		return told{status: http.StatusTooManyRequests, code: "too-many", heading: r.say("too-many"), text: r.say("too-many-say"), until: r.now.Add(many.wait + time.Second)}, true
	case errors.As(err, &no):
		return told{status: no.status, code: no.key, heading: r.say("invalid"), text: r.say(no.key)}, true
	case errors.Is(err, context.DeadlineExceeded) && records.KindOf(err) == records.Internal: // of askedTime: nothing is wrong but that there is too much to do
		return told{status: http.StatusServiceUnavailable, code: "too-long", heading: r.say("unavailable"), text: r.say("too-long-say"), until: r.now.Add(laterTime)}, true
	case errors.As(err, &ill):
		return told{status: http.StatusServiceUnavailable, code: "not-ready", heading: r.say("unavailable"), text: r.say(ill.key), until: r.now.Add(laterTime)}, true
	case errors.As(err, &busy):
		return told{status: http.StatusServiceUnavailable, code: "busy", heading: r.say("unavailable"), text: r.say(busy.key), until: r.now.Add(laterTime)}, true
	}
	return told{}, false
}

func (r *request) explainSecret(a auth.Answer) told {
	t := told{status: http.StatusUnprocessableEntity, code: "secret-wrong", heading: r.say("invalid"), text: r.refusedSecret(a, r.asked()), until: a.Until}
	switch a.Outcome {
	case auth.Wait:
		t.status, t.code = http.StatusTooManyRequests, "wait"
	case auth.Locked:
		t.status, t.code = http.StatusTooManyRequests, "locked"
	default:
		t.faults = []records.FieldError{{Field: "again", Want: t.text}}
	}
	return t
}

// refusal is what the book found wrong with one draft, as messages of its form; ok is false when it was something else.
func (r *request) refusal(err error) (ms []pages.Message, ok bool) {
	var all *book.Errors
	var own *records.Error
	if !errors.As(err, &all) || !errors.As(err, &own) || own.Kind != records.Invalid {
		return nil, false
	}
	ms = append(ms, pages.Message{Text: r.sentence(own.What)})
	for _, f := range r.worded(own.Fields) {
		ms = append(ms, pages.Message{Text: r.faultText(f)})
	}
	return ms, true
}

// The book speaks English; these say what it says in the language of whoever asks.

func (r *request) ofBook(english string) string { return pages.OfBook(r.lang, english) }

func (r *request) sentence(english string) string {
	text := r.ofBook(english)
	first, size := utf8.DecodeRuneInString(text)
	return string(unicode.ToUpper(first)) + text[size:] + "."
}

func (r *request) worded(fs []records.FieldError) []records.FieldError {
	out := slices.Clone(fs)
	for i := range out {
		out[i].Want = r.ofBook(out[i].Want)
	}
	return out
}

// faultText is one value at fault, as a line.
func (r *request) faultText(f records.FieldError) string {
	if r.lang == "en" || f.Value == "" || f.Field == "" {
		return f.String()
	}
	plain := f
	plain.Value = ""
	return strings.Replace(plain.String(), f.Field, r.say("field-is", f.Field, clipped(f.Value)), 1)
}

const clipMost = 60 // characters of a value that is shown in a line

func clipped(text string) string {
	if chars := []rune(text); len(chars) > clipMost {
		return string(chars[:clipMost]) + "…"
	}
	return text
}
