package audit

import (
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func resultRules() []Rule {
	return []Rule{
		{Code: "result-outside", Severity: Major, Says: says(
			"Lot {lot}: {name} was found to be {value}; the plan's limits are {limits}.",
			"Lote {lot}: {name} resultó {value}; los límites del plan son {limits}.")},
		{Code: "result-unit", Severity: Minor, Says: says(
			"Lot {lot}: {name} was given as {value}; the plan has it in {unit}, so its limits can not judge it.",
			"Lote {lot}: {name} se dio como {value}; el plan lo tiene en {unit}, y sus límites no se pueden aplicar.")},
		// C52: FDA advisory level of 2010, scope seen, number second-hand
		{Code: "don-wheat", Severity: Major, Clauses: []records.Clause{"21 CFR 117.80(b)(3)"}, Says: says(
			"Lot {lot}: DON was found to be {value}; the advisory level for finished wheat products is 1 ppm.",
			"Lote {lot}: DON resultó {value}; el nivel orientativo para productos acabados de trigo es 1 ppm.")},
	}
}

// CertLine is one line of a lot's certificate.
type CertLine struct {
	Name    string
	Unit    string
	Value   *records.Decimal // nil when there is neither
	Kind    CertKind
	Limits  plan.Range    // of the plan, in its unit; open when the plan has none for it in this unit
	Outside bool          // measured, and outside the limits
	Source  *state.Record // the result it was measured in; nil for a typical value
}

// CertKind says what a value on a certificate is.
type CertKind string

const (
	TypicalValue  CertKind = "typical"  // what the plan gives for the item: not of this lot
	MeasuredValue CertKind = "measured" // of this lot, from a result
	NoValue       CertKind = "none"     // neither
)

// Certificate is what a lot's certificate says by the moment of the floor: the lines of its item in the plan's order, each
// with the lot's newest own result, or the typical value while there is none; then what was measured besides. A result
// in another unit than the plan's is shown as it was given and held against no limits: a typical value must not stand
// where a measured one is known. p is the plan to show; nil for the one in force.
func Certificate(p *plan.Plan, f *lots.Floor, st *state.State, code records.LotCode) (out []CertLine) {
	l := f.Find(code)
	if p == nil {
		p = st.PlanAt(f.At)
	}
	if l == nil || p == nil {
		return nil
	}
	newest, order := measured(l)
	listed := map[string]bool{}
	if item := p.Item(l.Item); item != nil {
		for i := range item.Certificate {
			row := &item.Certificate[i]
			listed[nameKey(row.Name)] = true
			line := CertLine{Name: row.Name, Unit: row.Unit, Value: row.Typical, Kind: TypicalValue, Limits: row.Limits}
			if row.Typical == nil {
				line.Kind = NoValue
			}
			if m, ok := newest[nameKey(row.Name)]; ok {
				v := m.value
				line.Unit, line.Value, line.Kind, line.Source = v.Unit, &v.Value, MeasuredValue, m.by
				if v.Unit == row.Unit {
					line.Outside = !row.Limits.Holds(v.Value)
				} else {
					line.Limits = plan.Range{}
				}
			}
			out = append(out, line)
		}
	}
	for _, key := range order {
		if m := newest[key]; !listed[key] && !isNetWeight(m.name) {
			out = append(out, CertLine{Name: m.name, Unit: m.value.Unit, Value: &m.value.Value, Kind: MeasuredValue, Source: m.by})
		}
	}
	return out
}

type measurement struct {
	name  string
	value records.Quantity
	by    *state.Record
}

// measured is the newest value of each name among a lot's results, and the names in the order they were first met.
func measured(l *lots.Lot) (newest map[string]*measurement, order []string) {
	newest = map[string]*measurement{}
	for _, r := range l.Events {
		fact, ok := r.Fact.(*records.Result)
		if !ok {
			continue
		}
		for _, v := range fact.Values {
			key := nameKey(v.Name)
			if newest[key] == nil {
				order = append(order, key)
			}
			newest[key] = &measurement{v.Name, v.Value, r}
		}
	}
	return newest, order
}

// nameKey makes two spellings of a value's name one.
func nameKey(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// sameName says whether two names are spellings of one. There are a few names and thousands of results.
func (j *goodsJudge) sameName(a, b string) bool { return a == b || j.name(a).key == j.name(b).key }

// valueName is what a value's name says.
type valueName struct {
	key      string
	don, net bool
}

func (j *goodsJudge) name(name string) valueName {
	n, known := j.names[name]
	if !known {
		if j.names == nil {
			j.names = map[string]valueName{}
		}
		n = valueName{nameKey(name), isDON(name), isNetWeight(name)}
		j.names[name] = n
	}
	return n
}

// results holds every value of a lot's results against the limits of the plan then in force.
func (j *goodsJudge) results(l *lots.Lot) {
	for _, r := range l.Events {
		fact, ok := r.Fact.(*records.Result)
		if !ok {
			continue
		}
		p := j.st.PlanAt(r.Happened)
		if p == nil {
			continue
		}
		item := p.Item(l.Item)
		if item == nil {
			continue
		}
		for k, v := range fact.Values {
			j.result(p, item, l, r, k, v)
		}
	}
}

func (j *goodsJudge) result(p *plan.Plan, item *plan.Item, l *lots.Lot, r *state.Record, nth int, v records.Measured) {
	say := func(rule string, more ...Value) {
		j.find(rule, subID(r, nth), r.Happened, lotSubject(l), append([]Value{word("lot", string(l.Code)), word("name", v.Name), word("value", v.Value.String())}, more...), r)
	}
	// what the advisory level is for
	wheat, limited := item.Stage == "finished" && hasWheat(item), false
	for i := range item.Certificate {
		row := &item.Certificate[i]
		if row.Limits.Min == nil && row.Limits.Max == nil || !j.sameName(row.Name, v.Name) {
			continue
		}
		switch {
		case row.Unit != v.Value.Unit:
			say("result-unit", word("unit", row.Unit))
		case !row.Limits.Holds(v.Value.Value):
			limited = true
			say("result-outside", title("limits", limitWords(row.Limits, row.Unit)))
		default:
			limited = wheat && row.Limits.Max != nil && row.Limits.Max.Rat().Cmp(donFood) <= 0
		}
	}
	if limited || !wheat || !j.name(v.Name).don {
		return
	}
	if level := ppm(v.Value); level != nil && level.Cmp(donFood) > 0 {
		say("don-wheat")
	}
}

func hasWheat(item *plan.Item) bool {
	for _, a := range item.Allergens {
		if a == "wheat" {
			return true
		}
	}
	return false
}

func limitWords(r plan.Range, unit string) plan.Text {
	with := func(d *records.Decimal) string { return strings.TrimSpace(d.String() + " " + unit) }
	switch {
	case r.Min != nil && r.Max != nil:
		return says(r.Min.String()+" to "+with(r.Max), r.Min.String()+" a "+with(r.Max))
	case r.Min != nil:
		return says("at least "+with(r.Min), "al menos "+with(r.Min))
	case r.Max != nil:
		return says("at most "+with(r.Max), "como máximo "+with(r.Max))
	}
	return says("open", "abiertos")
}
