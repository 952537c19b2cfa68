package audit

import "time"

// SettleSooner makes auditors cut off what is settled after so long, and cut again after so long, until the test ends.
func SettleSooner(t interface{ Cleanup(func()) }, after, again time.Duration) {
	a, b := settledAfter, longestTail
	settledAfter, longestTail = after, again
	t.Cleanup(func() { settledAfter, longestTail = a, b })
}

// CutShorter makes auditors settle what is known of goods in short stretches, until the test ends.
func CutShorter(t interface{ Cleanup(func()) }) {
	a, b, c := longestStretch, newestContacts, organicStretch
	longestStretch, newestContacts, organicStretch = 3, 1, 2
	t.Cleanup(func() { longestStretch, newestContacts, organicStretch = a, b, c })
}

// WithoutPast judges everything again.
func WithoutPast(judge func()) {
	a := settledAfter
	settledAfter = 200 * 365 * 24 * time.Hour
	defer func() { settledAfter = a }()
	judge()
}
