package pages

import "html/template"

// Drills is the recall drills there were, and the form to start one.
type Drills struct {
	Frame
	Messages          []Message
	Draft, As         string
	Of, Levels, Leads []Option
	What, Why, Code   string
	From, Until       string
	Open, Done        []DrillRow
	More              int
}

// DrillRow is one of them.
type DrillRow struct {
	Link
	Subject, Started, Lead, Took string
	Figures                      []Row
}

// Drill is one recall drill.
type Drill struct {
	Frame
	Code, Subject, Why, Lead, Level string
	Started                         string
	StartedAt, Now                  string // RFC 3339, for the clock
	Elapsed                         string
	Open                            bool
	To, As, Unit                    string
	Messages                        []Message
	Figures                         []Row
	LeftN, ReachN                   int // partners still to reach, of all
	Rows                            []Reach
	More                            int
	Onward                          []string
	Lots                            []Link
	MoreLots                        int
	Finish                          DrillForm
	Finished, Lessons               string
	Recorded                        []Row
	FinishEntry                     Link
}

// Reach is one partner of a drill.
type Reach struct {
	Code, Name, Address string
	Consignee, Reached  bool
	Tried               int
	Sent, Holds         string
	Estimated           bool
	Contacts            []Contact
	Tries               []Try
	Form                DrillForm
}

// Contact is a person there. Dial has digits and a plus only, behind "tel:".
type Contact struct {
	Name, Phone, Email, Hours string
	Dial                      template.URL
	AtNight                   bool
}

// Try is one attempt to reach a partner.
type Try struct {
	When, Who, How string
	Reached        bool
	Entry          Link
}

// DrillForm is what was typed about a partner, or at the end.
type DrillForm struct {
	Draft, Reached, Method, Spoke, Holds, Note string
	Typed                                      bool // it comes back
}

func (*Drills) Name() string { return "drills" }
func (*Drill) Name() string  { return "drill" }
