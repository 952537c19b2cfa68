package records

import "grainward/records/calendar"

// Status is the organic status of goods, as every audit-trail document must show it (7 CFR 205.103(b)(3)).
type Status string

// The statuses, in the words of 7 CFR 205.301; conventional is all else.
const (
	Organic100   Status = "organic-100"
	Organic      Status = "organic"
	MadeWith     Status = "made-with"
	Conventional Status = "conventional"
)

// IsOrganic says whether goods of the status are sold with an organic claim.
func (s Status) IsOrganic() bool { return s == Organic100 || s == Organic || s == MadeWith }

// Weight is how much there was, and how wet: what a balance on dry matter needs.
type Weight struct {
	Mass     Mass           `json:"mass"`
	Moisture *Decimal       `json:"moisture,omitzero"` // percent by mass, wet basis
	Scale    InstrumentCode `json:"scale,omitzero" validate:"omitempty,code"`
	Meter    InstrumentCode `json:"meter,omitzero" validate:"omitempty,code"`
}

// Vehicle is what goods came or went in, and what was found when it was looked at (21 CFR 117.95(c)).
type Vehicle struct {
	Carrier  PartnerCode `json:"carrier,omitzero" validate:"omitempty,code"`
	Number   string      `json:"number,omitzero" validate:"max=60"`
	Clean    *bool       `json:"clean,omitzero"` // absent: nobody looked
	LastLoad string      `json:"lastLoad,omitzero" validate:"max=200"`
	Seals    []Seal      `json:"seals,omitzero" validate:"max=20,dive"`
}

// Seal is a seal as the papers have it and as it was found.
type Seal struct {
	Papers string `json:"papers,omitzero" validate:"max=60"`
	Found  string `json:"found,omitzero" validate:"max=60"`
}

// Receipt says that goods were taken over from a partner. With the plan's partners it holds the six particulars of 21
// CFR 1.337(a): who they came from, what they are, when, their lot, how much and how packed, who brought them.
type Receipt struct {
	Lot           LotCode        `json:"lot" validate:"lot"`
	Item          ItemCode       `json:"item" validate:"code"`
	Status        Status         `json:"status" validate:"oneof=organic-100 organic made-with conventional"`
	Weight        Weight         `json:"weight" validate:"required"`
	Theirs        *Mass          `json:"theirs,omitzero"` // mass on the other party's papers
	To            StationCode    `json:"to" validate:"code"`
	Via           []StationCode  `json:"via,omitzero" validate:"max=20,dive,code"`
	Source        PartnerCode    `json:"source" validate:"code"`
	TheirLot      string         `json:"theirLot,omitzero" validate:"max=60"`
	Variety       string         `json:"variety,omitzero" validate:"max=100"`
	Packaging     string         `json:"packaging,omitzero" validate:"max=100"`
	LastCertified PartnerCode    `json:"lastCertified,omitzero" validate:"omitempty,code"` // last certified operation, 7 CFR 205.103(b)(2)
	Certificate   DocumentCode   `json:"certificate,omitzero" validate:"omitempty,code"`
	LookedUp      *calendar.Date `json:"lookedUp,omitzero"` // day the certificate was looked up at its issuer
	Vehicle       Vehicle        `json:"vehicle,omitzero"`
	Papers        []string       `json:"papers,omitzero" validate:"max=20,dive,max=100"` // bill of lading, weigh ticket…
	ReleasedBy    string         `json:"releasedBy,omitzero" validate:"max=100"`         // who signed for the other party
	Note          string         `json:"note,omitzero" validate:"max=2000"`
}

// Move says that goods went from one station to another, via those they ran through. Without a lot it draws on what a
// mixed station holds.
type Move struct {
	Lot    LotCode       `json:"lot,omitzero" validate:"omitempty,lot"`
	From   StationCode   `json:"from" validate:"code"`
	To     StationCode   `json:"to" validate:"code,nefield=From"`
	Via    []StationCode `json:"via,omitzero" validate:"max=20,dive,code"`
	Weight Weight        `json:"weight" validate:"required"`
	Last   bool          `json:"last,omitzero"` // nothing of it is left at From
	Note   string        `json:"note,omitzero" validate:"max=2000"`
}

// Process says that inputs became outputs at a station. The envelope's Happened is when it was finished: the inputs
// leave where they were and the outputs are there from then on.
type Process struct {
	Process string        `json:"process" validate:"required,max=60"` // steeping, germination, kilning, cleaning, bagging, milling, blending, downgrading…
	Station StationCode   `json:"station" validate:"code"`
	Started Instant       `json:"started,omitzero"`
	Inputs  []Input       `json:"inputs" validate:"min=1,max=50,dive"`
	Outputs []Output      `json:"outputs" validate:"min=1,max=50,dive"`
	Via     []StationCode `json:"via,omitzero" validate:"max=20,dive,code"` // run through besides the station
	Note    string        `json:"note,omitzero" validate:"max=2000"`
}

// Input is what went in. Without a lot it draws on what a mixed station holds.
type Input struct {
	Lot    LotCode     `json:"lot,omitzero" validate:"omitempty,lot"`
	From   StationCode `json:"from" validate:"code"`
	Weight Weight      `json:"weight" validate:"required"`
	Last   bool        `json:"last,omitzero"`
}

// Output is what came out. More of a lot that is there already adds to it.
type Output struct {
	Lot       LotCode        `json:"lot" validate:"lot"`
	Item      ItemCode       `json:"item" validate:"code"`
	Status    Status         `json:"status" validate:"oneof=organic-100 organic made-with conventional"`
	To        StationCode    `json:"to" validate:"code"`
	Weight    Weight         `json:"weight" validate:"required"`
	Bags      int            `json:"bags,omitzero" validate:"min=0,max=100000"`
	BagNet    *Mass          `json:"bagNet,omitzero"` // net mass each bag is labelled with
	KilnDate  *calendar.Date `json:"kilnDate,omitzero"`
	BestBy    *calendar.Date `json:"bestBy,omitzero"`                      // as printed on the label
	Container string         `json:"container,omitzero" validate:"max=60"` // labelled, covered container of a by-product
	Disposal  string         `json:"disposal,omitzero" validate:"max=200"` // why it is waste and no by-product
}

// Kind is KindReceipt.
func (*Receipt) Kind() Kind { return KindReceipt }

// Kind is KindMove.
func (*Move) Kind() Kind { return KindMove }

// Kind is KindProcess.
func (*Process) Kind() Kind { return KindProcess }
