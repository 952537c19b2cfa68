package binder

import (
	"fmt"
	"strings"
)

// criterion is a text as COUNTIFS compares whole cells with it: quotes doubled, wildcards made plain, and an equals sign
// before it, so that a name like ">5" is not taken for a comparison.
func criterion(text string) string { return `"=` + escaped(text) + `"` }

// containing is a criterion for cells that have a text anywhere.
func containing(text string) string { return `"*` + escaped(text) + `*"` }

func escaped(text string) string {
	return strings.NewReplacer("~", "~~", "*", "~*", "?", "~?", `"`, `""`).Replace(text)
}

// countIfs is COUNTIFS over the sheets of a table: pairs of a column's heading and a criterion.
func (t *table) countIfs(pairs ...string) string {
	return t.sum(func(i int) string {
		var args []string
		for k := 0; k < len(pairs); k += 2 {
			args = append(args, t.ranges(pairs[k])[i], pairs[k+1])
		}
		return "COUNTIFS(" + strings.Join(args, ",") + ")"
	})
}

// countNumbers is how many cells of a column hold numbers: of "Position", the entries.
func (t *table) countNumbers(head string) string {
	return t.sum(func(i int) string { return fmt.Sprintf("COUNT(%s)", t.ranges(head)[i]) })
}

func (t *table) total(head string) string {
	return t.sum(func(i int) string { return fmt.Sprintf("SUM(%s)", t.ranges(head)[i]) })
}
