package pages

// Pages of the plan: what is in force, and putting another in force.

func planPages() []Page {
	return []Page{&Plan{}, &PlanNew{}, &PlanLook{}, &NewPerson{}, &Leave{}}
}

// Plan is the one in force, with those that were.
type Plan struct {
	Frame
	Rows    []Row
	Text    string
	Earlier []Adopted
}

// Adopted is one plan put in force.
type Adopted struct{ Href, Position, Who, When, Note string }

// PlanNew takes the text of another plan.
type PlanNew struct {
	Frame
	Text   string
	Days   string
	Faults []PlanFault
}

// PlanFault is one fault of a plan's text.
type PlanFault struct {
	Line  string // empty when it is about no line
	Quote string // that line
	Text  string
}

// PlanLook is what putting a plan in force would change, before it is done.
type PlanLook struct {
	Frame
	Draft, As, Text, Note, Days string
	Heading                     string
	First                       bool
	Messages                    []Message
	Changes                     []string
	More                        int // changes that are not shown
	Notes                       []string
	From                        string
	Come, Gone                  []RuleCount
	Same                        int
}

// RuleCount is how many findings of a rule there are, with one of them.
type RuleCount struct {
	Severity string
	N        int
	Such     string
}

// NewPerson is the form by which a person is added to the plan.
type NewPerson struct {
	Frame
	Messages                  []Message
	Faults                    []PlanFault
	Code, Typed, Initials, On string
	Roles, Languages          []Option
}

// Leave is the form by which a person gets a last day.
type Leave struct {
	Frame
	To, Who, Last string
	Messages      []Message
}

func (*Plan) Name() string      { return "plan" }
func (*PlanNew) Name() string   { return "plan-new" }
func (*PlanLook) Name() string  { return "plan-look" }
func (*NewPerson) Name() string { return "new-person" }
func (*Leave) Name() string     { return "leave" }
