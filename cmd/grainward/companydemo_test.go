package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// The demo's company: its file names what the plants' plans know, and a trace from the malt house shows each slip the mill made on purpose.
func TestDemoCompany(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	run := func(want int, args ...string) string {
		t.Helper()
		var out, errs strings.Builder
		if got := Run(t.Context(), args, quietWorld(&out, &errs)); got != want {
			t.Fatalf("%v: exit code %d\n%s%s", args, got, &out, &errs)
		}
		return out.String() + errs.String()
	}
	run(0, "demo", "--company", "--no-serve", "--dir", dir)
	file := filepath.Join(dir, "company.yaml")
	if said := run(0, "company", "check", file); strings.Contains(said, "note:") || !strings.Contains(said, "2 plants, can be served at company.localhost") {
		t.Error(said)
	}
	var f struct {
		Plants []struct {
			Code string
			Lots []struct{ Code string }
		}
		Joins []struct {
			Named, Rule string
			Differs     bool
		}
		Loose []struct{ Way, Why, From string }
	}
	if err := json.Unmarshal([]byte(run(0, "trace", "--company", file, "--json", "malthouse/partner:crumb-and-crust")), &f); err != nil {
		t.Fatal(err)
	}
	n := map[string]int{}
	for _, j := range f.Joins {
		n["named "+j.Named]++
		n["rule "+j.Rule]++
		if j.Differs {
			n["differs"]++
		}
	}
	for _, l := range f.Loose {
		n["loose "+l.Way+" "+l.Why+" from "+l.From]++
	}
	t.Log(n)
	for key, least := range map[string]int{"named as-written": 30, "named respelt": 2, "named bag": 2, "differs": 1, "loose sent none from mill": 1} {
		if n[key] < least {
			t.Errorf("%s: %d, and %d at least were meant", key, n[key], least)
		}
	}
	if n["differs"] != 1 || n["loose sent none from malthouse"]+n["loose sent taken from malthouse"] != 1 {
		t.Errorf("one load came lighter and one was not written down: %v", n)
	}
	// the receipt that no handover answers is on the way back from its own lot
	mill := run(0, "trace", "--company", file, "--back", "mill/their-lot:SM000101-B-9")
	if !strings.Contains(mill, "no handover there names such a lot") {
		t.Error(mill)
	}
	// the same drawn, and as a workbook: as many joins as the trace has, and every lot
	svg, xlsx := filepath.Join(dir, "x.svg"), filepath.Join(dir, "x.xlsx")
	run(0, "trace", "--company", file, "--svg", svg, "malthouse/partner:crumb-and-crust")
	drawn, err := os.ReadFile(svg)
	if err != nil || strings.Count(string(drawn), `<g class="crossing">`) < len(f.Joins) || strings.Count(string(drawn), `<g id="lot-`) != len(f.Plants[0].Lots)+len(f.Plants[1].Lots) {
		t.Errorf("%d crossings are drawn of %d joins; %v", strings.Count(string(drawn), `<g class="crossing">`), len(f.Joins), err)
	}
	if said := run(0, "trace", "--company", file, "--xlsx", xlsx, "malthouse/partner:crumb-and-crust"); !strings.Contains(said, "x.xlsx: the trace of malthouse/partner:crumb-and-crust.") {
		t.Error(said)
	}
	book, err := excelize.OpenFile(xlsx)
	if err != nil {
		t.Fatal(err)
	}
	for sheet, rows := range map[string]int{"Plants": 2, "From plant to plant": len(f.Joins), "Without a counterpart": len(f.Loose), "Lots": len(f.Plants[0].Lots) + len(f.Plants[1].Lots)} {
		if got, err := book.GetRows(sheet); err != nil || len(got)-1 != rows {
			t.Errorf("%s has %d rows, and not %d; %v", sheet, len(got)-1, rows, err)
		}
	}
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
	run(2, "trace", "--company", file, "--svg", svg, "malthouse/partner:crumb-and-crust") // it is there already
	// without the mill's records the trace ends before it, and says so
	if err := os.Rename(filepath.Join(dir, "mill"), filepath.Join(dir, "away")); err != nil {
		t.Fatal(err)
	}
	first := f.Plants[0].Lots[0].Code
	said := run(0, "trace", "--company", file, "malthouse/"+first)
	if !strings.Contains(said, "plant mill can not be opened, and the trace ends before it") || !strings.Contains(said, "can not be read now") {
		t.Error(said)
	}
	run(6, "company", "check", file)
	run(2, "trace", "--company", file, first)
}
