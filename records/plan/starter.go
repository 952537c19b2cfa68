package plan

import (
	_ "embed"
	"slices"
)

//go:embed starter.yaml
var starter []byte

// Starter is a commented plan for a certified-organic floor malt house. Its plant and people are invented; a real
// plant edits it rather than starting from nothing.
func Starter() []byte { return slices.Clone(starter) }
