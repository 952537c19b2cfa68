package pages

// Pages about links for reading: what a lead makes them with, and what an auditor reads.

func auditorPages() []Page {
	return []Page{&Links{}, &LinkUse{}, &Auditor{}, &Records{}, &Proof{}, &Check{}}
}

// Links are the links for reading, and the form to make one.
type Links struct {
	Frame
	Messages            []Message
	Made                *MadeLink // shown once
	For, From, To, Ends string
	Rows                []LinkRow
}

// MadeLink is a new link with its secret.
type MadeLink struct{ For, Link, Until string }

// LinkRow is one link.
type LinkRow struct {
	Href, For, Period, Ends string
	Opened                  int    // pages read
	Last                    string // when; empty when never
	Gone                    string // by whom it was withdrawn and when
	Good                    bool
}

// LinkUse is a link and every page that was read with it.
type LinkUse struct {
	Frame
	Row   LinkRow
	Reads []Row // when, and the address
	Older string
}

// Auditor is where a link leads.
type Auditor struct {
	Frame
	For, Period, Until, By string
	Counts                 []Count
}

// Records lists entries.
type Records struct {
	Frame
	Period string
	Kinds  []Option
	Rows   []RecordRow
	Pager
}

// RecordRow is one entry.
type RecordRow struct {
	Href, Position, What, Who, When string
	State                           string // a mark's name, of a sign-off
	Corrected                       bool
}

// Proof is an entry's own bytes and the proof that they are in the journal.
type Proof struct {
	Frame
	Position, Entry, File   string
	Bytes, Leaf, Proof, Key string
}

// Check holds a proof against an entry.
type Check struct {
	Frame
	Messages          []Message
	Key, Bytes, Proof string
	Holds             string // what was shown, when it holds
	Fails             bool
}

func (*Links) Name() string   { return "links" }
func (*LinkUse) Name() string { return "link-use" }
func (*Auditor) Name() string { return "auditor" }
func (*Records) Name() string { return "records" }
func (*Proof) Name() string   { return "proof" }
func (*Check) Name() string   { return "check" }
