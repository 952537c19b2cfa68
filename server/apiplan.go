package server

import (
	"grainward/records"
)

// planJSON is the answer of /api/plan.
type planJSON struct {
	From     records.Instant  `json:"from"`     // in force since
	Position records.Position `json:"position"` // of the entry that adopted it
	SHA256   string           `json:"sha256"`   // of the text
	Text     string           `json:"text"`     // plan.yaml as it was adopted
	All      []adoptedJSON    `json:"all"`      // every plan there was, oldest first
}

type adoptedJSON struct {
	From     records.Instant    `json:"from"`
	Position records.Position   `json:"position"`
	By       records.PersonCode `json:"by"`
	SHA256   string             `json:"sha256"`
}

// apiPlan is the plan in force now, or at a moment.
func (s *Server) apiPlan(r *request) (reply, error) {
	at, err := r.askedMoment("at")
	if err != nil {
		return reply{}, err
	}
	var out planJSON
	found := false
	for _, p := range r.view.State.Plans() {
		if p.Record == nil {
			continue
		}
		fact, ok := p.Record.Fact.(*records.Adoption)
		if !ok {
			continue
		}
		out.All = append(out.All, adoptedJSON{p.From, p.Record.Position, p.Record.By, fact.SHA256})
		if p.From <= at {
			out.From, out.Position, out.SHA256, out.Text, found = p.From, p.Record.Position, fact.SHA256, fact.Text, true
		}
	}
	if !found {
		return reply{}, notFound()
	}
	return reply{json: out}, nil
}
