package audit

import (
	"cmp"
	"fmt"
	"strings"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// Severity orders findings by how much they matter.
type Severity int

const (
	Note Severity = iota + 1
	Minor
	Major
	Critical
)

var severityWords = [...]string{Note: "note", Minor: "minor", Major: "major", Critical: "critical"}

// String is the word.
func (s Severity) String() string { return severityWords[s] }

// MarshalText writes the word.
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word.
func (s *Severity) UnmarshalText(b []byte) error {
	for i, w := range severityWords {
		if w != "" && w == string(b) {
			*s = Severity(i)
			return nil
		}
	}
	return fmt.Errorf("%q is not a severity: note, minor, major or critical", b)
}

// Subject is what a finding is about; what does not apply is empty.
type Subject struct {
	Task       records.TaskCode       `json:"task,omitempty"`
	Station    records.StationCode    `json:"station,omitempty"`
	Person     records.PersonCode     `json:"person,omitempty"`
	Document   records.DocumentCode   `json:"document,omitempty"`
	Instrument records.InstrumentCode `json:"instrument,omitempty"`
	Agent      records.AgentCode      `json:"agent,omitempty"`
	Lot        records.LotCode        `json:"lot,omitempty"`
	Partner    records.PartnerCode    `json:"partner,omitempty"`
	Item       records.ItemCode       `json:"item,omitempty"`
}

// Value is a named value of a finding's sentence: a Word, or a Title in the plant's languages.
type Value struct {
	Name  string    `json:"name"`
	Word  string    `json:"word,omitempty"`
	Title plan.Text `json:"title,omitempty"`
}

// Finding is one thing the records show.
type Finding struct {
	ID       string             `json:"id"` // rule, subject and window; the same finding keeps it for ever
	Rule     string             `json:"rule"`
	Severity Severity           `json:"severity"`
	Subject  Subject            `json:"subject"`
	When     records.Instant    `json:"when"`
	Values   []Value            `json:"values"`
	Evidence []records.Position `json:"evidence"` // the entries that show it
	Clauses  []records.Clause   `json:"clauses"`
	Answers  []records.Position `json:"answers"` // the entries that answer it
	Closed   bool               `json:"closed"`  // an answer closed it
}

// Sentence is the finding in a language, as a crew member would say it.
func (f *Finding) Sentence(lang string) string {
	rule, ok := ruleTable[f.Rule]
	if !ok {
		return f.Rule
	}
	text := rule.Says.In(lang)
	pairs := make([]string, 0, 2*len(f.Values))
	for _, v := range f.Values {
		word := v.Word
		if v.Title != nil {
			word = v.Title.In(lang)
		}
		pairs = append(pairs, "{"+v.Name+"}", word)
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// word and title make the values of a sentence.
func word(name, w string) Value            { return Value{Name: name, Word: w} }
func title(name string, t plan.Text) Value { return Value{Name: name, Title: t} }
func count(name string, n int) Value       { return word(name, fmt.Sprint(n)) }
func moment(name string, p *plan.Plan, at records.Instant) Value {
	return word(name, at.Time().In(p.Location()).Format("2006-01-02 15:04"))
}

// dutyValues are the two values every sentence about a duty has.
func dutyValues(p *plan.Plan, d state.Duty) []Value {
	return []Value{title("task", taskTitle(p, d.Task)), title("station", stationTitle(p, d.Station))}
}

func taskTitle(p *plan.Plan, c records.TaskCode) plan.Text {
	if t := p.Task(c); t != nil {
		return t.Title
	}
	return plan.Text{"en": string(c)}
}

func stationTitle(p *plan.Plan, c records.StationCode) plan.Text {
	if s := p.Station(c); s != nil {
		return s.Title
	}
	return plan.Text{"en": string(c)}
}

func personName(p *plan.Plan, c records.PersonCode) string {
	if who := p.Person(c); who != nil {
		return who.Name
	}
	return string(c)
}

// weight puts findings in the order in which a lead reads them: worst first, then newest first.
func weight(a, b *Finding) int {
	return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(b.When, a.When), strings.Compare(a.ID, b.ID))
}
