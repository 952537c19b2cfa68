package lineage

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"grainward/audit/trace"
	"grainward/exports/exportstest"
	"grainward/records"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	exportstest.Golden(t, *update, name, got)
}

func written(t *testing.T, in Input, write func(io.Writer, Input) error) []byte {
	t.Helper()
	return exportstest.Twice(t, func(w io.Writer) error { return write(w, in) })
}

func TestGolden(t *testing.T) {
	in := plant().trace(t, "label:M26-012/7", trace.Both)
	forward := plant().trace(t, "their-lot:North 7/25", trace.Forward)
	es := forward
	es.Lang = "es"
	golden(t, "back.txt", written(t, in, WriteText))
	golden(t, "forward.txt", written(t, forward, WriteText))
	golden(t, "forward-es.txt", written(t, es, WriteText))
	golden(t, "back.json", written(t, in, WriteJSON))
	golden(t, "forward.svg", written(t, forward, WriteDrawing))
	golden(t, "back.svg", written(t, in, WriteDrawing))
	golden(t, "inline.svg", written(t, in, inline))
	golden(t, "forward.sheets.txt", exportstest.Cells(t, written(t, forward, WriteSheets)))
}

// inline is WriteInline with an address of every lot.
func inline(w io.Writer, in Input) error {
	return WriteInline(w, in, func(c records.LotCode) string { return "/lots/" + string(c) + "?\"><x" })
}

func TestNothingTraced(t *testing.T) {
	in := plant().trace(t, "station:store@2026-01-01", trace.Both)
	if s := string(written(t, in, WriteText)); !strings.Contains(s, "No lot had to do with it") {
		t.Fatal(s)
	}
	wellFormed(t, written(t, in, WriteDrawing))
	exportstest.Cells(t, written(t, in, WriteSheets))
	var form map[string]any
	if err := json.Unmarshal(written(t, in, WriteJSON), &form); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"lots", "paths", "movements", "consignees", "partners", "touches", "documents", "cycles"} {
		if list, ok := form[name].([]any); !ok || len(list) != 0 {
			t.Errorf("%s is %v, want an empty list", name, form[name])
		}
	}
}

// wellFormed reads a drawing as XML to its end.
func wellFormed(t *testing.T, svg []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	d.Strict = true
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// TestThreeHundredLotsDoNotOverlap reads the drawing's boxes back from the file.
func TestThreeHundredLotsDoNotOverlap(t *testing.T) {
	in := wide(300).trace(t, "R0", trace.Both)
	if n := len(in.Trace.Lots); n < 300 {
		t.Fatalf("%d lots", n)
	}
	svg := written(t, in, WriteDrawing)
	wellFormed(t, svg)
	type rect struct{ x, y, w, h float64 }
	var boxes, labels []rect
	d := xml.NewDecoder(bytes.NewReader(svg))
	attr := func(e xml.StartElement, name string) string {
		for _, a := range e.Attr {
			if a.Name.Local == name {
				return a.Value
			}
		}
		return ""
	}
	num := func(e xml.StartElement, name string) float64 {
		f, err := strconv.ParseFloat(attr(e, name), 64)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	inLot := false
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		switch e := tok.(type) {
		case xml.StartElement:
			switch {
			case e.Name.Local == "g":
				inLot = true
			case e.Name.Local == "rect" && inLot && attr(e, "class") == "b":
				boxes = append(boxes, rect{num(e, "x"), num(e, "y"), num(e, "width"), num(e, "height")})
			case e.Name.Local == "text" && attr(e, "class") == "m":
				labels = append(labels, rect{num(e, "x") - 60, num(e, "y") - 8, 60, 9})
			}
		case xml.EndElement:
			if e.Name.Local == "g" {
				inLot = false
			}
		}
	}
	if len(boxes) != len(in.Trace.Lots) || len(labels) == 0 {
		t.Fatalf("%d boxes of %d lots, %d labels", len(boxes), len(in.Trace.Lots), len(labels))
	}
	for _, set := range [][]rect{boxes, append(labels, boxes...)} {
		for i, a := range set {
			for _, b := range set[i+1:] {
				if a.x < b.x+b.w && b.x < a.x+a.w && a.y < b.y+b.h && b.y < a.y+a.h {
					t.Fatalf("%v overlaps %v", a, b)
				}
			}
		}
	}
}

// TestEveryWordIsThere looks up every phrase that the source asks for.
func TestEveryWordIsThere(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		check := func(x ast.Expr) {
			lit, ok := x.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return
			}
			asked++
			if s, err := strconv.Unquote(lit.Value); err != nil || spanish[s] == "" {
				t.Errorf("%s: no word for %s", name, lit.Value)
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.IndexExpr:
				if id, ok := n.X.(*ast.Ident); ok && id.Name == "w" {
					check(n.Index)
				}
				if sel, ok := n.X.(*ast.SelectorExpr); ok && sel.Sel.Name == "words" {
					check(n.Index)
				}
			case *ast.CallExpr:
				if sel, ok := n.Fun.(*ast.SelectorExpr); ok && (sel.Sel.Name == "heads" || sel.Sel.Name == "unit") {
					for _, a := range n.Args {
						check(a)
					}
				}
			}
			return true
		})
	}
	if asked < 100 {
		t.Fatalf("only %d phrases were found in the source", asked)
	}
}

func TestHostileTexts(t *testing.T) {
	j := plant()
	in := j.trace(t, "R26-001", trace.Both)
	in.Trace.Lots[0].Title = map[string]string{"en": "</text><script>alert(1)</script>\x00\x1b[2J\u202e"}
	in.Trace.Partners[0].Name = "=HYPERLINK(\"x\")\x07"
	for _, out := range [][]byte{written(t, in, WriteDrawing), written(t, in, WriteText)} {
		if bytes.ContainsAny(out, "\x00\x1b\x07") || bytes.ContainsRune(out, '\u202e') {
			t.Error("a control character came through")
		}
	}
	for _, write := range []func(io.Writer, Input) error{WriteDrawing, inline} {
		svg := written(t, in, write)
		wellFormed(t, svg)
		if bytes.Contains(svg, []byte("<script")) || bytes.Contains(svg, []byte("<x")) {
			t.Error("markup came through")
		}
	}
	if bytes.Contains(written(t, in, inline), []byte("style")) {
		t.Error("a drawing within a page brings a style")
	}
	exportstest.Cells(t, written(t, in, WriteSheets)) // fails on a formula
}

// TestAPictureToLookAt writes the forms where GRAINWARD_LOOK says, for whoever wants to see them.
func TestAPictureToLookAt(t *testing.T) {
	dir := os.Getenv("GRAINWARD_LOOK")
	if dir == "" {
		t.Skip("GRAINWARD_LOOK names no folder")
	}
	for name, in := range map[string]Input{"back": plant().trace(t, "label:M26-012/7", trace.Both), "forward": plant().trace(t, "their-lot:North 7/25", trace.Forward), "wide": wide(300).trace(t, "R0", trace.Both)} {
		for ext, write := range map[string]func(io.Writer, Input) error{"svg": WriteDrawing, "xlsx": WriteSheets, "txt": WriteText, "json": WriteJSON} {
			if err := os.WriteFile(filepath.Join(dir, name+"."+ext), written(t, in, write), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
