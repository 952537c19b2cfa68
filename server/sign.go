package server

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// duty is the task and station in the address, by the plan in force.
func (r *request) duty() (*plan.Task, records.StationCode, error) {
	t := r.plan.Task(records.TaskCode(r.params["task"]))
	station := records.StationCode(r.params["station"])
	if t == nil || !slices.Contains(t.Stations, station) {
		return nil, "", notFound()
	}
	return t, station, nil
}

func (s *Server) signForm(r *request) (reply, error) {
	t, station, err := r.duty()
	if err != nil {
		return reply{}, err
	}
	v := url.Values{"id": {records.NewEntryID().String()}, "as": {string(r.who.Code)}}
	if j := s.windowFor(t, station, r.query.Get("window")); j != nil {
		v.Set("window", j.Opens.String())
	}
	return page(s.signPage(r, t, station, v, signed{}))
}

// windowFor is the window that opened then, or else the first that waits; nil when none does.
func (s *Server) windowFor(t *plan.Task, station records.StationCode, opened string) *audit.Judged {
	rep := s.report()
	w := rep.Duty(state.Duty{Task: t.Code, Station: station})
	if w == nil {
		return nil
	}
	windows, _ := w.Since(rep.At)
	for i := range windows {
		if j := &windows[i]; j.Waiting(rep.At) && j.Result != audit.Excused && (opened == "" || j.Opens.String() == opened) {
			return j
		}
	}
	return nil
}

// signPage is the form, filled with what was typed so far.
func (s *Server) signPage(r *request, t *plan.Task, station records.StationCode, v url.Values, f signed) *pages.Sign {
	p := &pages.Sign{Frame: s.frame(r, t.Title.In(r.lang), ""), To: r.path, Draft: v.Get("id"), As: v.Get("as"), Window: v.Get("window"),
		Task: t.Title.In(r.lang), Station: stationTitle(r.plan, station, r.lang), NotYours: !r.mine(t), Messages: f.faults,
		Outcome: v.Get("outcome"), Action: v.Get("action"), When: v.Get("when"), Note: v.Get("note")}
	if p.Window != "" {
		if j := s.windowFor(t, station, p.Window); j != nil {
			p.Due, p.State = r.say("due-by", r.clock(j.Due)), markOf(j.Result)
		}
	}
	for _, c := range t.Cautions {
		p.Cautions = append(p.Cautions, pages.Caution{Text: c.Text.In(r.lang), Source: c.Source})
	}
	for i := range t.Asks {
		a := r.ask(&t.Asks[i], v)
		a.Error = f.errs[t.Asks[i].Code]
		p.Asks, p.Upload = append(p.Asks, a), p.Upload || a.Type == "photo"
	}
	for _, code := range t.Agents {
		if a := r.plan.Agent(code); a != nil {
			p.Agents = append(p.Agents, pages.AgentRow{Name: "agent", Code: string(code), Title: a.Title.In(r.lang), Check: a.Check,
				Chosen: slices.Contains(v["agent"], string(code)), LotName: "lot-" + string(code), Lot: v.Get("lot-" + string(code))})
		}
	}
	for _, who := range r.present() {
		if t.Second && who.Code != r.who.Code {
			p.Second = append(p.Second, pages.Option{Value: string(who.Code), Title: who.Name, Chosen: v.Get("second") == string(who.Code)})
		}
		if len(t.Trains) > 0 {
			p.Trainees = append(p.Trainees, pages.Option{Value: string(who.Code), Title: who.Name, Chosen: slices.Contains(v["trainee"], string(who.Code))})
		}
	}
	return p
}

func (r *request) ask(a *plan.Ask, v url.Values) pages.Ask {
	out := pages.Ask{Name: askName(a), Title: a.Title.In(r.lang), Type: a.Type, Unit: a.Unit, Limits: r.limits(a), Value: v.Get(askName(a)),
		Optional: a.Optional, Minus: a.Limits.Min != nil && a.Limits.Min.Cmp(records.Decimal{}) < 0, Kept: v.Get("kept." + askName(a))}
	choices := a.Choices
	if a.Type == "yesno" {
		choices = []string{"yes", "no"}
	}
	for _, c := range choices {
		title := c
		if a.Type == "yesno" {
			title = r.say(c)
		}
		out.Choices = append(out.Choices, pages.Option{Value: c, Title: title, Chosen: out.Value == c})
	}
	return out
}

// limits says in words what an answer should be.
func (r *request) limits(a *plan.Ask) string {
	unit := func(d *records.Decimal) string { return records.Quantity{Value: *d, Unit: a.Unit}.String() }
	switch {
	case a.Type == "number" && a.Limits.Min != nil && a.Limits.Max != nil:
		return r.say("limits-between", a.Limits.Min.String(), unit(a.Limits.Max))
	case a.Type == "number" && a.Limits.Min != nil:
		return r.say("limits-from", unit(a.Limits.Min))
	case a.Type == "number" && a.Limits.Max != nil:
		return r.say("limits-to", unit(a.Limits.Max))
	case a.Type == "yesno" && a.Right != "":
		return r.say("right-answer", strings.ToLower(r.say(a.Right)))
	case a.Right != "":
		return r.say("right-answer", a.Right)
	}
	return ""
}

func (s *Server) sign(r *request) (reply, error) {
	t, station, err := r.duty()
	if err != nil {
		return reply{}, err
	}
	wrong, err := s.keepPhotos(r)
	if err != nil {
		return reply{}, err
	}
	f := decodeSign(r.lang, r.plan, t, station, r.form)
	f.photos(wrong)
	e := records.Entry{ID: f.draft, Happened: r.now, By: r.who.Code, Meaning: records.Performed, Kind: records.KindSignoff, Fact: f.fact}
	if f.when != 0 {
		e.Happened = f.when
	}
	if out, err, sent := s.sentBefore(r, e, f.when != 0); sent {
		return out, err
	}
	p := s.review(r, t, station, &f, f.fact, e.Happened)
	if p != nil {
		return again(p)
	}
	at, ms, err := s.put(r, e, f.when != 0)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		f.faults = ms
		return again(s.signPage(r, t, station, r.form, f))
	}
	return redirect("/receipt/" + positionText(at))
}

// review looks over what was typed and gives the form to send back, or nil when it can be written down. Nothing typed
// is lost by it, and nothing is refused for being bad news: what is missing or out of its limits is asked about once.
func (s *Server) review(r *request, t *plan.Task, station records.StationCode, f *signed, fact *records.Signoff, happened records.Instant) *pages.Sign {
	fault := func(field, text string) { f.faults = append(f.faults, pages.Message{Field: field, Text: text}) }
	if f.as != r.who.Code {
		fault("", r.say("not-you", personName(r.plan, f.as), r.who.Name))
		r.form.Set("as", string(r.who.Code))
	}
	if f.when > r.now {
		fault("when", r.say("when-future"))
	}
	then := r.planAt(happened).Task(t.Code)
	if then == nil {
		then = t
	}
	c := audit.Check(then, fact)
	unread := len(f.errs) > 0 // what can not be read is put right first
	missing := false
	for _, a := range c.Missing {
		if f.errs[a.Code] == "" && !f.without {
			f.errs[a.Code] = r.say("unanswered")
			fault(askName(a), r.say("not-answered", a.Title.In(r.lang)))
			missing = true
		}
	}
	did := r.who.Code
	if f.whose != "" {
		did = f.whose
	}
	if t.Second && (fact.Second == "" || fact.Second == did) && !f.without {
		fault("second", r.say("second-missing"))
		missing = true
	}
	outside := len(c.Outside) > 0 && fact.Action == "" && !f.none
	if outside {
		for _, a := range c.Outside {
			text := r.outsideText(a, fact)
			f.errs[a.Code] = text
			fault(askName(a), text)
		}
		fault("action", r.say("action-missing"))
	}
	if len(f.faults) == 0 {
		return nil
	}
	p := s.signPage(r, t, station, r.form, *f)
	p.AskAction, p.Missing = outside, missing && !unread
	return p
}

// outsideText says of one answer that it is out of its limits.
func (r *request) outsideText(a *plan.Ask, fact *records.Signoff) string {
	given := ""
	for _, res := range fact.Answers {
		if res.Ask == a.Code {
			given = r.answerText(res)
		}
	}
	return r.say("is-outside", a.Title.In(r.lang), given, r.limits(a))
}

func (r *request) answerText(res records.Response) string {
	switch {
	case res.Value != nil:
		return res.Value.String()
	case res.Yes != nil && *res.Yes:
		return r.say("yes")
	case res.Yes != nil:
		return r.say("no")
	case res.Photo != "":
		return r.say("row-photo")
	}
	return res.Choice + res.Text
}

// sentBefore answers a form whose id is in the journal already: a double tap, or the back button. The same thing again
// leads to its receipt; another thing is said to be one, and nothing is written.
func (s *Server) sentBefore(r *request, e records.Entry, timed bool) (reply, error, bool) {
	got, sent, err := s.written(e, timed)
	if !sent || err != nil {
		return reply{}, err, sent
	}
	out, err := redirect("/receipt/" + positionText(got.Position))
	return out, err, true
}

// keepPhotos puts the pictures of a form on file and notes their keys in it. wrong says, by field, what is no picture.
func (s *Server) keepPhotos(r *request) (wrong map[string]string, err error) {
	wrong = map[string]string{}
	for name, data := range r.files {
		if fault := pictureFault(r.lang, data); fault != "" {
			wrong[name] = fault
			continue
		}
		key, err := s.Book.PutBlob(r.ctx, data)
		if err != nil {
			return nil, err
		}
		r.form.Set("kept."+name, key)
	}
	r.files = nil
	return wrong, nil
}

// isPicture goes by the bytes, never by the name or type that was sent along.
func isPicture(data []byte) bool {
	media := http.DetectContentType(data)
	return media == "image/jpeg" || media == "image/png"
}

// photos adds what was wrong with pictures to the faults.
func (f *signed) photos(wrong map[string]string) {
	for name, text := range wrong {
		code, _ := strings.CutPrefix(name, "a-")
		f.errs[records.AskCode(code)] = text
		f.faults = append(f.faults, pages.Message{Field: name, Text: text})
	}
}
