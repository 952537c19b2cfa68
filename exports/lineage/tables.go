package lineage

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"grainward/records"
)

// about is the first sheet: what this is, from which journal, and the account.
func (b *book) about() error {
	f := b.form
	lines := []aboutLine{{f.words["subject"], f.heading(), plain}, {f.words["moment"], b.serial(f.At), when}}
	for _, s := range f.Stamp {
		if s.Name != "moment" {
			lines = append(lines, aboutLine{f.words[s.Name], s.Value, plain})
		}
	}
	lines = append(lines, aboutLine{f.words["Mass accounted for"], f.accounted(), plain})
	basis, rest := f.sums()
	for _, s := range append(basis, rest...) {
		lines = append(lines, aboutLine{s.name + " (" + f.Units + ")", f.amount(s.mass), figure})
	}
	for _, n := range append(f.notes(), f.words["What the records show; the certifier and the authority having jurisdiction judge."]) {
		lines = append(lines, aboutLine{"", n, plain})
	}
	return b.aboutSheet(f.words["Lineage"], lines)
}

// notes are the remarks on the account, and what is odd about the trace as a whole.
func (f *Form) notes() []string {
	notes := f.remarks()
	if f.Estimated {
		notes = append(notes, f.words["Figures marked est. rest on what a mixed station is computed to have given out."])
	}
	for _, c := range f.Cycles {
		notes = append(notes, f.words["These lots are recorded as made from themselves; look for a slip:"]+" "+codes(c))
	}
	return notes
}

// aboutLine is a name and what it is.
type aboutLine struct {
	name  string
	value any
	look  look
}

// aboutSheet writes the first sheet.
func (b *book) aboutSheet(heading string, lines []aboutLine) error {
	name := b.form.words["About"]
	if err := b.f.SetSheetName("Sheet1", name); err != nil {
		return err
	}
	if err := b.f.SetCellStr(name, "A1", heading); err != nil {
		return err
	}
	if err := b.f.SetCellStyle(name, "A1", "A1", b.look[title]); err != nil {
		return err
	}
	for i, x := range lines {
		if err := b.aboutLine(name, i+2, x); err != nil {
			return err
		}
	}
	if err := b.f.SetColWidth(name, "A", "A", 34); err != nil {
		return err
	}
	if err := b.f.SetColWidth(name, "B", "B", 76); err != nil {
		return err
	}
	portrait, letter, one, auto, fit := "portrait", 1, 1, 0, true
	if err := b.f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &portrait, Size: &letter, FitToWidth: &one, FitToHeight: &auto}); err != nil {
		return err
	}
	return b.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit})
}

func (b *book) aboutLine(sheet string, row int, x aboutLine) error {
	a, c := fmt.Sprintf("A%d", row), fmt.Sprintf("B%d", row)
	if err := b.f.SetCellValue(sheet, a, x.name); err != nil {
		return err
	}
	if err := b.f.SetCellStyle(sheet, a, a, b.look[label]); err != nil {
		return err
	}
	var err error
	if s, ok := x.value.(string); ok { // never as a formula
		err = b.f.SetCellStr(sheet, c, cellText(s))
		if n := height([]column{{"", 70, plain}}, []any{s}); err == nil && n > 14 {
			err = b.f.SetRowHeight(sheet, row, n)
		}
	} else {
		err = b.f.SetCellValue(sheet, c, x.value)
	}
	if err != nil {
		return err
	}
	return b.f.SetCellStyle(sheet, c, c, b.look[x.look])
}

// unit is a heading over masses.
func (b *book) unit(name string) string { return b.form.words[name] + " (" + b.form.Units + ")" }

func (b *book) lots() table {
	f, w := b.form, b.form.words
	cols := []column{{w["lot"], 14, plain}, {w["role"], 12, plain}, {w["steps"], 7, whole}, {w["item"], 22, plain}, {w["status"], 14, plain}, {w["begins"], 16, when},
		{b.unit("entered"), 12, number}, {b.unit("used"), 12, number}, {b.unit("standing"), 12, number}, {b.unit("unexplained"), 12, number}, {b.unit("dry matter"), 12, number},
		{w["share"], 8, share}, {w["estimate"], 9, plain}, {w["where"], 34, plain}, {w["supplier's lot"], 16, plain}, {w["kiln date"], 11, day}, {w["best by"], 11, day}, {w["bags"], 7, whole},
		{w["held"], 9, plain}, {w["samples"], 9, whole}, {w["why"], 26, plain}}
	var rows [][]any
	for i := range f.Lots {
		l := &f.Lots[i]
		var where, why []string
		for _, x := range l.Where {
			where = append(where, x.Title+" "+f.mass(x.Mass))
		}
		for _, h := range l.Holds {
			why = append(why, h.Why+" ("+f.when(h.From)+" – "+f.held(&h)+")")
		}
		distance := 0
		switch {
		case l.Down != nil:
			distance = *l.Down
		case l.Up != nil:
			distance = -*l.Up
		}
		var dry, bags any
		if l.Dry != nil {
			dry = f.amount(*l.Dry)
		}
		if l.Bags > 0 {
			bags = l.Bags
		}
		rows = append(rows, []any{string(l.Code), w[l.Role], distance, l.Title, f.status(l.Status), b.serial(l.Begins), f.amount(l.Entered), f.amount(l.Used), f.amount(l.Standing),
			f.amount(l.Adjusted), dry, l.Share, f.mark(l.Estimated), strings.Join(where, "\n"), strings.Join(l.TheirLots, "\n"), dayOf(l.KilnDates), dayOf(l.BestBy), bags,
			f.truth(l.Held), l.Samples, strings.Join(why, "\n")})
	}
	return table{w["Lots"], cols, rows}
}

// mark is the mark of an estimate in a column of its own.
func (f *Form) mark(estimated bool) string {
	if estimated {
		return f.words["est."]
	}
	return ""
}

func (b *book) paths() table {
	f, w := b.form, b.form.words
	cols := []column{{w["when"], 16, when}, {w["from lot"], 14, plain}, {w["to lot"], 14, plain}, {w["process"], 16, plain}, {w["station"], 16, plain}, {b.unit("in"), 12, number},
		{w["estimate"], 9, plain}, {b.unit("out"), 12, number}, {w["entry"], 9, whole}}
	var rows [][]any
	for i := range f.Paths {
		p := &f.Paths[i]
		rows = append(rows, []any{b.serial(p.When), string(p.From), string(p.To), p.What, string(p.Station), f.amount(p.In), f.mark(p.Estimated), f.amount(p.Out), int64(p.Entry)})
	}
	return table{w["Steps"], cols, rows}
}

// accepted is the other party's last signature.
func (b *book) accepted(m *Movement) (by string, at, mass any) {
	if len(m.Accepted) == 0 {
		return "", nil, nil
	}
	a := m.Accepted[len(m.Accepted)-1]
	if a.Mass != nil {
		mass = b.form.amount(*a.Mass)
	}
	if a.Drawn {
		a.By += " (" + b.form.words["signature drawn"] + ")"
	}
	return a.By, b.serial(a.At), mass
}

func (b *book) movements() table {
	f, w := b.form, b.form.words
	cols := []column{{w["date and time"], 16, when}, {w["kind"], 12, plain}, {w["lot"], 14, plain}, {w["item"], 20, plain}, {w["status"], 14, plain}, {b.unit("mass"), 12, number}, {w["estimate"], 9, plain},
		{w["bags"], 7, whole}, {w["from"], 22, plain}, {w["to"], 22, plain}, {w["use"], 10, plain}, {w["supplier's lot"], 16, plain}, {w["packaging"], 14, plain}, {w["carrier"], 18, plain},
		{w["vehicle"], 12, plain}, {w["papers"], 18, plain}, {w["signed by"], 10, plain}, {w["accepted by"], 14, plain}, {w["accepted on"], 16, when}, {b.unit("accepted mass"), 12, number}, {w["entry"], 9, whole}}
	var rows [][]any
	for i := range f.Movements {
		m := &f.Movements[i]
		by, at, mass := b.accepted(m)
		rows = append(rows, []any{b.serial(m.When), w[m.Kind], string(m.Lot), f.lot(m.Lot).Title, w[string(m.Status)], f.amount(m.Mass), f.mark(m.Estimated), some(m.Bags),
			f.place(m.From, m.Kind != "handed-over"), f.place(m.To, m.Kind != "received"), w[string(m.Use)], m.TheirLot, m.Packaging, f.place(string(m.Carrier), true), m.Vehicle,
			strings.Join(m.Papers, "\n"), string(m.Signed), by, at, mass, int64(m.Entry)})
	}
	return table{w["Movements"], cols, rows}
}

// some is a number that may be unknown.
func some(n int) any {
	if n == 0 {
		return nil
	}
	return n
}

// place is a partner's name, or a station's code.
func (f *Form) place(code string, partner bool) string {
	if code == "" || !partner {
		return code
	}
	return f.partner(code).Name
}

// consignees has a row for every shipment of the subject and what was made of it: the list of direct accounts that FDA's
// guidance on recalls asks for, sortable, with lots, dates, quantities and the address shipped to.
func (b *book) consignees() table {
	f, w := b.form, b.form.words
	cols := []column{{w["code"], 12, plain}, {w["name"], 24, plain}, {w["ship-to address"], 28, plain}, {w["contact"], 18, plain}, {w["phone"], 15, plain}, {w["e-mail"], 24, plain}, {w["24 h contact"], 24, plain},
		{w["direct"], 7, plain}, {w["sent by"], 20, plain}, {w["shipped"], 16, when}, {w["lot"], 14, plain}, {w["item"], 20, plain}, {w["status"], 14, plain}, {w["best by"], 11, day}, {b.unit("mass"), 12, number}, {w["estimate"], 9, plain},
		{w["bags"], 7, whole}, {w["packaging"], 14, plain}, {w["use"], 10, plain}, {w["papers"], 16, plain}, {w["carrier"], 18, plain}, {w["accepted by"], 14, plain}, {w["accepted on"], 16, when}, {w["entry"], 9, whole}}
	var rows [][]any
	for i := range f.Movements {
		m := &f.Movements[i]
		if m.Kind == "received" || !m.Forward {
			continue
		}
		p, l := f.partner(m.To), f.lot(m.Lot)
		var c Contact
		var night []string
		for _, x := range p.Contacts {
			if c.Name == "" {
				c = x
			}
			if x.AtNight {
				night = append(night, join(" ", x.Name, x.Phone, x.Email))
			}
		}
		by, at, _ := b.accepted(m)
		rows = append(rows, []any{string(p.Code), p.Name, p.Address, c.Name, c.Phone, c.Email, strings.Join(night, "\n"), f.truth(m.Kind != "onward"), f.place(m.From, m.Kind == "onward"), b.serial(m.When),
			string(m.Lot), l.Title, w[string(m.Status)], dayOf(l.BestBy), f.amount(m.Mass), f.mark(m.Estimated), some(m.Bags), m.Packaging, w[string(m.Use)], strings.Join(m.Papers, "\n"), f.place(string(m.Carrier), true), by, at, int64(m.Entry)})
	}
	return table{w["Consignees"], cols, rows}
}

func (b *book) stations() table {
	f, w := b.form, b.form.words
	cols := []column{{w["station"], 22, plain}, {w["code"], 14, plain}, {w["lot"], 14, plain}, {w["from"], 16, when}, {w["until"], 16, when}, {w["kind"], 11, plain}, {w["clean-out before"], 16, when}, {w["by"], 9, plain}, {w["clean-out after"], 16, when}, {w["by"], 9, plain},
		{w["agents"], 24, plain}, {w["people"], 28, plain}, {w["entry"], 9, whole}}
	var rows [][]any
	for i := range f.Touches {
		x := &f.Touches[i]
		var until, before, after any
		kind, beforeBy, afterBy := "", records.PersonCode(""), records.PersonCode("")
		if x.To != nil {
			until = b.serial(*x.To)
		}
		if x.To == nil || *x.To == x.From || x.Purge {
			kind = f.until(x)
		}
		if x.Before != nil {
			before, beforeBy = b.serial(x.Before.Done), x.Before.By
		}
		if x.After != nil {
			after, afterBy = b.serial(x.After.Done), x.After.By
		}
		var agents, people []string
		for _, a := range x.Agents {
			agents = appendNew(agents, join(" ", a.Title, a.Lot, a.Strength))
		}
		for _, p := range x.People {
			people = append(people, p.Name)
		}
		rows = append(rows, []any{x.Title, string(x.Station), string(x.Lot), b.serial(x.From), until, kind, before, string(beforeBy), after, string(afterBy),
			strings.Join(agents, "\n"), strings.Join(people, ", "), int64(x.Entry)})
	}
	return table{w["Stations"], cols, rows}
}

func (b *book) documents() table {
	f, w := b.form, b.form.words
	cols := []column{{w["lot"], 14, plain}, {w["for"], 11, plain}, {w["when"], 16, when}, {w["code"], 18, plain}, {w["title"], 30, plain}, {w["type"], 14, plain}, {w["issuer"], 22, plain}, {w["number"], 16, plain},
		{w["on file"], 8, plain}, {w["valid that day"], 10, plain}, {w["values"], 30, plain}, {"SHA-256", 34, plain}, {w["entry"], 9, whole}}
	var rows [][]any
	for i := range f.Documents {
		d := &f.Documents[i]
		filed, valid := "", ""
		if d.Code != "" {
			filed = f.truth(d.OnFile)
		}
		if d.For == "certificate" {
			valid = f.truth(d.Held)
		}
		rows = append(rows, []any{string(d.Lot), w[d.For], b.serial(d.When), string(d.Code), d.Title, d.Type, d.Issuer, d.Number, filed, valid, strings.Join(d.Results, "\n"), d.SHA256, int64(d.Entry)})
	}
	return table{w["Documents"], cols, rows}
}
