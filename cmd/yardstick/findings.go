package yardstick

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"time"

	"grainward/audit"
	"grainward/cmd/bigplant"
)

const (
	turnsMost = 11              // of one sort of entry
	turnsTime = 4 * time.Second // after which a slow sort has had enough turns, if it had three
)

// judged has all findings made from nothing, and keeps the auditor that made them last.
func (r *run) judged(ctx context.Context) (o *opened, best time.Duration, err error) {
	if o, err = r.opened(ctx); err != nil {
		return nil, 0, err
	}
	for turn := range r.Rounds {
		r.Say(fmt.Sprintf("all findings, round %d of %d", turn+1, r.Rounds))
		o.auditor, o.report = new(audit.Auditor), nil
		runtime.GC()
		begun := time.Now()
		o.report = o.auditor.At(o.book.View().State, r.plant.last)
		if took := time.Since(begun); turn == 0 || took < best {
			best = took
		}
	}
	return o, best, nil
}

// findings are all from nothing, and those after one more entry.
func findings(ctx context.Context, r *run) ([]Row, error) {
	o, best, err := r.judged(ctx)
	if err != nil {
		return nil, err
	}
	rows := []Row{{Name: "findings", What: "all findings", Ours: seconds(best), Peer: "opening", Theirs: seconds(o.took), Ratio: over(best, o.took), Limit: &Limit{Most: 0.25},
		Also: []Also{{"found", Figure{float64(len(o.report.Findings)), ""}}}}}
	more, err := oneMore(ctx, r, o)
	return append(rows, more...), err
}

// oneMoreRow is the name of the row of a sort of entry.
func oneMoreRow(sort string) string { return "one-more-" + strings.ReplaceAll(sort, " ", "-") }

// oneMore takes in one further entry after the other and judges after each: the fold, the snapshot readers get, and the findings.
func oneMore(ctx context.Context, r *run, o *opened) ([]Row, error) {
	st, now := o.book.View().State.Snapshot(), r.plant.last
	finding := "missed:nothing"
	if n := len(o.report.Findings); n > 0 {
		finding = o.report.Findings[n/2].ID
	}
	o.auditor.At(st, now)
	var rows []Row
	for i, f := range r.plant.plant.More(bigplant.Reached{Size: st.Size(), Now: now, Long: r.plant.middle, Target: r.plant.target, Finding: finding}) {
		r.Say("findings after one more entry: " + f.Sort)
		var all []time.Duration
		runtime.GC()
		for sum, turn := time.Duration(0), 0; turn < turnsMost && (turn < 3 || sum < turnsTime); turn++ {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			e := f.Make(i*turnsMost + turn)
			at := max(now, e.Recorded)
			begun := time.Now()
			st.Apply(st.Size(), e)
			rep := o.auditor.At(st.Snapshot(), at)
			took := time.Since(begun)
			if rep.At != at {
				return nil, fmt.Errorf("the report is of %s, not of %s", rep.At, at)
			}
			all, sum, now = append(all, took), sum+took, at
		}
		slices.Sort(all)
		median := all[len(all)/2]
		rows = append(rows, Row{Name: oneMoreRow(f.Sort), What: "… after " + f.Sort, Ours: seconds(median), Limit: &Limit{Most: 0.005, Unit: "s"},
			Also: []Also{{"slowest", seconds(all[len(all)-1])}, {"turns", Figure{float64(len(all)), ""}}}})
	}
	return rows, nil
}
