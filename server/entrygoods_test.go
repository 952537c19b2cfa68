package server

import (
	"strings"
	"testing"

	"grainward/records"
	"grainward/records/calendar"
)

// Every kind of entry about goods is read in words, in both languages, with what people typed shown as text.
func TestEntriesAboutGoods(t *testing.T) {
	w := plant(t)
	key, err := w.Book.PutBlob(t.Context(), picture())
	if err != nil {
		t.Fatal(err)
	}
	yes, no := true, false
	day := calendar.DateOf(w.clock.now().Time(), records.Instant(0).Time().Location())
	lb, wet := mass("3000 lb"), records.NewDecimal(125, 1)
	weight := records.Weight{Mass: lb, Moisture: &wet, Scale: "floor-scale", Meter: "moisture-meter"}
	const typed = `<script>alert(1)</script>`
	sold := &records.Handover{Lot: "PM-1", From: "warehouse", To: "copper-gate", Use: records.Sale, Weight: weight, Bags: 54, Last: true, Status: records.Organic, Label: typed, Container: "tote 3", Checked: &no,
		Vehicle: records.Vehicle{Carrier: "long-haul", Number: "NY 1", Clean: &yes, LastLoad: typed, Seals: []records.Seal{{Papers: "S-1"}}}, Papers: []string{"note 7"},
		Received: &records.Acceptance{By: typed, At: w.clock.now(), Mass: &lb, Signature: key}}
	for _, c := range []struct {
		fact   records.Fact
		en, es []string
	}{
		{&records.Receipt{Lot: "OB-1", Item: "barley", Status: records.Organic, Weight: weight, Theirs: &lb, To: "silo-1", Via: []records.StationCode{"pit", "conveyor"}, Source: "odell-brook", TheirLot: typed,
			Certificate: "odell-organic", LookedUp: &day, LastCertified: "tansy-ridge", ReleasedBy: "A. Driver"},
			[]string{"Receipt", "Barley, organic", "Odell Brook Farm", "3000 lb, 12.5 % moisture (Floor scale) (Moisture meter)", "Receiving pit, Enclosed conveyor", "Organic certificate of Odell Brook Farm", "Tansy Ridge Grain", "A. Driver"},
			[]string{"Recepción", "Cebada, ecológico", "12.5 % de humedad", "Fosa de recepción"}},
		{&records.Move{Lot: "OB-1", From: "silo-1", To: "steep-1", Weight: weight, Last: true, Note: typed}, []string{"Move", "Silo 1", "Steep tank 1", "nothing"}, []string{"Movimiento", "Tanque de remojo 1"}},
		{&records.Process{Process: "kilning", Station: "kiln", Started: w.clock.now() - 3_600_000, Inputs: []records.Input{{Lot: "GM-1", From: "kiln", Weight: weight, Last: true}},
			Outputs: []records.Output{{Lot: "PM-1", Item: "pale-malt", Status: records.Organic, To: "warehouse", Weight: weight, Bags: 54, BagNet: &lb, KilnDate: &day, BestBy: &day}, {Lot: "RT-1", Item: "rootlets", Status: records.Organic, To: "by-product", Weight: weight, Container: typed, Disposal: "mouldy"}}},
			[]string{"Process", "kilning", "GM-1 3000 lb", "nothing left there", "PM-1: Pale barley malt, organic", "54 × 3000 lb", "Best by", "mouldy"}, []string{"Proceso", "Entró", "Consumo preferente"}},
		{sold, []string{"Handover", "Copper Gate Brewhouse", "sale", "papers S-1, found –", "Signature drawn", `<img class="drawn" src="/photo/` + key, "Pell Valley Haulage", "Container or vehicle found fit"}, []string{"Entrega", "venta", "Firma dibujada"}},
		{&records.Count{Station: "warehouse", Found: []records.Found{{Lot: "PM-1", Weight: weight}}}, []string{"Count", "PM-1 3000 lb"}, []string{"Recuento"}},
		{&records.Count{Station: "kiln"}, []string{"nothing"}, []string{"nada"}},
		{&records.Hold{Lots: []records.LotCode{"PM-1", "RT-1"}, Why: typed}, []string{"Hold", "PM-1, RT-1"}, []string{"Retención"}},
		{&records.Release{Lots: []records.LotCode{"PM-1"}, Why: "sound"}, []string{"released"}, []string{"liberado"}},
		{&records.Release{Lots: []records.LotCode{"RT-1"}, Rejected: true, Why: "mould"}, []string{"rejected"}, []string{"rechazado"}},
		{&records.Purge{Stations: []records.StationCode{"conveyor", "bagger"}, From: "silo-1", Weight: weight, Became: records.Output{Lot: "P-1", Item: "rootlets", Status: records.Conventional, To: "by-product", Weight: weight}},
			[]string{"Purge", "Enclosed conveyor", "Bagger", "P-1: Rootlets and husk, not organic"}, []string{"Purga"}},
		{&records.Sample{Lot: "PM-1", Act: "kept", Number: 6, From: "warehouse", Mass: &lb, Where: typed}, []string{"6 kept"}, []string{"6 guardadas"}},
		{&records.Sample{Lot: "PM-1", Act: "discarded", Number: 2}, []string{"2 thrown out"}, []string{"2 desechadas"}},
	} {
		at := w.write(records.Entry{By: "hank", Fact: c.fact})
		for who, words := range map[records.PersonCode][]string{"hank": c.en, "lucia": c.es} {
			got := w.asToken(w.signedIn(who), "/entry/"+positionText(at), nil)
			w.wants(got, 200, words...)
			if strings.Contains(got.body, typed) || strings.Contains(got.body, ">g-") {
				t.Errorf("%s: %s", c.fact.Kind(), got.body)
			}
		}
	}
	// a later confirmation leads to what it confirms
	first := w.view(sold)
	at := w.write(records.Entry{By: "hank", Fact: &records.Handover{Confirms: first, To: "copper-gate", Received: &records.Acceptance{By: "Goods in"}}})
	w.wants(w.ask(crew, "/entry/"+positionText(at), nil), 200, "Confirms", "Goods in")
}

// view is the id of the entry with a fact.
func (w *world) view(f records.Fact) records.EntryID {
	for _, r := range w.Book.View().State.Kind(f.Kind()).All() {
		if r.Fact == f {
			return r.ID
		}
	}
	w.Fatal("it is not there")
	return records.EntryID{}
}

func (w *world) signedIn(who records.PersonCode) string {
	w.Helper()
	token, err := w.auth.SignIn(w.Context(), who)
	if err != nil {
		w.Fatal(err)
	}
	return token
}
