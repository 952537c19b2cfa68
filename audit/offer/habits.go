package offer

import (
	"slices"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/state"
)

// Way is what goods usually run through between two places. From is empty for what comes in, To for what goes out; At is the
// station of a process instead.
type Way struct {
	From records.StationCode   `json:"from,omitempty"`
	To   records.StationCode   `json:"to,omitempty"`
	At   records.StationCode   `json:"at,omitempty"`
	Via  []records.StationCode `json:"via"`
}

// Intake is how an item usually comes in, the newest habit first.
type Intake struct {
	Item      records.ItemCode      `json:"item"`
	Statuses  []records.Status      `json:"statuses"`
	Sources   []records.PartnerCode `json:"sources"`
	To        []records.StationCode `json:"to"`
	Carriers  []records.PartnerCode `json:"carriers"`
	Packaging string                `json:"packaging,omitempty"`
	Variety   string                `json:"variety,omitempty"`
	Gauges
	Names []Named `json:"names"`
}

// Gauges are the instruments that were last used for it.
type Gauges struct {
	Scale records.InstrumentCode `json:"scale,omitempty"`
	Meter records.InstrumentCode `json:"meter,omitempty"`
}

// Recipe is what a process usually makes of an item.
type Recipe struct {
	Process  string                `json:"process"`
	Item     records.ItemCode      `json:"item"`
	Inputs   int                   `json:"inputs"` // lots that usually go in
	Stations []records.StationCode `json:"stations"`
	Outputs  []Product             `json:"outputs"`
	Gauges                         // of what goes in
}

// Product is one output of a recipe.
type Product struct {
	Item      records.ItemCode      `json:"item"`
	To        []records.StationCode `json:"to"`
	Bags      bool                  `json:"bags,omitempty"`
	BagNet    *records.Mass         `json:"bagNet,omitempty"`
	KilnDate  bool                  `json:"kilnDate,omitempty"` // it is the kiln's: the day it came off is its kiln date
	Container string                `json:"container,omitempty"`
	Gauges
	Names []Named `json:"names"`
}

// Outlet is how an item usually leaves for a use.
type Outlet struct {
	Item      records.ItemCode      `json:"item"`
	Use       records.Use           `json:"use"`
	To        []records.PartnerCode `json:"to"`
	Carriers  []records.PartnerCode `json:"carriers"`
	Label     string                `json:"label,omitempty"`
	Packaging string                `json:"packaging,omitempty"`
	Checked   bool                  `json:"checked,omitempty"` // the container was examined
	Gauges
}

const (
	lookBack  = 400 // entries of a kind that habits are read from
	mostNamed = 8   // choices of one habit
)

// lastOf are the newest so many of a list, the newest first.
func lastOf[T any](list []T) []T {
	out := slices.Clone(list[max(0, len(list)-lookBack):])
	slices.Reverse(out)
	return out
}

// note adds a choice to a habit, once, while there is room.
func note[C ~string](list *[]C, c C) {
	if c != "" && len(*list) < mostNamed && !slices.Contains(*list, c) {
		*list = append(*list, c)
	}
}

func (m *maker) habits() {
	m.o.Ways, m.o.Intakes, m.o.Recipes, m.o.Outlets = []Way{}, []Intake{}, []Recipe{}, []Outlet{}
	for _, r := range lastOf(m.st.Kind(records.KindReceipt).Until(m.rep.At)) {
		m.intake(r, r.Fact.(*records.Receipt))
	}
	for _, r := range lastOf(m.st.Kind(records.KindMove).Until(m.rep.At)) {
		f := r.Fact.(*records.Move)
		m.way(Way{From: f.From, To: f.To, Via: f.Via})
	}
	for _, s := range lastOf(m.f.Steps) {
		if f, ok := s.Record.Fact.(*records.Process); ok && len(s.In) > 0 {
			m.recipe(s, f)
		}
	}
	for _, t := range lastOf(m.f.Transfers) {
		if t.Handover != nil && len(t.Portions) > 0 {
			m.outlet(t)
		}
	}
}

// way keeps the newest of its kind.
func (m *maker) way(w Way) {
	if w.Via == nil {
		w.Via = []records.StationCode{}
	}
	same := func(x Way) bool { return x.From == w.From && x.To == w.To && x.At == w.At }
	if !slices.ContainsFunc(m.o.Ways, same) {
		m.o.Ways = append(m.o.Ways, w)
	}
}

func (m *maker) intake(r *state.Record, f *records.Receipt) {
	m.way(Way{To: f.To, Via: f.Via})
	i := slices.IndexFunc(m.o.Intakes, func(x Intake) bool { return x.Item == f.Item })
	if i < 0 {
		i = len(m.o.Intakes)
		m.o.Intakes = append(m.o.Intakes, Intake{Item: f.Item, Statuses: []records.Status{}, Sources: []records.PartnerCode{}, To: []records.StationCode{}, Carriers: []records.PartnerCode{},
			Packaging: f.Packaging, Variety: f.Variety, Gauges: Gauges{f.Weight.Scale, f.Weight.Meter}, Names: []Named{}})
	}
	x := &m.o.Intakes[i]
	note(&x.Statuses, f.Status)
	note(&x.Sources, f.Source)
	note(&x.To, f.To)
	note(&x.Carriers, f.Vehicle.Carrier)
	m.name(&x.Names, f.Status, f.Lot, r, nil)
}

func (m *maker) recipe(s *lots.Step, f *records.Process) {
	m.way(Way{At: f.Station, Via: f.Via})
	item := m.f.Lots[s.In[0].Lot].Item
	if item == "" {
		return // a lot that was only ever mentioned
	}
	i := slices.IndexFunc(m.o.Recipes, func(x Recipe) bool { return x.Process == f.Process && x.Item == item })
	if i < 0 {
		i = len(m.o.Recipes)
		in := f.Inputs[0].Weight
		m.o.Recipes = append(m.o.Recipes, Recipe{Process: f.Process, Item: item, Inputs: len(f.Inputs), Stations: []records.StationCode{}, Outputs: []Product{}, Gauges: Gauges{in.Scale, in.Meter}})
		for k := range f.Outputs {
			m.product(&m.o.Recipes[i], s, &f.Outputs[k])
		}
	}
	x := &m.o.Recipes[i]
	note(&x.Stations, f.Station)
	var from []records.LotCode
	for _, in := range s.In {
		from = append(from, m.f.Lots[in.Lot].Code)
	}
	// Where the same things went on earlier occasions. Outputs are told apart by item and, of one item, by their order.
	for k := range f.Outputs {
		o := &f.Outputs[k]
		if o.BagNet != nil && m.nets[o.Item] == nil {
			m.nets[o.Item] = o.BagNet
		}
		if p := x.product(f, k); p != nil {
			note(&p.To, o.To)
			m.name(&p.Names, o.Status, o.Lot, s.Record, from)
		}
	}
}

// product is the row of the recipe for the kth output of a process like it.
func (x *Recipe) product(f *records.Process, k int) *Product {
	nth := 0
	for _, o := range f.Outputs[:k] {
		if o.Item == f.Outputs[k].Item {
			nth++
		}
	}
	for i := range x.Outputs {
		if x.Outputs[i].Item == f.Outputs[k].Item {
			if nth == 0 {
				return &x.Outputs[i]
			}
			nth--
		}
	}
	return nil
}

func (m *maker) product(x *Recipe, s *lots.Step, o *records.Output) {
	// A kiln date of the very day is the kiln's own; a later one is handed on from what went in.
	kiln := o.KilnDate != nil && !slices.ContainsFunc(s.In, func(in lots.Portion) bool { return len(m.f.Lots[in.Lot].KilnDates()) > 0 }) && *o.KilnDate == m.dayOf(s.Record)
	x.Outputs = append(x.Outputs, Product{Item: o.Item, To: []records.StationCode{}, Bags: o.Bags > 0, BagNet: o.BagNet, KilnDate: kiln, Container: o.Container,
		Gauges: Gauges{o.Weight.Scale, o.Weight.Meter}, Names: []Named{}})
}

func (m *maker) outlet(t *lots.Transfer) {
	f := t.Handover
	if f.From != "" {
		m.way(Way{From: f.From, Via: f.Via})
	}
	item := m.f.Lots[t.Portions[0].Lot].Item
	i := slices.IndexFunc(m.o.Outlets, func(x Outlet) bool { return x.Item == item && x.Use == f.Use })
	if i < 0 {
		i = len(m.o.Outlets)
		m.o.Outlets = append(m.o.Outlets, Outlet{Item: item, Use: f.Use, To: []records.PartnerCode{}, Carriers: []records.PartnerCode{}, Label: f.Label, Packaging: f.Packaging,
			Checked: f.Checked != nil, Gauges: Gauges{f.Weight.Scale, f.Weight.Meter}})
	}
	x := &m.o.Outlets[i]
	note(&x.To, f.To)
	note(&x.Carriers, f.Vehicle.Carrier)
}

func (m *maker) dayOf(r *state.Record) calendar.Date { return m.p.Day(r.Happened) }

// letters are those a first code of an item begins with, when nothing shows how the plant names its lots.
func letters(item records.ItemCode) string {
	out := ""
	for i := 0; i < len(item) && len(out) < 3; i++ {
		if c := item[i]; c >= 'a' && c <= 'z' && (i == 0 || item[i-1] == '-' || len(out) > 0) {
			out += string(c - 'a' + 'A')
		}
	}
	if out == "" {
		return "L"
	}
	return out
}
