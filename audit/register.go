package audit

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/records/state"
)

// PaperStanding is how a document stands on a day.
type PaperStanding string

const (
	PaperMissing  PaperStanding = "missing"  // the plan wants it and nobody put it on file
	PaperExpired  PaperStanding = "expired"  // its last day is over
	PaperComing   PaperStanding = "coming"   // its first day is not yet
	PaperHolds    PaperStanding = "holds"    // it is valid
	PaperReplaced PaperStanding = "replaced" // another filing of the same code holds longer
)

// Paper is a document as it was put on file, or one that the plan wants and that is missing.
type Paper struct {
	Code     records.DocumentCode
	Title    string
	Wanted   *plan.Document // nil when the plan in force does not ask for it
	Filing   *state.Record  // nil when it is missing
	Document *records.Document
	Standing PaperStanding
	Left     int           // days after today until its last day, below 0 when it is over; of one with a last day
	By       *state.Record // of one that is replaced: the filing that counts instead
}

// Ends says whether the document has a last day.
func (p *Paper) Ends() bool { return p.Document != nil && p.Document.To != nil }

// Register is every document code that is on file or wanted by the plan, each with the filing that holds longest; by code.
func (r *Report) Register() (out []Paper) {
	p := r.State.PlanAt(r.At)
	if p == nil {
		return nil
	}
	seen := map[records.DocumentCode]bool{}
	add := func(code records.DocumentCode, want *plan.Document) {
		if !seen[code] {
			seen[code] = true
			newest, _ := newestDocument(r.State, code, r.At)
			out = append(out, r.paper(p, code, want, newest))
		}
	}
	for i := range p.Documents {
		add(p.Documents[i].Code, &p.Documents[i])
	}
	for _, rec := range r.State.Kind(records.KindDocument).Until(r.At) {
		code := rec.Fact.(*records.Document).Code
		add(code, p.Document(code))
	}
	slices.SortFunc(out, func(a, b Paper) int { return strings.Compare(string(a.Code), string(b.Code)) })
	return out
}

// Filings are all filings of one code, the one that counts first and the others newest first; empty when there is none.
func (r *Report) Filings(code records.DocumentCode) (out []Paper) {
	p := r.State.PlanAt(r.At)
	newest, _ := newestDocument(r.State, code, r.At)
	if p == nil || newest == nil {
		return nil
	}
	out = append(out, r.paper(p, code, p.Document(code), newest))
	all := r.State.Kind(records.KindDocument).Until(r.At)
	for i := len(all) - 1; i >= 0; i-- {
		if rec := all[i]; rec != newest && rec.Fact.(*records.Document).Code == code {
			old := r.paper(p, code, p.Document(code), rec)
			old.Standing, old.By = PaperReplaced, newest
			out = append(out, old)
		}
	}
	return out
}

func (r *Report) paper(p *plan.Plan, code records.DocumentCode, want *plan.Document, filing *state.Record) Paper {
	out := Paper{Code: code, Wanted: want, Filing: filing, Standing: PaperMissing}
	if want != nil {
		out.Title = want.Title
	}
	if filing == nil {
		return out
	}
	d := filing.Fact.(*records.Document)
	today := p.Day(r.At)
	out.Document, out.Title, out.Standing = d, d.Title, PaperHolds
	if d.From != nil && today < *d.From {
		out.Standing = PaperComing
	}
	if d.To != nil {
		if out.Left = int(*d.To - today); out.Left < 0 {
			out.Standing = PaperExpired
		}
	}
	return out
}

// Reliance is what relies on a document: by the plan in force, and by what was written down.
type Reliance struct {
	Wanted   bool // the plan wants it on file
	Tasks    []*plan.Task
	Agents   []*plan.Agent
	Partners []*plan.Partner
	Records  []*state.Record // receipts and results that name it, newest first
}

// ReliesOn is what relies on a document.
func (r *Report) ReliesOn(code records.DocumentCode) (out Reliance) {
	p := r.State.PlanAt(r.At)
	if p == nil {
		return out
	}
	out.Wanted = p.Document(code) != nil
	for i := range p.Tasks {
		if slices.Contains(p.Tasks[i].Relies, code) {
			out.Tasks = append(out.Tasks, &p.Tasks[i])
		}
	}
	for i := range p.Agents {
		if p.Agents[i].Approval == code {
			out.Agents = append(out.Agents, &p.Agents[i])
		}
	}
	for i := range p.Partners {
		if slices.Contains(p.Partners[i].Certificates, code) {
			out.Partners = append(out.Partners, &p.Partners[i])
		}
	}
	for _, rec := range r.State.Kind(records.KindReceipt).Until(r.At) {
		if rec.Fact.(*records.Receipt).Certificate == code {
			out.Records = append(out.Records, rec)
		}
	}
	for _, rec := range r.State.Kind(records.KindResult).Until(r.At) {
		if rec.Fact.(*records.Result).Document == code {
			out.Records = append(out.Records, rec)
		}
	}
	slices.SortStableFunc(out.Records, func(a, b *state.Record) int { return cmp.Compare(b.Happened, a.Happened) })
	return out
}

// Calibration is how an instrument's calibration stands.
type Calibration struct {
	Instrument *plan.Instrument
	Last       *state.Record   // the last that passed; nil when there is none
	Holds      records.Instant // until when it can be relied on; 0 when there is none
	Lapsed     bool
	Left       int // days after today until that day; below 0 when it is over
}

// Calibrations is every instrument of the plan in force, in the plan's order.
func (r *Report) Calibrations() (out []Calibration) {
	p := r.State.PlanAt(r.At)
	if p == nil {
		return nil
	}
	for i := range p.Instruments {
		in := &p.Instruments[i]
		c := Calibration{Instrument: in, Last: lastPassing(r.State, state.Duty{Task: in.Calibration, Station: in.Station}, r.At), Lapsed: true}
		if c.Last != nil {
			c.Holds = c.Last.Happened.Add(in.Holds.Duration())
			c.Lapsed, c.Left = c.Holds < r.At, int(p.Day(c.Holds)-p.Day(r.At))
		}
		out = append(out, c)
	}
	return out
}

// Trained is whether somebody is trained in a task that asks for it.
type Trained struct {
	Person *plan.Person
	Task   *plan.Task
	On     *calendar.Date // by the plan's list, or the day of the first passing training; nil when neither has it
	Record *state.Record  // the training, when it is in the journal
}

// Training is everybody at work today who may sign, with every task that only trained people may sign; by person, then task, in the
// plan's order.
func (r *Report) Training() (out []Trained) {
	p := r.State.PlanAt(r.At)
	if p == nil {
		return nil
	}
	for i := range p.People {
		who := &p.People[i]
		if who.Role == "visitor" || !who.AtWork(p.Day(r.At)) {
			continue
		}
		for k := range p.Tasks {
			if t := &p.Tasks[k]; t.Trained && rankOf(who) >= rank(t.Who) {
				row := Trained{Person: who, Task: t}
				if row.Record = firstTraining(r.State, p, who.Code, t.Code, r.At); row.Record != nil {
					day := p.Day(row.Record.Happened)
					row.On = &day
				}
				for _, listed := range who.Trained {
					if listed.Task == t.Code && listed.On <= p.Day(r.At) && (row.On == nil || listed.On < *row.On) {
						row.On, row.Record = &listed.On, nil
					}
				}
				out = append(out, row)
			}
		}
	}
	return out
}

// firstTraining is the first passing training sign-off that names somebody for a task; nil when there is none.
func firstTraining(st *state.State, p *plan.Plan, who records.PersonCode, task records.TaskCode, by records.Instant) (first *state.Record) {
	for i := range p.Tasks {
		t := &p.Tasks[i]
		if !slices.Contains(t.Trains, task) {
			continue
		}
		for _, station := range t.Stations {
			for _, r := range st.Signoffs(state.Duty{Task: t.Code, Station: station}).Until(by) {
				if slices.Contains(r.Fact.(*records.Signoff).Trainees, who) && passes(st, r) {
					if first == nil || r.Happened < first.Happened {
						first = r
					}
					break
				}
			}
		}
	}
	return first
}
