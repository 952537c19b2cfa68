package demomill

import (
	"cmp"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/plan"
)

//go:embed plan.yaml
var planText string

// Load is what the malt house handed over, as the papers that came with it say.
type Load struct {
	When   records.Instant
	Lot    records.LotCode
	Item   records.ItemCode // of the mill's plan: malt, wheat-malt, other-malt
	Status records.Status
	Pounds int
	Bags   int
	Papers []string
}

// Slips are what went wrong on purpose, for whoever shows the demo.
var Slips = []string{
	"one load was never written down at the mill",
	"one receipt names a lot that the malt house never handed over",
	"one load came three in a hundred lighter than it left",
	"some lots were typed in small letters, or with the number of a bag",
	"one bag went back to the malt house, which wrote nothing down",
}

// Write fills an empty journal with the mill's records up to a moment. The book's clock is to be now.
func Write(ctx context.Context, b *book.Book, now *records.Instant, loads []Load, until records.Instant) error {
	m, err := run(loads, until)
	if err != nil {
		return err
	}
	reviewed := records.Position(0)
	for rest := m.drafts; len(rest) > 0; {
		day, n := m.plan.Day(rest[0].Happened), 0
		for n < len(rest) && m.plan.Day(rest[n].Happened) == day {
			n++
		}
		*now = rest[n-1].Happened.Add(time.Minute)
		if _, err := b.Admit(ctx, rest[:n]...); err != nil {
			return fmt.Errorf("writing the demo mill's records of %s: %w", day, err)
		}
		rest = rest[n:]
		next := until
		if len(rest) > 0 {
			next = rest[0].Happened
		}
		at := m.at(day, 16, 30)
		if size := b.View().Head.Size; day.Weekday() == time.Friday && at < next && at <= until && size > reviewed {
			*now = max(*now, at)
			if _, err := b.Admit(ctx, m.entry(at, "jory", records.Verified, &records.Review{From: reviewed, To: size - 1})); err != nil {
				return fmt.Errorf("reviewing the demo mill's week: %w", err)
			}
			reviewed = size + 1
		}
	}
	return nil
}

type mill struct {
	plan   *plan.Plan
	until  records.Instant
	drafts []records.Entry
	n      int
	free   records.Instant // when the machine is
	before records.Status  // what ran last
	number map[calendar.Date]int
}

func run(loads []Load, until records.Instant) (*mill, error) {
	loads = slices.Clone(loads)
	slices.SortFunc(loads, func(a, b Load) int { return cmp.Or(cmp.Compare(a.When, b.When), cmp.Compare(a.Lot, b.Lot)) })
	since, err := calendar.ParseDate("2025-01-20")
	if err != nil {
		return nil, err
	}
	text := planText
	if len(loads) > 0 {
		zone, err := calendar.LoadZone("America/New_York")
		if err != nil {
			return nil, err
		}
		first := calendar.DateOf(loads[0].When.Time(), zone).AddDays(-7)
		text = strings.Replace(planText, "since: "+since.String(), "since: "+first.String(), 1)
		since = first
	}
	p, err := plan.Parse([]byte(text))
	if err != nil {
		return nil, fmt.Errorf("the demo mill's plan: %w", err)
	}
	m := &mill{plan: p, until: until, number: map[calendar.Date]int{}}
	sum := sha256.Sum256([]byte(text))
	m.add(m.at(since, 5, 0), "jory", records.Approved, &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:]), Note: "First plan"})
	m.papers(since)
	m.days(since)
	special := -1
	for i, l := range loads {
		if special < 0 && i >= len(loads)/2 && l.Item == "malt" {
			special = i
		}
		m.load(i, l, i == special)
	}
	slices.SortStableFunc(m.drafts, func(a, b records.Entry) int { return cmp.Compare(a.Happened, b.Happened) })
	return m, nil
}

func (m *mill) at(d calendar.Date, h, min int) records.Instant {
	return m.plan.At(d, plan.DayTime{Clock: calendar.Clock(h*3600 + min*60)})
}

// add writes an entry down, unless it is still to come.
func (m *mill) add(at records.Instant, by records.PersonCode, meaning records.Meaning, f records.Fact) records.EntryID {
	e := m.entry(at, by, meaning, f)
	if at < m.until {
		m.drafts = append(m.drafts, e)
	}
	return e.ID
}

// entry has the id (version 7, RFC 9562 section 5.7) that a device would have made then.
func (m *mill) entry(at records.Instant, by records.PersonCode, meaning records.Meaning, f records.Fact) records.Entry {
	m.n++
	sum := sha256.Sum256(binary.BigEndian.AppendUint64(nil, uint64(m.n)))
	var id records.EntryID
	copy(id[:], sum[:])
	binary.BigEndian.PutUint64(id[:8], uint64(at)<<16|0x7000|uint64(m.n)&0x0fff)
	id[8] = id[8]&0x3f | 0x80
	return records.Entry{ID: id, Happened: at, By: by, Device: "office-tablet", Meaning: meaning, Kind: f.Kind(), Fact: f}
}

// papers are on file from the first day and renewed each year.
func (m *mill) papers(since calendar.Date) {
	for from := since; from <= m.plan.Day(m.until); from = from.AddMonths(12) {
		from, to := from.AddDays(-3), from.AddMonths(12).AddDays(10)
		at := m.at(max(from, since), 9, 0)
		m.add(at, "jory", records.Received, &records.Document{Code: "organic-certificate", Title: "Organic certificate", Type: "certificate", Subject: records.Subject{Of: "plant"}, Issuer: "Brackenfold Organic Certification", From: &from, To: &to})
		m.add(at.Add(5*time.Minute), "jory", records.Received, &records.Document{Code: "saltmarrow-organic", Title: "Organic certificate of Saltmarrow Floor Malthouse", Type: "certificate",
			Subject: records.Subject{Of: "partner", Code: "saltmarrow"}, Issuer: "Brackenfold Organic Certification", From: &from, To: &to})
	}
}

// days are the walk-rounds and traps. Every forty-first working day nobody walked round.
func (m *mill) days(since calendar.Date) {
	crew, n := []records.PersonCode{"nell", "beno"}, 0
	for d := since; d <= m.plan.Day(m.until); d++ {
		if !m.plan.WorkingDays().Works(d) {
			continue
		}
		if n++; n%41 != 0 {
			m.add(m.at(d, 6, 10+n%37), crew[n%2], records.Performed, &records.Signoff{Task: "walk-round", Station: "mill", Outcome: records.Passed, Answers: []records.Response{{Ask: "clean", Yes: yes()}}})
		}
		if d.Weekday() == time.Tuesday {
			m.add(m.at(d, 10, n%50), crew[(n/7)%2], records.Performed, &records.Signoff{Task: "traps", Station: "flour-store", Outcome: records.Passed,
				Answers: []records.Response{{Ask: "rodents", Value: &records.Quantity{Value: records.NewDecimal(0, 0), Unit: "rodents"}}}})
		}
	}
}

// load is one load from the truck to the baker.
func (m *mill) load(i int, l Load, special bool) {
	if i == 11 { // nobody wrote it down
		return
	}
	came := m.day(l.When.Add(2*time.Hour), 30*time.Minute)
	theirs, mass := string(l.Lot), l.Pounds
	switch {
	case i%13 == 5:
		theirs = strings.ToLower(theirs)
	case i%9 == 4:
		theirs = fmt.Sprintf("%s/%d", theirs, 1+i%3)
	}
	if special {
		mass = mass * 97 / 100
	}
	lot := m.lot("T", came)
	day := m.plan.Day(came)
	r := &records.Receipt{Lot: lot, Item: l.Item, Variety: "as on the bags", Status: l.Status, Weight: pounds(mass), Theirs: &records.Mass{Value: records.NewDecimal(int64(l.Pounds), 0), Unit: "lb"}, To: "malt-store",
		Source: "saltmarrow", TheirLot: theirs, Packaging: "bags on pallets", Papers: l.Papers, ReleasedBy: "Fell Runner driver",
		Vehicle: records.Vehicle{Carrier: "fell-runner", Number: fmt.Sprintf("FR %d", 10+i%30), Clean: yes(), LastLoad: "bagged malt"}}
	if l.Status.IsOrganic() {
		r.Certificate, r.LookedUp, r.LastCertified = "saltmarrow-organic", &day, "saltmarrow"
	}
	m.add(came, []records.PersonCode{"nell", "beno"}[i%2], records.Received, r)
	if special { // a load that the malt house knows nothing of, and a bag sent back
		other := *r
		other.Lot, other.TheirLot, other.Papers, other.Weight = m.lot("T", came), "SM000101-B-9", []string{"delivery note 00001"}, pounds(550)
		other.Theirs = &records.Mass{Value: records.NewDecimal(550, 0), Unit: "lb"}
		m.add(came.Add(12*time.Minute), "nell", records.Received, &other)
		m.hand(m.at(m.next(day, 2), 14, 0), lot, "malt-store", "saltmarrow", records.Return, 55, 1, false, l.Status)
		mass -= 55
	}
	if l.Item != "malt" { // the mill grinds pale malt; the rest goes on as it came
		m.hand(m.at(m.next(day, 3), 13, 40), lot, "malt-store", "gull-oven", records.Sale, mass, l.Bags, true, l.Status)
		return
	}
	m.grind(lot, l.Status, mass, m.next(day, 1), !special)
}

// grind grinds a lot and sells the flour to two bakers.
func (m *mill) grind(lot records.LotCode, status records.Status, mass int, d calendar.Date, last bool) {
	start := max(m.at(d, 8, 50), m.free.Add(time.Hour))
	if m.plan.Day(start) != d {
		d = m.next(m.plan.Day(start), 0)
		start = max(m.at(d, 8, 50), start)
	}
	if m.before != "" && m.before != status {
		m.add(start.Add(-10*time.Minute), "nell", records.Performed, &records.Signoff{Task: "mill-clean", Station: "mill", Started: start.Add(-45 * time.Minute), Outcome: records.Passed,
			Answers: []records.Response{{Ask: "apart", Yes: yes()}}})
	}
	m.before = status
	end := start.Add(50 * time.Minute)
	m.free = end
	out := mass * 99 / 100
	flour := m.lot("F", end)
	m.add(end, "beno", records.Performed, &records.Process{Process: "milling", Station: "mill", Started: start, Inputs: []records.Input{{Lot: lot, From: "malt-store", Weight: pounds(mass), Last: last}},
		Outputs: []records.Output{{Lot: flour, Item: "malt-flour", Status: status, To: "flour-store", Weight: pounds(out), Bags: (out + 49) / 50}}})
	half := out / 2
	m.hand(m.at(m.next(d, 2), 13, 10), flour, "flour-store", "gull-oven", records.Sale, half, half/50, false, status)
	m.hand(m.at(m.next(d, 4), 13, 25), flour, "flour-store", "weir-biscuit", records.Sale, out-half, (out-half)/50, true, status)
}

func (m *mill) hand(at records.Instant, lot records.LotCode, from records.StationCode, to records.PartnerCode, use records.Use, mass, bags int, last bool, status records.Status) {
	m.add(at, "jory", records.Released, &records.Handover{Lot: lot, From: from, To: to, Use: use, Weight: pounds(mass), Bags: bags, Last: last, Status: status, Packaging: "bags on pallets", Checked: yes(),
		Vehicle: records.Vehicle{Carrier: "fell-runner", Number: "FR 12", Clean: yes(), LastLoad: "bagged flour"}, Papers: []string{fmt.Sprintf("delivery note C%05d", m.n)},
		Received: &records.Acceptance{By: "Goods in", At: at.Add(2 * time.Hour)}})
}

// day is a moment after another when somebody is at the dock: that day, or the next working morning.
func (m *mill) day(at records.Instant, after time.Duration) records.Instant {
	d := m.plan.Day(at)
	if m.plan.WorkingDays().Works(d) && at < m.at(d, 16, 0) {
		return at
	}
	return m.at(m.next(d, 1), 7, 0).Add(after)
}

// next is the first working day some days after another.
func (m *mill) next(d calendar.Date, days int) calendar.Date {
	for d += calendar.Date(days); !m.plan.WorkingDays().Works(d); {
		d++
	}
	return d
}

// lot is the day's next lot of a kind.
func (m *mill) lot(kind string, at records.Instant) records.LotCode {
	d := m.plan.Day(at)
	m.number[d]++
	y, mon, day := d.Civil()
	return records.LotCode(fmt.Sprintf("CC-%s%02d%02d%02d-%d", kind, y%100, mon, day, m.number[d]))
}

func pounds(n int) records.Weight {
	return records.Weight{Mass: records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "lb"}}
}

func yes() *bool {
	b := true
	return &b
}
