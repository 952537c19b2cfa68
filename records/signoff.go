package records

// Outcome is what the person signing said of the work. Whether the answers bear it out is the audit's business.
type Outcome string

const (
	Passed Outcome = "passed"
	Failed Outcome = "failed"
)

// Signoff says that a task was done at a station. The envelope's Happened is when it was finished.
type Signoff struct {
	Task     TaskCode     `json:"task" validate:"code"`
	Station  StationCode  `json:"station" validate:"code"`
	Window   Instant      `json:"window,omitzero"`  // the opening of the window it was signed for, when the device knew it
	Started  Instant      `json:"started,omitzero"` // when the work began, when it was noted
	Outcome  Outcome      `json:"outcome" validate:"oneof=passed failed"`
	Answers  []Response   `json:"answers,omitzero" validate:"max=60,dive"`
	Agents   []AgentUse   `json:"agents,omitzero" validate:"max=20,dive"`
	Action   string       `json:"action,omitzero" validate:"max=2000"` // what was done about an answer outside its limits
	Lots     []LotCode    `json:"lots,omitzero" validate:"max=50,dive,lot"`
	Second   PersonCode   `json:"second,omitzero" validate:"omitempty,code"` // who stood by, where the plan asks for a second person
	Trainees []PersonCode `json:"trainees,omitzero" validate:"max=50,dive,code"`
	Note     string       `json:"note,omitzero" validate:"max=2000"`
}

// Response is one answer of a sign-off. Exactly one of Value, Yes, Choice, Text and Photo is given.
type Response struct {
	Ask    AskCode   `json:"ask" validate:"code"`
	Value  *Quantity `json:"value,omitzero"`
	Yes    *bool     `json:"yes,omitzero"`
	Choice string    `json:"choice,omitzero" validate:"max=100"`
	Text   string    `json:"text,omitzero" validate:"max=2000"`
	Photo  string    `json:"photo,omitzero" validate:"omitempty,sha256hex"`
}

// given counts the answers in a response; the shape check wants one.
func (r Response) given() (n int) {
	for _, has := range []bool{r.Value != nil, r.Yes != nil, r.Choice != "", r.Text != "", r.Photo != ""} {
		if has {
			n++
		}
	}
	return n
}

// AgentUse says which cleaning agent or processing aid was used, from which container, how strong.
type AgentUse struct {
	Agent    AgentCode `json:"agent" validate:"code"`
	Lot      string    `json:"lot,omitzero" validate:"max=60"`
	Strength *Quantity `json:"strength,omitzero"`
}

// Kind is KindSignoff.
func (*Signoff) Kind() Kind { return KindSignoff }
