package records

import (
	"reflect"
	"strings"
	"testing"
)

func decimalAt(text string) *Decimal { d := mustDecimal(text); return &d }

func fact[F Fact](e *Entry) F { return e.Fact.(F) }

// malformedGoods goes on with malformed.
var malformedGoods = []malformation{
	{"empty receipt", KindReceipt, func(e *Entry) { e.Fact = &Receipt{} }, "fact.lot fact.item fact.status fact.weight fact.to fact.source"},
	{"receipt of unreadable status", KindReceipt, func(e *Entry) { fact[*Receipt](e).Status = "bio" }, "fact.status"},
	{"receipt by a negative mass", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{mustDecimal("-3.5"), "lb"} }, "fact.weight.mass"},
	{"receipt of a moon", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{mustDecimal("999999999999"), "ton"} }, "fact.weight.mass"},
	{"receipt of two ships", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{mustDecimal("10000.001"), "t"} }, "fact.weight.mass"},
	{"receipt in bushels", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{mustDecimal("400"), "bu"} }, "fact.weight.mass"},
	{"receipt by the nanogram", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{mustDecimal("0.0000001"), "g"} }, "fact.weight.mass"},
	{"receipt without a mass", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{} }, "fact.weight.mass"},
	{"receipt without a unit", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Mass = Mass{Value: mustDecimal("12")} }, "fact.weight.mass"},
	{"receipt wetter than water", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Moisture = decimalAt("100.01") }, "fact.weight.moisture"},
	{"receipt drier than dust", KindReceipt, func(e *Entry) { fact[*Receipt](e).Weight.Moisture = decimalAt("-0.1") }, "fact.weight.moisture"},
	{"receipt by their negative scale", KindReceipt, func(e *Entry) { fact[*Receipt](e).Theirs = &Mass{mustDecimal("-1"), "kg"} }, "fact.theirs"},
	{"receipt's codes", KindReceipt, func(e *Entry) {
		r := fact[*Receipt](e)
		r.Lot, r.Item, r.To, r.Source, r.Via, r.LastCertified, r.Certificate = "R 1", "Barley", "Silo 1", "N.F.", []StationCode{"pit", ""}, "A B", "c_1"
		r.Weight.Scale, r.Weight.Meter, r.Vehicle.Carrier = "S 1", "M 1", "C 1"
	}, "fact.lot fact.item fact.weight.scale fact.weight.meter fact.to fact.via[1] fact.source fact.lastCertified fact.certificate fact.vehicle.carrier"},
	{"receipt's long texts", KindReceipt, func(e *Entry) {
		r := fact[*Receipt](e)
		r.TheirLot, r.Papers, r.Vehicle.LastLoad, r.Vehicle.Seals = strings.Repeat("x", 61), []string{"a", strings.Repeat("x", 101)}, strings.Repeat("x", 201), []Seal{{Found: strings.Repeat("x", 61)}}
	}, "fact.theirLot fact.vehicle.lastLoad fact.vehicle.seals[0].found fact.papers[1]"},
	{"receipt with an empty seal", KindReceipt, func(e *Entry) { fact[*Receipt](e).Vehicle.Seals = []Seal{{Papers: "1"}, {}} }, "fact.vehicle.seals[1]"},
	{"receipt in another encoding", KindReceipt, func(e *Entry) { r := fact[*Receipt](e); r.Variety, r.Vehicle.Number = notUTF8, "\xff" }, "fact.variety fact.vehicle.number"},

	{"empty move", KindMove, func(e *Entry) { e.Fact = &Move{} }, "fact.from fact.to fact.weight"},
	{"move to where it is", KindMove, func(e *Entry) { m := fact[*Move](e); m.To = m.From }, "fact.to"},
	{"move by a negative mass", KindMove, func(e *Entry) { fact[*Move](e).Weight.Mass.Value = mustDecimal("-2000") }, "fact.weight.mass"},
	{"move through too much", KindMove, func(e *Entry) { fact[*Move](e).Via = make([]StationCode, 21) }, "fact.via"},

	{"empty process", KindProcess, func(e *Entry) { e.Fact = &Process{} }, "fact.process fact.station fact.inputs fact.outputs"},
	{"process of nothing", KindProcess, func(e *Entry) {
		p := fact[*Process](e)
		p.Inputs, p.Outputs = []Input{{}}, []Output{{}}
	}, "fact.inputs[0].from fact.inputs[0].weight fact.outputs[0].lot fact.outputs[0].item fact.outputs[0].status fact.outputs[0].to fact.outputs[0].weight"},
	{"process of water", KindProcess, func(e *Entry) {
		p := fact[*Process](e)
		p.Inputs[0].Weight.Moisture, p.Outputs[0].Weight.Moisture = decimalAt("244"), decimalAt("-4.5")
	}, "fact.inputs[0].weight.moisture fact.outputs[0].weight.moisture"},
	{"process by moisture alone", KindProcess, func(e *Entry) { fact[*Process](e).Inputs[0].Weight.Mass = Mass{} }, "fact.inputs[0].weight.mass"},
	{"process into fewer than no bags", KindProcess, func(e *Entry) { fact[*Process](e).Outputs[0].Bags = -1 }, "fact.outputs[0].bags"},
	{"process into too many bags", KindProcess, func(e *Entry) { fact[*Process](e).Outputs[0].Bags = 100_001 }, "fact.outputs[0].bags"},
	{"process into bags of less than nothing", KindProcess, func(e *Entry) { fact[*Process](e).Outputs[0].BagNet = &Mass{mustDecimal("-25"), "kg"} }, "fact.outputs[0].bagNet"},
	{"process started in no year", KindProcess, func(e *Entry) { fact[*Process](e).Started = 1 << 50 }, "fact.started"},

	{"empty handover", KindHandover, func(e *Entry) { e.Fact = &Handover{} }, "fact.to fact.from fact.use fact.weight"},
	{"handover from two places", KindHandover, func(e *Entry) { fact[*Handover](e).FromHolder = "warehouse-1" }, "fact.from"},
	{"handover onward without a lot", KindHandover, func(e *Entry) {
		h := fact[*Handover](e)
		h.From, h.FromHolder, h.Lot = "", "warehouse-1", ""
	}, "fact.lot"},
	{"handover to who has it", KindHandover, func(e *Entry) { h := fact[*Handover](e); h.From, h.FromHolder = "", h.To }, "fact.to"},
	{"handover for an unknown use", KindHandover, func(e *Entry) { fact[*Handover](e).Use = "gift" }, "fact.use"},
	{"handover by moisture alone", KindHandover, func(e *Entry) { fact[*Handover](e).Weight.Mass = Mass{} }, "fact.weight.mass"},
	{"handover received by nobody", KindHandover, func(e *Entry) {
		fact[*Handover](e).Received = &Acceptance{Mass: &Mass{mustDecimal("-1"), "kg"}, At: 1 << 50}
	}, "fact.received.by fact.received.mass"},
	{"handover received in no year", KindHandover, func(e *Entry) { fact[*Handover](e).Received.At = 1 << 50 }, "fact.received.at"},
	{"a drawing and no name", KindHandover, func(e *Entry) {
		fact[*Handover](e).Received = &Acceptance{Signature: strings.Repeat("0a", 32)}
	}, "fact.received.by"},
	{"a drawing that is none", KindHandover, func(e *Entry) { fact[*Handover](e).Received.Signature = "drawn" }, "fact.received.signature"},
	{"confirmation without a signature", KindHandover, func(e *Entry) { e.Fact = &Handover{Confirms: mustID(idB), To: "brewery-1"} }, "fact.received"},
	{"confirmation by nobody", KindHandover, func(e *Entry) {
		e.Fact = &Handover{Confirms: mustID(idB), Received: &Acceptance{}}
	}, "fact.to fact.received.by"},
	{"handover with an empty seal", KindHandover, func(e *Entry) { fact[*Handover](e).Vehicle.Seals = []Seal{{}} }, "fact.vehicle.seals[0]"},

	{"empty count", KindCount, func(e *Entry) { e.Fact = &Count{} }, "fact.station"},
	{"count of less than nothing", KindCount, func(e *Entry) {
		fact[*Count](e).Found = []Found{{Weight: Weight{Mass: Mass{mustDecimal("-1"), "kg"}}}, {Lot: "é"}}
	}, "fact.found[0].weight.mass fact.found[1].lot fact.found[1].weight"},
	{"count of one lot twice", KindCount, func(e *Entry) { c := fact[*Count](e); c.Found = append(c.Found, c.Found[0]) }, "fact.found[1].lot"},

	{"empty hold", KindHold, func(e *Entry) { e.Fact = &Hold{} }, "fact.lots fact.why"},
	{"hold of one lot twice", KindHold, func(e *Entry) { fact[*Hold](e).Lots = []LotCode{"A", "B", "A", ""} }, "fact.lots[3] fact.lots[2]"},
	{"empty release", KindRelease, func(e *Entry) { e.Fact = &Release{} }, "fact.lots fact.why"},
	{"release of one lot twice", KindRelease, func(e *Entry) { fact[*Release](e).Lots = []LotCode{"A", "A"} }, "fact.lots[1]"},

	{"empty purge", KindPurge, func(e *Entry) { e.Fact = &Purge{} }, "fact.stations fact.from fact.weight fact.became.lot fact.became.item fact.became.status fact.became.to fact.became.weight"},
	{"purge of a negative mass", KindPurge, func(e *Entry) {
		p := fact[*Purge](e)
		p.Weight.Mass.Value, p.Became.Weight.Mass.Value, p.Stations = mustDecimal("-1"), mustDecimal("-1"), []StationCode{"Auger 1"}
	}, "fact.stations[0] fact.weight.mass fact.became.weight.mass"},

	{"empty result", KindResult, func(e *Entry) { e.Fact = &Result{} }, "fact.lot fact.values"},
	{"result without names", KindResult, func(e *Entry) { fact[*Result](e).Values = []Measured{{}, {}} }, "fact.values[0].name fact.values[1].name"},
	{"result with one name twice", KindResult, func(e *Entry) { r := fact[*Result](e); r.Values = append(r.Values, r.Values[0]) }, "fact.values[1].name"},
	{"result's codes", KindResult, func(e *Entry) { r := fact[*Result](e); r.Laboratory, r.Document = "Lab 1", "D 1" }, "fact.laboratory fact.document"},

	{"empty sample", KindSample, func(e *Entry) { e.Fact = &Sample{} }, "fact.lot fact.act fact.number"},
	{"sample of no place", KindSample, func(e *Entry) { fact[*Sample](e).From = "" }, "fact.from"},
	{"sample of no mass", KindSample, func(e *Entry) { fact[*Sample](e).Mass = nil }, "fact.mass"},
	{"sample thrown out of a station", KindSample, func(e *Entry) { fact[*Sample](e).Act = "discarded" }, "fact.act"},
	{"too many samples", KindSample, func(e *Entry) { fact[*Sample](e).Number = 1001 }, "fact.number"},

	{"empty drill", KindDrill, func(e *Entry) { e.Fact = &Drill{} }, "fact.drill fact.step"},
	{"drill started for nothing", KindDrill, func(e *Entry) { e.Fact = &Drill{Drill: "d", Step: "start"} }, "fact.subject fact.why fact.lead"},
	{"drill's contact with nobody", KindDrill, func(e *Entry) { e.Fact = &Drill{Drill: "d", Step: "contact", Holds: &Mass{mustDecimal("-1"), "kg"}} }, "fact.holds fact.partner"},
	{"drill finished without lessons", KindDrill, func(e *Entry) {
		e.Fact = &Drill{Drill: "d", Step: "finish", Figures: []Measured{{Name: "a"}, {Name: "a"}}}
	}, "fact.figures[1].name fact.lessons"},
	{"drill at no level", KindDrill, func(e *Entry) { fact[*Drill](e).Level = "F" }, "fact.level"},

	{"replacement's mass and moisture", KindCorrect, func(e *Entry) {
		w := fact[*Correct](e).With
		w.Kind, w.Fact = KindProcess, exampleGoods(KindProcess)
		p := w.Fact.(*Process)
		p.Inputs[0].Weight = Weight{Mass: Mass{mustDecimal("-1"), "kg"}, Moisture: decimalAt("101")}
	}, "fact.with.fact.inputs[0].weight.mass fact.with.fact.inputs[0].weight.moisture"},
}

// What a mass may be at its edges: nothing, a microgram, and the most.
func TestMassesAtTheEdge(t *testing.T) {
	for _, text := range []string{"0 kg", "0.000001 g", "10000 t", "22046226.2 lb"} {
		m, err := ParseMass(text)
		if err != nil {
			t.Fatal(err)
		}
		for _, moisture := range []string{"0", "100", "0.0", "100.000"} {
			e := example(KindReceipt)
			fact[*Receipt](&e).Weight = Weight{Mass: m, Moisture: decimalAt(moisture)}
			if err := CheckShape(e); err != nil {
				t.Errorf("%s at %s %%: %v", text, moisture, err)
			}
		}
	}
}

// The member names are the file format of everybody's journal: one that changes makes old journals unreadable. Every member
// is written, in lower camel case, and one that was not given is left out unless the fact can not do without it.
func TestMemberNames(t *testing.T) {
	var told strings.Builder
	seen := map[reflect.Type]bool{}
	var write func(t reflect.Type)
	write = func(typ reflect.Type) {
		for typ.Kind() == reflect.Pointer || typ.Kind() == reflect.Slice {
			typ = typ.Elem()
		}
		if typ.Kind() != reflect.Struct || seen[typ] || typ == reflect.TypeFor[Decimal]() || typ == reflect.TypeFor[Mass]() {
			return
		}
		seen[typ] = true
		told.WriteString(typ.Name() + "\n")
		for i := range typ.NumField() {
			f := typ.Field(i)
			told.WriteString("  " + f.Tag.Get("json") + "\n")
			if name := memberName(f); name == "" || strings.ToLower(name[:1])+f.Name[1:] != name && name != "sha256" && name != "id" {
				t.Errorf("%s.%s is written as %q", typ.Name(), f.Name, name)
			}
		}
		for i := range typ.NumField() {
			write(typ.Field(i).Type)
		}
	}
	for _, row := range Kinds() {
		write(reflect.TypeOf(row.New()))
	}
	golden(t, "members.golden", told.String())
}

// What a line of an import can get wrong about goods is told by its exact place.
func TestPlainJSONAboutGoods(t *testing.T) {
	const inputs = `{"happened":"2026-03-08T07:30:00Z","by":"a","kind":"process","fact":{"process":"kilning","station":"kiln-1","outputs":[],"inputs":[{"from":"floor-1","weight":`
	for text, says := range map[string]string{
		inputs + `{"mass":"2900 kg","moisture":44}}]}}`:                                               "fact.inputs[0].weight.moisture is \"44\": it is a number and must be text in quotes",
		inputs + `{"mass":2900}}]}}`:                                                                  "fact.inputs[0].weight.mass is \"2900\": it is a number and must be text in quotes",
		inputs + `{"mass":"2900"}}]}}`:                                                                `fact.inputs[0].weight.mass: "2900" is not a mass: write a number, a space and one of kg`,
		inputs + `{"mass":"2,900 kg"}}]}}`:                                                            `fact.inputs[0].weight.mass: "2,900" is not a decimal number`,
		inputs + `{"mass":"2900 kg","moister":"44"}}]}}`:                                              "fact.inputs[0].weight.moister: there is no such member; check its spelling",
		inputs + `{"mass":"2900 kg"},"last":"yes"}]}}`:                                                "fact.inputs[0].last is \"yes\": it is text and must be true or false, without quotes",
		strings.Replace(inputs, `"outputs":[]`, `"outputs":[{"lot":"A","bags":"64"}]`, 1) + `{}}]}}`:  "fact.outputs[0].bags is \"64\": it is text and must be a whole number, without quotes",
		strings.Replace(inputs, `"outputs":[]`, `"outputs":[{"lot":"A","bags":6.5}]`, 1) + `{}}]}}`:   "fact.outputs[0].bags is \"6.5\": it must be a whole number, without quotes",
		strings.Replace(inputs, `"outputs":[]`, `"outputs":[{"kilnDate":"31 August"}]`, 1) + `{}}]}}`: "fact.outputs[0].kilnDate",
	} {
		if _, err := ParseDraft([]byte(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s\n told %v\n want %s", text, err, says)
		}
	}
}
