package records

import "grainward/records/calendar"

// Document puts a certificate, licence, laboratory report or the like on file. The bytes lie beside the journal
// under their SHA-256; the entry holds what an auditor asks of a document.
type Document struct {
	Code    DocumentCode   `json:"code" validate:"code"` // the same code again is a renewal
	Title   string         `json:"title" validate:"required,max=200"`
	Type    string         `json:"type" validate:"required,max=60"` // certificate, licence, laboratory report, pest report, photo…
	Subject Subject        `json:"subject"`
	Issuer  string         `json:"issuer,omitzero" validate:"max=200"`
	Number  string         `json:"number,omitzero" validate:"max=100"`
	From    *calendar.Date `json:"from,omitzero"` // first day it holds; open when absent
	To      *calendar.Date `json:"to,omitzero"`   // last day it holds; open when absent
	File    *File          `json:"file,omitzero"`
	Note    string         `json:"note,omitzero" validate:"max=2000"`
}

// Subject is what a document is about: the plant itself, or one thing the plan names.
type Subject struct {
	Of   string `json:"of" validate:"oneof=plant partner agent station instrument person item"`
	Code string `json:"code,omitzero" validate:"required_unless=Of plant,omitempty,code"`
}

// File names bytes kept beside the journal.
type File struct {
	SHA256 string `json:"sha256" validate:"sha256hex"`
	Size   int64  `json:"size" validate:"min=1,max=16777216"` // bytes, at most MaxBlob; a JSON number, and far below 2^53
	Media  string `json:"media" validate:"required,max=100"`  // media type, such as application/pdf
	Name   string `json:"name,omitzero" validate:"max=200"`
}

// HoldsOn says whether the document is valid on a day.
func (d *Document) HoldsOn(day calendar.Date) bool {
	return (d.From == nil || *d.From <= day) && (d.To == nil || day <= *d.To)
}

// Kind is KindDocument.
func (*Document) Kind() Kind { return KindDocument }
