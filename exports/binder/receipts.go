package binder

import (
	"context"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// receipts has a row for each receipt: the particulars of 21 CFR 1.337(a), the certificate, seals and the vehicle.
func (b *builder) receipts(ctx context.Context, g *goods, w *written) (*table, error) {
	all := b.inPeriod(records.KindReceipt)
	if len(all) == 0 {
		return nil, nil
	}
	massHead, theirsHead, moisture := g.in(b.say("Mass")), g.in(b.say("Their mass")), b.say("Moisture %")
	t, err := b.table(b.say("Receipts"), b.say("Receipts: from whom, what, how much and in what it came (21 CFR 1.337), with certificate, seals and vehicle"), []column{
		{b.say("Position"), 8, whole}, {b.say("Lot"), 12, plain}, {b.say("Item, variety"), 10, plain}, {b.say("Status"), 9.5, plain}, {b.say("From whom"), 19, plain}, {b.say("Their lot"), 10, plain},
		{massHead, 10, mass}, {b.say("As written"), 10, plain}, {moisture, 8, number}, {g.in(b.say("Dry matter")), 10, mass},
		{theirsHead, 10, mass}, {b.say("Theirs as written"), 10, plain}, {b.say("Difference"), 9, mass}, {b.say("Packaging"), 9, plain},
		{b.say("Carrier and vehicle"), 20, plain}, {b.say("Seals"), 12, plain}, {b.say("Put into"), 11, plain}, {b.say("Certificate, look-up, last certified operation"), 20, plain},
		{b.say("Papers"), 10, plain}, {b.say("Released by"), 11, plain}, {b.say("Note"), 11, plain},
		{b.say("Person"), 11, plain}, {b.say("Done at"), 12.5, when}, {b.say("Written down at"), 12.5, when}, {b.say("Corrected by"), 8.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Receipt)
		p := b.planAt(r.Happened)
		b.entry(t, r)
		t.text(string(f.Lot))
		t.text(strings.TrimSpace(b.item(p, f.Item) + "\n" + f.Variety))
		t.text(b.status(f.Status))
		t.text(b.firm(p, f.Source))
		t.text(f.TheirLot)
		if err := t.weight(g, f.Weight, massHead, moisture); err != nil {
			return nil, err
		}
		if err := t.theirs(g, f.Theirs, f.Weight.Mass, massHead, theirsHead); err != nil {
			return nil, err
		}
		t.text(f.Packaging)
		t.text(b.vehicle(p, f.Vehicle, nil, true))
		t.text(b.seals(f.Vehicle))
		t.text(b.into(p, f.To, f.Via))
		t.text(b.certified(p, f, r))
		t.text(strings.Join(f.Papers, "\n"))
		t.text(f.ReleasedBy)
		t.text(f.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindReceipt, table: t, n: t.entries})
	return t, t.close(ctx)
}

// into is a station, and the stations goods ran through on the way there.
func (b *builder) into(p *plan.Plan, to records.StationCode, via []records.StationCode) string {
	s := b.names.at(p, to)
	if len(via) > 0 {
		s += "\n" + b.say("via") + " " + b.stationList(p, via)
	}
	return s
}

// certified is a receipt's certificate, when it was looked up at its issuer, and which certified operation had the goods last.
func (b *builder) certified(p *plan.Plan, f *records.Receipt, r *state.Record) string {
	out := []string{b.certificate(p, f.Certificate, r)}
	if f.LookedUp != nil {
		out = append(out, b.say("looked up")+" "+f.LookedUp.String())
	}
	if f.LastCertified != "" {
		out = append(out, b.say("last certified")+": "+b.partner(p, f.LastCertified))
	}
	return strings.TrimSpace(strings.Join(out, "\n"))
}

// certificate is a document and whether what is on file held on the day of an entry.
func (b *builder) certificate(p *plan.Plan, code records.DocumentCode, r *state.Record) string {
	if code == "" {
		return ""
	}
	name, held := string(code), b.say("NOT ON FILE")
	if d := p.Document(code); d != nil {
		name = d.Title
	}
	for _, d := range b.in.Report.State.Kind(records.KindDocument).Until(b.in.Report.At) {
		fact := d.Fact.(*records.Document)
		if fact.Code != code {
			continue
		}
		if fact.HoldsOn(p.Day(r.Happened)) {
			return name + "\n" + b.say("held that day") + ", " + b.say("position") + " " + b.cite(d.Position)
		}
		held = b.say("NOT VALID THAT DAY")
	}
	return name + "\n" + held
}

// moves has a row for each move from station to station.
func (b *builder) moves(ctx context.Context, g *goods, w *written) (*table, error) {
	all := b.inPeriod(records.KindMove)
	if len(all) == 0 {
		return nil, nil
	}
	massHead, moisture := g.in(b.say("Mass")), b.say("Moisture %")
	t, err := b.table(b.say("Moves"), b.say("Moves: from station to station, with what they ran through"), []column{
		{b.say("Position"), 9, whole}, {b.say("Lot"), 15, plain}, {b.say("Left"), 20, plain}, {b.say("Put into"), 22, plain},
		{massHead, 11, mass}, {b.say("As written"), 12, plain}, {moisture, 9, number}, {g.in(b.say("Dry matter")), 11, mass},
		{b.say("Nothing left there"), 8, plain}, {b.say("Note"), 20, plain},
		{b.say("Person"), 14, plain}, {b.say("Done at"), 12, when}, {b.say("Written down at"), 12, when}, {b.say("Corrected by"), 9.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Move)
		p := b.planAt(r.Happened)
		b.entry(t, r)
		t.text(string(f.Lot))
		t.text(b.names.at(p, f.From))
		t.text(b.into(p, f.To, f.Via))
		if err := t.weight(g, f.Weight, massHead, moisture); err != nil {
			return nil, err
		}
		t.text(b.yesNo(f.Last))
		t.text(f.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindMove, table: t, n: t.entries})
	return t, t.close(ctx)
}

// handovers has a row for each handover and each later confirmation of one: the particulars of 21 CFR 1.345(a) and who signed.
func (b *builder) handovers(ctx context.Context, g *goods, w *written) (*table, error) {
	all := b.inPeriod(records.KindHandover)
	if len(all) == 0 {
		return nil, nil
	}
	massHead, theirsHead, moisture := g.in(b.say("Mass")), g.in(b.say("Their mass")), b.say("Moisture %")
	t, err := b.table(b.say("Handovers"), b.say("Handovers: to whom, what, how much and in what it went (21 CFR 1.345), and who signed for it there"), []column{
		{b.say("Position"), 8, whole}, {b.say("Confirms"), 8, whole}, {b.say("Lot"), 15, plain}, {b.say("Item"), 11, plain}, {b.say("Status as handed over"), 9.5, plain},
		{b.say("To whom"), 20, plain}, {b.say("Use"), 8, plain}, {b.say("Left"), 11, plain},
		{massHead, 10, mass}, {b.say("As written"), 10, plain}, {moisture, 8, number}, {g.in(b.say("Dry matter")), 10, mass}, {b.say("Bags"), 6, whole},
		{theirsHead, 10, mass}, {b.say("Theirs as written"), 10, plain}, {b.say("Difference"), 9, mass},
		{b.say("Packaging"), 12, plain}, {b.say("Carrier and vehicle"), 18, plain}, {b.say("Seals"), 10, plain}, {b.say("Papers"), 9, plain},
		{b.say("Received by"), 16, plain}, {b.say("Confirmed by entries"), 9, plain}, {b.say("Note"), 10, plain},
		{b.say("Person"), 11, plain}, {b.say("Done at"), 12.5, when}, {b.say("Written down at"), 12.5, when}, {b.say("Corrected by"), 8.5, plain},
	})
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		f := r.Fact.(*records.Handover)
		p, tr := b.planAt(r.Happened), g.transfers[r]
		var portions []lots.Portion
		if tr != nil {
			portions = tr.Portions
		}
		b.entry(t, r)
		if pos, ok := b.in.Report.State.Find(f.Confirms); ok && !f.Confirms.IsZero() {
			t.whole(int64(pos))
			b.cited.add(pos)
		} else {
			t.blank()
		}
		t.text(g.lotText(f.Lot, portions, f.From))
		t.text(b.items(g, p, f.Lot, portions))
		t.text(b.status(f.Status))
		t.text(b.firm(p, f.To))
		t.text(b.use(f.Use))
		t.text(b.place(p, lots.Place{Station: f.From, Holder: f.FromHolder}))
		if err := t.weight(g, f.Weight, massHead, moisture); err != nil {
			return nil, err
		}
		if f.Bags > 0 {
			t.whole(int64(f.Bags))
		} else {
			t.blank()
		}
		signed := acceptances(f, tr)
		if err := t.theirs(g, theirMass(signed), f.Weight.Mass, massHead, theirsHead); err != nil {
			return nil, err
		}
		t.text(b.wrapping(f))
		if f.Confirms.IsZero() {
			t.text(b.vehicle(p, f.Vehicle, f.Checked, f.FromHolder == ""))
		} else {
			t.blank()
		}
		t.text(b.seals(f.Vehicle))
		t.text(strings.Join(f.Papers, "\n"))
		t.text(b.receivers(signed))
		if tr != nil {
			t.cite(tr.Confirms...)
		} else {
			t.blank()
		}
		t.text(f.Note)
		b.signed(t, r)
		if err := t.end(ctx); err != nil {
			return nil, err
		}
	}
	w.evidence = append(w.evidence, evidence{kind: records.KindHandover, table: t, n: t.entries})
	return t, t.close(ctx)
}

// acceptances are the other party's signatures, on the handover and on what confirms it.
func acceptances(f *records.Handover, tr *lots.Transfer) (out []*records.Acceptance) {
	if f.Received != nil {
		out = append(out, f.Received)
	}
	if tr != nil {
		for _, c := range tr.Confirms {
			if a := c.Fact.(*records.Handover).Received; a != nil {
				out = append(out, a)
			}
		}
	}
	return out
}

func theirMass(all []*records.Acceptance) *records.Mass {
	for _, a := range all {
		if a.Mass != nil {
			return a.Mass
		}
	}
	return nil
}

func (b *builder) receivers(all []*records.Acceptance) string {
	if len(all) == 0 {
		return b.say("NOT CONFIRMED")
	}
	var out []string
	for _, a := range all {
		s := a.By
		if a.At != 0 {
			s += ", " + b.clock(a.At)
		}
		if a.Signature != "" {
			s += ", " + b.say("signature drawn") + " " + a.Signature
		}
		out = append(out, s)
	}
	return strings.Join(out, "\n")
}

// wrapping is how goods went: packaging, container and the common name that goes with a by-product.
func (b *builder) wrapping(f *records.Handover) string {
	var out []string
	for _, s := range []string{f.Packaging, f.Container} {
		if s != "" {
			out = append(out, s)
		}
	}
	if f.Label != "" {
		out = append(out, b.say("label")+": "+f.Label)
	}
	return strings.Join(out, "\n")
}

// items are the items of the lots that were drawn on.
func (b *builder) items(g *goods, p *plan.Plan, named records.LotCode, portions []lots.Portion) string {
	var out []string
	seen := map[records.ItemCode]bool{}
	add := func(l *lots.Lot) {
		if l != nil && !seen[l.Item] {
			seen[l.Item] = true
			out = append(out, b.item(p, l.Item))
		}
	}
	for _, x := range portions {
		add(g.Lots[x.Lot])
	}
	if portions == nil {
		add(g.Find(named))
	}
	return strings.Join(out, "\n")
}
