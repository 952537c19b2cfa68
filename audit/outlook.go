package audit

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/state"
)

// Outlook is what a lead asks before an inspection: what stands open, what can still be done, what runs out soon.
type Outlook struct {
	Open     map[Severity]int // findings no answer closed
	Oldest   *Finding         // of the open ones that are more than a note; nil when there is none
	Overdue  []Piece          // past their due time and still to be done, the one longest due first
	Expiring []Paper          // documents missing, run out, or running out within the days asked about, soonest first
	Owed     []*Batch         // days not reviewed yet, the one with the earliest limit first
}

// Piece is one window of a duty.
type Piece struct {
	Duty state.Duty
	*Judged
}

// Outlook is the outlook at the report's moment; days is how far ahead to look for documents that run out.
func (r *Report) Outlook(days int) Outlook {
	o := Outlook{Open: map[Severity]int{}, Owed: r.Owed()}
	for _, f := range r.Findings {
		if f.Closed {
			continue
		}
		o.Open[f.Severity]++
		if f.Severity > Note && (o.Oldest == nil || f.When < o.Oldest.When) {
			o.Oldest = f
		}
	}
	o.Overdue = r.pieces(r.At, forever, func(_ state.Duty, j *Judged) bool { return j.Result == Overdue })
	slices.SortStableFunc(o.Overdue, func(a, b Piece) int { return cmp.Compare(a.Due, b.Due) })
	for _, p := range r.Register() {
		if p.Standing == PaperMissing || p.Standing == PaperExpired || p.Standing == PaperHolds && p.Ends() && p.Left <= days {
			o.Expiring = append(o.Expiring, p)
		}
	}
	slices.SortStableFunc(o.Expiring, func(a, b Paper) int { return cmp.Compare(a.Left, b.Left) })
	return o
}

// pieces are the windows to be kept of those that a stretch of time can have to do with.
func (r *Report) pieces(from, to records.Instant, keep func(state.Duty, *Judged) bool) (out []Piece) {
	for _, w := range r.Work {
		windows, _ := w.Between(from, to)
		for i := range windows {
			if j := &windows[i]; keep(w.Duty, j) {
				out = append(out, Piece{w.Duty, j})
			}
		}
	}
	return out
}

// Covered are the windows an excuse would cover, in order of opening: those that lie inside its stretch, as far as windows are
// expanded (Report.Until). A window that was answered is among them; its answer still counts.
func (r *Report) Covered(x *records.Excuse) []Piece {
	e := excuse{x}
	out := r.pieces(x.From, x.To+1, func(d state.Duty, j *Judged) bool { return e.covers(d, &j.Window) })
	slices.SortStableFunc(out, func(a, b Piece) int {
		return cmp.Or(cmp.Compare(a.Opens, b.Opens), orderDuty(a.Duty, b.Duty))
	})
	return out
}

// WindowOf is the window a finding is about, or nil when it is about none.
func (r *Report) WindowOf(f *Finding) *Judged {
	switch f.Rule {
	case "missed", "overdue", "late", "put-right", "failed":
	default:
		return nil
	}
	id, ok := strings.CutPrefix(f.ID, f.Rule+":"+string(f.Subject.Task)+"@"+string(f.Subject.Station)+":")
	w := r.Duty(state.Duty{Task: f.Subject.Task, Station: f.Subject.Station})
	if !ok || w == nil {
		return nil
	}
	windows, _ := w.Between(f.When, f.When+1)
	for i := range windows {
		if j := &windows[i]; j.when() == f.When && j.id() == id {
			return j
		}
	}
	return nil
}
