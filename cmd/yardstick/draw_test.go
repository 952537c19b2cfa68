package yardstick

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"grainward/exports/exportstest"
	"grainward/records"
)

var update = flag.Bool("update", false, "write the golden files anew")

// sample is a report with figures that were never measured.
func sample(size int) *Report {
	n := float64(size)
	made := time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC)
	more := func(sort string, s float64) Row {
		return Row{Name: oneMoreRow(sort), What: "… after " + sort, Ours: Figure{s, "s"}, Limit: &Limit{Most: 0.005, Unit: "s"}, Also: []Also{{"slowest", Figure{2 * s, "s"}}, {"turns", Figure{11, ""}}}}
	}
	return &Report{Made: made, Seed: 7, Size: size, Machine: Machine{CPU: "An invented processor", Cores: 2, MemoryGB: 25.1, System: "linux/amd64", Go: "go1.26", SyncRate: 4792}, Rows: []Row{
		{Name: "sign-offs", What: "sign-offs, 64 devices at once", Ours: Figure{28_750, "/s"}, Peer: "one fsync a record", Theirs: Figure{4792, "/s"}, Ratio: 28_750. / 4792, Limit: &Limit{Least: 5}, Also: []Also{{"answered after, median", Figure{0.00213, "s"}}}},
		{Name: "opening", What: "opening the journal", Ours: Figure{n * 5e-6, "s"}, Peer: "reading and hashing", Theirs: Figure{n * 2e-6, "s"}, Ratio: 2.5, Limit: &Limit{Most: 3}},
		{Name: "findings", What: "all findings", Ours: Figure{n * 1.5e-6, "s"}, Peer: "opening", Theirs: Figure{n * 5e-6, "s"}, Ratio: 0.3, Limit: &Limit{Most: 0.25}, Also: []Also{{"found", Figure{n / 70, ""}}}},
		more("a sign-off", 0.0004+n*1e-10), more("a receipt", 0.001+n*3e-9),
		{Name: "trace-query", What: "trace with shares", Ours: Figure{n * 35e-9, "s"}, Peer: "SQLite, recursive", Theirs: Figure{n * 1100e-9, "s"}, Ratio: 1100. / 35, Limit: &Limit{Least: 20}},
		{Name: "trace-walk", What: "trace with shares", Ours: Figure{n * 35e-9, "s"}, Peer: "a bare walk", Theirs: Figure{n * 13e-9, "s"}, Ratio: 35. / 13, Limit: &Limit{Most: 3}},
		{Name: "trace-gonum", What: "trace with shares", Ours: Figure{n * 35e-9, "s"}, Peer: "gonum's walk", Theirs: Figure{n * 900e-9, "s"}, Ratio: 900. / 35},
		{Name: "binder", What: "binder of eight months", Ours: Figure{min(n, 2e5) * 4e-5, "s"}, Peer: "the stream writer", Theirs: Figure{min(n, 2e5) * 3.5e-5, "s"}, Ratio: 3.5 / 4, Limit: &Limit{Least: 0.85}},
		{Name: "binder-memory", What: "memory while it is written", Ours: Figure{40 + min(n, 2e5)*6e-4, "MB"}, Limit: &Limit{Most: 300, Unit: "MB"}},
		{Name: "memory", What: "memory an entry, journal open", Ours: Figure{480 + 1e6/n, "B"}, Limit: &Limit{Most: 600, Unit: "B"}},
		{Name: "crew-page", What: "crew page, first load", Ours: Figure{42.8, "kB"}, Limit: &Limit{Most: 60, Unit: "kB"}},
	}}
}

func samples() (all []*Report) {
	for _, n := range []int{10_000, 30_000, 100_000, 300_000, 1_000_000, 3_000_000} {
		all = append(all, sample(n))
	}
	return all
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	exportstest.Golden(t, *update, name, got)
}

func TestTableGolden(t *testing.T) {
	var b bytes.Buffer
	if err := WriteTable(&b, sample(1_000_000)); err != nil {
		t.Fatal(err)
	}
	golden(t, "table.golden", b.Bytes())
}

func TestDrawingGolden(t *testing.T) {
	var b bytes.Buffer
	if err := Draw(&b, samples()); err != nil {
		t.Fatal(err)
	}
	golden(t, "growth.golden.svg", b.Bytes())
	readBack(t, b.Bytes(), samples())
}

func TestNothingToDraw(t *testing.T) {
	for _, rs := range [][]*Report{nil, {sample(1000)}, {sample(1000), sample(1000)}} {
		if err := Draw(io.Discard, rs); records.KindOf(err) != records.Invalid {
			t.Error(err)
		}
	}
	// What was not measured is not drawn, and said.
	a, b := sample(1000), sample(2000)
	a.Rows, b.Rows = a.Rows[:2], b.Rows[:2]
	var out bytes.Buffer
	if err := Draw(&out, []*Report{b, a}); err != nil {
		t.Fatal(err)
	}
	readBack(t, out.Bytes(), []*Report{a, b})
	if n := strings.Count(out.String(), "not measured"); n != 6 {
		t.Errorf("%d panels are said to be empty", n)
	}
}

// The drawing in testdata is of the figures in testdata.
func TestDrawnAsMeasured(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "bench")
	f, err := os.Open(filepath.Join(dir, "growth.json"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	reports, err := ParseJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	drawn, err := os.ReadFile(filepath.Join(dir, "growth.svg"))
	if err != nil {
		t.Fatal(err)
	}
	readBack(t, drawn, reports)
	var b bytes.Buffer
	if err := Draw(&b, reports); err != nil || !bytes.Equal(b.Bytes(), drawn) {
		t.Errorf("growth.svg is not drawn from growth.json (%v): grainward bench --from testdata/bench/growth.json --svg testdata/bench/growth.svg", err)
	}
}

// figures are what each line of the drawing shows, said apart from the code that draws.
var figures = func() map[string]func(*Report) (float64, bool) {
	figures := map[string]func(*Report) (float64, bool){}
	row := func(name string, theirs bool, times float64) func(*Report) (float64, bool) {
		return func(r *Report) (float64, bool) {
			for _, x := range r.Rows {
				if x.Name == name && theirs {
					return x.Theirs.Value * times, true
				}
				if x.Name == name {
					return x.Ours.Value, true
				}
			}
			return 0, false
		}
	}
	figures["Opening the journal/opening"] = row("opening", false, 1)
	figures["Opening the journal/reading, hashing"] = row("opening", true, 1)
	figures["All findings/findings"] = row("findings", false, 1)
	figures["All findings/¼ of opening"] = row("findings", true, 0.25)
	figures["Findings after one more entry/a sign-off"] = row("one-more-a-sign-off", false, 1)
	figures["Findings after one more entry/slowest sort"] = func(r *Report) (most float64, ok bool) {
		for _, x := range r.Rows {
			if strings.HasPrefix(x.Name, "one-more-") {
				most, ok = math.Max(most, x.Ours.Value), true
			}
		}
		return most, ok
	}
	figures["Memory an entry/open journal"] = row("memory", false, 1)
	figures["Sign-offs, 64 devices at once/sign-offs"] = row("sign-offs", false, 1)
	figures["Sign-offs, 64 devices at once/fsync a record"] = row("sign-offs", true, 1)
	figures["Trace with shares, as many lots/trace"] = row("trace-query", false, 1)
	figures["Trace with shares, as many lots/bare walk"] = row("trace-walk", true, 1)
	figures["Trace with shares, as many lots/SQLite"] = row("trace-query", true, 1)
	figures["Binder of the last eight months/binder"] = row("binder", false, 1)
	figures["Binder of the last eight months/stream writer"] = row("binder", true, 1)
	figures["Memory while a binder is written/binder"] = row("binder-memory", false, 1)
	return figures
}()

type element struct {
	XMLName xml.Name
	Attrs   []xml.Attr `xml:",any,attr"`
	Inner   []element  `xml:",any"`
}

func (e *element) attr(name string) string {
	for _, a := range e.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// readBack reads every point off a drawing, by the lines of its scales, and holds it to the reports: each there once, each where it belongs.
func readBack(t *testing.T, svg []byte, reports []*Report) {
	t.Helper()
	var root element
	if err := xml.Unmarshal(svg, &root); err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(svg, []byte("<script")) || bytes.Contains(svg, []byte("href")) {
		t.Error("the drawing has a script, or fetches something")
	}
	got := map[string]float64{}
	for _, g := range root.Inner {
		name := g.attr("data-panel")
		if name == "" {
			continue
		}
		var ys, xs [][2]float64 // logarithm of a value, and where its line is
		for _, e := range g.Inner {
			if v := e.attr("data-y"); v != "" {
				ys = append(ys, [2]float64{math.Log10(number(t, v)), number(t, e.attr("y1"))})
			}
			if v := e.attr("data-x"); v != "" {
				xs = append(xs, [2]float64{math.Log10(number(t, v)), number(t, e.attr("x1"))})
			}
		}
		value := func(of [][2]float64, at float64) float64 {
			a, b := of[0], of[len(of)-1]
			return math.Pow(10, a[0]+(at-a[1])/(b[1]-a[1])*(b[0]-a[0]))
		}
		for _, e := range g.Inner {
			size := e.attr("data-size")
			if size == "" {
				continue
			}
			var x, y float64
			switch e.XMLName.Local {
			case "circle":
				x, y = number(t, e.attr("cx")), number(t, e.attr("cy"))
			case "rect":
				x, y = number(t, e.attr("x"))+number(t, e.attr("width"))/2, number(t, e.attr("y"))+number(t, e.attr("height"))/2
			default:
				if _, err := fmt.Sscanf(e.attr("d"), "M%f %f", &x, &y); err != nil {
					t.Fatal(err)
				}
				y += 4
			}
			key := name + "/" + e.attr("data-line") + "/" + size
			if _, twice := got[key]; twice {
				t.Errorf("%s is drawn twice", key)
			}
			got[key] = value(ys, y)
			if len(xs) > 1 {
				if at := value(xs, x); math.Abs(at/number(t, size)-1) > 0.01 {
					t.Errorf("%s is drawn at %.0f entries", key, at)
				}
			}
		}
	}
	want := 0
	for name, of := range figures {
		for _, r := range reports {
			v, ok := of(r)
			if !ok {
				continue
			}
			want++
			key := fmt.Sprintf("%s/%d", name, r.Size)
			if at, there := got[key]; !there || math.Abs(at/v-1) > 0.01 {
				t.Errorf("%s is %g and drawn at %g", key, v, at)
			}
		}
	}
	if len(got) != want {
		t.Errorf("%d points are drawn of %d", len(got), want)
	}
}

func TestJSONRoundTrip(t *testing.T) {
	var b bytes.Buffer
	if err := FormatJSON(&b, samples()); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	got, err := ParseJSON(&b)
	if err != nil {
		t.Fatal(err)
	}
	var again bytes.Buffer
	if err := FormatJSON(&again, got); err != nil || again.String() != text {
		t.Error("what was read is written otherwise", err)
	}
	for i, r := range got {
		for k := range r.Rows {
			h, known := r.Rows[k].Held()
			if h2, k2 := samples()[i].Rows[k].Held(); h != h2 || known != k2 {
				t.Error(r.Rows[k].Name)
			}
		}
	}
	for _, bad := range []string{"", "{}", "[]", `{"what":"grainward bench","reports":[]}`, `{"what":"grainward bench","reports":[null]}`, `{"what":"grainward bench","reports":[{"size":0}]}`, `{"what":"x","reports":[{"size":1}]}`, text[:len(text)/2]} {
		if _, err := ParseJSON(strings.NewReader(bad)); records.KindOf(err) != records.Invalid {
			t.Errorf("%.40q: %v", bad, err)
		}
	}
}

// Held, at the limit and on either side of it.
func TestHeld(t *testing.T) {
	for _, c := range []struct {
		row         Row
		held, known bool
	}{
		{Row{Ratio: 5, Limit: &Limit{Least: 5}}, true, true}, {Row{Ratio: 4.99, Limit: &Limit{Least: 5}}, false, true},
		{Row{Ratio: 2.99, Limit: &Limit{Most: 3}}, true, true}, {Row{Ratio: 3, Limit: &Limit{Most: 3}}, false, true},
		{Row{Ours: Figure{599, "B"}, Ratio: 9000, Limit: &Limit{Most: 600, Unit: "B"}}, true, true}, {Row{Ours: Figure{601, "B"}, Limit: &Limit{Most: 600, Unit: "B"}}, false, true},
		{Row{Ratio: 1}, false, false},
	} {
		if held, known := c.row.Held(); held != c.held || known != c.known {
			t.Errorf("%+v: %v %v", c.row, held, known)
		}
	}
}
