package timeline

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/exports/exportstest"
	"grainward/records"
)

var update = flag.Bool("update", false, "write the golden files")

const hour = records.Instant(3_600_000)

func week() Input {
	in := Input{ID: "silo-1", Title: "Silo 1", Says: "3 lots, 2 clean-outs, 1 gap", From: 0, To: 168 * hour, Now: 130 * hour}
	for i := range records.Instant(7) {
		in.Days = append(in.Days, Mark{i * 24 * hour, fmt.Sprintf("Mon %d", i+2)})
	}
	in.Bars = []Bar{
		{From: -30 * hour, To: 20 * hour, Code: "R26-001", Status: records.Organic, Says: "R26-001, organic barley", Href: "/lots/R26-001"},
		{From: 30 * hour, To: 80 * hour, Code: "R26-002", Status: records.Conventional, Says: "R26-002 <b>", Held: true},
		{From: 40 * hour, To: 90 * hour, Code: "R26-003", Status: records.MadeWith, Says: "R26-003"},
		{From: 50 * hour, To: 50 * hour, Code: "R26-004", Status: "", Says: "R26-004"},
		{From: 50*hour + 60_000, To: 50*hour + 60_000, Code: "R26-005", Status: "", Says: "R26-005"},
		{From: 100 * hour, To: 100 * hour, Code: "P-1", Status: records.Organic, Says: "P-1, purge", Purge: true},
		{From: 120 * hour, To: 168 * hour, Code: "R26-006", Status: records.Organic, Says: "R26-006", Stays: true},
	}
	in.Signs = []Sign{
		{From: 22 * hour, To: 25 * hour, Short: "Swept", Says: "Swept, passed", Href: "/entry/7", Passed: true},
		{From: 95 * hour, To: 96 * hour, Short: "Opened and vacuumed", Says: "did not pass"},
		{From: 100 * hour, To: 100 * hour, Short: "500 lb", Says: "purge", Purge: true, Passed: true},
		{From: 110 * hour, To: 110 * hour, Short: "5 lb", Says: "purge", Purge: true},
	}
	in.Gaps = []Gap{{From: 90 * hour, To: 120 * hour, Says: "no clean-out between them", Href: "/findings"}}
	return in
}

func drawn(t testing.TB, in Input) ([]byte, Drawn) {
	t.Helper()
	var b bytes.Buffer
	got, err := Write(&b, in)
	if err != nil {
		t.Fatal(err)
	}
	for dec := xml.NewDecoder(bytes.NewReader(b.Bytes())); ; {
		if _, err := dec.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("no XML: %v\n%s", err, b.String())
		}
	}
	for _, never := range []string{"<style", "style=", "<script", "onload"} {
		if strings.Contains(b.String(), never) {
			t.Fatalf("%s is in it", never)
		}
	}
	return b.Bytes(), got
}

func TestGolden(t *testing.T) {
	for name, in := range map[string]Input{"week": week(), "empty": {ID: "x", Title: "Nothing", From: 0, To: 1}} {
		got, _ := drawn(t, in)
		exportstest.Golden(t, *update, name+".svg", got)
	}
}

func TestBackwards(t *testing.T) {
	if _, err := Write(io.Discard, Input{From: 5, To: 5}); records.KindOf(err) != records.Invalid {
		t.Error(err)
	}
}

// Texts of people come back as text.
func TestHostileTexts(t *testing.T) {
	const hostile = "</title><script>alert(1)</script>\"'><\x00\x1b\u202e"
	in := week()
	in.Title, in.Says, in.ID = hostile, hostile, hostile
	for i := range in.Bars {
		in.Bars[i].Code, in.Bars[i].Says, in.Bars[i].Href = hostile, hostile, hostile
	}
	in.Signs[0].Short, in.Gaps[0].Says, in.Days[0].Label = hostile, hostile, hostile
	if got, _ := drawn(t, in); strings.Contains(string(got), "<script") || strings.Contains(string(got), "\u202e") {
		t.Error("it comes back as markup")
	}
}

var rects = regexp.MustCompile(`<rect class="tl-bar[^"]*" x="([-0-9.]+)" y="([-0-9.]+)" width="([-0-9.]+)" height="([-0-9.]+)"`)

// Whatever the lots: bars lie within the paper and on no other, in order, as long as their time; and a busy silo of five years stays small.
func TestBarsDoNotOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := Input{ID: "s", From: 0, To: 1000}
		n := rapid.IntRange(0, 60).Draw(t, "bars")
		for i := range n {
			from := records.Instant(rapid.IntRange(-200, 1100).Draw(t, "from"))
			to := from + records.Instant(rapid.IntRange(0, 600).Draw(t, "long"))
			if to < 0 || from > 1000 {
				continue
			}
			in.Bars = append(in.Bars, Bar{From: from, To: to, Code: fmt.Sprint("L", i), Status: rapid.SampledFrom([]records.Status{"", records.Organic, records.Conventional, records.MadeWith}).Draw(t, "status")})
		}
		var b bytes.Buffer
		got, err := Write(&b, in)
		if err != nil {
			t.Fatal(err)
		}
		type box struct{ x, y, w, h float64 }
		var boxes []box
		for _, m := range rects.FindAllStringSubmatch(b.String(), -1) {
			var v [4]float64
			for i := range v {
				v[i], _ = strconv.ParseFloat(m[i+1], 64)
			}
			boxes = append(boxes, box{v[0], v[1], v[2], v[3]})
		}
		if len(boxes)+got.Left > len(in.Bars) || len(in.Bars) > 0 && len(boxes) == 0 {
			t.Fatalf("%d bars, %d drawn, %d left out", len(in.Bars), len(boxes), got.Left)
		}
		for i, p := range boxes {
			if p.x < 0 || p.x+p.w > width || p.y < 0 || p.w <= 0 {
				t.Fatalf("%v is off the paper", p)
			}
			for _, q := range boxes[:i] {
				if p.x < q.x+q.w-.05 && q.x < p.x+p.w-.05 && p.y < q.y+q.h && q.y < p.y+p.h {
					t.Fatalf("%v lies on %v", p, q)
				}
			}
		}
	})
	in := Input{ID: "s", From: 0, To: 5 * 365 * 24 * hour}
	for i := range records.Instant(20_000) {
		in.Bars = append(in.Bars, Bar{From: i * hour, To: i*hour + (i%7)*500*hour, Code: fmt.Sprint("L", i), Status: records.Organic})
		in.Signs = append(in.Signs, Sign{From: i * hour, To: i * hour, Short: "Swept", Passed: true})
		in.Gaps = append(in.Gaps, Gap{From: i * hour, To: i*hour + hour})
	}
	out, got := drawn(t, in)
	if len(out) > 600_000 || got.Left == 0 {
		t.Errorf("%d bytes, %d left out", len(out), got.Left)
	}
}
