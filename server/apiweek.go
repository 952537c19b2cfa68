package server

import (
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/server/openapi"
)

// weekJSON is the answer of /api/week: the windows of seven days, by task and station.
type weekJSON struct {
	From   calendar.Date   `json:"from"`
	To     calendar.Date   `json:"to"`
	At     records.Instant `json:"at"`
	Duties []dutyJSON      `json:"duties"`
}

type dutyJSON struct {
	Task      records.TaskCode    `json:"task"`
	Station   records.StationCode `json:"station"`
	Windows   []windowJSON        `json:"windows"`
	Unplanned []records.Position  `json:"unplanned"` // sign-offs that answer no window
}

type windowJSON struct {
	Opens    records.Instant    `json:"opens"`
	Due      records.Instant    `json:"due"`
	Lapses   records.Instant    `json:"lapses"`
	Result   string             `json:"result"` // done, late, failed, put-right, missed, open, excused…
	Signoffs []records.Position `json:"signoffs"`
}

var weekQuery = []openapi.Query{{Name: "from", Says: "the first of the seven days, like 2026-03-02; this week's Monday unless said"}}

func (s *Server) apiWeek(r *request) (reply, error) {
	today := r.plan.Day(r.now)
	from, err := r.askedDay("from", today.AddDays(-(int(today.Weekday())+6)%7))
	if err != nil {
		return reply{}, err
	}
	out := weekJSON{From: from, To: from.AddDays(6)}
	opens, closes := r.start(from), r.start(from.AddDays(7))
	rep := s.report()
	out.At = rep.At
	for _, work := range [][]*audit.Work{rep.Work, rep.Ahead(closes)} {
		for _, w := range work {
			out.add(dutyOf(w, opens, closes))
		}
	}
	return reply{json: out}, nil
}

// add puts windows to what is already there of their duty.
func (w *weekJSON) add(d dutyJSON) {
	if len(d.Windows)+len(d.Unplanned) == 0 {
		return
	}
	if i := slices.IndexFunc(w.Duties, func(have dutyJSON) bool { return have.Task == d.Task && have.Station == d.Station }); i >= 0 {
		w.Duties[i].Windows = append(w.Duties[i].Windows, d.Windows...)
		return
	}
	w.Duties = append(w.Duties, d)
}

func dutyOf(w *audit.Work, from, to records.Instant) dutyJSON {
	d := dutyJSON{Task: w.Duty.Task, Station: w.Duty.Station}
	windows, unplanned := w.Between(from, to)
	for i := range windows {
		j := &windows[i]
		if j.Opens < from {
			continue
		}
		one := windowJSON{Opens: j.Opens, Due: j.Due, Lapses: j.Lapses, Result: markOf(j.Result)}
		for _, rec := range j.Signoffs {
			one.Signoffs = append(one.Signoffs, rec.Position)
		}
		d.Windows = append(d.Windows, one)
	}
	for _, rec := range unplanned {
		d.Unplanned = append(d.Unplanned, rec.Position)
	}
	return d
}
