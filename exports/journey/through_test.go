package journey

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"grainward/audit/across"
	"grainward/audit/trace"
	"grainward/exports"
	"grainward/exports/exportstest"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/ledger"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

const threePlan = `grainward: 1
plant: {name: "%NAME%", address: 1 Nowhere Lane, zone: %ZONE%, units: %UNITS%, since: 2026-01-01}
stations: [{code: store, title: {en: Store, es: Almacén}, kind: store}]
items:
  - {code: barley, title: {en: Barley, es: Cebada}, stage: raw}
  - {code: malt, title: {en: Pale malt, es: Malta pálida}, stage: finished}
  - {code: flour, title: {en: Malt flour, es: Harina de malta}, stage: finished}
partners:
  - {code: to-up, name: The Malt House, roles: [customer, supplier]}
  - {code: to-mid, name: "The Mill <& sons>", roles: [customer, supplier]}
  - {code: to-end, name: The Bakehouse, roles: [customer, supplier]}
  - {code: shop, name: Invented Shop, roles: [customer], contacts: [{name: Night Voice, phone: 555-0100, hours: 24h}]}
  - {code: farm, name: Invented Farm, roles: [supplier]}
people: [{code: ana, name: Ana Invented, initials: AI, role: lead}]
`

// three is a malt house that sends to a mill that sends to a bakehouse; the mill sends a little back. Units and clocks differ. One load
// came lighter, one is not written down at the mill, and one receipt there names nothing that was sent.
func three(t *testing.T) []across.Plant {
	t.Helper()
	in := func(unit string) func(int64) records.Weight {
		return func(n int64) records.Weight {
			return records.Weight{Mass: records.Mass{Value: records.NewDecimal(n, 0), Unit: unit}}
		}
	}
	lb, kg := in("lb"), in("kg")
	receive := func(lot records.LotCode, item records.ItemCode, from records.PartnerCode, theirs string, w records.Weight, papers ...string) records.Fact {
		return &records.Receipt{Lot: lot, Item: item, Status: records.Organic, Weight: w, To: "store", Source: from, TheirLot: theirs, Papers: papers}
	}
	send := func(lot records.LotCode, to records.PartnerCode, w records.Weight, papers ...string) records.Fact {
		return &records.Handover{Lot: lot, From: "store", To: to, Use: records.Sale, Weight: w, Papers: papers}
	}
	make := func(what string, out records.LotCode, item records.ItemCode, w records.Weight, inputs ...records.Input) records.Fact {
		return &records.Process{Process: what, Station: "store", Inputs: inputs, Outputs: []records.Output{{Lot: out, Item: item, Status: records.Organic, To: "store", Weight: w}}}
	}
	of := func(lot records.LotCode, w records.Weight) records.Input {
		return records.Input{Lot: lot, From: "store", Weight: w}
	}
	type at struct {
		hour int
		fact records.Fact
	}
	var plants []across.Plant
	for _, p := range []struct {
		code, name, zone, units string
		facts                   []at
	}{
		{"up", "Invented Malt House", "America/New_York", "lb", []at{
			{1, receive("B-1", "barley", "farm", "F-7", lb(6000))}, {2, receive("B-2", "barley", "farm", "=F-8", lb(500))}, {10, make("kilning", "M-1", "malt", lb(5000), of("B-1", lb(6000)), of("B-2", lb(400)))},
			{20, send("M-1", "to-mid", lb(1000), "note 1001")}, {21, send("M-1", "to-mid", lb(700), "note 1002")}, {22, send("M-1", "to-mid", lb(300))}, {23, send("M-1", "shop", lb(40))},
			{90, receive("R-9", "flour", "to-mid", "F-1", kg(5))}}},
		{"mid", "The Mill <& sons>", "Europe/Madrid", "kg", []at{
			{30, receive("W-1", "malt", "to-up", "M-1", lb(1000), "1001")}, {31, receive("W-2", "malt", "to-up", "m 1/3", lb(620), "1002")}, {32, receive("W-3", "malt", "to-up", "X-9", kg(50))},
			{40, make("milling", "F-1", "flour", kg(700), of("W-1", lb(1000)), of("W-2", lb(620)), of("W-3", kg(50)))},
			{50, send("F-1", "to-end", kg(300))}, {51, send("F-1", "to-up", kg(5))}, {52, send("F-1", "shop", kg(20))}}},
		{"end", "Invented Bakehouse", "Europe/Madrid", "kg", []at{
			{60, receive("E-1", "flour", "to-mid", "F-1", kg(300))}, {61, receive("E-2", "flour", "farm", "other", kg(10))}, {70, make("blending", "C-1", "flour", kg(305), of("E-1", kg(295)), of("E-2", kg(10)))}}},
	} {
		st := state.New()
		text := strings.NewReplacer("%NAME%", p.name, "%ZONE%", p.zone, "%UNITS%", p.units).Replace(threePlan)
		all := append([]at{{0, &records.Adoption{Text: text}}}, p.facts...)
		for i, f := range all {
			var id records.EntryID
			id[0], id[6], id[8], id[15] = p.code[0], 0x70, 0x80, byte(i+1)
			st.Apply(records.Position(i), records.Entry{ID: id, Happened: day + records.Instant(f.hour)*3_600_000, Recorded: day, By: "ana", Meaning: records.Performed, Kind: f.fact.Kind(), Fact: f.fact})
		}
		floor := lots.Fold(st, day+100*3_600_000, nil)
		plants = append(plants, across.Plant{Code: company.PlantCode(p.code), State: st, Floor: floor, Graph: trace.Build(floor)})
	}
	return plants
}

// threeInput traces through them; those in shut are not looked at.
func threeInput(t *testing.T, plants []across.Plant, at company.PlantCode, subject string, dir trace.Direction, lang string, shut ...company.PlantCode) Input {
	t.Helper()
	for i := range plants {
		if slices.Contains(shut, plants[i].Code) {
			plants[i] = across.Plant{Code: plants[i].Code}
		}
	}
	s, err := trace.ParseSubject(subject, nil)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := across.Build(plants, func(_ company.PlantCode, p records.PartnerCode) company.PlantCode {
		if to, ok := strings.CutPrefix(string(p), "to-"); ok {
			return company.PlantCode(to)
		}
		return ""
	}).Trace(at, s, dir)
	if err != nil {
		t.Fatal(err)
	}
	planOf := func(code company.PlantCode) *plan.Plan {
		for _, p := range plants {
			if p.Code == code && p.State != nil {
				return p.State.PlanAt(day + 1)
			}
		}
		return nil
	}
	return Input{Trace: tr, At: day + 100*3_600_000, Lang: lang, Plan: planOf, Closed: func(company.PlantCode) Closed { return Hidden },
		Stamp: func(code company.PlantCode) exports.Stamp {
			p := planOf(code)
			return exports.Stamp{Plant: p.Plant.Name, Address: p.Plant.Address, Origin: string(code) + ".example/journal", Size: 9, Root: ledger.Hash{code[0]}, At: day + 100*3_600_000, Program: "grainward test", MadeBy: "Ana Invented"}
		}}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	exportstest.Golden(t, *update, name, got)
}

func written(t *testing.T, in Input, write func(io.Writer, Input) error) []byte {
	t.Helper()
	return exportstest.Twice(t, func(w io.Writer) error { return write(w, in) })
}

// What people see, as drawing and as workbook. Rewrite with -update.
func TestDrawingAndWorkbook(t *testing.T) {
	both := threeInput(t, three(t), "mid", "W-2", trace.Both, "en")
	golden(t, "three.svg", written(t, both, WriteDrawing))
	golden(t, "three.sheets.txt", exportstest.Cells(t, written(t, both, WriteSheets)))
	shut := threeInput(t, three(t), "up", "M-1", trace.Forward, "es", "mid")
	golden(t, "shut.es.svg", written(t, shut, WriteDrawing))
	golden(t, "shut.es.sheets.txt", exportstest.Cells(t, written(t, shut, WriteSheets)))
	none := threeInput(t, three(t), "up", "station:store@2020-01-01", trace.Both, "en")
	if svg := string(written(t, none, WriteDrawing)); !strings.Contains(svg, "No lot had to do with it") || !strings.Contains(svg, "Nothing here went to another plant") {
		t.Errorf("of nothing it draws %s", svg)
	}
	exportstest.Cells(t, written(t, none, WriteSheets))
}

// picture is what a drawing has, read back from its file.
type picture struct {
	frames, boxes []rect
	crossings     []line
}

type rect struct {
	x, y, w, h float64
	name       string
}

type line struct{ x0, y0, x1, y1 float64 }

func (r rect) holds(x, y float64) bool { return x >= r.x && x <= r.x+r.w && y >= r.y && y <= r.y+r.h }

func (r rect) meets(o rect) bool {
	return r.x < o.x+o.w && o.x < r.x+r.w && r.y < o.y+o.h && o.y < r.y+r.h
}

func readPicture(t *testing.T, svg []byte) (p picture) {
	t.Helper()
	number := regexp.MustCompile(`-?[0-9]+(?:\.[0-9]+)?`)
	d := xml.NewDecoder(bytes.NewReader(svg))
	attr := func(e xml.StartElement, name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	num := func(s string) float64 {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	in := ""
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return p
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			class := attr(e, "class")
			switch {
			case e.Name.Local == "g":
				in = attr(e, "id") + class
			case e.Name.Local == "rect" && class == "w":
				p.frames = append(p.frames, rect{num(attr(e, "x")), num(attr(e, "y")), num(attr(e, "width")), num(attr(e, "height")), in})
			case e.Name.Local == "rect" && class == "b" && strings.HasPrefix(in, "lot-"):
				p.boxes = append(p.boxes, rect{num(attr(e, "x")), num(attr(e, "y")), num(attr(e, "width")), num(attr(e, "height")), in})
			case e.Name.Local == "path" && in == "crossing" && strings.HasPrefix(class, "j"):
				at := number.FindAllString(attr(e, "d"), -1)
				n := len(at) // M x y … C … x y H x
				p.crossings = append(p.crossings, line{num(at[0]), num(at[1]), num(at[n-1]), num(at[n-2])})
			}
		case xml.EndElement:
			if e.Name.Local == "g" {
				in = ""
			}
		}
	}
}

// checkPicture holds a drawing to what it must be: plants apart, each lot in the frame of one plant, nothing over anything else, and each line between
// plants from one frame to another, from a box to a box.
func checkPicture(t *testing.T, svg []byte, plants, lots, crossings int) {
	t.Helper()
	p := readPicture(t, svg)
	if len(p.frames) != plants || len(p.boxes) != lots || len(p.crossings) != crossings {
		t.Fatalf("%d frames, %d boxes, %d crossings, and not %d, %d, %d", len(p.frames), len(p.boxes), len(p.crossings), plants, lots, crossings)
	}
	for i, a := range p.frames {
		for _, b := range p.frames[i+1:] {
			if a.meets(b) {
				t.Errorf("%v lies over %v", a, b)
			}
		}
	}
	frameOf := func(x, y float64) int {
		return slices.IndexFunc(p.frames, func(f rect) bool { return f.holds(x, y) })
	}
	for i, a := range p.boxes {
		if f := frameOf(a.x, a.y); f < 0 || f != frameOf(a.x+a.w, a.y+a.h) {
			t.Errorf("%v is not within one frame", a)
		}
		for _, b := range p.boxes[i+1:] {
			if a.meets(b) {
				t.Errorf("%v lies over %v", a, b)
			}
		}
	}
	for _, l := range p.crossings {
		if a, b := frameOf(l.x0, l.y0), frameOf(l.x1, l.y1); a < 0 || b < 0 || a == b {
			t.Errorf("%v goes from frame %d to frame %d", l, a, b)
		}
		from := slices.ContainsFunc(p.boxes, func(b rect) bool { return near(b.x+b.w, l.x0) && l.y0 > b.y && l.y0 < b.y+b.h })
		to := slices.ContainsFunc(p.boxes, func(b rect) bool { return near(b.x-8, l.x1) && l.y1 > b.y && l.y1 < b.y+b.h })
		if !from || !to {
			t.Errorf("%v goes not from a box to a box", l)
		}
	}
}

func near(a, b float64) bool { return a-b < 0.2 && b-a < 0.2 }

func TestPlantsLieApart(t *testing.T) {
	all := func(in Input) (plants, lots, joins int) {
		for _, leg := range in.Trace.Legs {
			plants, lots = plants+1, lots+len(leg.Lots)
		}
		return plants, lots, len(in.Trace.Joins)
	}
	for _, c := range []struct {
		at      company.PlantCode
		subject string
		dir     trace.Direction
	}{{"mid", "W-2", trace.Both}, {"up", "B-1", trace.Forward}, {"end", "C-1", trace.Back}, {"up", "R-9", trace.Back}, {"mid", "F-1", trace.Both}} {
		in := threeInput(t, three(t), c.at, c.subject, c.dir, "en")
		plants, lots, joins := all(in)
		checkPicture(t, written(t, in, WriteDrawing), plants, lots, joins)
	}
}

// The workbook as LibreOffice reads it: the same sheets, rows and texts; and every join with the rule by which it was made.
func TestWorkbookInOffice(t *testing.T) {
	if _, err := exec.LookPath("soffice"); err != nil {
		if os.Getenv("GRAINWARD_CI") != "" {
			t.Fatal(err)
		}
		t.Skip("soffice is not installed")
	}
	in := threeInput(t, three(t), "mid", "F-1", trace.Both, "en")
	data := written(t, in, WriteSheets)
	dir := t.TempDir()
	book := filepath.Join(dir, "book.xlsx")
	if err := os.WriteFile(book, data, 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("soffice", "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
		"--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1", "--outdir", dir, book)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	seen := 0
	for _, sheet := range f.GetSheetList() {
		text, err := os.ReadFile(filepath.Join(dir, "book-"+sheet+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		got, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
		if sheet == "About" { // its first row has one cell
			r := csv.NewReader(bytes.NewReader(text))
			r.FieldsPerRecord = -1
			got, err = r.ReadAll()
		}
		if err != nil {
			t.Fatalf("%s: %v", sheet, err)
		}
		want, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(want) {
			t.Errorf("%s has %d rows in LibreOffice and %d in the file", sheet, len(got), len(want))
			continue
		}
		for r, row := range want {
			for c, v := range row {
				if _, err := strconv.ParseFloat(v, 64); err == nil || v == "" {
					continue // numbers and dates are shown by their formats
				}
				if seen++; got[r][c] != v {
					t.Errorf("%s, row %d: %q in LibreOffice, %q in the file", sheet, r+1, got[r][c], v)
				}
			}
		}
	}
	if seen < 100 {
		t.Errorf("only %d texts were compared", seen)
	}
	joins, err := f.GetRows("From plant to plant")
	if err != nil {
		t.Fatal(err)
	}
	if len(joins)-1 != len(in.Trace.Joins) {
		t.Fatalf("%d rows of %d joins", len(joins)-1, len(in.Trace.Joins))
	}
	rule := slices.Index(joins[0], "rule by which they were joined")
	for i, j := range in.Trace.Joins {
		if joins[i+1][rule] != said["rule-"+string(j.Rule)][0] {
			t.Errorf("join %d by %s says %q", i, j.Rule, joins[i+1][rule])
		}
	}
}
