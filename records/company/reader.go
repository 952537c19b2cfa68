package company

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"grainward/records"
)

// reader walks a small YAML tree and notes everything wrong in it. The library's own decoder stops at the first fault. The plan has a
// reader by struct tags; this file has four shapes, and is read by hand.
type reader struct {
	lines  []string
	faults []fault
}

type spot struct{ line, column, width int }

type fault struct {
	spot
	path, value, want string
}

// group is a mapping whose keys are known.
type group struct {
	at    ast.Node
	path  string
	nodes map[string]ast.Node // what was given; the value, or the key's own node where there is none
}

// group reads a mapping; nil when it is none.
func (r *reader) group(n ast.Node, path string, keys ...string) *group {
	g := &group{at: n, path: path, nodes: map[string]ast.Node{}}
	ok := each(n, func(key string, at, value ast.Node) {
		switch {
		case !slices.Contains(keys, key):
			r.fault(at, join(path, key), "", "not a key here; the keys are "+strings.Join(keys, ", "))
		case g.nodes[key] != nil:
			r.fault(at, join(path, key), "", "it is given twice; leave one")
		case value == nil || value.Type() == ast.NullType:
			g.nodes[key] = at
		default:
			g.nodes[key] = value
		}
	})
	if !ok {
		r.fault(n, path, "", "keys and values are wanted here: "+strings.Join(keys, ", "))
		return nil
	}
	return g
}

// text is a text that has to be there.
func (r *reader) text(g *group, key, want string) string {
	if g == nil {
		return ""
	}
	n := g.nodes[key]
	if n == nil {
		r.fault(g.at, join(g.path, key), "", "it is missing: "+want)
		return ""
	}
	text, ok := scalar(n)
	text = strings.TrimSpace(text)
	if !ok || text == "" || text == key || utf8.RuneCountInString(text) > 200 || strings.ContainsAny(text, "\n\r\t\x00") {
		if text == key {
			text = ""
		}
		r.fault(n, join(g.path, key), text, want)
		return ""
	}
	return text
}

// maybe is a text that may be left out.
func (r *reader) maybe(g *group, key string) string {
	if g == nil || g.nodes[key] == nil {
		return ""
	}
	return r.text(g, key, "a text, or leave it out")
}

func (r *reader) code(g *group, key string) string {
	code := r.text(g, key, "a code of small letters, digits and hyphens")
	if code == "" {
		return ""
	}
	if err := records.CheckCode(code); err != nil {
		r.fault(g.nodes[key], join(g.path, key), code, err.Error())
		return ""
	}
	return code
}

func (r *reader) list(g *group, key string) []ast.Node {
	if g == nil || g.nodes[key] == nil {
		return nil
	}
	if seq, ok := g.nodes[key].(*ast.SequenceNode); ok {
		return seq.Values
	}
	if text, ok := scalar(g.nodes[key]); !ok || text != key { // a key with nothing behind it counts as left out
		r.fault(g.nodes[key], join(g.path, key), text, "a list is wanted here: lines that start with \"- \"")
	}
	return nil
}

// pairs visits a mapping whose keys are codes.
func (r *reader) pairs(g *group, key, want string, visit func(key string, at, value ast.Node, path string)) {
	if g == nil || g.nodes[key] == nil {
		return
	}
	seen := map[string]bool{}
	ok := each(g.nodes[key], func(k string, at, value ast.Node) {
		path := join(g.path, key) + "." + k
		if seen[k] {
			r.fault(at, path, "", "it is given twice; leave one")
			return
		}
		seen[k] = true
		if value == nil {
			value = at
		}
		visit(k, at, value, path)
	})
	if text, is := scalar(g.nodes[key]); !ok && !(is && text == key) {
		r.fault(g.nodes[key], join(g.path, key), text, want)
	}
}

// each visits the entries of a mapping in order, whichever of the library's two shapes it has.
func each(n ast.Node, visit func(key string, at, value ast.Node)) bool {
	var rows []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		rows = m.Values
	case *ast.MappingValueNode:
		rows = []*ast.MappingValueNode{m}
	default:
		return false
	}
	for _, row := range rows {
		key, ok := scalar(row.Key)
		if !ok {
			key = row.Key.String()
		}
		visit(key, row.Key, row.Value)
	}
	return true
}

// scalar is the text of a plain value. Anchors, aliases and tags are no use in a file of this size, and are not read.
func scalar(n ast.Node) (string, bool) {
	switch n := n.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		return n.Value.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return n.GetToken().Value, true
	}
	return "", false
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func firstToken(n ast.Node) *token.Token {
	switch m := n.(type) {
	case nil:
		return nil
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return m.Values[0].Key.GetToken()
		}
	case *ast.MappingValueNode:
		return m.Key.GetToken()
	}
	return n.GetToken()
}

func spotOf(t *token.Token) spot {
	if t == nil || t.Position == nil {
		return spot{}
	}
	text, _, _ := strings.Cut(strings.TrimSpace(t.Origin), "\n")
	return spot{t.Position.Line, max(t.Position.Column, 1), max(utf8.RuneCountInString(text), 1)}
}

func lineOf(n ast.Node) int { return spotOf(firstToken(n)).line }

func (r *reader) fault(n ast.Node, path, value, want string) {
	r.faultAt(spotOf(firstToken(n)), path, value, want)
}

func (r *reader) faultAt(s spot, path, value, want string) {
	if len(r.faults) < maxFaults {
		r.faults = append(r.faults, fault{s, path, value, want})
	}
}

// err is all faults in the order of the lines.
func (r *reader) err() error {
	slices.SortStableFunc(r.faults, func(a, b fault) int {
		if a.line != b.line {
			return a.line - b.line
		}
		return a.column - b.column
	})
	e := &records.Error{Kind: records.Invalid, What: "the company file has one fault", Do: "Put it right in the file and check it again."}
	if n := len(r.faults); n > 1 {
		e.What, e.Do = fmt.Sprintf("the company file has %d faults", n), "Put them right in the file and check it again."
	}
	if len(r.faults) == maxFaults {
		e.What = fmt.Sprintf("the company file has %d faults or more; these are the first found", maxFaults)
	}
	for _, f := range r.faults {
		e.Fields = append(e.Fields, records.FieldError{Line: f.line, Field: f.path, Value: f.value, Want: f.want + r.quote(f.spot)})
	}
	return e
}

// quote shows the line of a spot with a mark under it; the margin gives line and column.
func (r *reader) quote(s spot) string {
	if s.line < 1 || s.line > len(r.lines) {
		return ""
	}
	line := []rune(strings.TrimRight(strings.ReplaceAll(r.lines[s.line-1], "\t", " "), "\r "))
	from := min(max(s.column-1, 0), len(line))
	width := max(1, min(s.width, len(line)-from))
	const most = 100
	if len(line) > most {
		line = append(slices.Clone(line[:most]), '…')
	}
	margin := fmt.Sprintf("    %d:%d | ", s.line, s.column)
	return fmt.Sprintf("\n%s%s\n%s| %s%s", margin, string(line), strings.Repeat(" ", len(margin)-2), strings.Repeat(" ", from), strings.Repeat("^", width))
}
