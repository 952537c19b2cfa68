// Package statetest writes a state out as text, so that tests can compare two of them: live with replayed, a snapshot
// with itself an hour later. It is imported by tests only.
package statetest

import (
	"fmt"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/state"
)

// Dump is everything a state says, a line a fact: the entries as first written, every timeline, the plans, what was
// assumed. Two states with the same dump answer every question alike.
func Dump(st *state.State) string {
	var b strings.Builder
	for pos := range st.Size() {
		line(&b, "first", st.First(pos))
		for _, c := range st.Corrections(pos) {
			fmt.Fprintln(&b, "corrected by", c)
		}
	}
	for _, row := range records.Kinds() {
		for _, r := range st.Kind(row.Kind).All() {
			line(&b, "kind "+string(row.Kind), r)
		}
	}
	seen := map[records.DocumentCode]bool{}
	for _, d := range st.Kind(records.KindDocument).All() {
		code := d.Fact.(*records.Document).Code
		if seen[code] {
			continue
		}
		seen[code] = true
		for _, r := range st.Documents(code).All() {
			line(&b, "document "+string(code), r)
		}
	}
	var duties []string
	for d, tl := range st.Duties() {
		var one strings.Builder
		for _, r := range tl.All() {
			line(&one, fmt.Sprint("duty ", d), r)
		}
		duties = append(duties, one.String())
	}
	slices.Sort(duties)
	b.WriteString(strings.Join(duties, ""))
	for _, p := range st.Plans() {
		fmt.Fprintln(&b, "plan from", p.From, "by", p.Record.Position)
	}
	for _, o := range st.Oddities() {
		fmt.Fprintln(&b, "assumed", o)
	}
	return b.String()
}

func line(b *strings.Builder, what string, r *state.Record) {
	if r == nil {
		fmt.Fprintln(b, what, "nothing")
		return
	}
	row, err := records.Format(r.Entry)
	if err != nil {
		fmt.Fprintln(b, what, r.Position, err)
		return
	}
	fmt.Fprintf(b, "%s %d %s\n", what, r.Position, row.Bytes)
}
