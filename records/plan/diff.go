package plan

import (
	"encoding"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/placed"
)

// Change is one difference between two plans.
type Change struct {
	Path     string // such as tasks[floor-scrub].asks[room-air].limits.max
	Before   string // empty when it was not there
	After    string // empty when it is no longer there
	Sentence string // for people, without a full stop
}

// Diff lists what changes from old to new, in the order of plan.yaml; old may be nil. Rows are matched by their codes,
// so that moving a task changes nothing; only among grades and changeovers does the order mean something. A row that
// comes or goes is one change.
func Diff(old, new *Plan) []Change {
	if old == nil {
		old = &Plan{}
	}
	if new == nil {
		new = &Plan{}
	}
	d := &differ{}
	d.compare("", reflect.ValueOf(old).Elem(), reflect.ValueOf(new).Elem())
	return d.changes
}

type differ struct{ changes []Change }

func (d *differ) add(path, before, after string) {
	d.changes = append(d.changes, Change{path, before, after, sentence(path, before, after)})
}

func (d *differ) compare(path string, a, b reflect.Value) {
	switch {
	case !isScalar(a.Type()) && a.Kind() == reflect.Struct:
		for _, f := range fieldsOf(a.Type()) {
			d.compare(placed.Join(path, f.key), a.Field(f.index), b.Field(f.index))
		}
	case a.Kind() == reflect.Slice && rowKey(a.Type()) != "":
		d.compareKeyed(path, a, b)
	case a.Kind() == reflect.Slice && !isScalar(a.Type().Elem()):
		d.compareRows(path, a, b)
	case a.Kind() == reflect.Pointer && !a.IsNil() && !b.IsNil() && !isScalar(a.Type().Elem()):
		d.compare(path, a.Elem(), b.Elem())
	default:
		if before, after := write(a), write(b); before != after {
			d.add(path, before, after)
		}
	}
}

// compareKeyed matches rows by code.
func (d *differ) compareKeyed(path string, a, b reflect.Value) {
	key := fieldsOf(a.Type().Elem()).named(rowKey(a.Type())).index
	rows := func(v reflect.Value) (order []string, byCode map[string]reflect.Value) {
		byCode = map[string]reflect.Value{}
		for i := range v.Len() {
			code := v.Index(i).Field(key).String()
			order, byCode[code] = append(order, code), v.Index(i)
		}
		return order, byCode
	}
	oldOrder, was := rows(a)
	newOrder, is := rows(b)
	for _, code := range oldOrder {
		under := path + "[" + code + "]"
		if row, still := is[code]; still {
			d.compare(under, was[code], row)
		} else {
			d.add(under, write(was[code]), "")
		}
	}
	for _, code := range newOrder {
		if _, known := was[code]; !known {
			d.add(path+"["+code+"]", "", write(is[code]))
		}
	}
	if path == "grades" { // weakest first
		gone := func(in map[string]reflect.Value) func(string) bool {
			return func(code string) bool { _, there := in[code]; return !there }
		}
		before, after := slices.DeleteFunc(oldOrder, gone(is)), slices.DeleteFunc(newOrder, gone(was))
		if !slices.Equal(before, after) {
			d.add(path, strings.Join(before, ", "), strings.Join(after, ", "))
		}
	}
}

// compareRows matches rows without a code by what they say; of what is left, the first gone and the first new are one
// row that changed.
func (d *differ) compareRows(path string, a, b reflect.Value) {
	texts := func(v reflect.Value) (out []string) {
		for i := range v.Len() {
			out = append(out, write(v.Index(i)))
		}
		return out
	}
	before, after := texts(a), texts(b)
	gone, fresh := without(before, after), without(after, before)
	for i := range max(len(gone), len(fresh)) {
		var was, is string
		if i < len(gone) {
			was = gone[i]
		}
		if i < len(fresh) {
			is = fresh[i]
		}
		d.add(path, was, is)
	}
	if path == "changeovers" && len(gone)+len(fresh) == 0 && !slices.Equal(before, after) {
		d.add(path, strings.Join(before, "; "), strings.Join(after, "; "))
	}
}

// without is the texts of list that other does not have, counting repetitions.
func without(list, other []string) (out []string) {
	left := map[string]int{}
	for _, text := range other {
		left[text]++
	}
	for _, text := range list {
		if left[text]--; left[text] < 0 {
			out = append(out, text)
		}
	}
	return out
}

var marshalType = reflect.TypeFor[encoding.TextMarshaler]()

// isScalar says whether a type is written as one value in plan.yaml.
func isScalar(t reflect.Type) bool {
	return t.Implements(marshalType) || t.Kind() != reflect.Struct && t.Kind() != reflect.Slice
}

// rowKey is the key that names the rows of a list, or "".
func rowKey(t reflect.Type) string {
	if t.Kind() != reflect.Slice || isScalar(t.Elem()) {
		return ""
	}
	for _, key := range []string{"code", "cite"} {
		if fieldsOf(t.Elem()).named(key) != nil {
			return key
		}
	}
	return ""
}

// write gives a value on one line, leaving out what is empty. Only midnight and false say something though they are
// the zero value.
func write(v reflect.Value) string {
	if v.IsZero() && v.Type() != reflect.TypeFor[calendar.Clock]() && v.Kind() != reflect.Bool {
		return ""
	}
	if v.Kind() == reflect.Pointer {
		if v.Type().Elem() == reflect.TypeFor[records.Decimal]() {
			return v.Interface().(*records.Decimal).String()
		}
		return write(v.Elem())
	}
	if text, ok := v.Interface().(Text); ok {
		return writeText(text)
	}
	if m, ok := v.Interface().(encoding.TextMarshaler); ok {
		text, err := m.MarshalText()
		if err != nil {
			return fmt.Sprint(v.Interface())
		}
		return string(text)
	}
	if when, ok := v.Interface().(When); ok {
		return when.String()
	}
	var parts []string
	switch v.Kind() {
	case reflect.Struct:
		for _, f := range fieldsOf(v.Type()) {
			if text := write(v.Field(f.index)); text != "" && text != "false" {
				parts = append(parts, f.key+": "+text)
			}
		}
		return strings.Join(parts, ", ")
	case reflect.Slice:
		for i := range v.Len() {
			text := write(v.Index(i))
			if !isScalar(v.Type().Elem()) {
				text = "{" + text + "}"
			}
			parts = append(parts, text)
		}
		return strings.Join(parts, ", ")
	}
	return fmt.Sprint(v.Interface())
}

func writeText(t Text) string {
	if len(t) == 1 {
		for _, text := range t {
			return text
		}
	}
	var parts []string
	for _, lang := range Languages() {
		if t[lang] != "" {
			parts = append(parts, t[lang])
		}
	}
	return strings.Join(parts, " / ")
}

// nouns are what one row of a list is called.
var nouns = map[string]string{"tasks": "task", "stations": "station", "people": "person", "agents": "agent", "asks": "ask", "grades": "grade", "items": "item",
	"instruments": "instrument", "documents": "document", "partners": "partner", "shifts": "shift", "clauses": "clause"}

// sentence says a change in words: Task floor-scrub, ask room-air: limits max was 0.1, is now 0.2.
func sentence(path, before, after string) string {
	var of, field []string
	for len(path) > 0 {
		var part, code string
		part, path = cutPath(path)
		if name, rest, ok := strings.Cut(part, "["); ok {
			part, code = name, strings.TrimSuffix(rest, "]")
		}
		if noun, ok := nouns[part]; ok && code != "" {
			of, field = append(of, strings.Join(append(field, noun+" "+code), " ")), nil
			continue
		}
		field = append(field, words(part))
	}
	subject := capital(strings.Join(of, ", "))
	if len(field) == 0 {
		if before == "" {
			return subject + " is new"
		}
		return subject + " is no longer there"
	}
	name := strings.Join(field, " ")
	if subject != "" {
		subject += ": "
	} else {
		name = capital(name)
	}
	switch {
	case before == "":
		return fmt.Sprintf("%s%s is now %s", subject, name, after)
	case after == "":
		return fmt.Sprintf("%s%s was %s, is now left out", subject, name, before)
	}
	return fmt.Sprintf("%s%s was %s, is now %s", subject, name, before, after)
}

// cutPath takes the first part off a path; a point inside [ ] does not end a part ("21 CFR 117.4").
func cutPath(path string) (part, rest string) {
	depth := 0
	for i, c := range path {
		switch {
		case c == '[':
			depth++
		case c == ']':
			depth--
		case c == '.' && depth == 0:
			return path[:i], path[i+1:]
		}
	}
	return path, ""
}

// words turns a key into words: reviewWorkingDays, review working days.
func words(key string) string {
	var b strings.Builder
	for _, c := range key {
		if unicode.IsUpper(c) {
			b.WriteByte(' ')
		}
		b.WriteRune(unicode.ToLower(c))
	}
	return b.String()
}

func capital(text string) string {
	if text == "" {
		return ""
	}
	return strings.ToUpper(text[:1]) + text[1:]
}
