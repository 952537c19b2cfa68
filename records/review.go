package records

import (
	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Review says that the lead verified the entries at positions From to To, both included (21 CFR 117.165(a)(4)).
type Review struct {
	From   Position  `json:"from" validate:"min=0,max=9007199254740991"`
	To     Position  `json:"to" validate:"min=0,max=9007199254740991,gtefield=From"` // 2^53-1: the largest whole number JSON can be trusted with
	Except []EntryID `json:"except,omitzero" validate:"max=500"`                     // entries in the range that were not accepted
	Note   string    `json:"note,omitzero" validate:"max=2000"`
}

// UnmarshalJSONFrom reads a review and refuses one without its ends: position 0 is an entry like any other, so a
// `from` that was left out must not verify everything from the first entry on.
func (r *Review) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var w struct {
		From   *Position `json:"from"`
		To     *Position `json:"to"`
		Except []EntryID `json:"except"`
		Note   string    `json:"note"`
	}
	if err := json.UnmarshalDecode(dec, &w); err != nil {
		return err
	}
	var missing []FieldError
	if w.From == nil {
		missing = append(missing, FieldError{Field: "from", Want: "the position of the first entry verified"})
	}
	if w.To == nil {
		missing = append(missing, FieldError{Field: "to", Want: "the position of the last entry verified"})
	}
	if missing != nil {
		return &Error{Kind: Invalid, What: unreadable, Fields: missing}
	}
	*r = Review{*w.From, *w.To, w.Except, w.Note}
	return nil
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
