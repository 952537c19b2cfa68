package server

import (
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
	Known  records.Instant `json:"known"` // windows that open later are not among them
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
	out.At, out.Known = rep.At, rep.Until
	for _, w := range rep.Work {
		if d := dutyOf(w, opens, closes); len(d.Windows)+len(d.Unplanned) > 0 {
			out.Duties = append(out.Duties, d)
		}
	}
	return reply{json: out}, nil
}

func dutyOf(w *audit.Work, from, to records.Instant) dutyJSON {
	d := dutyJSON{Task: w.Duty.Task, Station: w.Duty.Station}
	for i := range w.Windows {
		j := &w.Windows[i]
		if j.Opens < from || j.Opens >= to {
			continue
		}
		one := windowJSON{Opens: j.Opens, Due: j.Due, Lapses: j.Lapses, Result: markOf(j.Result)}
		for _, rec := range j.Signoffs {
			one.Signoffs = append(one.Signoffs, rec.Position)
		}
		d.Windows = append(d.Windows, one)
	}
	for _, rec := range w.Unplanned {
		if rec.Happened >= from && rec.Happened < to {
			d.Unplanned = append(d.Unplanned, rec.Position)
		}
	}
	return d
}
