package pages

// Form is a form of the office: something to be written, or first chosen (Get), with what it is about above it.
type Form struct {
	Frame
	Intro    string
	Caution  string     // in a frame of its own; may be empty
	About    []Notice   // what it is about
	Lists    []FormList // what is to be read before signing
	Messages []Message
	Get      bool // it only chooses what is shown next; nothing is signed
	To       string
	Draft    string // the entry's id, made with the form
	As       string // whose form it is
	Next     string // where it was opened from
	Hidden   []Field
	Fields   []FormField
	Again    bool // the secret is asked once more
	Button   string
	Others   []Link // other ways to go
}

// FormList is lines under a title.
type FormList struct {
	Title string
	Lines []Notice
	Rest  string // said when there are more
	None  string // said when there are none
}

// FormField is one thing to fill in.
type FormField struct {
	Name, Label, Hint string
	Type              string // text, area, choice, select, checks, confirm, date, when, file, number, measure, part (a heading)
	Value             string
	Unit              string // of a number
	Max               int    // characters
	Options           []Option
	Parts             []FormField // of a measure: its name, value and unit
	Kept              string      // a file already kept; the field need not be filled again
}

// Upload says whether a file is asked for.
func (f *Form) Upload() bool {
	for i := range f.Fields {
		if f.Fields[i].Type == "file" {
			return true
		}
	}
	return false
}

func (*Form) Name() string { return "form" }

// Pager is which part of a list is shown.
type Pager struct {
	From, To, Total int // counted from 1
	Newer, Older    string
}

// Holds are the lots that are held or rejected.
type Holds struct {
	Frame
	Pager
	Lots []Held
}

// Held is one of them.
type Held struct {
	Lot, Href, Item, Status string
	Rejected                bool
	Since, Who, Why, Entry  string
	Where                   []string
	Release                 string // where to release or reject it; empty when this person may not
}

func (*Holds) Name() string { return "holds" }

// Reviews is the queue of days to review.
type Reviews struct {
	Frame
	Pager
	Owed  []ReviewDay
	Done  []ReviewDay // reviewed lately
	Works string      // how the time allowed is counted
}

// ReviewDay is one day of the queue.
type ReviewDay struct {
	Href, Day string
	Open, All int
	When      string // how long it has
	Mark      string
	Families  []FamilyCount
}

// FamilyCount is how many records of a family of tasks, or of a kind, are open.
type FamilyCount struct {
	Family, Kind string
	N            int
}

// Review is the records written on one day, to be read and signed.
type Review struct {
	Frame
	Pager
	Day      string
	When     string // how long it has; empty when all of it is reviewed
	Mark     string
	Open     int
	All      int
	Messages []Message
	Action   string
	Draft    string
	As       string
	First    string // positions the signature is for
	Last     string
	Own      int // of the records shown, the reader's own
	Outside  int // with a value outside its limits, or that did not pass
	Fixed    int // corrected or withdrawn
	Note     string
	Again    bool
	Groups   []ReviewGroup
	Signable bool // some of what is shown is not reviewed
	After    bool // a review of this day was signed before some of it was written
}

// ReviewGroup is the records of one station; the title says so.
type ReviewGroup struct {
	Title string
	Rows  []ReviewRow
}

// ReviewRow is one record.
type ReviewRow struct {
	Position, Href string
	ID             string // for what is not accepted
	What, Who      string
	When           string
	Values         []Row // what was answered or said
	Passes         bool
	Judged         bool   // it is a sign-off, so passes means something
	Fixed          string // how it was put right; empty when it was not
	Reviewed       string // by whom and when; empty when it is open
	Excepted       string // by whom it was not accepted
	Late           bool   // written after a review of this day
	Ticked         bool   // not accepted, in the form as it was sent
}

func (*Reviews) Name() string { return "reviews" }
func (*Review) Name() string  { return "review" }

// Documents is the register: what is on file, what should be, how long it holds.
type Documents struct {
	Frame
	Pager
	Days         []Choice // to look ahead
	Words        string
	Within       string
	Papers       []Paper
	Calibrations []Paper
	Trainings    []Paper
	MayFile      bool
}

// Choice is one of several lists.
type Choice struct {
	Link
	Current bool
}

// Paper is a document, a calibration or a training, with how it stands.
type Paper struct {
	Code, Title, Href string
	About             string
	Standing          string // missing, expired, coming, holds, replaced
	Mark              string
	When              string
	Replaces          string // where to put a newer one on file; empty when this person may not
}

// Document is one document with all its filings and what relies on it.
type Document struct {
	Frame
	Code, Heading string
	Standing      string
	Mark, When    string
	Wanted        bool
	Relies        []Notice
	Rest          string // said when more rely on it than are shown
	Filings       []Filing
	File          string // where to put a newer one on file; empty when this person may not
}

// Filing is one time it was put on file.
type Filing struct {
	Standing, Mark   string
	When             string
	Rows             []Row
	Download, Size   string
	Entry, Who, Date string
}

func (*Documents) Name() string { return "documents" }
func (*Document) Name() string  { return "document" }
