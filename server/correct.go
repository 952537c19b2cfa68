package server

import (
	"net/url"

	"grainward/records"
	"grainward/records/state"
	"grainward/server/pages"
)

// mayFix says whether whoever asks may correct an entry: their own, or anybody's for a lead. A plan is put right by
// adopting another, which is not done here.
func (r *request) mayFix(rec *state.Record) bool {
	return r.role >= crew && rec.Kind != records.KindPlan && (rec.By == r.who.Code || r.role >= lead)
}

// fixable is the entry in the address as first written, if it may be corrected by whoever asks.
func (r *request) fixable() (*state.Record, error) {
	pos, err := r.position()
	if err != nil {
		return nil, err
	}
	rec := r.view.State.First(pos)
	if rec.Kind == records.KindPlan {
		return nil, planStays()
	}
	if !r.mayFix(rec) {
		return nil, tooLow{r.role, lead}
	}
	return rec, nil
}

// signoffToFix is the entry in the address as it counts, when it is a sign-off.
func (r *request) signoffToFix() (rec *state.Record, fact *records.Signoff, err error) {
	first, err := r.fixable()
	if err != nil {
		return nil, nil, err
	}
	if rec = r.view.State.Now(first.Position); rec == nil {
		return nil, nil, nil
	}
	fact, _ = rec.Fact.(*records.Signoff)
	return rec, fact, nil
}

func (s *Server) correctForm(r *request) (reply, error) {
	rec, fact, err := r.signoffToFix()
	switch {
	case err != nil:
		return reply{}, err
	case rec == nil:
		return redirect("/entry/" + r.params["position"])
	case fact == nil || r.planAt(rec.Happened).Task(fact.Task) == nil:
		return redirect("/withdraw/" + positionText(rec.Position))
	}
	v := r.valuesOf(fact)
	v.Set("id", records.NewEntryID().String())
	v.Set("as", string(r.who.Code))
	return page(s.correctPage(r, rec, fact, v, signed{}))
}

// valuesOf is a sign-off as its form would send it.
func (r *request) valuesOf(fact *records.Signoff) url.Values {
	v := url.Values{"outcome": {string(fact.Outcome)}, "action": {fact.Action}, "note": {fact.Note}, "second": {string(fact.Second)}}
	for _, a := range fact.Answers {
		name := "a-" + string(a.Ask)
		switch {
		case a.Value != nil:
			v.Set(name, a.Value.Value.String())
		case a.Yes != nil && *a.Yes:
			v.Set(name, "yes")
		case a.Yes != nil:
			v.Set(name, "no")
		case a.Photo != "":
			v.Set("kept."+name, a.Photo)
		default:
			v.Set(name, a.Choice+a.Text)
		}
	}
	for _, use := range fact.Agents {
		v.Add("agent", string(use.Agent))
		v.Set("lot-"+string(use.Agent), use.Lot)
	}
	for _, who := range fact.Trainees {
		v.Add("trainee", string(who))
	}
	return v
}

func (s *Server) correctPage(r *request, rec *state.Record, fact *records.Signoff, v url.Values, f signed) *pages.Sign {
	p := s.signPage(r, r.planAt(rec.Happened).Task(fact.Task), fact.Station, v, f)
	return s.asCorrection(r, p, rec, v)
}

func (s *Server) asCorrection(r *request, p *pages.Sign, rec *state.Record, v url.Values) *pages.Sign {
	at := positionText(rec.Position)
	p.To, p.Window, p.Due, p.State = "/correct/"+at, "", r.moment(rec.Happened), ""
	p.Again = asksAgain(r.fixMeaning(rec))
	p.Correct = &pages.Correcting{Href: entryHref(rec.Position), Position: at, Reason: v.Get("reason"), Withdraw: "/withdraw/" + at}
	return p
}

func (s *Server) correct(r *request) (reply, error) {
	rec, old, err := r.signoffToFix()
	switch {
	case err != nil:
		return reply{}, err
	case rec == nil || old == nil:
		return redirect("/entry/" + r.params["position"])
	}
	p := r.planAt(rec.Happened)
	t := p.Task(old.Task)
	if t == nil {
		return reply{}, notFound()
	}
	wrong, err := s.keepPhotos(r)
	if err != nil {
		return reply{}, err
	}
	f := decodeSign(r.lang, p, t, old.Station, r.form)
	f.photos(wrong)
	// What the form does not ask stays as it was.
	f.fact.Window, f.fact.Started, f.fact.Lots = old.Window, old.Started, old.Lots
	c := &records.Correct{Target: r.view.State.First(rec.Position).ID, Reason: f.reason, With: &records.Replacement{Happened: f.when, Kind: records.KindSignoff, Fact: f.fact}}
	if f.when == 0 && rec.Corrected != nil && rec.Happened != rec.Corrected.First.Happened {
		c.With.Happened = rec.Happened // an earlier correction moved it
	}
	e := records.Entry{ID: f.draft, Happened: r.now, By: r.who.Code, Meaning: r.fixMeaning(rec), Kind: records.KindCorrect, Fact: c}
	if out, err, sent := s.sentBefore(r, e, false); sent {
		return out, err
	}
	if f.reason == "" {
		f.faults = append(f.faults, pages.Message{Field: "reason", Text: r.say("reason-missing")})
	}
	happened := rec.Happened
	if f.when != 0 {
		happened = f.when
	}
	if page := s.review(r, t, old.Station, &f, f.fact, happened); page != nil {
		return again(s.asCorrection(r, page, rec, r.form))
	}
	ms := []pages.Message(nil)
	if asksAgain(e.Meaning) {
		if ms, err = s.confirm(r); err != nil {
			return reply{}, err
		}
	}
	var at records.Position
	if len(ms) == 0 {
		if at, ms, err = s.put(r, e, false); err != nil {
			return reply{}, err
		}
	}
	if len(ms) > 0 {
		f.faults = ms
		return again(s.correctPage(r, rec, old, r.form, f))
	}
	return redirect("/receipt/" + positionText(at))
}

// fixMeaning: who corrects their own work performed it; a lead who corrects another's verified it.
func (r *request) fixMeaning(rec *state.Record) records.Meaning {
	if rec.By == r.who.Code {
		return records.Performed
	}
	return records.Verified
}

func (s *Server) withdrawForm(r *request) (reply, error) {
	rec, err := r.fixable()
	if err != nil {
		return reply{}, err
	}
	if r.view.State.Now(rec.Position) == nil {
		return redirect(entryHref(rec.Position))
	}
	return page(s.withdrawPage(r, rec, url.Values{"id": {records.NewEntryID().String()}, "as": {string(r.who.Code)}}, nil))
}

func (s *Server) withdrawPage(r *request, rec *state.Record, v url.Values, ms []pages.Message) *pages.Withdraw {
	p := &pages.Withdraw{Frame: s.frame(r, r.say("withdraw"), ""), To: "/withdraw/" + positionText(rec.Position), Draft: v.Get("id"), As: v.Get("as"),
		Position: positionText(rec.Position), Entry: entryHref(rec.Position), Task: r.say(kindKey(rec.Kind)), Station: personName(r.planAt(rec.Happened), rec.Performer()),
		Happened: r.moment(rec.Happened), Reason: v.Get("reason"), Messages: ms, Again: asksAgain(r.fixMeaning(rec))}
	if fact, ok := rec.Fact.(*records.Signoff); ok {
		p.Task, p.Station = taskTitle(r.planAt(rec.Happened), fact.Task, r.lang), stationTitle(r.planAt(rec.Happened), fact.Station, r.lang)
	}
	return p
}

func (s *Server) withdraw(r *request) (reply, error) {
	rec, err := r.fixable()
	if err != nil {
		return reply{}, err
	}
	f := decodeReason(r)
	e := records.Entry{ID: f.draft, Happened: r.now, By: r.who.Code, Meaning: r.fixMeaning(rec), Kind: records.KindCorrect,
		Fact: &records.Correct{Target: rec.ID, Reason: f.reason, Withdraw: true}}
	if out, err, sent := s.sentBefore(r, e, false); sent {
		return out, err
	}
	ms := f.faults
	if len(ms) == 0 && asksAgain(e.Meaning) {
		if ms, err = s.confirm(r); err != nil {
			return reply{}, err
		}
	}
	if len(ms) == 0 {
		if _, ms, err = s.put(r, e, false); err != nil {
			return reply{}, err
		}
	}
	if len(ms) > 0 {
		return again(s.withdrawPage(r, rec, r.form, ms))
	}
	return redirect(entryHref(rec.Position))
}
