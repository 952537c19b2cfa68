package audit

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"grainward/records"
)

// shown is a figure of the law or a handbook and what in this package shows that it is kept: rules, each with a tale
// told of it (tales_test.go), or tests.
type shown struct {
	id    string
	cite  string
	mark  string // V seen, S second-hand, M from memory, R recomputed, as the register of check values has it
	rules []string
	tests []func(*testing.T)
}

var shownValues = []shown{
	{"C06", "21 CFR 1.337(a)", "V in part", []string{"receipt-particulars"}, nil},
	{"C07", "21 CFR 1.345(a)", "V", []string{"dispatch-particulars"}, nil},
	{"C08", "21 CFR 1.345(b)", "V in part", []string{"origin-gap"}, nil},
	{"C17", "21 CFR 117.110(b)", "V", []string{"stopped-made", "stopped-used", "rejected-parent"}, nil},
	{"C18", "21 CFR 117.95(a)(3), (b), (c)", "V", []string{"by-product-unlabelled", "feed-unnamed", "feed-unchecked"}, nil},
	{"C19", "21 CFR 507.12(a)", "V", []string{"feed-processed"}, nil},
	{"C20", "7 CFR 205.301", "V (95, 100), M/S (70)", []string{"composition"}, nil},
	{"C22", "7 CFR 205.307(a)", "S", []string{"container-unmarked"}, nil},
	{"C23", "7 CFR 205.103(b)(2), 205.307(b)", "S", []string{"certificate-missing", "certificate-lapsed", "certificate-other", "certificate-look-up", "last-certified"}, nil},
	{"C24", "7 CFR 205.103(b)(3)", "S", []string{"status-unnamed"}, nil}, // of handovers; a receipt without a status is refused by its shape
	{"C38", "NIST Handbook 133 Table 2-5", "M", []string{"net-short"}, []func(*testing.T){TestAllowance}},
	{"C39", "NIST Handbook 133 Table 2-5", "M", []string{"net-short"}, []func(*testing.T){TestAllowance}},
	{"C40", "NIST Handbook 133 Table 2-1", "M", []string{"net-sample"}, []func(*testing.T){TestSampleSize}},
	{"C41", "NIST Handbook 133 Table 2-1", "R, M", []string{"net-average"}, []func(*testing.T){TestCorrectionFactor, TestNetWeight}},
	{"C49", "kiln-out moisture, 4 to 5 %", "S", []string{"result-outside"}, nil}, // the limits are the plan's; no band of our own is held against it
	{"C52", "FDA advisory level, finished wheat products, 2010", "S (number), V (scope)", []string{"don-wheat"}, nil},
	{"C53", "FDA advisory levels, feed, 2010", "S", []string{"don-feed"}, nil},
}

// notShownHere are the rest, and why. Some are kept by other judgements or rooms; those that nothing keeps say so.
var notShownHere = map[string]string{
	"C01": "review.go: review-missed, review-late", "C02": "retention.go: not-kept", "C03": "nothing: the plan has no adequacy records",
	"C04": "backup and restore, not a judgement about goods", "C05": "the trace", "C09": "retention.go has one clock for food; feed is kept as long",
	"C10": "retention.go: not-kept", "C11": "the shape of entries", "C12": "check.go: value-missing", "C13": "entries.go: late-entry", "C14": "the journal",
	"C15": "nothing: the plan has no validation dates", "C16": "documents.go, where the plan lists one that runs out", "C21": "balance", "C25": "limits of the plan's tasks",
	"C26": "limits of the plan's tasks", "C27": "agents.go: agent-not-allowed (TestAgentNotAllowed); signoffs.go: agent-unlisted, document-lapsed, residue-over", "C28": "nothing: bulk bags have no history of their own",
	"C29": "the plan's items", "C30": "nothing: labels make no gluten claim", "C31": "nothing: labels", "C32": "segregation: allergen-gap", "C33": "limits of the plan's tasks",
	"C34": "limits of the plan's tasks", "C35": "limits of the plan's tasks", "C36": "limits of the plan's tasks", "C37": "the plan's tasks",
	"C42": "nothing: a scale-check sign-off says what the scale showed, and neither the check weight nor the division as figures",
	"C43": "dry matter, package lots", "C44": "balance", "C45": "balance", "C46": "balance", "C47": "balance: by-product-out-of-band", "C48": "limits of the plan",
	"C50": "limits of the plan", "C51": "nothing: grain is written down by mass", "C54": "the recall drill", "C55": "nothing: no reportable-food clock", "C56": "nothing: no recall status reports",
	"C57": "the recall drill", "C58": "server sign-in", "C59": "the envelope", "C60": "the ledger", "C61": "retention, where the plan says so", "C62": "nothing: informational",
}

func TestCheckValues(t *testing.T) {
	told := map[string]bool{}
	for _, x := range tales {
		for _, w := range x.want {
			rule, _, _ := strings.Cut(w, " ")
			told[rule] = true
		}
	}
	var ids []string
	for _, v := range shownValues {
		ids = append(ids, v.id)
		for _, rule := range v.rules {
			r := ruleTable[rule]
			if r == nil || !told[rule] {
				t.Errorf("%s: no rule %s, or no tale of it", v.id, rule)
				continue
			}
			// Where the figure is a paragraph of the CFR, the rule names it, so that a clause's index leads to it.
			if section, law := strings.CutPrefix(v.cite, "21 CFR "); law && !slices.ContainsFunc(r.Clauses, func(c records.Clause) bool { return strings.Contains(string(c), strings.Split(section, "(")[0]) }) {
				t.Errorf("%s is %s, and rule %s names %v", v.id, v.cite, rule, r.Clauses)
			}
		}
		for _, test := range v.tests {
			test(t)
		}
	}
	for id := range notShownHere {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for i := range 62 {
		if i >= len(ids) || ids[i] != fmt.Sprintf("C%02d", i+1) {
			t.Fatalf("the register has C01 to C62, each once; here they are %v", ids)
		}
	}
	if len(ids) != 62 {
		t.Fatalf("%d values", len(ids))
	}
}
