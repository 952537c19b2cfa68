package company

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"

	"grainward/records"
	"grainward/records/placed"
)

// reader walks a small YAML tree and notes everything wrong in it. The plan has a reader by struct tags; this file has four shapes, and is
// read by hand. Anchors, aliases and tags are no use in a file of this size, and are not read.
type reader struct {
	file   *placed.File
	faults []placed.Fault
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
	ok := placed.Each(n, func(key string, at, value ast.Node) {
		switch {
		case !slices.Contains(keys, key):
			r.fault(at, placed.Join(path, key), "", "not a key here; the keys are "+strings.Join(keys, ", "))
		case g.nodes[key] != nil:
			r.fault(at, placed.Join(path, key), "", "it is given twice; leave one")
		case placed.IsNull(value):
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
		r.fault(g.at, placed.Join(g.path, key), "", "it is missing: "+want)
		return ""
	}
	text, ok := placed.Scalar(n)
	text = strings.TrimSpace(text)
	if !ok || text == "" || text == key || utf8.RuneCountInString(text) > 200 || strings.ContainsAny(text, "\n\r\t\x00") {
		if text == key {
			text = ""
		}
		r.fault(n, placed.Join(g.path, key), text, want)
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
		r.fault(g.nodes[key], placed.Join(g.path, key), code, err.Error())
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
	if text, ok := placed.Scalar(g.nodes[key]); !ok || text != key { // a key with nothing behind it counts as left out
		r.fault(g.nodes[key], placed.Join(g.path, key), text, "a list is wanted here: lines that start with \"- \"")
	}
	return nil
}

// pairs visits a mapping whose keys are codes.
func (r *reader) pairs(g *group, key, want string, visit func(key string, at, value ast.Node, path string)) {
	if g == nil || g.nodes[key] == nil {
		return
	}
	seen := map[string]bool{}
	ok := placed.Each(g.nodes[key], func(k string, at, value ast.Node) {
		path := placed.Join(g.path, key) + "." + k
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
	if text, is := placed.Scalar(g.nodes[key]); !ok && !(is && text == key) {
		r.fault(g.nodes[key], placed.Join(g.path, key), text, want)
	}
}

func (r *reader) fault(n ast.Node, path, value, want string) {
	if len(r.faults) < maxFaults {
		r.faults = append(r.faults, placed.Fault{Spot: placed.Begins(n), Field: path, Value: value, Want: want})
	}
}

// err is all faults.
func (r *reader) err() error {
	more := ""
	if len(r.faults) == maxFaults {
		more = fmt.Sprintf("has %d faults or more; these are the first found", maxFaults)
	}
	return r.file.Err("the company file", r.faults, more)
}
