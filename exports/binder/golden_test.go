package binder

import (
	"cmp"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// dump is a sheet as text: a line a row, cells apart by tabs, formulas after their values.
func dump(cells map[string]cellValue) string {
	all := make([]cellValue, 0, len(cells))
	for _, c := range cells {
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b cellValue) int { return cmp.Or(cmp.Compare(a.row, b.row), cmp.Compare(a.col, b.col)) })
	var b strings.Builder
	row, col := 0, 0
	for _, c := range all {
		if c.row != row {
			if row > 0 {
				b.WriteByte('\n')
			}
			row, col = c.row, 1
		}
		for ; col < c.col; col++ {
			b.WriteByte('\t')
		}
		b.WriteString(strings.NewReplacer("\n", "⏎", "\t", "␉").Replace(c.text))
		if c.formula != "" {
			fmt.Fprintf(&b, " {=%s}", clip(c.formula, 140))
		}
	}
	return b.String() + "\n"
}

// The sheets of the small plant, as text; those about goods of the same plant with grain. Look at the difference before writing it
// anew with -update.
func TestGoldenSheets(t *testing.T) {
	_, in := filled(t)
	golden(t, gridOf(t, made(t, in)), "", "Cover", "Clauses", "Turning", "Floor cleaning", "Calibration", "Readings", "Answers", "Deviations", "Corrections", "Reviews due", "Reviews", "Excuses", "Documents", "People", "Plans", "Proof", "Leaves")
	_, in = malted(t)
	golden(t, gridOf(t, made(t, in)), "grain-", append([]string{"Cover", "Clauses"}, goodsSheetNames...)...)
}

// goodsSheetNames are all sheets about goods.
var goodsSheetNames = []string{"Lots", "Receipts", "Moves", "Processes", "Process balance", "Whole yield", "Stations", "Changeovers", "Inventory", "Organic in and out", "Organic balance", "Handovers", "By-products", "Counts", "Holds", "Results",
	"Certificates", "Samples", "Drills", "Drill figures", "Worked traces"}

func golden(t *testing.T, g grid, prefix string, sheets ...string) {
	for _, sheet := range sheets {
		t.Run(prefix+sheet, func(t *testing.T) {
			if g[sheet] == nil {
				t.Fatal("there is no such sheet")
			}
			got := dump(g[sheet])
			name := "testdata/" + prefix + strings.ReplaceAll(strings.ToLower(sheet), " ", "-") + ".txt"
			if *update {
				if err := os.WriteFile(name, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				a, b := strings.Split(got, "\n"), strings.Split(string(want), "\n")
				for i := range min(len(a), len(b)) {
					if a[i] != b[i] {
						t.Fatalf("line %d is\n%s\nand was\n%s", i+1, a[i], b[i])
					}
				}
				t.Fatalf("%d lines, and there were %d", len(a), len(b))
			}
		})
	}
}
