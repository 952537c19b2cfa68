package binder

import (
	"cmp"
	"fmt"
	"slices"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// ref names one row of a family's sheet: a window with one of its sign-offs, a window without any, or a sign-off that
// answers no window.
type ref struct {
	at      records.Instant // by which rows are ordered: when done, or else when due
	work    *audit.Work
	window  int32 // -1: unplanned
	signoff int32 // -1: nobody signed
}

// selection is what a binder shows, before it is written.
type selection struct {
	families    map[string][]ref // "" holds work whose task no plan knows
	plans       []state.InForce  // in force at some time in the period
	findings    []*audit.Finding // in the report's order
	olderOpen   int              // still open, older, and about one piece of work: only counted
	corrections []correction
	happened    positions // entries that happened in the period, first written or as they now count
}

func choose(in *Input, per *period) (*selection, error) {
	st := in.Report.State
	s := &selection{families: map[string][]ref{}, plans: plansIn(st, per)}
	for _, w := range in.Report.Work {
		s.work(st, per, w)
	}
	for _, refs := range s.families {
		slices.SortFunc(refs, byTime)
	}
	for _, f := range in.Report.Findings {
		standing := f.Subject.Task == "" && f.Subject.Station == "" && f.Subject.Person == ""
		switch {
		case per.holds(f.When), f.When < per.from && !f.Closed && standing:
			s.findings = append(s.findings, f)
		case f.When < per.from && !f.Closed:
			s.olderOpen++
		}
	}
	for _, row := range records.Kinds() {
		for _, r := range st.Kind(row.Kind).Between(per.from, min(per.to, in.Report.At)) {
			s.happened.add(r.Position)
		}
	}
	s.corrections = corrections(st, in.Report.At)
	s.corrections = slices.DeleteFunc(s.corrections, func(c correction) bool { return !c.touches(per) })
	for _, c := range s.corrections {
		s.happened.add(c.root.Position)
		s.happened.add(c.rec.Position)
	}
	if s.happened.len() == 0 && len(s.families) == 0 {
		return nil, emptyPeriod(in, per)
	}
	return s, nil
}

func (s *selection) work(st *state.State, per *period, w *audit.Work) {
	for i := range w.Windows {
		j := &w.Windows[i]
		if j.Result == audit.Coming {
			continue
		}
		worked := slices.ContainsFunc(j.Signoffs, func(r *state.Record) bool { return per.holds(r.Happened) })
		if !worked && !per.holds(j.Due) {
			continue
		}
		if len(j.Signoffs) == 0 {
			s.families[j.Task.Family] = append(s.families[j.Task.Family], ref{j.Due, w, int32(i), -1})
		}
		for k, r := range j.Signoffs {
			s.families[j.Task.Family] = append(s.families[j.Task.Family], ref{r.Happened, w, int32(i), int32(k)})
		}
	}
	for k, r := range w.Unplanned {
		if !per.holds(r.Happened) {
			continue
		}
		family := ""
		if p := st.PlanAt(r.Happened); p != nil {
			if t := p.Task(w.Duty.Task); t != nil {
				family = t.Family
			}
		}
		s.families[family] = append(s.families[family], ref{r.Happened, w, -1, int32(k)})
	}
}

func byTime(a, b ref) int {
	return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.work.Duty.Task, b.work.Duty.Task), cmp.Compare(a.work.Duty.Station, b.work.Duty.Station),
		cmp.Compare(a.window, b.window), cmp.Compare(a.signoff, b.signoff))
}

func plansIn(st *state.State, per *period) (out []state.InForce) {
	all := st.Plans()
	for i, in := range all {
		if in.From <= per.to && (i+1 == len(all) || all[i+1].From > per.from) {
			out = append(out, in)
		}
	}
	return out
}

// hasFamily says whether a plan of the period has work of a family.
func (s *selection) hasFamily(family string) bool {
	return len(s.families[family]) > 0 || slices.ContainsFunc(s.plans, func(in state.InForce) bool {
		return slices.ContainsFunc(in.Plan.Tasks, func(t plan.Task) bool { return t.Family == family })
	})
}

// emptyPeriod says in which period there are records.
func emptyPeriod(in *Input, per *period) error {
	var first, last records.Instant
	for _, row := range records.Kinds() {
		if all := in.Report.State.Kind(row.Kind).Until(in.Report.At); len(all) > 0 {
			if first == 0 || all[0].Happened < first {
				first = all[0].Happened
			}
			last = max(last, all[len(all)-1].Happened)
		}
	}
	return &records.Error{Kind: records.Invalid, What: fmt.Sprintf("there are no records from %s to %s, and no work was due", in.From, in.To),
		Fields: []records.FieldError{{Field: "from", Value: in.From.String(), Want: fmt.Sprintf("a period within %s to %s, for which there are records", per.day(first), per.day(last))}}}
}
