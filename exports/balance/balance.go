// Package balance gathers what the masses of a period come to, for whoever shows it: the command line and the pages. The figures are the
// audit's; the words are here, in both languages, so that they are the same wherever they are read.
//
// It knows how figures are written and worded. It must not know HTTP, a page or a terminal, and works nothing out.
package balance

import (
	"math"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// Sheet is what there is to show: the outer object of `grainward balance --json`, whose members are documented in its help and stay.
type Sheet struct {
	Format    int             `json:"format"`
	From      records.Instant `json:"from"`
	To        records.Instant `json:"to"`
	Processes []Process       `json:"processes"`
	Whole     []Whole         `json:"whole"`
	Bags      []Bags          `json:"bags"`
	Inventory []Inventory     `json:"inventory"`
	Organic   Organic         `json:"organic"`

	// What the figures were written from, not part of the JSON.
	Lines []audit.Line         `json:"-"`
	Sums  audit.OrganicBalance `json:"-"`
}

// Band is what the plan expects, in percent.
type Band struct {
	Min *records.Decimal `json:"min,omitzero"`
	Max *records.Decimal `json:"max,omitzero"`
}

// Process is one process: dry matter in against out. DryIn, DryOut and Loss are left out when a moisture is missing.
type Process struct {
	What             string              `json:"what"`
	When             records.Instant     `json:"when"`
	Station          records.StationCode `json:"station,omitzero"`
	Lots             []records.LotCode   `json:"lots"`
	Position         records.Position    `json:"position"`
	DryIn            string              `json:"dryIn,omitzero"`
	DryOut           string              `json:"dryOut,omitzero"`
	Loss             *float64            `json:"loss,omitzero"`
	Band             Band                `json:"band"`
	Verdict          audit.Verdict       `json:"verdict"`
	ByProduct        string              `json:"byProduct"`
	ByProductVerdict audit.Verdict       `json:"byProductVerdict"`

	In, Out audit.Dry          `json:"-"`
	TwoU    records.Micrograms `json:"-"` // twice the standard uncertainty of the difference
}

// Whole is a finished lot against the grain it goes back to.
type Whole struct {
	Lot      records.LotCode `json:"lot"`
	GrainDry string          `json:"grainDry"`
	Dry      string          `json:"dry"`
	Loss     float64         `json:"loss"`
	Band     Band            `json:"band"`
	Verdict  audit.Verdict   `json:"verdict"`

	Grain, Made, TwoU records.Micrograms `json:"-"` // dry
}

// Bags is what bags are labelled with against the mass that came out.
type Bags struct {
	Lot      records.LotCode  `json:"lot"`
	When     records.Instant  `json:"when"`
	Bags     int              `json:"bags"`
	Counted  string           `json:"counted"`
	Differs  string           `json:"differs"`
	Verdict  audit.Verdict    `json:"verdict"`
	Position records.Position `json:"position"`

	By   records.Micrograms `json:"-"`
	TwoU records.Micrograms `json:"-"`
}

// Inventory is one item and status: opening + received + made - used - sent - sampled + unexplained = closing.
type Inventory struct {
	Item        records.ItemCode `json:"item"`
	Status      records.Status   `json:"status"`
	Opening     string           `json:"opening"`
	Received    string           `json:"received"`
	Made        string           `json:"made"`
	Used        string           `json:"used"`
	Sent        string           `json:"sent"`
	Sampled     string           `json:"sampled"`
	Unexplained string           `json:"unexplained"`
	Counted     string           `json:"counted"`
	Closing     string           `json:"closing"`
}

// Organic is dry matter of organic goods up to the end.
type Organic struct {
	In       string `json:"in"`
	Out      string `json:"out"`
	Standing string `json:"standing"`
	Unknown  int    `json:"unknown"`
}

// Gather balances everything from one moment to a later one.
func Gather(st *state.State, from, to records.Instant) *Sheet {
	return Of(st, audit.Floor(st, from-1), audit.Floor(st, to))
}

// Of balances everything from one floor to a later one.
func Of(st *state.State, open, f *lots.Floor) *Sheet {
	from, to := open.At+1, f.At
	balance := audit.BalanceSince(st, f, from)
	out := &Sheet{Format: 1, From: from, To: to, Processes: []Process{}, Whole: []Whole{}, Bags: []Bags{}, Inventory: []Inventory{}}
	for _, s := range balance.Steps() {
		step := f.Steps[s.Step]
		r := step.Record
		row := Process{What: step.What, When: r.Happened, Lots: []records.LotCode{}, Position: r.Position, DryIn: Known(s.In, Kilograms), DryOut: Known(s.Out, Kilograms),
			Band: Band(s.Band), Verdict: s.Verdict, ByProduct: Kilograms(s.ByProduct), ByProductVerdict: s.ByProductSays, In: s.In, Out: s.Out, TwoU: s.TwoU()}
		if fact, ok := r.Fact.(*records.Process); ok {
			row.Station = fact.Station
		}
		for _, o := range step.Out {
			row.Lots = append(row.Lots, f.Lots[o.Lot].Code)
		}
		if !math.IsNaN(s.Loss) {
			row.Loss = &s.Loss
		}
		out.Processes = append(out.Processes, row)
	}
	for _, x := range balance.Whole() {
		out.Whole = append(out.Whole, Whole{f.Lots[x.Lot].Code, Kilograms(records.Micrograms(math.Round(x.Raw))), Kilograms(x.Dry), x.Loss, Band(x.Band), x.Verdict, records.Micrograms(math.Round(x.Raw)), x.Dry, x.TwoU()})
	}
	for _, x := range balance.Bags() {
		r := f.Steps[x.Step].Record
		out.Bags = append(out.Bags, Bags{x.Output.Lot, r.Happened, x.Output.Bags, Kilograms(x.Counted), Kilograms(x.Differs), x.Verdict, r.Position, x.Differs, x.TwoU()})
	}
	out.Lines = audit.Reconcile(open, f)
	for _, x := range out.Lines {
		out.Inventory = append(out.Inventory, Inventory{x.Item, x.Status, Kilograms(x.Opening), Kilograms(x.Received), Kilograms(x.Made), Kilograms(x.Used), Kilograms(x.Sent),
			Kilograms(x.Sampled), Kilograms(x.Unexplained), Kilograms(x.Counted), Kilograms(x.Closing)})
	}
	out.Sums = audit.Organic(st, f)
	out.Organic = Organic{Kilograms(out.Sums.In.Dry), Kilograms(out.Sums.Out.Dry), Kilograms(out.Sums.Standing.Dry), out.Sums.Unknown}
	return out
}

// Known is a dry mass in words, and nothing when a moisture is missing: what is not known is not 0.
func Known(d audit.Dry, say func(records.Micrograms) string) string {
	if !d.Known {
		return ""
	}
	return say(d.Dry)
}

// Kilograms is a mass in decimal kilograms, exactly.
func Kilograms(m records.Micrograms) string { return records.NewDecimal(int64(m), 9).String() }

// Called says whether a verdict calls a difference out.
func Called(v audit.Verdict) bool { return v == audit.Above || v == audit.Below }
