package binder

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"
)

// byLibrary is a row as the library's stream writer writes it.
func byLibrary(t *rapid.T, row int, height float64, cells []cell) string {
	f := excelize.NewFile()
	defer f.Close()
	w, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		t.Fatal(err)
	}
	vals := make([]any, len(cells))
	for i := range cells {
		if cells[i].is != absent {
			vals[i] = cells[i].foreign()
		}
	}
	if err := w.SetRow("A"+itoa(row), vals, excelize.RowOpts{Height: height}); err != nil {
		t.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	var part bytes.Buffer
	if err := partsOf(f, func(name string) (io.Writer, error) {
		if name == "xl/worksheets/sheet1.xml" {
			return &part, nil
		}
		return io.Discard, nil
	}); err != nil {
		t.Fatal(err)
	}
	_, rows, _ := strings.Cut(part.String(), around)
	rows, _, _ = strings.Cut(rows, "</sheetData>")
	return rows
}

// texts are what escaping can go wrong with. The library writes the character _xHHHH_ wrongly where two overlap, and loses it where it
// is half of a pair (excelize 2.11.1): TestRowsAreReadBack has those.
var texts = rapid.OneOf(
	rapid.String(),
	rapid.StringMatching(`[ \t\r\n]?[a-z&<>"'\\\n\t ]{0,12}[ \t\r\n]?`),
	rapid.StringMatching(`[a-z_x]{0,4}(_x[0-9A-F]{3}[0-9]_)?[a-z]{0,4}`).Filter(func(s string) bool {
		return strings.Count(s, "_x") <= 1 && !strings.Contains(s, "_xD")
	}),
	rapid.SampledFrom([]string{"", "\x00", "\x1f", "\x7f", "\ufffe", "\uffff", "\ufffd", "a\xffb", "\xf0\x9f", "🌾", "ñ", "_x005F_", "_x0041_", "_x00g1_", "_X0041_", "x0041_", "_x0041"}),
)

var numbers = rapid.OneOf(
	rapid.Float64(),
	rapid.Map(rapid.IntRange(-1e9, 1e9), func(n int) float64 { return float64(n) / 1000 }),
	rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1, -1, 0.1, 1.0 / 3, 2.0 / 3, 1e15, 1e16, 123456789012345678, 1e300, 1e-300, 45000.5416666667, math.Inf(1), math.Inf(-1), math.NaN(), math.SmallestNonzeroFloat64}),
).Filter(func(f float64) bool { return math.Abs(f) != math.MaxFloat64 }) // which the library writes with all its digits

var someCell = rapid.Custom(func(t *rapid.T) cell {
	c := cell{style: rapid.IntRange(0, 30).Draw(t, "style"), is: content(rapid.IntRange(int(absent), int(aNumber)).Draw(t, "is"))}
	switch c.is {
	case aText:
		c.s = texts.Draw(t, "text")
	case aWhole:
		c.n = rapid.Int64().Draw(t, "whole")
	case aNumber:
		c.f = numbers.Draw(t, "number")
	}
	if c.is != absent && !math.IsInf(c.f, 0) && !math.IsNaN(c.f) && rapid.IntRange(0, 3).Draw(t, "formula?") == 0 {
		c.formula = texts.Draw(t, "formula")
	}
	return c
})

// A row is the very bytes that the library's stream writer writes for it.
func TestRowsAreTheLibrarys(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		row, height := rapid.IntRange(1, maxRows).Draw(t, "row"), rapid.SampledFrom([]float64{0, 13, 38, 409, 12.5}).Draw(t, "height")
		cells := rapid.SliceOfN(someCell, 0, len(letters)).Draw(t, "cells")
		got, err := appendRow(nil, row, height, cells)
		if err != nil {
			t.Fatal(err)
		}
		if want := byLibrary(t, row, height, cells); string(got) != want {
			t.Fatalf("ours\n%q\nthe library's\n%q", got, want)
		}
	})
}

// Whatever a text is, it is read back as it was, but for what XML can not hold.
func TestRowsAreReadBack(t *testing.T) {
	for _, s := range []string{"_x1234_x5678_", "_xD800_", "_x005F_x0041_", "__x0041__", "_x005F_x005F_", "a_b_x", "line\nfeed", " edges ", "\ttab\t", "<&>\"'"} {
		for _, formula := range []string{"", "A1"} {
			c := textCell(s)
			c.formula = formula
			row, err := appendRow(nil, 7, 0, []cell{c})
			if err != nil {
				t.Fatal(err)
			}
			dec := xml.NewDecoder(bytes.NewReader(row))
			for {
				tok, err := dec.RawToken()
				if err != nil {
					t.Fatalf("%q has no cell: %v", row, err)
				}
				if start, ok := tok.(xml.StartElement); ok && start.Name.Local == "c" {
					got, err := (&workbook{}).cell(dec, start)
					if err != nil || got.text != s || got.formula != formula || got.name() != "A7" {
						t.Errorf("%q: %+v, %v", s, got, err)
					}
					break
				}
			}
		}
	}
}

func TestRowsBeyondTheFormatAreRefused(t *testing.T) {
	if _, err := appendRow(nil, 1, 0, []cell{textCell(strings.Repeat("a", maxChars))}); err != nil {
		t.Error(err)
	}
	for _, cells := range [][]cell{{textCell(strings.Repeat("a", maxChars+1))}, make([]cell, len(letters)+1)} {
		if _, err := appendRow(nil, 1, 0, cells); err == nil {
			t.Error("nothing was said")
		}
	}
	b := &builder{}
	s := &sheet{b: b, name: "S"}
	if err := s.row(2, 0, nil); err != nil {
		t.Error(err)
	}
	for _, err := range []error{s.row(2, 0, nil), s.row(1, 0, nil), s.row(3, excelize.MaxRowHeight+1, nil)} {
		if err == nil {
			t.Error("nothing was said")
		}
	}
}
