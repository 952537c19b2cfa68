package records

// Count says what was physically found at a station. Nothing found proves it empty.
type Count struct {
	Station StationCode `json:"station" validate:"code"`
	Found   []Found     `json:"found,omitzero" validate:"max=500,dive"`
	Note    string      `json:"note,omitzero" validate:"max=2000"`
}

// Found is one lot of a count; at a mixed station the lot may be left out.
type Found struct {
	Lot    LotCode `json:"lot,omitzero" validate:"omitempty,lot"`
	Weight Weight  `json:"weight" validate:"required"`
}

// Hold says that lots were stopped, and why.
type Hold struct {
	Lots []LotCode `json:"lots" validate:"min=1,max=200,dive,lot"`
	Why  string    `json:"why" validate:"required,max=2000"`
}

// Release ends a hold: the lots are free, or rejected for good.
type Release struct {
	Lots     []LotCode `json:"lots" validate:"min=1,max=200,dive,lot"`
	Rejected bool      `json:"rejected,omitzero"`
	Why      string    `json:"why" validate:"required,max=2000"`
}

// Purge says that clean grain was run through equipment and diverted, and what became of it.
type Purge struct {
	Stations []StationCode `json:"stations" validate:"min=1,max=20,dive,code"` // run through, in order
	Lot      LotCode       `json:"lot,omitzero" validate:"omitempty,lot"`      // of the clean grain
	From     StationCode   `json:"from" validate:"code"`
	Weight   Weight        `json:"weight" validate:"required"`
	Last     bool          `json:"last,omitzero"`
	Became   Output        `json:"became"` // the diverted grain, as a lot of its own
	Note     string        `json:"note,omitzero" validate:"max=2000"`
}

// Result is a laboratory or bench result for a lot.
type Result struct {
	Lot        LotCode      `json:"lot" validate:"lot"`
	Method     string       `json:"method,omitzero" validate:"max=200"`
	Laboratory PartnerCode  `json:"laboratory,omitzero" validate:"omitempty,code"` // absent: our own bench
	Values     []Measured   `json:"values" validate:"min=1,max=60,dive"`
	Document   DocumentCode `json:"document,omitzero" validate:"omitempty,code"`
	Note       string       `json:"note,omitzero" validate:"max=2000"`
}

// Measured is a named value.
type Measured struct {
	Name  string   `json:"name" validate:"required,max=80"`
	Value Quantity `json:"value"`
}

// Sample says that retained samples of a lot were set aside or thrown out.
type Sample struct {
	Lot    LotCode     `json:"lot" validate:"lot"`
	Act    string      `json:"act" validate:"oneof=kept discarded"`
	Number int         `json:"number" validate:"min=1,max=1000"`
	From   StationCode `json:"from,omitzero" validate:"omitempty,code"` // with Mass: taken out of what stood there
	Mass   *Mass       `json:"mass,omitzero"`                           // of all of them together
	Where  string      `json:"where,omitzero" validate:"max=100"`
	Note   string      `json:"note,omitzero" validate:"max=2000"`
}

// Drill is one step of a recall drill.
type Drill struct {
	Drill   string      `json:"drill" validate:"required,code"` // the drill's own code; every step names it
	Step    string      `json:"step" validate:"oneof=start contact finish"`
	Subject string      `json:"subject,omitzero" validate:"max=200"`                 // start: what is traced, as trace takes it
	Why     string      `json:"why,omitzero" validate:"max=2000"`                    // start
	Lead    PersonCode  `json:"lead,omitzero" validate:"omitempty,code"`             // start: who leads
	Level   string      `json:"level,omitzero" validate:"omitempty,oneof=A B C D E"` // start: effectiveness check level, 21 CFR 7.42(b)(3)
	Partner PartnerCode `json:"partner,omitzero" validate:"omitempty,code"`          // contact
	Method  string      `json:"method,omitzero" validate:"max=100"`                  // contact: telephone, e-mail…
	Reached bool        `json:"reached,omitzero"`                                    // contact
	Spoke   string      `json:"spoke,omitzero" validate:"max=100"`                   // contact: with whom
	Holds   *Mass       `json:"holds,omitzero"`                                      // contact: what they still have
	Figures []Measured  `json:"figures,omitzero" validate:"max=60,dive"`             // finish: what the drill came to
	Lessons string      `json:"lessons,omitzero" validate:"max=4000"`                // finish
	Note    string      `json:"note,omitzero" validate:"max=2000"`
}

// Kind is KindCount.
func (*Count) Kind() Kind { return KindCount }

// Kind is KindHold.
func (*Hold) Kind() Kind { return KindHold }

// Kind is KindRelease.
func (*Release) Kind() Kind { return KindRelease }

// Kind is KindPurge.
func (*Purge) Kind() Kind { return KindPurge }

// Kind is KindResult.
func (*Result) Kind() Kind { return KindResult }

// Kind is KindSample.
func (*Sample) Kind() Kind { return KindSample }

// Kind is KindDrill.
func (*Drill) Kind() Kind { return KindDrill }
