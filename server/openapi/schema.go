package openapi

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/calendar"
)

// schemas gathers the schemas of named types.
type schemas struct {
	named map[string]any
	types map[string]reflect.Type // by name, to see two of one name
	err   error
}

// texts are the types that are written as one text, with what it looks like.
var texts = map[reflect.Type]map[string]any{
	reflect.TypeFor[records.Instant](): {"type": "string", "format": "date-time", "examples": []any{"2026-03-09T11:30:00.000Z"}},
	reflect.TypeFor[records.EntryID](): {"type": "string", "format": "uuid", "pattern": `^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`},
	reflect.TypeFor[records.Decimal](): {"type": "string", "pattern": `^-?[0-9]+(\.[0-9]+)?$`, "maxLength": 32},
	reflect.TypeFor[records.Mass]():    {"type": "string", "pattern": `^-?[0-9]+(\.[0-9]+)? +(kg|g|t|lb|cwt|ton)$`, "maxLength": 40},
	reflect.TypeFor[calendar.Date]():   {"type": "string", "format": "date"},
}

var (
	codePattern = `^[a-z0-9][a-z0-9-]{0,39}$`
	lotPattern  = `^[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]{1,20}$`
	hashPattern = `^[0-9a-f]{64}$`
	textual     = reflect.TypeFor[encoding.TextMarshaler]()
	raw         = reflect.TypeFor[json.RawMessage]()
	factType    = reflect.TypeFor[records.Fact]()
)

// of is the schema of a type, with the rules of the field it stands in.
func (s *schemas) of(t reflect.Type, rules string) map[string]any {
	t = deref(t)
	if one, ok := special[t]; ok {
		return one(s)
	}
	if text, ok := texts[t]; ok {
		return clone(text)
	}
	if t == raw {
		return map[string]any{}
	}
	if reflect.PointerTo(t).Implements(textual) || t.Implements(textual) {
		return map[string]any{"type": "string"}
	}
	switch t.Kind() {
	case reflect.String:
		return ruled(map[string]any{"type": "string"}, rules)
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.Int, reflect.Int32, reflect.Int64, reflect.Uint64:
		out := map[string]any{"type": "integer"}
		if t == reflect.TypeFor[records.Position]() {
			out["minimum"] = 0
		}
		return ruled(out, rules)
	case reflect.Float64:
		return map[string]any{"type": "number"}
	case reflect.Slice, reflect.Array:
		outer, inner, _ := strings.Cut(rules, "dive")
		return ruled(map[string]any{"type": "array", "items": s.of(t.Elem(), strings.Trim(inner, ","))}, outer)
	case reflect.Map:
		return map[string]any{"type": "object", "additionalProperties": s.of(t.Elem(), "")}
	case reflect.Struct:
		return s.reference(t)
	case reflect.Interface:
		if t == factType {
			return map[string]any{"description": "of the kind that the member beside it names", "oneOf": s.facts()}
		}
		return map[string]any{}
	}
	s.fail(fmt.Errorf("openapi: no schema for %s", t))
	return nil
}

func (s *schemas) fail(err error) {
	if s.err == nil {
		s.err = err
	}
}

// reference names a struct's schema, and makes it the first time.
func (s *schemas) reference(t reflect.Type) map[string]any {
	if t.Name() == "" {
		return s.group(t)
	}
	name := nameOf(t)
	if there, ok := s.types[name]; !ok {
		s.types[name] = t // before its members, which may hold it again
		s.named[name] = s.group(t)
	} else if there != t {
		s.fail(fmt.Errorf("openapi: %s and %s are both called %s", there, t, name))
	}
	return map[string]any{"$ref": "#/components/schemas/" + name}
}

// nameOf is what a type is called for other programs: enteredJSON is Entered, audit's Finding is AuditFinding. Types of the records, and
// of whoever has routes, need no more.
func nameOf(t reflect.Type) string {
	name := upper(strings.TrimSuffix(t.Name(), "JSON"))
	if room := t.PkgPath()[strings.LastIndex(t.PkgPath(), "/")+1:]; room != "records" && room != "server" {
		return upper(room) + name
	}
	return name
}

func upper(word string) string { return strings.ToUpper(word[:1]) + word[1:] }

// group is the schema of a struct.
func (s *schemas) group(t reflect.Type) map[string]any {
	properties, required := map[string]any{}, []string{}
	s.members(t, properties, &required)
	out := map[string]any{"type": "object", "properties": properties}
	if len(required) > 0 {
		out["required"] = required
	}
	if t.PkgPath() == recordsPath {
		out["additionalProperties"] = false // facts are read strictly
	}
	return out
}

var recordsPath = reflect.TypeFor[records.Signoff]().PkgPath()

func (s *schemas) members(t reflect.Type, properties map[string]any, required *[]string) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && name == "":
			to := required
			if f.Type.Kind() == reflect.Pointer { // all of its members are there, or none
				to = new([]string)
			}
			s.members(deref(f.Type), properties, to)
			continue
		case !f.IsExported() || name == "-":
			continue
		case name == "":
			name = f.Name
		}
		one := s.of(f.Type, f.Tag.Get("validate"))
		left := strings.Contains(options, "omit")
		if f.Type.Kind() == reflect.Pointer && !left {
			one = map[string]any{"anyOf": []any{one, map[string]any{"type": "null"}}}
		}
		properties[name] = one
		if !left {
			*required = append(*required, name)
		}
	}
}

func deref(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t
}

// ruled puts what the `validate` tag asks for into a schema. A rule it does not know is one that no schema can say.
func ruled(out map[string]any, rules string) map[string]any {
	kind := out["type"].(string)
	least, most := map[string]string{"string": "minLength", "array": "minItems", "integer": "minimum"}[kind], map[string]string{"string": "maxLength", "array": "maxItems", "integer": "maximum"}[kind]
	free := strings.Contains(rules, "omitempty") || strings.Contains(rules, "required_unless")
	for rule := range strings.SplitSeq(rules, ",") {
		name, param, _ := strings.Cut(rule, "=")
		switch name {
		case "code", "lot", "sha256hex":
			out["pattern"] = map[string]string{"code": codePattern, "lot": lotPattern, "sha256hex": hashPattern}[name]
		case "oneof":
			out["enum"] = strings.Fields(param)
		case "required":
			if kind == "string" {
				out["minLength"] = 1
			}
		case "min", "max":
			if n, err := strconv.ParseInt(param, 10, 64); err == nil {
				out[map[string]string{"min": least, "max": most}[name]] = n
			}
		}
	}
	if free && kind == "string" { // written empty it says the same as left out, and is taken
		if rest := without(out, "type", "maxLength"); len(rest) > 0 {
			return map[string]any{"type": "string", "anyOf": []any{map[string]any{"const": ""}, rest}}
		}
	}
	return out
}

func without(m map[string]any, names ...string) map[string]any {
	out := clone(m)
	for _, n := range names {
		delete(out, n)
	}
	return out
}

func clone(m map[string]any) map[string]any {
	out := map[string]any{}
	for k, v := range m {
		out[k] = v
	}
	return out
}
