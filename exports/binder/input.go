package binder

import (
	"fmt"
	"time"

	"grainward/audit"
	"grainward/exports"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/plan"
)

// Layout is the version of the binder's sheets. It changes when the same records would give other cells.
const Layout = 2

// maxRows is the format's limit on the rows of a sheet (ECMA-376 part 1, 18.3.1.73; the same in Excel).
const maxRows = 1_048_576

// Input is what a binder is made of.
type Input struct {
	Report   *audit.Report
	From, To calendar.Date // civil dates in the plant's zone, both included
	Stamp    exports.Stamp // Stamp.At is the report's moment
	Leaf     func(records.Position) (ledger.Hash, error)
	Lang     string // "en" or "es"; empty is English
	RowLimit int    // rows a sheet may have, headings included; 0 means the format's limit
	TempDir  string // for long sheets while they are written; empty means the system's

	asClaimed bool // the stamp's signature was found wrong before, and is to be written all the same
}

// period is the input's dates as instants, and the plan and zone they were taken by.
type period struct {
	from, to records.Instant // both included
	plan     *plan.Plan
	zone     *time.Location
}

func (in *Input) check() (period, error) {
	invalid := func(field, value, want string) (period, error) {
		return period{}, &records.Error{Kind: records.Invalid, What: "no binder can be made",
			Fields: []records.FieldError{{Field: field, Value: value, Want: want}}}
	}
	p := in.Report.State.PlanAt(in.Report.At)
	switch {
	case in.From > in.To:
		return invalid("from", in.From.String(), "a day not after `to`, "+in.To.String())
	case in.Lang != "" && in.Lang != "en" && in.Lang != "es":
		return invalid("lang", in.Lang, "en or es")
	case in.RowLimit != 0 && (in.RowLimit < headRows+1 || in.RowLimit > maxRows):
		return invalid("rowLimit", fmt.Sprint(in.RowLimit), fmt.Sprintf("from %d to %d", headRows+1, maxRows))
	case in.Stamp.At != in.Report.At:
		return invalid("stamp.moment", in.Stamp.At.String(), "the report's moment, "+in.Report.At.String())
	case in.Stamp.Size != in.Report.State.Size():
		return invalid("stamp.position", fmt.Sprint(in.Stamp.Size), fmt.Sprintf("the size of the journal that was judged, %d", in.Report.State.Size()))
	case p == nil:
		return invalid("moment", in.Report.At.String(), "a time after a plan was adopted; adopt one with `grainward plan adopt`")
	}
	if err := in.Stamp.Check(); err != nil && !in.asClaimed {
		return period{}, err
	}
	return period{
		from: p.At(in.From, plan.DayTime{}), to: p.At(in.To.AddDays(1), plan.DayTime{}) - 1,
		plan: p, zone: p.Location(),
	}, nil
}

// holds says whether an instant lies in the period.
func (p *period) holds(at records.Instant) bool { return p.from <= at && at <= p.to }

func (p *period) day(at records.Instant) calendar.Date { return calendar.DateOf(at.Time(), p.zone) }
