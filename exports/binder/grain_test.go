package binder

import (
	"strings"
	"testing"

	"grainward/records"
)

// grainPlan is the plan of the golden sheets with loss bands for the single processes, and kinds of entries about goods as evidence.
func grainPlan(t testing.TB) string {
	t.Helper()
	text := planText(t)
	for _, c := range [][2]string{
		{"    stage: in-process\n  - code: green-wheat-malt", "    stage: in-process\n    losses:\n      - {process: steeping, dry: {min: 0, max: 3}}\n      - {process: germination, dry: {min: 3, max: 9}}\n  - code: green-wheat-malt"},
		{"      - {process: malting, dry: {min: 6, max: 14}, byProduct: {min: 2, max: 6}}", "      - {process: malting, dry: {min: 6, max: 14}, byProduct: {min: 2, max: 6}}\n      - {process: kilning, dry: {min: 0, max: 2}}\n      - {process: cleaning, dry: {min: 0, max: 2}, byProduct: {min: 2, max: 6}}"},
		{"title: From whom and what was received}", "title: From whom and what was received, kinds: [receipt]}"},
		{"title: To whom and what was released}", "title: To whom and what was released, kinds: [handover, drill]}"},
		{"title: Organic handling methods}", "title: Organic handling methods, kinds: [process, purge]}"},
		{"title: Storage and transport}", "title: Storage and transport, kinds: [move, count, hold, release, sample, result]}"},
	} {
		if strings.Count(text, c[0]) != 1 {
			t.Fatalf("the plan has not %q once", c[0])
		}
		text = strings.Replace(text, c[0], c[1], 1)
	}
	return text
}

func lb(text string) records.Mass  { return massOf(text + " lb") }
func ton(text string) records.Mass { return massOf(text + " ton") }

func massOf(text string) records.Mass {
	m, err := records.ParseMass(text)
	if err != nil {
		panic(err)
	}
	return m
}

func ptr[T any](v T) *T { return &v }

func dec(text string) *records.Decimal {
	d, err := records.ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return &d
}

// wet is a weight with its moisture, by the plant's scale and meter.
func wet(m records.Mass, moisture string) records.Weight {
	return records.Weight{Mass: m, Moisture: dec(moisture), Scale: "floor-scale", Meter: "moisture-meter"}
}

// grain writes a small history of goods: organic barley in two loads and conventional rye through the same pit and conveyor, one
// batch of malt of each, by-product to a farm, customers, a gap, a purge, a count, a hold, results, samples and a drill.
func (p *plant) grain() {
	day := func(d int, clock string) records.Instant {
		return at("2026-03-" + twoDigits(d) + "T" + clock + ":00-05:00")
	}
	p.document("odell-organic", "Organic certificate of Odell Brook Farm", "odell-brook")

	// before the period: a load that still lies in the silo when it begins
	p.late(at("2026-02-20T14:00:00Z"), "amadeo", &records.Receipt{Lot: "OB-2026-01", Item: "barley", Status: records.Organic, Weight: wet(ton("12.5"), "12.2"), Theirs: ptr(ton("12.48")), To: "silo-1", Via: []records.StationCode{"pit", "conveyor"},
		Source: "odell-brook", TheirLot: "OBF 25-7", Variety: "Conlon", Packaging: "bulk", Certificate: "odell-organic", LookedUp: ptr(date("2026-02-19")), LastCertified: "odell-brook",
		Vehicle: records.Vehicle{Carrier: "long-haul", Number: "NY 4471", Clean: yes(), LastLoad: "organic oats", Seals: []records.Seal{{Papers: "S-1001", Found: "S-1001"}}}, Papers: []string{"BOL 8812"}, ReleasedBy: "Wendell Marsh"})
	// conventional rye, and organic barley after it with nothing between: the gap
	p.late(day(2, "09:00"), "amadeo", &records.Receipt{Lot: "TR-2026-04", Item: "rye", Status: records.Conventional, Weight: wet(lb("21840"), "13.1"), Theirs: ptr(lb("21900")), To: "silo-2", Via: []records.StationCode{"pit", "conveyor"},
		Source: "tansy-ridge", TheirLot: "TRG-118", Variety: "Hazlet", Packaging: "bulk", Vehicle: records.Vehicle{Carrier: "long-haul", Number: "NY 4471", Clean: yes()}, ReleasedBy: "Opal Dwyer"})
	p.late(day(2, "14:00"), "amadeo", &records.Receipt{Lot: "OB-2026-02", Item: "barley", Status: records.Organic, Weight: wet(massOf("9.25 t"), "12.6"), To: "silo-1", Via: []records.StationCode{"pit", "conveyor"},
		Source: "odell-brook", Packaging: "bulk", Certificate: "odell-organic", LookedUp: ptr(date("2026-03-02")),
		Vehicle: records.Vehicle{Carrier: "long-haul", Number: "NY 9020", Seals: []records.Seal{{Papers: "S-1044", Found: "S-1404"}, {Papers: "S-1045"}}}, ReleasedBy: "Wendell Marsh"})
	// a purge with organic barley before the steep is loaded, and a proper clean-out of the pit
	p.late(day(2, "16:00"), "hank", &records.Purge{Stations: []records.StationCode{"conveyor"}, Lot: "OB-2026-02", From: "silo-1", Weight: wet(lb("320"), "12.4"),
		Became: records.Output{Lot: "PG-2026-01", Item: "barley", Status: records.Conventional, To: "silo-2", Weight: wet(lb("320"), "12.4"), Container: "silo 2"}})
	p.late(day(2, "17:00"), "lucia", &records.Signoff{Task: "changeover-clean", Station: "pit", Outcome: records.Passed, Second: "hank", Started: day(2, "16:20"),
		Answers: []records.Response{{Ask: "apart", Yes: yes()}, {Ask: "kernels", Value: qty("0", "kernels")}}})
	p.organicBatch(day)
	p.ryeBatch(day)
	p.outward(day)
	p.now = max(p.now, day(14, "12:00"))
}

func twoDigits(d int) string { return string([]byte{byte('0' + d/10), byte('0' + d%10)}) }

func (p *plant) document(code records.DocumentCode, title string, partner string) {
	from, to := date("2025-04-01"), date("2026-03-31")
	p.late(at("2026-02-19T15:00:00Z"), "nora", &records.Document{Code: code, Title: title, Type: "certificate", Subject: records.Subject{Of: "partner", Code: partner}, Issuer: "Larkfield Organic Certification", Number: "LF-0112", From: &from, To: &to})
}

func (p *plant) organicBatch(day func(int, string) records.Instant) {
	p.late(day(3, "08:00"), "beto", &records.Process{Process: "steeping", Station: "steep-1", Started: day(2, "18:00"), Via: []records.StationCode{"conveyor"},
		Inputs:  []records.Input{{From: "silo-1", Weight: wet(ton("8"), "12.4")}},
		Outputs: []records.Output{{Lot: "ST-2026-05", Item: "green-malt", Status: records.Organic, To: "steep-1", Weight: wet(lb("25300"), "45.1")}}})
	p.late(day(7, "06:00"), "beto", &records.Process{Process: "germination", Station: "floor-2", Started: day(3, "09:00"),
		Inputs:  []records.Input{{Lot: "ST-2026-05", From: "steep-1", Weight: wet(lb("25300"), "45.1"), Last: true}},
		Outputs: []records.Output{{Lot: "GM-2026-05", Item: "green-malt", Status: records.Organic, To: "floor-2", Weight: wet(lb("23550"), "44.2")}}})
	p.late(day(7, "07:30"), "beto", &records.Signoff{Task: "floor-scrub", Station: "floor-2", Outcome: records.Passed, Started: day(7, "06:30"), // the bed lies there
		Answers: []records.Response{{Ask: "strength", Value: qty("2.0", "mg/L")}, {Ask: "residue", Value: qty("0.0", "mg/L")}, {Ask: "room-air", Value: qty("0.01", "ppm")}, {Ask: "clean", Yes: yes()}},
		Agents:  []records.AgentUse{{Agent: "ozone-water", Lot: "gen 1"}}})
	p.late(day(8, "15:00"), "amadeo", &records.Process{Process: "kilning", Station: "kiln", Started: day(7, "09:00"),
		Inputs:  []records.Input{{Lot: "GM-2026-05", From: "floor-2", Weight: wet(lb("23550"), "44.2"), Last: true}},
		Outputs: []records.Output{{Lot: "PM-2026-05", Item: "pale-malt", Status: records.Organic, To: "kiln", Weight: wet(lb("13620"), "4.1"), KilnDate: ptr(date("2026-03-08"))}}})
	p.late(day(9, "10:00"), "grete", &records.Process{Process: "cleaning", Station: "cleaner", Started: day(9, "08:30"),
		Inputs: []records.Input{{Lot: "PM-2026-05", From: "kiln", Weight: wet(lb("13620"), "4.1"), Last: true}},
		Outputs: []records.Output{
			{Lot: "PM-2026-05C", Item: "pale-malt", Status: records.Organic, To: "warehouse", Weight: wet(lb("13060.5"), "4.1"), KilnDate: ptr(date("2026-03-08"))},
			{Lot: "RT-2026-05", Item: "rootlets", Status: records.Organic, To: "by-product", Weight: wet(lb("448"), "6.0"), Container: "tote 3, covered"}}})
	p.late(day(9, "15:00"), "grete", &records.Process{Process: "bagging", Station: "bagger", Started: day(9, "11:00"),
		Inputs: []records.Input{{Lot: "PM-2026-05C", From: "warehouse", Weight: wet(lb("13060.5"), "4.1"), Last: true}},
		Outputs: []records.Output{{Lot: "PM-2026-05B", Item: "pale-malt", Status: records.Organic, To: "warehouse", Weight: wet(lb("13035.5"), "4.1"), Bags: 237, BagNet: ptr(lb("55")),
			KilnDate: ptr(date("2026-03-08")), BestBy: ptr(date("2026-09-08"))}}})
	p.late(day(9, "15:30"), "grete", &records.Sample{Lot: "PM-2026-05B", Act: "kept", Number: 6, From: "warehouse", Mass: ptr(massOf("3 kg")), Where: "cabinet 2, shelf B"})
	p.late(day(10, "10:00"), "grete", &records.Sample{Lot: "PM-2026-05B", Act: "discarded", Number: 1, Note: "Bag torn."})
	p.late(day(11, "12:00"), "nora", &records.Result{Lot: "PM-2026-05B", Method: "hot plate", Laboratory: "marl-lab",
		Values: []records.Measured{{Name: "Moisture", Value: *qty("4.05", "%")}, {Name: "Colour", Value: *qty("3.4", "SRM")}, {Name: "Protein", Value: *qty("10.9", "% dm")}, {Name: "Falling number", Value: *qty("210", "s")}}})
}

// ryeBatch is conventional; more is lost on its floor than the plan's bands and the scales can explain, and nothing is known of its kilning.
func (p *plant) ryeBatch(day func(int, string) records.Instant) {
	p.late(day(4, "07:00"), "beto", &records.Move{Lot: "TR-2026-04", From: "silo-2", To: "steep-2", Via: []records.StationCode{"conveyor"}, Weight: wet(ton("5"), "13.0")})
	p.late(day(6, "07:00"), "beto", &records.Process{Process: "germination", Station: "floor-3", Started: day(4, "12:00"),
		Inputs:  []records.Input{{Lot: "TR-2026-04", From: "steep-2", Weight: wet(ton("4.9"), "13.0"), Last: true}},
		Outputs: []records.Output{{Lot: "GR-2026-02", Item: "green-malt", Status: records.Conventional, To: "floor-3", Weight: wet(lb("12000"), "44.0")}}})
	p.late(day(8, "16:00"), "beto", &records.Process{Process: "kilning", Station: "kiln", // the organic malt is still there
		Inputs:  []records.Input{{Lot: "GR-2026-02", From: "floor-3", Weight: records.Weight{Mass: lb("12000")}, Last: true}},
		Outputs: []records.Output{{Lot: "RM-2026-02", Item: "rye-malt", Status: records.Conventional, To: "kiln", Weight: wet(lb("6900"), "4.4"), KilnDate: ptr(date("2026-03-08"))}}})
	p.late(day(8, "18:00"), "nora", &records.Hold{Lots: []records.LotCode{"RM-2026-02", "PM-2026-05"}, Why: "Two batches lay on the kiln together."})
	p.late(day(9, "07:00"), "nora", &records.Release{Lots: []records.LotCode{"PM-2026-05"}, Why: "They lay on either half, a board between."})
	p.late(day(12, "09:00"), "nora", &records.Release{Lots: []records.LotCode{"RM-2026-02"}, Rejected: true, Why: "Mouldy at the edge."})
}

func (p *plant) outward(day func(int, string) records.Instant) {
	truck := records.Vehicle{Carrier: "long-haul", Number: "NY 4471", Clean: yes(), Seals: []records.Seal{{Papers: "Q-20", Found: "Q-20"}}}
	p.late(day(10, "08:00"), "hank", &records.Handover{Lot: "PM-2026-05B", From: "warehouse", To: "copper-gate", Use: records.Sale, Weight: wet(lb("5500"), "4.1"), Bags: 100, Status: records.Organic, Packaging: "100 bags on 4 pallets",
		Vehicle: truck, Checked: yes(), Papers: []string{"INV 311"}, Received: &records.Acceptance{By: "Silas Werth", At: day(10, "11:00"), Mass: ptr(lb("5496"))}})
	stored := p.late(day(10, "09:00"), "hank", &records.Handover{Lot: "PM-2026-05B", From: "warehouse", To: "stonequay", Use: records.Storage, Weight: wet(lb("4950"), "4.1"), Bags: 90, Status: records.Organic, Packaging: "pallets", Vehicle: truck})
	p.late(day(11, "09:00"), "nora", &records.Handover{Confirms: stored, Lot: "PM-2026-05B", To: "stonequay", Received: &records.Acceptance{By: "Gate office", At: day(10, "13:00"), Mass: ptr(massOf("2245 kg"))}})
	p.late(day(12, "10:00"), "nora", &records.Handover{Lot: "PM-2026-05B", FromHolder: "stonequay", To: "hearth-loaf", Use: records.Sale, Weight: records.Weight{Mass: lb("1100")}, Bags: 20, Status: records.Organic, Packaging: "bags"})
	drawing, err := p.book.PutBlob(p.t.Context(), []byte("a drawing"))
	if err != nil {
		p.t.Fatal(err)
	}
	p.late(day(12, "11:00"), "hank", &records.Handover{Lot: "RT-2026-05", From: "by-product", To: "odell-brook", Use: records.Feed, Weight: records.Weight{Mass: lb("400")}, Label: "Malt rootlets, animal feed", Container: "tote 3", Checked: yes(),
		Vehicle: records.Vehicle{Carrier: "odell-brook"}, Received: &records.Acceptance{By: "Wendell Marsh", Signature: drawing}})
	p.late(day(13, "16:00"), "grete", &records.Count{Station: "warehouse", Found: []records.Found{{Lot: "PM-2026-05B", Weight: records.Weight{Mass: lb("2530")}}}, Note: "46 bags."})
	p.late(day(13, "17:00"), "nora", &records.Drill{Drill: "spring-drill", Step: "start", Subject: "lot:OB-2026-02", Why: "A stone was found.", Lead: "nora", Level: "A"})
	p.late(day(13, "17:20"), "nora", &records.Drill{Drill: "spring-drill", Step: "contact", Partner: "copper-gate", Method: "telephone", Reached: true, Spoke: "Silas Werth", Holds: ptr(lb("4400"))})
	p.late(day(13, "17:30"), "nora", &records.Drill{Drill: "spring-drill", Step: "contact", Partner: "stonequay", Method: "telephone"})
	p.late(day(13, "18:10"), "nora", &records.Drill{Drill: "spring-drill", Step: "finish", Figures: []records.Measured{{Name: "trace", Value: *qty("42", "s")}}, Lessons: "The warehouse needs a second number."})
}

// malted is the plant with grain, and its binder of the first half of March.
func malted(t testing.TB) (*plant, Input) {
	t.Helper()
	p := newPlant(t, grainPlan(t))
	p.fill()
	p.grain()
	return p, p.input("2026-03-02", "2026-03-14")
}
