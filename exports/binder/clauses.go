package binder

import (
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/plan"
)

// clauseLine is one line of the index by clause, with what the rows came to.
type clauseLine struct {
	clause         plan.Clause
	asked          bool // the plan's profile lists it; others are cited by a task or a finding only
	evidence       int  // entries whose task names it
	onlyDeviations int  // of them, deviations
	owed           int
	onTime         int
	missed         int
	gaps           int
}

// clauseIndex finds the lines of the index that a citation belongs to. A paragraph belongs to those above it: what is
// evidence for 117.80(c)(8) is evidence for 117.80.
type clauseIndex struct {
	lines []*clauseLine
	line  map[records.Clause]int
	cache map[string]clauseSet
	seen  map[int]bool // lines touched since the caller last emptied it
}

type clauseSet struct {
	text    string
	touched []int
}

// newClauseIndex makes the lines: those the profile asks for in its order, then what is cited beside them. Cited ones come
// in order of their text, so that a paragraph never gets a line of its own when one above it has one.
func newClauseIndex(asked []plan.Clause, cited []records.Clause) *clauseIndex {
	x := &clauseIndex{line: map[records.Clause]int{}, cache: map[string]clauseSet{}}
	for _, c := range asked {
		x.put(c, true)
	}
	for _, c := range slices.Sorted(slices.Values(cited)) {
		if !slices.ContainsFunc(x.lines, func(l *clauseLine) bool { return under(c, l.clause.Cite) || under(l.clause.Cite, c) }) {
			x.put(plan.Clause{Cite: c}, false)
		}
	}
	return x
}

func (x *clauseIndex) put(c plan.Clause, asked bool) {
	if _, ok := x.line[c.Cite]; !ok {
		x.line[c.Cite] = len(x.lines)
		x.lines = append(x.lines, &clauseLine{clause: c, asked: asked})
	}
}

// under says whether a citation lies within another: the same, or a paragraph of it.
func under(c, of records.Clause) bool {
	rest, ok := strings.CutPrefix(string(c), string(of))
	return ok && (rest == "" || rest[0] == '(')
}

// of gives a row's citations as its column has them, each in brackets so that a formula can look for one exactly, and
// the lines of the index they belong to.
func (x *clauseIndex) of(cites []records.Clause) (string, []int) { return x.find(cites, false) }

// ofFinding is of, and also the lines that lie within a paragraph the finding touches as a whole.
func (x *clauseIndex) ofFinding(cites []records.Clause) (string, []int) { return x.find(cites, true) }

func (x *clauseIndex) find(cites []records.Clause, within bool) (string, []int) {
	var key strings.Builder
	if within {
		key.WriteByte('!')
	}
	for _, c := range cites {
		key.WriteString(string(c) + "|")
	}
	if set, ok := x.cache[key.String()]; ok {
		return set.text, set.touched
	}
	var set clauseSet
	var shown []string
	show := func(c records.Clause) {
		if s := "[" + string(c) + "]"; !slices.Contains(shown, s) {
			shown = append(shown, s)
		}
	}
	for _, c := range cites {
		show(c)
		for i, l := range x.lines {
			if !under(c, l.clause.Cite) && !(within && under(l.clause.Cite, c)) {
				continue
			}
			show(l.clause.Cite)
			if !slices.Contains(set.touched, i) {
				set.touched = append(set.touched, i)
			}
		}
	}
	set.text = strings.Join(shown, " ")
	x.cache[key.String()] = set
	return set.text, set.touched
}
