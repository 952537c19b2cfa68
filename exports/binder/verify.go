package binder

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"

	"grainward/audit"
	"grainward/exports"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/state"
)

// Verdict is what a binder came to when it was held against a journal.
type Verdict struct {
	Stamp    exports.Stamp // as the binder gives it
	From, To calendar.Date
	Leaves   int     // rows of the sheet of leaves that were checked
	Cells    int     // cells that were compared
	Same     bool    // the file is byte for byte the one the journal gives
	Faults   []Fault // at most mostFaults
	More     int     // faults beyond those
}

// Fault is one thing in a binder that is not so by the journal.
type Fault struct {
	Sheet, Cell string
	Says        string // the binder
	Should      string // the journal, or what would be right
}

// String is the fault as a sentence.
func (f Fault) String() string {
	where := f.Sheet
	if f.Cell != "" {
		where += "!" + f.Cell
	}
	return fmt.Sprintf("%s says %q; by the journal it is %q", where, clip(f.Says, 120), clip(f.Should, 120))
}

const mostFaults = 200

func (v *Verdict) fault(sheet, cell, says, should string) {
	if len(v.Faults) == mostFaults {
		v.More++
		return
	}
	v.Faults = append(v.Faults, Fault{sheet, cell, says, should})
}

// Verify holds a binder against a journal: the signature on its tree head with the plant's key, the tree head and every leaf
// against the stored rows, and then every cell against a binder made anew from the journal's first entries at the same
// moment. What differs is in the verdict; an error means that nothing could be said.
//
// journal is read once from its beginning. tempDir holds the new binder while it is compared; empty means the system's.
func Verify(ctx context.Context, r io.ReaderAt, size int64, journal Journal, verifierKey, tempDir string) (*Verdict, error) {
	book, err := openWorkbook(r, size)
	if err != nil {
		return nil, notABinder(err)
	}
	c := &checker{v: &Verdict{}, book: book, dir: tempDir, key: verifierKey}
	if err := c.claims(); err != nil {
		return nil, notABinder(err)
	}
	if err := c.replay(ctx, journal); err != nil {
		return nil, err
	}
	c.head()
	if err := c.leafRows(); err != nil {
		return nil, err
	}
	if c.short {
		return c.v, nil // the journal does not reach far enough to make the binder from
	}
	return c.v, c.rebuild(ctx, r, size)
}

func notABinder(err error) error {
	return &records.Error{Kind: records.Invalid, What: "this is not a binder that can be checked", Err: err, Do: "Give the xlsx file as `grainward binder` wrote it."}
}

// checker is one binder being checked.
type checker struct {
	v     *Verdict
	book  *workbook
	dir   string
	key   string
	lang  string
	limit int

	proofSheet, leafSheet sheetPart
	cells                 map[string]string // of the proof sheet's values, by key: their cell's name

	st    *state.State
	tree  ledger.Tree
	short bool
}

func (c *checker) sheet(english string) (sheetPart, bool) {
	for _, s := range c.book.sheets {
		if s.name == english || s.name == spanish[english] {
			return s, true
		}
	}
	return sheetPart{}, false
}

// claims reads what the binder says it was made from.
func (c *checker) claims() error {
	var ok bool
	if c.proofSheet, ok = c.sheet("Proof"); !ok {
		return errors.New("it has no sheet Proof")
	}
	if c.leafSheet, ok = c.sheet("Leaves"); !ok {
		return errors.New("it has no sheet Leaves")
	}
	values, checkpoint := map[string]string{}, map[int]string{}
	c.cells = map[string]string{}
	key, keyRow, last := "", 0, 0
	for cell, err := range c.book.cells(c.proofSheet) {
		if err != nil {
			return err
		}
		switch {
		case cell.col == 1:
			key, keyRow = cell.text, cell.row
			if key == keyCheckpoint {
				checkpoint[cell.row], last = "", cell.row
			}
		case cell.col != 3 || cell.row != keyRow:
		case key == keyCheckpoint:
			checkpoint[cell.row] = cell.text
			c.cells[key] = "C" + itoa(cell.row)
		case values[key] == "":
			values[key] = cell.text
			c.cells[key] = cell.name()
		}
	}
	var lines []string
	for row := last - len(checkpoint) + 1; row <= last; row++ {
		lines = append(lines, checkpoint[row])
	}
	return c.parse(values, strings.Join(lines, "\n"))
}

func (c *checker) parse(values map[string]string, checkpoint string) error {
	s := &c.v.Stamp
	s.Plant, s.Address, s.Origin = values[keyPlant], values[keyAddress], values[keyOrigin]
	s.Program, s.MadeBy, s.Checkpoint = values[keyProgram], values[keyMadeBy], []byte(checkpoint)
	s.VerifierKey = values[keyKey]
	c.lang = values[keyLang]
	if values[keyLayout] != itoa(Layout) {
		return fmt.Errorf("its layout is version %q, and this program knows %d: check it with the program that made it (%s)", values[keyLayout], Layout, s.Program)
	}
	size, err := strconv.ParseInt(values[keySize], 10, 64)
	s.Size = records.Position(size)
	errs := []error{err}
	s.At, err = records.ParseInstant(values[keyMoment])
	errs = append(errs, err)
	c.v.From, err = calendar.ParseDate(values[keyFrom])
	errs = append(errs, err)
	c.v.To, err = calendar.ParseDate(values[keyTo])
	errs = append(errs, err)
	c.limit, err = strconv.Atoi(values[keyLimit])
	errs = append(errs, err)
	if root, ok := parseRoot(values[keyRoot]); ok {
		s.Root = root
	} else {
		errs = append(errs, fmt.Errorf("tree head %q is not 32 bytes in base64", values[keyRoot]))
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("sheet %s: %w", c.proofSheet.name, err)
	}
	return nil
}

func parseRoot(text string) (ledger.Hash, bool) {
	c, err := ledger.ParseCheckpoint("x\n1\n" + text + "\n")
	return c.Root, err == nil
}

// replay folds the journal's first entries, as many as the binder was made from.
func (c *checker) replay(ctx context.Context, journal Journal) error {
	c.st = state.New()
	want, enough := c.v.Stamp.Size, errors.New("read enough")
	err := journal(ctx, 0, func(pos records.Position, row records.Row) error {
		if pos >= want {
			return enough
		}
		if ledger.LeafHash(row.Bytes) != row.Leaf {
			return &records.Error{Kind: records.Corrupt, What: fmt.Sprintf("the entry at position %d is not what was written", pos), Do: "Run `grainward verify` on the journal first."}
		}
		e, err := records.Parse(row.Bytes)
		if err != nil {
			return fmt.Errorf("the entry at position %d: %w", pos, err)
		}
		c.st.Apply(pos, e)
		c.tree.Append(row.Leaf)
		return nil
	})
	if err != nil && !errors.Is(err, enough) {
		return err
	}
	if c.st.Size() < want {
		c.short = true
		c.v.fault(c.proofSheet.name, c.cells[keySize], fmt.Sprint(want), fmt.Sprintf("at most %d, the entries this journal holds", c.st.Size()))
	}
	return nil
}

// head checks the signature and that it is over this journal's tree head.
func (c *checker) head() {
	s, sheet := &c.v.Stamp, c.proofSheet.name
	if !c.short && c.tree.Root() != s.Root {
		c.v.fault(sheet, c.cells[keyRoot], s.Root.String(), c.tree.Root().String())
	}
	if !s.Signed() {
		c.v.fault(sheet, "", "no checkpoint", "a tree head signed by the plant")
		return
	}
	signed, err := ledger.Open(s.Checkpoint, c.key)
	switch {
	case err != nil:
		c.v.fault(sheet, c.cells[keyCheckpoint], string(s.Checkpoint), "a checkpoint signed by the plant: "+err.Error())
	case signed.Origin != s.Origin || signed.Size != int64(s.Size) || signed.Root != s.Root:
		c.v.fault(sheet, c.cells[keyCheckpoint], fmt.Sprintf("signed: %s %d %s", signed.Origin, signed.Size, signed.Root), fmt.Sprintf("%s %d %s", s.Origin, s.Size, s.Root))
	}
}

// leafRows checks position, id and leaf hash of every row of the sheets of leaves.
func (c *checker) leafRows() error {
	for _, s := range c.book.sheets {
		if s.name != c.leafSheet.name && !strings.HasPrefix(s.name, c.leafSheet.name+" (") {
			continue
		}
		var row [8]cellValue
		check := func() {
			if row[1].row > headRows {
				c.leafRow(s.name, row)
			}
			row = [8]cellValue{}
		}
		for cell, err := range c.book.cells(s) {
			if err != nil {
				return notABinder(err)
			}
			if cell.row != max(row[1].row, row[2].row, row[7].row) {
				check()
			}
			if cell.col < len(row) {
				row[cell.col] = cell
			}
		}
		check()
	}
	return nil
}

func (c *checker) leafRow(sheet string, row [8]cellValue) {
	c.v.Leaves++
	n, err := strconv.ParseInt(row[1].text, 10, 64)
	pos := records.Position(n)
	r := c.st.First(pos)
	if err != nil || r == nil {
		c.v.fault(sheet, row[1].name(), row[1].text, fmt.Sprintf("a position from 0 to %d", c.st.Size()-1))
		return
	}
	at := func(col int) string { return columnName(col) + itoa(row[1].row) }
	if id := r.ID.String(); row[2].text != id {
		c.v.fault(sheet, at(2), row[2].text, id)
	}
	leaf, err := c.tree.Leaf(n)
	if should := hex.EncodeToString(leaf[:]); err != nil || row[7].text != should {
		c.v.fault(sheet, at(7), row[7].text, should)
	}
}

// rebuild makes the binder anew and compares the two, cell by cell where their parts differ.
func (c *checker) rebuild(ctx context.Context, r io.ReaderAt, size int64) (err error) {
	s := c.v.Stamp
	s.Root = c.tree.Root()
	if _, err := ledger.Open(s.Checkpoint, c.key); err == nil {
		s.VerifierKey = c.key
	}
	if p := c.st.PlanAt(s.At); p != nil {
		s.Plant, s.Address = p.Plant.Name, p.Plant.Address
	}
	in := Input{Report: audit.At(c.st, s.At), From: c.v.From, To: c.v.To, Stamp: s, Lang: c.lang, RowLimit: c.limit, TempDir: c.dir, asClaimed: true,
		Leaf: func(pos records.Position) (ledger.Hash, error) { return c.tree.Leaf(int64(pos)) }}
	file, err := os.CreateTemp(c.dir, "grainward-verify-*.xlsx")
	if err != nil {
		return fmt.Errorf("room for making the binder anew: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close(), os.Remove(file.Name())) }()
	if err := Write(ctx, file, in, nil); err != nil {
		return fmt.Errorf("making the binder anew: %w", err)
	}
	length, err := file.Seek(0, io.SeekEnd)
	if err != nil {
		return err
	}
	if length == size {
		if c.v.Same, err = sameBytes(r, file, size); err != nil {
			return err
		}
	}
	should, err := openWorkbook(file, length)
	if err != nil {
		return err
	}
	return c.compare(ctx, should)
}

func sameBytes(a, b io.ReaderAt, size int64) (bool, error) {
	const chunk = 1 << 16
	x, y := make([]byte, chunk), make([]byte, chunk)
	for at := int64(0); at < size; at += chunk {
		n := min(chunk, size-at)
		_, errA := a.ReadAt(x[:n], at)
		_, errB := b.ReadAt(y[:n], at)
		for _, err := range []error{errA, errB} {
			if err != nil && !errors.Is(err, io.EOF) {
				return false, err
			}
		}
		if !slices.Equal(x[:n], y[:n]) {
			return false, nil
		}
	}
	return true, nil
}
