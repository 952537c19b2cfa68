package plan

import (
	"fmt"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// Families of tasks, in the order of the binder's sheets.
const (
	Sanitation  = "sanitation"
	Footwear    = "footwear"
	Floor       = "floor"
	CleanOut    = "clean-out"
	Turning     = "turning"
	Monitoring  = "monitoring"
	Pest        = "pest"
	Water       = "water"
	Calibration = "calibration"
	TrainingLog = "training"
	WalkRound   = "walk-round"
)

// Families lists them in the binder's order.
func Families() []string {
	return []string{Sanitation, Footwear, Floor, CleanOut, Turning, Monitoring, Pest, Water, Calibration, TrainingLog, WalkRound}
}

// Task is work that is asked for.
type Task struct {
	Code       records.TaskCode       `yaml:"code" validate:"code"`
	Title      Text                   `yaml:"title" validate:"min=1"`
	Family     string                 `yaml:"family" validate:"oneof=sanitation footwear floor clean-out turning monitoring pest water calibration training walk-round"`
	Stations   []records.StationCode  `yaml:"stations" validate:"min=1,dive,code"`
	When       []When                 `yaml:"when" validate:"dive"` // none: done as needed, never due
	While      *While                 `yaml:"while"`
	Asks       []Ask                  `yaml:"asks" validate:"dive"`
	Agents     []records.AgentCode    `yaml:"agents" validate:"dive,code"` // that may be used
	Grade      records.GradeCode      `yaml:"grade" validate:"omitempty,code"`
	Who        string                 `yaml:"who" validate:"oneof=crew lead" default:"crew"`        // the least role that may sign
	Second     bool                   `yaml:"second"`                                               // a second person stands by and is named
	Trained    bool                   `yaml:"trained"`                                              // only people trained in it may sign
	Trains     []records.TaskCode     `yaml:"trains" validate:"dive,code"`                          // for family training: what it trains for
	Relies     []records.DocumentCode `yaml:"relies" validate:"dive,code"`                          // documents that must hold on the day
	NonWorking string                 `yaml:"nonWorking" validate:"oneof=rest work" default:"rest"` // on the plant's non-working days
	Cautions   []Caution              `yaml:"cautions" validate:"dive"`
	Clauses    []records.Clause       `yaml:"clauses" validate:"dive,required"`
}

// When is one way a task falls due. Exactly one of Rule, EachShift and After is given.
type When struct {
	Rule   *calendar.Rule `yaml:"rule"`   // RFC 5545 recurrence over civil dates
	Starts *calendar.Date `yaml:"starts"` // DTSTART of the rule
	Opens  DayTime        `yaml:"opens"`  // wall times on each date of the rule
	Due    DayTime        `yaml:"due"`
	Lapses DayTime        `yaml:"lapses"`

	EachShift bool `yaml:"eachShift"` // a window in every shift of every day: opens with it, due and lapses at its end plus Grace

	After *Event `yaml:"after"` // a window after every such entry; opens at its Happened

	DueIn    Span `yaml:"dueIn"`    // with After: from its Happened to due
	LapsesIn Span `yaml:"lapsesIn"` // with After: to lapsing
	Grace    Span `yaml:"grace"`    // with EachShift: from the end of the shift to lapsing
}

// String says when the work falls due, in one line.
func (w When) String() string {
	switch {
	case w.Rule != nil:
		from := ""
		if w.Starts != nil {
			from = " from " + w.Starts.String()
		}
		return fmt.Sprintf("%s%s, opens %s, due %s, lapses %s", w.Rule, from, w.Opens, w.Due, w.Lapses)
	case w.After != nil:
		return fmt.Sprintf("after %s, due in %s, lapses in %s", w.After, w.DueIn, w.LapsesIn)
	case w.EachShift && w.Grace > 0:
		return fmt.Sprintf("each shift, lapses %s after its end", w.Grace)
	case w.EachShift:
		return "each shift"
	}
	return "as needed"
}

// String names the entries in one line.
func (e Event) String() string {
	text := string(e.Kind)
	if e.Task != "" {
		text += " of " + string(e.Task)
	}
	if e.Passed {
		text = "passed " + text
	}
	if e.Station == "any" {
		text += " anywhere"
	}
	return text
}

// Event names entries: of a kind, and for sign-offs of a task. Station "same" (the default) means at the duty's own
// station; "any" means anywhere.
type Event struct {
	Kind    records.Kind     `yaml:"kind" validate:"required"`
	Task    records.TaskCode `yaml:"task" validate:"omitempty,code"` // with kind signoff
	Station string           `yaml:"station" validate:"oneof=same any" default:"same"`
	Passed  bool             `yaml:"passed"` // only sign-offs that passed
}

// While limits windows to a condition at the station: it holds from a passing sign-off of From until the next passing
// sign-off of Until, such as from loading a bed to stripping it.
type While struct {
	From  records.TaskCode `yaml:"from" validate:"code"`
	Until records.TaskCode `yaml:"until" validate:"code"`
}

// Ask is one thing a sign-off must say.
type Ask struct {
	Code       records.AskCode        `yaml:"code" validate:"code"`
	Title      Text                   `yaml:"title" validate:"min=1"`
	Type       string                 `yaml:"type" validate:"oneof=number yesno choice text photo"`
	Unit       string                 `yaml:"unit" validate:"max=20"`  // for number
	Limits     Range                  `yaml:"limits"`                  // for number
	Right      string                 `yaml:"right" validate:"max=60"` // for yesno ("yes" or "no") and choice: the answer that is right; none: any
	Choices    []string               `yaml:"choices" validate:"dive,required,max=100"`
	Optional   bool                   `yaml:"optional"`
	Residue    bool                   `yaml:"residue"` // what is left of a cleaning agent: over its limit it is a finding of its own
	Instrument records.InstrumentCode `yaml:"instrument" validate:"omitempty,code"`
	Source     string                 `yaml:"source" validate:"max=200"` // where the limit comes from
}

// Caution is a warning shown before the work.
type Caution struct {
	Text   Text   `yaml:"text" validate:"min=1"`
	Source string `yaml:"source" validate:"required,max=200"`
}

// Span is a length of time in whole seconds, written "45m", "6h", "2d" or "1d 12h". A day of a span is 24 hours.
type Span int64

// Duration is the span as a time.Duration.
func (s Span) Duration() time.Duration { return time.Duration(s) * time.Second }

// DayTime is a wall time on a date of a rule or a later day, written "05:30" or "06:00 +1" (the day after).
type DayTime struct {
	Days  int
	Clock calendar.Clock
}

// Seconds orders day times: seconds from the midnight the date begins with.
func (d DayTime) Seconds() int { return d.Days*86400 + int(d.Clock) }
