package server

import (
	"net/url"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
	"grainward/server/pages"
)

// weekCell is one duty's day: its windows, who signed them, and what a lead can do about them.
func (s *Server) weekCell(r *request) (reply, error) {
	day, err := calendar.ParseDate(r.params["day"])
	if err != nil {
		return reply{}, notFound()
	}
	d := state.Duty{Task: records.TaskCode(r.params["task"]), Station: records.StationCode(r.params["station"])}
	rep := s.report()
	squares := gridOf(rep, r.plan, day, 1).cells[d]
	if squares == nil && r.plan.Task(d.Task) == nil && rep.Duty(d) == nil {
		return reply{}, notFound()
	}
	p := &pages.WeekCell{Frame: s.frame(r, taskTitle(r.plan, d.Task, r.lang), "week"), Task: taskTitle(r.plan, d.Task, r.lang), Station: stationTitle(r.plan, d.Station, r.lang),
		Date: r.date(day), Back: "/week?day=" + day.String()}
	if squares == nil {
		return page(p)
	}
	for _, j := range squares[0].windows {
		p.Windows = append(p.Windows, s.windowOf(r, rep, d, j))
	}
	for _, rec := range squares[0].besides {
		p.Besides = append(p.Besides, r.signedOff(rec))
	}
	return page(p)
}

func (s *Server) windowOf(r *request, rep *audit.Report, d state.Duty, j *audit.Judged) pages.Window {
	w := pages.Window{State: markOf(j.Result), Opens: r.moment(j.Opens), Due: r.moment(j.Due), Lapses: r.moment(j.Lapses)}
	for _, rec := range j.Signoffs {
		w.Signed = append(w.Signed, r.signedOff(rec))
	}
	back := cellHref(r.plan.Day(j.Due), d)
	id := j.FindingID(d)
	if i := slices.IndexFunc(rep.Findings, func(f *audit.Finding) bool { return f.ID == id }); id != "" && i >= 0 {
		f := rep.Findings[i]
		w.Says, w.Standing, w.Answers, w.Do = f.Sentence(r.lang), standing(f), entryLinks(f.Answers), r.todo(rep, f, back)
		return w
	}
	if t := r.plan.Task(d.Task); t != nil && slices.Contains(t.Stations, d.Station) && r.mine(t) && j.Waiting(rep.At) {
		w.Do = append(w.Do, pages.Link{Href: r.signHref(piece{task: t, station: d.Station, window: j}), Title: r.say("sign-it")})
	}
	if r.role >= lead && (j.Result == audit.Coming || j.Result == audit.Open) {
		q := url.Values{"next": {back}, "task": {string(d.Task)}, "station": {string(d.Station)}, "from": {j.Opens.String()}, "to": {j.Due.String()}}
		w.Do = append(w.Do, pages.Link{Href: "/excuse?" + q.Encode(), Title: r.say("excuse-it")})
	}
	return w
}

func (r *request) signedOff(rec *state.Record) pages.Signed {
	out := pages.Signed{Who: personName(r.planAt(rec.Happened), rec.Performer()), When: r.moment(rec.Happened), Corrected: rec.Corrected != nil}
	out.Passed = markOfRecord(r.planAt(rec.Happened).Task(rec.Fact.(*records.Signoff).Task), rec) == "done"
	if r.role >= crew {
		out.Entry = pages.Link{Href: entryHref(rec.Position), Title: positionText(rec.Position)}
	}
	return out
}
