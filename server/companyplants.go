package server

import (
	"bufio"
	"errors"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/company"
	"grainward/server/pages"
)

// plantsJSON is the answer of /api/plants.
type plantsJSON struct {
	Company string      `json:"company"`
	Plants  []plantJSON `json:"plants"`
}

// plantJSON is one plant. What is not known of it, because it can not be opened or whoever asks is no lead there, is left out.
type plantJSON struct {
	Code    company.PlantCode `json:"code"`
	Name    string            `json:"name"`
	Address string            `json:"address"` // where browsers find it
	State   string            `json:"state"`   // open, behind, stuck, shut, no-plan, not-lead
	Trouble string            `json:"trouble,omitempty"`
	Open    *openJSON         `json:"open,omitempty"` // findings that no answer closed
	Overdue *int              `json:"overdue,omitempty"`
	Size    *records.Position `json:"size,omitempty"`
	Root    string            `json:"root,omitempty"`
	Signed  *records.Instant  `json:"signed,omitempty"` // when the last entry was written down, and with it the tree head signed
	Head    string            `json:"head,omitempty"`   // the signed tree head, a C2SP checkpoint
}

type openJSON struct {
	Critical int `json:"critical"`
	Major    int `json:"major"`
	Minor    int `json:"minor"`
	Note     int `json:"note"`
}

// plantStates are what can be said of a plant as a whole.
const (
	plantOpen    = "open"
	plantBehind  = "behind"   // what other servers write is not read at the moment
	plantStuck   = "stuck"    // it takes no entries at the moment
	plantShut    = "shut"     // it can not be opened
	plantNoPlan  = "no-plan"  // no plan is in force
	plantNotLead = "not-lead" // whoever asks is no lead there
)

// plantRow is what the page and the interface show of a plant.
func (s *Server) plantRow(r *request, one *theirPlant) plantJSON {
	out := plantJSON{Code: one.Plant, Name: string(one.Plant), Address: s.plantAddress(one.plant), State: plantOpen}
	if one.plan != nil {
		out.Name = one.plan.Plant.Name
	}
	switch {
	case one.server == nil:
		out.State, out.Trouble = plantShut, r.troubleOf(one.why)
		return out
	case one.plan == nil:
		out.State = plantNoPlan
		return out
	case !one.lead:
		out.State = plantNotLead
		return out
	}
	rep := one.server.report()
	o := rep.Outlook(0)
	out.Open = &openJSON{o.Open[audit.Critical], o.Open[audit.Major], o.Open[audit.Minor], o.Open[audit.Note]}
	n := len(o.Overdue)
	out.Overdue = &n
	view := one.server.Book.View()
	out.Size, out.Root, out.Head = &view.Head.Size, view.Head.Root.String(), string(view.Head.Checkpoint)
	if size := view.State.Size(); size > 0 {
		out.Signed = &view.State.First(size - 1).Recorded
	}
	if err := one.server.Book.Behind(); err != nil {
		out.State, out.Trouble = plantBehind, r.troubleOf(err)
	} else if key := one.server.trouble(r.ctx); key != "" {
		out.State, out.Trouble = plantStuck, r.say(key)
	}
	return out
}

// troubleOf is an error in words for a lead: what and what to do, and not the words of a driver, which may name hosts.
func (r *request) troubleOf(err error) string {
	var own *records.Error
	if !errors.As(err, &own) || own.Kind == records.Internal {
		return r.say("plant-shut-unknown")
	}
	text := r.sentence(own.What)
	if own.Do != "" {
		text += " " + r.ofBook(own.Do)
	}
	return text
}

// plantAddress is where browsers find a plant: under its host, at the port of this page.
func (s *Server) plantAddress(p *company.Plant) string {
	scheme := "http://"
	if s.TLS {
		scheme = "https://"
	}
	return scheme + joinPort(p.Host, s.at.port) + "/"
}

func (s *Server) apiCompanyPlants(r *request) (reply, error) {
	out := plantsJSON{Company: s.Company.File.Name, Plants: []plantJSON{}}
	for _, one := range s.plantsOf(r) {
		out.Plants = append(out.Plants, s.plantRow(r, &one))
	}
	return reply{json: out}, nil
}

// companyPlants is the company's page.
func (s *Server) companyPlants(r *request) (reply, error) {
	p := &pages.Plants{Frame: s.frame(r, r.say("nav-plants"), "plants"), Firm: s.Company.File.Name, At: r.exactly(r.now)}
	all := s.plantsOf(r)
	for i := range all {
		one := &all[i]
		row := s.plantRow(r, one)
		x := pages.PlantRow{Code: string(row.Code), Name: row.Name, Href: row.Address, State: row.State, Trouble: row.Trouble, Root: row.Root}
		if one.plan != nil {
			x.Where = one.plan.Plant.Address
		}
		if row.Open != nil {
			for _, c := range []struct {
				severity string
				n        int
			}{{"critical", row.Open.Critical}, {"major", row.Open.Major}, {"minor", row.Open.Minor}, {"note", row.Open.Note}} {
				x.Counts = append(x.Counts, pages.Count{Severity: c.severity, N: c.n, Href: row.Address + "findings?severity=" + c.severity})
			}
			x.Overdue, x.Size = *row.Overdue, int64(*row.Size)
			x.Today = row.Address + "today"
		}
		if row.Signed != nil {
			x.Signed = row.Signed.Time().In(one.plan.Location()).Format("2006-01-02 15:04:05 -07:00")
		}
		p.Plants = append(p.Plants, x)
	}
	p.Others = len(s.Company.File.Plants) - len(all)
	p.Frame.Size, p.Frame.Root = int64(s.sizes(r)), ""
	return page(p)
}

// companyHeadJSON is what a page that is open asks when its stream broke off.
type companyHeadJSON struct {
	Size records.Position `json:"size"`
}

func (s *Server) apiCompanyHead(r *request) (reply, error) {
	return reply{json: companyHeadJSON{s.sizes(r)}}, nil
}

// sizes is how many entries the journals have together that whoever asks may see. It only grows while the page is open, but for a plant that
// comes or goes, which counts as growing too: a page that is open is to show it.
func (s *Server) sizes(r *request) (sum records.Position) {
	for _, one := range s.plantsOf(r) {
		if one.server != nil && one.lead {
			sum += one.server.Book.View().Head.Size
		}
	}
	return sum
}

// companyEvents tells a page that is open when a journal it shows has grown.
func (s *Server) companyEvents(r *request) (reply, error) {
	leave, ok := s.events.enter(records.PersonCode(string(r.home) + "/" + string(r.who.Code)))
	if !ok {
		return reply{}, errTooManyOpen
	}
	again := &request{token: r.token, quiet: true}
	of := growth{func() records.Position { return s.sizes(again) }, inAMoment, func() bool { return s.stillLeads(again) }}
	return reply{media: "text/event-stream; charset=utf-8", stream: func(w *bufio.Writer) {
		defer leave()
		_ = s.events.tell(w, of) // the browser has gone, most likely; there is nobody to tell
	}}, nil
}

// companyPause is how often the journals are looked at for a page that is open: there is no one book that says when it has grown.
const companyPause = time.Second

func inAMoment() <-chan struct{} {
	c := make(chan struct{})
	time.AfterFunc(companyPause, func() { close(c) })
	return c
}
