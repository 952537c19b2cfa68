package records

// Deviation says that something went wrong, in the words of whoever saw it.
type Deviation struct {
	What    string      `json:"what" validate:"required,max=2000"`
	Task    TaskCode    `json:"task,omitzero" validate:"omitempty,code"`
	Station StationCode `json:"station,omitzero" validate:"omitempty,code"`
	Lots    []LotCode   `json:"lots,omitzero" validate:"max=50,dive,lot"`
	Entries []EntryID   `json:"entries,omitzero" validate:"max=50"` // the entries that show it
	Action  string      `json:"action,omitzero" validate:"max=2000"`
}

// Answer answers a finding (by its stable id) or a deviation (by its entry). The four parts are those of a
// corrective action in 21 CFR 117.150(a): cause found and fixed, made less likely to come back, affected food
// evaluated, and kept out of commerce when it can not be shown safe.
type Answer struct {
	Finding    string  `json:"finding,omitzero" validate:"max=200"`
	Deviation  EntryID `json:"deviation,omitzero"`
	Cause      string  `json:"cause" validate:"required,max=2000"`
	Action     string  `json:"action" validate:"required,max=2000"`
	Lots       string  `json:"lots" validate:"required,max=2000"` // what happens to the lots it touched, or why none are touched
	Prevention string  `json:"prevention" validate:"required,max=2000"`
	Closes     bool    `json:"closes"`
}

// Kind is KindDeviation.
func (*Deviation) Kind() Kind { return KindDeviation }

// Kind is KindAnswer.
func (*Answer) Kind() Kind { return KindAnswer }
