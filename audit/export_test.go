package audit

import (
	"time"

	"grainward/records/state"
)

// SettleSooner makes auditors cut off what is settled after so long, and cut again after so long, until the test ends.
func SettleSooner(t interface{ Cleanup(func()) }, after, again time.Duration) {
	a, b := settledAfter, longestChapter
	settledAfter, longestChapter = after, again
	t.Cleanup(func() { settledAfter, longestChapter = a, b })
}

// Chapters is how many chapters the auditor keeps of each duty.
func (a *Auditor) Chapters() (n map[state.Duty]int) {
	n = map[state.Duty]int{}
	for d, m := range a.duties {
		n[d] = len(m.work.chapters)
	}
	return n
}

// CutShorter makes auditors settle what is known of goods in short stretches, until the test ends.
func CutShorter(t interface{ Cleanup(func()) }) {
	a, b, c := longestStretch, newestContacts, organicStretch
	longestStretch, newestContacts, organicStretch = 3, 1, 2
	t.Cleanup(func() { longestStretch, newestContacts, organicStretch = a, b, c })
}

// InOnePiece judges without any cut.
func InOnePiece(judge func()) {
	a := settledAfter
	settledAfter = 200 * 365 * 24 * time.Hour
	defer func() { settledAfter = a }()
	judge()
}
