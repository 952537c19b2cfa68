package openapi

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"strconv"
	"strings"
)

// Operation is one thing that can be asked.
type Operation struct {
	Method, Path string // the path with its values as :name
	ID           string // stable
	Says         string
	Role         string // the least that may; empty: everybody
	Query        []Query
	Asks         *Body
	Gives        []Answer // beside the problem details that every operation may answer
}

// Query is a value after the question mark.
type Query struct {
	Name, Says string
	Whole      bool // a whole number
}

// Body is what is sent along.
type Body struct {
	Media   []string
	Type    any // a value of the type; nil for bytes
	Example any // may be nil
}

// Answer is one way it is answered.
type Answer struct {
	Status int
	Says   string
	Media  string // application/json when empty
	Type   any    // a value of the type; nil for bytes or nothing
}

// About is what the document says of itself.
type About struct {
	Title, Version, Says string
	Cookie               string // its name
	Problem              any    // a value of the type of problem details
}

// Document writes the description. An error is a type that can not be described.
func Document(about About, ops []Operation) ([]byte, error) {
	s := &schemas{named: map[string]any{}, types: map[string]reflect.Type{}}
	problem := s.of(reflect.TypeOf(about.Problem), "")
	paths := map[string]any{}
	for _, op := range ops {
		path, params := pathOf(op.Path)
		item, ok := paths[path].(map[string]any)
		if !ok {
			item = map[string]any{}
			paths[path] = item
		}
		item[strings.ToLower(op.Method)] = s.operation(op, params)
	}
	if s.err != nil {
		return nil, s.err
	}
	doc := map[string]any{
		"openapi":           "3.1.0",
		"jsonSchemaDialect": "https://json-schema.org/draft/2020-12/schema",
		"info":              map[string]any{"title": about.Title, "version": about.Version, "description": about.Says},
		"paths":             paths,
		"components": map[string]any{
			"schemas":         s.named,
			"securitySchemes": map[string]any{"signIn": map[string]any{"type": "apiKey", "in": "cookie", "name": about.Cookie}},
			"responses": map[string]any{"Problem": map[string]any{"description": "what was wrong, in words and as a code (RFC 9457)",
				"content": map[string]any{"application/problem+json": map[string]any{"schema": problem}}}},
		},
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", " ")
	if err := enc.Encode(doc); err != nil {
		return nil, fmt.Errorf("writing the description: %w", err)
	}
	return b.Bytes(), nil
}

func pathOf(path string) (string, []any) {
	var params []any
	parts := strings.Split(path, "/")
	for i, part := range parts {
		if name, is := strings.CutPrefix(part, ":"); is {
			parts[i] = "{" + name + "}"
			params = append(params, map[string]any{"name": name, "in": "path", "required": true, "schema": map[string]any{"type": "string"}})
		}
	}
	return strings.Join(parts, "/"), params
}

func (s *schemas) operation(op Operation, params []any) map[string]any {
	for _, q := range op.Query {
		schema := map[string]any{"type": "string"}
		if q.Whole {
			schema = map[string]any{"type": "integer", "minimum": 0}
		}
		params = append(params, map[string]any{"name": q.Name, "in": "query", "description": q.Says, "schema": schema})
	}
	out := map[string]any{"operationId": op.ID, "summary": op.Says, "security": []any{}}
	if op.Role != "" {
		out["security"] = []any{map[string]any{"signIn": []any{}}}
		out["description"] = "For the role " + op.Role + " and those above it."
	}
	if params != nil {
		out["parameters"] = params
	}
	if op.Asks != nil {
		content := map[string]any{}
		for _, media := range op.Asks.Media {
			one := map[string]any{}
			if op.Asks.Type != nil {
				one["schema"] = s.of(reflect.TypeOf(op.Asks.Type), "")
			}
			if op.Asks.Example != nil {
				one["example"] = op.Asks.Example
			}
			content[media] = one
		}
		out["requestBody"] = map[string]any{"required": true, "content": content}
	}
	responses := map[string]any{"default": map[string]any{"$ref": "#/components/responses/Problem"}}
	for _, a := range op.Gives {
		responses[strconv.Itoa(a.Status)] = s.answer(a)
	}
	out["responses"] = responses
	return out
}

func (s *schemas) answer(a Answer) map[string]any {
	out := map[string]any{"description": a.Says}
	media := a.Media
	switch {
	case a.Type != nil:
		if media == "" {
			media = "application/json"
		}
		out["content"] = map[string]any{media: map[string]any{"schema": s.of(reflect.TypeOf(a.Type), "")}}
	case media != "":
		out["content"] = map[string]any{media: map[string]any{}}
	}
	return out
}
