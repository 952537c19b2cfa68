package crew

// Day is what the page works from: the answer of /api/crew. Times are milliseconds since 1970, as a device's clock gives them; texts are
// in every language of the plan. What judges (results, limits, who answered what) was worked out elsewhere.
type Day struct {
	Version string   `json:"version"` // of the page's files: another one than the page's own means that there is a newer page
	At      int64    `json:"at"`      // the server's clock
	Size    int64    `json:"size"`    // entries in the journal
	Plant   string   `json:"plant"`
	Zone    string   `json:"zone"`   // IANA name
	Device  string   `json:"device"` // the enrolled device this browser is; empty: none, and then no PIN is taken (see /enrol)
	Who     string   `json:"who"`    // whose sign-in this browser carries; empty when nobody's runs
	People  []Person `json:"people"`

	*Work // for whoever is signed in, and for enrolled devices; else absent
}

// Text is a text by language.
type Text = map[string]string

// Work is what is done at the plant and when.
type Work struct {
	Stations []Station `json:"stations"`
	Tasks    []Task    `json:"tasks"`
	Agents   []Agent   `json:"agents"`
	Duties   []Duty    `json:"duties"`
}

// Person is somebody at the plant today.
type Person struct {
	Code     string   `json:"code"`
	Name     string   `json:"name"`
	Initials string   `json:"initials"`
	Role     string   `json:"role"`
	Language string   `json:"language"`
	Trained  []string `json:"trained,omitempty"` // in which of the tasks that ask for it
}

// Station is one place of work.
type Station struct {
	Code  string `json:"code"`
	Title Text   `json:"title"`
}

// Task is what is to be done, and what its sign-off must say.
type Task struct {
	Code     string    `json:"code"`
	Title    Text      `json:"title"`
	Stations []string  `json:"stations"`
	Asks     []Ask     `json:"asks,omitempty"`
	Agents   []string  `json:"agents,omitempty"` // that may be used
	Cautions []Caution `json:"cautions,omitempty"`
	Lead     bool      `json:"lead,omitempty"`    // a lead signs it
	Second   bool      `json:"second,omitempty"`  // a second person stands by
	Trained  bool      `json:"trained,omitempty"` // only people trained in it
	Trains   bool      `json:"trains,omitempty"`  // it is a training: who took part is asked
	Set      bool      `json:"set,omitempty"`     // it has set times
}

// Ask is one question of a sign-off. Limits are decimal texts; nil for none.
type Ask struct {
	Code     string   `json:"code"`
	Title    Text     `json:"title"`
	Type     string   `json:"type"`
	Unit     string   `json:"unit,omitempty"`
	Min      *string  `json:"min,omitempty"`
	Max      *string  `json:"max,omitempty"`
	Right    string   `json:"right,omitempty"`
	Choices  []string `json:"choices,omitempty"`
	Optional bool     `json:"optional,omitempty"`
}

// Agent is a cleaning agent or processing aid.
type Agent struct {
	Code  string `json:"code"`
	Title Text   `json:"title"`
	Check string `json:"check,omitempty"`
}

// Caution is a warning shown before the work.
type Caution struct {
	Text   Text   `json:"text"`
	Source string `json:"source"`
}

// Duty is one task at one station with its windows around now.
type Duty struct {
	Task    string   `json:"task"`
	Station string   `json:"station"`
	Windows []Window `json:"windows,omitempty"`
	Beside  []Signed `json:"beside,omitempty"` // sign-offs of these days that answer no window
}

// Window is one stretch in which a duty is to be done, as it stood when the answer was made. Result is a mark's name.
type Window struct {
	Opens  int64    `json:"opens"`
	Due    int64    `json:"due"`
	Lapses int64    `json:"lapses"`
	Result string   `json:"result"`
	Signed []Signed `json:"signed,omitempty"` // in order; the last decided it
}

// Signed is one sign-off.
type Signed struct {
	ID       string `json:"id"`
	Position int64  `json:"position"`
	By       string `json:"by"`
	Happened int64  `json:"happened"`
	Window   int64  `json:"window,omitempty"` // the opening of the window it was signed for
	Result   string `json:"result,omitempty"` // of one that answers no window: done or failed
}
