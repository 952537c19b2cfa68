package trace

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
)

// describe says what the floor knows of one lot.
func (m *maker) describe(to *Lot, l *lots.Lot) {
	to.Code, to.Item, to.Status, to.Begins = l.Code, l.Item, l.Status, l.Begins
	to.Title, to.Stage = plan.Text{"en": string(l.Item)}, ""
	if m.p != nil {
		if item := m.p.Item(l.Item); item != nil {
			to.Title, to.Stage = item.Title, item.Stage
		}
	}
	to.Entered, to.Used, to.Standing, to.Adjusted = l.Entered, l.Used, l.Standing(), l.Adjusted
	if l.DryKnown && l.Origin != nil {
		dry := l.Dry
		to.Dry = &dry
	}
	for place, mass := range l.At.All() {
		to.Where = append(to.Where, Whereabouts{place, m.stationTitle(place), mass})
	}
	slices.SortFunc(to.Where, func(a, b Whereabouts) int {
		return cmp.Or(strings.Compare(string(a.Place.Holder), string(b.Place.Holder)), strings.Compare(string(a.Place.Station), string(b.Place.Station)))
	})
	to.KilnDates = l.KilnDates()
	for _, o := range l.Outputs {
		to.Bags += o.Bags
		if o.BestBy != nil && !slices.Contains(to.BestBy, *o.BestBy) {
			to.BestBy = append(to.BestBy, *o.BestBy)
		}
	}
	slices.Sort(to.BestBy)
	to.Held, to.Samples = l.HeldAt(m.f.At), l.Samples
	for _, h := range l.Holds {
		hold := Hold{From: h.Hold.Happened, Why: h.Hold.Fact.(*records.Hold).Why, Entry: h.Hold.Position}
		if h.Release != nil {
			hold.To = h.Release.Happened
		}
		to.Holds = append(to.Holds, hold)
	}
	if r := l.Rejected; r != nil {
		to.Holds = append(to.Holds, Hold{From: r.Happened, Why: r.Fact.(*records.Release).Why, Rejected: true, Entry: r.Position})
	}
	for _, r := range l.Events {
		switch fact := r.Fact.(type) {
		case *records.Sample:
			n := fact.Number
			if fact.Act == "discarded" {
				n = -n
			}
			if note := (SampleNote{r.Happened, n, fact.Where, r.Position}); !slices.Contains(to.SampleNotes, note) { // a draw names its entry again
				to.SampleNotes = append(to.SampleNotes, note)
			}
		case *records.Receipt:
			if fact.TheirLot != "" && fact.Lot == l.Code && !slices.Contains(to.TheirLots, fact.TheirLot) {
				to.TheirLots = append(to.TheirLots, fact.TheirLot)
			}
		}
	}
}

func (m *maker) stationTitle(p lots.Place) plan.Text {
	if p.Holder != "" {
		return nil
	}
	return m.station(p.Station)
}

func (m *maker) station(code records.StationCode) plan.Text {
	if m.p != nil {
		if s := m.p.Station(code); s != nil {
			return s.Title
		}
	}
	return plan.Text{"en": string(code)}
}

// Movement is mass of one lot changing hands: in by a receipt, out or onward by a handover.
type Movement struct {
	When      records.Instant
	Inward    bool
	Onward    bool // from one partner to another
	Lot       records.LotCode
	Mass      records.Micrograms
	Estimated bool // a share of what a mixed station gave out
	Bags      int
	From, To  lots.Place
	Use       records.Use
	Status    records.Status // as received or sold
	TheirLot  string
	Carrier   records.PartnerCode
	Vehicle   string // number
	Packaging string
	Papers    []string
	Signed    records.PersonCode // for the plant
	Accepted  []Acceptance
	Forward   bool // of the subject or of what was made of it
	Entry     records.Position
}

// Acceptance is the other party's signature, given at once or by a later entry.
type Acceptance struct {
	By    string
	At    records.Instant
	Mass  *records.Micrograms // by their scale
	Drawn bool                // a signature drawn with a finger is on file
	Entry records.Position
}

func (m *maker) movements() {
	for i := range m.f.Transfers {
		t := m.f.Transfers[i]
		for _, p := range t.Portions {
			k, traced := m.at[int32(p.Lot)]
			if !traced {
				continue
			}
			mv := Movement{When: t.Record.Happened, Lot: m.f.Lots[p.Lot].Code, Mass: p.Mass, Estimated: p.Estimated, From: t.From, To: t.To,
				Signed: t.Record.Performer(), Entry: t.Record.Position, Forward: m.onward(k)}
			if r := t.Receipt; r != nil {
				mv.Inward, mv.Status, mv.TheirLot, mv.Papers, mv.Packaging = true, r.Status, r.TheirLot, r.Papers, r.Packaging
				mv.Carrier, mv.Vehicle = r.Vehicle.Carrier, r.Vehicle.Number
				if r.ReleasedBy != "" {
					mv.Accepted = append(mv.Accepted, Acceptance{By: r.ReleasedBy, At: t.Record.Happened, Mass: exact(r.Theirs), Entry: t.Record.Position})
				}
			}
			if h := t.Handover; h != nil {
				mv.Onward, mv.Use, mv.Status, mv.Bags, mv.Papers, mv.Packaging = t.From.Holder != "", h.Use, h.Status, h.Bags, h.Papers, h.Packaging
				mv.Carrier, mv.Vehicle = h.Vehicle.Carrier, h.Vehicle.Number
				mv.Accepted = acceptances(t)
			}
			m.t.Estimated = m.t.Estimated || mv.Estimated
			m.t.Movements = append(m.t.Movements, mv)
		}
	}
	slices.SortStableFunc(m.t.Movements, func(a, b Movement) int { return cmp.Or(cmp.Compare(a.When, b.When), cmp.Compare(a.Entry, b.Entry)) })
	m.consignees()
}

// onward says whether a lot of the trace is of the subject or was made of it.
func (m *maker) onward(k int) bool {
	return m.t.Lots[k].Down >= 0 || slices.Contains(m.from.Subject, m.order[k])
}

func acceptances(t *lots.Transfer) (out []Acceptance) {
	if a := t.Handover.Received; a != nil {
		out = append(out, accepted(a, t.Record.Happened, t.Record.Position))
	}
	for _, c := range t.Confirms {
		if a := c.Fact.(*records.Handover).Received; a != nil {
			out = append(out, accepted(a, c.Happened, c.Position))
		}
	}
	return out
}

func accepted(a *records.Acceptance, when records.Instant, pos records.Position) Acceptance {
	if a.At != 0 {
		when = a.At
	}
	return Acceptance{By: a.By, At: when, Mass: exact(a.Mass), Drawn: a.Signature != "", Entry: pos}
}

// exact is a mass in micrograms; nil when there is none that can be read.
func exact(m *records.Mass) *records.Micrograms {
	if m == nil {
		return nil
	}
	ug, err := m.Micrograms()
	if err != nil {
		return nil
	}
	return &ug
}

// Consignee is a partner that received some of the subject or of what was made of it.
type Consignee struct {
	Partner     records.PartnerCode
	Direct      bool               // from us; else from another partner only
	Sent        records.Micrograms // to it from our stations
	Onward      records.Micrograms // to it from other partners
	Standing    records.Micrograms // computed to be with it still
	Estimated   bool
	Lots        []records.LotCode // in order
	First, Last records.Instant   // handovers
	Confirmed   bool              // every handover to it was signed for
}

func (m *maker) consignees() {
	by := map[records.PartnerCode]*Consignee{}
	for i := range m.t.Movements {
		mv := &m.t.Movements[i]
		if mv.Inward || !mv.Forward || mv.To.Holder == "" {
			continue
		}
		c := by[mv.To.Holder]
		if c == nil {
			c = &Consignee{Partner: mv.To.Holder, First: mv.When, Confirmed: true}
			by[mv.To.Holder] = c
		}
		if mv.Onward {
			c.Onward += mv.Mass
		} else {
			c.Direct = true
			c.Sent += mv.Mass
		}
		c.Last = mv.When
		c.Estimated = c.Estimated || mv.Estimated
		c.Confirmed = c.Confirmed && len(mv.Accepted) > 0
		if !slices.Contains(c.Lots, mv.Lot) {
			c.Lots = append(c.Lots, mv.Lot)
		}
	}
	for k := range m.t.Lots {
		if m.onward(k) {
			for _, w := range m.t.Lots[k].Where {
				if c := by[w.Place.Holder]; c != nil {
					c.Standing += w.Mass
				}
			}
		}
	}
	for _, c := range by {
		slices.Sort(c.Lots)
		m.t.Consignees = append(m.t.Consignees, *c)
	}
	slices.SortFunc(m.t.Consignees, func(a, b Consignee) int { return strings.Compare(string(a.Partner), string(b.Partner)) })
}

// Partner is a firm on the other side of the fence, as the plan has it.
type Partner struct {
	Code     records.PartnerCode
	Name     string // the code when the plan does not know it
	Address  string
	Roles    []string
	Contacts []Contact
}

// Contact is a person there.
type Contact struct {
	Name, Phone, Email, Hours string
	AtNight                   bool // answers at any hour ("24h" in the plan)
}

// partners looks up everybody the trace names.
func (m *maker) partners() {
	var codes []records.PartnerCode
	add := func(c records.PartnerCode) {
		if c != "" {
			codes = append(codes, c)
		}
	}
	for i := range m.t.Movements {
		mv := &m.t.Movements[i]
		add(mv.From.Holder)
		add(mv.To.Holder)
		add(mv.Carrier)
	}
	for k := range m.t.Lots {
		for _, w := range m.t.Lots[k].Where {
			add(w.Place.Holder)
		}
	}
	slices.Sort(codes)
	for _, c := range slices.Compact(codes) {
		m.t.Partners = append(m.t.Partners, partner(m.p, c))
	}
}

func partner(p *plan.Plan, c records.PartnerCode) Partner {
	out := Partner{Code: c, Name: string(c)}
	if p == nil {
		return out
	}
	row := p.Partner(c)
	if row == nil {
		return out
	}
	out.Name, out.Address, out.Roles = row.Name, row.Address, row.Roles
	for _, x := range row.Contacts {
		out.Contacts = append(out.Contacts, Contact{x.Name, x.Phone, x.Email, x.Hours, strings.Contains(strings.ToLower(x.Hours), "24h")})
	}
	return out
}

// Partner is a partner of the trace by its code; one with only the code when it is not there.
func (t *Trace) Partner(c records.PartnerCode) Partner {
	if i, ok := slices.BinarySearchFunc(t.Partners, c, func(p Partner, c records.PartnerCode) int { return strings.Compare(string(p.Code), string(c)) }); ok {
		return t.Partners[i]
	}
	return Partner{Code: c, Name: string(c)}
}

// Lot is a lot of the trace by its code, or nil.
func (t *Trace) Lot(code records.LotCode) *Lot {
	for i := range t.Lots {
		if t.Lots[i].Code == code {
			return &t.Lots[i]
		}
	}
	return nil
}
