package audit

import (
	"fmt"
	"math"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Balance is what the masses come to: each process, each finished lot over the whole way from its grain, each bagging.
type Balance struct {
	steps []*stepBalances // by step of the floor; nil where no plan was in force
	whole []*WholeBalance // by lot of the floor; nil of what is not judged
}

type stepBalances struct {
	StepBalance
	bags []BagBalance
}

// Steps are the balances of steps, in order.
func (b *Balance) Steps() (out []StepBalance) {
	for _, x := range b.steps {
		if x != nil {
			out = append(out, x.StepBalance)
		}
	}
	return out
}

// Bags are the balances of baggings, in order.
func (b *Balance) Bags() (out []BagBalance) {
	for _, x := range b.steps {
		if x != nil {
			out = append(out, x.bags...)
		}
	}
	return out
}

// Whole are the balances of finished lots, in order.
func (b *Balance) Whole() (out []WholeBalance) {
	for _, x := range b.whole {
		if x != nil {
			out = append(out, *x)
		}
	}
	return out
}

// StepBalance is dry matter in against out for one step. Masses are exact; Loss and the uncertainties are not.
type StepBalance struct {
	Step          int // index into Floor.Steps
	In, Out       Dry
	ByProduct     records.Micrograms // as is, of outputs whose item is a by-product
	Main          records.Micrograms // as is, of the others
	Loss          float64            // 1 - dry out / dry in; NaN when a moisture is missing or nothing went in
	Band          plan.Range         // expected loss in percent, of the main output's item
	ByProductBand plan.Range         // expected by-product in percent of the main output
	Verdict       Verdict
	ByProductSays Verdict
}

// WholeBalance is the dry matter of a finished lot against the grain it goes back to, by-products counted as out.
type WholeBalance struct {
	Lot     int
	Raw     float64 // dry micrograms of received grain that this lot's share of its history drew on
	Dry     records.Micrograms
	Loss    float64
	U       float64 // standard uncertainty of Raw x (1 - Loss) - Dry, in micrograms
	Band    plan.Range
	Verdict Verdict
}

// BagBalance is bags counted times their net mass against the mass that came out.
type BagBalance struct {
	Step    int
	Output  *records.Output
	Counted records.Micrograms
	Differs records.Micrograms // mass out - Counted
	U       float64
	Verdict Verdict
}

// Dry is a mass with its dry matter and the standard uncertainty of that, in micrograms.
type Dry struct {
	Mass  records.Micrograms
	Dry   records.Micrograms
	U2    float64 // u², as is when a moisture is missing
	Known bool    // every moisture was written down
}

// Verdict compares a figure with its band.
type Verdict string

const (
	Within  Verdict = "within"
	Below   Verdict = "below"
	Above   Verdict = "above"
	Unknown Verdict = "unknown" // no band in the plan, or a moisture is missing
)

// What is taken where the plan names no uncertainty for the instrument, or none was named: 0.5 % of the mass and 0.5
// points of moisture (common practice, no source).
const (
	defaultMassU     = 0.005
	defaultMoistureU = 0.5
)

// coverage is how many standard uncertainties a difference has to exceed before it is called one (design: 2u).
const coverage = 2

// TwoU is twice the standard uncertainty of dry matter in less out: a smaller difference is none.
func (b *StepBalance) TwoU() records.Micrograms { return twice(math.Sqrt(b.In.U2 + b.Out.U2)) }

// TwoU is twice the standard uncertainty of what came out less what was to come out of its grain.
func (b *WholeBalance) TwoU() records.Micrograms { return twice(b.U) }

// TwoU is twice the standard uncertainty of Differs.
func (b *BagBalance) TwoU() records.Micrograms { return twice(b.U) }

func twice(u float64) records.Micrograms { return records.Micrograms(math.Round(coverage * u)) }

// BalanceSince is what the masses of a floor come to in the steps that happened from a moment on, and of the lots that began then or later:
// the part of JudgeGoods' balance that a period is shown with, without judging all that came before.
func BalanceSince(st *state.State, f *lots.Floor, from records.Instant) *Balance {
	b := &Balance{steps: make([]*stepBalances, len(f.Steps)), whole: make([]*WholeBalance, len(f.Lots))}
	for i, step := range f.Steps {
		if step.Record.Happened >= from {
			b.steps[i] = balanceStep(st.PlanAt(step.Record.Happened), f, i)
		}
	}
	var begun []int
	for i, l := range f.Lots {
		if l.Begins >= from {
			begun = append(begun, i)
		}
	}
	up, steps := upstream(f, begun)
	flows := map[int]*behind{}
	for _, i := range up {
		of := received(st.PlanAt(f.Lots[i].Begins), f.Lots[i])
		flows[i] = &of
	}
	for _, s := range steps {
		handOn(f, s, func(lot int) *behind { return flows[lot] }, func(lot int) bool { return flows[lot] != nil })
	}
	for _, i := range begun {
		b.whole[i] = wholeBalance(st.PlanAt(f.Lots[i].Begins), f, i, *flows[i])
	}
	return b
}

func balanceStep(p *plan.Plan, f *lots.Floor, i int) *stepBalances {
	if p == nil {
		return nil
	}
	return &stepBalances{stepBalance(p, f, i), bagBalances(p, f, i)}
}

// add adds a weight. A dry mass has u² = ((1-w) u_m)² + (m u_w)², with u_m from the plan's scale and u_w from its meter.
func (d *Dry) add(p *plan.Plan, w records.Weight) {
	m, err := w.Mass.Micrograms()
	if err != nil {
		return
	}
	d.Mass += m
	um := massU(p, w, m)
	dry, ok := lots.DryMatter(m, w.Moisture)
	if !ok {
		d.Known = false
		d.U2 += um * um
		return
	}
	d.Dry += dry
	wet := w.Moisture.Float() / 100
	uw := moistureU(p, w) / 100
	d.U2 += math.Pow((1-wet)*um, 2) + math.Pow(float64(m)*uw, 2)
}

func massU(p *plan.Plan, w records.Weight, m records.Micrograms) float64 {
	if in := p.Instrument(w.Scale); in != nil && in.Uncertainty != nil {
		if u, err := (records.Mass{Value: *in.Uncertainty, Unit: in.Unit}).Micrograms(); err == nil {
			return float64(u)
		}
	}
	return defaultMassU * float64(m)
}

func moistureU(p *plan.Plan, w records.Weight) float64 {
	if in := p.Instrument(w.Meter); in != nil && in.Uncertainty != nil && in.Unit == "%" {
		return in.Uncertainty.Float()
	}
	return defaultMoistureU
}

func stepBalance(p *plan.Plan, f *lots.Floor, i int) StepBalance {
	step := f.Steps[i]
	b := StepBalance{Step: i, In: Dry{Known: true}, Out: Dry{Known: true}, Loss: math.NaN(), Verdict: Unknown, ByProductSays: Unknown}
	var outputs []records.Output
	switch fact := step.Record.Fact.(type) {
	case *records.Process:
		for _, in := range fact.Inputs {
			b.In.add(p, in.Weight)
		}
		outputs = fact.Outputs
	case *records.Purge:
		b.In.add(p, fact.Weight)
		outputs = []records.Output{fact.Became}
	}
	var main *plan.Item
	for _, o := range outputs {
		b.Out.add(p, o.Weight)
		m, err := o.Weight.Mass.Micrograms()
		if err != nil {
			continue
		}
		item := p.Item(o.Item)
		if item != nil && item.Stage == "by-product" {
			b.ByProduct += m
			continue
		}
		b.Main += m
		if main == nil {
			main = item
		}
	}
	if b.In.Known && b.Out.Known && b.In.Dry > 0 {
		b.Loss = 1 - float64(b.Out.Dry)/float64(b.In.Dry)
	}
	row := lossRow(main, step.What)
	if row == nil {
		return b
	}
	b.Band, b.ByProductBand = row.Dry, row.ByProduct
	if !math.IsNaN(b.Loss) {
		b.Verdict = inBand(b.Band, float64(b.In.Dry), float64(b.Out.Dry), b.In.U2, b.Out.U2)
	}
	if b.Main > 0 && (b.ByProductBand.Min != nil || b.ByProductBand.Max != nil) {
		b.ByProductSays = shareInBand(b.ByProductBand, float64(b.ByProduct), float64(b.Main))
	}
	return b
}

// lossRow is what the plan expects of a process that makes an item.
func lossRow(item *plan.Item, process string) *plan.Loss {
	if item != nil {
		for i := range item.Losses {
			if item.Losses[i].Process == process {
				return &item.Losses[i]
			}
		}
	}
	return nil
}

// inBand compares the loss 1 - out/in with a band in percent. At the upper edge the quantity (1 - max) in - out would
// be 0; it is called above only when it exceeds twice its standard uncertainty, and likewise below.
func inBand(band plan.Range, in, out, u2in, u2out float64) Verdict {
	if band.Min == nil && band.Max == nil {
		return Unknown
	}
	over := func(edge *records.Decimal) (excess, u float64) {
		k := 1 - edge.Float()/100
		return k*in - out, math.Sqrt(k*k*u2in + u2out)
	}
	if band.Max != nil {
		if excess, u := over(band.Max); excess > coverage*u {
			return Above
		}
	}
	if band.Min != nil {
		if excess, u := over(band.Min); -excess > coverage*u {
			return Below
		}
	}
	return Within
}

// shareInBand compares part/whole with a band in percent, with the default uncertainty of two weighings.
func shareInBand(band plan.Range, part, whole float64) Verdict {
	over := func(edge *records.Decimal) (excess, u float64) {
		k := edge.Float() / 100
		return part - k*whole, math.Hypot(defaultMassU*part, k*defaultMassU*whole)
	}
	if band.Max != nil {
		if excess, u := over(band.Max); excess > coverage*u {
			return Above
		}
	}
	if band.Min != nil {
		if excess, u := over(band.Min); -excess > coverage*u {
			return Below
		}
	}
	return Within
}

// bagBalances compares bags counted with the mass that came out. Each bag is weighed by itself, so their uncertainty
// grows with the root of their number.
func bagBalances(p *plan.Plan, f *lots.Floor, i int) (out []BagBalance) {
	for _, made := range f.Steps[i].Out {
		o := made.Output
		if o.Bags == 0 || o.BagNet == nil {
			continue
		}
		net, err := o.BagNet.Micrograms()
		if err != nil {
			continue
		}
		b := BagBalance{Step: i, Output: o, Counted: net * records.Micrograms(o.Bags), Verdict: Within}
		b.Differs = made.Mass - b.Counted
		each := massU(p, records.Weight{Scale: o.Weight.Scale}, net)
		b.U = math.Hypot(each*math.Sqrt(float64(o.Bags)), massU(p, o.Weight, made.Mass))
		switch d := float64(b.Differs); {
		case d > coverage*b.U:
			b.Verdict = Above
		case -d > coverage*b.U:
			b.Verdict = Below
		}
		out = append(out, b)
	}
	return out
}

// wholeProcess is the name under which a plan gives the loss of a finished item over the whole way from its grain.
const wholeProcess = "malting"

// behind is dry micrograms of grain behind all that ever entered a lot, with its u²; known says that every moisture on the way was
// written down.
type behind struct {
	raw, u2 float64
	known   bool
}

// received is what is behind a lot by its receipt alone.
func received(p *plan.Plan, l *lots.Lot) (b behind) {
	if l.Receipt == nil || !l.DryKnown {
		return b
	}
	b.raw, b.known = float64(l.Dry), true
	b.u2 = math.Pow(defaultMassU*b.raw, 2)
	if p != nil {
		var d Dry
		d.add(p, l.Receipt.Weight)
		b.u2 = d.U2
	}
	return b
}

// handOn follows dry matter from the grain: a step hands the raw dry matter behind its inputs on to its outputs, as far as they
// are wanted, in proportion to their dry matter, so that by-products carry their part and count as out.
func handOn(f *lots.Floor, i int, of func(lot int) *behind, wanted func(lot int) bool) {
	step := f.Steps[i]
	var in behind
	var dryOut float64
	ok := len(step.In) > 0
	for _, p := range step.In {
		l, x := f.Lots[p.Lot], of(p.Lot)
		if !x.known || l.Entered == 0 {
			ok = false
			break
		}
		share := float64(p.Mass) / float64(l.Entered)
		in.raw += x.raw * share
		in.u2 += x.u2 * share * share
	}
	for _, o := range step.Out {
		dry, is := lots.DryMatter(o.Mass, o.Output.Weight.Moisture)
		ok = ok && is
		dryOut += float64(dry)
	}
	for _, o := range step.Out {
		if !wanted(o.Lot) {
			continue
		}
		x := of(o.Lot)
		if !ok || dryOut == 0 {
			x.known = false
			continue
		}
		dry, _ := lots.DryMatter(o.Mass, o.Output.Weight.Moisture)
		share := float64(dry) / dryOut
		if f.Lots[o.Lot].Made[0] == i {
			x.known = f.Lots[o.Lot].Receipt == nil
		}
		x.raw += in.raw * share
		x.u2 += in.u2 * share * share
	}
}

// wholeBalance is that of a finished lot; nil when nothing is expected of it, or something is not known.
func wholeBalance(p *plan.Plan, f *lots.Floor, i int, from behind) *WholeBalance {
	l := f.Lots[i]
	if p == nil || !from.known || l.Receipt != nil || from.raw == 0 {
		return nil
	}
	row := lossRow(p.Item(l.Item), wholeProcess)
	if row == nil || p.Item(l.Item).Stage != "finished" {
		return nil
	}
	w := &WholeBalance{Lot: i, Raw: from.raw, Dry: l.Dry, Loss: 1 - float64(l.Dry)/from.raw, Band: row.Dry}
	d := Dry{Known: true}
	for _, o := range l.Outputs {
		d.add(p, o.Weight)
	}
	w.U = math.Sqrt(from.u2 + d.U2)
	w.Verdict = inBand(row.Dry, from.raw, float64(l.Dry), from.u2, d.U2)
	return w
}

func balanceRules() []Rule {
	cl := []records.Clause{"7 CFR 205.403(d)(4)"}
	return []Rule{
		{Code: "loss-out-of-band", Severity: Minor, Clauses: cl, Says: plan.Text{
			"en": "{process} of {when}: dry matter in {in}, out {out}, a loss of {loss}; the plan expects {band}. The difference is larger than the scales and meters can explain.",
			"es": "{process} del {when}: materia seca entrada {in}, salida {out}, pérdida {loss}; el plan espera {band}. La diferencia es mayor de lo que explican las básculas y medidores."}},
		{Code: "dry-gain", Severity: Major, Clauses: cl, Says: plan.Text{
			"en": "{process} of {when}: more dry matter came out ({out}) than went in ({in}).",
			"es": "{process} del {when}: salió más materia seca ({out}) de la que entró ({in})."}},
		{Code: "whole-loss", Severity: Minor, Clauses: cl, Says: plan.Text{
			"en": "Lot {lot} ({item}) has {loss} less dry matter than the grain it was made from; the plan expects {band}.",
			"es": "El lote {lot} ({item}) tiene {loss} menos materia seca que el grano del que se hizo; el plan espera {band}."}},
		{Code: "by-product-out-of-band", Severity: Minor, Says: plan.Text{
			"en": "{process} of {when}: by-product is {share} of what was made; the plan expects {band}.",
			"es": "{process} del {when}: el subproducto es {share} de lo obtenido; el plan espera {band}."}},
		{Code: "bags-differ", Severity: Minor, Says: plan.Text{
			"en": "Lot {lot}: {bags} bags of {net} come to {counted}, and {out} came out; the difference is larger than the scale can explain.",
			"es": "Lote {lot}: {bags} sacos de {net} suman {counted}, y salieron {out}; la diferencia es mayor de lo que explica la báscula."}},
		{Code: "organic-excess", Severity: Critical, Clauses: cl, Says: plan.Text{
			"en": "By {day}, {out} of dry matter was handed over as organic or still stands as organic, and only {in} was ever received as organic.",
			"es": "Hasta el {day}, {out} de materia seca salió o está como ecológica, y solo se recibió {in} como ecológica."}},
	}
}

func (w *WholeBalance) findings(st *state.State, f *lots.Floor) []*Finding {
	if w == nil || w.Verdict != Above && w.Verdict != Below {
		return nil
	}
	l := f.Lots[w.Lot]
	p := st.PlanAt(l.Begins)
	fd := find("whole-loss", string(l.Code), l.Begins, lotSubject(l), nil, []Value{word("lot", string(l.Code)), title("item", itemTitle(p, l.Item)),
		word("loss", percent(w.Loss)), word("band", bandWords(w.Band))}, eventPositions(l.Origin)...)
	fd.Severity = lossSeverity(w.Loss)
	return []*Finding{fd}
}

// all are the findings of a step and of what was bagged in it.
func (b *stepBalances) all(st *state.State, f *lots.Floor) []*Finding {
	if b == nil {
		return nil
	}
	out := b.findings(st, f)
	for _, g := range b.bags {
		if g.Verdict == Within {
			continue
		}
		r := f.Steps[g.Step].Record
		p := st.PlanAt(r.Happened)
		out = append(out, find("bags-differ", r.ID.String()+"/"+string(g.Output.Lot), r.Happened, Subject{Lot: g.Output.Lot, Item: g.Output.Item}, nil, []Value{
			word("lot", string(g.Output.Lot)), count("bags", g.Output.Bags), word("net", g.Output.BagNet.String()), word("counted", p.Mass(g.Counted)),
			word("out", g.Output.Weight.Mass.String())}, r.Position))
	}
	return out
}

func (b *StepBalance) findings(st *state.State, f *lots.Floor) (out []*Finding) {
	step := f.Steps[b.Step]
	r := step.Record
	p := st.PlanAt(r.Happened)
	say := func(rule string, more ...Value) *Finding {
		subject := Subject{}
		if len(step.Out) > 0 {
			subject = lotSubject(f.Lots[step.Out[0].Lot])
		}
		if fact, ok := r.Fact.(*records.Process); ok {
			subject.Station = fact.Station
		}
		about := []Value{word("process", step.What), moment("when", p, r.Happened), word("in", p.Mass(b.In.Dry)), word("out", p.Mass(b.Out.Dry))}
		fd := find(rule, r.ID.String(), r.Happened, subject, nil, append(about, more...), r.Position)
		out = append(out, fd)
		return fd
	}
	gain := float64(b.Out.Dry - b.In.Dry)
	switch {
	case b.In.Known && b.Out.Known && len(step.In) > 0 && gain > coverage*math.Sqrt(b.In.U2+b.Out.U2):
		say("dry-gain")
	case b.Verdict == Above || b.Verdict == Below:
		say("loss-out-of-band", word("loss", percent(b.Loss)), word("band", bandWords(b.Band))).Severity = lossSeverity(b.Loss)
	}
	if b.ByProductSays == Above || b.ByProductSays == Below {
		say("by-product-out-of-band", word("share", percent(float64(b.ByProduct)/float64(b.Main))), word("band", bandWords(b.ByProductBand)))
	}
	return out
}

// lossSeverity: outside 0 to 20 % a loss needs an explanation (check value C46, regulations of malting: from memory,
// within figures that were seen).
func lossSeverity(loss float64) Severity {
	if loss < 0 || loss > 0.20 {
		return Major
	}
	return Minor
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

func bandWords(r plan.Range) string {
	switch {
	case r.Min != nil && r.Max != nil:
		return fmt.Sprintf("%s to %s %%", r.Min, r.Max)
	case r.Min != nil:
		return fmt.Sprintf("at least %s %%", r.Min)
	case r.Max != nil:
		return fmt.Sprintf("at most %s %%", r.Max)
	}
	return "nothing in particular"
}
