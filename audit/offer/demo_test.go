package offer_test

import (
	"context"
	"encoding/json"
	"math/big"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/audit"
	"grainward/audit/offer"
	"grainward/cmd/demoplant"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/lots"
	"grainward/records/memory"
)

// demo is the demo plant's report, and the offer of it, made once.
var demo = sync.OnceValues(func() (*audit.Report, *offer.Offer) {
	ctx := context.Background()
	signer, _, err := ledger.GenerateKey(nil, "demo.example/journal")
	if err != nil {
		panic(err)
	}
	until, err := records.ParseInstant("2026-07-16T11:00:00-04:00")
	if err != nil {
		panic(err)
	}
	store := memory.New()
	if _, err := demoplant.Write(ctx, store, "demo.example/journal", signer, 1, until); err != nil {
		panic(err)
	}
	b, err := book.Open(ctx, store, book.Options{Origin: "demo.example/journal", Signer: signer, Now: func() records.Instant { return until }})
	if err != nil {
		panic(err)
	}
	rep := audit.At(b.View().State, until)
	return rep, offer.At(rep)
})

// What is offered is what the floor has: every mass at every station, by lot, and nothing else.
func TestOfferIsTheFloor(t *testing.T) {
	rep, o := demo()
	n := 0
	for _, s := range o.Stations {
		want := map[records.LotCode]string{}
		for _, l := range rep.Goods.Lots { // the slow way
			if m := l.At.Of(lots.Place{Station: s.Code}); m != 0 {
				want[l.Code] = new(big.Int).SetInt64(int64(m)).String()
			}
		}
		for _, x := range s.Here {
			if want[x.Lot] != x.Ug {
				t.Errorf("%s: %s is offered with %s and the floor has %q", s.Code, x.Lot, x.Ug, want[x.Lot])
			}
			if x.Since == 0 || x.Since > o.At {
				t.Errorf("%s: %s came at %d", s.Code, x.Lot, x.Since)
			}
			delete(want, x.Lot)
			n++
			if !slices.ContainsFunc(o.Lots, func(l offer.Lot) bool { return l.Code == x.Lot && l.Item != "" }) {
				t.Errorf("%s is not described", x.Lot)
			}
		}
		if len(want) > 0 {
			t.Errorf("%s: not offered: %v", s.Code, want)
		}
	}
	if n < 20 {
		t.Errorf("only %d standings: the demo has nothing to choose from", n)
	}
	if len(o.Holders) != 1 || o.Holders[0].Partner != "saltgate" || len(o.Holders[0].Here) == 0 {
		t.Errorf("the fulfilment warehouse: %+v", o.Holders)
	}
	held := 0
	for _, l := range o.Lots {
		if l.Held != rep.Goods.Find(l.Code).HeldAt(o.At) || l.Held && l.Why == "" {
			t.Errorf("%+v", l)
		}
		if l.Held {
			held++
		}
	}
	t.Logf("%d standings, %d lots, %d held", n, len(o.Lots), held)
}

// A plant's own habits come back: what was done last, and how lots are named. The expected codes are those the demo plant's source
// spells out (grain.go, supply.go, byproduct.go), not what the offer computes.
func TestOfferHasTheHabits(t *testing.T) {
	_, o := demo()
	manner := func(list []offer.Named, status records.Status) offer.Manner {
		for _, n := range list {
			if n.Status == status {
				return n.Manner
			}
		}
		t.Helper()
		t.Errorf("no manner for %s in %+v", status, list)
		return offer.Manner{}
	}
	recipe := func(process string, item records.ItemCode) *offer.Recipe {
		for i := range o.Recipes {
			if o.Recipes[i].Process == process && o.Recipes[i].Item == item {
				return &o.Recipes[i]
			}
		}
		t.Helper()
		t.Fatalf("no recipe for %s of %s", process, item)
		return nil
	}
	for _, in := range o.Intakes {
		if in.Item == "barley" {
			if m := manner(in.Names, records.Organic); m.Is != "dated" || m.Before != "IN" || m.Layout != "YYMMDD" || m.Middle != "-B" || !m.Number || m.After != "" {
				t.Errorf("barley is named %+v", m)
			}
			if !slices.Contains(in.To, "silo-1") || !slices.Contains(in.To, "silo-2") || !slices.Contains(in.Carriers, "fell-runner") || in.Meter != "moisture-meter" {
				t.Errorf("%+v", in)
			}
		}
	}
	if m := manner(recipe("steeping", "barley").Outputs[0].Names, records.Organic); m.Is != "dated" || m.Before != "SM" || m.Middle != "-B" || m.Number || !m.Started {
		t.Errorf("a batch is named %+v", m)
	}
	kiln := recipe("kilning", "green-malt")
	if m := manner(kiln.Outputs[0].Names, records.Organic); m.Is != "tail" || m.Drop != "G" || m.Add != "K" {
		t.Errorf("kilned malt is named %+v", m)
	}
	if !kiln.Outputs[0].KilnDate || kiln.Outputs[0].Bags || kiln.Stations[0] != "kiln" || len(kiln.Outputs[0].To) < 4 {
		t.Errorf("%+v", kiln)
	}
	clean := recipe("cleaning", "kilned-malt")
	if len(clean.Outputs) != 2 || clean.Outputs[0].KilnDate || clean.Outputs[1].Item != "rootlets" || clean.Outputs[1].Container == "" {
		t.Errorf("%+v", clean)
	}
	if m := manner(clean.Outputs[1].Names, records.Organic); m.Is != "dated" || m.Before != "BP" || m.Middle != "-B" {
		t.Errorf("rootlets are named %+v", m)
	}
	bags := recipe("bagging", "pale-malt")
	if len(bags.Outputs) != 2 || !bags.Outputs[0].Bags || bags.Outputs[0].BagNet == nil || bags.Outputs[0].BagNet.String() != "55 lb" || bags.Outputs[0].Scale != "floor-scale" {
		t.Errorf("%+v", bags)
	}
	if m := manner(bags.Outputs[0].Names, records.Organic); m.Is != "tail" || m.Drop != "M" || m.Add != "-1" {
		t.Errorf("bags are named %+v", m)
	}
	if r := recipe("blending", "pale-malt"); r.Inputs < 2 {
		t.Errorf("a blend of %d", r.Inputs)
	}
	way := func(from, to records.StationCode) []records.StationCode {
		for _, w := range o.Ways {
			if w.From == from && w.To == to && w.At == "" {
				return w.Via
			}
		}
		return nil
	}
	if got := way("silo-1", "steep-1"); !slices.Equal(got, []records.StationCode{"conveyor"}) {
		t.Errorf("from the silo to the steep by %v", got)
	}
	for _, it := range o.Items {
		if it.Code == "pale-malt" && (it.BestBy == nil || it.BestBy.Months != 6 || !it.BestBy.Kiln) || it.Code == "milled-malt" && (it.BestBy == nil || it.BestBy.Kiln) {
			t.Errorf("%+v", it)
		}
	}
	for _, x := range o.Outlets {
		if x.Use == records.Feed && x.Item == "rootlets" && (x.Label != "Malt rootlets and husk" || !slices.Contains(x.To, "hollow-ash")) {
			t.Errorf("%+v", x)
		}
	}
}

// Certificates: Ferrin's ran out before the end of the demo, the others hold (papers.go).
func TestOfferKnowsCertificates(t *testing.T) {
	_, o := demo()
	holds := map[records.DocumentCode]bool{}
	for _, d := range o.Documents {
		holds[d.Code] = d.Holds
	}
	if len(holds) != 3 || !holds["hollow-ash-organic"] || !holds["stillbend-organic"] || holds["ferrin-organic"] {
		t.Errorf("%v", holds)
	}
}

// Wheat may not simply follow nor precede barley but where goods stand in bags; organic barley may follow organic rye.
func TestUnlike(t *testing.T) {
	_, o := demo()
	for _, u := range o.Unlike {
		if u.From == u.To {
			t.Errorf("%+v", u)
		}
		if !slices.Contains(u.But, "warehouse") || slices.Contains(u.But, "kiln") {
			t.Errorf("%s to %s but at %v", u.From, u.To, u.But)
		}
	}
	if !slices.ContainsFunc(o.Unlike, func(u offer.Unlike) bool { return u.From == "organic+wheat" && u.To == "organic" }) {
		t.Error("organic after organic wheat is taken for like")
	}
}

// It stays a page's worth: habits of years do not pile up.
func TestOfferIsBounded(t *testing.T) {
	_, o := demo()
	b, err := json.Marshal(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d bytes: %d lots, %d recipes, %d ways, %d entries named", len(b), len(o.Lots), len(o.Recipes), len(o.Ways), len(o.Recent))
	if len(b) > 200_000 {
		t.Errorf("%d bytes", len(b))
	}
	if strings.Contains(string(b), "null") {
		t.Errorf("a list that is null: %s", around(string(b), "null"))
	}
	if o.Today != calendar.DateOf(o.At.Time(), mustZone(t, o.Zone)) {
		t.Error(o.Today)
	}
}

func around(text, word string) string {
	i := strings.Index(text, word)
	return text[max(0, i-60):min(len(text), i+60)]
}

func mustZone(t *testing.T, name string) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// Whoever opens the demo finds things to do, at whatever hour: grain under way in the house, malt that is to be bagged or comes to
// it, bags to dispatch, a supplier and a customer to deal with.
func TestDemoHasThingsToDo(t *testing.T) {
	rep, _ := demo()
	const hour = 3600 * 1000
	for at := rep.At - 96*hour; at <= rep.At; at += 12 * hour {
		o := offer.At(audit.At(rep.State, at))
		things := map[string]int{}
		for _, s := range o.Stations {
			switch {
			case strings.HasPrefix(string(s.Code), "steep-"), strings.HasPrefix(string(s.Code), "floor-"):
				things["in the house"] += len(s.Here)
			case strings.Contains(string(s.Code), "-bin-"), s.Code == "kiln":
				things["on its way to the bagger"] += len(s.Here)
			case s.Code == "warehouse":
				things["to dispatch"] += len(s.Here)
			}
		}
		for _, what := range []string{"in the house", "on its way to the bagger", "to dispatch"} {
			if things[what] == 0 {
				t.Errorf("%s: nothing is %s", at, what)
			}
		}
		for _, role := range []string{"supplier", "customer", "feed-farm", "carrier", "warehouse"} {
			if !slices.ContainsFunc(o.Partners, func(p offer.Partner) bool { return slices.Contains(p.Roles, role) }) {
				t.Errorf("%s: no %s", at, role)
			}
		}
	}
}
