package lineage

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"grainward/exports/columns"
	"grainward/records"
)

// WriteText writes the trace to be read in a terminal or on paper.
func WriteText(w io.Writer, in Input) error {
	f, err := Flatten(in)
	if err != nil {
		return err
	}
	b := bufio.NewWriter(w)
	t := &text{w: b, f: f}
	t.head()
	if len(f.Lots) == 0 {
		t.line(f.words["No lot had to do with it by that moment."])
	} else {
		t.account()
		t.lots()
		t.paths()
		t.movements()
		t.consignees()
		t.stations()
		t.documents()
		t.holds()
	}
	t.line("")
	t.line(f.words["What the records show; the certifier and the authority having jurisdiction judge."])
	if err := cmp.Or(t.err, b.Flush()); err != nil {
		return fmt.Errorf("writing the trace: %w", err)
	}
	return nil
}

type text struct {
	w   *bufio.Writer // keeps the first error until Flush
	f   *Form
	err error // of a table
}

func (t *text) line(s string) {
	for _, part := range columns.Break(s, columns.Wide) {
		fmt.Fprintln(t.w, part)
	}
}

func (t *text) section(name string) {
	fmt.Fprintf(t.w, "\n%s\n%s\n", strings.ToUpper(name), strings.Repeat("─", utf8.RuneCountInString(name)))
}

func (t *text) head() {
	f := t.f
	t.line(f.heading())
	t.line(f.words["moment"] + " " + f.when(f.At) + " " + f.Zone)
	for _, s := range f.Stamp {
		if s.Value != "" && s.Name != "moment" {
			t.line(f.words[s.Name] + " " + s.Value)
		}
	}
	if f.Estimated {
		t.line(f.words["Figures marked est. rest on what a mixed station is computed to have given out."])
	}
	for _, c := range f.Cycles {
		t.line(f.words["These lots are recorded as made from themselves; look for a slip:"] + " " + codes(c))
	}
}

// heading says what was traced.
func (f *Form) heading() string {
	s := f.words["Trace"] + ": " + f.words[f.Subject.Of] + " " + f.Subject.Code
	if f.Subject.Bag > 0 {
		s += fmt.Sprintf(", %s %d", f.words["bag"], f.Subject.Bag)
	}
	if f.Subject.Of == "station" && (f.Subject.From != nil || f.Subject.To != nil) {
		s += ", "
		if f.Subject.From != nil {
			s += f.when(*f.Subject.From)
		}
		s += " .. "
		if f.Subject.To != nil {
			s += f.when(*f.Subject.To)
		}
	}
	return s + ", " + f.words[f.Direction]
}

func codes(ls []records.LotCode) string {
	out := make([]string, len(ls))
	for i, l := range ls {
		out[i] = string(l)
	}
	return strings.Join(out, ", ")
}

// sumRow is one line of the account.
type sumRow struct {
	name string
	mass Kg
}

// sums are the account's lines, those of the basis first.
func (f *Form) sums() (basis, rest []sumRow) {
	s := f.Account.Sums
	w := f.words
	basis = []sumRow{{w["came in"], s.Received}, {w["joined from other lots"], s.Joined}}
	rest = []sumRow{{w["on hand"], s.OnHand}, {w["handed over"], s.HandedOver}, {w["by-product"], s.ByProduct}, {w["samples kept or sent"], s.Samples},
		{w["destroyed"], s.Destroyed}, {w["process loss within its band"], s.Loss}, {w["loss without a band"], s.Unbanded}, {w["loss beyond its band"], s.Excess},
		{w["unexplained"], s.Unexplained}}
	return basis, rest
}

// accounted is the share in words.
func (f *Form) accounted() string {
	share := "–"
	if f.Account.Share != nil {
		share = percent(*f.Account.Share)
	}
	on := f.words["on dry matter"]
	if f.Account.Basis != "dry" {
		on = f.words["as is"]
	}
	if f.Account.Estimated {
		on += ", " + f.words["est."]
	}
	return share + " (" + on + ")"
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

func (t *text) account() {
	f := t.f
	t.section(f.words["Mass accounted for"])
	t.line(f.accounted())
	basis, rest := f.sums()
	rows := [][]string{}
	for _, r := range basis {
		rows = append(rows, []string{r.name, f.mass(r.mass)})
	}
	for _, r := range rest {
		if math.Abs(f.amount(r.mass)) >= 0.005 { // what would show as 0.00 is nothing to read about
			rows = append(rows, []string{"  " + r.name, f.mass(r.mass)})
		}
	}
	t.table(nil, "lr", rows)
	for _, n := range f.remarks() {
		t.line(n)
	}
}

// remarks are what has to be said about the account.
func (f *Form) remarks() (out []string) {
	a := &f.Account
	if len(a.Undried) > 0 {
		out = append(out, f.words["A moisture is missing, so this is not on dry matter:"]+" "+strings.Join(a.Undried, ", "))
	}
	if len(a.Unbanded) > 0 {
		out = append(out, f.words["The plan names no loss band for:"]+" "+strings.Join(a.Unbanded, ", "))
	}
	if a.Whole {
		out = append(out, f.words["Losses were held against the plan's band for the whole way from the grain."])
	}
	return out
}

// est marks an estimate.
func (f *Form) est(s string, is bool) string {
	if is {
		return s + " " + f.words["est."]
	}
	return s
}

// table writes columns side by side; align has a letter a column, l or r.
func (t *text) table(head []string, align string, rows [][]string) {
	if t.err == nil {
		t.err = columns.Write(t.w, head, align, rows)
	}
}

// heads looks column headings up.
func (f *Form) heads(names ...string) []string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = f.words[n]
	}
	return out
}

func (f *Form) status(s records.Status) string {
	if s == "" {
		return f.words["unknown"]
	}
	return f.words[string(s)]
}

func (t *text) lots() {
	f := t.f
	t.section(f.words["Lots"])
	rows := [][]string{}
	for i := range f.Lots {
		l := &f.Lots[i]
		var where []string
		for _, w := range l.Where {
			where = append(where, w.Title+" "+f.mass(w.Mass))
		}
		state := f.status(l.Status)
		if l.Held {
			state += ", " + f.words["held"]
		}
		rows = append(rows, []string{f.words[l.Role], steps(l), string(l.Code), l.Title, state, f.mass(l.Entered), f.mass(l.Standing), f.est(percent(l.Share), l.Estimated), strings.Join(where, "; ")})
	}
	t.table(f.heads("role", "steps", "lot", "item", "status", "entered", "standing", "share", "where"), "lrlllrrll", rows)
}

// steps is the distance from the subject: against the way of the goods with a minus.
func steps(l *Lot) string {
	switch {
	case l.Down != nil:
		return fmt.Sprint(*l.Down)
	case l.Up != nil && *l.Up > 0:
		return fmt.Sprint(-*l.Up)
	}
	return "0"
}

func (t *text) paths() {
	f := t.f
	if len(f.Paths) == 0 {
		return
	}
	t.section(f.words["Steps"])
	rows := [][]string{}
	for i := range f.Paths {
		p := &f.Paths[i]
		rows = append(rows, []string{f.when(p.When), string(p.From), "→ " + string(p.To), p.What, string(p.Station), f.est(f.mass(p.In), p.Estimated), f.mass(p.Out)})
	}
	t.table(f.heads("when", "from lot", "to lot", "process", "station", "in", "out"), "lllllrr", rows)
}

func (t *text) movements() {
	f := t.f
	if len(f.Movements) == 0 {
		return
	}
	t.section(f.words["Movements"])
	rows := [][]string{}
	for i := range f.Movements {
		m := &f.Movements[i]
		var by []string
		for _, a := range m.Accepted {
			if a.Drawn {
				a.By += " (" + f.words["signature drawn"] + ")"
			}
			by = append(by, a.By)
		}
		rows = append(rows, []string{f.when(m.When), f.words[m.Kind], string(m.Lot), f.est(f.mass(m.Mass), m.Estimated), m.From + " → " + m.To, f.words[string(m.Use)], m.TheirLot, strings.Join(by, ", ")})
	}
	t.table(f.heads("when", "kind", "lot", "mass", "where", "use", "supplier's lot", "accepted by"), "lllrllll", rows)
}

func (f *Form) truth(yes bool) string {
	if yes {
		return f.words["yes"]
	}
	return f.words["no"]
}

func (t *text) consignees() {
	f := t.f
	if len(f.Consigned) == 0 {
		return
	}
	t.section(f.words["Consignees"])
	rows := [][]string{}
	for i := range f.Consigned {
		c := &f.Consigned[i]
		rows = append(rows, []string{c.Name, f.truth(c.Direct), f.est(f.mass(c.Sent+c.Onward), c.Estimated), f.mass(c.Standing), codes(c.Lots), f.when(c.First), f.truth(c.Confirmed), f.contacts(f.partner(string(c.Partner)))})
	}
	t.table(f.heads("name", "direct", "received", "standing", "lot", "shipped", "confirmed", "contact"), "llrrllll", rows)
}

// contacts are the people at a partner; those who answer at any hour first.
func (f *Form) contacts(p Partner) string {
	var night, others []string
	for _, c := range p.Contacts {
		s := join(" ", c.Name, c.Phone, c.Email)
		if c.AtNight {
			night = append(night, s+" (24 h)")
		} else {
			others = append(others, join(" ", s, c.Hours))
		}
	}
	return strings.Join(append(night, others...), "; ")
}

func (t *text) stations() {
	f := t.f
	if len(f.Touches) == 0 {
		return
	}
	t.section(f.words["Stations"])
	rows := [][]string{}
	for i := range f.Touches {
		x := &f.Touches[i]
		var agents, people []string
		for _, a := range x.Agents {
			agents = appendNew(agents, string(a.Code))
		}
		for _, p := range x.People {
			people = append(people, p.Name)
		}
		rows = append(rows, []string{x.Title, string(x.Lot), f.when(x.From), f.until(x), f.cleaned(x.Before), f.cleaned(x.After), strings.Join(agents, ", "), strings.Join(people, ", ")})
	}
	t.table(f.heads("station", "lot", "from", "until", "clean-out before", "clean-out after", "agents", "people"), "llllllll", rows)
}

func appendNew(list []string, s string) []string {
	for _, have := range list {
		if have == s {
			return list
		}
	}
	return append(list, s)
}

func (f *Form) until(x *Touch) string {
	switch {
	case x.Purge:
		return f.words["purge"]
	case x.To == nil:
		return f.words["still there"]
	case *x.To == x.From:
		return f.words["passed"]
	}
	return f.when(*x.To)
}

func (f *Form) cleaned(c *Clean) string {
	if c == nil {
		return f.words["none"]
	}
	return f.when(c.Done) + " " + string(c.By)
}

func (t *text) documents() {
	f := t.f
	if len(f.Documents) == 0 {
		return
	}
	t.section(f.words["Documents"])
	rows := [][]string{}
	for i := range f.Documents {
		d := &f.Documents[i]
		valid := ""
		if d.For == "certificate" {
			valid = f.truth(d.Held)
		}
		filed := ""
		if d.Code != "" {
			filed = f.truth(d.OnFile)
		}
		rows = append(rows, []string{string(d.Lot), f.words[d.For], string(d.Code), d.Title, d.Issuer, d.Number, filed, valid, strings.Join(d.Results, "; ")})
	}
	t.table(f.heads("lot", "for", "code", "title", "issuer", "number", "on file", "valid that day", "values"), "lllllllll", rows)
}

func (t *text) holds() {
	f := t.f
	rows := [][]string{}
	for i := range f.Lots {
		for _, h := range f.Lots[i].Holds {
			rows = append(rows, []string{string(f.Lots[i].Code), f.when(h.From), f.held(&h), h.Why})
		}
	}
	if len(rows) == 0 {
		return
	}
	t.section(f.words["Holds"])
	t.table(f.heads("lot", "from", "until", "why"), "llll", rows)
}

// held is when a hold ended.
func (f *Form) held(h *Hold) string {
	switch {
	case h.Rejected:
		return f.words["rejected"]
	case h.To == nil:
		return f.words["stands"]
	}
	return f.when(*h.To)
}
