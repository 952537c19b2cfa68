package journey

import (
	"bytes"
	"flag"
	"regexp"
	"slices"
	"strings"
	"testing"

	"grainward/audit/across"
	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

var update = flag.Bool("update", false, "write the golden files anew")

const planText = `grainward: 1
plant: {name: %NAME%, address: 1 Nowhere Lane, zone: America/New_York, units: lb, since: 2026-01-01}
stations: [{code: store, title: {en: Store, es: Almacén}, kind: store}]
items: [{code: malt, title: {en: Pale malt, es: Malta pálida}, stage: finished}]
partners:
  - {code: other, name: The Other Plant, roles: [customer, supplier]}
  - {code: farm, name: Invented Farm, roles: [supplier]}
people: [{code: ana, name: Ana Invented, initials: AI, role: lead}]
`

const day = records.Instant(1_768_000_000_000)

// two is an upper plant that sends to a lower one: a lot that arrives, one that arrives lighter under a bag's number, one that does
// not arrive, and at the lower plant one that nobody sent.
func two(t *testing.T) (plants []across.Plant) {
	t.Helper()
	lb := func(n int64) records.Weight {
		return records.Weight{Mass: records.Mass{Value: records.NewDecimal(n, 0), Unit: "lb"}}
	}
	receive := func(lot records.LotCode, from records.PartnerCode, theirs string, mass int64) records.Fact {
		return &records.Receipt{Lot: lot, Item: "malt", Status: records.Organic, Weight: lb(mass), To: "store", Source: from, TheirLot: theirs}
	}
	send := func(lot records.LotCode, mass int64) records.Fact {
		return &records.Handover{Lot: lot, From: "store", To: "other", Use: records.Sale, Weight: lb(mass)}
	}
	for _, p := range []struct {
		code  company.PlantCode
		facts []records.Fact
	}{
		{"upper", []records.Fact{receive("M-1", "farm", "F", 5000), send("M-1", 1000), send("M-1", 700), send("M-1", 300)}},
		{"lower", []records.Fact{receive("L-1", "other", "M-1", 1000), receive("L-2", "other", "m 1/3", 620), receive("L-3", "other", "X-9", 50)}},
	} {
		st := state.New()
		all := append([]records.Fact{&records.Adoption{Text: strings.Replace(planText, "%NAME%", "Plant "+string(p.code), 1)}}, p.facts...)
		for i, f := range all {
			var id records.EntryID
			id[0], id[6], id[8], id[15] = p.code[0], 0x70, 0x80, byte(i+1)
			st.Apply(records.Position(i), records.Entry{ID: id, Happened: day + records.Instant(i)*3_600_000, Recorded: day, By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f})
		}
		floor := lots.Fold(st, lots.Forever-1, nil)
		plants = append(plants, across.Plant{Code: p.code, State: st, Floor: floor, Graph: trace.Build(floor)})
	}
	return plants
}

func other(at company.PlantCode, partner records.PartnerCode) company.PlantCode {
	if partner != "other" {
		return ""
	}
	return map[company.PlantCode]company.PlantCode{"upper": "lower", "lower": "upper"}[at]
}

func form(t *testing.T, plants []across.Plant, at company.PlantCode, subject, lang string) *Form {
	t.Helper()
	s, err := trace.ParseSubject(subject, nil)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := across.Build(plants, other).Trace(at, s, trace.Both)
	if err != nil {
		t.Fatal(err)
	}
	return Flatten(Input{Trace: tr, At: day, Lang: lang, Closed: func(company.PlantCode) Closed { return Hidden }, Plan: func(code company.PlantCode) *plan.Plan {
		for _, p := range plants {
			if p.Code == code && p.State != nil {
				return p.State.PlanAt(day + 1)
			}
		}
		return nil
	}})
}

// What people read, in both languages. Rewrite with -update.
func TestText(t *testing.T) {
	for _, lang := range []string{"en", "es"} {
		var b bytes.Buffer
		plants := two(t)
		for _, f := range []*Form{form(t, plants, "upper", "M-1", lang), form(t, plants, "lower", "L-3", lang), form(t, []across.Plant{plants[0], {Code: "lower"}}, "upper", "M-1", lang)} {
			if err := WriteText(&b, f); err != nil {
				t.Fatal(err)
			}
			b.WriteString("\n")
		}
		golden(t, "trace."+lang+".txt", b.Bytes())
		if strings.ContainsAny(b.String(), "{}") {
			t.Error("a value is not filled in")
		}
	}
}

// Every way a lot can be named, every rule and every reason has words, and both languages fill in the same values.
func TestWords(t *testing.T) {
	values := regexp.MustCompile(`\{[a-z]+\}`)
	for key, s := range said {
		var filled [2][]string
		for i := range s {
			filled[i] = values.FindAllString(s[i], -1)
			slices.Sort(filled[i])
			filled[i] = slices.Compact(filled[i])
		}
		if s[0] == "" || s[1] == "" || s[0] == s[1] || !slices.Equal(filled[0], filled[1]) {
			t.Errorf("%s: %q fills in %v", key, s, filled)
		}
	}
	var need []string
	for n, word := range named {
		if n != across.AsWritten {
			need = append(need, "named-"+word)
		}
	}
	for _, r := range []across.Rule{across.OnlyOne, across.ByPapers, across.ByMass, across.ByTime} {
		need = append(need, "rule-"+string(r))
	}
	for _, w := range []across.Why{across.NoCounterpart, across.Taken, across.NoPartner} {
		need = append(need, "sent-"+string(w))
	}
	for _, w := range []across.Why{across.NoCounterpart, across.TooLate, across.NoPartner, across.NoName} {
		need = append(need, "got-"+string(w))
	}
	for _, c := range []Closed{Hidden, Unread} {
		need = append(need, "sent-"+string(c), "got-"+string(c))
	}
	for _, key := range need {
		if _, ok := said[key]; !ok {
			t.Errorf("nothing is said for %s", key)
		}
	}
}
