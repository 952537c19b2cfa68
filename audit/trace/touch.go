package trace

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Touch is a stretch in which a lot was in contact with a station, with the passing clean-outs around it.
type Touch struct {
	Lot      records.LotCode
	Station  records.StationCode
	Title    plan.Text
	From, To records.Instant // To is lots.Forever while it is there; equal to From when it only passed
	Purge    bool            // it was run through to clean
	Before   *Clean          // newest passing clean-out that ended by From
	After    *Clean          // first passing clean-out begun at or after To
	Agents   []Agent         // used before it came (in Before) and while it was there
	People   []Person        // who wrote it in and out, signed work there meanwhile, or the clean-outs around it
	Began    records.Position
}

// Clean is one clean-out.
type Clean struct {
	From, To records.Instant
	Task     records.TaskCode
	Title    plan.Text
	By       records.PersonCode
	Entry    records.Position
}

// Agent is one use of a cleaning agent or processing aid.
type Agent struct {
	Code     records.AgentCode
	Title    plan.Text
	Lot      string
	Strength string
	When     records.Instant
	Entry    records.Position
}

// Person is somebody who signed.
type Person struct {
	Code records.PersonCode
	Name string
}

// touches goes through the contacts of every station for lots of the trace.
func (m *maker) touches() {
	signoffs := m.signoffs()
	stations := make([]records.StationCode, 0, len(m.f.Contacts))
	for code := range m.f.Contacts {
		stations = append(stations, code)
	}
	slices.Sort(stations)
	for _, code := range stations {
		for c := range m.f.Contacts[code].All() {
			if k, traced := m.at[int32(c.Lot)]; traced {
				m.t.Touches = append(m.t.Touches, m.touch(code, c, m.t.Lots[k].Code, signoffs[code]))
			}
		}
	}
}

// signoffs are the timelines of each station's duties. A contact looks up its own stretch in them: going through all sign-offs for it
// took longer than all the rest of a trace.
func (m *maker) signoffs() map[records.StationCode][]state.Timeline {
	out := map[records.StationCode][]state.Timeline{}
	for d, t := range m.st.Duties() {
		out[d.Station] = append(out[d.Station], t)
	}
	return out
}

// between are the sign-offs of a station's duties from one instant to another, by the moment and in order.
func (m *maker) between(duties []state.Timeline, from, to records.Instant) (all []*state.Record) {
	for _, t := range duties {
		all = append(all, t.Between(from, min(to, m.f.At))...)
	}
	slices.SortFunc(all, func(a, b *state.Record) int {
		return cmp.Or(cmp.Compare(a.Happened, b.Happened), cmp.Compare(a.Position, b.Position))
	})
	return all
}

func (m *maker) touch(code records.StationCode, c *lots.Contact, lot records.LotCode, signoffs []state.Timeline) Touch {
	t := Touch{Lot: lot, Station: code, Title: m.station(code), From: c.From, To: c.To, Purge: c.Purge}
	if c.Began != nil {
		t.Began = c.Began.Position
	}
	cleans := m.f.CleanOuts[code] // in order of To
	after, _ := slices.BinarySearchFunc(cleans, c.From, func(x lots.CleanOut, at records.Instant) int {
		if x.To <= at {
			return -1
		}
		return 1
	})
	people := func(r *state.Record) {
		if r == nil {
			return
		}
		t.People = append(t.People, m.person(r.Performer()))
		if s, ok := r.Fact.(*records.Signoff); ok && s.Second != "" {
			t.People = append(t.People, m.person(s.Second))
		}
	}
	people(c.Began)
	people(c.Ended)
	if after > 0 {
		t.Before = m.clean(&cleans[after-1])
		people(cleans[after-1].Record)
		t.Agents = append(t.Agents, m.agents(cleans[after-1].Record)...)
	}
	for i := after; i < len(cleans) && c.To != lots.Forever; i++ {
		if cleans[i].From >= c.To {
			t.After = m.clean(&cleans[i])
			people(cleans[i].Record)
			break
		}
	}
	for _, r := range m.between(signoffs, c.From, c.To) {
		if t.Before != nil && r.Position == t.Before.Entry {
			continue // it ended at the instant the lot came: before it
		}
		people(r)
		t.Agents = append(t.Agents, m.agents(r)...)
	}
	slices.SortFunc(t.People, func(a, b Person) int { return strings.Compare(string(a.Code), string(b.Code)) })
	t.People = slices.Compact(t.People)
	return t
}

func (m *maker) person(c records.PersonCode) Person {
	if m.p != nil {
		if p := m.p.Person(c); p != nil {
			return Person{c, p.Name}
		}
	}
	return Person{c, string(c)}
}

func (m *maker) clean(c *lots.CleanOut) *Clean {
	out := &Clean{From: c.From, To: c.To, By: c.Record.Performer(), Entry: c.Record.Position}
	if s, ok := c.Record.Fact.(*records.Signoff); ok {
		out.Task, out.Title = s.Task, plan.Text{"en": string(s.Task)}
		if m.p != nil {
			if t := m.p.Task(s.Task); t != nil {
				out.Title = t.Title
			}
		}
	}
	return out
}

func (m *maker) agents(r *state.Record) (out []Agent) {
	s, ok := r.Fact.(*records.Signoff)
	if !ok {
		return nil
	}
	for _, a := range s.Agents {
		x := Agent{Code: a.Agent, Title: plan.Text{"en": string(a.Agent)}, Lot: a.Lot, When: r.Happened, Entry: r.Position}
		if m.p != nil {
			if row := m.p.Agent(a.Agent); row != nil {
				x.Title = row.Title
			}
		}
		if a.Strength != nil {
			x.Strength = a.Strength.String()
		}
		out = append(out, x)
	}
	return out
}

// Paper is a document that speaks of a lot of the trace: a receipt's certificate, or a result's report.
type Paper struct {
	Lot     records.LotCode
	For     string // certificate or result
	Code    records.DocumentCode
	OnFile  bool // by the moment
	Title   string
	Type    string
	Issuer  string
	Number  string
	Holds   bool // of a certificate: valid on the day of receipt, by what is on file
	SHA256  string
	Results []records.Measured // of a result, also of one without a document
	When    records.Instant    // of the receipt or result
	Entry   records.Position   // that names it
}

// papers lists certificates and results, in order of lot (as in Lots) and time.
func (m *maker) papers() {
	files := map[records.DocumentCode][]*records.Document{} // in order of filing
	for _, r := range m.st.Kind(records.KindDocument).Until(m.f.At) {
		d := r.Fact.(*records.Document)
		files[d.Code] = append(files[d.Code], d)
	}
	for k := range m.t.Lots {
		l := m.f.Lots[m.order[k]]
		first := len(m.t.Papers)
		seen := map[records.Position]bool{}
		for _, r := range l.Events {
			if seen[r.Position] {
				continue
			}
			seen[r.Position] = true
			switch fact := r.Fact.(type) {
			case *records.Receipt:
				if fact.Certificate != "" && fact.Lot == l.Code {
					p := Paper{Lot: l.Code, For: "certificate", Code: fact.Certificate, When: r.Happened, Entry: r.Position}
					m.find(&p, files[fact.Certificate])
					m.t.Papers = append(m.t.Papers, p)
				}
			case *records.Result:
				p := Paper{Lot: l.Code, For: "result", Code: fact.Document, Results: fact.Values, When: r.Happened, Entry: r.Position}
				if fact.Document != "" {
					m.find(&p, files[fact.Document])
				}
				m.t.Papers = append(m.t.Papers, p)
			}
		}
		slices.SortStableFunc(m.t.Papers[first:], func(a, b Paper) int { return cmp.Compare(a.When, b.When) })
	}
}

// find takes the newest version on file that holds on the paper's day, else the newest.
func (m *maker) find(p *Paper, versions []*records.Document) {
	if len(versions) == 0 {
		return
	}
	d := versions[len(versions)-1]
	if at := m.st.PlanAt(p.When); at != nil {
		day := at.Day(p.When)
		for _, v := range versions {
			if v.HoldsOn(day) {
				d, p.Holds = v, true
			}
		}
	}
	p.OnFile, p.Title, p.Type, p.Issuer, p.Number = true, d.Title, d.Type, d.Issuer, d.Number
	if d.File != nil {
		p.SHA256 = d.File.SHA256
	}
}
