package audit_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

const balancePlan = `grainward: 1
plant: {name: Balance Malt, address: 1 Test Lane, zone: UTC, units: kg, languages: [en], since: 2026-01-01}
profile: {allergens: [US]}
stations:
  - {code: silo, title: Silo, kind: silo, holds: mixed}
  - {code: steep, title: Steep, kind: steep tank, holds: separate}
  - {code: kiln, title: Kiln, kind: kiln, holds: separate}
  - {code: store, title: Store, kind: store, holds: separate}
  - {code: bench, title: Bench, kind: laboratory, holds: nothing}
items:
  - {code: barley, title: Barley, stage: raw}
  - {code: green, title: Green malt, stage: in-process, losses: [{process: steeping, dry: {min: 0, max: 3}}]}
  - code: malt
    title: Malt
    stage: finished
    losses: [{process: malting, dry: {min: 6, max: 14}}, {process: cleaning, dry: {min: 0, max: 2}, byProduct: {min: 2, max: 6}}]
  - {code: rootlets, title: Rootlets, stage: by-product}
instruments:
  - {code: scale, title: Scale, station: bench, calibration: check, holds: 30d, uncertainty: 0.5, unit: kg}
  - {code: meter, title: Meter, station: bench, calibration: check, holds: 30d, uncertainty: 0.2, unit: "%"}
tasks:
  - {code: check, title: Check, family: calibration, stations: [bench], who: crew}
partners:
  - {code: farm, name: Farm, roles: [supplier, feed-farm]}
  - {code: brewer, name: Brewer, roles: [customer]}
people:
  - {code: ana, name: Ana, initials: A, role: lead}
`

// goods tells a history of goods an hour at a time.
type goods struct {
	st *state.State
	at records.Instant
}

func newGoods(t interface{ Fatal(...any) }) *goods {
	start, err := records.ParseInstant("2026-02-01T00:00:00Z")
	if err != nil {
		t.Fatal(err)
	}
	g := &goods{state.New(), start}
	sum := sha256.Sum256([]byte(balancePlan))
	g.say(&records.Adoption{Text: balancePlan, SHA256: hex.EncodeToString(sum[:])})
	if len(g.st.Plans()) != 1 {
		t.Fatal("the plan of the test can not be read: ", g.st.Oddities())
	}
	return g
}

func (g *goods) say(f records.Fact) {
	g.at = g.at.Add(time.Hour)
	pos := g.st.Size()
	id := records.EntryID{6: 0x70, 8: 0x80, 14: byte(pos >> 8), 15: byte(pos)}
	row, _ := records.RowOf(f.Kind())
	g.st.Apply(pos, records.Entry{ID: id, Happened: g.at, Recorded: g.at, By: "ana", Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f})
}

func dec(text string) records.Decimal {
	d, err := records.ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return d
}

// kg is a weight with a moisture, by the plan's scale and meter.
func kg(mass, moisture string) records.Weight {
	w := records.Weight{Mass: records.Mass{Value: dec(mass), Unit: "kg"}, Scale: "scale", Meter: "meter"}
	if moisture != "" {
		m := dec(moisture)
		w.Moisture = &m
	}
	return w
}

func (g *goods) receive(lot string, w records.Weight, to records.StationCode) {
	g.say(&records.Receipt{Lot: records.LotCode(lot), Item: "barley", Status: records.Organic, Weight: w, To: to, Source: "farm"})
}

func (g *goods) make(process string, in records.Input, out ...records.Output) {
	g.say(&records.Process{Process: process, Station: out[0].To, Inputs: []records.Input{in}, Outputs: out})
}

func out(lot, item string, w records.Weight, to records.StationCode) records.Output {
	return records.Output{Lot: records.LotCode(lot), Item: records.ItemCode(item), Status: records.Organic, To: to, Weight: w}
}

func (g *goods) report() *audit.Report { return audit.At(g.st, g.at.Add(time.Minute)) }

func ruleIDs(rep *audit.Report, prefix ...string) (ids []string) {
	for _, f := range rep.Findings {
		for _, p := range prefix {
			if strings.HasPrefix(f.Rule, p) {
				ids = append(ids, f.Rule)
			}
		}
	}
	return ids
}

// The arithmetic of moisture, against published figures.
func TestDryMatterFigures(t *testing.T) {
	dry := func(mass, moisture string) float64 {
		w := kg(mass, moisture)
		m, err := w.Mass.Micrograms()
		if err != nil {
			t.Fatal(err)
		}
		d, ok := lots.DryMatter(m, w.Moisture)
		if !ok {
			t.Fatal("no moisture")
		}
		return float64(d) / 1e9
	}
	// Check value C43 (W2 = W1 (100-M1)/(100-M2); the formula was seen, the figures recomputed): 1,000 kg at 12 % is
	// 1,600.0 kg at 45 % and 926.3 kg at 5 %.
	if a, b := dry("1000", "12"), dry("1600.0", "45"); math.Abs(a-b) > 1e-9 {
		t.Errorf("1,000 kg at 12 %% has %v kg dry, 1,600 kg at 45 %% has %v", a, b)
	}
	if a, b := dry("1000", "12"), dry("926.3", "5"); math.Abs(a-b) > 0.05 {
		t.Errorf("1,000 kg at 12 %% has %v kg dry, 926.3 kg at 5 %% has %v", a, b)
	}
	for _, c := range []struct {
		in, wet, out, dry string
		loss              float64
		source            string
	}{
		{"1000", "12", "830", "5", 10.4, "C44: a trade association's 1 t of barley at 12 % to 830 kg of malt at 5 % (seen; 10.4 computed)"},
		{"0.042", "15", "0.032", "2", 12.2, "C45: an encyclopedia's 42 g at 15 % to 32 g at 2 % (seen; it prints 12.5, 12.2 is what its figures give)"},
	} {
		if loss := 100 * (1 - dry(c.out, c.dry)/dry(c.in, c.wet)); math.Abs(loss-c.loss) > 0.05 {
			t.Errorf("%s: loss %.2f %%", c.source, loss)
		}
	}
}

// A step's loss is judged against its band, and called out only beyond twice what scale and meter can explain.
func TestStepBalance(t *testing.T) {
	for _, c := range []struct {
		name, out, moisture string
		verdict             audit.Verdict
		finds               []string
	}{
		{"in the band", "1568.0", "45", audit.Within, nil},                                        // 862.4 of 880 dry: 2 %
		{"over the band, by less than the instruments can tell", "1545", "45", audit.Within, nil}, // 3.4 %; u is about 4.6 kg
		{"over the band", "1500", "45", audit.Above, []string{"loss-out-of-band"}},                // 6.3 %
		{"more dry matter than went in", "1700", "45", audit.Below, []string{"dry-gain"}},
		{"no moisture", "1500", "", audit.Unknown, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := newGoods(t)
			g.receive("B1", kg("1000", "12"), "steep")
			g.make("steeping", records.Input{Lot: "B1", From: "steep", Weight: kg("1000", "12"), Last: true}, out("G1", "green", kg(c.out, c.moisture), "steep"))
			rep := g.report()
			b := rep.Goods.Balance.Steps()
			if len(b) != 1 || b[0].Verdict != c.verdict {
				t.Errorf("%+v", b)
			}
			if ids := ruleIDs(rep, "loss-", "dry-"); fmt.Sprint(ids) != fmt.Sprint(c.finds) {
				t.Errorf("found %v, want %v", ids, c.finds)
			}
		})
	}
}

// u² = ((1-w) u_m)² + (m u_w)² worked by hand: 1,000 kg at 12 % on a scale of 0.5 kg and a meter of 0.2 points.
func TestUncertaintyOfDryMass(t *testing.T) {
	g := newGoods(t)
	g.receive("B1", kg("1000", "12"), "steep")
	g.make("steeping", records.Input{Lot: "B1", From: "steep", Weight: kg("1000", "12")}, out("G1", "green", kg("1568", "45"), "steep"))
	b := g.report().Goods.Balance.Steps()[0]
	want := math.Sqrt(math.Pow(0.88*0.5, 2) + math.Pow(1000*0.002, 2)) // 2.048 kg
	if got := math.Sqrt(b.In.U2) / 1e9; math.Abs(got-want) > 1e-6 {
		t.Errorf("u of the dry mass is %v kg, want %v", got, want)
	}
	if b.In.Dry != 880e9 {
		t.Errorf("dry in %d", b.In.Dry)
	}
}

// The whole way from grain to malt, through a mixed silo and with rootlets taken off, against the same worked by hand.
func TestWholeBalance(t *testing.T) {
	run := func(malt string) *audit.Report {
		g := newGoods(t)
		g.receive("B1", kg("600", "12"), "silo")
		g.receive("B2", kg("400", "12"), "silo")
		g.make("steeping", records.Input{From: "silo", Weight: kg("1000", "12"), Last: true}, out("G1", "green", kg("1568", "45"), "steep"))
		g.make("kilning", records.Input{Lot: "G1", From: "steep", Weight: kg("1568", "45"), Last: true}, out("K1", "green", kg("880", "5"), "kiln"))
		g.make("cleaning", records.Input{Lot: "K1", From: "kiln", Weight: kg("880", "5"), Last: true}, out("M1", "malt", kg(malt, "5"), "store"), out("R1", "rootlets", kg("35", "8"), "store"))
		return g.report()
	}
	rep := run("830")
	w := rep.Goods.Balance.Whole()
	if len(w) != 1 {
		t.Fatalf("%+v", w)
	}
	// Malt 788.5 dry and rootlets 32.2 came out of 836 kilned of 880 raw; malt's share of the raw is 788.5/820.7.
	raw := 880.0 * 788.5 / (788.5 + 32.2)
	if math.Abs(w[0].Raw/1e9-raw) > 0.001 || math.Abs(w[0].Loss-(1-788.5/raw)) > 1e-6 || w[0].Verdict != audit.Within {
		t.Errorf("raw %v, want %v; loss %v; %s", w[0].Raw/1e9, raw, w[0].Loss, w[0].Verdict)
	}
	if ids := ruleIDs(rep, "whole-", "by-product-out"); ids != nil {
		t.Errorf("found %v", ids)
	}
	if ids := ruleIDs(run("650"), "whole-"); len(ids) != 1 {
		t.Errorf("a loss of a quarter: found %v", ids)
	}
}

func TestByProductShareAndBags(t *testing.T) {
	run := func(rootlets string, bags int, mass string) []string {
		g := newGoods(t)
		g.receive("B1", kg("1000", "5"), "kiln")
		malt := out("M1", "malt", kg(mass, "5"), "store")
		net := records.Mass{Value: dec("25"), Unit: "kg"}
		malt.Bags, malt.BagNet = bags, &net
		g.make("cleaning", records.Input{Lot: "B1", From: "kiln", Weight: kg("1000", "5"), Last: true}, malt, out("R1", "rootlets", kg(rootlets, "8"), "store"))
		return ruleIDs(g.report(), "by-product-out", "bags-")
	}
	if got := run("38", 38, "950"); got != nil { // 4.0 %: check value C47, 2 to 6 % of malt
		t.Errorf("found %v", got)
	}
	if got := run("120", 38, "950"); fmt.Sprint(got) != "[by-product-out-of-band]" {
		t.Errorf("found %v", got)
	}
	if got := run("38", 36, "950"); fmt.Sprint(got) != "[bags-differ]" { // two bags of 25 kg missing
		t.Errorf("found %v", got)
	}
}

// More sold as organic than ever came in as organic.
func TestOrganicExcess(t *testing.T) {
	run := func(sold string) []string {
		g := newGoods(t)
		g.receive("B1", kg("1000", "12"), "store")
		g.say(&records.Receipt{Lot: "C1", Item: "barley", Status: records.Conventional, Weight: kg("1000", "12"), To: "silo", Source: "farm"})
		g.say(&records.Handover{Lot: "B1", From: "store", To: "brewer", Use: records.Sale, Status: records.Organic, Weight: kg(sold, "12")})
		return ruleIDs(g.report(), "organic-excess")
	}
	if got := run("1000"); got != nil {
		t.Errorf("found %v", got)
	}
	if got := run("1100"); len(got) != 1 {
		t.Errorf("found %v", got)
	}
}

// Opening + received + made - used - sent - sampled + unexplained = closing, to the microgram, over any stretch of any
// history, whatever was short, left over or counted otherwise.
func TestReconcileAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := newGoods(t)
		codes := []records.LotCode{"A", "B", "C", "D"}
		lot := func() records.LotCode { return rapid.SampledFrom(codes).Draw(t, "lot") }
		place := func() records.StationCode {
			return rapid.SampledFrom([]records.StationCode{"silo", "steep", "kiln", "store"}).Draw(t, "place")
		}
		weight := func() records.Weight { return kg(fmt.Sprint(rapid.IntRange(0, 500).Draw(t, "kg")), "10") }
		last := func() bool { return rapid.IntRange(0, 3).Draw(t, "last") == 0 }
		moments := []records.Instant{g.at}
		for range rapid.IntRange(1, 25).Draw(t, "n") {
			switch rapid.IntRange(0, 7).Draw(t, "what") {
			case 0, 1:
				g.receive(string(lot()), weight(), place())
			case 2:
				from, to := place(), place()
				if from != to {
					g.say(&records.Move{Lot: lot(), From: from, To: to, Weight: weight(), Last: last()})
				}
			case 3:
				g.make("kilning", records.Input{Lot: lot(), From: place(), Weight: weight(), Last: last()}, out(string(lot()), "malt", weight(), place()))
			case 4:
				g.say(&records.Handover{Lot: lot(), From: place(), To: "brewer", Use: records.Sale, Weight: weight(), Last: last()})
			case 5:
				c := &records.Count{Station: place()}
				if rapid.Bool().Draw(t, "found") {
					c.Found = []records.Found{{Lot: lot(), Weight: weight()}}
				}
				g.say(c)
			case 6:
				m := records.Mass{Value: dec("1"), Unit: "kg"}
				g.say(&records.Sample{Lot: lot(), Act: "kept", Number: 1, From: place(), Mass: &m})
			case 7:
				g.say(&records.Handover{Lot: lot(), FromHolder: "brewer", To: "farm", Use: records.Return, Weight: weight()})
			}
			moments = append(moments, g.at)
		}
		from := rapid.SampledFrom(moments).Draw(t, "from")
		to := rapid.SampledFrom(moments).Draw(t, "to")
		if from > to {
			from, to = to, from
		}
		for _, x := range audit.Reconcile(lots.Fold(g.st, from, nil), lots.Fold(g.st, to, nil)) {
			if sum := x.Opening + x.Received + x.Made - x.Used - x.Sent - x.Sampled + x.Unexplained; sum != x.Closing {
				t.Fatalf("%s %s: %+v comes to %d", x.Item, x.Status, x, sum)
			}
		}
	})
}
