package server

import (
	"grainward/records"
	"grainward/records/plan"
	"grainward/server/pages"
)

const coveredMost = 40 // windows listed before an excuse is signed

// excuseForm lets a stretch be chosen, then shows which windows an excuse of it would cover, to be signed there.
func (s *Server) excuseForm(r *request) (reply, error) {
	if r.query.Get("from") == "" && r.query.Get("to") == "" {
		return page(s.excuseChoose(r, nil))
	}
	x, ms := r.excused()
	if len(ms) > 0 {
		return again(s.excuseChoose(r, ms))
	}
	return page(s.excusePage(r, x, nil))
}

// excused reads task, station and stretch, from the address or the form.
func (r *request) excused() (*records.Excuse, []pages.Message) {
	x := &records.Excuse{Task: records.TaskCode(r.value("task")), Station: records.StationCode(r.value("station"))}
	var ms []pages.Message
	for _, end := range []struct {
		name string
		to   *records.Instant
	}{{"from", &x.From}, {"to", &x.To}} {
		at, err := records.ParseInstant(r.value(end.name))
		if err != nil {
			at, err = parseWhen(r.plan, r.value(end.name))
		}
		if err != nil {
			ms = append(ms, pages.Message{Field: end.name, Text: r.say("when-unreadable")})
		}
		*end.to = at
	}
	if len(ms) == 0 && x.To < x.From {
		ms = append(ms, pages.Message{Field: "to", Text: r.say("excuse-reversed")})
	}
	return x, ms
}

func (s *Server) excuseChoose(r *request, ms []pages.Message) *pages.Form {
	f := s.form(r, "excuse-work", "findings", "excuse-look")
	f.Get, f.To, f.Intro, f.Messages = true, "/excuse", r.say("excuse-intro"), ms
	today := r.plan.Day(r.now)
	from, to := r.wall(r.plan.At(today, plan.DayTime{})), r.wall(r.plan.At(today.AddDays(1), plan.DayTime{}))
	if v := r.query.Get("from"); v != "" {
		from = v
	}
	if v := r.query.Get("to"); v != "" {
		to = v
	}
	f.Fields = []pages.FormField{
		r.pick("task", "row-task", "every-task", r.taskOptions()),
		r.pick("station", "row-station", "every-station", r.stationOptions()),
		{Type: "when", Name: "from", Label: r.say("row-from"), Value: from},
		{Type: "when", Name: "to", Label: r.say("row-to"), Value: to},
	}
	return f
}

// wall is a moment as an input of type datetime-local takes it.
func (r *request) wall(at records.Instant) string {
	return at.Time().In(r.plan.Location()).Format("2006-01-02T15:04")
}

func (s *Server) excusePage(r *request, x *records.Excuse, ms []pages.Message) *pages.Form {
	rep := s.report()
	f := s.form(r, "excuse-work", "findings", "sign-excuse")
	f.To, f.Messages, f.Again = "/excuse", ms, asksAgain(records.Approved)
	what, where := r.say("every-task"), r.say("every-station")
	if x.Task != "" {
		what = taskTitle(r.plan, x.Task, r.lang)
	}
	if x.Station != "" {
		where = stationTitle(r.plan, x.Station, r.lang)
	}
	f.About = []pages.Notice{{Text: what}, {Text: where}, {Text: r.say("period", r.moment(x.From), r.moment(x.To))}}
	covered := rep.Covered(x)
	list := pages.FormList{Title: r.say("excuse-covers", len(covered)), None: r.say("excuse-covers-none")}
	for _, w := range covered[:min(coveredMost, len(covered))] {
		mark := markOf(w.Result)
		list.Lines = append(list.Lines, pages.Notice{Text: taskTitle(w.Plan, w.Duty.Task, r.lang) + ", " + stationTitle(w.Plan, w.Duty.Station, r.lang),
			Note: r.say("excuse-window", r.moment(w.Opens), r.moment(w.Due), r.say("state-"+mark)), Mark: mark})
	}
	if n := len(covered) - coveredMost; n > 0 {
		list.Rest = r.say("and-more", n)
	}
	f.Lists = []pages.FormList{list}
	if x.To > rep.Until {
		f.Caution = r.say("excuse-beyond", r.moment(rep.Until))
	}
	f.Hidden = []pages.Field{{Name: "task", Value: string(x.Task)}, {Name: "station", Value: string(x.Station)}, {Name: "from", Value: x.From.String()}, {Name: "to", Value: x.To.String()}}
	f.Fields = []pages.FormField{r.area("reason", "excuse-why")}
	day := r.plan.Day(x.From)
	from, to := r.plan.At(day, plan.DayTime{}).String(), r.plan.At(day.AddDays(1), plan.DayTime{}).String()
	add := func(key, task, station string) {
		f.Others = append(f.Others, pages.Link{Title: r.say(key, r.date(day)), Href: addressed("/excuse", "task", task, "station", station, "from", from, "to", to, "next", f.Next)})
	}
	add("excuse-day-task", string(x.Task), string(x.Station))
	add("excuse-day-station", "", string(x.Station))
	f.Others = append(f.Others, pages.Link{Title: r.say("excuse-other"), Href: addressed("/excuse", "task", string(x.Task), "station", string(x.Station), "next", f.Next)})
	return f
}

func (s *Server) excuse(r *request) (reply, error) {
	x := r.sheet()
	fact, ms := r.excused()
	if len(ms) > 0 { // the stretch is carried by the form; it was cut or tampered with
		return again(s.excuseChoose(r, ms))
	}
	fact.Reason = x.text("reason", textMost, "excuse-why")
	_, ms, err := s.signEntry(r, r.entryOfForm(records.Approved, fact, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.excusePage(r, fact, ms))
	}
	return redirect(r.back("/findings"))
}
