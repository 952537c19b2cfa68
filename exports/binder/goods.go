package binder

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// goods is what the sheets about lots are written from. A mass is shown as a number in the plant's unit; where somebody
// wrote it, the value as written, which is the exact one, stands beside it.
type goods struct {
	*audit.Goods             // at the binder's moment
	open, end    *lots.Floor // just before the period, and at its end
	unit         string
	per          float64 // micrograms in the unit
	transfers    map[*state.Record]*lots.Transfer
}

func (b *builder) newGoods() *goods {
	rep := b.in.Report
	g := &goods{Goods: rep.Goods, unit: "lb", per: 453_592_370, transfers: map[*state.Record]*lots.Transfer{}}
	if b.per.plan.Plant.Units == "kg" {
		g.unit, g.per = "kg", 1e9
	}
	g.open, g.end = b.floorAt(b.per.from-1), rep.Goods.Floor
	if b.per.to < rep.At {
		g.end = b.floorAt(b.per.to)
	}
	for i := range g.Transfers {
		g.transfers[g.Transfers[i].Record] = g.Transfers[i]
	}
	return g
}

// floorAt folds the floor at an earlier moment, with the clean-outs the audit found to have passed.
func (b *builder) floorAt(at records.Instant) *lots.Floor {
	var passed []lots.CleanOut
	for _, list := range b.in.Report.Goods.CleanOuts {
		for _, c := range list {
			if c.To <= at {
				passed = append(passed, c)
			}
		}
	}
	slices.SortFunc(passed, func(x, y lots.CleanOut) int {
		return cmp.Or(cmp.Compare(x.To, y.To), cmp.Compare(x.Record.Position, y.Record.Position))
	})
	return lots.Fold(b.in.Report.State, at, passed)
}

// goodsSheets writes the sheets about lots. One without rows is left out, and the cover names it.
func (b *builder) goodsSheets(ctx context.Context, g *goods, w *written) error {
	for _, next := range []struct {
		name  string
		write func() ([]*table, error)
	}{
		{b.say("Lots"), func() ([]*table, error) { return one(b.lotRegister(ctx, g)) }},
		{b.say("Receipts"), func() ([]*table, error) { return one(b.receipts(ctx, g, w)) }},
		{b.say("Moves"), func() ([]*table, error) { return one(b.moves(ctx, g, w)) }},
		{b.say("Processes"), func() ([]*table, error) { return b.processes(ctx, g, w) }},
		{b.say("Stations"), func() ([]*table, error) { return one(b.stations(ctx, g)) }},
		{b.say("Changeovers"), func() ([]*table, error) { return one(b.changeovers(ctx, g)) }},
		{b.say("Inventory"), func() ([]*table, error) { return one(b.inventory(ctx, g)) }},
		{b.say("Organic balance"), func() ([]*table, error) { return b.organic(ctx, g) }},
		{b.say("Handovers"), func() ([]*table, error) { return one(b.handovers(ctx, g, w)) }},
		{b.say("By-products"), func() ([]*table, error) { return one(b.byProducts(ctx, g)) }},
		{b.say("Counts"), func() ([]*table, error) { return one(b.counts(ctx, g, w)) }},
		{b.say("Holds"), func() ([]*table, error) { return one(b.holds(ctx, g, w)) }},
		{b.say("Results"), func() ([]*table, error) { return one(b.resultRows(ctx, g, w)) }},
		{b.say("Certificates"), func() ([]*table, error) { return one(b.certificates(ctx, g)) }},
		{b.say("Samples"), func() ([]*table, error) { return one(b.samples(ctx, g, w)) }},
		{b.say("Drills"), func() ([]*table, error) { return b.drills(ctx, g, w) }},
		{b.say("Worked traces"), func() ([]*table, error) { return one(b.workedTraces(ctx, g)) }},
	} {
		ts, err := next.write()
		if err != nil {
			return err
		}
		if len(ts) == 0 {
			w.absent = append(w.absent, next.name)
		}
		w.goods = append(w.goods, ts...)
	}
	return nil
}

func one(t *table, err error) ([]*table, error) {
	if t == nil || err != nil {
		return nil, err
	}
	return []*table{t}, nil
}

// in is a heading with the unit of the masses under it.
func (g *goods) in(head string) string { return head + " (" + g.unit + ")" }

func (g *goods) number(m records.Micrograms) float64 { return float64(m) / g.per }

// about is a mass within a sentence.
func (g *goods) about(m records.Micrograms) string {
	return fmt.Sprintf("%.1f %s", g.number(m), g.unit)
}

// exact is a mass as a number; one that can not be read is none.
func (g *goods) exact(m records.Mass) (records.Micrograms, bool) {
	ug, err := m.Micrograms()
	return ug, err == nil && m != records.Mass{}
}

// mass puts a mass as a number, and written the value as somebody wrote it.
func (t *table) mass(g *goods, m records.Micrograms) { t.number(g.number(m)) }

// weight puts a mass as a number, as written, its moisture, and the dry matter as a formula over the two cells.
func (t *table) weight(g *goods, w records.Weight, massHead, moistureHead string) error {
	m, ok := g.exact(w.Mass)
	if !ok {
		t.blank()
		t.blank()
	} else {
		t.mass(g, m)
		t.text(w.Mass.String())
	}
	if w.Moisture == nil {
		t.blank()
		t.blank()
		return nil
	}
	t.number(w.Moisture.Float())
	dry, known := lots.DryMatter(m, w.Moisture)
	if !ok || !known {
		t.blank()
		return nil
	}
	return t.formula(fmt.Sprintf("%s*(100-%s)/100", t.ref(massHead), t.ref(moistureHead)), g.number(dry))
}

// theirs puts another party's mass as a number, as written, and its difference from ours as a formula.
func (t *table) theirs(g *goods, m *records.Mass, ours records.Mass, oursHead, theirsHead string) error {
	if m == nil {
		t.blank()
		t.blank()
		t.blank()
		return nil
	}
	their, ok := g.exact(*m)
	if !ok {
		t.blank()
		t.text(m.String())
		t.blank()
		return nil
	}
	t.mass(g, their)
	t.text(m.String())
	our, ok := g.exact(ours)
	if !ok {
		t.blank()
		return nil
	}
	return t.formula(t.ref(theirsHead)+"-"+t.ref(oursHead), g.number(their)-g.number(our))
}

func (b *builder) item(p *plan.Plan, code records.ItemCode) string {
	if i := p.Item(code); i != nil {
		return i.Title.In(b.lang)
	}
	return string(code)
}

func (b *builder) partner(p *plan.Plan, code records.PartnerCode) string {
	if x := p.Partner(code); x != nil {
		return x.Name
	}
	return string(code)
}

// firm is a partner with address and telephone, as 21 CFR 1.337 and 1.345 ask.
func (b *builder) firm(p *plan.Plan, code records.PartnerCode) string {
	x := p.Partner(code)
	if x == nil {
		return string(code)
	}
	out := []string{x.Name}
	if x.Address != "" {
		out = append(out, x.Address)
	}
	for _, c := range x.Contacts {
		if c.Phone != "" {
			out = append(out, c.Phone)
			break
		}
	}
	return strings.Join(out, "\n")
}

func (b *builder) status(s records.Status) string {
	return b.say(map[records.Status]string{records.Organic100: "100 % organic", records.Organic: "organic", records.MadeWith: "made with organic",
		records.Conventional: "conventional"}[s])
}

func (b *builder) use(u records.Use) string {
	return b.say(map[records.Use]string{records.Sale: "sale", records.Storage: "storage", records.Feed: "animal feed", records.Compost: "compost",
		records.Landfill: "landfill", records.ForTest: "sample", records.Return: "return"}[u])
}

func (b *builder) place(p *plan.Plan, at lots.Place) string {
	switch {
	case at.Holder != "":
		return b.partner(p, at.Holder)
	case at == lots.Samples:
		return b.say("retained samples")
	}
	return b.names.at(p, at.Station)
}

func (b *builder) stationList(p *plan.Plan, codes []records.StationCode) string {
	out := make([]string, len(codes))
	for i, c := range codes {
		out[i] = b.names.at(p, c)
	}
	return strings.Join(out, ", ")
}

// vehicle is who carried goods, in what, and what was found when it was looked at; ours says that it was for us to look.
func (b *builder) vehicle(p *plan.Plan, v records.Vehicle, checked *bool, ours bool) string {
	var out []string
	if v.Carrier != "" {
		out = append(out, b.firm(p, v.Carrier))
	}
	if v.Number != "" {
		out = append(out, b.say("vehicle")+" "+v.Number)
	}
	if v.Clean != nil {
		out = append(out, b.say("clean")+": "+b.yesNo(*v.Clean))
	}
	if checked != nil {
		out = append(out, b.say("found fit")+": "+b.yesNo(*checked))
	}
	if v.Clean == nil && checked == nil && ours {
		out = append(out, b.say("NOBODY LOOKED"))
	}
	if v.LastLoad != "" {
		out = append(out, b.say("last load")+": "+v.LastLoad)
	}
	return strings.Join(out, "\n")
}

func (b *builder) seals(v records.Vehicle) string {
	var out []string
	for _, s := range v.Seals {
		switch {
		case s.Found == "":
			out = append(out, s.Papers+": "+b.say("on the papers only"))
		case s.Papers == "":
			out = append(out, s.Found+": "+b.say("found, not on the papers"))
		case strings.EqualFold(strings.TrimSpace(s.Papers), strings.TrimSpace(s.Found)):
			out = append(out, s.Papers+": "+b.say("same"))
		default:
			out = append(out, s.Papers+" / "+s.Found+": "+b.say("DIFFERENT"))
		}
	}
	return strings.Join(out, "\n")
}

// same begins a further row of an entry whose first row was counted.
func (t *table) same(r *state.Record) {
	t.text(itoa(int(r.Position)) + " " + t.b.say("(same)"))
}

// cite notes an entry the row speaks of and puts its position; none is a blank.
func (t *table) cite(rs ...*state.Record) {
	var all []records.Position
	for _, r := range rs {
		if r != nil {
			all = append(all, r.Position)
		}
	}
	slices.Sort(all)
	t.text(t.b.cite(slices.Compact(all)...))
}

// portions names the lots that left a mixed station, with what each is expected to have been of it.
func (g *goods) portions(all []lots.Portion, from records.StationCode) string {
	var out []string
	for _, p := range all {
		if p.Estimated && (from == "" || p.From.Station == from) {
			out = append(out, fmt.Sprintf("%s ≈ %s", g.Lots[p.Lot].Code, g.about(p.Mass)))
		}
	}
	return strings.Join(out, "\n")
}

// lotText is the lot an entry names, and those a mixed station is computed to have given.
func (g *goods) lotText(named records.LotCode, all []lots.Portion, from records.StationCode) string {
	est := g.portions(all, from)
	switch {
	case named == "" && est == "" && len(all) > 0:
		return string(g.Lots[all[0].Lot].Code)
	case est == "" || named != "" && len(all) == 1:
		return string(named)
	}
	return strings.TrimSpace(string(named) + "\n" + est)
}

// touched says whether a lot has to do with the period: it began or an entry about it happened in it, or it stood here before.
func (b *builder) touched(g *goods, l *lots.Lot) bool {
	if l.Begins > b.per.to {
		return false
	}
	if slices.ContainsFunc(l.Events, func(r *state.Record) bool { return b.per.holds(r.Happened) }) {
		return true
	}
	was := g.open.Find(l.Code)
	if was == nil {
		return false
	}
	for at := range was.At.Places() {
		if at.Holder == "" {
			return true
		}
	}
	return false
}
