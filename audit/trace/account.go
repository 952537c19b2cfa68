package trace

import (
	"math/big"
	"slices"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Account is the mass of the subject and all that was made of it: what came in, and where it is. See the package comment.
type Account struct {
	AsIs Sums
	Dry  *Sums // nil when a moisture is missing that is needed
	// Undried are the first lots and processes for want of whose moisture there is no account on dry matter.
	Undried []string
	// Unbanded are the processes with a loss for which the plan names no band, each once: their loss is not accounted for.
	Unbanded []string
	// Whole says that losses without a band of their own were held against the plan's band for the whole way from the grain.
	Whole     bool
	Estimated bool // some mass is a share of a mixed station
}

// Sums are exact micrograms. Basis = OnHand + HandedOver + ByProduct + Samples + Destroyed + Loss + Unbanded + Excess + Unexplained.
type Sums struct {
	Received records.Micrograms // the basis: taken in from outside or made before the subject…
	Joined   records.Micrograms // …and what other lots brought into the same processes

	OnHand     records.Micrograms // at our stations
	HandedOver records.Micrograms // with partners
	ByProduct  records.Micrograms // by-product items at our stations, and what partners took as feed
	Samples    records.Micrograms // retained, or handed over as samples
	Destroyed  records.Micrograms // handed over as compost or landfill
	Loss       records.Micrograms // in processes, as far as the plan's bands go

	Unbanded    records.Micrograms // lost (below nothing: gained) in processes without a band, or without the moistures to tell
	Excess      records.Micrograms // lost beyond the bands, or gained
	Unexplained records.Micrograms // what counts, last drawings and differences of moisture leave over; below nothing when more is there than came
}

// Basis is all that came in.
func (s Sums) Basis() records.Micrograms { return s.Received + s.Joined }

// Accounted is what of it is accounted for.
func (s Sums) Accounted() records.Micrograms {
	return s.OnHand + s.HandedOver + s.ByProduct + s.Samples + s.Destroyed + s.Loss
}

// Share is accounted / basis, and false when nothing came in. It may be above 1: more is there than came.
func (s Sums) Share() (float64, bool) {
	if s.Basis() <= 0 {
		return 0, false
	}
	return float64(s.Accounted()) / float64(s.Basis()), true
}

// Best is the account on dry matter when there is one, else the one as is; and which.
func (a Account) Best() (s Sums, dry bool) {
	if a.Dry != nil {
		return *a.Dry, true
	}
	return a.AsIs, false
}

// accountant adds up one account, as is or dry.
type accountant struct {
	st    *state.State
	f     *lots.Floor
	g     *Graph
	w     *Walk
	dry   bool
	sums  Sums
	parts *Account
	okay  bool // every moisture needed is known
}

func account(st *state.State, f *lots.Floor, g *Graph, w *Walk) Account {
	var a Account
	asIs := accountant{st: st, f: f, g: g, w: w, parts: &a, okay: true}
	asIs.add()
	a.AsIs = asIs.sums
	unbanded := a.Unbanded
	dry := accountant{st: st, f: f, g: g, w: w, dry: true, parts: &a, okay: true}
	a.Unbanded = nil
	dry.add()
	if dry.okay {
		sums := dry.sums
		a.Dry = &sums
	} else {
		a.Unbanded = unbanded
	}
	return a
}

func (x *accountant) add() {
	for _, i := range x.w.Lots {
		x.standing(int(i))
		x.entered(int(i))
	}
	for _, s := range x.w.ordered() {
		x.step(int(s))
	}
	x.whole()
	s := &x.sums
	s.Unexplained = s.Basis() - s.Accounted() - s.Unbanded - s.Excess
}

// missing notes something without a moisture.
func (x *accountant) missing(what string) {
	x.okay = false
	const enough = 10
	if len(x.parts.Undried) < enough && !slices.Contains(x.parts.Undried, what) {
		x.parts.Undried = append(x.parts.Undried, what)
	}
}

// scaled is the part of a lot's mass to be counted: the mass itself, or its dry matter as the lot's entered mass had it.
func (x *accountant) scaled(l *lots.Lot, m records.Micrograms) records.Micrograms {
	if !x.dry || m == 0 {
		return m
	}
	if !l.DryKnown || l.Entered == 0 {
		x.missing("lot " + string(l.Code))
		return 0
	}
	v := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(int64(l.Dry)))
	return records.Micrograms(v.Quo(v, big.NewInt(int64(l.Entered))).Int64())
}

// entered adds what came into the circle with the lot itself: all that entered it but what steps of the walk made.
func (x *accountant) entered(i int) {
	l := x.f.Lots[i]
	m := l.Entered
	if x.dry {
		if m != 0 && !l.DryKnown {
			x.missing("lot " + string(l.Code))
			return
		}
		m = l.Dry
	}
	for _, s := range l.Made {
		if !x.w.steps.has(int32(s)) {
			continue
		}
		for _, o := range x.f.Steps[s].Out {
			if o.Lot == i {
				made, ok := x.made(o)
				if !ok {
					return // said where the step is counted
				}
				m -= made
			}
		}
	}
	x.sums.Received += m
}

func (x *accountant) made(o lots.Made) (records.Micrograms, bool) {
	if !x.dry {
		return o.Mass, true
	}
	if o.Mass == 0 {
		return 0, true
	}
	return lots.DryMatter(o.Mass, o.Output.Weight.Moisture)
}

// standing sorts what of a lot stands where.
func (x *accountant) standing(i int) {
	l := x.f.Lots[i]
	byProduct := false
	if p := x.st.PlanAt(x.f.At); p != nil {
		item := p.Item(l.Item)
		byProduct = item != nil && item.Stage == "by-product"
	}
	for place, m := range l.At.All() {
		m = x.scaled(l, m)
		switch {
		case place == lots.Samples:
			x.sums.Samples += m
		case place.Holder == "" && byProduct:
			x.sums.ByProduct += m
		case place.Holder == "":
			x.sums.OnHand += m
		default:
			x.handedOver(i, l, place, m)
		}
	}
}

// handedOver sorts what stands with a partner by what it was handed over for; what went on from there is gone from the
// other uses first, since nobody sells feed or waste on.
func (x *accountant) handedOver(i int, l *lots.Lot, place lots.Place, m records.Micrograms) {
	var feed, waste, samples records.Micrograms
	for _, r := range l.Events {
		if h, ok := r.Fact.(*records.Handover); !ok || h.To != place.Holder {
			continue
		}
		if t := x.transfer(r); t != nil {
			for _, p := range t.Portions {
				if p.Lot != i {
					continue
				}
				switch t.Handover.Use {
				case records.Feed:
					feed += p.Mass
				case records.Compost, records.Landfill:
					waste += p.Mass
				case records.ForTest:
					samples += p.Mass
				}
			}
		}
	}
	for _, part := range []struct {
		of  records.Micrograms
		sum *records.Micrograms
	}{{feed, &x.sums.ByProduct}, {waste, &x.sums.Destroyed}, {samples, &x.sums.Samples}} {
		n := min(x.scaled(l, part.of), max(m, 0))
		*part.sum += n
		m -= n
	}
	x.sums.HandedOver += m
}

// transfer is that of an entry: they are in order of time, as all else of a floor.
func (x *accountant) transfer(r *state.Record) *lots.Transfer {
	ts := x.f.Transfers
	k, ok := slices.BinarySearchFunc(ts, r, func(t *lots.Transfer, r *state.Record) int { return order(t.Record, r) })
	if !ok {
		return nil
	}
	return ts[k]
}

// step adds what other lots brought into a step, and its loss.
func (x *accountant) step(s int) {
	step := x.f.Steps[s]
	var in, out, dryIn, dryOut records.Micrograms
	dryKnown := true
	for _, p := range step.In {
		x.parts.Estimated = x.parts.Estimated || p.Estimated
		dry, ok := x.dryPortion(p)
		dryKnown = dryKnown && ok
		dryIn += dry
		m := p.Mass
		if x.dry {
			m = dry
		}
		in += m
		if !x.w.lots.has(int32(p.Lot)) {
			x.sums.Joined += m
		}
	}
	for _, o := range step.Out {
		dry, ok := lots.DryMatter(o.Mass, o.Output.Weight.Moisture)
		ok = ok || o.Mass == 0
		dryKnown = dryKnown && ok
		dryOut += dry
		m := o.Mass
		if x.dry {
			m = dry
		}
		out += m
	}
	if x.dry && !dryKnown {
		x.missing(step.What + " of " + step.Record.Happened.String())
		return
	}
	loss := in - out
	band := bandOf(x.st, step)
	switch {
	case loss == 0 && (!dryKnown || dryIn == dryOut):
	case band == nil || !dryKnown:
		x.sums.Unbanded += loss
		if !slices.Contains(x.parts.Unbanded, step.What) {
			x.parts.Unbanded = append(x.parts.Unbanded, step.What)
		}
	case x.dry:
		within := min(max(loss, 0), mostLost(band, dryIn))
		x.sums.Loss += within
		x.sums.Excess += loss - within
	case dryIn >= dryOut && dryIn-dryOut <= mostLost(band, dryIn):
		x.sums.Loss += loss // mostly water; the dry matter says that it is as expected
	default:
		x.sums.Excess += loss
	}
}

// whole holds losses without a band of their own against the plan's band for the whole way from grain to a finished item (its row
// for "malting"): when the grain that went in is part of the account, and their sum lies between nothing and that band's upper end,
// it is accounted for.
func (x *accountant) whole() {
	if !x.dry || x.sums.Unbanded <= 0 {
		return
	}
	var grain records.Micrograms
	var band *plan.Range
	for _, s := range x.w.ordered() {
		step := x.f.Steps[s]
		p := x.st.PlanAt(step.Record.Happened)
		if p == nil {
			return
		}
		for _, in := range step.In {
			if item := p.Item(x.f.Lots[in.Lot].Item); item != nil && item.Stage == "raw" {
				dry, _ := x.dryPortion(in)
				grain += dry
			}
		}
		for _, o := range step.Out {
			item := p.Item(o.Output.Item)
			if item == nil || item.Stage != "finished" {
				continue
			}
			for i := range item.Losses {
				if row := &item.Losses[i]; row.Process == wholeWay && row.Dry.Max != nil && (band == nil || row.Dry.Max.Cmp(*band.Max) < 0) {
					band = &row.Dry // of several, the narrowest
				}
			}
		}
	}
	if band != nil && x.sums.Unbanded <= mostLost(band, grain) {
		x.sums.Loss += x.sums.Unbanded
		x.sums.Unbanded, x.parts.Unbanded = 0, nil
		x.parts.Whole = true
	}
}

// wholeWay is the name under which a plan gives the loss of a finished item over the whole way from its grain.
const wholeWay = "malting"

// dryPortion is the dry matter of what went in: by its own moisture, else as its lot had it.
func (x *accountant) dryPortion(p lots.Portion) (records.Micrograms, bool) {
	if dry, ok := lots.DryMatter(p.Mass, p.Moisture); ok || p.Mass == 0 {
		return dry, true
	}
	l := x.f.Lots[p.Lot]
	if !l.DryKnown || l.Entered == 0 {
		return 0, false
	}
	v := new(big.Int).Mul(big.NewInt(int64(p.Mass)), big.NewInt(int64(l.Dry)))
	return records.Micrograms(v.Quo(v, big.NewInt(int64(l.Entered))).Int64()), true
}

// bandOf is the band of dry loss that the plan then in force has for the step's first output that is no by-product; nil
// when it has none.
func bandOf(st *state.State, step *lots.Step) *plan.Range {
	p := st.PlanAt(step.Record.Happened)
	if p == nil {
		return nil
	}
	for _, o := range step.Out {
		item := p.Item(o.Output.Item)
		if item != nil && item.Stage == "by-product" {
			continue
		}
		if item == nil {
			return nil
		}
		for i := range item.Losses {
			if row := &item.Losses[i]; row.Process == step.What && row.Dry.Max != nil {
				return &row.Dry
			}
		}
		return nil
	}
	return nil
}

// mostLost is the upper end of a band, of a mass, rounded down to the microgram.
func mostLost(band *plan.Range, in records.Micrograms) records.Micrograms {
	v := new(big.Rat).Mul(band.Max.Rat(), new(big.Rat).SetFrac64(int64(in), 100))
	return records.Micrograms(new(big.Int).Div(v.Num(), v.Denom()).Int64())
}
