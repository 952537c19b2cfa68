package pages

// Pages of who is asking, and from where: signing in, devices, people.

func peoplePages() []Page {
	return []Page{&People{}, &Secret{}, &Enrol{}, &Devices{}, &Device{}, &Staff{}, &Member{}}
}

// People lets somebody choose who they are.
type People struct {
	Frame
	NoPlan   bool
	NoPINs   bool       // nobody has one yet
	FirstPIN string     // the command that sets one, shown then; may be empty
	People   []Somebody // none where the browser is not an enrolled device
	Next     string     // where they were going
	Install  string     // how a phone comes to trust this server; empty when there is nothing to install
}

// Somebody is a person to choose.
type Somebody struct {
	Href, Name, Initials string
	Role                 string // crew, lead, visitor
	HasPIN               bool
}

// Secret asks for a person's PIN or password, and for who they are when Code is empty. Held is what they had typed when their
// sign-in ended; it is sent along and goes on from there.
type Secret struct {
	Frame
	Code, Who string
	Typed     string // what was typed for who they are
	Kind      string // pin, password, either
	Next      string
	Enrolled  bool
	Has       bool // they have one of that kind
	Ended     bool // asked because the sign-in ended
	StepUp    bool // asked because a PIN is not enough
	Message   string
	HeldPath  string
	Held      []Field
}

// Field is a form field carried along unseen.
type Field struct{ Name, Value string }

// Enrol takes an enrolment code.
type Enrol struct {
	Frame
	Already string // the name of the device it is already
	Code    string
	Message string
}

// Devices are the enrolled ones, and the form to enrol another.
type Devices struct {
	Frame
	Messages  []Message
	Notice    string
	Typed     string // the name in the form
	Made      *MadeCode
	Rows      []DeviceRow
	Withdrawn []DeviceRow // the latest of them
}

// MadeCode is an enrolment code, shown once.
type MadeCode struct{ Name, Code, Link, Until string }

// DeviceRow is one of them.
type DeviceRow struct {
	Href, Name, Code string
	Enrolled         string
	Used             string
	Gone             string // when it was withdrawn
	This             bool   // the one that asks
}

// Device is one, to be renamed or withdrawn.
type Device struct {
	Frame
	To       string
	Messages []Message
	Row      DeviceRow
	Typed    string
}

// Staff are the plant's people with what they have to sign in with.
type Staff struct {
	Frame
	Notice string
	Add    string // where a person is added
	Rows   []StaffRow
	Gone   []StaffRow
}

// StaffRow is one of them.
type StaffRow struct {
	Href, Name, Code, Role string
	Languages              string
	Trained                string // how many tasks
	PIN, Password          bool
	Until                  string // no secret is taken before
	Last                   string // the last day, of somebody who is leaving
	Left                   bool   // they are no longer, or not yet, at work
}

// Member is one person, with what a lead can do about their secrets.
type Member struct {
	Frame
	Row      StaffRow
	Messages []Message
	Notice   string
	NewPIN   string // made here and shown once
	Own      bool   // the lead looks at themself
	IsLead   bool   // has a password
	Signable bool   // their PIN may be set here
	Training []Row
	Retire   string // where they are retired; empty when they have left
}

func (*People) Name() string  { return "people" }
func (*Secret) Name() string  { return "secret" }
func (*Enrol) Name() string   { return "enrol" }
func (*Devices) Name() string { return "devices" }
func (*Device) Name() string  { return "device" }
func (*Staff) Name() string   { return "staff" }
func (*Member) Name() string  { return "member" }
