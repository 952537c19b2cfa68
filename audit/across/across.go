package across

import (
	"slices"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/lots"
	"grainward/records/state"
)

// Plant is one plant as it is handed in.
type Plant struct {
	Code  company.PlantCode
	State *state.State
	Floor *lots.Floor  // nil: its records are not looked at
	Graph *trace.Graph // of the floor
}

// Partners says which plant of ours a partner of a plant is; empty when it is none.
type Partners func(at company.PlantCode, partner records.PartnerCode) company.PlantCode

// Company is the plants with what joins them. It may be read by any number of goroutines.
type Company struct {
	Plants []Plant
	Joins  []Join
	// Handovers to plants of ours, and receipts from them, that no join has; in the order of plants and time.
	Sent []Sent
	Got  []Got

	index map[company.PlantCode]int
	from  map[node][]int // joins that start at a lot
	to    map[node][]int // joins that end at one
}

// node is a lot of a plant, by their indexes.
type node struct{ plant, lot int }

// Join is a receipt joined to the handover it answers.
type Join struct {
	From, To company.PlantCode
	Handover *lots.Transfer // at From
	Receipt  *lots.Transfer // at To
	Gave     []records.LotCode
	Got      records.LotCode
	Written  string // the lot as the receipt has it; one of several names when it has several
	Named    Named
	Rule     Rule
	Choices  int // how many handovers it could have answered

	Out       records.Micrograms // by the scale at From
	In        records.Micrograms // by the scale at To, of this receipt
	InAll     records.Micrograms // of all receipts joined to this handover
	Receipts  int                // how many they are
	Differs   bool               // Out and InAll, by more than the scales explain
	Estimated bool               // what was given is a share of a mixed station

	gave []int
	got  int
}

// Rule says what told a receipt's handover from others.
type Rule string

const (
	OnlyOne  Rule = "only"   // there was no other
	ByPapers Rule = "papers" // both have a paper number
	ByMass   Rule = "mass"   // the masses agree, and of the others they do not
	ByTime   Rule = "time"   // it left nearest before
)

// Sent is a handover to a plant of ours without a receipt there.
type Sent struct {
	From, To company.PlantCode
	Handover *lots.Transfer
	Lots     []records.LotCode
	Why      Why
}

// Got is a receipt from a plant of ours without a handover there.
type Got struct {
	From, To company.PlantCode
	Receipt  *lots.Transfer
	Written  string
	Lot      records.LotCode
	Why      Why
}

// Why says why something was joined to nothing.
type Why string

const (
	NoCounterpart Why = "none"    // nothing there names it
	Taken         Why = "taken"   // what names it there answers another, or came before it left
	TooLate       Why = "late"    // the handovers of that lot left after it came
	NoPartner     Why = "partner" // the other plant has no partner that is this one
	NotLookedAt   Why = "closed"  // the other plant's records were not looked at
	NoName        Why = "unnamed" // the receipt names no lot, and no paper number joins it
)

// Build joins the plants.
func Build(plants []Plant, partners Partners) *Company {
	c := &Company{Plants: plants, index: map[company.PlantCode]int{}, from: map[node][]int{}, to: map[node][]int{}}
	for i := range plants {
		c.index[plants[i].Code] = i
	}
	for a := range plants {
		for b := range plants {
			if a != b {
				c.join(a, b, partners)
			}
		}
	}
	for i := range c.Joins {
		j := &c.Joins[i]
		a, b := c.index[j.From], c.index[j.To]
		for _, lot := range j.gave {
			c.from[node{a, lot}] = append(c.from[node{a, lot}], i)
		}
		if j.got >= 0 {
			c.to[node{b, j.got}] = append(c.to[node{b, j.got}], i)
		}
	}
	return c
}

// Plant is the plant of a code, or nil.
func (c *Company) Plant(code company.PlantCode) *Plant {
	if i, ok := c.index[code]; ok {
		return &c.Plants[i]
	}
	return nil
}

// handovers are those of a plant to a partner that is another plant, in order of time; also those by which a warehouse sent on.
func (p *Plant) handovers(to company.PlantCode, partners Partners) (out []*lots.Transfer) {
	if p.Floor == nil {
		return nil
	}
	for i := range p.Floor.Transfers {
		t := p.Floor.Transfers[i]
		if t.Handover != nil && t.To.Holder != "" && partners(p.Code, t.To.Holder) == to {
			out = append(out, t)
		}
	}
	return out
}

// receipts are those of a plant from a partner that is another plant.
func (p *Plant) receipts(from company.PlantCode, partners Partners) (out []*lots.Transfer) {
	if p.Floor == nil {
		return nil
	}
	for i := range p.Floor.Transfers {
		t := p.Floor.Transfers[i]
		if t.Receipt != nil && partners(p.Code, t.Receipt.Source) == from {
			out = append(out, t)
		}
	}
	return out
}

// given are the lots of a handover, by index, each once.
func (p *Plant) given(t *lots.Transfer) (out []int) {
	for _, portion := range t.Portions {
		if !slices.Contains(out, portion.Lot) {
			out = append(out, portion.Lot)
		}
	}
	return out
}

func (p *Plant) codes(at []int) (out []records.LotCode) {
	for _, i := range at {
		out = append(out, p.Floor.Lots[i].Code)
	}
	return out
}

// names are the lots by which a receipt may name a handover: the one it was written for, and those it drew on.
func (p *Plant) names(t *lots.Transfer) (out []records.LotCode) {
	if t.Handover.Lot != "" {
		out = append(out, t.Handover.Lot)
	}
	for _, code := range p.codes(p.given(t)) {
		if !slices.Contains(out, code) {
			out = append(out, code)
		}
	}
	return out
}
