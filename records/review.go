package records

// Review says that the lead verified the entries at positions From to To, both included (21 CFR 117.165(a)(4)).
type Review struct {
	From   Position  `json:"from" validate:"min=0"`
	To     Position  `json:"to" validate:"min=0,gtefield=From"`
	Except []EntryID `json:"except,omitzero" validate:"max=500"` // entries in the range that were not accepted
	Note   string    `json:"note,omitzero" validate:"max=2000"`
}

// Excuse says that due work in a stretch of time is excused, and why. An empty task or station means all of them.
type Excuse struct {
	Task    TaskCode    `json:"task,omitzero" validate:"omitempty,code"`
	Station StationCode `json:"station,omitzero" validate:"omitempty,code"`
	From    Instant     `json:"from" validate:"required"`
	To      Instant     `json:"to" validate:"required,gtefield=From"`
	Reason  string      `json:"reason" validate:"required,max=2000"`
}

// Kind is KindReview.
func (*Review) Kind() Kind { return KindReview }

// Kind is KindExcuse.
func (*Excuse) Kind() Kind { return KindExcuse }
