package binder

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"iter"
	"path"
	"strconv"
	"strings"
)

// workbook reads back what a binder's sheets say, also after another program has saved it: values, and formulas with the
// values they came to. It reads nothing else of the format.
type workbook struct {
	parts  map[string]*zip.File
	sheets []sheetPart
	shared []string
}

type sheetPart struct{ name, path string }

// cellValue is a cell as read. A number is its text as it stands in the file; a truth is TRUE or FALSE.
type cellValue struct {
	row, col int // from 1
	text     string
	formula  string
	number   bool
}

func (c cellValue) name() string { return columnName(c.col) + itoa(c.row) }

// maxSheetBytes bounds what is unpacked of one part: a small file may claim to hold a great one.
const maxSheetBytes = 4 << 30

func openWorkbook(r io.ReaderAt, size int64) (*workbook, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("it is not a workbook: %w", err)
	}
	w := &workbook{parts: map[string]*zip.File{}}
	for _, f := range z.File {
		w.parts[f.Name] = f
	}
	var book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
			ID   string `xml:"http://schemas.openxmlformats.org/officeDocument/2006/relationships id,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		Rels []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	if err := errors.Join(w.decode("xl/workbook.xml", &book), w.decode("xl/_rels/workbook.xml.rels", &rels)); err != nil {
		return nil, err
	}
	for _, s := range book.Sheets {
		for _, r := range rels.Rels {
			if r.ID == s.ID {
				target := strings.TrimPrefix(r.Target, "/")
				if target == r.Target {
					target = path.Join("xl", target)
				}
				w.sheets = append(w.sheets, sheetPart{s.Name, target})
			}
		}
	}
	return w, w.strings()
}

func (w *workbook) open(name string) (io.ReadCloser, error) {
	f := w.parts[name]
	if f == nil {
		return nil, fmt.Errorf("it is not a workbook: it has no part %s", name)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("part %s: %w", name, err)
	}
	return struct {
		io.Reader
		io.Closer
	}{io.LimitReader(r, maxSheetBytes), r}, nil
}

func (w *workbook) decode(name string, into any) error {
	r, err := w.open(name)
	if err != nil {
		return err
	}
	defer r.Close()
	if err := xml.NewDecoder(r).Decode(into); err != nil {
		return fmt.Errorf("part %s: %w", name, err)
	}
	return nil
}

// runs is a text, which the format may hold in several runs.
type textRuns struct {
	T    []string `xml:"t"`
	Runs []struct {
		T string `xml:"t"`
	} `xml:"r"`
}

func (t *textRuns) String() string {
	s := strings.Join(t.T, "")
	for _, r := range t.Runs {
		s += r.T
	}
	return unescaped(s)
}

func (w *workbook) strings() error {
	if w.parts["xl/sharedStrings.xml"] == nil {
		return nil
	}
	var table struct {
		Items []textRuns `xml:"si"`
	}
	if err := w.decode("xl/sharedStrings.xml", &table); err != nil {
		return err
	}
	for i := range table.Items {
		w.shared = append(w.shared, table.Items[i].String())
	}
	return nil
}

// cells gives a sheet's cells that hold something, row by row. An error ends it.
func (w *workbook) cells(s sheetPart) iter.Seq2[cellValue, error] {
	return func(yield func(cellValue, error) bool) {
		r, err := w.open(s.path)
		if err != nil {
			yield(cellValue{}, err)
			return
		}
		defer r.Close()
		dec := xml.NewDecoder(r)
		for {
			tok, err := dec.RawToken()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				yield(cellValue{}, fmt.Errorf("sheet %q: %w", s.name, err))
				return
			}
			start, ok := tok.(xml.StartElement)
			if !ok || start.Name.Local != "c" {
				continue
			}
			c, err := w.cell(dec, start)
			if err != nil {
				yield(c, fmt.Errorf("sheet %q: %w", s.name, err))
				return
			}
			if (c.text != "" || c.formula != "") && !yield(c, nil) {
				return
			}
		}
	}
}

// cell reads one cell element by hand: a binder may have ten million.
func (w *workbook) cell(dec *xml.Decoder, start xml.StartElement) (c cellValue, err error) {
	kind := ""
	for _, a := range start.Attr {
		switch a.Name.Local {
		case "r":
			c.col, c.row = cellPlace(a.Value)
		case "t":
			kind = a.Value
		}
	}
	if c.row == 0 || c.col == 0 {
		return c, errors.New("a cell without a place")
	}
	var value, inline strings.Builder
	in, phonetic := "", false
	for {
		tok, err := dec.RawToken()
		if err != nil {
			return c, fmt.Errorf("cell %s: %w", c.name(), err)
		}
		switch t := tok.(type) {
		case xml.StartElement:
			in = t.Name.Local
			phonetic = phonetic || in == "rPh"
		case xml.CharData:
			switch {
			case phonetic:
			case in == "v":
				value.Write(t)
			case in == "f":
				c.formula += string(t)
			case in == "t":
				inline.Write(t)
			}
		case xml.EndElement:
			in = ""
			switch t.Name.Local {
			case "rPh":
				phonetic = false
			case "c":
				return c, w.settle(&c, kind, value.String(), inline.String())
			}
		}
	}
}

func (w *workbook) settle(c *cellValue, kind, value, inline string) error {
	switch kind {
	case "inlineStr":
		c.text = unescaped(inline)
	case "s":
		i, err := strconv.Atoi(value)
		if err != nil || i < 0 || i >= len(w.shared) {
			return fmt.Errorf("cell %s names the shared text %q, which is not there", c.name(), value)
		}
		c.text = w.shared[i]
	case "b":
		c.text = map[string]string{"1": "TRUE", "0": "FALSE"}[value]
	case "str":
		c.text = unescaped(value)
	default:
		c.text, c.number = value, kind == "" || kind == "n"
	}
	return nil
}

// unescaped undoes _xHHHH_, by which the format writes characters that XML does not have (ECMA-376 part 1, 22.9.2.19).
func unescaped(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if i+7 <= len(s) && s[i] == '_' && s[i+1] == 'x' && s[i+6] == '_' {
			if n, err := strconv.ParseUint(s[i+2:i+6], 16, 16); err == nil {
				b.WriteRune(rune(n))
				i += 6
				continue
			}
		}
		b.WriteByte(s[i])
	}
	return b.String()
}

// cellPlace reads a name like AB12; 0, 0 when it is none.
func cellPlace(name string) (col, row int) {
	i := 0
	for ; i < len(name) && name[i] >= 'A' && name[i] <= 'Z' && i < 3; i++ {
		col = col*26 + int(name[i]-'A') + 1
	}
	row, err := strconv.Atoi(name[i:])
	if err != nil || row < 1 {
		return 0, 0
	}
	return col, row
}

func columnName(col int) (s string) {
	for ; col > 0; col = (col - 1) / 26 {
		s = string(rune('A'+(col-1)%26)) + s
	}
	return s
}
