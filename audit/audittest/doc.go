// Package audittest is a second, slow audit: what a journal must be found to show, worked out by straight loops over
// days and entries. It exists so that package audit can be held against something that was written without reading it,
// and is imported by tests only.
//
// It knows the words of a journal (records), a plan (records/plan) and dates (records/calendar). It must not know
// records/state or audit: an oracle that shares the code it judges finds nothing.
//
// journal.go resolves corrections and says which plan was in force. windows.go expands and answers windows,
// signoff.go holds a sign-off against its task, entries.go, review.go and register.go are the other judgements.
package audittest

import (
	"cmp"
	"slices"
	"strings"

	"grainward/records"
)

// Expected is one finding that an audit must report.
type Expected struct {
	ID       string
	Severity string
	When     records.Instant
	Closed   bool
	Evidence []records.Position // sorted
}

// ExpectedWindow is one window of a duty and what became of it.
type ExpectedWindow struct {
	Task               records.TaskCode
	Station            records.StationCode
	Opens, Due, Lapses records.Instant
	Result             string
	Signoffs           []records.Position // in the order in which they went to the window
}

// Findings is everything a journal shows at a moment, sorted by ID. entries are in order of position, from 0.
func Findings(entries []records.Entry, at records.Instant) []Expected {
	j := read(entries, at)
	j.judgeAssumed()
	j.judgeDuties()
	for _, r := range j.used {
		if r.Kind == records.KindSignoff {
			j.judgeSignoff(r)
		}
		j.judgeEntry(r)
	}
	j.judgeClock()
	j.judgeReviews()
	j.judgeRegister()
	j.judgeKept()
	for i := range j.found {
		j.found[i].Closed = j.closed(j.found[i].ID)
	}
	slices.SortStableFunc(j.found, func(a, b Expected) int {
		return cmp.Or(strings.Compare(a.ID, b.ID), cmp.Compare(a.When, b.When))
	})
	return j.found
}

// Windows is every window that opens by until, as it stands at a moment, sorted by task, station and instants.
func Windows(entries []records.Entry, at, until records.Instant) []ExpectedWindow {
	j := read(entries, at)
	var out []ExpectedWindow
	for _, d := range j.duties() {
		windows, _ := j.answered(d, until)
		for _, w := range windows {
			e := ExpectedWindow{Task: d.task, Station: d.station, Opens: w.opens, Due: w.due, Lapses: w.lapses, Result: j.result(d, w)}
			for _, s := range w.signoffs {
				e.Signoffs = append(e.Signoffs, s.pos)
			}
			out = append(out, e)
		}
	}
	return out
}

// severities are those of the list of rules, written out again.
var severities = map[string]string{
	"missed": "minor", "overdue": "minor", "late": "minor", "failed": "major", "put-right": "note", "unplanned": "note",
	"limit-no-action": "major", "needed-failed": "major", "residue-over": "major", "value-missing": "minor", "unit-differs": "minor", "signer-role": "major", "signer-untrained": "minor",
	"signer-away": "major", "second-missing": "major", "agent-unlisted": "major", "document-lapsed": "major", "calibration-lapsed": "major",
	"late-entry": "minor", "clock-back": "minor", "lead-only": "major", "assumed": "major",
	"review-missed": "major", "review-late": "minor", "review-own": "note", "deviation": "major",
	"document-missing": "minor", "document-expired": "major", "document-expiring": "note", "not-kept": "minor",
}

// Knows says whether the oracle judges a rule. Those about goods have oracles of their own beside their judgements.
func Knows(rule string) bool { return severities[rule] != "" }

// find notes a finding.
func (j *journal) find(rule, id string, when records.Instant, evidence ...records.Position) {
	slices.Sort(evidence)
	j.found = append(j.found, Expected{ID: rule + ":" + id, Severity: severities[rule], When: when, Evidence: evidence})
}
