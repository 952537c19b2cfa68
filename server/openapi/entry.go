package openapi

import (
	"fmt"
	"reflect"

	"grainward/records"
)

// Draft stands for an entry as it is sent: its fact depends on its kind.
type Draft struct{}

// Entry is an entry as the journal keeps it: its canonical bytes, which go out as they are.
type Entry []byte

// MarshalJSON gives the bytes.
func (e Entry) MarshalJSON() ([]byte, error) { return e, nil }

// special are the types whose schema no reflection can tell.
var special map[reflect.Type]func(*schemas) map[string]any

func init() { // it refers to itself by way of of
	special = map[reflect.Type]func(*schemas) map[string]any{
		reflect.TypeFor[Draft]():               func(s *schemas) map[string]any { return s.byKind("Draft", s.draft) },
		reflect.TypeFor[Entry]():               func(s *schemas) map[string]any { return s.byKind("Entry", s.entry) },
		reflect.TypeFor[records.Replacement](): func(s *schemas) map[string]any { return s.byKind("Replacement", s.replacement) },
	}
}

// byKind is a schema with a case for each kind, which the member `kind` tells apart.
func (s *schemas) byKind(name string, one func(records.KindRow) map[string]any) map[string]any {
	ref := func(name string) map[string]any { return map[string]any{"$ref": "#/components/schemas/" + name} }
	if _, made := s.named[name]; made {
		if there := s.types[name]; there != nil {
			s.fail(fmt.Errorf("openapi: %s is called %s, which what goes by kind is called", there, name))
		}
		return ref(name)
	}
	s.named[name] = nil // a correction holds a replacement, which is by kind too
	var cases []any
	mapping := map[string]any{}
	for _, row := range records.Kinds() {
		if name == "Replacement" && row.Kind == records.KindCorrect {
			continue
		}
		own := name + upper(string(row.Kind))
		s.named[own] = one(row)
		cases = append(cases, ref(own))
		mapping[string(row.Kind)] = "#/components/schemas/" + own
	}
	s.named[name] = map[string]any{"oneOf": cases, "discriminator": map[string]any{"propertyName": "kind", "mapping": mapping}}
	return ref(name)
}

func (s *schemas) facts() (all []any) {
	for _, row := range records.Kinds() {
		all = append(all, s.reference(reflect.TypeOf(row.New()).Elem()))
	}
	return all
}

// envelope is what drafts, entries and replacements have in common.
func (s *schemas) envelope(row records.KindRow) map[string]any {
	code := map[string]any{"type": "string", "pattern": codePattern}
	return map[string]any{
		"happened": described(s.of(reflect.TypeFor[records.Instant](), ""), "when the work was done"),
		"by":       described(clone(code), "the code of who signs"),
		"kind":     map[string]any{"const": string(row.Kind), "description": row.Says},
		"fact":     s.reference(reflect.TypeOf(row.New()).Elem()),
	}
}

func described(schema map[string]any, says string) map[string]any {
	schema["description"] = says
	return schema
}

func closed(properties map[string]any, required ...string) map[string]any {
	return map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}

func (s *schemas) signed(row records.KindRow) map[string]any {
	p := s.envelope(row)
	p["id"] = described(s.of(reflect.TypeFor[records.EntryID](), ""), "a version 7 UUID made where the entry was: sent again, it is the same entry")
	var meanings []any
	for _, m := range row.Meanings {
		meanings = append(meanings, string(m))
	}
	p["meaning"] = map[string]any{"enum": meanings, "description": "what the signature stands for"}
	p["paper"] = map[string]any{"type": "object", "description": "typed in from a sheet that was filled in by hand", "additionalProperties": false, "required": []string{"whose"},
		"properties": map[string]any{"whose": map[string]any{"type": "string", "pattern": codePattern, "description": "who did the work and signed the sheet"},
			"sheet": map[string]any{"type": "string", "pattern": hashPattern, "description": "key of a photo of it"}}}
	return p
}

func (s *schemas) draft(row records.KindRow) map[string]any {
	p := s.signed(row)
	p["meaning"].(map[string]any)["default"] = string(row.Meanings[0])
	p["sent"] = described(s.of(reflect.TypeFor[records.Instant](), ""), "what the device's clock says while sending; the time of the work is put right by what it is off")
	p["again"] = map[string]any{"type": "string", "description": "the signer's PIN or password again: needed to verify, approve or release"}
	return closed(p, "id", "happened", "by", "kind", "fact")
}

func (s *schemas) entry(row records.KindRow) map[string]any {
	p := s.signed(row)
	p["recorded"] = described(s.of(reflect.TypeFor[records.Instant](), ""), "when the journal took it in")
	p["device"] = map[string]any{"type": "string", "pattern": codePattern, "description": "which device it came from"}
	p["deviceTime"] = described(s.of(reflect.TypeFor[records.Instant](), ""), "what the device's clock said, when it was off")
	return closed(p, "id", "happened", "recorded", "by", "meaning", "kind", "fact")
}

func (s *schemas) replacement(row records.KindRow) map[string]any {
	return closed(s.envelope(row), "kind", "fact")
}
