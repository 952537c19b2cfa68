package audit

import (
	"maps"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

func bestByRules() []Rule {
	return []Rule{
		{Code: "best-by-late", Severity: Major, Says: says(
			"Lot {lot} is labelled best by {printed}; {months} months from {from} ({basis}) is {due}.",
			"El lote {lot} lleva consumo preferente {printed}; {months} meses desde {from} ({basis}) es {due}.")},
		{Code: "best-by-mixed", Severity: Major, Says: says(
			"Lot {lot} is of several kiln dates ({dates}) and is labelled best by {printed}; counted from the earliest it is {due}.",
			"El lote {lot} es de varias fechas de horno ({dates}) y lleva consumo preferente {printed}; desde la primera es {due}.")},
		{Code: "best-by-early", Severity: Note, Says: says(
			"Lot {lot} is labelled best by {printed}, earlier than {months} months from {from} ({basis}), {due}.",
			"El lote {lot} lleva consumo preferente {printed}, antes de {months} meses desde {from} ({basis}), {due}.")},
		{Code: "best-by-missing", Severity: Minor, Says: says(
			"Lot {lot} was bagged without a best-by date; the plan gives {item} {months} months.",
			"El lote {lot} se ensacó sin fecha de consumo preferente; el plan da {months} meses a {item}.")},
		{Code: "kiln-date-missing", Severity: Minor, Says: says(
			"Lot {lot} ({item}) has no kiln date, from which its best-by counts.",
			"El lote {lot} ({item}) no tiene fecha de horno, desde la que se cuenta su consumo preferente.")},
		{Code: "best-by-passed", Severity: Major, Says: says(
			"Lot {lot} went to {partner} on {day}; its best-by was {due}.",
			"El lote {lot} salió para {partner} el {day}; su consumo preferente era {due}.")},
	}
}

// shelf is what is known of a lot's shelf life.
type shelf struct {
	kilned  []calendar.Date // its own and those of what it was made from, in order, each once
	due     *calendar.Date  // computed: the plan's months from the earliest date
	printed *calendar.Date  // earliest on a label
}

// bestBy is the last day of the shelf life: the computed one, or the printed one where it is earlier or the only one.
func (s *shelf) bestBy() *calendar.Date {
	switch {
	case s == nil:
		return nil
	case s.due == nil || s.printed != nil && *s.printed < *s.due:
		return s.printed
	}
	return s.due
}

// BestBy is a lot's best-by day as the floor has it: calendar months of the plan from the earliest kiln date among all it was
// made from, or the earliest day printed on it where that is sooner; false when neither is known.
func BestBy(st *state.State, f *lots.Floor, code records.LotCode) (calendar.Date, bool) {
	if i := f.Index(code); i >= 0 {
		if d := Shelves(st, f, i)[i].BestBy; d != nil {
			return *d, true
		}
	}
	return 0, false
}

// Shelf is what the records say of a lot's shelf life.
type Shelf struct {
	Kilned []calendar.Date // kiln dates of the lot and of all it was made from, in order, each once
	BestBy *calendar.Date  // as BestBy; nil when it is not known
}

// Shelves are the shelf lives of those of some lots that were made here, by index in the floor. Only what they were made from is looked at.
func Shelves(st *state.State, f *lots.Floor, some ...int) map[int]Shelf {
	shelves, steps := map[int]**shelf{}, map[int]bool{} // of all upstream; the steps that made any of it
	up := slices.Clone(some)
	for k := 0; k < len(up); k++ { // it grows on the way
		if shelves[up[k]] != nil {
			continue
		}
		shelves[up[k]] = new(*shelf)
		for _, s := range f.Lots[up[k]].Made {
			if !steps[s] {
				steps[s] = true
				for _, in := range f.Steps[s].In {
					up = append(up, in.Lot)
				}
			}
		}
	}
	for _, s := range slices.Sorted(maps.Keys(steps)) {
		step := f.Steps[s]
		shelve(st.PlanAt(step.Record.Happened), f, step, func(lot int) **shelf { return shelves[lot] }, func(lot int) bool { return shelves[lot] != nil })
	}
	out := map[int]Shelf{}
	for _, i := range some {
		if s := *shelves[i]; s != nil {
			out[i] = Shelf{Kilned: s.kilned, BestBy: s.bestBy()}
		}
	}
	return out
}

// shelve takes shelf lives on to what a step made, as far as that is wanted. A lot's kiln dates are those written on its outputs and
// those of the lots it was made from: a blend is as old as the oldest in it.
func shelve(p *plan.Plan, f *lots.Floor, step *lots.Step, of func(lot int) **shelf, wanted func(lot int) bool) {
	var parents []calendar.Date
	for _, in := range step.In {
		if s := *of(in.Lot); s != nil && in.Mass > 0 {
			parents = union(parents, s.kilned)
		}
	}
	for _, o := range step.Out {
		if !wanted(o.Lot) {
			continue
		}
		s := *of(o.Lot)
		if s == nil {
			s = &shelf{}
			*of(o.Lot) = s
		}
		s.kilned = union(s.kilned, parents)
		if o.Output.KilnDate != nil {
			s.kilned = union(s.kilned, []calendar.Date{*o.Output.KilnDate})
		}
		if b := o.Output.BestBy; b != nil && (s.printed == nil || *b < *s.printed) {
			s.printed = b
		}
		if basis, row := basisOf(p, f.Lots[o.Lot], s, step.Record); basis != nil {
			due := basis.AddMonths(row.Months)
			if s.due == nil || due < *s.due {
				s.due = &due
			}
		}
	}
}

// basisOf is the day a shelf life counts from: the earliest kiln date when the plan counts from it, else the day the
// output was made. Nil when the plan gives none, or the kiln date is not known.
func basisOf(p *plan.Plan, l *lots.Lot, s *shelf, r *state.Record) (*calendar.Date, *plan.BestBy) {
	if p == nil {
		return nil, nil
	}
	item := p.Item(l.Item)
	if item == nil || item.BestBy == nil {
		return nil, nil
	}
	if FromKiln(item.BestBy) {
		if len(s.kilned) == 0 {
			return nil, item.BestBy
		}
		return &s.kilned[0], item.BestBy
	}
	day := p.Day(r.Happened)
	return &day, item.BestBy
}

// FromKiln says whether the plan counts a shelf life from the kiln date; else it counts from the day the goods were made.
func FromKiln(b *plan.BestBy) bool {
	from := strings.ToLower(b.From)
	return strings.Contains(from, "kiln") || strings.Contains(from, "horno")
}

// union is what is in either of two lists, in order and each once, as the two are. It may be one of them, so none may be changed.
func union(a, b []calendar.Date) []calendar.Date {
	switch {
	case len(a) == 0:
		return b
	case !slices.ContainsFunc(b, func(d calendar.Date) bool { return !slices.Contains(a, d) }):
		return a
	}
	out := append(slices.Clone(a), b...)
	slices.Sort(out)
	return slices.Compact(out)
}

// labels holds what a step's outputs were labelled with against the shelf lives.
func (j *goodsJudge) labels(step *lots.Step, of func(lot int) **shelf) {
	if p := j.st.PlanAt(step.Record.Happened); p != nil {
		for k, o := range step.Out {
			j.label(p, step, k, o, *of(o.Lot))
		}
	}
}

// bestByPassed are goods that went to people after their best-by day.
func (j *goodsJudge) bestByPassed(p *plan.Plan, t *lots.Transfer, of func(lot int) **shelf) {
	if !forPeople(t.Handover.Use) {
		return
	}
	day := p.Day(t.Record.Happened)
	for _, portion := range t.Portions {
		due := (*of(portion.Lot)).bestBy()
		if due == nil || day <= *due || portion.Mass == 0 {
			continue
		}
		l := j.f.Lots[portion.Lot]
		j.find("best-by-passed", t.Record.ID.String()+"/"+string(l.Code), t.Record.Happened, Subject{Lot: l.Code, Item: l.Item, Partner: t.To.Holder},
			[]Value{word("lot", string(l.Code)), word("partner", partnerName(p, t.To.Holder)), word("day", day.String()), word("due", due.String())}, l.Origin, t.Record)
	}
}

// label holds what one output was labelled with against the earliest date in its lot.
func (j *goodsJudge) label(p *plan.Plan, step *lots.Step, k int, o lots.Made, s *shelf) {
	l, r := j.f.Lots[o.Lot], step.Record
	basis, row := basisOf(p, l, s, r)
	if row == nil || o.Output.Disposal != "" {
		return
	}
	say := func(rule string, values ...Value) {
		j.find(rule, subID(r, k), r.Happened, lotSubject(l), append([]Value{word("lot", string(l.Code))}, values...), r)
	}
	item, months := title("item", itemTitle(p, l.Item)), row.Months
	if basis == nil {
		say("kiln-date-missing", item)
		return
	}
	due, printed := basis.AddMonths(months), o.Output.BestBy
	switch {
	case printed == nil && o.Output.Bags > 0:
		say("best-by-missing", item, count("months", months))
		return
	case printed == nil || *printed == due:
		return
	}
	rule := "best-by-late"
	switch {
	case *printed < due:
		rule = "best-by-early"
	case FromKiln(row) && len(s.kilned) > 1:
		rule = "best-by-mixed"
	}
	say(rule, count("months", months), word("from", row.From), word("basis", basis.String()), word("due", due.String()), word("dates", dateWords(s.kilned)), word("printed", printed.String()))
}

// dateWords names dates; of many, the first and the last.
func dateWords(ds []calendar.Date) string {
	var parts []string
	for i, d := range ds {
		if len(ds) > 4 && i > 0 && i < len(ds)-1 {
			if i == 1 {
				parts = append(parts, "…")
			}
			continue
		}
		parts = append(parts, d.String())
	}
	return strings.Join(parts, ", ")
}
