package binder

import (
	"context"
	"slices"
	"strings"

	"grainward/records"
)

// evidence is a sheet whose rows are entries of one kind, for the index; only are criteria for those rows when it has others.
type evidence struct {
	kind records.Kind
	*table
	n    int
	only []string
}

func (e *evidence) formula() string {
	if e.only == nil {
		return e.countNumbers(e.b.say("Position"))
	}
	return e.countIfs(append(slices.Clone(e.only), e.b.say("Position"), `">=0"`)...)
}

// clauseTable writes the index by clause, which stands before the sheets it counts and is written after them.
func (b *builder) clauseTable(ctx context.Context, t *table, w *written) error {
	for _, l := range b.names.clauses.lines {
		cell := containing(visible("[" + string(l.clause.Cite) + "]"))
		t.text(string(l.clause.Cite))
		if l.asked {
			t.text(l.clause.Title)
		} else {
			t.text(b.say("(cited, and not on the plan's list)"))
		}
		formula, n, look := b.evidenceFor(l, cell, w)
		if err := t.formula(formula, int64(n)); err != nil {
			return err
		}
		families := func(pairs ...string) string {
			var terms []string
			for _, s := range w.families {
				terms = append(terms, s.countIfs(append([]string{b.say("Clauses"), cell}, pairs...)...))
			}
			return sumOf(terms)
		}
		for _, f := range []struct {
			formula string
			value   int
		}{
			{families(b.say("Owed"), "1"), l.owed},
			{families(b.say("Owed"), "1", b.say("Result"), criterion(b.say("done"))), l.onTime},
			{families(b.say("Owed"), "1", b.say("Result"), criterion(b.say("missed"))), l.missed},
			{w.findings.countIfs(b.say("Clauses"), cell, b.say("Standing"), criterion(b.say("still open"))), l.gaps},
		} {
			if err := t.formula(f.formula, int64(f.value)); err != nil {
				return err
			}
		}
		t.text(strings.Join(look, ", "))
		if err := t.end(ctx); err != nil {
			return err
		}
	}
	return t.close(ctx)
}

func (b *builder) clauseColumns() []column {
	return []column{
		{b.say("Clause"), 18.5, plain}, {b.say("What it is about"), 34.5, plain}, {b.say("Records that are evidence"), 10, whole}, {b.say("Windows owed"), 8, whole},
		{b.say("Done on time"), 8, whole}, {b.say("Missed"), 7, whole}, {b.say("Gaps: open findings"), 8.5, whole}, {b.say("Where to look"), 39, plain},
	}
}

// evidenceFor counts the records that are evidence for a clause: those whose task names it, and all of a kind that the
// plan's profile names for it.
func (b *builder) evidenceFor(l *clauseLine, cell string, w *written) (formula string, n int, look []string) {
	var terms []string
	byKind := func(k records.Kind) bool { return slices.Contains(l.clause.Kinds, k) }
	for _, s := range w.families {
		head := b.say("Position")
		switch {
		case byKind(records.KindSignoff):
			terms = append(terms, s.countNumbers(head))
			if s.signed > 0 {
				look = append(look, s.name)
			}
		default:
			terms = append(terms, s.countIfs(b.say("Clauses"), cell, head, `">=0"`))
			if w.touches[s.family][b.names.clauses.line[l.clause.Cite]] {
				look = append(look, s.name)
			}
		}
	}
	n = l.evidence
	if byKind(records.KindSignoff) {
		n = l.onlyDeviations
		for _, s := range w.families {
			n += s.signed
		}
	}
	for _, e := range w.evidence {
		switch {
		case byKind(e.kind):
			terms = append(terms, e.formula())
			n += e.n
			if e.kind == records.KindDeviation {
				n -= l.onlyDeviations
			}
			if !slices.Contains(look, e.name) {
				look = append(look, e.name)
			}
		case e.kind == records.KindDeviation:
			terms = append(terms, e.countIfs(b.say("Clauses"), cell, b.say("Position"), `">=0"`))
			if l.onlyDeviations > 0 {
				look = append(look, e.name)
			}
		}
	}
	if l.gaps > 0 {
		look = append(look, w.findings.name)
	}
	return sumOf(terms), n, look
}

// sumOf joins the terms of a sum; none is nothing.
func sumOf(terms []string) string {
	if len(terms) == 0 {
		return "0"
	}
	return strings.Join(terms, "+")
}
