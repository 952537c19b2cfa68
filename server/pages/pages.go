package pages

import "slices"

// All is one empty page of each sort.
func All() []Page {
	return slices.Concat(basicPages(), auditorPages(), peoplePages(), planPages(), officePages(), floorPages(), plantPages(), networkPages(), companyPages())
}

func basicPages() []Page {
	return []Page{&Today{}, &Sign{}, &Receipt{}, &Entry{}, &Withdraw{}, &Binder{}, &BinderJob{}, &Problem{}}
}

// Today is the work of the day, of the plant or of one station.
type Today struct {
	Frame
	Date             string
	Station          string // its title, or empty for the plant
	Stations         []StationLink
	Now, Later, Done []Group
	MoreDone         Link // when not all that was done is shown; Href for whoever may see the records
	AsNeeded         []Group
	CanSign          bool
}

// StationLink goes to one station's work.
type StationLink struct {
	Link
	Waiting int // pieces of work to do now
	Current bool
}

// Group is the rows of one station; the title is left out on the station's own page.
type Group struct {
	Title string
	Rows  []Work
}

// Work is one piece of work.
type Work struct {
	Href   string // to sign it off, or to its entry; may be empty
	Task   string
	Due    string // empty when it is never due
	State  string // a mark's name; empty when it is never due
	Detail string // who did it and when
	Lead   bool   // the plan leaves it to a lead
}

// Message is a fault of a form, with the field it is about when there is one.
type Message struct{ Field, Text string }

// Sign is the form by which a piece of work is signed off, or its record corrected.
type Sign struct {
	Frame
	To        string // where the form goes
	Draft     string // the entry's id, made with the form
	As        string // whose form it is
	Window    string
	Task      string
	Station   string
	Due       string
	State     string
	NotYours  bool // the plan leaves it to a lead, and this is none
	Cautions  []Caution
	Messages  []Message
	Asks      []Ask
	Agents    []AgentRow
	Second    []Option // empty when nobody is asked to stand by
	Trainees  []Option
	Outcome   string // passed, failed, or empty
	Action    string
	AskAction bool // an answer is out of its limits and no action was given
	Missing   bool // something asked for is not there
	When      string
	Note      string
	Upload    bool // it asks for a photo
	Again     bool // the PIN is asked once more
	Correct   *Correcting
	Paper     *PaperSign // typed in from a sheet
}

// Correcting says that the form replaces an earlier record.
type Correcting struct {
	Href, Position string
	Reason         string
	Withdraw       string // where to take it back altogether
}

// Caution is a warning to be read before the work.
type Caution struct{ Text, Source string }

// Ask is one thing to be answered.
type Ask struct {
	Name     string // of the form field
	Title    string
	Type     string // number, yesno, choice, text, photo
	Unit     string
	Limits   string // in words; empty when there are none
	Value    string
	Choices  []Option
	Optional bool
	Minus    bool   // the value can be below zero, so a plain keyboard is needed
	Kept     string // a photo already on file
	Error    string
}

// Option is one of several to choose.
type Option struct {
	Value, Title string
	Chosen       bool
}

// AgentRow is a cleaning agent that may be used.
type AgentRow struct {
	Name, Code, Title, Check string
	Chosen                   bool
	LotName, Lot             string
}

// Receipt says that something was written down.
type Receipt struct {
	Frame
	Position  string
	Task      string
	Station   string
	When      string
	Corrected bool
	Passes    bool
	Verdict   []string // why it does not pass
	Next      []Work   // waiting at the same station
	Entry     string
	Fix       string
	Place     string // this station's work
}

// Entry is one entry of the journal.
type Entry struct {
	Frame
	Position    string
	Kind        string
	Who         string
	Typed       string // who typed it in from Who's sheet of paper; empty when nobody did
	Sheet       string // a photo of the sheet
	Meaning     string
	Happened    string
	Recorded    string
	Device      string
	DeviceTime  string // what the device's clock said, when it was put right
	Leaf        string
	Proof       string // where its proof is
	Withdrawn   bool
	Corrected   bool
	Now         []Row
	First       []Row // as first written; empty when it was never corrected
	Corrections []Correction
	Fix         string // where to correct it; empty when this person may not
}

// Row is a name and what stands there.
type Row struct {
	Name, Value string
	Href        string
	Outside     bool // the value is out of its limits
	Long        bool // a text of many lines
	Part        bool // a heading: the rows after it belong to it
	Picture     bool // Href is a picture, to be seen here
}

// Correction is one correction of an entry.
type Correction struct {
	Href, Position, Who, When, Reason string
	Withdraws                         bool
}

// Withdraw is the form by which an entry is taken back.
type Withdraw struct {
	Frame
	To, Draft, As    string
	Position, Entry  string
	Task, Station    string
	Happened, Reason string
	Messages         []Message
	Again            bool // the PIN is asked once more
}

// Binder is the form by which a binder is made, with those made lately.
type Binder struct {
	Frame
	From, To string
	Messages []Message
	Lately   []BinderRow
}

// BinderRow is one of them.
type BinderRow struct {
	Href, Period string
	State        string // running, done, failed
}

// BinderJob is a binder being made.
type BinderJob struct {
	Frame
	Period   string
	State    string // running, done, failed
	Percent  int
	Poll     string // the address of its progress as JSON
	File     string
	FileSize string
	Problem  string
}

// Problem says what went wrong and what to do about it.
type Problem struct {
	Frame
	Heading string
	Text    string
	Lines   []string
	Do      string
	Back    Link
	Request string
}

func (*Today) Name() string     { return "today" }
func (*Sign) Name() string      { return "sign" }
func (*Receipt) Name() string   { return "receipt" }
func (*Entry) Name() string     { return "entry" }
func (*Withdraw) Name() string  { return "withdraw" }
func (*Binder) Name() string    { return "binder" }
func (*BinderJob) Name() string { return "binder-job" }
func (*Problem) Name() string   { return "problem" }
