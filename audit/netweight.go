package audit

import (
	"fmt"
	"math"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// isNetWeight says whether a value of a result is the net weight of a single bag. A result has each name only once, so
// that the bags are told apart behind it: "net weight 1", "net weight 2".
func isNetWeight(name string) bool {
	key := nameKey(name)
	return strings.HasPrefix(key, "net weight") || strings.HasPrefix(key, "peso neto")
}

func netWeightRules() []Rule {
	label := []records.Clause{"21 CFR 101.7"}
	return []Rule{
		{Code: "net-average", Severity: Major, Clauses: label, Says: says(
			"Lot {lot}: {n} bags labelled {label} are short by {mean} on average; {limit} can be the luck of the sample.",
			"Lote {lot}: a {n} sacos de {label} les falta de media {mean}; {limit} puede ser azar de la muestra.")},
		{Code: "net-short", Severity: Major, Clauses: label, Says: says(
			"Lot {lot}: {beyond} of {n} bags labelled {label} are short by more than {allowance}; {allowed} may be.",
			"Lote {lot}: a {beyond} de {n} sacos de {label} les falta más de {allowance}; se admiten {allowed}.")},
		{Code: "net-sample", Severity: Note, Clauses: label, Says: says(
			"Lot {lot}: {n} bags were weighed of {bags}; an inspector would weigh {need}.",
			"Lote {lot}: se pesaron {n} sacos de {bags}; un inspector pesaría {need}.")},
	}
}

// allowances are maximum allowable variations of packages labelled by weight, NIST Handbook 133 Appendix A, Table 2-5
// (from memory; check values C38, C39): more than over, to upTo, in thousandths of a pound. They are steps, not to be
// interpolated. The rows that are missing here are not known.
var allowances = []struct{ over, upTo, mav int64 }{
	{940, 1080, 44}, {1880, 2140, 70}, {2140, 2480, 78}, {4700, 5800, 140}, {5800, 6800, 150}, {6800, 7900, 170}, {7900, 9400, 190},
	{9400, 11_700, 220}, {11_700, 14_300, 250}, {14_300, 17_700, 280}, {17_700, 23_200, 310}, {23_200, 31_600, 370}, {31_600, 42_400, 440},
	{42_400, 54_400, 500},
}

// Allowance is the maximum allowable variation of a package labelled with a mass: how much a single one may be short.
// Above 54.40 lb it is 2 % of the label. False for a label whose row is not known. A part of a microgram is dropped,
// which changes no comparison of whole ones.
func Allowance(label records.Micrograms) (records.Micrograms, bool) {
	for _, row := range allowances {
		if label > thousandths(row.over) && label <= thousandths(row.upTo) {
			return thousandths(row.mav), true
		}
	}
	if label > thousandths(allowances[len(allowances)-1].upTo) {
		return label / 50, true
	}
	return 0, false
}

// thousandths of a pound, in micrograms: a pound is 453,592,370 of them.
func thousandths(n int64) records.Micrograms { return records.Micrograms(n * 453_592_370 / 1000) }

// SampleSize is how many packages are weighed of an inspection lot, and how many may be short by more than the
// allowance: NIST Handbook 133 Table 2-1, Category A (from memory; C40).
func SampleSize(lotSize int) (n, allowed int) {
	switch {
	case lotSize <= 11:
		return max(lotSize, 0), 0
	case lotSize <= 250:
		return 12, 0
	case lotSize <= 3200:
		return 24, 0
	}
	return 48, 1
}

// NetVerdict is what weighed packages say of their lot, in the terms of NIST Handbook 133. Means and deviations are in
// micrograms.
type NetVerdict struct {
	Label     records.Micrograms
	N         int                // weighed
	Need      int                // the sampling plan's size for the lot
	Mean      float64            // mean of net - label
	Limit     float64            // sample error limit
	Average   bool               // the mean is not short by more than the limit
	Allowance records.Micrograms // 0 when not known
	Beyond    int                // short by more than the allowance
	Allowed   int                // that may be
	Each      bool               // no more are than may be, as far as the allowance is known
}

// Enough says whether as many were weighed as the sampling plan asks for.
func (v NetVerdict) Enough() bool { return v.N >= v.Need }

// NetWeight holds the net masses of weighed packages against their label. lotSize is the number of packages in the
// lot. Errors are net less label; the sample error limit is t(0.975, n-1)/sqrt(n) times their standard deviation
// (C41), also where every package was weighed: whether the handbook then uses a factor is not known. No allowance is
// made for moisture lost: none is known for malt. An unreadable mass is an error, as is weighing none.
func NetWeight(label records.Mass, nets []records.Mass, lotSize int) (NetVerdict, error) {
	l, err := label.Micrograms()
	if err != nil {
		return NetVerdict{}, fmt.Errorf("net weight: label: %w", err)
	}
	if len(nets) == 0 || l <= 0 {
		return NetVerdict{}, fmt.Errorf("net weight: %d packages labelled %s: weigh at least one, of a label above nothing", len(nets), label)
	}
	v := NetVerdict{Label: l, N: len(nets), Average: true, Each: true}
	v.Need, v.Allowed = SampleSize(max(lotSize, len(nets)))
	v.Allowance, _ = Allowance(l)
	errs := make([]float64, len(nets))
	for i, net := range nets {
		m, err := net.Micrograms()
		if err != nil {
			return NetVerdict{}, fmt.Errorf("net weight: package %d: %w", i+1, err)
		}
		errs[i] = float64(m - l)
		v.Mean += errs[i] / float64(len(nets))
		if v.Allowance > 0 && l-m > v.Allowance {
			v.Beyond++
		}
	}
	v.Each = v.Beyond <= v.Allowed
	if len(errs) < 2 {
		return v, nil // one package says nothing about an average
	}
	var ss float64
	for _, e := range errs {
		ss += (e - v.Mean) * (e - v.Mean)
	}
	v.Limit = CorrectionFactor(len(errs)) * math.Sqrt(ss/float64(len(errs)-1))
	v.Average = -v.Mean <= v.Limit
	return v, nil
}

// CorrectionFactor is the sample correction factor of n packages, t(0.975, n-1)/sqrt(n); n is 2 or more.
func CorrectionFactor(n int) float64 { return studentT95(n-1) / math.Sqrt(float64(n)) }

// studentT95 is the 0.975 quantile of Student's t with df degrees of freedom, found by halving: the share of the
// distribution within ±t grows with t.
func studentT95(df int) float64 {
	lo, hi := 0.0, 16.0 // t(0.975, 1) is 12.706
	for range 80 {
		mid := (lo + hi) / 2
		if within(mid, df) < 0.95 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// within is the probability that |T| <= t, by the finite sums for whole degrees of freedom (Abramowitz and Stegun,
// 26.7.3 and 26.7.4, from memory; held against another library in the tests).
func within(t float64, df int) float64 {
	theta := math.Atan(t / math.Sqrt(float64(df)))
	sin, cos := math.Sincos(theta)
	if df%2 == 0 {
		sum, term := 1.0, 1.0
		for k := 2; k <= df-2; k += 2 {
			term *= float64(k-1) / float64(k) * cos * cos
			sum += term
		}
		return sin * sum
	}
	if df == 1 {
		return 2 * theta / math.Pi
	}
	sum, term := cos, cos
	for k := 3; k <= df-2; k += 2 {
		term *= float64(k-1) / float64(k) * cos * cos
		sum += term
	}
	return 2 / math.Pi * (theta + sin*sum)
}

// netWeights gathers the bags weighed of a lot. They are held against the label of the lot's bags; a lot with
// bags of several labels is not judged, since a weight does not say which bag it was.
func (j *goodsJudge) netWeights(l *lots.Lot) {
	label, bags := bagLabel(l)
	if label == nil {
		return
	}
	p := j.st.PlanAt(l.Begins)
	nets, last := j.weighed(l)
	if len(nets) == 0 || p == nil {
		return
	}
	v, err := NetWeight(*label, nets, bags)
	if err != nil {
		return // a mass that can not be read was never one
	}
	by := last[len(last)-1]
	values := []Value{word("lot", string(l.Code)), count("n", v.N), word("label", label.String()), count("bags", bags), count("need", v.Need)}
	say := func(rule string, more ...Value) {
		j.find(rule, string(l.Code), by.Happened, lotSubject(l), append(values[:len(values):len(values)], more...), last...)
	}
	if !v.Average {
		say("net-average", word("mean", shortBy(-v.Mean, label.Unit)), word("limit", shortBy(v.Limit, label.Unit)))
	}
	if !v.Each {
		say("net-short", count("beyond", v.Beyond), count("allowed", v.Allowed), word("allowance", shortBy(float64(v.Allowance), label.Unit)))
	}
	if !v.Enough() {
		say("net-sample")
	}
}

// bagLabel is the net mass a lot's bags are labelled with, nil when there are none or several, and how many bags.
func bagLabel(l *lots.Lot) (label *records.Mass, bags int) {
	for _, o := range l.Outputs {
		if o.BagNet == nil || o.Bags == 0 {
			continue
		}
		if label != nil {
			a, _ := label.Micrograms()
			if b, _ := o.BagNet.Micrograms(); a != b {
				return nil, 0
			}
		}
		label, bags = o.BagNet, bags+o.Bags
	}
	return label, bags
}

// weighed are the net weights among a lot's results, and the results they stand in.
func (j *goodsJudge) weighed(l *lots.Lot) (nets []records.Mass, by []*state.Record) {
	for _, r := range l.Events {
		fact, ok := r.Fact.(*records.Result)
		if !ok {
			continue
		}
		for _, v := range fact.Values {
			if !j.name(v.Name).net {
				continue
			}
			m := records.Mass{Value: v.Value.Value, Unit: v.Value.Unit}
			if _, err := m.Micrograms(); err == nil {
				nets = append(nets, m)
				if len(by) == 0 || by[len(by)-1] != r {
					by = append(by, r)
				}
			}
		}
	}
	return nets, by
}

// shortBy says micrograms in the unit of the label, to a thousandth.
func shortBy(ug float64, unit string) string {
	per, err := records.Mass{Value: records.NewDecimal(1, 0), Unit: unit}.Micrograms()
	if err != nil {
		return ""
	}
	return fmt.Sprintf("%.3f %s", ug/float64(per), unit)
}
