package server

import (
	"net/http"
	"strings"

	"grainward/records/plan"
	"grainward/server/openapi"
)

// aboutAPI is what the description says of the whole.
const aboutAPI = `Everything the pages do can be done here. An entry is written once however often it is sent: its id, made where it was, says which one it is. ` +
	`Errors are problem details (RFC 9457); their "code" is for programs and stays, their words are for people, in the language of whoever is signed in. ` +
	`Where an address is for a role, the sign-in goes along as the cookie that POST /api/sign-in gives. What the records show is for the certifier and the authority having jurisdiction to judge.`

// describe is the OpenAPI document of every route that answers programs.
func describe(version string) ([]byte, error) {
	var ops []openapi.Operation
	for _, rt := range routes() {
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

// exampleCode stands for an enrolment code, which is made when it is asked for.
const exampleCode = "the code that a lead was shown"

// examples are requests as they could be sent, which a test sends.
var examples = map[string]any{
	"POST /api/plan/look":       map[string]any{"text": string(plan.Starter()), "days": 30},
	"POST /api/sign-in":         map[string]any{"person": "hank", "secret": "4071"},
	"POST /api/people/:person":  map[string]any{"do": "unlock"},
	"POST /api/devices":         map[string]any{"name": "Tablet at the kiln"},
	"POST /api/devices/:device": map[string]any{"do": "rename", "name": "Tablet at the steeps"},
	"POST /api/enrol":           map[string]any{"code": exampleCode},
	"POST /api/binders":         map[string]any{"from": "2026-03-01", "to": "2026-03-09"},
	"POST /api/entries": map[string]any{
		"id": "019cd2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e", "happened": "2026-03-09T07:30:00-04:00", "by": "hank", "kind": "signoff",
		"fact": map[string]any{"task": "hygiene-check", "station": "entrance", "outcome": "passed",
			"answers": []any{map[string]any{"ask": "fit", "yes": true}, map[string]any{"ask": "hands", "yes": true}, map[string]any{"ask": "clothes", "yes": true}}},
		"sent": "2026-03-09T07:30:05-04:00"},
}
