package binder

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"grainward/records"
)

// grid is a binder as text: by sheet, by cell.
type grid map[string]map[string]cellValue

func gridOf(t testing.TB, data []byte) grid {
	t.Helper()
	w, err := openWorkbook(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	g := grid{}
	for _, s := range w.sheets {
		g[s.name] = map[string]cellValue{}
		for c, err := range w.cells(s) {
			if err != nil {
				t.Fatal(err)
			}
			g[s.name][c.name()] = c
		}
	}
	return g
}

func TestSameJournalSameBytes(t *testing.T) {
	want := [sha256.Size]byte{}
	for i, procs := range []int{1, 2, 7, 1, 16, 3} {
		old := runtime.GOMAXPROCS(procs)
		_, in := malted(t) // the whole plant anew
		sum := sha256.Sum256(made(t, in))
		runtime.GOMAXPROCS(old)
		if i > 0 && sum != want {
			t.Fatalf("run %d, with GOMAXPROCS %d, gave other bytes", i, procs)
		}
		want = sum
	}
}

func TestAnEmptyPeriodSaysWhereThereAreRecords(t *testing.T) {
	_, in := filled(t)
	for _, c := range []struct{ name, from, to, word string }{
		{"before the plant", "2020-01-01", "2020-12-31", "2025-01-06 to 2026-03-12"},
		{"to come", "2030-01-01", "2030-12-31", "2025-01-06 to 2026-03-12"},
		{"the wrong way round", "2026-03-14", "2026-03-02", "not after"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := in
			in.From, in.To = date(c.from), date(c.to)
			var b bytes.Buffer
			err := Write(t.Context(), &b, in, nil)
			if records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), c.word) {
				t.Errorf("got %v", err)
			}
			if b.Len() > 0 {
				t.Error("something was written all the same")
			}
		})
	}
}

func TestAWeekInWhichNobodySignedIsABinderOfGaps(t *testing.T) {
	_, in := filled(t)
	in.From, in.To = date("2026-02-02"), date("2026-02-08")
	g := gridOf(t, made(t, in))
	missed := 0
	for _, c := range g["Sanitation"] {
		if c.text == "missed" {
			missed++
		}
	}
	if missed == 0 {
		t.Error("no missed windows are shown")
	}
}

func TestTextStaysTextAndNothingIsLost(t *testing.T) {
	_, in := filled(t)
	texts := map[string]bool{}
	for _, c := range gridOf(t, made(t, in))["Deviations"] {
		if c.formula != "" {
			t.Errorf("%s is a formula: %s", c.name(), c.formula)
		}
		texts[c.text] = true
	}
	for _, h := range hostile {
		if !texts[visible(h)] {
			t.Errorf("%q is not there as %q", h, visible(h))
		}
	}
	for in, want := range map[string]string{"a\x00b\x07c\x7f": "a␀b␇c␡", "\r\t": "␍␉", "a\nb": "a\nb", "\u202etxt": "⟨U+202E⟩txt", "\ufeff": "⟨U+FEFF⟩", "麦芽 ñ": "麦芽 ñ"} {
		if got := visible(in); got != want {
			t.Errorf("visible(%q) = %q, want %q", in, got, want)
		}
	}
}

// Two notes of the longest kind and their answers are more than a cell holds only when cells hold less, so the test makes
// them hold less; pieces is tested at the real limit.
func TestLongTextGoesOnInTheNextRow(t *testing.T) {
	p := newPlant(t, planText(t))
	long := longText(1999)
	pos := p.book.View().Head.Size
	p.admit(at("2026-03-03T12:00:00Z"), "nora", &records.Deviation{What: long, Action: longText(700)})
	in := p.input("2026-03-02", "2026-03-04")
	var out bytes.Buffer
	if _, err := writeAs(t.Context(), &out, in, nil, func(b *builder) { b.most = 500 }); err != nil {
		t.Fatal(err)
	}
	g := gridOf(t, out.Bytes())["Deviations"]
	what, action := "", ""
	for row := headRows + 1; row < headRows+1+4; row++ {
		what += g["B"+strconv.Itoa(row)].text
		action += g["G"+strconv.Itoa(row)].text
	}
	if what != long || action != longText(700) {
		t.Errorf("the pieces do not give the text again: %d and %d characters", len(what), len(action))
	}
	if c := g["A5"]; c.number || c.text != strconv.Itoa(int(pos))+" (continued)" {
		t.Errorf("the second row begins with %q", c.text)
	}
	if n := gridOf(t, out.Bytes())["Cover"]; !strings.Contains(dump(n), "Deviations\t1") {
		t.Errorf("the cover does not count one deviation:\n%s", dump(n))
	}
}

func TestPiecesKeepTheLimitOfACell(t *testing.T) {
	for _, s := range []string{"", "a", strings.Repeat("a", maxChars), strings.Repeat("a", maxChars+1), strings.Repeat("é", 40_000), strings.Repeat("🌾", 20_000), strings.Repeat("麦", maxChars)} {
		all := pieces(s, maxChars)
		if strings.Join(all, "") != s {
			t.Errorf("%d bytes are not the same after cutting", len(s))
		}
		for _, p := range all {
			if n := utf16Len(p); n > maxChars {
				t.Errorf("a piece has %d units", n)
			}
		}
	}
}

func utf16Len(s string) (n int) {
	for _, r := range s {
		n++
		if r > 0xffff {
			n++
		}
	}
	return n
}

// With 50 rows to a sheet, sheets are split, every row is still there once, and the totals still come out.
func TestSheetsAreSplitBeforeTheLimit(t *testing.T) {
	_, in := filled(t)
	whole := gridOf(t, made(t, in))
	in.RowLimit = 50
	split := gridOf(t, made(t, in))
	rows := func(g grid, name string) (n int) {
		for sheet, cells := range g {
			if sheet != name && !strings.HasPrefix(sheet, name+" (") {
				continue
			}
			seen := map[int]bool{}
			for _, c := range cells {
				if c.row > 50 && len(g) != len(whole) {
					t.Errorf("%s has a row %d", sheet, c.row)
				}
				if c.row > headRows && !seen[c.row] {
					seen[c.row] = true
					n++
				}
			}
		}
		return n
	}
	if len(split) == len(whole) {
		t.Fatal("nothing was split")
	}
	for name := range whole {
		if name == "Cover" || name == "Proof" {
			continue
		}
		if a, b := rows(whole, name), rows(split, name); a != b {
			t.Errorf("%s has %d rows whole and %d split", name, a, b)
		}
	}
	for _, row := range []string{"B20", "C20", "B21", "C24"} {
		if whole["Cover"][row].text != split["Cover"][row].text {
			t.Errorf("cover %s: %q whole, %q split", row, whole["Cover"][row].text, split["Cover"][row].text)
		}
	}
}

func TestProgressGrowsAndEnds(t *testing.T) {
	_, in := filled(t)
	last, end := -1, 0
	err := Write(t.Context(), &bytes.Buffer{}, in, func(done, all int) {
		if done < last || done > all {
			t.Errorf("%d of %d after %d", done, all, last)
		}
		last, end = done, all
	})
	if err != nil || last != end || end == 0 {
		t.Errorf("ended at %d of %d: %v", last, end, err)
	}
}

func TestACancelledBinderStops(t *testing.T) {
	_, in := filled(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Write(ctx, &bytes.Buffer{}, in, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(in.TempDir, "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// brokenWriter fails after some bytes, as a full disk does.
type brokenWriter struct{ left int }

var errFull = errors.New("no space left")

func (w *brokenWriter) Write(p []byte) (int, error) {
	if w.left -= len(p); w.left < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestAFullDiskIsSaid(t *testing.T) {
	_, in := filled(t)
	for _, room := range []int{0, 100, 50_000} {
		if err := Write(t.Context(), &brokenWriter{room}, in, nil); !errors.Is(err, errFull) {
			t.Errorf("with room for %d bytes: %v", room, err)
		}
	}
	in.TempDir = filepath.Join(in.TempDir, "not there")
	if err := Write(t.Context(), &bytes.Buffer{}, in, nil); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("without a place for packing: %v", err)
	}
}

// Every text handed to say is in the Spanish list, and the list has nothing else.
func TestEveryWordIsTranslated(t *testing.T) {
	used := map[string]bool{}
	for _, r := range results() {
		used[r] = true
	}
	for _, w := range []string{"passed", "note", "minor", "major", "critical", "crew", "lead", "visitor"} {
		used[w] = true
	}
	files, _ := filepath.Glob("*.go")
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) != 1 {
				return true
			}
			if sel, ok := call.Fun.(*ast.SelectorExpr); !ok || sel.Sel.Name != "say" {
				return true
			}
			ast.Inspect(call.Args[0], func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
					s, _ := strconv.Unquote(lit.Value)
					used[s] = true
				}
				return true
			})
			return true
		})
	}
	for w := range used {
		if spanish[w] == "" {
			t.Errorf("no Spanish for %q", w)
		}
	}
	for w := range spanish {
		if !used[w] {
			t.Errorf("%q is in the list and nowhere used", w)
		}
	}
}

func TestSpanishBinderHasNoEnglishHeadings(t *testing.T) {
	_, in := filled(t)
	in.Lang = "es"
	g := gridOf(t, made(t, in))
	for _, sheet := range []string{"Portada", "Cláusulas", "Volteo", "Hallazgos", "Prueba", "Hojas"} {
		if g[sheet] == nil {
			t.Errorf("no sheet %s", sheet)
		}
	}
	if h := g["Volteo"]["G3"].text; h != "Resultado" {
		t.Errorf("heading %q", h)
	}
	if strings.Contains(dump(g["Hallazgos"]), "nobody signed") {
		t.Error("findings are in English")
	}
}
