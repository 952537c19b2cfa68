package binder

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/ledger"
)

func verdictOf(t *testing.T, p *plant, data []byte, journal Journal) *Verdict {
	t.Helper()
	v, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)), journal, p.key, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestAnUntouchedBinderAgrees(t *testing.T) {
	for _, c := range []struct {
		name  string
		lang  string
		limit int
		plant func(testing.TB) (*plant, Input)
	}{{"english", "en", 0, filled}, {"spanish", "es", 0, filled}, {"split", "en", 50, filled}, {"grain", "en", 0, malted}, {"grain in spanish", "es", 0, malted}, {"grain, split", "en", 20, malted}} {
		t.Run(c.name, func(t *testing.T) {
			p, in := c.plant(t)
			in.Lang, in.RowLimit = c.lang, c.limit
			data := made(t, in)
			p.admit(at("2026-03-20T12:00:00Z"), "nora", &records.Deviation{What: "Written after the binder was made."})
			v := verdictOf(t, p, data, p.book.Rows)
			if !v.Same || len(v.Faults) > 0 {
				t.Fatalf("same bytes: %v; faults %v", v.Same, v.Faults)
			}
			if v.Leaves != int(in.Stamp.Size) || v.Cells < 1000 || v.Stamp.MadeBy != "Nora Feldt" {
				t.Errorf("%d leaves, %d cells, made by %q", v.Leaves, v.Cells, v.Stamp.MadeBy)
			}
		})
	}
}

// Each change to a binder is named by sheet and cell.
func TestATamperedBinderIsNamed(t *testing.T) {
	p, in := filled(t)
	data := made(t, in)
	g := gridOf(t, data)
	find := func(sheet, text string) string {
		for _, c := range g[sheet] {
			if strings.Contains(c.text, text) {
				return c.name()
			}
		}
		t.Fatalf("%s has no cell with %q", sheet, text)
		return ""
	}
	leaf := g["Leaves"]["G6"].text
	id := g["Leaves"]["B7"].text
	root := in.Stamp.Root.String()
	for _, c := range []struct {
		name, old, new string
		sheet, cell    string
	}{
		{"a reading", "Top of the bed: 72.4 degF (limits 58 – 70) OUTSIDE", "Top of the bed: 62.4 degF (limits 58 – 70)", "Monitoring", find("Monitoring", "72.4 degF")},
		{"a number", "<v>72.4</v>", "<v>62.4</v>", "Readings", find("Readings", "72.4")},
		{"a formula", "COUNT(&#39;Turning&#39;!$A$4:$A$11)", "5", "Cover", find("Cover", "Turning")},
		{"a leaf hash", leaf, strings.Repeat("0", 64), "Leaves", "G6"},
		{"an entry's id", id, "0197f2a4-1c5e-7b3a-9d2e-ffffffffffff", "Leaves", "B7"},
		{"the tree head", root, strings.Replace(root, root[:4], "AAAA", 1), "Proof", "C7"},
		{"the signature", "— " + origin + " n", "— " + origin + " o", "Proof", ""},
		{"a reason", "A digit was left out.", "Typing mistake.", "Corrections", find("Corrections", "A digit")},
		{"a text made a number", "<c r=\"G4\" s=\"1\" t=\"inlineStr\"><is><t>LF-0417</t></is>", "<c r=\"G4\" s=\"1\"><v>417</v>", "Documents", "G4"},
	} {
		t.Run(c.name, func(t *testing.T) {
			n := 0
			bad := rezip(t, data, func(_ string, part []byte) []byte {
				n += bytes.Count(part, []byte(c.old))
				return bytes.ReplaceAll(part, []byte(c.old), []byte(c.new))
			})
			if n == 0 {
				t.Fatalf("the binder has no %q", c.old)
			}
			v := verdictOf(t, p, bad, p.book.Rows)
			if v.Same || len(v.Faults) == 0 {
				t.Fatal("the change was not found")
			}
			named := slices.ContainsFunc(v.Faults, func(f Fault) bool {
				return f.Sheet == c.sheet && (c.cell == "" || f.Cell == c.cell || c.name == "a formula" && strings.TrimLeft(f.Cell, "ABC") == strings.TrimLeft(c.cell, "ABC"))
			})
			if !named {
				t.Errorf("wanted %s!%s among %v", c.sheet, c.cell, v.Faults)
			}
		})
	}
}

func TestARowAddedOrTakenAwayIsNamed(t *testing.T) {
	p, in := filled(t)
	data := made(t, in)
	// the first missed row of the turning sheet, whatever it is, blanked out
	g := gridOf(t, data)
	row := ""
	for _, c := range g["Turning"] {
		if c.text == "missed" {
			row = strings.TrimLeft(c.name(), "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
		}
	}
	bad := rezip(t, data, func(name string, part []byte) []byte {
		if !bytes.Contains(part, []byte("<t>Turning</t>")) || !strings.Contains(name, "worksheets") {
			return part
		}
		from := bytes.Index(part, []byte(`<row r="`+row+`"`))
		to := from + bytes.Index(part[from:], []byte("</row>")) + len("</row>")
		return append(bytes.Clone(part[:from]), part[to:]...)
	})
	v := verdictOf(t, p, bad, p.book.Rows)
	if !slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Sheet == "Turning" && f.Cell == "G"+row && f.Says == "" }) {
		t.Errorf("the missing row %s is not named: %v", row, v.Faults)
	}
}

func TestAnotherJournalIsNamed(t *testing.T) {
	p, in := filled(t)
	data := made(t, in)

	t.Run("another plant's", func(t *testing.T) {
		other := newPlant(t, planText(t))
		for i := range 60 {
			other.admit(at("2026-03-03T12:00:00Z")+records.Instant(i), "nora", &records.Deviation{What: "Something else."})
		}
		v := verdictOf(t, p, data, other.book.Rows)
		var leaves, root bool
		for _, f := range v.Faults {
			leaves = leaves || f.Sheet == "Leaves"
			root = root || f.Sheet == "Proof" && f.Says == in.Stamp.Root.String()
		}
		if !leaves || !root {
			t.Errorf("faults: %v", v.Faults)
		}
	})
	t.Run("one that ends too soon", func(t *testing.T) {
		v := verdictOf(t, p, data, func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			return p.book.Rows(ctx, from, func(pos records.Position, row records.Row) error {
				if pos >= 40 {
					return nil
				}
				return visit(pos, row)
			})
		})
		if !slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Sheet == "Proof" && f.Says == "51" && strings.Contains(f.Should, "40") }) {
			t.Errorf("faults: %v", v.Faults)
		}
	})
	t.Run("one entry rewritten with its hash", func(t *testing.T) {
		v := verdictOf(t, p, data, func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			return p.book.Rows(ctx, from, func(pos records.Position, row records.Row) error {
				if pos == 10 {
					row.Bytes = bytes.ReplaceAll(row.Bytes, []byte("72.4"), []byte("62.4"))
					row.Leaf = ledger.LeafHash(row.Bytes)
				}
				return visit(pos, row)
			})
		})
		if !slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Sheet == "Leaves" && f.Cell == "G14" }) ||
			!slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Sheet == "Monitoring" && strings.Contains(f.Says, "72.4") }) {
			t.Errorf("faults: %v", v.Faults)
		}
	})
	t.Run("a damaged one", func(t *testing.T) {
		_, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)), func(ctx context.Context, from records.Position, visit func(records.Position, records.Row) error) error {
			return p.book.Rows(ctx, from, func(pos records.Position, row records.Row) error {
				if pos == 10 {
					row.Bytes[40] ^= 1
				}
				return visit(pos, row)
			})
		}, p.key, t.TempDir())
		if records.KindOf(err) != records.Corrupt || !strings.Contains(err.Error(), "position 10") {
			t.Errorf("got %v", err)
		}
	})
}

func TestAnotherKeyIsNamed(t *testing.T) {
	p, in := filled(t)
	_, other, err := ledger.GenerateKey(nil, origin)
	if err != nil {
		t.Fatal(err)
	}
	data := made(t, in)
	p.key = other
	v := verdictOf(t, p, data, p.book.Rows)
	if !slices.ContainsFunc(v.Faults, func(f Fault) bool { return f.Sheet == "Proof" && strings.Contains(f.Should, "signed by the plant") }) {
		t.Errorf("faults: %v", v.Faults)
	}
}

// A binder that another program has saved again is not the same bytes, and every cell of it still agrees.
func TestABinderSavedAgainByLibreOfficeStillAgrees(t *testing.T) {
	needs(t, "soffice")
	p, in := filled(t)
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "book.xlsx"), made(t, in), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("soffice", "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
		"--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", filepath.Join(dir, "out"), filepath.Join(dir, "book.xlsx"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	data, err := os.ReadFile(filepath.Join(dir, "out", "book.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	v := verdictOf(t, p, data, p.book.Rows)
	if v.Same || len(v.Faults) > 0 {
		t.Errorf("same bytes: %v; faults %v and %d more", v.Same, v.Faults, v.More)
	}
}

func TestWhatIsNoBinderIsRefused(t *testing.T) {
	p, _ := filled(t)
	var empty bytes.Buffer
	for name, data := range map[string][]byte{"nothing": {}, "text": []byte("hello"), "a zip": rezip(t, mustZip(t), func(_ string, b []byte) []byte { return b }), "empty": empty.Bytes()} {
		_, err := Verify(t.Context(), bytes.NewReader(data), int64(len(data)), p.book.Rows, p.key, t.TempDir())
		if records.KindOf(err) != records.Invalid {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// FuzzVerify changes one byte of a binder. It is a small one, of a day on which nothing happened: each check makes the whole binder once more,
// and what takes more than a second when it is told to stop, the fuzzer takes for hung.
func FuzzVerify(f *testing.F) {
	p := newPlant(f, planText(f))
	in := p.input("2026-03-02", "2026-03-02")
	data := made(f, in)
	f.Add(100, byte(1))
	f.Add(len(data)-30, byte(255))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, at int, with byte) {
		if at < 0 || at >= len(data) {
			t.Skip()
		}
		bad := bytes.Clone(data)
		bad[at] ^= with
		v, err := Verify(context.Background(), bytes.NewReader(bad), int64(len(bad)), p.book.Rows, p.key, dir)
		if err == nil && v.Same != (with == 0) {
			t.Errorf("a changed byte at %d passed for the same file", at)
		}
	})
}
