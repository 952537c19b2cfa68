package bigplant

import (
	"fmt"
	"strings"

	"grainward/records"
)

// slot is one of the three stretches of a day in which rounds are due.
type slot struct{ opens, due, lapses int } // minutes after midnight

var slots = [3]slot{{5 * 60, 8 * 60, 10 * 60}, {12 * 60, 15 * 60, 17 * 60}, {19 * 60, 22 * 60, 23*60 + 30}}

// ask is a question: a number between two limits, or one whose right answer is yes.
type ask struct {
	code       records.AskCode
	unit       string
	lo, hi     float64 // limits
	low, high  float64 // what is usually read
	instrument string
	residue    bool
}

// task is a task of the plan with what it takes to sign it off.
type task struct {
	code     records.TaskCode
	family   string
	stations []records.StationCode
	rounds   []int  // of slots, every day
	weekly   string // a day of the week, in the second slot, instead
	after    records.TaskCode
	while    [2]records.TaskCode
	grade    string
	agent    records.AgentCode
	trained  bool
	second   bool
	minutes  int // the work takes
	asks     []ask
}

var yesAsk = ask{code: "right"}

func everywhere(kinds ...string) (all []records.StationCode) {
	for h := range houses {
		for _, k := range kinds {
			switch k {
			case "floor":
				for n := range floors {
					all = append(all, nth(k, h, n))
				}
			case "steep":
				for n := range steeps {
					all = append(all, nth(k, h, n))
				}
			default:
				all = append(all, station(k, h))
			}
		}
	}
	return all
}

func numbered(format string, n int) (all []records.StationCode) {
	for i := range n {
		all = append(all, records.StationCode(fmt.Sprintf(format, i+1)))
	}
	return all
}

// tasks are all that the plan asks for.
var tasks = []task{
	{code: "hygiene-check", family: "sanitation", stations: numbered("door-%d", doors), rounds: []int{0, 1, 2}, minutes: 5, asks: []ask{yesAsk, {code: "hands"}}},
	{code: "footwear-check", family: "footwear", stations: numbered("door-%d", doors), rounds: []int{0, 1, 2}, minutes: 3, asks: []ask{yesAsk}},
	{code: "steep-watch", family: "monitoring", stations: everywhere("steep"), rounds: []int{0, 2}, while: [2]records.TaskCode{"steep-in", "steep-out"}, minutes: 5,
		asks: []ask{{code: "co2", unit: "ppm", hi: 5000, low: 600, high: 3900}, yesAsk}},
	{code: "turn-bed", family: "turning", stations: everywhere("floor"), rounds: []int{0, 2}, while: [2]records.TaskCode{"load-bed", "strip-bed"}, minutes: 20, asks: []ask{yesAsk}},
	{code: "bed-temperature", family: "monitoring", stations: everywhere("floor"), rounds: []int{0, 2}, while: [2]records.TaskCode{"load-bed", "strip-bed"}, minutes: 4,
		asks: []ask{{code: "top", unit: "degF", lo: 58, hi: 70, low: 60, high: 68, instrument: "bed-probe"}, {code: "bottom", unit: "degF", lo: 50, hi: 60, low: 52, high: 58, instrument: "bed-probe"}}},
	{code: "floor-air", family: "monitoring", stations: everywhere("floor"), rounds: []int{0}, while: [2]records.TaskCode{"load-bed", "strip-bed"}, minutes: 3,
		asks: []ask{{code: "co2", unit: "ppm", hi: 5000, low: 500, high: 2900}}},
	{code: "kiln-watch", family: "monitoring", stations: everywhere("kiln"), rounds: []int{0, 1, 2}, while: [2]records.TaskCode{"kiln-load", "kiln-off"}, minutes: 6,
		asks: []ask{{code: "air-on", unit: "degF", lo: 100, hi: 200, low: 110, high: 185}, {code: "air-off", unit: "degF", lo: 60, hi: 190, low: 75, high: 170}}},
	{code: "silo-temperature", family: "monitoring", stations: everywhere("silo"), rounds: []int{1}, minutes: 6, asks: []ask{{code: "warmest", unit: "degF", lo: -20, hi: 90, low: 40, high: 78}}},
	{code: "scale-check", family: "calibration", stations: everywhere("bagger"), rounds: []int{0}, minutes: 5, asks: []ask{{code: "shown", unit: "lb", lo: 49.9, hi: 50.1, low: 49.94, high: 50.06}}},
	{code: "metal-check", family: "monitoring", stations: everywhere("bagger"), rounds: []int{1, 2}, minutes: 5, asks: []ask{yesAsk}},
	{code: "magnet-check", family: "monitoring", stations: everywhere("cleaner"), rounds: []int{1}, minutes: 5, asks: []ask{{code: "found", unit: "g", hi: 20, low: 0, high: 9}}},
	{code: "tidy-round", family: "walk-round", stations: numbered("room-%02d", rooms), rounds: []int{1}, minutes: 10, asks: []ask{yesAsk, {code: "dust", unit: "mm", hi: 3, low: 0.1, high: 2.4}}},
	{code: "trap-check", family: "pest", stations: numbered("room-%02d", rooms), weekly: "TU", minutes: 8, asks: []ask{{code: "insects", unit: "caught", hi: 5, low: 0, high: 4}}},
	{code: "drain-clean", family: "floor", stations: everywhere("floor"), weekly: "WE", agent: "potable-water", minutes: 15, asks: []ask{yesAsk}},
	{code: "water-check", family: "water", stations: everywhere("steep"), weekly: "TH", minutes: 5, asks: []ask{{code: "chlorine", unit: "mg/L", hi: 4, low: 0.3, high: 2.8}}},
	{code: "meter-check", family: "calibration", stations: []records.StationCode{"bench"}, weekly: "MO", minutes: 10, asks: []ask{{code: "off", unit: "%", lo: -0.5, hi: 0.5, low: -0.2, high: 0.2}}},
	{code: "probe-check", family: "calibration", stations: []records.StationCode{"bench"}, weekly: "MO", minutes: 10, asks: []ask{{code: "ice", unit: "degF", lo: 31, hi: 33, low: 31.6, high: 32.4}}},

	{code: "steep-in", family: "monitoring", stations: everywhere("steep"), asks: []ask{{code: "water", unit: "degF", lo: 45, hi: 65, low: 50, high: 60}}},
	{code: "steep-out", family: "monitoring", stations: everywhere("steep"), asks: []ask{{code: "moisture", unit: "%", lo: 42, hi: 48, low: 43.5, high: 46.5}}},
	{code: "steep-clean", family: "clean-out", stations: everywhere("steep"), after: "steep-out", grade: "washed", agent: "potable-water", minutes: 12, asks: []ask{yesAsk}},
	{code: "load-bed", family: "monitoring", stations: everywhere("floor"), asks: []ask{yesAsk}},
	{code: "strip-bed", family: "monitoring", stations: everywhere("floor"), asks: []ask{yesAsk}},
	{code: "floor-scrub", family: "floor", stations: everywhere("floor"), after: "strip-bed", grade: "washed", agent: "ozone-water", trained: true, minutes: 35,
		asks: []ask{{code: "residue", unit: "mg/L", hi: 0.1, low: 0, high: 0.08, residue: true}, yesAsk}},
	{code: "kiln-load", family: "monitoring", stations: everywhere("kiln"), asks: []ask{{code: "depth", unit: "in", lo: 22, hi: 31, low: 24, high: 29}}},
	{code: "kiln-off", family: "monitoring", stations: everywhere("kiln"), asks: []ask{{code: "moisture", unit: "%", lo: 3, hi: 4.5, low: 3.3, high: 4.2, instrument: "moisture-meter"}}},
	{code: "kiln-clean", family: "clean-out", stations: everywhere("kiln"), after: "kiln-off", grade: "swept", minutes: 15, asks: []ask{yesAsk}},
	{code: "silo-clean", family: "clean-out", stations: everywhere("silo"), grade: "stripped", minutes: 25, asks: []ask{yesAsk}},
	{code: "dry-clean", family: "clean-out", stations: everywhere("conveyor", "cleaner", "bagger"), weekly: "FR", grade: "swept", minutes: 20, asks: []ask{yesAsk}},
	{code: "changeover-clean", family: "clean-out", stations: everywhere("pit", "conveyor", "kiln", "bin", "cleaner", "clean-bin", "bagger"), grade: "stripped", trained: true, second: true, minutes: 10,
		asks: []ask{{code: "kernels", unit: "kernels", hi: 0}}},
}

var taskOf = func() map[records.TaskCode]*task {
	m := map[records.TaskCode]*task{}
	for i := range tasks {
		m[tasks[i].code] = &tasks[i]
	}
	return m
}()

func clockText(minutes int) string { return fmt.Sprintf(`"%02d:%02d"`, minutes/60, minutes%60) }

// write writes the task as the plan has it.
func (t *task) write(p func(string, ...any)) {
	p("  - code: %s", t.code)
	p("    title: %s", strings.ToUpper(string(t.code[:1]))+strings.ReplaceAll(string(t.code[1:]), "-", " "))
	p("    family: %s", t.family)
	var at []string
	for _, s := range t.stations {
		at = append(at, string(s))
	}
	p("    stations: [%s]", strings.Join(at, ", "))
	due := func(rule string, s slot) {
		p("      - {rule: %s, opens: %s, due: %s, lapses: %s}", rule, clockText(s.opens), clockText(s.due), clockText(s.lapses))
	}
	if t.while[0] != "" {
		p("    while: {from: %s, until: %s}", t.while[0], t.while[1])
	}
	switch {
	case t.after != "":
		p("    when:")
		p("      - {after: {kind: signoff, task: %s}, dueIn: 8h, lapsesIn: 1d}", t.after)
	case t.weekly != "":
		p("    when:")
		due("FREQ=WEEKLY;BYDAY="+t.weekly, slots[1])
	case t.rounds != nil:
		p("    when:")
		for _, n := range t.rounds {
			due("FREQ=DAILY", slots[n])
		}
	}
	if t.grade != "" {
		p("    grade: %s", t.grade)
	}
	if t.agent != "" {
		p("    agents: [%s]", t.agent)
	}
	if t.trained {
		p("    trained: true")
	}
	if t.second {
		p("    second: true")
	}
	p("    asks:")
	for _, a := range t.asks {
		if a.unit == "" {
			p(`      - {code: %s, title: As it should be, type: yesno, right: "yes"}`, a.code)
			continue
		}
		more := ""
		if a.residue {
			more = ", residue: true"
		}
		if a.instrument != "" {
			more += ", instrument: " + a.instrument
		}
		p(`      - {code: %s, title: Reading, type: number, unit: "%s", limits: {min: %g, max: %g}%s}`, a.code, a.unit, a.lo, a.hi, more)
	}
	p("    clauses: [21 CFR 117.145]")
}
