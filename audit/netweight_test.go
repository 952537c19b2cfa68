package audit

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"grainward/records"
)

// C41, NIST Handbook 133 Table 2-1 (recomputed there, the printed table from memory): the factor is t(0.975, n-1)/sqrt(n).
// Held against another library's quantile for every n, and against the figures as printed to a thousandth.
func TestCorrectionFactor(t *testing.T) {
	for n := 2; n <= 400; n++ {
		want := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(0.975) / math.Sqrt(float64(n))
		if got := CorrectionFactor(n); math.Abs(got-want) > 1e-9*want {
			t.Errorf("n = %d: %v, another library has %v", n, got, want)
		}
	}
	for n, printed := range map[int]float64{2: 8.985, 3: 2.484, 4: 1.591, 5: 1.242, 6: 1.049, 7: 0.925, 8: 0.836, 9: 0.769, 10: 0.715, 11: 0.672, 12: 0.635, 24: 0.422, 48: 0.290} {
		if got := CorrectionFactor(n); math.Abs(got-printed) > 0.001 {
			t.Errorf("n = %d: %.4f, the table has %.3f", n, got, printed)
		}
	}
}

// C38, C39, NIST Handbook 133 Table 2-5 (from memory): 0.50 lb for 50 lb; 2 % above 54.40 lb, so 1.10 lb for 55 lb and
// 0.50 kg for 25 kg; the step at 54.40 lb is real. One row cross-checked second-hand is not in our table.
func TestAllowance(t *testing.T) {
	for label, want := range map[string]string{"50 lb": "0.50 lb", "55 lb": "1.10 lb", "25 kg": "0.50 kg", "54.4 lb": "0.50 lb", "42.5 lb": "0.50 lb", "42.4 lb": "0.44 lb",
		"10 lb": "0.22 lb", "5 lb": "0.14 lb", "2 lb": "0.070 lb", "1 lb": "0.044 lb"} {
		got, ok := Allowance(exactly(t, label))
		if want := exactly(t, want); !ok || got != want {
			t.Errorf("%s: %d, want %d", label, got, want)
		}
	}
	for _, label := range []string{"0.5 lb", "1.5 lb", "3 lb"} {
		if got, ok := Allowance(exactly(t, label)); ok {
			t.Errorf("%s: %d, and its row is not known", label, got)
		}
	}
}

// exactly reads a mass and drops the part of a microgram.
func exactly(t testing.TB, text string) records.Micrograms {
	t.Helper()
	var number, unit string
	if _, err := fmt.Sscan(text, &number, &unit); err != nil {
		t.Fatal(err)
	}
	v, _ := new(big.Rat).SetString(number)
	per := map[string]int64{"lb": 453_592_370, "kg": 1_000_000_000}[unit]
	v.Mul(v, big.NewRat(per, 1))
	return records.Micrograms(new(big.Int).Quo(v.Num(), v.Denom()).Int64())
}

// C40, NIST Handbook 133 Table 2-1, Category A (from memory).
func TestSampleSize(t *testing.T) {
	for _, c := range []struct{ lot, n, allowed int }{{-1, 0, 0}, {0, 0, 0}, {2, 2, 0}, {11, 11, 0}, {12, 12, 0}, {250, 12, 0}, {251, 24, 0}, {3200, 24, 0}, {3201, 48, 1}, {1e6, 48, 1}} {
		if n, allowed := SampleSize(c.lot); n != c.n || allowed != c.allowed {
			t.Errorf("%d packages: %d and %d, want %d and %d", c.lot, n, allowed, c.n, c.allowed)
		}
	}
}

// TestNetWeight works one sample through by hand: four bags of 50 lb at 49.6, 49.8, 50.0 and 49.4 lb. Errors -0.4, -0.2,
// 0, -0.6; mean -0.3; s = sqrt((0.01+0.01+0.09+0.09)/3) = 0.258199; limit 1.591 x s = 0.4108 (computed). So the
// average may pass as luck, and one bag is beyond 0.50 lb.
func TestNetWeight(t *testing.T) {
	v, err := NetWeight(lb("50"), []records.Mass{lb("49.6"), lb("49.8"), lb("50"), lb("49.4")}, 4)
	if err != nil {
		t.Fatal(err)
	}
	const pound = 453_592_370
	if math.Abs(v.Mean/pound+0.3) > 1e-6 || math.Abs(v.Limit/pound-0.4108) > 1e-4 || !v.Average || v.Beyond != 1 || v.Each || !v.Enough() {
		t.Errorf("%+v", v)
	}
	if v, _ := NetWeight(lb("50"), []records.Mass{lb("49.4"), lb("50.7")}, 5000); v.Allowed != 1 || !v.Each || v.Enough() {
		t.Errorf("one of 5,000 may be beyond, and 48 are weighed: %+v", v)
	}
	if v, _ := NetWeight(lb("50"), []records.Mass{lb("49.6")}, 1); !v.Average || v.Limit != 0 || !v.Each {
		t.Errorf("a single bag says nothing about an average: %+v", v)
	}
	for _, bad := range [][]records.Mass{nil, {{Value: *dec("1"), Unit: "stone"}}} {
		if _, err := NetWeight(lb("50"), bad, 9); err == nil {
			t.Errorf("%v was judged", bad)
		}
	}
	if _, err := NetWeight(lb("0"), []records.Mass{lb("1")}, 9); err == nil {
		t.Error("a label of nothing was judged")
	}
}

// TestNetWeightTurns: making one bag heavier never makes its lot fail singly, and what is added to every bag is added to the
// mean and leaves the limit.
func TestNetWeightTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tenths := rapid.SliceOfN(rapid.IntRange(480, 520), 1, 60).Draw(t, "nets")
		size := rapid.IntRange(1, 5000).Draw(t, "lot")
		add := rapid.IntRange(0, 20).Draw(t, "add")
		nets := func(add int) (out []records.Mass) {
			for _, n := range tenths {
				out = append(out, records.Mass{Value: records.NewDecimal(int64(n+add), 1), Unit: "lb"})
			}
			return out
		}
		a, err := NetWeight(lb("50"), nets(0), size)
		b, err2 := NetWeight(lb("50"), nets(add), size)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		const tenth = 45_359_237
		if math.Abs(b.Mean-a.Mean-float64(add)*tenth) > 1e-3*tenth || math.Abs(b.Limit-a.Limit) > 1e-3*tenth {
			t.Fatalf("%+v, and with %d tenths more %+v", a, add, b)
		}
		beyond := 0
		for _, n := range tenths {
			if 500-n > 5 {
				beyond++
			}
		}
		if a.Beyond != beyond || b.Beyond > a.Beyond || a.Average && !b.Average {
			t.Fatalf("%+v, and with %d tenths more %+v; %d are short by more than half a pound", a, add, b, beyond)
		}
	})
}
