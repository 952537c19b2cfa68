package plan

import (
	"encoding"
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"grainward/records"
	"grainward/records/placed"
)

// reader fills a Plan from a YAML tree. It goes on to the end, keeps numbers as they are written, and remembers where every value stood.
//
// A path names a value the way the validator does: tasks[3].stations[0].
type reader struct {
	file    *placed.File
	lang    string // of bare texts
	spots   map[string]placed.Spot
	anchors map[string]ast.Node
	names   map[string]string // path of a list's row -> its code, for showing paths
	texts   []string          // paths of the texts for people, and which of them are in one language
	bare    map[string]bool
	faults  []fault
	more    bool // than maxFaults
	visited int
}

type fault struct {
	placed.Fault
	at string // path with indices
}

// maxFaults bounds what is listed: past it, the file is not a plan with slips in it but something else.
const maxFaults = 200

// maxVisited bounds the work aliases can make: *a of *b of *c grows as a power.
const maxVisited = 200_000

func valueOf(p *Plan) reflect.Value { return reflect.ValueOf(p).Elem() }

var (
	textType      = reflect.TypeFor[Text]()
	unmarshalType = reflect.TypeFor[encoding.TextUnmarshaler]()
)

// read fills v from the node.
func (r *reader) read(n ast.Node, v reflect.Value, path string) {
	n, ok := r.resolve(n, path)
	if !ok {
		return
	}
	if _, known := r.spots[path]; !known {
		r.spots[path] = placed.Begins(n)
	}
	switch {
	case v.Kind() == reflect.Pointer:
		if n.Type() == ast.NullType {
			return
		}
		fresh := reflect.New(v.Type().Elem())
		before := len(r.faults)
		if r.read(n, fresh.Elem(), path); len(r.faults) == before || v.Type().Elem().Kind() == reflect.Struct {
			v.Set(fresh)
		}
	case v.Type() == textType:
		r.readText(n, v, path)
	case v.CanAddr() && v.Addr().Type().Implements(unmarshalType):
		r.readScalar(n, v, path, func(text string) error {
			return v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(text))
		})
	case v.Kind() == reflect.Struct:
		r.readStruct(n, v, path)
	case v.Kind() == reflect.Slice:
		r.readSlice(n, v, path)
	case v.Kind() == reflect.Bool:
		r.readScalar(n, v, path, func(text string) error {
			if text != "true" && text != "false" {
				return fmt.Errorf("write true or false")
			}
			v.SetBool(text == "true")
			return nil
		})
	case v.Kind() == reflect.Int:
		r.readScalar(n, v, path, func(text string) error {
			i, err := strconv.Atoi(text)
			if err != nil || strconv.Itoa(i) != text {
				return fmt.Errorf("write a whole number, such as 5")
			}
			v.SetInt(int64(i))
			return nil
		})
	default:
		r.readScalar(n, v, path, func(text string) error { v.SetString(text); return nil })
	}
}

// resolve follows anchors and aliases. An alias may only name an anchor that stands before it, so there are no loops.
func (r *reader) resolve(n ast.Node, path string) (ast.Node, bool) {
	for {
		if r.visited++; r.visited > maxVisited {
			if r.visited == maxVisited+1 {
				r.faultAt(placed.SpotOf(n.GetToken()), path, "", "the aliases (*name) make the plan too large; write it out")
			}
			return nil, false
		}
		switch node := n.(type) {
		case *ast.AnchorNode:
			r.anchors[node.Name.GetToken().Value] = node.Value
			n = node.Value
		case *ast.AliasNode:
			name := node.Value.GetToken().Value
			target, ok := r.anchors[name]
			if !ok {
				r.faultAt(placed.SpotOf(node.GetToken()), path, "*"+name, "no anchor &"+name+" stands before it")
				return nil, false
			}
			if _, known := r.spots[path]; !known {
				r.spots[path] = placed.SpotOf(node.GetToken()) // a fault in it is shown where it is used
			}
			n = target
		case *ast.TagNode:
			r.faultAt(placed.SpotOf(node.GetToken()), path, node.GetToken().Value, "a plan has no use for YAML tags; leave it out")
			return nil, false
		case nil:
			return nil, false
		default:
			return n, true
		}
	}
}

func (r *reader) readStruct(n ast.Node, v reflect.Value, path string) {
	fields := fieldsOf(v.Type())
	given := map[string]bool{}
	if n.Type() != ast.NullType {
		ok := placed.Each(n, func(key string, keyNode, value ast.Node) {
			f := fields.named(key)
			under := placed.Join(path, key)
			switch {
			case key == "<<":
				r.faultAt(placed.SpotOf(keyNode.GetToken()), path, key, "a plan has no merge keys; write the keys out")
			case f == nil:
				r.faultAt(placed.SpotOf(keyNode.GetToken()), under, "", unknownKey(key, fields)+commaHint(value))
			case given[key]:
				r.faultAt(placed.SpotOf(keyNode.GetToken()), under, "", "it is given twice; leave one")
			default:
				given[key] = true
				if placed.IsNull(value) || isBlock(value) {
					r.spots[under] = placed.SpotOf(keyNode.GetToken()) // what is missing in a group is missing under its key
				}
				r.read(value, v.Field(f.index), under)
			}
		})
		if !ok {
			r.fault(path, shown(n), "keys and values are wanted here: "+strings.Join(fields.keys(), ", "))
			return
		}
	}
	for _, f := range fields {
		if given[f.key] && !isZeroAndDefault(v.Field(f.index), f) {
			continue
		}
		r.fill(f, v.Field(f.index), placed.Join(path, f.key))
	}
}

// isZeroAndDefault is for a key that is given with nothing after it: it counts as left out.
func isZeroAndDefault(v reflect.Value, f *field) bool {
	return f.fallback != "" && v.IsZero() && v.Kind() != reflect.Bool && v.Kind() != reflect.Int
}

// fill gives a field that was left out its default, and the fields of a group that was left out theirs.
func (r *reader) fill(f *field, v reflect.Value, path string) {
	switch {
	case f.fallback == "":
		if v.Kind() == reflect.Struct && !reflect.PointerTo(v.Type()).Implements(unmarshalType) {
			for _, inner := range fieldsOf(v.Type()) {
				r.fill(inner, v.Field(inner.index), placed.Join(path, inner.key))
			}
		}
	case v.Kind() == reflect.Slice:
		for _, text := range strings.Fields(f.fallback) {
			v.Set(reflect.Append(v, reflect.ValueOf(text).Convert(v.Type().Elem())))
		}
	case v.Kind() == reflect.Int:
		n, err := strconv.Atoi(f.fallback)
		if err != nil {
			panic(err) // a mistake in a tag, found by any test
		}
		v.SetInt(int64(n))
	case v.Addr().Type().Implements(unmarshalType):
		if err := v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(f.fallback)); err != nil {
			panic(err)
		}
	default:
		v.SetString(f.fallback)
	}
}

func (r *reader) readSlice(n ast.Node, v reflect.Value, path string) {
	if n.Type() == ast.NullType {
		return
	}
	seq, ok := n.(*ast.SequenceNode)
	if !ok {
		r.fault(path, shown(n), "a list is wanted here: [a, b], or lines that start with \"- \"")
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(seq.Values), len(seq.Values)))
	for i, value := range seq.Values {
		under := fmt.Sprintf("%s[%d]", path, i)
		r.name(value, under)
		r.read(value, v.Index(i), under)
	}
}

// name notes the code of a row before it is read, so that its faults are shown by code.
func (r *reader) name(row ast.Node, path string) {
	for {
		a, ok := row.(*ast.AnchorNode)
		if !ok {
			break
		}
		row = a.Value
	}
	placed.Each(row, func(key string, _, value ast.Node) {
		if text, ok := placed.Scalar(value); ok && key == "code" && records.CheckCode(text) == nil {
			r.names[path] = text
		}
	})
}

func (r *reader) readText(n ast.Node, v reflect.Value, path string) {
	if n.Type() == ast.NullType {
		return
	}
	text := Text{}
	v.Set(reflect.ValueOf(text))
	r.texts = append(r.texts, path)
	if bare, ok := placed.Scalar(n); ok {
		text[r.lang], r.bare[path] = bare, true
	} else if !placed.Each(n, func(lang string, keyNode, value ast.Node) { r.readLanguage(text, lang, keyNode, value, path) }) {
		r.fault(path, shown(n), "a text, or one for each language: {en: …, es: …}")
	}
	if len(text) == 1 && text[r.lang] == "" {
		delete(text, r.lang) // "" says nothing; the check for a missing text names it
	}
}

func (r *reader) readLanguage(text Text, lang string, keyNode, value ast.Node, path string) {
	under := placed.Join(path, lang)
	resolved, ok := r.resolve(value, under)
	if !ok {
		return
	}
	words, isText := placed.Scalar(resolved)
	_, twice := text[lang]
	switch {
	case !contains(Languages(), lang):
		r.faultAt(placed.SpotOf(keyNode.GetToken()), under, "", "not a language this program has: use "+strings.Join(Languages(), ", ")+commaHint(value))
	case twice:
		r.faultAt(placed.SpotOf(keyNode.GetToken()), under, "", "it is given twice; leave one")
	case !isText || strings.TrimSpace(words) == "":
		r.faultAt(placed.SpotOf(keyNode.GetToken()), under, "", "a text is wanted here")
	default:
		r.spots[under] = placed.SpotOf(resolved.GetToken())
		text[lang] = words
	}
}

func (r *reader) readScalar(n ast.Node, v reflect.Value, path string, set func(string) error) {
	if n.Type() == ast.NullType {
		return
	}
	text, ok := placed.Scalar(n)
	if !ok {
		r.fault(path, shown(n), "one value is wanted here, not a list or a group")
		return
	}
	if err := set(text); err != nil {
		r.fault(path, text, err.Error())
	}
}

// commaHint is for the commonest slip: a text with a comma inside {…} ends at the comma, and the rest becomes a key.
func commaHint(value ast.Node) string {
	if placed.IsNull(value) {
		return " (a text with a comma inside {…} must be in quotes)"
	}
	return ""
}

// isBlock says whether a node is a group written over lines, which has no mark of its own to point at.
func isBlock(n ast.Node) bool {
	m, ok := n.(*ast.MappingNode)
	return ok && !m.IsFlowStyle || n.Type() == ast.MappingValueType
}

// shown is a short value for an error about a node of the wrong shape; nothing for lists and groups.
func shown(n ast.Node) string {
	text, _ := placed.Scalar(n)
	return text
}

// fault notes a fault at a value's path; when the value was left out, at the nearest group around it that is there.
func (r *reader) fault(path, value, want string) {
	r.faultAt(r.nearest(path), path, value, want)
}

func (r *reader) nearest(path string) placed.Spot {
	for at := path; ; {
		if s, ok := r.spots[at]; ok {
			return s
		}
		cut := strings.LastIndexAny(at, ".[")
		if cut < 0 {
			return r.spots[""]
		}
		at = at[:cut]
	}
}

// faultAt notes a fault. Of several at one path, inside a value that could not be read, or at one place that aliases
// lead to again, the first is enough.
func (r *reader) faultAt(s placed.Spot, path, value, want string) {
	if len(r.faults) == maxFaults {
		r.more = true
		return
	}
	for _, f := range r.faults {
		if f.Spot == s && f.Want == want && s.Line > 0 && path[strings.LastIndexByte(path, '.')+1:] == f.at[strings.LastIndexByte(f.at, '.')+1:] {
			return
		}
		if f.at == path || f.at != "" && strings.HasPrefix(path, f.at) && strings.ContainsAny(path[len(f.at):len(f.at)+1], ".[") {
			return
		}
	}
	r.faults = append(r.faults, fault{placed.Fault{Spot: s, Field: r.show(path), Value: value, Want: want}, path})
}

// show writes a path with the codes of rows in place of their numbers: tasks[floor-scrub].stations[0].
func (r *reader) show(path string) string {
	var b strings.Builder
	for i := 0; i < len(path); i++ {
		if path[i] == '[' {
			if end := strings.IndexByte(path[i:], ']'); end > 0 {
				if code, ok := r.names[path[:i+end+1]]; ok {
					b.WriteString("[" + code + "]")
					i += end
					continue
				}
			}
		}
		b.WriteByte(path[i])
	}
	return b.String()
}
