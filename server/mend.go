package server

import (
	"slices"
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/pages"
)

// mender goes through what a fact says, field by field, in the order of its page: once to show it in a form to correct it, and once to
// read the form into a copy. What a form does not send stays as it was.
type mender struct {
	*request
	plan   *plan.Plan // of the entry's day
	sheet  *sheet     // nil while the form is shown
	part   string     // begins the names of the fields of one of several inputs or outputs
	fields []pages.FormField
	hidden []pages.Field
}

// show adds a field with what stands there, or with what was typed when a form comes back.
func (m *mender) show(f pages.FormField, have string) {
	f.Name, f.Label, f.Value = m.part+f.Name, m.say(f.Label), have
	if v, sent := m.form[f.Name]; sent {
		f.Value = strings.TrimSpace(strings.Join(v, " "))
	}
	for i := range f.Options {
		f.Options[i].Chosen = f.Options[i].Value == f.Value
	}
	m.fields = append(m.fields, f)
}

// typed is what the form has in a field; ok is false when it was not sent.
func (m *mender) typed(name string) (text string, ok bool) {
	v, ok := m.form[m.part+name]
	if !ok {
		return "", false
	}
	return strings.TrimSpace(strings.Join(v, " ")), true
}

func (m *mender) fault(name, key string, args ...any) {
	m.sheet.fault(m.part+name, m.say(key, args...))
}

// mendText is a text of at most so many characters; one of textMost has room for several lines.
func mendText[T ~string](m *mender, name, label string, most int, required bool, to *T) {
	if m.sheet == nil {
		kind := "text"
		if most == textMost {
			kind = "area"
		}
		m.show(pages.FormField{Type: kind, Name: name, Label: label, Max: most}, string(*to))
		return
	}
	if _, sent := m.form[m.part+name]; !sent {
		return
	}
	if !required {
		label = ""
	}
	*to = T(m.sheet.text(m.part+name, most, label))
}

// mendCode is one of the codes of the plan, or another that stands there.
func mendCode[T ~string](m *mender, name, label string, options []pages.Option, required bool, to *T) {
	if m.sheet != nil {
		switch v, sent := m.typed(name); {
		case !sent:
		case v == "" && required:
			m.fault(name, "answer-missing", m.say(label))
		default:
			*to = T(v)
		}
		return
	}
	have := string(*to)
	if !slices.ContainsFunc(options, func(o pages.Option) bool { return o.Value == have }) && have != "" {
		options = append([]pages.Option{{Value: have, Title: have}}, options...)
	}
	if !required || have == "" {
		options = append([]pages.Option{{Title: m.say("not-said")}}, options...)
	}
	m.show(pages.FormField{Type: "select", Name: name, Label: label, Options: options}, have)
}

func (m *mender) lot(name, label string, required bool, to *records.LotCode) {
	mendText(m, name, label, 20, required, to)
	if m.sheet != nil && *to != "" && records.CheckLot(string(*to)) != nil {
		m.fault(name, "lot-unreadable", *to)
	}
}

func (m *mender) station(name, label string, required bool, to *records.StationCode) {
	mendCode(m, name, label, m.stations(), required, to)
}

func (m *mender) partner(name, label string, required bool, to *records.PartnerCode) {
	var all []pages.Option
	for i := range m.plan.Partners {
		all = append(all, pages.Option{Value: string(m.plan.Partners[i].Code), Title: m.plan.Partners[i].Name})
	}
	mendCode(m, name, label, all, required, to)
}

func (m *mender) item(to *records.ItemCode) {
	var all []pages.Option
	for i := range m.plan.Items {
		all = append(all, pages.Option{Value: string(m.plan.Items[i].Code), Title: m.plan.Items[i].Title.In(m.lang)})
	}
	mendCode(m, "item", "row-item", all, true, to)
}

func (m *mender) instrument(name, label string, to *records.InstrumentCode) {
	var all []pages.Option
	for i := range m.plan.Instruments {
		all = append(all, pages.Option{Value: string(m.plan.Instruments[i].Code), Title: m.plan.Instruments[i].Title.In(m.lang)})
	}
	mendCode(m, name, label, all, false, to)
}

func (m *mender) status(required bool, to *records.Status) {
	var all []pages.Option
	for _, s := range plan.Statuses() {
		all = append(all, pages.Option{Value: s, Title: m.say("organic-status-" + s)})
	}
	mendCode(m, "status", "row-status", all, required, to)
}

func (m *mender) stations() (all []pages.Option) {
	for i := range m.plan.Stations {
		all = append(all, pages.Option{Value: string(m.plan.Stations[i].Code), Title: m.plan.Stations[i].Title.In(m.lang)})
	}
	return all
}

// through is the stations that goods ran through: those in which nothing stays, and what stands there. Boxes that are not ticked are not sent, so that they were shown is said beside them.
func (m *mender) through(name, label string, to *[]records.StationCode) {
	if m.sheet == nil {
		options := slices.DeleteFunc(m.stations(), func(o pages.Option) bool { return m.plan.Station(records.StationCode(o.Value)).Holds != "passes" })
		for _, s := range *to {
			if !slices.ContainsFunc(options, func(o pages.Option) bool { return o.Value == string(s) }) {
				options = append(options, pages.Option{Value: string(s), Title: stationTitle(m.plan, s, m.lang)})
			}
		}
		chosen := m.form[m.part+name]
		if m.form.Get(m.part+name+"-shown") == "" {
			for _, s := range *to {
				chosen = append(chosen, string(s))
			}
		}
		for i := range options {
			options[i].Chosen = slices.Contains(chosen, options[i].Value)
		}
		m.fields = append(m.fields, pages.FormField{Type: "checks", Name: m.part + name, Label: m.say(label), Options: options})
		m.hidden = append(m.hidden, pages.Field{Name: m.part + name + "-shown", Value: "yes"})
		return
	}
	if m.form.Get(m.part+name+"-shown") == "" {
		return
	}
	ticked := m.form[m.part+name]
	var now []records.StationCode
	for _, s := range *to { // what was there keeps its order
		if slices.Contains(ticked, string(s)) {
			now = append(now, s)
		}
	}
	for _, s := range ticked {
		if !slices.Contains(now, records.StationCode(s)) {
			now = append(now, records.StationCode(s))
		}
	}
	*to = now
}

// mass is a mass in the unit in which it was written; left empty it is none.
func (m *mender) mass(name, label string, required bool, to **records.Mass) {
	if m.sheet == nil {
		have := records.Mass{Unit: m.plan.MassUnit()}
		number := ""
		if *to != nil {
			have, number = **to, (*to).Value.String()
		}
		f := pages.FormField{Type: "measure", Name: m.part + name, Label: m.say(label)}
		for _, p := range []struct{ name, label, have string }{{"", "value-number", number}, {"-unit", "value-unit", have.Unit}} {
			part := pages.FormField{Name: m.part + name + p.name, Label: m.say(p.label), Value: p.have, Max: 30}
			if v, sent := m.typed(name + p.name); sent {
				part.Value = v
			}
			f.Parts = append(f.Parts, part)
		}
		m.fields = append(m.fields, f)
		return
	}
	number, sent := m.typed(name)
	unit, _ := m.typed(name + "-unit")
	switch {
	case !sent:
	case number == "" && required:
		m.fault(name, "answer-missing", m.say(label))
	case number == "":
		*to = nil
	default:
		got, err := records.ParseMass(pointed(number) + " " + unit)
		if err != nil {
			m.fault(name, "mend-mass-unreadable", number+" "+unit)
			return
		}
		*to = &got
	}
}

func (m *mender) weight(w *records.Weight) {
	mass := &w.Mass
	if w.Mass.Unit == "" {
		mass = nil
	}
	if m.mass("mass", "row-mass", mass != nil, &mass); mass != nil {
		w.Mass = *mass
	}
	m.number("moisture", "row-moisture", "%", &w.Moisture)
	m.instrument("scale", "row-scale", &w.Scale)
	m.instrument("meter", "row-meter", &w.Meter)
}

// number is a number in a unit; left empty it is none.
func (m *mender) number(name, label, unit string, to **records.Decimal) {
	if m.sheet == nil {
		have := ""
		if *to != nil {
			have = (*to).String()
		}
		m.show(pages.FormField{Type: "number", Name: name, Label: label, Unit: unit}, have)
		return
	}
	switch v, sent := m.typed(name); {
	case !sent:
	case v == "":
		*to = nil
	default:
		d, err := records.ParseDecimal(pointed(v))
		if err != nil {
			m.fault(name, "not-a-number", v)
			return
		}
		*to = &d
	}
}

// count is a whole number that is not below 0.
func (m *mender) count(name, label string, to *int) {
	if m.sheet == nil {
		have := ""
		if *to != 0 {
			have = strconv.Itoa(*to)
		}
		m.show(pages.FormField{Type: "number", Name: name, Label: label}, have)
		return
	}
	switch v, sent := m.typed(name); {
	case !sent:
	case v == "":
		*to = 0
	default:
		n, err := strconv.Atoi(v)
		if err != nil || n < 0 {
			m.fault(name, "not-a-number", v)
			return
		}
		*to = n
	}
}

func (m *mender) date(name, label string, to **calendar.Date) {
	if m.sheet == nil {
		have := ""
		if *to != nil {
			have = (*to).String()
		}
		m.show(pages.FormField{Type: "date", Name: name, Label: label}, have)
		return
	}
	if _, sent := m.typed(name); sent {
		*to = m.sheet.date(m.part + name)
	}
}

// moment is a wall time of the plant, to the minute; one that was not changed keeps its seconds.
func (m *mender) moment(name, label string, to *records.Instant) {
	have := ""
	if *to != 0 {
		have = to.Time().In(m.plan.Location()).Format("2006-01-02T15:04")
	}
	if m.sheet == nil {
		m.show(pages.FormField{Type: "when", Name: name, Label: label}, have)
		return
	}
	if v, sent := m.typed(name); sent && v != have {
		*to = m.sheet.when(m.part + name)
	}
}

func (m *mender) yes(name, label string, to *bool) {
	said := to
	m.maybe(name, label, true, &said)
	*to = said != nil && *said
}

// maybe is yes, no, or not said.
func (m *mender) maybe(name, label string, said bool, to **bool) {
	words := map[bool]string{true: "yes", false: "no"}
	have := ""
	if *to != nil {
		have = words[**to]
	}
	mendCode(m, name, label, []pages.Option{{Value: "yes", Title: m.say("yes")}, {Value: "no", Title: m.say("no")}}, said, &have)
	switch {
	case m.sheet == nil:
	case have == "yes" || have == "no":
		yes := have == "yes"
		*to = &yes
	default:
		*to = nil
	}
}

// lines is a list of short texts, one a line.
func (m *mender) lines(name, label string, to *[]string) {
	all := strings.Join(*to, "\n")
	mendText(m, name, label, textMost, false, &all)
	if m.sheet == nil {
		return
	}
	*to = nil
	for line := range strings.Lines(all) {
		if line = strings.TrimSpace(line); line != "" {
			*to = append(*to, line)
		}
	}
}

// of is one of several inputs, outputs or things found, below a heading of its own.
func (m *mender) of(heading, part string, i, n int, look func()) {
	if m.sheet == nil {
		f := pages.FormField{Type: "part", Label: m.say(heading)}
		if n > 1 {
			f.Label += " " + strconv.Itoa(i+1)
		}
		m.fields = append(m.fields, f)
	}
	before := m.part
	m.part = part + strconv.Itoa(i) + "-"
	look()
	m.part = before
}
