// Package faulttest says how often a test plays its fault, and writes down what came of it in one form, so that the counts
// of all fault tests can be gathered. It is imported by tests only, and knows nothing of any fault.
//
// In an ordinary run each fault is played a few dozen times. With GRAINWARD_KILLS=300 in the environment it is played (at least) three
// hundred times, and what can be gone through without gaps is. The counts of such a run are in DEVELOPERS.md:
//
//	GRAINWARD_KILLS=300 go test -count=1 -v ./records/... ./server/... ./cmd/grainward | grep 'fault: '
package faulttest

import (
	"os"
	"strconv"
	"testing"
)

const variable = "GRAINWARD_KILLS"

// Times is how often to play a fault: usual, a third of it in a short run, or what the environment asks for when that is more.
func Times(t testing.TB, usual int) int {
	t.Helper()
	if n := asked(t); n > 0 {
		return max(usual, n)
	}
	if testing.Short() {
		return max(1, usual/3)
	}
	return usual
}

// Campaign says that the environment asks for many, so that what can be gone through without gaps should be.
func Campaign(t testing.TB) bool {
	t.Helper()
	return asked(t) > 0
}

func asked(t testing.TB) int {
	t.Helper()
	text := os.Getenv(variable)
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s is %q, not a number of times", variable, text)
	}
	return n
}

// Count writes a line that begins with "fault: " and says how often what was played, and what came of it.
func Count(t testing.TB, n int, what, result string) {
	t.Helper()
	t.Logf("fault: %d %s: %s", n, what, result)
}

// Seed is that of a test's draws, and is logged: the one in the environment (GRAINWARD_SEED), or a new one.
func Seed(t testing.TB, fresh uint64) uint64 {
	t.Helper()
	if text := os.Getenv("GRAINWARD_SEED"); text != "" {
		n, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			t.Fatalf("GRAINWARD_SEED is %q, not a number", text)
		}
		fresh = n
	}
	t.Logf("seed %d", fresh)
	return fresh
}
