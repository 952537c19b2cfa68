package server

import (
	"net/url"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/pages"
)

// A sheet that was filled in by hand is typed in line by line: whoever types signs the entry, and the entry says whose paper it
// is (records.Paper). The sheet is read by the plan of its day.

const noon = calendar.Clock(12 * 3600)

// logged is a station's day, with where its lines are.
type logged struct {
	code    string
	station *plan.Station
	day     calendar.Date
	photo   string // key
}

// sheetOf finds the sheet of a code and makes its day's plan the one that is read. ok is false when there is no such sheet.
func (r *request) sheetOf(code, photo string) (sh logged, ok bool) {
	st, day, ok := r.readSheet(code)
	if !ok || day > r.plan.Day(r.now) {
		return logged{}, false
	}
	r.plan = r.planAt(min(r.now, r.plan.At(day, plan.DayTime{Clock: noon})))
	return logged{sheetCode(st.Code, day), st, day, photo}, true
}

func (sh logged) query() url.Values {
	q := url.Values{"sheet": {sh.code}}
	if sh.photo != "" {
		q.Set("photo", sh.photo)
	}
	return q
}

func (sh logged) href() string { return "/paper?" + sh.query().Encode() }

// fromPaper shows the lines of a sheet, or asks which sheet it is.
func (s *Server) fromPaper(r *request) (reply, error) {
	asked := r.query.Get("sheet")
	if asked == "" && r.query.Get("station") != "" {
		asked = r.query.Get("station") + "." + r.query.Get("day")
	}
	if asked == "" {
		return page(s.whichSheet(r, nil))
	}
	sh, ok := r.sheetOf(asked, r.query.Get("photo"))
	if !ok {
		text := r.say("sheet-unknown", asked)
		if _, day, known := r.readSheet(asked); known && day > r.plan.Day(r.now) {
			text = r.say("sheet-future")
		}
		return again(s.whichSheet(r, []pages.Message{{Field: "sheet", Text: text}}))
	}
	p := s.sheetPage(r, sh, nil)
	if pos := r.query.Get("written"); pos != "" {
		r.params["position"] = pos
		if at, err := r.position(); err == nil {
			p.Written = positionText(at)
		}
	}
	return page(p)
}

func (s *Server) whichSheet(r *request, ms []pages.Message) *pages.FromPaper {
	p := &pages.FromPaper{Frame: s.frame(r, r.say("from-paper"), "paper"), Messages: ms, Day: r.plan.Day(r.now).String()}
	for i := range r.plan.Stations {
		st := &r.plan.Stations[i]
		p.Stations = append(p.Stations, pages.Option{Value: string(st.Code), Title: st.Title.In(r.lang), Chosen: r.query.Get("station") == string(st.Code)})
	}
	return p
}

func (s *Server) sheetPage(r *request, sh logged, ms []pages.Message) *pages.FromPaper {
	p := &pages.FromPaper{Frame: s.frame(r, r.say("from-paper"), "paper"), Messages: ms, Sheet: sh.code, Station: sh.station.Title.In(r.lang),
		Date: r.date(sh.day), Photo: sh.photo, To: "/paper"}
	g := gridOf(s.report(), r.plan, sh.day, 1)
	for i := range r.plan.Tasks {
		t := &r.plan.Tasks[i]
		if !slices.Contains(t.Stations, sh.station.Code) {
			continue
		}
		line := func(opens records.Instant) pages.PaperLine {
			q := sh.query()
			if opens != 0 {
				q.Set("window", opens.String())
			}
			u := url.URL{Path: "/paper/" + string(t.Code) + "/" + string(sh.station.Code), RawQuery: q.Encode()}
			return pages.PaperLine{Task: t.Title.In(r.lang), Href: u.String()}
		}
		none := true
		var besides []*state.Record
		for _, c := range g.cells[state.Duty{Task: t.Code, Station: sh.station.Code}] {
			for _, j := range c.windows {
				l := line(j.Opens)
				l.Window, l.State, l.Signed = r.hour(j.Opens)+"–"+r.hour(j.Due), markOf(j.Result), r.signedBy(j.Signoffs)
				p.Lines = append(p.Lines, l)
				none = false
			}
			besides = append(besides, c.besides...)
		}
		if none || len(besides) > 0 {
			l := line(0)
			l.Window, l.Signed = r.say("as-needed"), r.signedBy(besides)
			p.Lines = append(p.Lines, l)
		}
	}
	return p
}

// signedBy are links to sign-offs, with who and when.
func (r *request) signedBy(recs []*state.Record) (out []pages.Link) {
	for _, rec := range recs {
		out = append(out, pages.Link{Href: entryHref(rec.Position), Title: personName(r.planAt(rec.Happened), rec.Performer()) + ", " + r.hour(rec.Happened)})
	}
	return out
}

// keepSheet puts a photo of a sheet on file and goes on to its lines.
func (s *Server) keepSheet(r *request) (reply, error) {
	sh, ok := r.sheetOf(r.form.Get("sheet"), r.form.Get("sheet-photo"))
	if !ok {
		return reply{}, notFound()
	}
	wrong, err := s.keepPhotos(r)
	if err != nil {
		return reply{}, err
	}
	key := r.form.Get("kept.photo")
	switch text := wrong["photo"]; {
	case text != "":
		return again(s.sheetPage(r, sh, []pages.Message{{Field: "photo", Text: text}}))
	case key == "":
		return again(s.sheetPage(r, sh, []pages.Message{{Field: "photo", Text: r.say("photo-missing")}}))
	}
	sh.photo = key
	return redirect(sh.href())
}

// paperLine is the line of a sheet that the address and the form name.
func (r *request) paperLine(v url.Values, photo string) (sh logged, t *plan.Task, err error) {
	sh, ok := r.sheetOf(v.Get("sheet"), v.Get(photo))
	if !ok || string(sh.station.Code) != r.params["station"] {
		return sh, nil, notFound()
	}
	t, _, err = r.duty()
	return sh, t, err
}

func (s *Server) paperForm(r *request) (reply, error) {
	sh, t, err := r.paperLine(r.query, "photo")
	if err != nil {
		return reply{}, err
	}
	v := url.Values{"id": {records.NewEntryID().String()}, "as": {string(r.who.Code)}}
	if w := s.sheetWindow(r, sh, t, r.query.Get("window")); w != nil {
		v.Set("window", w.Opens.String())
	}
	return page(s.paperPage(r, sh, t, s.signPage(r, t, sh.station.Code, v, signed{}), v))
}

// sheetWindow is the window of a sheet's line, or nil for work that has no hour.
func (s *Server) sheetWindow(r *request, sh logged, t *plan.Task, opened string) *audit.Judged {
	for _, c := range gridOf(s.report(), r.plan, sh.day, 1).cells[state.Duty{Task: t.Code, Station: sh.station.Code}] {
		for _, j := range c.windows {
			if j.Opens.String() == opened {
				return j
			}
		}
	}
	return nil
}

// paperPage makes a sign-off's form one for a line of paper.
func (s *Server) paperPage(r *request, sh logged, t *plan.Task, p *pages.Sign, v url.Values) *pages.Sign {
	p.NotYours, p.Due, p.State, p.Second, p.Trainees = false, "", "", nil, nil
	p.Paper = &pages.PaperSign{Sheet: sh.code, Photo: sh.photo, Back: sh.href(), Clock: v.Get("clock"), Already: r.signedBy(s.writtenAlready(r, sh, t, v.Get("window"))), Twice: v.Get("twice") == "yes"}
	if w := s.sheetWindow(r, sh, t, v.Get("window")); w != nil {
		p.Due = r.hour(w.Opens) + "–" + r.hour(w.Due)
	}
	for i := range r.plan.People {
		who := &r.plan.People[i]
		if !who.AtWork(sh.day) {
			continue
		}
		option := func(field string) pages.Option {
			return pages.Option{Value: string(who.Code), Title: who.Name + " (" + who.Initials + ")", Chosen: slices.Contains(v[field], string(who.Code))}
		}
		p.Paper.Whose = append(p.Paper.Whose, option("whose"))
		if t.Second {
			p.Second = append(p.Second, option("second"))
		}
		if len(t.Trains) > 0 {
			p.Trainees = append(p.Trainees, option("trainee"))
		}
	}
	return p
}

// writtenAlready are the sign-offs that stand where a line's would: those of its window, or for work without an hour those of the day.
func (s *Server) writtenAlready(r *request, sh logged, t *plan.Task, window string) (all []*state.Record) {
	if w := s.sheetWindow(r, sh, t, window); w != nil {
		return w.Signoffs
	}
	for _, c := range gridOf(s.report(), r.plan, sh.day, 1).cells[state.Duty{Task: t.Code, Station: sh.station.Code}] {
		all = append(all, c.besides...)
	}
	return all
}

// paperTime reads the time on a line. A sheet has one date, but a window may begin the day before or go on past midnight: of the
// days around, the one on which the time lies in its window is meant, else the sheet's.
func (r *request) paperTime(sh logged, w *audit.Judged, text string) string {
	clock, err := calendar.ParseClock(text)
	if err != nil {
		return text
	}
	day := sh.day
	if w != nil {
		for _, d := range []calendar.Date{sh.day, sh.day.AddDays(-1), sh.day.AddDays(1)} {
			if at := r.plan.At(d, plan.DayTime{Clock: clock}); w.Opens <= at && at <= w.Lapses {
				day = d
				break
			}
		}
	}
	return day.String() + "T" + text
}

func (s *Server) typeIn(r *request) (reply, error) {
	sh, t, err := r.paperLine(r.form, "sheet-photo")
	if err != nil {
		return reply{}, err
	}
	wrong, err := s.keepPhotos(r)
	if err != nil {
		return reply{}, err
	}
	w := s.sheetWindow(r, sh, t, r.form.Get("window"))
	if clock := r.form.Get("clock"); clock != "" {
		r.form.Set("when", r.paperTime(sh, w, clock))
	}
	f := decodeSign(r.lang, r.plan, t, sh.station.Code, r.form)
	f.photos(wrong)
	if w != nil && f.when != 0 && (f.when < w.Opens || f.when > w.Lapses) {
		f.fact.Window = 0 // the time on the paper is not in it: it goes to the window it fits
	}
	f.whose = records.PersonCode(r.form.Get("whose"))
	e := records.Entry{ID: f.draft, Happened: f.when, By: r.who.Code, Meaning: records.Performed, Kind: records.KindSignoff, Fact: f.fact,
		Paper: &records.Paper{Whose: f.whose, Sheet: sh.photo}}
	back := func(at records.Position) (reply, error) { return redirect(sh.href() + "&written=" + positionText(at)) }
	if got, sent, err := s.written(e, true); sent {
		if err != nil {
			return reply{}, err
		}
		return back(got.Position)
	}
	fault := func(field, key string) { f.faults = append(f.faults, pages.Message{Field: field, Text: r.say(key)}) }
	if f.whose == "" {
		fault("whose", "whose-missing")
	}
	if f.when == 0 && r.form.Get("clock") == "" {
		fault("when", "paper-when-missing")
	}
	if len(s.writtenAlready(r, sh, t, r.form.Get("window"))) > 0 && r.form.Get("twice") != "yes" {
		fault("twice", "paper-twice-fault")
	}
	happened := f.when
	if happened == 0 {
		happened = r.now
	}
	if p := s.review(r, t, sh.station.Code, &f, f.fact, happened); p != nil {
		return again(s.paperPage(r, sh, t, p, r.form))
	}
	at, ms, err := s.put(r, e, true)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		f.faults = ms
		return again(s.paperPage(r, sh, t, s.signPage(r, t, sh.station.Code, r.form, f), r.form))
	}
	return back(at)
}
