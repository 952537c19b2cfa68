package server

import (
	"errors"
	"io/fs"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
	crewpage "grainward/server/crew"
)

// crewPage is the shell of the crew's page, the same for everybody.
func (s *Server) crewPage(*request) (reply, error) {
	html, err := crewpage.Shell()
	return reply{data: html, media: "text/html; charset=utf-8"}, err
}

// crewFile is one file of the crew's page. A page of an older version that asks for a file gets today's, which it may not keep.
func (s *Server) crewFile(r *request) (reply, error) {
	data, media, err := crewpage.File(r.params["file"])
	if errors.Is(err, fs.ErrNotExist) {
		return reply{}, notFound()
	}
	out := reply{data: data, media: media, keep: r.params["version"] == crewpage.Version(), part: true}
	if crewpage.IsWorker(r.params["file"]) { // what it may fetch goes by its own policy
		out.part, out.scope = false, "/crew"
	}
	return out, err
}

// apiCrew is what the crew's page works from. People are shown on enrolled devices and to whoever is signed in, as on the page that
// asks who you are, and so is the work.
func (s *Server) apiCrew(r *request) (reply, error) {
	day := crewpage.Day{Version: crewpage.Version(), At: int64(r.now), Size: int64(r.view.Head.Size), Zone: "UTC", People: []crewpage.Person{}}
	if r.plan == nil {
		return reply{json: day}, nil
	}
	day.Plant, day.Zone = r.plan.Plant.Name, r.plan.Plant.Zone
	for _, who := range r.present() {
		if r.device == "" && r.who == nil { // a stranger is told nobody's name
			break
		}
		p := crewpage.Person{Code: string(who.Code), Name: who.Name, Initials: who.Initials, Role: who.Role, Language: languageOf(r.plan, who)}
		for _, t := range who.Trained {
			if task := r.plan.Task(t.Task); task != nil && task.Trained {
				p.Trained = append(p.Trained, string(t.Task))
			}
		}
		day.People = append(day.People, p)
	}
	if r.who != nil {
		day.Who = string(r.who.Code)
	}
	day.Device = string(r.device)
	if r.role >= visitor || r.device != "" {
		day.Work = s.crewWork(r)
	}
	return reply{json: day}, nil
}

func (s *Server) crewWork(r *request) *crewpage.Work {
	p := r.plan
	w := &crewpage.Work{Stations: []crewpage.Station{}, Tasks: []crewpage.Task{}, Agents: []crewpage.Agent{}, Duties: []crewpage.Duty{}}
	for i := range p.Stations {
		w.Stations = append(w.Stations, crewpage.Station{Code: string(p.Stations[i].Code), Title: texts(p, p.Stations[i].Title)})
	}
	for i := range p.Tasks {
		w.Tasks = append(w.Tasks, crewTask(p, &p.Tasks[i]))
	}
	for i := range p.Agents {
		w.Agents = append(w.Agents, crewpage.Agent{Code: string(p.Agents[i].Code), Title: texts(p, p.Agents[i].Title), Check: p.Agents[i].Check})
	}
	rep := s.report()
	for i := range p.Tasks {
		for _, station := range p.Tasks[i].Stations {
			if work := rep.Duty(state.Duty{Task: p.Tasks[i].Code, Station: station}); work != nil {
				if d := crewDuty(rep, p, work); len(d.Windows)+len(d.Beside) > 0 {
					w.Duties = append(w.Duties, d)
				}
			}
		}
	}
	return w
}

func crewTask(p *plan.Plan, t *plan.Task) crewpage.Task {
	out := crewpage.Task{Code: string(t.Code), Title: texts(p, t.Title), Stations: words(t.Stations), Agents: words(t.Agents),
		Lead: roleOf(t.Who) == lead, Second: t.Second, Trained: t.Trained, Trains: len(t.Trains) > 0, Set: len(t.When) > 0}
	for i := range t.Asks {
		a := &t.Asks[i]
		out.Asks = append(out.Asks, crewpage.Ask{Code: string(a.Code), Title: texts(p, a.Title), Type: a.Type, Unit: a.Unit, Right: a.Right, Choices: a.Choices,
			Optional: a.Optional, Min: decimalText(a.Limits.Min), Max: decimalText(a.Limits.Max)})
	}
	for _, c := range t.Cautions {
		out.Cautions = append(out.Cautions, crewpage.Caution{Text: texts(p, c.Text), Source: c.Source})
	}
	return out
}

// crewDuty is one duty from the beginning of yesterday on: what can be answered, what comes, and what was.
func crewDuty(rep *audit.Report, p *plan.Plan, work *audit.Work) crewpage.Duty {
	d := crewpage.Duty{Task: string(work.Duty.Task), Station: string(work.Duty.Station)}
	from := p.At(p.Day(rep.At).AddDays(-1), plan.DayTime{})
	windows, unplanned := work.Since(from)
	for i := range windows {
		j := &windows[i]
		last := j.Last()
		if j.Lapses < from && (last == nil || last.Happened < from) {
			continue
		}
		w := crewpage.Window{Opens: int64(j.Opens), Due: int64(j.Due), Lapses: int64(j.Lapses), Result: markOf(j.Result)}
		for _, rec := range j.Signoffs {
			w.Signed = append(w.Signed, crewSigned(rec))
		}
		d.Windows = append(d.Windows, w)
	}
	for _, rec := range unplanned {
		s := crewSigned(rec)
		s.Result = markOfRecord(p.Task(work.Duty.Task), rec)
		d.Beside = append(d.Beside, s)
	}
	return d
}

func crewSigned(rec *state.Record) crewpage.Signed {
	return crewpage.Signed{ID: rec.ID.String(), Position: int64(rec.Position), By: string(rec.Performer()), Happened: int64(rec.Happened), Window: int64(rec.Fact.(*records.Signoff).Window)}
}

// texts are a text in the languages of the plan that the pages speak; a bare text is in its first.
func texts(p *plan.Plan, t plan.Text) crewpage.Text {
	out := crewpage.Text{}
	for _, l := range p.Plant.Languages {
		out[l] = t.In(l)
	}
	return out
}

func decimalText(d *records.Decimal) *string {
	if d == nil {
		return nil
	}
	s := d.String()
	return &s
}

func words[T ~string](codes []T) (out []string) {
	for _, c := range codes {
		out = append(out, string(c))
	}
	return out
}
