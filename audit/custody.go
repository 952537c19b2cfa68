package audit

import (
	"math"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// Link is one change of hands in a lot's custody: from whom, to whom, how much, and who signed on either side.
type Link struct {
	Record    *state.Record
	From, To  lots.Place
	Mass      records.Micrograms
	Estimated bool   // share of a mixed station
	Released  string // who signed for the side that gave; "" nobody
	Received  string // who signed for the side that took; "" nobody yet
}

// Chain is a lot's custody in the order in which it changed hands, as far as the floor goes. Between two links it was
// where the earlier one left it; inside the plant the contacts of the floor say where.
func Chain(f *lots.Floor, code records.LotCode) (out []Link) {
	lot := f.Index(code)
	for i := range f.Transfers {
		t := f.Transfers[i]
		for _, portion := range t.Portions {
			if portion.Lot != lot {
				continue
			}
			l := Link{Record: t.Record, From: t.From, To: t.To, Mass: portion.Mass, Estimated: portion.Estimated}
			if t.Receipt != nil {
				l.Released, l.Received = t.Receipt.ReleasedBy, string(t.Record.Performer())
			} else {
				l.Released = string(t.Record.Performer())
				if by, _ := acceptance(t); by != nil {
					l.Received = by.By
				}
			}
			out = append(out, l)
		}
	}
	return out
}

// acceptance is the other party's signature under a handover, on it or on a later entry that confirms it, and the
// record it stands in; nil while there is none. A confirmation by somebody else, or of another lot, is none.
func acceptance(t *lots.Transfer) (*records.Acceptance, *state.Record) {
	if t.Handover.Received != nil {
		return t.Handover.Received, t.Record
	}
	for _, c := range t.Confirms {
		if h := c.Fact.(*records.Handover); confirmsIt(t.Handover, h) && h.Received != nil {
			return h.Received, c
		}
	}
	return nil, nil
}

func confirmsIt(was, c *records.Handover) bool {
	return c.To == was.To && (c.Lot == "" || was.Lot == "" || c.Lot == was.Lot)
}

// Days after which a handover that nobody confirmed is a note, a minor and a major finding (common practice, no source:
// a signed delivery note should be back within the week, and a quarter's accounts can not close on one a month old).
const (
	unconfirmedNote  = 7
	unconfirmedMinor = 14
	unconfirmedMajor = 30
)

// farOff is the share by which two parties' masses differ before it is no longer a matter of scales (common practice,
// no source).
const farOff = 0.05

// clocksDiffer is how far two parties' clocks may be apart, in milliseconds (common practice, no source).
const clocksDiffer = 3600 * 1000

// dayStart is when the nth day after that of an instant begins at the plant. Days are counted on the calendar: one of
// 23 hours is a day.
func dayStart(p *plan.Plan, at records.Instant, n int) records.Instant {
	return p.At(p.Day(at).AddDays(n), plan.DayTime{})
}

func custodyRules() []Rule {
	trail := []records.Clause{"7 CFR 205.103"}
	return slices.Concat(particularsRules(), []Rule{
		{Code: "receipt-unsigned", Severity: Minor, Clauses: trail, Says: says(
			"Nobody signed for {partner} when lot {lot} was taken over.",
			"Nadie firmó por {partner} cuando se recibió el lote {lot}.")},
		{Code: "unconfirmed", Severity: Note, Clauses: trail, Says: says(
			"Lot {lot} went to {partner} on {day}; after {days} days nobody there has confirmed it.",
			"El lote {lot} salió para {partner} el {day}; pasados {days} días nadie allí lo ha confirmado.")},
		{Code: "confirmed-other", Severity: Major, Clauses: trail, Says: says(
			"What {other} confirmed (lot {theirs}) is not what went to {partner} (lot {lot}).",
			"Lo que {other} confirmó (lote {theirs}) no es lo que salió para {partner} (lote {lot}).")},
		{Code: "received-early", Severity: Minor, Clauses: trail, Says: says(
			"{partner} signed for lot {lot} at {received}, before it left at {left}.",
			"{partner} firmó el lote {lot} a las {received}, antes de que saliera a las {left}.")},
		{Code: "mass-differs", Severity: Minor, Clauses: trail, Says: says(
			"Lot {lot}: {partner} has {theirs}, we have {ours}; the scales can not explain the difference.",
			"Lote {lot}: {partner} anota {theirs}, nosotros {ours}; las básculas no explican la diferencia.")},
		{Code: "seal-differs", Severity: Major, Clauses: trail, Says: says(
			"Lot {lot}, {partner}: the papers have seal {papers}, and seal {found} was found.",
			"Lote {lot}, {partner}: los papeles indican el precinto {papers} y se encontró el {found}.")},
		{Code: "seal-unread", Severity: Minor, Clauses: trail, Says: says(
			"Lot {lot} from {partner}: seal {seal} is either on the papers or on the vehicle, not on both.",
			"Lote {lot} de {partner}: el precinto {seal} consta en los papeles o en el vehículo, no en ambos.")},
		{Code: "vehicle-unchecked", Severity: Minor, Clauses: []records.Clause{"21 CFR 117.93"}, Says: says(
			"Lot {lot}, {partner}: nobody wrote down whether the vehicle or container was clean.",
			"Lote {lot}, {partner}: nadie anotó si el vehículo o contenedor estaba limpio.")},
		{Code: "vehicle-unclean", Severity: Major, Clauses: []records.Clause{"21 CFR 117.93"}, Says: says(
			"Lot {lot}, {partner}: the vehicle or container was found unfit and was used.",
			"Lote {lot}, {partner}: el vehículo o contenedor no era apto y se usó.")},
	}, assumptionRules(), byProductRules())
}

// custody is about one change of hands.
func (j *goodsJudge) custody(p *plan.Plan, t *lots.Transfer) {
	if t.Receipt != nil {
		j.receiptParticulars(p, t)
		j.certificates(p, t)
		j.receiptHands(p, t)
		return
	}
	j.handoverParticulars(p, t)
	j.statusNamed(p, t)
	j.handoverHands(p, t)
	j.feedOut(p, t)
}

// receiptHands is about the hands at our gate, on the way in.
func (j *goodsJudge) receiptHands(p *plan.Plan, t *lots.Transfer) {
	r, fact := t.Record, t.Receipt
	about := j.aboutTransfer(p, t)
	if fact.ReleasedBy == "" {
		j.find("receipt-unsigned", r.ID.String(), r.Happened, about.subject(), about.with(), r)
	}
	if fact.Theirs != nil {
		j.masses(p, t, fact.Weight, *fact.Theirs, r)
	}
	for i, s := range fact.Vehicle.Seals {
		papers, found := strings.TrimSpace(s.Papers), strings.TrimSpace(s.Found)
		switch {
		case papers == "" && found == "":
		case papers == "" || found == "":
			j.find("seal-unread", subID(r, i), r.Happened, about.subject(), about.with(word("seal", papers+found)), r)
		default:
			j.seal(i, about, papers, found, r)
		}
	}
	switch clean := fact.Vehicle.Clean; {
	case clean == nil:
		j.find("vehicle-unchecked", r.ID.String(), r.Happened, about.subject(), about.with(), r)
	case !*clean:
		j.find("vehicle-unclean", r.ID.String(), r.Happened, about.subject(), about.with(), r)
	}
}

func (j *goodsJudge) seal(n int, about about, papers, found string, r *state.Record) {
	if !strings.EqualFold(papers, found) {
		j.find("seal-differs", subID(r, n), r.Happened, about.subject(), about.with(word("papers", papers), word("found", found)), r)
	}
}

// handoverHands is about the hands on the other side: that they signed, for what, when and at what mass; and the
// vehicle. Goods that leave a warehouse leave it by vehicles that we do not see.
func (j *goodsJudge) handoverHands(p *plan.Plan, t *lots.Transfer) {
	r, fact := t.Record, t.Handover
	about := j.aboutTransfer(p, t)
	by, where := acceptance(t)
	if by == nil {
		j.unconfirmed(p, t, about)
	} else if by.At != 0 && by.At < r.Happened-clocksDiffer {
		j.find("received-early", r.ID.String(), r.Happened, about.subject(), about.with(moment("received", p, by.At), moment("left", p, r.Happened)), r, where)
	}
	if fact.Received != nil && fact.Received.Mass != nil {
		j.masses(p, t, fact.Weight, *fact.Received.Mass, r)
	}
	for _, c := range t.Confirms {
		h := c.Fact.(*records.Handover)
		switch {
		case !confirmsIt(fact, h):
			j.find("confirmed-other", c.ID.String(), c.Happened, about.subject(),
				about.with(word("other", partnerName(p, h.To)), word("theirs", orUnnamed(h.Lot))), r, c)
		case h.Received != nil && h.Received.Mass != nil:
			j.masses(p, t, fact.Weight, *h.Received.Mass, c)
		case h.Weight.Mass != (records.Mass{}):
			j.masses(p, t, fact.Weight, h.Weight.Mass, c)
		}
	}
	for i, s := range fact.Vehicle.Seals { // found is what the other side read; it may not be known yet
		if papers, found := strings.TrimSpace(s.Papers), strings.TrimSpace(s.Found); papers != "" && found != "" {
			j.seal(i, about, papers, found, r)
		}
	}
	if fact.FromHolder == "" {
		j.vehicleOut(p, t, about)
	}
}

func (j *goodsJudge) unconfirmed(p *plan.Plan, t *lots.Transfer, about about) {
	r := t.Record
	age := int(p.Day(j.f.At) - p.Day(r.Happened))
	if age < unconfirmedNote {
		return
	}
	fd := j.find("unconfirmed", r.ID.String(), dayStart(p, r.Happened, unconfirmedNote), about.subject(),
		about.with(word("day", p.Day(r.Happened).String()), count("days", age)), r)
	switch {
	case age >= unconfirmedMajor:
		fd.Severity = Major
	case age >= unconfirmedMinor:
		fd.Severity = Minor
	}
}

// masses compares ours with theirs. Ours has the uncertainty of the plan's scale, theirs, whose scale we do not know,
// the default of 0.5 %; a difference within twice both together is no finding.
func (j *goodsJudge) masses(p *plan.Plan, t *lots.Transfer, ours records.Weight, theirs records.Mass, by *state.Record) {
	a, errA := ours.Mass.Micrograms()
	b, errB := theirs.Micrograms()
	if errA != nil || errB != nil {
		return
	}
	differs := math.Abs(float64(a - b))
	if differs <= coverage*math.Hypot(massU(p, ours, a), defaultMassU*float64(b)) {
		return
	}
	about := j.aboutTransfer(p, t)
	fd := j.find("mass-differs", by.ID.String(), by.Happened, about.subject(), about.with(word("theirs", theirs.String()), word("ours", ours.Mass.String())), t.Record, by)
	if differs > farOff*float64(a) {
		fd.Severity = Major
	}
}

// vehicleOut is about what goods left our gate in. What is no food any more needs no clean vehicle; by-product for feed
// has its own law, and its container is examined by who hauls it (21 CFR 117.95(c), C18, seen).
func (j *goodsJudge) vehicleOut(p *plan.Plan, t *lots.Transfer, about about) {
	r, fact := t.Record, t.Handover
	if !isFood(fact.Use) {
		return
	}
	unfit := fact.Checked != nil && !*fact.Checked || fact.Vehicle.Clean != nil && !*fact.Vehicle.Clean
	unseen := fact.Checked == nil && fact.Vehicle.Clean == nil
	switch {
	case unfit:
		fd := j.find("vehicle-unclean", about.id(), r.Happened, about.subject(), about.with(), r)
		if fact.Use == records.Feed {
			fd.Clauses = []records.Clause{"21 CFR 117.95(c)"}
		}
	case unseen && fact.Use != records.Feed:
		j.find("vehicle-unchecked", about.id(), r.Happened, about.subject(), about.with(), r)
	case unseen && fact.Vehicle.Carrier != fact.To: // who hauls for themselves looks for themselves
		j.find("feed-unchecked", about.id(), r.Happened, about.subject(), about.with(), r)
	}
}

// isFood says whether goods handed over for a use are still food for people or animals.
func isFood(u records.Use) bool {
	switch u {
	case records.Sale, records.Storage, records.Feed, records.Return:
		return true
	}
	return false
}
