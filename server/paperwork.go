package server

import (
	"net/url"
	"strings"
	"unicode/utf8"

	"grainward/records"
	"grainward/server/pages"
)

// sheet is a form of the office while it is read: what was typed, and what is wrong with it.
type sheet struct {
	*request
	ms []pages.Message
}

func (r *request) sheet() *sheet {
	x := &sheet{request: r}
	if as := records.PersonCode(r.form.Get("as")); as != r.who.Code {
		x.fault("", r.say("not-you", personName(r.plan, as), r.who.Name))
		r.form.Set("as", string(r.who.Code))
	}
	return x
}

func (x *sheet) fault(field, text string) {
	x.ms = append(x.ms, pages.Message{Field: field, Text: text})
}

// text reads a text of at most so many characters; label is the key of its name when it has to be there.
func (x *sheet) text(name string, most int, label string) string {
	s := strings.TrimSpace(strings.ReplaceAll(x.form.Get(name), "\r\n", "\n"))
	switch {
	case s == "" && label != "":
		x.fault(name, x.say("answer-missing", x.say(label)))
	case utf8.RuneCountInString(s) > most:
		x.fault(name, x.say("too-long", most))
	}
	return s
}

// lots reads lot codes with white space between them; those ticked come first.
func (x *sheet) lots(name string) (out []records.LotCode) {
	seen := map[string]bool{}
	for _, code := range append(append([]string(nil), x.form["lot"]...), strings.Fields(x.form.Get(name))...) {
		if seen[code] {
			continue
		}
		seen[code] = true
		if err := records.CheckLot(code); err != nil {
			x.fault(name, x.say("lot-unreadable", code))
			continue
		}
		out = append(out, records.LotCode(code))
	}
	return out
}

// when reads a wall time of the plant, or 0 when none was given. Later than now is a fault unless it may be.
func (x *sheet) when(name string) records.Instant {
	text := strings.TrimSpace(x.form.Get(name))
	if text == "" {
		return 0
	}
	at, err := parseWhen(x.plan, text)
	switch {
	case err != nil:
		x.fault(name, x.say("when-unreadable"))
	case at > x.now:
		x.fault(name, x.say("when-future"))
	}
	return at
}

// form begins a form: with values of its own, or as it was sent.
func (s *Server) form(r *request, title, here, button string) *pages.Form {
	f := &pages.Form{Frame: s.frame(r, r.say(title), here), To: r.path, Draft: r.form.Get("id"), As: r.form.Get("as"), Next: r.next(), Button: r.say(button)}
	if f.Draft == "" {
		f.Draft, f.As = records.NewEntryID().String(), string(r.who.Code)
	}
	return f
}

// signEntry writes the entry of a form down. What was sent before is written already; else ms, the secret and the book decide, and what
// they say goes into the form that comes back.
func (s *Server) signEntry(r *request, e records.Entry, timed bool, ms []pages.Message) (at records.Position, left []pages.Message, err error) {
	if got, sent, err := s.written(e, timed); sent {
		return got.Position, nil, err
	}
	if len(ms) > 0 {
		return 0, ms, nil
	}
	if asksAgain(e.Meaning) {
		if ms, err = s.confirm(r); err != nil || len(ms) > 0 {
			return 0, ms, err
		}
	}
	return s.put(r, e, timed)
}

// entryOfForm is the envelope of what a form says, happening now unless it says when.
func (r *request) entryOfForm(m records.Meaning, fact records.Fact, when records.Instant) records.Entry {
	e := records.Entry{ID: draftOf(r.form), Happened: r.now, By: r.who.Code, Device: "", Meaning: m, Kind: fact.Kind(), Fact: fact}
	if when != 0 {
		e.Happened = when
	}
	return e
}

// value is what was typed into a field, or what the address proposes for it.
func (r *request) value(name string) string {
	if v, sent := r.form[name]; sent {
		return strings.Join(v, " ")
	}
	return r.query.Get(name)
}

// Fields of the office's forms.

func (r *request) area(name, label string) pages.FormField {
	return pages.FormField{Type: "area", Name: name, Label: r.say(label), Value: r.value(name), Max: textMost}
}

func (r *request) line(name, label string, most int) pages.FormField {
	return pages.FormField{Type: "text", Name: name, Label: r.say(label), Value: r.value(name), Max: most}
}

func (r *request) pick(name, label, none string, options []pages.Option) pages.FormField {
	chosen := r.value(name)
	all := []pages.Option{{Value: "", Title: r.say(none)}}
	for _, o := range options {
		o.Chosen = o.Value == chosen
		all = append(all, o)
	}
	return pages.FormField{Type: "select", Name: name, Label: r.say(label), Options: all}
}

func (r *request) hinted(f pages.FormField, hint string) pages.FormField {
	f.Hint = r.say(hint)
	return f
}

func (r *request) stationOptions() (out []pages.Option) {
	for i := range r.plan.Stations {
		out = append(out, pages.Option{Value: string(r.plan.Stations[i].Code), Title: r.plan.Stations[i].Title.In(r.lang)})
	}
	return out
}

func (r *request) taskOptions() (out []pages.Option) {
	for i := range r.plan.Tasks {
		out = append(out, pages.Option{Value: string(r.plan.Tasks[i].Code), Title: r.plan.Tasks[i].Title.In(r.lang)})
	}
	return out
}

// addressed is a path with values in its query; empty ones are left out.
func addressed(path string, pairs ...string) string {
	q := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			q.Set(pairs[i], pairs[i+1])
		}
	}
	return (&url.URL{Path: path, RawQuery: q.Encode()}).String()
}
