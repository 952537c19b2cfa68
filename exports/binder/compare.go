package binder

import (
	"context"
	"iter"
	"math"
	"strconv"
	"strings"
)

// compare holds every cell of the binder against the one made anew. Cells of the proof sheet that were found wrong before
// are not named twice.
func (c *checker) compare(ctx context.Context, should *workbook) error {
	have := map[string]sheetPart{}
	for _, s := range c.book.sheets {
		have[s.name] = s
	}
	named := map[[2]string]bool{}
	for _, f := range c.v.Faults {
		named[[2]string{f.Sheet, f.Cell}] = true
	}
	for _, s := range should.sheets {
		if err := ctx.Err(); err != nil {
			return err
		}
		is, ok := have[s.name]
		if !ok {
			c.v.fault(s.name, "", "there is no such sheet", "a sheet of this name")
			continue
		}
		delete(have, s.name)
		if err := c.compareSheet(is, s, should, named); err != nil {
			return err
		}
	}
	for _, s := range c.book.sheets {
		if _, extra := have[s.name]; extra {
			c.v.fault(s.name, "", "a sheet of this name", "no such sheet")
		}
	}
	return nil
}

func (c *checker) compareSheet(is, s sheetPart, should *workbook, named map[[2]string]bool) error {
	nextA, stopA := iter.Pull2(c.book.cells(is))
	defer stopA()
	nextB, stopB := iter.Pull2(should.cells(s))
	defer stopB()
	a, errA, okA := nextA()
	b, errB, okB := nextB()
	for okA || okB {
		if errA != nil {
			return notABinder(errA)
		}
		if errB != nil {
			return errB
		}
		order := 0
		switch {
		case !okB:
			order = -1
		case !okA:
			order = 1
		case a.row != b.row:
			order = a.row - b.row
		default:
			order = a.col - b.col
		}
		at, says, want := a, a.shown(), b.shown()
		switch {
		case order < 0:
			want = ""
		case order > 0:
			at, says = b, ""
		}
		c.v.Cells++
		if (order != 0 || !a.same(b)) && !named[[2]string{s.name, at.name()}] {
			c.v.fault(s.name, at.name(), says, want)
		}
		if order <= 0 {
			a, errA, okA = nextA()
		}
		if order >= 0 {
			b, errB, okB = nextB()
		}
	}
	return nil
}

// shown is the cell as a fault quotes it.
func (c cellValue) shown() string {
	if c.formula != "" {
		return "=" + c.formula + " → " + c.text
	}
	return c.text
}

// same says whether two cells say the same. Numbers may be spelled otherwise by another program; a formula may have
// lost or gained the quotes around a sheet's name.
func (c cellValue) same(d cellValue) bool {
	plain := strings.NewReplacer("'", "", " ", "")
	if c.formula != d.formula && plain.Replace(c.formula) != plain.Replace(d.formula) {
		return false
	}
	if c.text == d.text {
		return c.number == d.number || c.formula != ""
	}
	if !c.number || !d.number {
		return false
	}
	x, errX := strconv.ParseFloat(c.text, 64)
	y, errY := strconv.ParseFloat(d.text, 64)
	return errX == nil && errY == nil && math.Abs(x-y) <= 1e-12*max(math.Abs(x), math.Abs(y))
}
