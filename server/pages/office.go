package pages

// Pages of what a lead does about findings.

func officePages() []Page {
	return []Page{&Findings{}, &Answer{}, &Form{}, &Holds{}, &Reviews{}, &Review{}, &Documents{}, &Document{}}
}

// Findings is what an auditor would find today.
type Findings struct {
	Frame
	At       string
	Outlook  *Outlook // of the plant now; nil for whoever reads a period
	Period   string   // of what an auditor's link shows
	Counts   []Count  // of each severity
	Open     Link     // the list of the open ones
	Every    Link     // of all
	OnlyOpen bool
	Filter   Filter
	Groups   []FindingGroup
	From, To int // of Total, counted from 1
	Total    int
	Newer    string
	Older    string
	Some     bool // there are findings that the choice leaves out
}

// Outlook is the top of the page: what stands open, in ten seconds' reading.
type Outlook struct {
	Oldest Notice   // the oldest open finding; empty when there is none
	Parts  []Digest // overdue, expiring, owed
}

// Digest is how many there are of something, with the first few.
type Digest struct {
	Key   string // overdue, expiring, owed
	N     int
	First []Notice
	More  string // where the rest is; may be empty
}

// Notice is one line with where it leads.
type Notice struct {
	Text, Note, Href string
	Mark             string // of marks; may be empty
}

// Filter is how the list is narrowed down.
type Filter struct {
	Words    string
	Stations []Option
	Rules    []Option
	By       []Option // what it is grouped by
	Severity string   // chosen by the counts, and kept
	Every    bool
	Clear    string // the list without it; empty when nothing is chosen
}

// Count is how many findings of one severity there are.
type Count struct {
	Severity string
	N        int
	Href     string
	Current  bool
}

// FindingGroup is findings under one heading: of one severity, or else under a title.
type FindingGroup struct {
	Severity string
	Title    string
	Rows     []Finding
}

// Finding is one of them.
type Finding struct {
	Anchor   string
	Severity string
	Rule     string // its code
	Sentence string
	When     string
	Age      string
	Standing string // open, answered, closed
	About    []Link // the station, the lot
	Evidence []Link
	Answers  []Link
	Clauses  []string
	Do       []Link // what this person may do about it
}

// Answer is the form by which a lead answers a finding.
type Answer struct {
	Frame
	Draft, As, Finding              string
	Severity, Sentence, When        string
	Messages                        []Message
	Cause, Action, Lots, Prevention string
	Next                            string // where it was opened from
	Closes                          string // yes, no, or empty
	Earlier                         []Link
}

func (*Findings) Name() string { return "findings" }
func (*Answer) Name() string   { return "answer" }
