package audit

import (
	"slices"

	"grainward/records"
	"grainward/records/state"
)

// reviewMemo is the batches of the first n positions, and how far the reviews known then covered them. A review bears on the batches
// it reaches into, and on no other.
type reviewMemo struct {
	plans   uint64
	n       records.Position
	reviews []*state.Record // as they were known
	read    map[*state.Record]*reviewRead
	valid   []review // those of them that count
	batches []Batch
	found   []batchFound // of each
	own     []*Finding
}

// reviewRead is a review entry as it was read.
type reviewRead struct {
	review
	valid bool
	own   []*Finding
}

// batchFound is what was found of a batch, before or after its deadline.
type batchFound struct {
	late     bool
	findings []*Finding
}

func (m *reviewMemo) at(st *state.State, at records.Instant) ([]Batch, []*Finding) {
	if p := st.Kind(records.KindPlan).Version(); m.read == nil || m.plans != p || m.n > st.Size() {
		*m = reviewMemo{plans: p, read: map[*state.Record]*reviewRead{}}
	}
	grown := m.n // batches that reach no further than this are covered as they were, where no review came or went
	m.batches = batches(st, m.batches, m.n)
	m.found = append(m.found, make([]batchFound, len(m.batches)-len(m.found))...)
	m.n = st.Size()
	changed := m.know(st, st.Kind(records.KindReview).Until(at))
	out, findings := make([]Batch, 0, len(m.batches)), slices.Clone(m.own)
	for i := range m.batches {
		b, f := &m.batches[i], &m.found[i]
		again := b.Runs[len(b.Runs)-1].To >= grown || slices.ContainsFunc(changed, b.reached)
		if again {
			b.cover(m.valid)
		}
		if late := at >= b.deadline; again || late != f.late {
			*f = batchFound{late, b.findings(at)}
		}
		out = append(out, *b)
		findings = append(findings, f.findings...)
	}
	return out, findings
}

// know takes in which reviews there are, and gives those that went or came.
func (m *reviewMemo) know(st *state.State, now []*state.Record) (changed []*records.Review) {
	gone, come := differing(m.reviews, now)
	m.reviews = now
	if len(gone)+len(come) == 0 {
		return nil
	}
	for _, r := range gone {
		changed = append(changed, r.Fact.(*records.Review))
		delete(m.read, r)
	}
	for _, r := range come {
		changed = append(changed, r.Fact.(*records.Review))
		x := &reviewRead{review: readReview(st, r), valid: isLead(st, r)}
		if x.valid {
			x.own = x.review.own(st)
		}
		m.read[r] = x
	}
	m.valid, m.own = m.valid[:0], nil
	for _, r := range now {
		if x := m.read[r]; x.valid {
			m.valid, m.own = append(m.valid, x.review), append(m.own, x.own...)
		}
	}
	return changed
}
