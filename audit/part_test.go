package audit

import (
	"math/big"
	"testing"

	"grainward/records"
	"grainward/records/calendar"
)

// TestPart: a share stays exact over a step, all stays all however long the chain, and a share whose number grows too long
// is rounded down, never up.
func TestPart(t *testing.T) {
	third := big.NewRat(1, 3)
	var exact part
	exact.add(3, third)
	if exact.ratio().Cmp(third) != 0 || exact.whole() || (&part{}).whole() {
		t.Errorf("a third of three is %v", exact.ratio())
	}
	a, true1 := big.NewRat(7, 11), big.NewRat(7, 11)
	for range 200 {
		var p, q part
		p.add(1_000_003, a)
		p.add(999_983, one)
		q.rest = new(big.Rat).Add(new(big.Rat).Mul(true1, big.NewRat(1_000_003, 1)), big.NewRat(999_983, 1))
		q.total = records.Micrograms(1_000_003 + 999_983)
		a, true1 = p.ratio(), q.ratio()
		if n := a.Denom().BitLen(); n > 2*longest {
			t.Fatalf("the denominator has %d bits", n)
		}
		off := new(big.Rat).Sub(true1, a)
		if off.Sign() < 0 || off.Cmp(big.NewRat(1, 1e15)) > 0 {
			t.Fatalf("%v is off by %v", a.FloatString(20), off.FloatString(20))
		}
	}
	w := wholly()
	for range 300 {
		var p part
		p.add(123_457, w.ratio())
		p.add(7, one)
		w = p
	}
	if !w.whole() {
		t.Error("all of it did not stay all of it")
	}
}

func TestDateWords(t *testing.T) {
	d := *day("2025-03-01")
	if got := dateWords([]calendar.Date{d, d + 1, d + 2, d + 3, d + 4}); got != "2025-03-01, …, 2025-03-05" {
		t.Error(got)
	}
	if got := dateWords([]calendar.Date{d, d + 1}); got != "2025-03-01, 2025-03-02" {
		t.Error(got)
	}
}
