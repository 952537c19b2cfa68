package records

// Adoption says that a plan was adopted; it is in force from the envelope's Happened until the next one. The text is
// carried whole, so that a journal can be read without the files that lay beside it.
type Adoption struct {
	Text   string `json:"text" validate:"required"`
	SHA256 string `json:"sha256" validate:"sha256hex"` // of Text
	Note   string `json:"note,omitzero" validate:"max=2000"`
}

// Kind is KindPlan.
func (*Adoption) Kind() Kind { return KindPlan }
