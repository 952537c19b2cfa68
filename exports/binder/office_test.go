package binder

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// needs finds an outside program; without it the test is skipped, or fails where it has to be there.
func needs(t *testing.T, names ...string) {
	t.Helper()
	for _, name := range names {
		if _, err := exec.LookPath(name); err != nil {
			if os.Getenv("GRAINWARD_CI") != "" {
				t.Fatal(err)
			}
			t.Skip(name + " is not installed")
		}
	}
}

// recalculate makes LibreOffice work out every formula of a workbook it opens, whatever values the file has.
const recalculate = `<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>`

// sheetsByOffice gives each sheet as LibreOffice shows it, after it has worked out the formulas itself.
func sheetsByOffice(t *testing.T, data []byte) map[string][][]string {
	t.Helper()
	needs(t, "soffice")
	dir := t.TempDir()
	user := filepath.Join(dir, "profile", "user")
	if err := os.MkdirAll(user, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{filepath.Join(user, "registrymodifications.xcu"): []byte(recalculate), filepath.Join(dir, "book.xlsx"): data} {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("soffice", "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
		"--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1", "--outdir", dir, filepath.Join(dir, "book.xlsx"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "book-*.csv"))
	sheets := map[string][][]string{}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		r := csv.NewReader(f)
		r.FieldsPerRecord, r.LazyQuotes = -1, false
		rows, err := r.ReadAll()
		f.Close()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		sheets[strings.TrimSuffix(strings.TrimPrefix(filepath.Base(name), "book-"), ".csv")] = rows
	}
	return sheets
}

// forged is a binder whose formulas have the value 77777 in the file, so that only working them out gives the right ones.
func forged(t *testing.T, data []byte) []byte {
	t.Helper()
	cached := regexp.MustCompile(`</f><v>[^<]*</v>`)
	return rezip(t, data, func(name string, part []byte) []byte { return cached.ReplaceAll(part, []byte(`</f><v>77777</v>`)) })
}

// rezip writes an archive anew with changed parts.
func rezip(t *testing.T, data []byte, change func(name string, part []byte) []byte) []byte {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range r.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		part, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		to, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := to.Write(change(f.Name, part)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// LibreOffice is the program we did not write: it opens every sheet, works every formula out itself, and shows what we wrote.
func TestLibreOfficeShowsAndRecountsWhatWeWrote(t *testing.T) {
	for _, c := range []struct {
		name, lang string
		plant      func(testing.TB) (*plant, Input)
		limit      int
		formulas   int
	}{{"en", "en", filled, 0, 300}, {"es", "es", filled, 0, 300}, {"grain, en", "en", malted, 0, 500}, {"grain, es", "es", malted, 0, 500}, {"grain, split", "en", malted, 9, 500}} {
		t.Run(c.name, func(t *testing.T) {
			_, in := c.plant(t)
			in.Lang, in.RowLimit = c.lang, c.limit
			data := made(t, in)
			ours, theirs := gridOf(t, data), sheetsByOffice(t, forged(t, data))
			if len(ours) != len(theirs) {
				t.Errorf("we wrote %d sheets, LibreOffice shows %d", len(ours), len(theirs))
			}
			formulas := 0
			for sheet, cells := range ours {
				rows := theirs[sheet]
				shown := func(c cellValue) string {
					if c.row > len(rows) || c.col > len(rows[c.row-1]) {
						return ""
					}
					return rows[c.row-1][c.col-1]
				}
				for _, c := range cells {
					if c.formula != "" {
						formulas++
					}
					if got := shown(c); !agrees(c, got) {
						t.Errorf("%s!%s: we wrote %q (formula %q), LibreOffice shows %q", sheet, c.name(), c.text, clip(c.formula, 80), got)
					}
				}
				for r, row := range rows {
					for k, got := range row {
						if name := columnName(k+1) + itoa(r+1); got != "" && cells[name].text == "" {
							t.Errorf("%s!%s: we wrote nothing, LibreOffice shows %q", sheet, name, got)
						}
					}
				}
			}
			if formulas < c.formulas {
				t.Errorf("only %d formulas were compared", formulas)
			}
			t.Logf("%d formulas", formulas)
		})
	}
}

// agrees compares a cell with what is shown of it: a serial number may be shown as a date, to the second, and a share in percent.
func agrees(c cellValue, shown string) bool {
	if c.text == shown {
		return true
	}
	if !c.number {
		return false
	}
	v, err := strconv.ParseFloat(c.text, 64)
	if err != nil {
		return false
	}
	if part, ok := strings.CutSuffix(shown, "%"); ok {
		x, err := strconv.ParseFloat(part, 64)
		return err == nil && math.Abs(x/100-v) <= 1e-9*max(1, math.Abs(v))
	}
	if x, err := strconv.ParseFloat(shown, 64); err == nil {
		return math.Abs(x-v) <= 1e-9*max(1, math.Abs(v))
	}
	for _, layout := range []string{"2006-01-02 15:04:05", "2006-01-02"} {
		if at, err := time.Parse(layout, shown); err == nil {
			seconds := v*86400 - float64(at.Unix()) - epoch*86400
			return seconds > -0.6 && seconds < 0.6
		}
	}
	return false
}

func TestHostileTextsThroughLibreOffice(t *testing.T) {
	_, in := filled(t)
	rows := sheetsByOffice(t, made(t, in))["Deviations"]
	shown := map[string]bool{}
	for _, r := range rows {
		if len(r) > 1 {
			shown[r[1]] = true
		}
	}
	for _, h := range hostile {
		if !shown[visible(h)] {
			t.Errorf("%q is not shown as %q", h, visible(h))
		}
	}
}
