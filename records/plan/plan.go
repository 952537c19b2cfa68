package plan

import (
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// Text is a text in the plant's languages, by language code ("en", "es"). In YAML a bare text means the plant's first
// language.
type Text map[string]string

// In gives the text in a language, or in the first that has one.
func (t Text) In(lang string) string {
	if s := t[lang]; s != "" {
		return s
	}
	if s := t["en"]; s != "" {
		return s
	}
	first := ""
	for l, s := range t {
		if s != "" && (first == "" || l < first) {
			first = l
		}
	}
	return t[first]
}

// Plan is the whole of plan.yaml. A plan returned by Parse is cross-checked; it may not be changed after that.
type Plan struct {
	Format      int          `yaml:"grainward" validate:"eq=1"` // version of this file format
	Plant       Plant        `yaml:"plant"`
	Profile     Profile      `yaml:"profile"`
	Shifts      []Shift      `yaml:"shifts" validate:"dive"`
	Stations    []Station    `yaml:"stations" validate:"min=1,dive"`
	Grades      []Grade      `yaml:"grades" validate:"dive"` // of clean-out, weakest first
	Changeovers []Changeover `yaml:"changeovers" validate:"dive"`
	Items       []Item       `yaml:"items" validate:"dive"`
	Agents      []Agent      `yaml:"agents" validate:"dive"`
	Instruments []Instrument `yaml:"instruments" validate:"dive"`
	Documents   []Document   `yaml:"documents" validate:"dive"` // that must be on file
	Tasks       []Task       `yaml:"tasks" validate:"dive"`
	Partners    []Partner    `yaml:"partners" validate:"dive"`
	People      []Person     `yaml:"people" validate:"min=1,dive"`

	zone  *time.Location // of Plant.Zone
	index index          // filled by Parse
	notes []Note
}

// Plant is who and where.
type Plant struct {
	Name       string        `yaml:"name" validate:"required,max=120"`
	Address    string        `yaml:"address" validate:"required,max=300"`
	Zone       string        `yaml:"zone" validate:"required"`                                 // IANA name, such as America/New_York
	Units      string        `yaml:"units" validate:"oneof=lb kg" default:"lb"`                // in which masses are shown
	Languages  []string      `yaml:"languages" validate:"min=1,dive,oneof=en es" default:"en"` // the first is that of bare texts
	Certifier  string        `yaml:"certifier" validate:"max=120"`
	Since      calendar.Date `yaml:"since" validate:"given"` // first day of operation; records are owed from here on
	NonWorking NonWorking    `yaml:"nonWorking"`
}

// NonWorking are the days on which the plant does not work.
type NonWorking struct {
	Weekdays []string        `yaml:"weekdays" validate:"dive,oneof=mon tue wed thu fri sat sun"`
	Dates    []calendar.Date `yaml:"dates"`
}

// Profile says which rules the plant is read against.
type Profile struct {
	QualifiedFacility bool     `yaml:"qualifiedFacility"`                                        // 21 CFR 117.3
	Allergens         []string `yaml:"allergens" validate:"min=1,dive,oneof=US EU" default:"US"` // lists that apply
	Clauses           []Clause `yaml:"clauses" validate:"dive"`                                  // to be read against, in the order of the index
	ReviewDays        int      `yaml:"reviewWorkingDays" validate:"min=1,max=7" default:"7"`     // 21 CFR 117.165(a)(4)(i): 7; a plan may be stricter
	LateEntry         Span     `yaml:"lateEntry" validate:"min=60" default:"24h"`                // an entry recorded longer than this after the work is late
	Keep              Keep     `yaml:"keepYears"`                                                // retention
	ReviewFamilies    []string `yaml:"reviewFamilies" validate:"dive"`                           // families whose sign-offs are monitoring records to be reviewed; empty: all
}

// Keep is how many years records are kept.
type Keep struct {
	Food    int `yaml:"food" validate:"min=2,max=100" default:"2"`    // 21 CFR 117.315(a): 2
	Organic int `yaml:"organic" validate:"min=5,max=100" default:"5"` // 7 CFR 205.103(b)(4): 5
}

// Clause is a paragraph of a law or standard, with a short title in our own words.
type Clause struct {
	Cite  records.Clause `yaml:"cite" validate:"required,max=60"`
	Title string         `yaml:"title" validate:"required,max=200"`
	Kinds []records.Kind `yaml:"kinds"` // of entries that are evidence for it whatever the task, such as review
}

// Shift is a stretch of the working day. One that ends at or before its start ends the next day.
type Shift struct {
	Code  records.ShiftCode `yaml:"code" validate:"code"`
	Title Text              `yaml:"title" validate:"min=1"`
	From  calendar.Clock    `yaml:"from" validate:"given"`
	To    calendar.Clock    `yaml:"to" validate:"given"`
}

// Station is a place or a piece of equipment where work is done and grain can be.
type Station struct {
	Code     records.StationCode `yaml:"code" validate:"code"`
	Title    Text                `yaml:"title" validate:"min=1"`
	Kind     string              `yaml:"kind" validate:"required,max=60"`                                         // receiving pit, silo, conveyor, steep tank, germination floor, kiln…
	Holds    string              `yaml:"holds" validate:"oneof=separate mixed passes nothing" default:"separate"` // lots apart, lots mixed, only passing through, no grain
	Packaged bool                `yaml:"packaged"`                                                                // goods stand here in bags, sacks or closed containers: lots side by side do not touch
	Capacity *records.Mass       `yaml:"capacity"`
	Zone     string              `yaml:"zone" validate:"omitempty,oneof=food-grade dry outside office"` // where it stands
	Purge    *records.Mass       `yaml:"purge"`                                                         // clean grain that counts as a purge
}

// Grade is a grade of clean-out.
type Grade struct {
	Code  records.GradeCode `yaml:"code" validate:"code"`
	Title Text              `yaml:"title" validate:"min=1"`
}

// Changeover is the clean-out needed when contents of one class follow another. A class is an organic status and an
// allergen set, written "organic", "organic+wheat", "conventional+wheat+sesame"; "*" is any.
type Changeover struct {
	From     string                `yaml:"from" validate:"required"`
	To       string                `yaml:"to" validate:"required"`
	Grade    records.GradeCode     `yaml:"grade" validate:"code"`
	Stations []records.StationCode `yaml:"stations"` // all when empty
}

// Item is a kind of goods.
type Item struct {
	Code        records.ItemCode `yaml:"code" validate:"code"`
	Title       Text             `yaml:"title" validate:"min=1"`
	Stage       string           `yaml:"stage" validate:"oneof=raw in-process finished by-product"`
	Allergens   []string         `yaml:"allergens" validate:"dive,required"`
	BestBy      *BestBy          `yaml:"bestBy"`
	Retained    *Range           `yaml:"retained"` // samples to keep, how many
	Certificate []Typical        `yaml:"certificate" validate:"dive"`
	Losses      []Loss           `yaml:"losses" validate:"dive"`
}

// BestBy is a shelf life in calendar months.
type BestBy struct {
	Months int    `yaml:"months" validate:"min=1,max=120"`
	From   string `yaml:"from" validate:"required,max=60"` // which date it counts from, such as "kiln date"
}

// Range is a band, both ends included; either may be open.
type Range struct {
	Min *records.Decimal `yaml:"min"`
	Max *records.Decimal `yaml:"max"`
}

// Typical is one line of an item's certificate: the value given until a lot's own result arrives, and its limits.
type Typical struct {
	Name    string           `yaml:"name" validate:"required,max=80"`
	Unit    string           `yaml:"unit" validate:"max=20"`
	Typical *records.Decimal `yaml:"typical"`
	Limits  Range            `yaml:"limits"`
}

// Loss is the expected loss of dry matter and share of by-product of one process, in percent.
type Loss struct {
	Process   string `yaml:"process" validate:"required,max=60"`
	Dry       Range  `yaml:"dry"`
	ByProduct Range  `yaml:"byProduct"`
}

// Agent is a cleaning agent or processing aid.
type Agent struct {
	Code     records.AgentCode    `yaml:"code" validate:"code"`
	Title    Text                 `yaml:"title" validate:"min=1"`
	EPA      string               `yaml:"epa" validate:"max=40"`
	CAS      string               `yaml:"cas" validate:"max=40"`
	Organic  string               `yaml:"organic" validate:"oneof=yes no conditions"` // allowed where organic goods are
	Check    string               `yaml:"check" validate:"max=300"`                   // rinse or residue check the condition asks for
	Approval records.DocumentCode `yaml:"approval" validate:"omitempty,code"`         // the certifier's approval on file
}

// Instrument measures; what it measured can be relied on while its calibration holds.
type Instrument struct {
	Code        records.InstrumentCode `yaml:"code" validate:"code"`
	Title       Text                   `yaml:"title" validate:"min=1"`
	Station     records.StationCode    `yaml:"station" validate:"code"`     // where its calibration is signed off
	Calibration records.TaskCode       `yaml:"calibration" validate:"code"` // a task of family calibration
	Holds       Span                   `yaml:"holds" validate:"min=60"`     // how long a passing calibration holds
	Uncertainty *records.Decimal       `yaml:"uncertainty"`                 // standard uncertainty, in Unit
	Unit        string                 `yaml:"unit" validate:"max=20"`
}

// Document is one that must be on file, and what it is needed for.
type Document struct {
	Code  records.DocumentCode `yaml:"code" validate:"code"`
	Title string               `yaml:"title" validate:"required,max=200"`
	Of    string               `yaml:"of" validate:"oneof=plant partner agent station instrument person item"`
	About string               `yaml:"about" validate:"omitempty,code"`
}

// Partner is a firm on the other side of the fence.
type Partner struct {
	Code         records.PartnerCode    `yaml:"code" validate:"code"`
	Name         string                 `yaml:"name" validate:"required,max=120"`
	Address      string                 `yaml:"address" validate:"max=300"`
	Contacts     []Contact              `yaml:"contacts" validate:"dive"`
	Roles        []string               `yaml:"roles" validate:"min=1,dive,oneof=supplier customer carrier warehouse feed-farm laboratory certifier service"`
	Certificates []records.DocumentCode `yaml:"certificates" validate:"dive,code"`
}

// Contact is a person at a partner.
type Contact struct {
	Name  string `yaml:"name" validate:"required,max=80"`
	Phone string `yaml:"phone" validate:"max=40"`
	Email string `yaml:"email" validate:"max=120"`
	Hours string `yaml:"hours" validate:"max=40"` // "24h" for the one who answers at night
}

// Person works here or visits.
type Person struct {
	Code      records.PersonCode `yaml:"code" validate:"code"`
	Name      string             `yaml:"name" validate:"required,max=80"`
	Initials  string             `yaml:"initials" validate:"required,max=5"`
	Role      string             `yaml:"role" validate:"oneof=crew lead visitor"`
	Languages []string           `yaml:"languages" validate:"dive,oneof=en es"`
	Trained   []Training         `yaml:"trained" validate:"dive"`
	From      *calendar.Date     `yaml:"from"`  // first day at the plant
	Until     *calendar.Date     `yaml:"until"` // last day at the plant
}

// Training says that a person was trained in a task on a day.
type Training struct {
	Task records.TaskCode `yaml:"task" validate:"code"`
	On   calendar.Date    `yaml:"on" validate:"given"`
}
