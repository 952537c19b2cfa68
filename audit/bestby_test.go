package audit

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/lots"
	"grainward/records/state"
)

// TestBestByAgainstSpreadsheet: the plan's months from a kiln date, against EDATE of a spreadsheet library.
func TestBestByAgainstSpreadsheet(t *testing.T) {
	book := excelize.NewFile()
	defer book.Close()
	for _, kiln := range []string{"2024-08-31", "2025-08-31", "2023-08-29", "2024-02-29", "2025-03-30", "2025-10-31", "2025-12-31", "2025-06-15"} {
		y, m, d := day(kiln).Civil()
		must(book.SetCellFormula("Sheet1", "A1", fmt.Sprintf("EDATE(DATE(%d,%d,%d),6)", y, m, d)))
		text, err := book.CalcCellValue("Sheet1", "A1")
		if err != nil {
			t.Fatal(err)
		}
		serial := *dec(strings.TrimSuffix(text, ".0"))
		want := *day("1899-12-30") + calendar.Date(int(serial.Float()))

		w := goodWeek(0)
		kilned(w, kiln, kiln)
		w.bagging.Outputs[0].BestBy = nil
		x := newTeller(t)
		x.tell(w.tell(0)...)
		if got, ok := BestBy(x.st, x.floor("2025-03-10 09:00"), "P0"); !ok || got != want {
			t.Errorf("kilned %s: best by %s, a spreadsheet has %s", kiln, got, want)
		}
	}
	// 31 August and six months is the last of February (issue 3).
	if got := day("2025-08-31").AddMonths(6); got != *day("2026-02-28") {
		t.Errorf("31 August 2025 and six months is %s", got)
	}
}

// slowBestBy works a lot's best-by out by walking back from it, entry by entry, and counting months day by day.
func slowBestBy(all []told, lot records.LotCode) (best calendar.Date, known bool) {
	var kilns func(lot records.LotCode, before string) []calendar.Date
	kilns = func(lot records.LotCode, before string) (out []calendar.Date) {
		for _, f := range all {
			p, is := f.fact.(*records.Process)
			if !is || f.at >= before {
				continue
			}
			for _, o := range p.Outputs {
				if o.Lot != lot {
					continue
				}
				if o.KilnDate != nil {
					out = append(out, *o.KilnDate)
				}
				for _, in := range p.Inputs {
					out = append(out, kilns(in.Lot, f.at)...)
				}
			}
		}
		return out
	}
	dates := kilns(lot, "9999")
	if len(dates) > 0 {
		best, known = sixMonths(slices.Min(dates)), true
	}
	for _, f := range all {
		if p, is := f.fact.(*records.Process); is {
			for _, o := range p.Outputs {
				if o.Lot == lot && o.BestBy != nil && (!known || *o.BestBy < best) {
					best, known = *o.BestBy, true
				}
			}
		}
	}
	return best, known
}

// sixMonths goes forward a day at a time until the sixth next month has the day of the month, or ends.
func sixMonths(d calendar.Date) calendar.Date {
	_, from, want := d.Civil()
	target := time.Month((int(from)-1+6)%12 + 1)
	for x := d + 1; ; x++ {
		_, m, dom := x.Civil()
		_, next, _ := (x + 1).Civil()
		if m == target && (dom == want || next != target) {
			return x
		}
	}
}

// TestBestByAgainstSlow: random chains of kilnings and baggings, every lot's best-by against the slow way.
func TestBestByAgainstSlow(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := newTeller(t)
		codes := []records.LotCode{"L0", "L1", "L2", "L3", "L4"}
		start := *day("2025-02-20")
		var all []told
		for i := range rapid.IntRange(1, 8).Draw(rt, "steps") {
			at := fmt.Sprintf("%s %02d:00", start+calendar.Date(9*i), 8)
			p := &records.Process{Process: "bagging", Station: "bagger"}
			out := rapid.IntRange(0, 4).Draw(rt, "out")
			for _, in := range rapid.SliceOfNDistinct(rapid.IntRange(0, 4), 1, 2, rapid.ID[int]).Draw(rt, "in") {
				if in != out { // what is made from itself is another finding
					p.Inputs = append(p.Inputs, records.Input{Lot: codes[in], From: "bin", Weight: pound("10")})
				}
			}
			if len(p.Inputs) == 0 {
				p.Inputs = append(p.Inputs, records.Input{Lot: "G", From: "bin", Weight: pound("10")})
			}
			o := records.Output{Lot: codes[out], Item: "pale-malt", Status: records.Organic, To: "bin", Weight: pound("10")}
			drawDay := func(label string) *calendar.Date {
				if !rapid.Bool().Draw(rt, label) {
					return nil
				}
				d := start + calendar.Date(rapid.IntRange(0, 400).Draw(rt, label+" day"))
				return &d
			}
			o.KilnDate, o.BestBy = drawDay("kiln"), drawDay("best by")
			p.Outputs = []records.Output{o}
			all = append(all, told{at, p})
		}
		shuffled := slices.Clone(all)
		for i := range shuffled { // written down in any order
			j := rapid.IntRange(i, len(shuffled)-1).Draw(rt, "order")
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		}
		x.tell(shuffled...)
		f := x.floor("2026-11-30 09:00")
		whole := slowShelves(x.st, f)
		some := rapid.SliceOfDistinct(rapid.IntRange(0, len(f.Lots)-1), rapid.ID[int]).Draw(rt, "some")
		got, want := Shelves(x.st, f, some...), map[int]Shelf{}
		for _, i := range some {
			if s, made := whole[i]; made {
				want[i] = s
			}
		}
		if !reflect.DeepEqual(got, want) {
			rt.Fatalf("of the lots %v the shelf lives are %v, of all %v", some, got, whole)
		}
		for _, code := range codes {
			got, ok := BestBy(x.st, f, code)
			want, known := slowBestBy(all, code)
			if ok != known || ok && got != want {
				rt.Fatalf("lot %s: best by %s %v, the slow way %s %v", code, got, ok, want, known)
			}
		}
	})
}

// slowShelves goes through every step there was, whatever it made.
func slowShelves(st *state.State, f *lots.Floor) map[int]Shelf {
	all, out := make([]*shelf, len(f.Lots)), map[int]Shelf{}
	for _, step := range f.Steps {
		shelve(st.PlanAt(step.Record.Happened), f, step, func(lot int) **shelf { return &all[lot] }, func(int) bool { return true })
	}
	for i, s := range all {
		if s != nil {
			out[i] = Shelf{Kilned: s.kilned, BestBy: s.bestBy()}
		}
	}
	return out
}
