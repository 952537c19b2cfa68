package trace

import (
	"fmt"
	"math"
	"time"

	"grainward/records"
	"grainward/records/state"
)

// FindDrill is a drill by its code, or nil.
func FindDrill(st *state.State, at records.Instant, code string) *Drill {
	all := Drills(st, at)
	for i := range all {
		if all[i].Code == code {
			return &all[i]
		}
	}
	return nil
}

// FreeDrillCode is a code made from the day, and a number when the day had a drill already.
func FreeDrillCode(st *state.State, now records.Instant) string {
	day := now.Time().Format("2006-01-02")
	if p := st.PlanAt(now); p != nil {
		day = p.Day(now).String()
	}
	code := "drill-" + day
	for n := 2; FindDrill(st, now, code) != nil; n++ {
		code = fmt.Sprintf("drill-%s-%d", day, n)
	}
	return code
}

// Measured are the figures a finish writes down, with masses in a unit; the trace's time is read back by the name "trace".
func (f *DrillFigures) Measured(t *Trace, took time.Duration, unit string) []records.Measured {
	number := func(name string, v float64, unit string, decimals int) records.Measured {
		scaled := int64(math.Round(v * math.Pow10(decimals)))
		return records.Measured{Name: name, Value: records.Quantity{Value: records.NewDecimal(scaled, decimals), Unit: unit}}
	}
	out := []records.Measured{
		number("trace", took.Seconds(), "s", 3),
		number("consignees to reach", float64(f.ToReach), "", 0), number("required by the level", float64(f.Required), "", 0),
		number("tried", float64(f.Tried), "", 0), number("reached", float64(f.Reached), "", 0), number("reached, percent", f.Percent, "%", 1),
		number("shipped", f.Shipped.In(unit), unit, 1), number("found with consignees", f.Found.In(unit), unit, 1),
	}
	accounted, _ := t.Account.Best()
	if share, ok := accounted.Share(); ok {
		out = append(out, number("accounted for", 100*share, "%", 1))
	}
	return out
}
