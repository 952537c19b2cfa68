package journey

import (
	"slices"
	"strings"

	"grainward/audit/across"
	"grainward/audit/trace"
	"grainward/exports"
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/lots"
	"grainward/records/plan"
)

// Format is the version of Form.
const Format = 1

// Input is what is to be shown.
type Input struct {
	Trace  *across.Trace
	At     records.Instant
	Lang   string                                // en or es
	Plan   func(company.PlantCode) *plan.Plan    // in force; nil for a plant that was not looked at
	Closed func(company.PlantCode) Closed        // why it was not
	Stamp  func(company.PlantCode) exports.Stamp // of a plant that was looked at; for the drawing and the workbook
}

// Closed says why a plant's records were not looked at.
type Closed string

const (
	Hidden Closed = "hidden" // whoever asks may not see them
	Unread Closed = "unread" // they can not be read now
)

// Form is a trace through plants with its words in one language.
type Form struct {
	Format    int             `json:"format"`
	Plant     string          `json:"plant"` // where it starts
	Subject   string          `json:"subject"`
	Of        string          `json:"of"`
	Code      string          `json:"code"`
	Direction string          `json:"direction"` // both, back, forward
	At        records.Instant `json:"at"`
	Plants    []Plant         `json:"plants"`
	Joins     []Join          `json:"joins"`
	Loose     []Loose         `json:"loose"`

	words map[string]string
}

// Plant is what lies at one plant.
type Plant struct {
	Code string `json:"code"`
	Name string `json:"name"`
	Lots []Lot  `json:"lots"`
}

// Lot is one lot there.
type Lot struct {
	Code     records.LotCode `json:"code"`
	Role     string          `json:"role"` // subject, upstream, downstream
	Up       *Far            `json:"up,omitzero"`
	Down     *Far            `json:"down,omitzero"`
	Title    string          `json:"title"`
	Status   records.Status  `json:"status,omitzero"`
	Entered  lineage.Kg      `json:"enteredKg"`
	Standing lineage.Kg      `json:"standingKg"`
	Mass     string          `json:"mass"`  // entered, for people
	Where    []string        `json:"where"` // where it is now, for people
}

// Far is how far a lot is from the subject.
type Far struct {
	Plants int `json:"plants"`
	Steps  int `json:"steps"`
}

// Join is a handover and the receipt that answers it.
type Join struct {
	From     string   `json:"from"`
	To       string   `json:"to"`
	Handover Paper    `json:"handover"`
	Receipt  Paper    `json:"receipt"`
	Named    string   `json:"named"` // as-written, bag, respelt, among, not-named
	Rule     string   `json:"rule"`  // only, papers, mass, time
	Choices  int      `json:"choices"`
	Receipts int      `json:"receipts"` // of this handover together
	Differs  bool     `json:"differs"`
	Says     []string `json:"says"`
}

// Paper is one side of a change of hands.
type Paper struct {
	Lots     []records.LotCode `json:"lots"`
	TheirLot string            `json:"theirLot,omitzero"`
	When     records.Instant   `json:"when"`
	Mass     lineage.Kg        `json:"massKg"`
	Papers   []string          `json:"papers,omitzero"`
	Entry    records.Position  `json:"entry"`
}

// Loose is a handover or receipt without a counterpart.
type Loose struct {
	Way   string `json:"way"` // sent, got
	From  string `json:"from"`
	To    string `json:"to"`
	Paper Paper  `json:"paper"`
	Why   string `json:"why"`             // none, taken, late, partner, unnamed, closed
	Shut  Closed `json:"closed,omitzero"` // of closed: hidden, unread
	Says  string `json:"says"`
}

var named = map[across.Named]string{across.AsWritten: "as-written", across.AsBag: "bag", across.Respelt: "respelt", across.Among: "among", across.NotNamed: "not-named"}

var directions = map[trace.Direction]string{trace.Both: "both", trace.Back: "back", trace.Forward: "forward"}

// Flatten puts a trace into words.
func Flatten(in Input) *Form {
	t := in.Trace
	m := &maker{Input: in, words: wordsIn(in.Lang)}
	f := &Form{Format: Format, Plant: string(t.Plant), Subject: t.Subject.Text, Of: string(t.Subject.Of), Code: t.Subject.Code, Direction: directions[t.Dir], At: in.At,
		Plants: []Plant{}, Joins: []Join{}, Loose: []Loose{}, words: m.words}
	for _, leg := range t.Legs {
		p := Plant{Code: string(leg.Plant), Name: m.name(leg.Plant), Lots: []Lot{}}
		for i := range leg.Lots {
			p.Lots = append(p.Lots, m.lot(leg.Plant, &leg.Lots[i]))
		}
		f.Plants = append(f.Plants, p)
	}
	for _, j := range t.Joins {
		f.Joins = append(f.Joins, m.join(j))
	}
	for _, s := range t.Sent {
		f.Loose = append(f.Loose, m.sent(s))
	}
	for _, g := range t.Got {
		f.Loose = append(f.Loose, m.got(g))
	}
	return f
}

type maker struct {
	Input
	words map[string]string
}

// name is a plant's name in its own plan; its code where that was not looked at.
func (m *maker) name(code company.PlantCode) string {
	if p := m.Plan(code); p != nil {
		return p.Plant.Name
	}
	return string(code)
}

// partner is another plant by the name that a plant's own plan has for it, with its code.
func (m *maker) partner(at company.PlantCode, code records.PartnerCode, is company.PlantCode) string {
	if p := m.Plan(at); p != nil {
		if row := p.Partner(code); row != nil {
			return row.Name + " (" + string(is) + ")"
		}
	}
	return string(is)
}

func (m *maker) lot(at company.PlantCode, l *across.Lot) Lot {
	p := m.Plan(at)
	out := Lot{Code: l.Code, Role: "downstream", Title: string(l.Item), Status: l.Status, Entered: lineage.Kg(l.Entered), Standing: lineage.Kg(l.Standing()), Mass: p.Mass(l.Entered), Where: []string{}}
	switch {
	case l.Subject():
		out.Role = "subject"
	case !l.Down.Is():
		out.Role = "upstream"
	}
	if l.Up.Is() {
		out.Up = &Far{l.Up.Hops, l.Up.Steps}
	}
	if l.Down.Is() {
		out.Down = &Far{l.Down.Hops, l.Down.Steps}
	}
	if p != nil {
		if item := p.Item(l.Item); item != nil {
			out.Title = item.Title.In(m.Lang)
		}
	}
	for place, mass := range l.At.All() {
		out.Where = append(out.Where, m.place(p, place)+" "+p.Mass(mass))
	}
	slices.Sort(out.Where)
	return out
}

func (m *maker) place(p *plan.Plan, place lots.Place) string {
	if p != nil && place.Holder != "" {
		if row := p.Partner(place.Holder); row != nil {
			return row.Name
		}
	}
	if p != nil && place.Station != "" {
		if row := p.Station(place.Station); row != nil {
			return row.Title.In(m.Lang)
		}
	}
	return place.String()
}

// when is an instant on a plant's clock.
func (m *maker) when(at company.PlantCode, t records.Instant) string {
	if p := m.Plan(at); p != nil {
		return t.Time().In(p.Location()).Format("2006-01-02 15:04")
	}
	return t.String()
}

func (m *maker) join(j *across.Join) Join {
	h, r := j.Handover, j.Receipt
	out := Join{From: string(j.From), To: string(j.To), Named: named[j.Named], Rule: string(j.Rule), Choices: j.Choices, Receipts: j.Receipts, Differs: j.Differs,
		Handover: Paper{Lots: j.Gave, When: h.Record.Happened, Mass: lineage.Kg(j.Out), Papers: h.Handover.Papers, Entry: h.Record.Position},
		Receipt:  Paper{Lots: []records.LotCode{j.Got}, TheirLot: r.Receipt.TheirLot, When: r.Record.Happened, Mass: lineage.Kg(j.In), Papers: r.Receipt.Papers, Entry: r.Record.Position}}
	say := func(key string, pairs ...string) { out.Says = append(out.Says, m.say(key, pairs...)) }
	say("joined", "{lot}", codes(j.Gave), "{from}", m.name(j.From), "{left}", m.when(j.From, h.Record.Happened), "{out}", m.Plan(j.From).Mass(j.Out),
		"{to}", m.name(j.To), "{came}", m.when(j.To, r.Record.Happened), "{got}", string(j.Got), "{in}", m.Plan(j.To).Mass(j.In))
	if j.Named != across.AsWritten {
		say("named-"+out.Named, "{written}", strings.TrimSpace(r.Receipt.TheirLot))
	}
	if j.Choices > 1 {
		say("rule-" + out.Rule)
	}
	switch {
	case j.Differs && j.Receipts > 1:
		say("differs-together", "{in}", m.Plan(j.To).Mass(j.InAll), "{out}", m.Plan(j.To).Mass(j.Out))
	case j.Differs:
		say("differs", "{in}", m.Plan(j.To).Mass(j.InAll), "{out}", m.Plan(j.To).Mass(j.Out))
	}
	if j.Estimated {
		say("estimated")
	}
	return out
}

func (m *maker) sent(s *across.Sent) Loose {
	h := s.Handover
	out := Loose{Way: "sent", From: string(s.From), To: string(s.To), Why: string(s.Why), Paper: Paper{Lots: s.Lots, When: h.Record.Happened, Papers: h.Handover.Papers, Entry: h.Record.Position}}
	if ug, err := h.Handover.Weight.Mass.Micrograms(); err == nil {
		out.Paper.Mass = lineage.Kg(ug)
	}
	key := "sent-" + out.Why
	if s.Why == across.NotLookedAt {
		out.Shut = m.Closed(s.To)
		key = "sent-" + string(out.Shut)
	}
	out.Says = m.say(key, "{lot}", codes(s.Lots), "{to}", m.partner(s.From, h.To.Holder, s.To), "{from}", m.name(s.From), "{when}", m.when(s.From, h.Record.Happened),
		"{mass}", m.Plan(s.From).Mass(records.Micrograms(out.Paper.Mass)))
	return out
}

func (m *maker) got(g *across.Got) Loose {
	r := g.Receipt
	out := Loose{Way: "got", From: string(g.From), To: string(g.To), Why: string(g.Why), Paper: Paper{Lots: []records.LotCode{g.Lot}, TheirLot: r.Receipt.TheirLot, When: r.Record.Happened, Papers: r.Receipt.Papers, Entry: r.Record.Position}}
	if ug, err := r.Receipt.Weight.Mass.Micrograms(); err == nil {
		out.Paper.Mass = lineage.Kg(ug)
	}
	key := "got-" + out.Why
	if g.Why == across.NotLookedAt {
		out.Shut = m.Closed(g.From)
		key = "got-" + string(out.Shut)
	}
	out.Says = m.say(key, "{lot}", string(g.Lot), "{written}", strings.TrimSpace(g.Written), "{from}", m.partner(g.To, r.Receipt.Source, g.From), "{to}", m.name(g.To), "{when}", m.when(g.To, r.Record.Happened),
		"{mass}", m.Plan(g.To).Mass(records.Micrograms(out.Paper.Mass)))
	return out
}

func (m *maker) say(key string, pairs ...string) string {
	return strings.NewReplacer(pairs...).Replace(m.words[key])
}

func codes(ls []records.LotCode) string {
	out := make([]string, len(ls))
	for i, l := range ls {
		out[i] = string(l)
	}
	return strings.Join(out, ", ")
}
