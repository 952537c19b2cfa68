package pages

// Pages of a company with several plants.

func companyPages() []Page { return []Page{&Company{}, &Plants{}, &Journey{}} }

// Company is where a lead signs in, by the plant they are a lead of.
type Company struct {
	Frame
	Firm    string // the company's name
	Plants  []Option
	Doors   []Link // to the plants themselves, for everybody else
	Typed   string // what was given as code or name
	Next    string
	Message string
	Ended   bool // a sign-in has run out
}

// Plants are the plants of a company that somebody belongs to.
type Plants struct {
	Frame
	Firm   string // the company's name
	At     string
	Plants []PlantRow
	Others int // plants of the company that are not theirs
}

// PlantRow is one of them.
type PlantRow struct {
	Code, Name string
	Where      string // its postal address
	Href       string // its own pages
	State      string // open, behind, stuck, shut, no-plan, not-lead
	Trouble    string // what is wrong, in words
	Counts     []Count
	Overdue    int
	Today      string // where the overdue work is
	Size       int64
	Root       string // its tree head
	Signed     string // when that was signed
}

// Known says whether the figures of the plant are there.
func (p PlantRow) Known() bool { return p.State == "open" || p.State == "behind" || p.State == "stuck" }

// Journey is a trace through plants, and the form that asks for it.
type Journey struct {
	Frame
	Plants     []Option
	Directions []Option
	Subject    string
	Problem    string
	Made       bool
	Drawing    string // where the same is as a drawing, and as a workbook
	Sheets     string
	Legs       []Leg
	Joins      []JoinRow
	Loose      []string
}

// Leg is what lies at one plant.
type Leg struct {
	Name, Code string
	Lots       []LegLot
}

// LegLot is one lot there.
type LegLot struct {
	Code, Href, Role, Title, Mass string
	Subject                       bool
	Where                         []string
}

// JoinRow is one way from plant to plant, in sentences.
type JoinRow struct {
	Says    []string
	Differs bool // masses do
}

func (*Company) Name() string { return "company" }
func (*Plants) Name() string  { return "plants" }
func (*Journey) Name() string { return "journey" }
