package server

import (
	"net/http"
	"strings"

	"grainward/server/openapi"
)

// aboutAPI is what the description says of the whole.
const aboutAPI = `Everything the pages do can be done here. An entry is written once however often it is sent: its id, made where it was, says which one it is. ` +
	`Errors are problem details (RFC 9457); their "code" is for programs and stays, their words are for people, in the language of whoever is signed in. ` +
	`Where an address is for a role, the sign-in goes along as the cookie that POST /api/sign-in gives. What the records show is for the certifier and the authority having jurisdiction to judge.`

// describe is the OpenAPI document of every route that answers programs.
func describe(version string, table []route) ([]byte, error) {
	var ops []openapi.Operation
	for _, rt := range table {
		if rt.JSON {
			ops = append(ops, rt.operation())
		}
	}
	about := openapi.About{Title: "Grainward", Version: version, Says: aboutAPI, Cookie: cookieName, Problem: details{}}
	return openapi.Document(about, ops)
}

func (rt *route) operation() openapi.Operation {
	op := openapi.Operation{Method: rt.Method, Path: rt.Path, ID: operationID(rt), Says: rt.Says, Role: rt.Least.String(), Query: rt.Query}
	media := rt.Media
	switch {
	case rt.Gives == nil && media == "":
		op.Gives = append(op.Gives, openapi.Answer{Status: http.StatusNoContent, Says: "done"})
	default:
		op.Gives = append(op.Gives, openapi.Answer{Status: http.StatusOK, Says: rt.Says, Media: media, Type: rt.Gives})
	}
	if rt.Makes {
		op.Gives = append(op.Gives, openapi.Answer{Status: http.StatusCreated, Says: "it is new; 200 says that it was there before", Type: rt.Gives})
	}
	if rt.Takes != aForm {
		op.Asks = &openapi.Body{Media: rt.Takes.media(), Type: rt.Asks, Example: examples[rt.Method+" "+rt.Path]}
	}
	return op
}

// operationID is made of the method and the path, which do not change.
func operationID(rt *route) string {
	id := strings.ToLower(rt.Method)
	for part := range strings.SplitSeq(strings.TrimPrefix(rt.Path, "/api/"), "/") {
		for word := range strings.FieldsFuncSeq(part, func(r rune) bool { return r == '-' || r == '.' || r == ':' }) {
			if strings.HasPrefix(part, ":") {
				id += "By"
			}
			id += strings.ToUpper(word[:1]) + word[1:]
		}
	}
	return id
}

// apiDescription sends the document itself.
func (s *Server) apiDescription(*request) (reply, error) {
	b, err := s.described()
	return reply{data: b, media: "application/json"}, err
}

// exampleProof shows that "{}" is the only entry under a head signed for this description and nothing else; exampleKey is its key.
const (
	exampleKey   = "quillmere.example/journal+e9909368+ATdo6TNzzKgNEbCwYoZXy0M1goVeSkbWf0Y3TQY1JlSy"
	exampleProof = "c2sp.org/tlog-proof@v1\nindex 0\n\nquillmere.example/journal\n1\nKKOhj2zWQGsIbp/9ofm4oT289EsPPzLLkDGhH9BTrPk=\n\n— quillmere.example/journal 6ZCTaPq29IRlZ8Yxucr7gQ9FUE8JEin5el6PvR6nj36M/b+J8dy2vq36xh64tdZRUaZrKsumswipsYaNr8aJW59CbwM=\n"
)

// exampleCode stands for an enrolment code, which is made when it is asked for.
const exampleCode = "the code that a lead was shown"

// examplePlan is the least that is a plan.
const examplePlan = `grainward: 1
plant: {name: Example Mill, address: 1 Mill Road, zone: America/New_York, since: 2026-01-05}
stations: [{code: mill, title: Mill, kind: mill, holds: passes}]
tasks: [{code: sweep, title: Sweep, family: sanitation, stations: [mill]}]
people: [{code: lead, name: Example Lead, initials: EL, role: lead}]
`

// examples are requests as they could be sent, which a test sends.
var examples = map[string]any{
	"POST /api/plan/look":       map[string]any{"text": examplePlan, "days": 30},
	"POST /api/sign-in":         map[string]any{"person": "hank", "secret": "4071"},
	"POST /api/people/:person":  map[string]any{"do": "unlock"},
	"POST /api/devices":         map[string]any{"name": "Tablet at the kiln"},
	"POST /api/devices/:device": map[string]any{"do": "rename", "name": "Tablet at the steeps"},
	"POST /api/enrol":           map[string]any{"code": exampleCode},
	"POST /api/links":           map[string]any{"for": "Ida Roan, certifier", "from": "2026-03-01", "to": "2026-03-09", "ends": "2026-03-20"},
	"POST /api/check":           map[string]any{"entry": "{}", "proof": exampleProof, "key": exampleKey},
	"POST /api/binders":         map[string]any{"from": "2026-03-01", "to": "2026-03-09"},
	"POST /api/entries": map[string]any{
		"id": "019cd2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e", "happened": "2026-03-09T07:30:00-04:00", "by": "hank", "kind": "signoff",
		"fact": map[string]any{"task": "hygiene-check", "station": "entrance", "outcome": "passed",
			"answers": []any{map[string]any{"ask": "fit", "yes": true}, map[string]any{"ask": "hands", "yes": true}, map[string]any{"ask": "clothes", "yes": true}}},
		"sent": "2026-03-09T07:30:05-04:00"},
}
