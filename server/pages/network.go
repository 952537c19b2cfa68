package pages

// Pages of the plant's network, of sheets to print, and of what is typed in from them.

func networkPages() []Page {
	return []Page{&Network{}, &Sheets{}, &StationSheets{}, &LogSheets{}, &FromPaper{}}
}

// Code is a QR code, drawn as one path of a square.
type Code struct {
	Text string // what it says
	Size int    // of the square
	Path string // its dark modules
}

// Network says how a phone finds the server and comes to trust it.
type Network struct {
	Frame
	Whole       bool // with what only a lead needs
	Only        bool // this machine alone is answered
	Address     string
	Others      []string // the same, by other names
	Without     []string // names and addresses the authority may not certify
	Code        Code
	Own         bool // the certificate is the site's own
	Issuer      string
	LeafEnds    string
	Authority   string // its name, as a phone shows it
	Ends        string
	Print       []string // its fingerprint, in rows
	Install     string   // where phones get it
	InstallCode Code
}

func (*Network) Name() string { return "network" }

// Sheets is where a lead chooses what to print.
type Sheets struct {
	Frame
	Paper     string // a4, letter
	Day       string
	Stations  []Option
	Languages []Option
	Only      bool   // this machine alone is answered: codes lead nowhere
	Base      string // what the codes begin with
}

// Said is a text in a language of its own.
type Said struct{ Lang, Text string }

// StationSheets are sheets to hang up, one a station.
type StationSheets struct {
	Frame
	Paper  string
	Sheets []StationSheet
}

// StationSheet is one of them.
type StationSheet struct {
	Code                   string
	Titles, Scan, Cautions []Said
	QR                     Code
}

// LogSheets are blank sheets to write on by hand.
type LogSheets struct {
	Frame
	Paper  string
	Sheets []LogSheet
}

// LogSheet is one printed page.
type LogSheet struct {
	Station, Day, Code string
	Page, Pages        int // of the station's day
	QR                 Code
	Cautions           []Caution
	Blocks             []LogBlock
}

// LogBlock is the room for one piece of work.
type LogBlock struct {
	Task, Window string
	Asks         []LogAsk
	Second       bool // a second person signs
	Lead         bool // the plan leaves it to a lead
}

// LogAsk is the room for one answer.
type LogAsk struct {
	Title, Unit, Limits string
	Choices             []string // boxes to tick; none: a line to write on
	Wide                bool     // it takes a whole line
}

// FromPaper is where a sheet that was filled in by hand is typed in.
type FromPaper struct {
	Frame
	Messages []Message
	Stations []Option
	Day      string
	Sheet    string // its code; empty until one is chosen
	Station  string
	Date     string
	Photo    string // key of the sheet's photo; empty while there is none
	To       string // where the photo is sent
	Lines    []PaperLine
	Written  string // the position of what was just written down
}

// PaperLine is one line of a sheet.
type PaperLine struct {
	Task, Window string
	Href         string // to type it in
	State        string // a mark's name; empty for work that has no hour
	Signed       []Link // what is written down already
}

// PaperSign is what a sign-off form has beside the usual when it is typed in from a sheet.
type PaperSign struct {
	Sheet, Back string
	Photo       string // key
	Clock       string // the time written on it
	Whose       []Option
	Already     []Link // the same line, written down already
	Twice       bool   // it is to be written down all the same
}

func (*Sheets) Name() string        { return "sheets" }
func (*StationSheets) Name() string { return "station-sheets" }
func (*LogSheets) Name() string     { return "log-sheets" }
func (*FromPaper) Name() string     { return "from-paper" }
