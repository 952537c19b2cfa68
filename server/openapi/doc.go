// Package openapi describes an interface for programs as an OpenAPI 3.1 document (whose schemas are JSON Schema 2020-12).
//
// It makes schemas from Go types, by reflection: names and what may be left out from the `json` tags, lengths, choices and
// patterns from the `validate` tags that the shape of facts is checked by. So the description says what the program
// does, and not what somebody once wrote about it. What only several members together tell (that a question has one
// answer, that a seal has a number) is left to the program.
//
// It knows the vocabulary of the records. It must not know routes, HTTP or who may do what; those are handed in.
package openapi
