package lineage

import (
	"io"
	"strconv"
	"strings"
)

// WriteThroughSheets writes a trace through several plants as a workbook: a page about it, the plants, what went from plant to plant with the
// rule by which handover and receipt were joined, what could be joined to nothing, and then the sheets that WriteSheets has, with the plant in
// front of every row. Masses are in the unit of the plant where the trace starts, so that they can be sorted and added up; dates are on the clock of the
// plant that wrote them.
func WriteThroughSheets(w io.Writer, t *Through) error {
	first := t.Legs[t.First].Form
	forms := make([]*Form, len(t.Legs))
	for i := range t.Legs {
		f := *t.Legs[i].Form
		f.Units = first.Units
		forms[i] = &f
	}
	return writeBook(w, first, t.Program, t.Heading, func(b *book) error {
		if err := b.aboutSheet(t.Heading, b.aboutThrough(t)); err != nil {
			return err
		}
		for _, sheet := range []table{b.plants(t, forms), b.crossings(t, forms), b.loose(t, forms)} {
			if err := b.write(sheet); err != nil {
				return err
			}
		}
		for k := range b.tables() {
			if err := b.write(b.together(t, forms, k)); err != nil {
				return err
			}
		}
		return nil
	})
}

func (b *book) aboutThrough(t *Through) []aboutLine {
	f, w := b.form, b.form.words
	var names []string
	for _, leg := range t.Legs {
		names = append(names, leg.Name+" ("+leg.Code+")")
	}
	lines := []aboutLine{{w["subject"], t.Heading, plain}, {w["moment"], b.serial(f.At), when}, {w["Plants"], strings.Join(names, "\n"), plain},
		{w["program"], f.stamp("program"), plain}, {w["made by"], f.stamp("made by"), plain}, {w["From plant to plant"], len(t.Crossings), plain}, {w["Without a counterpart"], len(t.Loose), plain}}
	for _, n := range append(t.Notes, w["Masses are in the unit of the plant where the trace starts; dates are on the clock of the plant that wrote them."],
		w["Shares and the mass accounted for are, at each plant, of the lots by which the trace comes into it."],
		w["What the records show; the certifier and the authority having jurisdiction judge."]) {
		lines = append(lines, aboutLine{"", n, plain})
	}
	return lines
}

func (b *book) plants(t *Through, forms []*Form) table {
	w := b.form.words
	out := table{name: w["Plants"], cols: []column{{w["code"], 12, plain}, {w["plant"], 26, plain}, {w["address"], 28, plain}, {w["clock"], 18, plain}, {w["Lots"], 7, whole}, {w["Mass accounted for"], 12, share}, {w["basis"], 16, plain}}}
	basis, rest := b.form.sums()
	for _, s := range append(basis, rest...) {
		out.cols = append(out.cols, column{s.name + " (" + b.form.Units + ")", 12, number})
	}
	out.cols = append(out.cols, column{w["why"], 34, plain}, column{w["origin"], 30, plain}, column{w["position"], 10, whole}, column{w["tree head"], 34, plain})
	for i, f := range forms {
		var accounted any
		if f.Account.Share != nil {
			accounted = *f.Account.Share
		}
		on := w["as is"]
		if f.Account.Basis == "dry" {
			on = w["on dry matter"]
		}
		var position any
		if n, err := strconv.ParseInt(f.stamp("position"), 10, 64); err == nil {
			position = n
		}
		row := []any{t.Legs[i].Code, t.Legs[i].Name, f.stamp("address"), f.Zone, len(f.Lots), accounted, on}
		basis, rest := f.sums()
		for _, s := range append(basis, rest...) {
			row = append(row, f.amount(s.mass))
		}
		out.rows = append(out.rows, append(row, strings.Join(f.notes(), "\n"), f.stamp("origin"), position, f.stamp("tree head")))
	}
	return out
}

// crossings has a row for every receipt that was joined to a handover.
func (b *book) crossings(t *Through, forms []*Form) table {
	w := b.form.words
	out := table{name: w["From plant to plant"], cols: []column{{w["number"], 8, whole}, {w["from"], 22, plain}, {w["lot"], 14, plain}, {w["shipped"], 16, when}, {b.unit("mass"), 12, number}, {w["papers"], 18, plain}, {w["entry"], 9, whole},
		{w["to"], 22, plain}, {w["received as"], 14, plain}, {w["lot as the receipt has it"], 16, plain}, {w["received"], 16, when}, {b.unit("mass"), 12, number}, {w["papers"], 18, plain}, {w["entry"], 9, whole},
		{w["how the lot is named"], 34, plain}, {w["rule by which they were joined"], 40, plain}, {w["handovers it could answer"], 10, whole}, {w["receipts of the handover"], 10, whole}, {w["masses differ"], 9, plain}, {w["estimate"], 9, plain}, {w["in words"], 60, plain}}}
	for n := range t.Crossings {
		c := &t.Crossings[n]
		from, to := forms[c.From], forms[c.To]
		out.rows = append(out.rows, []any{n + 1, t.Legs[c.From].Name, codes(c.Gave.Lots), from.serial(c.Gave.When), from.amount(c.Gave.Mass), strings.Join(c.Gave.Papers, "\n"), int64(c.Gave.Entry),
			t.Legs[c.To].Name, codes(c.Got.Lots), c.Got.TheirLot, to.serial(c.Got.When), to.amount(c.Got.Mass), strings.Join(c.Got.Papers, "\n"), int64(c.Got.Entry),
			c.Named, c.Rule, c.Choices, c.Receipts, from.truth(c.Differs), from.mark(c.Estimated), strings.Join(c.Says, " ")})
	}
	return out
}

// loose has a row for every handover to another plant, and receipt from one, that was joined to nothing.
func (b *book) loose(t *Through, forms []*Form) table {
	w := b.form.words
	out := table{name: w["Without a counterpart"], cols: []column{{w["kind"], 12, plain}, {w["from"], 22, plain}, {w["to"], 22, plain}, {w["recorded at"], 22, plain}, {w["lot"], 14, plain}, {w["lot as the receipt has it"], 16, plain},
		{w["date and time"], 16, when}, {b.unit("mass"), 12, number}, {w["papers"], 18, plain}, {w["entry"], 9, whole}, {w["why"], 70, plain}}}
	for i := range t.Loose {
		l := &t.Loose[i]
		f := forms[l.At]
		kind := w["received"]
		if l.Sent {
			kind = w["handed-over"]
		}
		out.rows = append(out.rows, []any{kind, l.FromName, l.ToName, t.Legs[l.At].Name, codes(l.Side.Lots), l.Side.TheirLot, f.serial(l.Side.When), f.amount(l.Side.Mass), strings.Join(l.Side.Papers, "\n"), int64(l.Side.Entry), l.Why})
	}
	return out
}

// together is the k-th sheet of all legs, with the plant in front.
func (b *book) together(t *Through, forms []*Form, k int) (out table) {
	w := b.form.words
	for i, f := range forms {
		leg := &book{form: f}
		part := leg.tables()[k]()
		if k == 0 {
			part.cols = append(part.cols, column{w["plants away"], 9, whole})
			for n := range part.rows {
				part.rows[n] = append(part.rows[n], t.Legs[i].Away[n])
			}
		}
		out.name, out.cols = part.name, append([]column{{w["plant code"], 12, plain}, {w["plant"], 22, plain}}, part.cols...)
		for _, row := range part.rows {
			out.rows = append(out.rows, append([]any{t.Legs[i].Code, t.Legs[i].Name}, row...))
		}
	}
	return out
}
