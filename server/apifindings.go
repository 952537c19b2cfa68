package server

import (
	"grainward/audit"
	"grainward/records"
	"grainward/server/openapi"
)

// findingsJSON is the answer of /api/findings.
type findingsJSON struct {
	At       records.Instant `json:"at"`
	Total    int             `json:"total"` // that the question fits
	Open     int             `json:"open"`  // of those, not closed by an answer
	Findings []findingJSON   `json:"findings"`
	Next     *int            `json:"next,omitempty"`
}

type findingJSON struct {
	audit.Finding
	Sentence string `json:"sentence"` // in the language of whoever asks
}

var findingsQuery = withList(
	openapi.Query{Name: "severity", Says: "note, minor, major or critical"},
	openapi.Query{Name: "rule", Says: "the code of a rule"},
	openapi.Query{Name: "station", Says: "the code of a station"},
	openapi.Query{Name: "lot", Says: "the code of a lot"},
	openapi.Query{Name: "show", Says: "open: only those that no answer closed"},
)

// apiFindings are the findings of now, worst first, then newest first.
func (s *Server) apiFindings(r *request) (reply, error) {
	rep := s.report()
	out := findingsJSON{At: rep.At, Findings: []findingJSON{}}
	var fit []*audit.Finding
	for _, f := range rep.Findings {
		if r.fitsQuery(f) {
			fit = append(fit, f)
			if !f.Closed {
				out.Open++
			}
		}
	}
	from, to, next, err := r.listed(len(fit))
	if err != nil {
		return reply{}, err
	}
	out.Total, out.Next = len(fit), next
	for _, f := range fit[from:to] {
		out.Findings = append(out.Findings, findingJSON{*f, f.Sentence(r.lang)})
	}
	return reply{json: out}, nil
}

func (r *request) fitsQuery(f *audit.Finding) bool {
	for name, value := range map[string]string{"severity": f.Severity.String(), "rule": f.Rule, "station": string(f.Subject.Station), "lot": string(f.Subject.Lot)} {
		if want := r.query.Get(name); want != "" && want != value {
			return false
		}
	}
	return r.query.Get("show") != "open" || !f.Closed
}
