package across

import (
	"fmt"
	"strings"
	"testing"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/lots"
	"grainward/records/state"
)

const minute, hour = records.Instant(60_000), records.Instant(3_600_000)

const start = records.Instant(1_768_000_000_000)

// world is invented plants whose partners "to-X" are plant X.
type world struct {
	codes   []company.PlantCode
	entries map[company.PlantCode][]records.Entry
	n       int
}

func newWorld(codes ...company.PlantCode) *world {
	w := &world{codes: codes, entries: map[company.PlantCode][]records.Entry{}}
	for _, at := range codes {
		var partners strings.Builder
		for _, to := range codes {
			if to != at {
				fmt.Fprintf(&partners, "  - {code: to-%s, name: Plant %s, roles: [customer, supplier]}\n", to, to)
			}
		}
		w.add(at, start-24*hour, &records.Adoption{Text: fmt.Sprintf(`
grainward: 1
plant: {name: Plant %s, address: 1 Nowhere Lane, zone: America/New_York, units: kg, since: 2026-01-01}
stations:
  - {code: silo, title: Silo, kind: silo, holds: mixed}
  - {code: store, title: Store, kind: store}
items:
  - {code: malt, title: Malt, stage: finished}
partners:
%s  - {code: farm, name: Invented Farm, roles: [supplier]}
people:
  - {code: ana, name: Ana Invented, initials: AI, role: lead}
`, at, partners.String())})
	}
	return w
}

func (w *world) add(at company.PlantCode, when records.Instant, f records.Fact) {
	w.n++
	var id records.EntryID
	id[5], id[6], id[8], id[14], id[15] = 1, 0x70, 0x80, byte(w.n>>8), byte(w.n)
	w.entries[at] = append(w.entries[at], records.Entry{ID: id, Happened: when, Recorded: when, By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f})
}

func kg(n int) records.Weight {
	return records.Weight{Mass: records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "kg"}}
}

func (w *world) receive(at company.PlantCode, when records.Instant, lot records.LotCode, source, theirs string, mass int, papers ...string) {
	w.add(at, when, &records.Receipt{Lot: lot, Item: "malt", Status: records.Organic, Weight: kg(mass), To: "store", Source: records.PartnerCode(source), TheirLot: theirs, Papers: papers})
}

func (w *world) send(at company.PlantCode, when records.Instant, lot records.LotCode, to string, mass int, papers ...string) {
	w.add(at, when, &records.Handover{Lot: lot, From: "store", To: records.PartnerCode(to), Use: records.Sale, Weight: kg(mass), Papers: papers})
}

func (w *world) process(at company.PlantCode, when records.Instant, in, out records.LotCode, mass int) {
	w.add(at, when, &records.Process{Process: "milling", Station: "store", Inputs: []records.Input{{Lot: in, From: "store", Weight: kg(mass)}},
		Outputs: []records.Output{{Lot: out, Item: "malt", Status: records.Organic, To: "store", Weight: kg(mass)}}})
}

// plants folds the journals. hidden ones are handed in without their records.
func (w *world) plants(t interface{ Fatal(...any) }, hidden ...company.PlantCode) (out []Plant) {
	for _, at := range w.codes {
		st := state.New()
		for i, e := range w.entries[at] {
			st.Apply(records.Position(i), e)
		}
		if len(st.Plans()) == 0 {
			t.Fatal(st.Oddities())
		}
		f := lots.Fold(st, lots.Forever-1, nil)
		p := Plant{Code: at, State: st, Floor: f, Graph: trace.Build(f)}
		for _, h := range hidden {
			if h == at {
				p = Plant{Code: at}
			}
		}
		out = append(out, p)
	}
	return out
}

// partners is the table: partner to-X is plant X.
func partners(_ company.PlantCode, partner records.PartnerCode) company.PlantCode {
	to, ok := strings.CutPrefix(string(partner), "to-")
	if !ok {
		return ""
	}
	return company.PlantCode(to)
}

func (w *world) build(t *testing.T, hidden ...company.PlantCode) *Company {
	return Build(w.plants(t, hidden...), partners)
}

func mustTrace(t *testing.T, c *Company, at company.PlantCode, subject string, dir trace.Direction) *Trace {
	t.Helper()
	s, err := trace.ParseSubject(subject, nil)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := c.Trace(at, s, dir)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// lotsOf is a trace in a line: plant:lot lot, plant:lot.
func lotsOf(t *Trace) string {
	var legs []string
	for _, leg := range t.Legs {
		var all []string
		for _, l := range leg.Lots {
			all = append(all, string(l.Code))
		}
		legs = append(legs, string(leg.Plant)+":"+strings.Join(all, " "))
	}
	return strings.Join(legs, ", ")
}
