package plan

import (
	_ "embed"
	"go/ast"
	"go/parser"
	"go/token"
	"reflect"
	"strconv"
	"strings"
	"sync"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"grainward/records"
	"grainward/records/calendar"
)

// The descriptions in the schema are the comments beside the fields, read from the sources themselves: what a reader
// of the Go types sees and what an editor shows for plan.yaml can not drift apart.
//
//go:embed plan.go
var planSource string

//go:embed task.go
var taskSource string

// Schema is a JSON Schema (draft 2020-12) of plan.yaml for editors. It knows the shape of each value; what only the
// whole plan tells (that a station exists, that times are in order) is for Parse.
func Schema() []byte { return schemaText() }

var schemaText = sync.OnceValue(func() []byte {
	s := &schema{defs: map[string]any{}, says: comments(planSource, taskSource)}
	root := s.group(reflect.TypeFor[Plan]())
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "plan.yaml of Grainward"
	root["$defs"] = s.defs
	text, err := json.Marshal(root, json.Deterministic(true), jsontext.WithIndent("  "))
	if err != nil {
		panic(err) // only strings, numbers, lists and maps are in it
	}
	return append(text, '\n')
})

type schema struct {
	defs map[string]any
	says map[string]string // "Type" and "Type.Field" to comment
}

// group is the schema of a struct.
func (s *schema) group(t reflect.Type) map[string]any {
	properties, required := map[string]any{}, []string{}
	for _, f := range fieldsOf(t) {
		one := s.value(f.typ, f.rules, f.inner)
		if text := s.says[t.Name()+"."+f.name]; text != "" {
			one["description"] = text
		}
		if f.fallback != "" {
			one["default"] = fallbackJSON(f)
		}
		properties[f.key] = one
		if f.needed {
			required = append(required, f.key)
		}
	}
	out := map[string]any{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		out["required"] = required
	}
	if text := s.says[t.Name()]; text != "" {
		out["description"] = text
	}
	if t == reflect.TypeFor[When]() {
		ways := []any{}
		for _, way := range []string{"rule", "eachShift", "after"} {
			ways = append(ways, map[string]any{"required": []string{way}})
		}
		out["oneOf"], out["dependentRequired"] = ways, alwaysWith
	}
	return out
}

var alwaysWith = map[string][]string{"rule": {"opens", "due", "lapses"}, "after": {"dueIn", "lapsesIn"}}

func fallbackJSON(f *field) any {
	switch f.typ.Kind() {
	case reflect.Int:
		n, _ := strconv.Atoi(f.fallback)
		return n
	case reflect.Slice:
		return strings.Fields(f.fallback)
	}
	return f.fallback
}

// patterns of the values that are written as one text. A bare number of YAML is a number in JSON.
var patterns = map[reflect.Type]string{
	reflect.TypeFor[Span]():           `^(0m|[1-9][0-9]*d( [1-9][0-9]*h)?( [1-9][0-9]*m)?|[1-9][0-9]*h( [1-9][0-9]*m)?|[1-9][0-9]*m)$`,
	reflect.TypeFor[DayTime]():        `^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?( \+[1-9][0-9]{0,2})?$`,
	reflect.TypeFor[calendar.Clock](): `^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$`,
	reflect.TypeFor[calendar.Date]():  `^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$`,
	reflect.TypeFor[calendar.Rule]():  `^([Rr][Rr][Uu][Ll][Ee]:)?[A-Za-z]+=[^;]+(;[A-Za-z]+=[^;]+)*$`,
	reflect.TypeFor[records.Mass]():   `^-?[0-9]+(\.[0-9]+)? +(kg|g|t|lb|cwt|ton)$`,
}

const (
	codePattern    = `^[a-z0-9][a-z0-9-]{0,39}$`
	decimalPattern = `^-?(0|[1-9][0-9]*)(\.[0-9]+)?$`
)

// value is the schema of a field or of an element, by its type and rules.
func (s *schema) value(t reflect.Type, rules, inner []string) map[string]any {
	out := map[string]any{}
	switch {
	case t.Kind() == reflect.Pointer:
		return s.value(t.Elem(), nil, nil)
	case t == textType:
		one := map[string]any{"type": "string", "minLength": 1}
		languages := map[string]any{}
		for _, lang := range Languages() {
			languages[lang] = one
		}
		out["anyOf"] = []any{one, map[string]any{"type": "object", "properties": languages, "additionalProperties": false, "minProperties": 1}}
	case t == reflect.TypeFor[records.Decimal]():
		out["anyOf"] = []any{map[string]any{"type": "number"}, map[string]any{"type": "string", "pattern": decimalPattern}}
	case patterns[t] != "":
		out["type"], out["pattern"] = "string", patterns[t]
	case t.Kind() == reflect.Struct:
		if _, done := s.defs[t.Name()]; !done {
			s.defs[t.Name()] = true // so that a type within itself would end
			s.defs[t.Name()] = s.group(t)
		}
		out["$ref"] = "#/$defs/" + t.Name()
	case t.Kind() == reflect.Slice:
		out["type"], out["items"] = "array", s.value(t.Elem(), inner, nil)
	case t.Kind() == reflect.Bool:
		out["type"] = "boolean"
	case t.Kind() == reflect.Int:
		out["type"] = "integer"
	default:
		out["type"] = []string{"string", "number"} // 18 is as good a text as "18"
	}
	for _, rule := range rules {
		limit(out, t, rule)
	}
	return out
}

// limit says one validate rule in the schema's words.
func limit(out map[string]any, t reflect.Type, rule string) {
	name, param, _ := strings.Cut(rule, "=")
	n, _ := strconv.Atoi(param)
	text := t.Kind() == reflect.String
	switch {
	case name == "required" && text:
		out["minLength"] = 1
	case name == "code":
		out["pattern"] = codePattern
	case name == "oneof":
		out["enum"] = strings.Fields(param)
		delete(out, "type")
	case name == "eq":
		out["const"] = n
	case name == "max" && text:
		out["maxLength"] = n
	case name == "min" && t.Kind() == reflect.Slice:
		out["minItems"] = n
	case name == "min" && t.Kind() == reflect.Int:
		out["minimum"] = n
	case name == "max" && t.Kind() == reflect.Int:
		out["maximum"] = n
	}
}

// comments finds what the sources say of each type and field.
func comments(sources ...string) map[string]string {
	says := map[string]string{}
	for _, source := range sources {
		file, err := parser.ParseFile(token.NewFileSet(), "", source, parser.ParseComments)
		if err != nil {
			panic(err) // it is this package's own source, which was compiled
		}
		ast.Inspect(file, func(n ast.Node) bool {
			decl, ok := n.(*ast.GenDecl)
			if !ok {
				return true
			}
			for _, spec := range decl.Specs {
				t, ok := spec.(*ast.TypeSpec)
				if !ok {
					continue
				}
				says[t.Name.Name] = oneLine(decl.Doc)
				group, ok := t.Type.(*ast.StructType)
				if !ok {
					continue
				}
				for _, f := range group.Fields.List {
					for _, name := range f.Names {
						says[t.Name.Name+"."+name.Name] = oneLine(f.Comment)
					}
				}
			}
			return true
		})
	}
	return says
}

func oneLine(c *ast.CommentGroup) string {
	if c == nil {
		return ""
	}
	return strings.Join(strings.Fields(c.Text()), " ")
}
