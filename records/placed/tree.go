package placed

import (
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// Spot is a place in a file; the zero value is none.
type Spot struct{ Line, Column, Width int }

// SpotOf is where a token stands; of one that goes over several lines, its first.
func SpotOf(t *token.Token) Spot {
	if t == nil || t.Position == nil {
		return Spot{}
	}
	text, _, _ := strings.Cut(strings.TrimSpace(t.Origin), "\n")
	return Spot{t.Position.Line, max(t.Position.Column, 1), max(utf8.RuneCountInString(text), 1)}
}

// Begins is where a node begins. The library gives a group over lines the place of its first colon.
func Begins(n ast.Node) Spot {
	switch m := n.(type) {
	case nil:
		return Spot{}
	case *ast.MappingNode:
		if !m.IsFlowStyle && len(m.Values) > 0 {
			return SpotOf(m.Values[0].Key.GetToken())
		}
	case *ast.MappingValueNode:
		return SpotOf(m.Key.GetToken())
	}
	return SpotOf(n.GetToken())
}

// Each visits the entries of a mapping in order, whichever of the library's two shapes it has; false when the node is none.
func Each(n ast.Node, visit func(key string, at, value ast.Node)) bool {
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
		key, ok := Scalar(row.Key)
		if !ok {
			key = row.Key.String()
		}
		visit(key, row.Key, row.Value)
	}
	return true
}

// Scalar is the text of a plain value exactly as it stands in the file. Anchors, aliases and tags are none.
func Scalar(n ast.Node) (string, bool) {
	switch n := n.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		return n.Value.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	return "", false
}

// IsNull says whether nothing is there: no node, or a key with nothing behind it.
func IsNull(n ast.Node) bool { return n == nil || n.Type() == ast.NullType }

// Join is the path of a key within what has a path.
func Join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
