package lineage

import "grainward/records"

// Through is a trace that goes through several plants: a form for each, and what joins them.
type Through struct {
	Heading   string // what was traced
	Legs      []Leg  // in the way of the goods, as far as there is one
	First     int    // the leg where the trace starts
	Crossings []Crossing
	Loose     []Loose
	Notes     []string // what is said of the trace as a whole
	Program   string
}

// Leg is the part that lies at one plant.
type Leg struct {
	Code string
	Name string
	Away []int // beside Form.Lots: how many plants lie between the lot and the subject
	Form *Form // its roles, steps and plants between are from the subject; its shares and its account from the lots by which the trace came in
}

// Crossing is a handover and the receipt at another plant that answers it.
type Crossing struct {
	From, To  int // legs
	Gave, Got Side
	Named     string // how the receipt names the lot, as a sentence
	Rule      string // what told the handover from others, as a sentence
	Choices   int    // how many handovers the receipt could have answered
	Receipts  int    // how many receipts answer this handover
	Differs   bool   // the masses, by more than the scales explain
	Estimated bool   // what was given is a share of a mixed station
	Says      []string
}

// Side is what one plant wrote of a change of hands.
type Side struct {
	Lots     []records.LotCode
	TheirLot string // as the receipt has it
	When     records.Instant
	Mass     Kg
	Papers   []string
	Entry    records.Position
}

// Loose is a handover to another plant or a receipt from one that was joined to nothing.
type Loose struct {
	At       int  // the leg whose records have it
	Sent     bool // it is a handover
	FromName string
	ToName   string
	Side     Side
	Why      string // as a sentence
}
