package pages

import "html/template"

// Pages of pictures of the floor: weeks, stations, lots, balances, drills.

func floorPages() []Page {
	return []Page{&Week{}, &WeekCell{}, &Stations{}, &Place{}, &Lots{}, &Lot{}, &Drills{}, &Drill{}, &Balance{}}
}

// Week is a week or a month of windows, by duty and day.
type Week struct {
	Frame
	Month               bool
	By                  string // station or family
	Day                 string // one of its days
	Action              string // where the filter goes
	Earlier, Later, Now string
	ByStation, ByFamily Way
	Weekly, Monthly     Way
	Only                []Option // groups to choose
	Heads               []DayHead
	Groups              []GridGroup
	Legend              []string // marks
	Quiet               int      // duties with nothing in these days
	Paper               string   // few, some, many, packed, lots, endless: rows of the table, for paper
}

// DayHead is the heading of a day's column.
type DayHead struct {
	Day, Name   string
	N           int // of the month
	Today, Rest bool
}

// GridGroup is the rows of one station or family.
type GridGroup struct {
	Title string
	Rows  []GridRow
}

// GridRow is one duty.
type GridRow struct {
	Task, Station string // the station is left out where the group says it
	Cells         []GridCell
}

// GridCell is one duty's day. Without Href nothing was due and nothing was signed.
type GridCell struct {
	Href    string
	Chips   []Chip // worst first
	N       int    // windows
	Besides int    // sign-offs that answer no window
	Today   bool
}

// Chip is how many windows came to one state, which is a mark's name.
type Chip struct {
	State string
	N     int
}

// WeekCell is the windows of one duty's day.
type WeekCell struct {
	Frame
	Task, Station, Date string
	Back                string
	Windows             []Window
	Besides             []Signed
}

// Window is one window and what became of it.
type Window struct {
	State              string
	Opens, Due, Lapses string
	Signed             []Signed
	Says, Standing     string // the finding about it
	Answers            []Link
	Do                 []Link
}

// Signed is one sign-off.
type Signed struct {
	Who, When string
	Passed    bool
	Corrected bool
	Entry     Link // empty for those who may not see it
}

func (*Week) Name() string     { return "week" }
func (*WeekCell) Name() string { return "week-cell" }

// Stretch is a stretch of time with the ways to others.
type Stretch struct {
	Title               string
	Earlier, Later, Now string
	Lengths             []Way
}

// Stations is what stands where, with a stretch of each station's timeline.
type Stations struct {
	Frame
	Stretch Stretch
	Rows    []StationRow
}

// StationRow is one station. Drawing is SVG that has every text of people escaped already.
type StationRow struct {
	Link
	Now     string
	Drawing template.HTML
}

// Place is one station and its goods.
type Place struct {
	Frame
	Station, Sum, Capacity string
	Work, All              string // today's work there; all stations
	Mixed                  bool
	Proven                 string // when it was last proven empty
	Here, Residents        []LotRow
	More                   int
	Stretch                Stretch
	Drawing                template.HTML
	Left                   int // lots there was no room for in the drawing
	Events                 []StationEvent
	MoreEvents             int
	Findings               []Finding
	MoreFindings           int
}

// LotRow is a lot in a list.
type LotRow struct {
	Link
	Item, Status, StatusWord string // Status is a mark's name
	Mass                     string
	Estimated                bool
	Held, Rejected           bool
	Since                    string
	Where                    []string
}

// StationEvent is one line of a station's timeline.
type StationEvent struct {
	When, What string
	Mark       string // done, failed, or a severity; empty for a lot
	Lot, Entry Link
}

func (*Stations) Name() string { return "stations" }
func (*Place) Name() string    { return "place" }

// Lots is what is where now, or what a search found.
type Lots struct {
	Frame
	Query            string
	All              bool
	Stages, Statuses []Option
	Groups           []LotGroup
	From, To, Total  int
	Held             int
	Newer, Older     string
}

// LotGroup is the lots of a stage, or those that are held.
type LotGroup struct {
	Title string
	Rows  []LotRow
}

// Lot is one lot.
type Lot struct {
	Frame
	Lot          LotRow
	Facts        []Row
	Where        []string
	Holds        []Happening
	Results      []Happening
	Samples      []Happening
	History      []Happening
	MoreHistory  string
	Findings     []Finding
	MoreFindings int
	Accounted    string
	Drawing      template.HTML // SVG that has every text of people escaped already
	Left         int           // lots further away, or too many to draw
	Deeper       string
	Kin          []Kin // the lots of the drawing
	Estimated    bool
}

// Kin is a lot of a lineage.
type Kin struct {
	LotRow
	Way       string
	Share     string
	Estimated bool // the share is
}

// Happening is one thing that happened to a lot.
type Happening struct {
	When, What, Detail, Who string
	Mark                    string
	Entry                   Link
}

func (*Lots) Name() string { return "lots" }
func (*Lot) Name() string  { return "lot" }
