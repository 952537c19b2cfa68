package journey

import (
	"cmp"
	"io"
	"slices"
	"strings"

	"grainward/audit/across"
	"grainward/exports/lineage"
	"grainward/records/company"
)

// WriteDrawing draws the trace: a frame a plant, and what went between them.
func WriteDrawing(w io.Writer, in Input) error {
	t, err := through(in)
	if err != nil {
		return err
	}
	return lineage.WriteThroughDrawing(w, t)
}

// WriteSheets writes the trace as a workbook whose sheets can be sorted.
func WriteSheets(w io.Writer, in Input) error {
	t, err := through(in)
	if err != nil {
		return err
	}
	return lineage.WriteThroughSheets(w, t)
}

// through is the trace as lineage shows one that goes through plants.
func through(in Input) (*lineage.Through, error) {
	f := Flatten(in)
	m := &maker{Input: in, words: f.words}
	out := &lineage.Through{Heading: f.words["trace"] + ": " + f.Plant + "/" + f.Subject + ", " + f.words[f.Direction]}
	for i := range in.Trace.Legs {
		leg, err := m.leg(&in.Trace.Legs[i])
		if err != nil {
			return nil, err
		}
		out.Legs = append(out.Legs, *leg)
	}
	far := func(leg lineage.Leg) int { return inOrder(in.Trace, company.PlantCode(leg.Code)) }
	slices.SortStableFunc(out.Legs, func(a, b lineage.Leg) int { return cmp.Compare(far(a), far(b)) })
	at := map[string]int{}
	for i, leg := range out.Legs {
		at[leg.Code] = i
	}
	out.First = at[f.Plant]
	out.Program = in.Stamp(in.Trace.Plant).Program
	for i := range f.Joins {
		out.Crossings = append(out.Crossings, m.crossing(&f.Joins[i], in.Trace.Joins[i], at))
	}
	for _, l := range f.Loose {
		here := l.From
		if l.Way == "got" {
			here = l.To
		}
		out.Loose = append(out.Loose, lineage.Loose{At: at[here], Sent: l.Way == "sent", FromName: m.name(company.PlantCode(l.From)), ToName: m.name(company.PlantCode(l.To)), Side: side(&l.Paper), Why: l.Says})
	}
	if len(f.Joins) == 0 && len(f.Loose) == 0 {
		out.Notes = append(out.Notes, f.words["nothing"])
	}
	return out, nil
}

// leg is what lies at one plant, with the roles and distances that its lots have in the whole.
func (m *maker) leg(of *across.Leg) (*lineage.Leg, error) {
	f, err := lineage.Flatten(lineage.Input{Trace: m.Trace.Detail(of), Stamp: m.Stamp(of.Plant), Lang: m.Lang})
	if err != nil {
		return nil, err
	}
	out := &lineage.Leg{Code: string(of.Plant), Name: m.name(of.Plant), Form: f, Away: make([]int, len(f.Lots))}
	for i := range of.Lots {
		l := m.lot(of.Plant, &of.Lots[i])
		k := f.Index(l.Code)
		if k < 0 {
			continue
		}
		row := &f.Lots[k]
		row.Role, row.Up, row.Down = l.Role, nil, nil
		if l.Up != nil {
			row.Up, out.Away[k] = &l.Up.Steps, l.Up.Plants
		}
		if l.Down != nil {
			row.Down, out.Away[k] = &l.Down.Steps, l.Down.Plants
		}
	}
	return out, nil
}

// inOrder is where a plant stands in the way of the goods: those the trace mostly goes back to, the farthest first, then its own, then those
// it goes on to.
func inOrder(t *across.Trace, at company.PlantCode) int {
	var back, on, far int
	for _, leg := range t.Legs {
		if leg.Plant != at || at == t.Plant {
			continue
		}
		for i := range leg.Lots {
			if l := &leg.Lots[i]; l.Down.Is() {
				on, far = on+1, max(far, l.Down.Hops)
			} else {
				back, far = back+1, max(far, l.Up.Hops)
			}
		}
	}
	if back >= on {
		return -far
	}
	return far
}

func (m *maker) crossing(j *Join, of *across.Join, at map[string]int) lineage.Crossing {
	out := lineage.Crossing{From: at[j.From], To: at[j.To], Gave: side(&j.Handover), Got: side(&j.Receipt), Named: m.words["named-"+j.Named], Rule: m.words["rule-"+j.Rule],
		Choices: j.Choices, Receipts: j.Receipts, Differs: j.Differs, Estimated: of.Estimated, Says: j.Says}
	if j.Named != named[across.AsWritten] {
		out.Named = m.say("named-"+j.Named, "{written}", strings.TrimSpace(j.Receipt.TheirLot))
	}
	return out
}

func side(p *Paper) lineage.Side {
	return lineage.Side{Lots: p.Lots, TheirLot: p.TheirLot, When: p.When, Mass: p.Mass, Papers: p.Papers, Entry: p.Entry}
}
