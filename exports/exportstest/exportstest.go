// Package exportstest is for tests of outward forms: golden files, and workbooks read back.
package exportstest

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Golden holds bytes against a file in the package's testdata, or writes it anew.
func Golden(t *testing.T, update bool, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; look at it, and run with -update if it is right. Got:\n%s", path, got)
	}
}

// Twice writes something twice, wants the same bytes, and gives them.
func Twice(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		if err := write(w); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Fatal("the same input gives different bytes")
	}
	return a.Bytes()
}

// Cells is a workbook's cells with their types, as text. A formula is a failure: no text may become one.
func Cells(t *testing.T, data []byte) []byte {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	var b bytes.Buffer
	for _, s := range f.GetSheetList() {
		fmt.Fprintf(&b, "## %s\n", s)
		rows, err := f.GetRows(s, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		for r, row := range rows {
			for c, v := range row {
				name, err := excelize.CoordinatesToCellName(c+1, r+1)
				if err != nil {
					t.Fatal(err)
				}
				kind, err := f.GetCellType(s, name)
				if err != nil {
					t.Fatal(err)
				}
				if formula, err := f.GetCellFormula(s, name); err != nil || formula != "" {
					t.Fatalf("%s!%s is a formula: %q, %v", s, name, formula, err)
				}
				if v != "" {
					what := "number"
					if kind == excelize.CellTypeSharedString || kind == excelize.CellTypeInlineString {
						what = "text"
					}
					fmt.Fprintf(&b, "%s %s %q\n", name, what, v)
				}
			}
		}
	}
	return b.Bytes()
}
