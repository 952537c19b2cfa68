package offer

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Offer is everything the forms choose from.
type Offer struct {
	Format      int               `json:"format"` // 1
	At          records.Instant   `json:"at"`
	Size        records.Position  `json:"size"`  // entries of the journal that are in the picture
	Today       calendar.Date     `json:"today"` // the plant's day
	Zone        string            `json:"zone"`  // IANA name
	Unit        string            `json:"unit"`  // masses are typed and shown in it: lb or kg
	Stations    []Station         `json:"stations"`
	Holders     []Holder          `json:"holders"` // warehouses with goods of ours
	Lots        []Lot             `json:"lots"`    // that stand somewhere above, or began lately
	Items       []Item            `json:"items"`
	Partners    []Partner         `json:"partners"`
	Documents   []Document        `json:"documents"` // partners' certificates
	Instruments []Instrument      `json:"instruments"`
	Ways        []Way             `json:"ways"`
	Intakes     []Intake          `json:"intakes"`
	Recipes     []Recipe          `json:"recipes"`
	Outlets     []Outlet          `json:"outlets"`
	Unlike      []Unlike          `json:"unlike"`
	Recent      []records.EntryID `json:"recent"` // the newest entries about goods that are in the picture
}

// Station is a place grain can be, and what is there.
type Station struct {
	Code     records.StationCode `json:"code"`
	Title    plan.Text           `json:"title"`
	Kind     string              `json:"kind"`
	Holds    string              `json:"holds"` // separate, mixed, passes
	Packaged bool                `json:"packaged,omitempty"`
	Capacity *records.Mass       `json:"capacity,omitempty"`
	Purge    *records.Mass       `json:"purge,omitempty"`
	Here     []Standing          `json:"here"`
	Mixed    []records.LotCode   `json:"residents,omitempty"` // of a mixed station: all since it was last proven empty
	Cautions []Caution           `json:"cautions,omitempty"`
}

// Standing is what of a lot stands at a place.
type Standing struct {
	Lot   records.LotCode `json:"lot"`
	Ug    string          `json:"ug"`              // micrograms
	Since records.Instant `json:"since,omitempty"` // when it came
}

// Holder is a partner that keeps goods of ours.
type Holder struct {
	Partner records.PartnerCode `json:"partner"`
	Here    []Standing          `json:"here"`
}

// Caution is one of the plan's, of work at a station.
type Caution struct {
	Text   plan.Text `json:"text"`
	Source string    `json:"source"`
}

// Lot is what a form needs to know of a lot.
type Lot struct {
	Code      records.LotCode  `json:"code"`
	Item      records.ItemCode `json:"item"`
	Status    records.Status   `json:"status"`
	Held      bool             `json:"held,omitempty"` // stopped, or rejected
	Why       string           `json:"why,omitempty"`  // of the hold
	Moisture  string           `json:"moisture,omitempty"`
	Samples   int              `json:"samples,omitempty"`
	Kilned    []calendar.Date  `json:"kilned,omitempty"` // its own and of what it was made from
	BestBy    *calendar.Date   `json:"bestBy,omitempty"`
	BagNet    *records.Mass    `json:"bagNet,omitempty"`
	Container string           `json:"container,omitempty"`
}

// Item is an item of the plan.
type Item struct {
	Code      records.ItemCode `json:"code"`
	Title     plan.Text        `json:"title"`
	Stage     string           `json:"stage"`
	Allergens []string         `json:"allergens,omitempty"`
	BestBy    *BestBy          `json:"bestBy,omitempty"`
	BagNet    *records.Mass    `json:"bagNet,omitempty"` // as bags of it were last labelled
	Letters   string           `json:"letters"`          // for a first lot code
}

// BestBy is the plan's rule for a shelf life.
type BestBy struct {
	Months int  `json:"months"`
	Kiln   bool `json:"kiln"` // counted from the kiln date; else from the day it was made
}

// Partner is somebody across the fence.
type Partner struct {
	Code         records.PartnerCode    `json:"code"`
	Name         string                 `json:"name"`
	Roles        []string               `json:"roles"`
	Contacts     []string               `json:"contacts"`
	Certificates []records.DocumentCode `json:"certificates,omitempty"`
}

// Document is a certificate on file.
type Document struct {
	Code  records.DocumentCode `json:"code"`
	Title string               `json:"title"`
	About string               `json:"about"`
	To    *calendar.Date       `json:"to,omitempty"`
	Holds bool                 `json:"holds"` // today
}

// Instrument is a scale or a moisture meter.
type Instrument struct {
	Code  records.InstrumentCode `json:"code"`
	Title plan.Text              `json:"title"`
	Is    string                 `json:"is"` // scale, meter
}

const (
	latelyDays = 14  // a lot that began within them is named though nothing of it stands anywhere
	sampleDays = 400 // so is one that began within them and of which samples are kept
	mostRecent = 60  // entries about goods that are named as being in the picture
)

// At is the offer at the moment of a report; nil when no plan is in force then.
func At(rep *audit.Report) *Offer {
	p := rep.State.PlanAt(rep.At)
	if p == nil || rep.Goods == nil {
		return nil
	}
	m := &maker{rep: rep, st: rep.State, f: rep.Goods.Floor, p: p, named: map[int]bool{}, nets: map[records.ItemCode]*records.Mass{}}
	m.o = &Offer{Format: 1, At: rep.At, Size: rep.State.Size(), Today: p.Day(rep.At), Zone: p.Plant.Zone, Unit: p.MassUnit()}
	m.habits()
	m.stations()
	m.holders()
	m.lots()
	m.items()
	m.partners()
	m.documents()
	m.instruments()
	m.o.Unlike = unlike(p)
	m.recent()
	return m.o
}

// maker gathers one offer.
type maker struct {
	rep   *audit.Report
	st    *state.State
	f     *lots.Floor
	p     *plan.Plan
	o     *Offer
	named map[int]bool // lots that are to be described
	nets  map[records.ItemCode]*records.Mass
}

// text is a text in every language of the plan; a bare one is in its first.
func (m *maker) text(t plan.Text) plan.Text {
	out := plan.Text{}
	for _, l := range m.p.Plant.Languages {
		out[l] = t.In(l)
	}
	return out
}

func (m *maker) stations() {
	cautions := m.cautions()
	for i := range m.p.Stations {
		row := &m.p.Stations[i]
		if row.Holds == "nothing" {
			continue
		}
		s := Station{Code: row.Code, Title: m.text(row.Title), Kind: row.Kind, Holds: row.Holds, Packaged: row.Packaged, Capacity: row.Capacity, Purge: row.Purge,
			Here: m.standing(lots.Place{Station: row.Code}), Cautions: cautions[row.Code]}
		if at := m.f.Stations[row.Code]; at != nil && at.Mixed {
			for _, l := range at.Residents {
				m.named[l] = true
				s.Mixed = append(s.Mixed, m.f.Lots[l].Code)
			}
		}
		m.o.Stations = append(m.o.Stations, s)
	}
}

// standing is what stands at a place, the newest first.
func (m *maker) standing(at lots.Place) []Standing {
	out, since := []Standing{}, map[int]records.Instant{}
	for c := range m.f.Contacts[at.Station].All() {
		if c.To == lots.Forever {
			since[c.Lot] = c.From
		}
	}
	for _, i := range m.f.There(at) {
		m.named[i] = true
		l := m.f.Lots[i]
		out = append(out, Standing{Lot: l.Code, Ug: strconv.FormatInt(int64(l.At.Of(at)), 10), Since: since[i]})
	}
	slices.SortStableFunc(out, func(a, b Standing) int { return cmp.Compare(b.Since, a.Since) })
	return out
}

// holders are the warehouses: what a customer once got is no longer ours to move.
func (m *maker) holders() {
	m.o.Holders = []Holder{}
	for i := range m.p.Partners {
		x := &m.p.Partners[i]
		if !slices.Contains(x.Roles, "warehouse") {
			continue
		}
		if here := m.standing(lots.Place{Holder: x.Code}); len(here) > 0 {
			m.o.Holders = append(m.o.Holders, Holder{x.Code, here})
		}
	}
}

// mostCautions keeps a phone's first screen readable.
const mostCautions = 4

func (m *maker) cautions() map[records.StationCode][]Caution {
	out := map[records.StationCode][]Caution{}
	for i := range m.p.Tasks {
		for _, c := range m.p.Tasks[i].Cautions {
			for _, s := range m.p.Tasks[i].Stations {
				same := func(x Caution) bool { return maps.Equal(x.Text, m.text(c.Text)) }
				if len(out[s]) < mostCautions && !slices.ContainsFunc(out[s], same) {
					out[s] = append(out[s], Caution{m.text(c.Text), c.Source})
				}
			}
		}
	}
	return out
}

func (m *maker) lots() {
	since := m.rep.At - latelyDays*24*3600*1000
	var described []int
	for i, l := range m.f.Lots {
		if m.named[i] || l.Begins >= since || l.Samples > 0 && l.Begins >= m.rep.At-sampleDays*24*3600*1000 {
			described = append(described, i)
		}
	}
	shelves := audit.Shelves(m.st, m.f, described...)
	m.o.Lots = []Lot{}
	for _, i := range described {
		l := m.f.Lots[i]
		row := Lot{Code: l.Code, Item: l.Item, Status: l.Status, Samples: l.Samples, Held: l.HeldAt(m.rep.At), Kilned: shelves[i].Kilned, BestBy: shelves[i].BestBy, Moisture: moisture(l)}
		if row.Held {
			row.Why = whyHeld(l)
		}
		for _, out := range l.Outputs {
			if out.BagNet != nil {
				row.BagNet = out.BagNet
			}
			if out.Container != "" {
				row.Container = out.Container
			}
		}
		m.o.Lots = append(m.o.Lots, row)
	}
}

// whyHeld is the reason somebody gave when they stopped it last.
func whyHeld(l *lots.Lot) string {
	for _, r := range slices.Backward(l.Events) {
		switch f := r.Fact.(type) {
		case *records.Hold:
			return f.Why
		case *records.Release:
			if f.Rejected {
				return f.Why
			}
		}
	}
	return ""
}

// moisture is the last that was written down of a lot, as written; "" none.
func moisture(l *lots.Lot) string {
	for _, r := range slices.Backward(l.Events) {
		for _, w := range weights(r.Fact, l.Code) {
			if w.Moisture != nil {
				return w.Moisture.String()
			}
		}
	}
	return ""
}

// weights are those an entry gives of a lot, the last first.
func weights(f records.Fact, lot records.LotCode) (out []records.Weight) {
	switch f := f.(type) {
	case *records.Receipt:
		out = append(out, f.Weight)
	case *records.Move:
		if f.Lot == lot {
			out = append(out, f.Weight)
		}
	case *records.Process:
		for i := range f.Outputs {
			if f.Outputs[i].Lot == lot {
				out = append(out, f.Outputs[i].Weight)
			}
		}
		for i := range f.Inputs {
			if f.Inputs[i].Lot == lot {
				out = append(out, f.Inputs[i].Weight)
			}
		}
	case *records.Count:
		for i := range f.Found {
			if f.Found[i].Lot == lot {
				out = append(out, f.Found[i].Weight)
			}
		}
	}
	return out
}

func (m *maker) items() {
	for i := range m.p.Items {
		it := &m.p.Items[i]
		row := Item{Code: it.Code, Title: m.text(it.Title), Stage: it.Stage, Allergens: it.Allergens, BagNet: m.nets[it.Code], Letters: letters(it.Code)}
		if it.BestBy != nil {
			row.BestBy = &BestBy{it.BestBy.Months, audit.FromKiln(it.BestBy)}
		}
		m.o.Items = append(m.o.Items, row)
	}
}

func (m *maker) partners() {
	for i := range m.p.Partners {
		x := &m.p.Partners[i]
		row := Partner{Code: x.Code, Name: x.Name, Roles: x.Roles, Contacts: []string{}, Certificates: x.Certificates}
		for _, c := range x.Contacts {
			row.Contacts = append(row.Contacts, c.Name)
		}
		m.o.Partners = append(m.o.Partners, row)
	}
}

// documents are the certificates of partners: each with the filing that holds longest.
func (m *maker) documents() {
	m.o.Documents = []Document{}
	for i := range m.p.Partners {
		for _, code := range m.p.Partners[i].Certificates {
			row := Document{Code: code, Title: string(code), About: string(m.p.Partners[i].Code)}
			if d := m.p.Document(code); d != nil {
				row.Title = d.Title
			}
			for _, r := range m.st.Kind(records.KindDocument).Until(m.rep.At) {
				d := r.Fact.(*records.Document)
				if d.Code != code {
					continue
				}
				holds := d.HoldsOn(m.o.Today)
				if holds || !row.Holds {
					row.To, row.Holds = d.To, holds
				}
			}
			m.o.Documents = append(m.o.Documents, row)
		}
	}
}

func (m *maker) instruments() {
	m.o.Instruments = []Instrument{}
	for i := range m.p.Instruments {
		in := &m.p.Instruments[i]
		_, err := records.Mass{Value: records.NewDecimal(1, 0), Unit: in.Unit}.Micrograms()
		switch {
		case err == nil:
			m.o.Instruments = append(m.o.Instruments, Instrument{in.Code, m.text(in.Title), "scale"})
		case in.Unit == "%":
			m.o.Instruments = append(m.o.Instruments, Instrument{in.Code, m.text(in.Title), "meter"})
		}
	}
}

// recent are the newest entries about goods that are in the picture, so that a phone knows which of its own are in it.
func (m *maker) recent() {
	var all []*state.Record
	for _, k := range lots.Kinds() {
		list := m.st.Kind(k).Until(m.rep.At)
		all = append(all, list[max(0, len(list)-mostRecent):]...)
	}
	slices.SortFunc(all, func(a, b *state.Record) int { return cmp.Compare(b.Position, a.Position) })
	m.o.Recent = []records.EntryID{}
	for _, r := range all[:min(len(all), mostRecent)] {
		m.o.Recent = append(m.o.Recent, r.ID)
	}
}
