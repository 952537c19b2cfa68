package binder

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"grainward/audit"
	"grainward/records"
	"grainward/records/state"
)

// correction is one correction with what counted before and after it; nil is an entry taken back.
type correction struct {
	rec           *state.Record
	fact          *records.Correct
	root          *state.Record // the entry first written
	before, after *state.Record
}

func (c *correction) touches(per *period) bool {
	if per.holds(c.rec.Happened) || per.holds(c.root.Happened) {
		return true
	}
	return c.before != nil && per.holds(c.before.Happened) || c.after != nil && per.holds(c.after.Happened)
}

// corrections gives every correction up to the moment, in journal order. What counted before and after is folded anew for
// each corrected entry, from it and its corrections alone.
func corrections(st *state.State, at records.Instant) (out []correction) {
	all := slices.Clone(st.Kind(records.KindCorrect).Until(at))
	slices.SortFunc(all, func(a, b *state.Record) int { return cmp.Compare(a.Position, b.Position) })
	type folded struct {
		st   *state.State
		root *state.Record
	}
	chains := map[records.Position]*folded{}
	chainOf := map[records.Position]*folded{}
	for _, r := range all {
		fact := r.Fact.(*records.Correct)
		target, ok := st.Find(fact.Target)
		if !ok || target >= r.Position {
			continue // it changes nothing, and the audit says so
		}
		chain := chainOf[target]
		if chain == nil {
			if chain = chains[target]; chain == nil {
				chain = &folded{state.New(), st.First(target)}
				chain.st.Apply(0, chain.root.Entry)
				chains[target] = chain
			}
		}
		chainOf[r.Position] = chain
		c := correction{rec: r, fact: fact, root: chain.root, before: chain.st.Now(0)}
		chain.st.Apply(chain.st.Size(), r.Entry)
		c.after = chain.st.Now(0)
		out = append(out, c)
	}
	return out
}

func (b *builder) corrections(ctx context.Context, sel *selection) (*table, error) {
	t, err := b.table(b.say("Corrections"), b.say("Corrections: what was written first stays, and what counts instead"), []column{
		{b.say("Position"), 9, whole}, {b.say("Corrects"), 9, whole}, {b.say("Kind"), 9.5, plain}, {b.say("Entry first written at"), 12, when},
		{b.say("Field"), 18.5, plain}, {b.say("Before"), 31, plain}, {b.say("After"), 31, plain}, {b.say("Reason"), 26.5, plain},
		{b.say("Person"), 14, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Names the entry"), 9.5, whole},
	})
	if err != nil {
		return nil, err
	}
	for i := range sel.corrections {
		c := &sel.corrections[i]
		b.cite(c.rec.Position, c.root.Position)
		target, _ := b.in.Report.State.Find(c.fact.Target)
		for k, d := range b.difference(c) {
			if k == 0 {
				t.whole(int64(c.rec.Position))
			} else {
				t.text(itoa(int(c.rec.Position)) + " " + b.say("(same)")) // counted once
			}
			t.whole(int64(c.root.Position))
			t.text(audit.KindWord(c.root.Kind, b.lang))
			t.when(c.root.Recorded)
			t.text(d.field)
			t.text(d.before)
			t.text(d.after)
			t.text(c.fact.Reason)
			t.text(b.names.signer(b.planAt(c.rec.Happened), c.rec))
			t.when(c.rec.Happened)
			t.when(c.rec.Recorded)
			t.whole(int64(target))
			if err := t.end(ctx); err != nil {
				return nil, err
			}
		}
	}
	return t, t.close(ctx)
}

// change is one field that a correction changed.
type change struct{ field, before, after string }

// difference lists the fields that differ; a correction that changed nothing has one line that says so.
func (b *builder) difference(c *correction) (out []change) {
	before, after := b.fields(c.before), b.fields(c.after)
	switch {
	case before == nil && after == nil:
		return []change{{"", b.say("taken back"), b.say("taken back")}}
	case after == nil:
		return []change{{b.say("the whole entry"), lines(before), b.say("taken back")}}
	case before == nil:
		return []change{{b.say("the whole entry"), b.say("taken back"), lines(after)}}
	}
	find := func(in []change, name string) string {
		for _, f := range in {
			if f.field == name {
				return f.before
			}
		}
		return ""
	}
	for _, f := range before {
		if now := find(after, f.field); now != f.before {
			out = append(out, change{f.field, f.before, now})
		}
	}
	for _, f := range after {
		if find(before, f.field) == "" {
			out = append(out, change{f.field, "", f.before})
		}
	}
	if out == nil {
		return []change{{b.say("nothing"), "", ""}}
	}
	return out
}

func lines(fields []change) string {
	var out []string
	for _, f := range fields {
		out = append(out, f.field+": "+f.before)
	}
	return strings.Join(out, "\n")
}

// fields lists an entry's values under the dotted names they have in the journal.
func (b *builder) fields(r *state.Record) (out []change) {
	if r == nil {
		return nil
	}
	out = []change{{field: "happened", before: b.clock(r.Happened) + " (" + r.Happened.String() + ")"}, {field: "by", before: string(r.By)}}
	if r.Paper != nil {
		out = append(out, change{field: "paper.whose", before: string(r.Paper.Whose)})
	}
	raw, err := json.Marshal(r.Fact, json.Deterministic(true))
	if err != nil {
		return append(out, change{field: "fact", before: err.Error()})
	}
	return flatten(out, "fact", raw)
}

// flatten walks JSON down to its values.
func flatten(out []change, name string, v jsontext.Value) []change {
	switch v.Kind() {
	case '{':
		dec := jsontext.NewDecoder(strings.NewReader(string(v)))
		if _, err := dec.ReadToken(); err != nil {
			return out
		}
		for dec.PeekKind() != '}' {
			key, err := dec.ReadToken()
			if err != nil {
				return out
			}
			k := key.String()
			inner, err := dec.ReadValue()
			if err != nil {
				return out
			}
			out = flatten(out, name+"."+k, inner.Clone())
		}
	case '[':
		dec := jsontext.NewDecoder(strings.NewReader(string(v)))
		if _, err := dec.ReadToken(); err != nil {
			return out
		}
		for i := 0; dec.PeekKind() != ']'; i++ {
			inner, err := dec.ReadValue()
			if err != nil {
				return out
			}
			out = flatten(out, name+"["+itoa(i)+"]", inner.Clone())
		}
	case '"':
		s, err := jsontext.AppendUnquote(nil, v)
		if err != nil {
			s = v
		}
		out = append(out, change{field: name, before: string(s)})
	default:
		out = append(out, change{field: name, before: string(v)})
	}
	return out
}
