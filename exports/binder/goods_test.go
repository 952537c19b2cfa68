package binder

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"testing"

	"grainward/audit"
	"grainward/records"
)

func TestAPlantWithoutGoodsHasNoSheetsAboutThem(t *testing.T) {
	_, in := filled(t)
	g := gridOf(t, made(t, in))
	cover := dump(g["Cover"])
	for _, name := range goodsSheetNames {
		if g[name] != nil {
			t.Errorf("there is a sheet %s", name)
		}
	}
	for _, name := range []string{"Receipts", "Inventory", "Drills", "Worked traces"} {
		if !strings.Contains(cover, name) {
			t.Errorf("the cover does not say that there is nothing for %s", name)
		}
	}
}

// Every entry that a row about goods begins with has its leaf.
func TestEveryPositionOfGoodsHasItsLeaf(t *testing.T) {
	_, in := malted(t)
	g := gridOf(t, made(t, in))
	leaves := map[string]bool{}
	for _, c := range g["Leaves"] {
		if c.col == 1 && c.number {
			leaves[c.text] = true
		}
	}
	seen := 0
	for _, name := range goodsSheetNames {
		for _, c := range g[name] {
			if c.col != 1 || c.row <= headRows || !c.number {
				continue
			}
			seen++
			if !leaves[c.text] {
				t.Errorf("%s!%s: position %s has no leaf", name, c.name(), c.text)
			}
		}
	}
	if seen < 100 {
		t.Errorf("only %d positions were looked at", seen)
	}
}

// What is wrong in the small history stands in the sheets in words.
func TestTheSheetsSayWhatIsWrong(t *testing.T) {
	_, in := malted(t)
	g := gridOf(t, made(t, in))
	for _, c := range []struct {
		sheet string
		words []string
	}{
		{"Receipts", []string{"S-1044 / S-1404: DIFFERENT", "S-1045: on the papers only", "NOBODY LOOKED", "held that day"}},
		{"Changeovers", []string{"GAP", "TOGETHER", "OCCUPIED", "purge 320 lb"}},
		{"Process balance", []string{"above", "not known"}},
		{"Handovers", []string{"NOT CONFIRMED", "Gate office"}},
		{"Results", []string{"outside", "other unit", "no limit"}},
		{"Certificates", []string{"typical", "measured"}},
		{"Holds", []string{"rejected", "freed"}},
		{"Drill figures", []string{"Stonequay Storage", "42 s"}},
		{"Lots", []string{"identity preserved", "not segregated"}},
	} {
		text := dump(g[c.sheet])
		for _, w := range c.words {
			if !strings.Contains(text, w) {
				t.Errorf("%s does not say %q", c.sheet, w)
			}
		}
	}
}

// The draw is repeated here from what the sheet and the tree head say, with the lots taken from the entries alone.
func TestAnybodyCanRepeatTheDraw(t *testing.T) {
	p, in := malted(t)
	seed := hex.EncodeToString(in.Stamp.Root[:8])
	sold := map[records.LotCode]bool{}
	lotsOf := map[string][]string{} // by item
	st := p.book.View().State
	for _, r := range st.Kind(records.KindHandover).Until(in.Report.At) {
		if f := r.Fact.(*records.Handover); f.Use == records.Sale || f.Use == records.Storage {
			sold[f.Lot] = true
		}
	}
	add := func(item records.ItemCode, lot records.LotCode, s records.Status) {
		if s.IsOrganic() && !slices.Contains(lotsOf[string(item)], string(lot)) {
			lotsOf[string(item)] = append(lotsOf[string(item)], string(lot))
		}
	}
	for _, r := range st.Kind(records.KindReceipt).Until(in.Report.At) {
		f := r.Fact.(*records.Receipt)
		add(f.Item, f.Lot, f.Status)
	}
	for _, r := range st.Kind(records.KindProcess).Until(in.Report.At) {
		for _, o := range r.Fact.(*records.Process).Outputs {
			add(o.Item, o.Lot, o.Status)
		}
	}
	want := map[string]bool{}
	for _, all := range lotsOf {
		if i := slices.IndexFunc(all, func(l string) bool { return sold[records.LotCode(l)] }); i >= 0 {
			all = slices.DeleteFunc(all, func(l string) bool { return !sold[records.LotCode(l)] })
		}
		slices.SortFunc(all, func(a, b string) int {
			x, y := sha256.Sum256([]byte(seed+" "+a)), sha256.Sum256([]byte(seed+" "+b))
			return bytes.Compare(x[:], y[:])
		})
		want[all[0]] = true
	}
	got := map[string]bool{}
	g := gridOf(t, made(t, in))["Worked traces"]
	for _, c := range g {
		if c.col == 3 && c.text == "draw" {
			got[g["D"+itoa(c.row)].text] = true
			if says := g["M"+itoa(c.row)].text; !strings.Contains(says, seed) {
				t.Errorf("the seed %s is not stated: %s", seed, says)
			}
		}
	}
	if fmt.Sprint(got) != fmt.Sprint(want) || len(want) != 4 {
		t.Errorf("drawn %v, wanted %v", got, want)
	}
}

// The entries behind the organic balance are found by the binder and added up by the reader's program; the sums are those of the audit.
func TestTheOrganicBalanceIsTheAudits(t *testing.T) {
	_, in := malted(t)
	rows := gridOf(t, made(t, in))["Organic balance"]
	for row := 4; row <= 8; row++ {
		if d := rows["D"+itoa(row)]; !agrees(d, "0") {
			t.Errorf("row %d differs by %s", row, d.text)
		}
	}
	b := audit.Organic(in.Report.State, in.Report.Goods.Floor)
	if c := rows["B7"]; !agrees(c, fmt.Sprint(float64(b.Standing.Dry)/453_592_370)) {
		t.Errorf("standing %s, by the audit %d micrograms", c.text, b.Standing.Dry)
	}
}

// A plant that shows masses in kilograms has them so, and a binder of an earlier period has the floor of its end.
func TestUnitsAndAnEarlierEnd(t *testing.T) {
	p := newPlant(t, strings.Replace(grainPlan(t), "units: lb", "units: kg", 1))
	p.fill()
	p.grain()
	in := p.input("2026-03-02", "2026-03-08")
	g := gridOf(t, made(t, in))
	inv := dump(g["Inventory"])
	if !strings.Contains(inv, "Opening (kg)") || !strings.Contains(inv, "Barley\torganic\t11339.80925") { // 12.5 ton of 907.18474 kg (NIST Handbook 44, Appendix C)
		t.Errorf("inventory:\n%s", inv)
	}
	if !strings.Contains(inv, "Pale barley malt\torganic") || g["Handovers"] != nil || g["Drills"] != nil {
		t.Errorf("what came after the period is in it:\n%s", inv)
	}
}

// A changed mass, and the formula that works with it, are each named by cell.
func TestATamperedMassIsNamed(t *testing.T) {
	p, in := malted(t)
	data := made(t, in)
	for _, c := range []struct{ old, new, sheet string }{
		{"<v>25300</v>", "<v>26300</v>", "Processes"}, {"(1-L5/100)*H5-I5", "(1-L5/100)*H5-H5", "Process balance"}, {"S-1044 / S-1404: DIFFERENT", "S-1044: same", "Receipts"},
	} {
		bad := rezip(t, data, func(_ string, part []byte) []byte { return bytes.ReplaceAll(part, []byte(c.old), []byte(c.new)) })
		v := verdictOf(t, p, bad, p.book.Rows)
		if !slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Sheet == c.sheet }) {
			t.Errorf("%s: faults %v", c.old, v.Faults)
		}
	}
}

// A kind without a word would be an empty cell, and the index would count by it.
func TestEveryKindHasItsWord(t *testing.T) {
	seen := map[string]records.Kind{}
	for _, row := range records.Kinds() {
		for _, lang := range []string{"en", "es"} {
			w := lang + audit.KindWord(row.Kind, lang)
			if was, twice := seen[w]; w == lang || twice {
				t.Errorf("%s has the word %q, and %s too", row.Kind, w, was)
			}
			seen[w] = row.Kind
		}
	}
}
