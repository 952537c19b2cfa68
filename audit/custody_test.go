package audit

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
)

// hand is one entry of the slow custody: what it takes from where and puts where.
type hand struct {
	pos      int
	at       int // minutes
	lot      records.LotCode
	from, to lots.Place
	units    int
	in       bool // a receipt
	last     bool
}

// slowHands goes through the entries that still count and happened by a moment, in order, and moves units about. What is
// not there is short, and is then taken to have been there.
func slowHands(all []hand, gone map[int]bool, now int) (held map[records.LotCode]map[lots.Place]int, found []string) {
	held = map[records.LotCode]map[lots.Place]int{}
	begun := map[records.LotCode]bool{}
	var use []hand
	for _, h := range all {
		if !gone[h.pos] && h.at <= now {
			use = append(use, h)
		}
	}
	slices.SortFunc(use, func(a, b hand) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.pos, b.pos)) })
	for k, h := range use {
		say := func(rule string) { found = append(found, fmt.Sprintf("%s:%s/%s", rule, nthID(h.pos), h.lot)) }
		if held[h.lot] == nil {
			held[h.lot] = map[lots.Place]int{}
		}
		if !begun[h.lot] && !h.in {
			say("unknown-lot")
		}
		begun[h.lot] = true
		if !h.in {
			there := held[h.lot][h.from]
			left := there - h.units
			if left < 0 && !h.last {
				// 1 % of all that was ever received of the lot, or of what is taken, is what scales explain.
				most := h.units
				entered := 0
				for _, x := range use {
					if x.in && x.lot == h.lot {
						entered += x.units
					}
				}
				if most = max(most, entered); -left*100 > most {
					say(slowPlace(use[:k], h, held[h.lot], there))
				}
			}
			if left < 0 || h.last {
				left = 0
			}
			held[h.lot][h.from] = left
		}
		held[h.lot][h.to] += h.units
	}
	slices.Sort(found)
	return held, found
}

// slowPlace says what to call it when too much was taken: by a partner; from a station where nothing was while some
// stood elsewhere; or from one that had too little.
func slowPlace(before []hand, h hand, held map[lots.Place]int, there int) string {
	if h.from.Holder != "" {
		return "not-holder"
	}
	if there > 0 {
		return "short"
	}
	// Emptied by an entry of the very same minute, it was still there in that minute.
	for _, x := range before {
		if x.at == h.at && x.lot == h.lot && (x.from == h.from || x.to == h.from) {
			return "short"
		}
	}
	for at, n := range held {
		if n > 0 && at != h.from {
			return "two-places"
		}
	}
	return "short"
}

// TestCustodyAgainstSlow: random hands, written late, withdrawn, at random moments. Who holds what is recomputed from the
// entries alone, and so is what can not be true together. Minutes are all different or clearly apart, so that "at once" has one meaning.
func TestCustodyAgainstSlow(t *testing.T) {
	lotCodes := []records.LotCode{"A", "B"}
	stationsHere := []records.StationCode{"bin", "warehouse", "shed"}
	partners := []records.PartnerCode{"brewer", "depot"}
	rapid.Check(t, func(rt *rapid.T) {
		x := newTeller(t)
		pick := func(label string, n int) int { return rapid.IntRange(0, n-1).Draw(rt, label) }
		n := rapid.IntRange(1, 14).Draw(rt, "entries")
		minutes := rapid.Permutation(func() (all []int) {
			for i := range n {
				all = append(all, 10*(i+1))
			}
			return all
		}()).Draw(rt, "when")
		var all []hand
		gone := map[int]bool{}
		for i := range n {
			h := hand{pos: int(x.st.Size()), at: minutes[i], lot: lotCodes[pick("lot", 2)], units: 1 + pick("units", 300), last: pick("last", 4) == 0}
			station, partner := stationsHere[pick("station", 3)], partners[pick("partner", 2)]
			w := records.Weight{Mass: records.Mass{Value: records.NewDecimal(int64(h.units), 0), Unit: "kg"}}
			var fact records.Fact
			switch pick("kind", 5) {
			case 0, 1:
				h.in, h.last, h.from, h.to = true, false, lots.Place{Holder: "hazel-farm"}, lots.Place{Station: station}
				fact = &records.Receipt{Lot: h.lot, Item: "barley", Status: records.Organic, Weight: w, To: station, Source: "hazel-farm"}
			case 2:
				h.from, h.to = lots.Place{Station: station}, lots.Place{Station: stationsHere[(slices.Index(stationsHere, station)+1)%3]}
				fact = &records.Move{Lot: h.lot, From: h.from.Station, To: h.to.Station, Weight: w, Last: h.last}
			case 3:
				h.from, h.to = lots.Place{Station: station}, lots.Place{Holder: partner}
				fact = &records.Handover{Lot: h.lot, From: station, To: partner, Use: records.Sale, Weight: w, Last: h.last}
			default:
				h.from, h.to = lots.Place{Holder: partner}, lots.Place{Holder: partners[(slices.Index(partners, partner)+1)%2]}
				fact = &records.Handover{Lot: h.lot, FromHolder: partner, To: h.to.Holder, Use: records.Sale, Weight: w, Last: h.last}
			}
			all = append(all, h)
			x.tell(told{fmt.Sprintf("2025-03-03 %02d:%02d", 8+h.at/60, h.at%60), fact})
			if pick("withdrawn", 6) == 0 {
				gone[h.pos] = true
				x.tell(told{"2025-03-04 08:00", &records.Correct{Target: nthID(h.pos), Reason: "never happened", Withdraw: true}})
			}
		}
		now := 10*rapid.IntRange(0, n+1).Draw(rt, "now") + 5
		f := lots.Fold(x.st, x.instant(fmt.Sprintf("2025-03-03 %02d:%02d", 8+now/60, now%60)), nil)
		held, want := slowHands(all, gone, now)

		for _, code := range lotCodes {
			got := map[lots.Place]int{}
			if l := f.Find(code); l != nil {
				for at, m := range l.At.All() {
					got[at] = int(m / 1e9)
				}
			}
			maps.DeleteFunc(held[code], func(_ lots.Place, n int) bool { return n == 0 })
			if !maps.Equal(got, held[code]) {
				rt.Fatalf("lot %s stands %v, the slow way %v", code, got, held[code])
			}
			partners := map[records.PartnerCode]int{}
			for at, n := range held[code] {
				if at.Holder != "" {
					partners[at.Holder] = n
				}
			}
			if got := replay(Chain(f, code)); !maps.Equal(got, partners) {
				rt.Fatalf("by its chain lot %s is with %v, the slow way %v", code, got, partners)
			}
		}
		var got []string
		j := &goodsJudge{st: x.st, f: f}
		for k := range f.Assumed {
			for _, fd := range j.of(func() { j.assumption(&f.Assumed[k]) }) {
				got = append(got, fd.ID)
			}
		}
		slices.Sort(got)
		if !slices.Equal(got, want) {
			rt.Fatalf("found\n%q\nthe slow way\n%q", got, want)
		}
	})
}

// replay says who of the partners holds what at the end of a chain.
func replay(chain []Link) map[records.PartnerCode]int {
	held := map[records.PartnerCode]int{}
	for _, l := range chain {
		units := int(l.Mass / 1e9)
		if h, ok := l.Record.Fact.(*records.Handover); ok {
			held[l.To.Holder] += units
			if l.From.Holder != "" {
				held[l.From.Holder] = max(0, held[l.From.Holder]-units)
				if h.Last {
					held[l.From.Holder] = 0
				}
			}
		}
	}
	maps.DeleteFunc(held, func(_ records.PartnerCode, n int) bool { return n == 0 })
	return held
}

// TestChain: from the farm to the brewer through a depot, with who signed where.
func TestChain(t *testing.T) {
	w := goodWeek(0)
	w.sale.To, w.sale.Use, w.sale.Received = "depot", records.Storage, nil
	on := sold(w, "5500", 100, records.Sale, "brewer")
	on.From, on.FromHolder = "", "depot"
	w.extra = []told{{"2025-03-08 09:00", on}, {"2025-03-09 09:00", &records.Handover{Confirms: nthID(8), To: "depot", Received: &records.Acceptance{By: "Gate"}}}}
	x := newTeller(t)
	x.tell(w.tell(0)...)
	said := func(now string, code records.LotCode) (out string) {
		for _, l := range Chain(x.floor(now), code) {
			out += fmt.Sprintf("%s→%s %s/%s; ", l.From, l.To, l.Released, l.Received)
		}
		return out
	}
	for _, c := range []struct{ now, lot, want string }{
		{"2025-03-10 09:00", "B0", "with hazel-farm→silo Ida/nora; "},
		{"2025-03-07 12:00", "P0", "warehouse→with depot nora/; "},
		{"2025-03-10 09:00", "P0", "warehouse→with depot nora/Gate; with depot→with brewer nora/; "},
		{"2025-03-10 09:00", "Q", ""},
	} {
		if got := said(c.now, records.LotCode(c.lot)); got != c.want {
			t.Errorf("lot %s at %s: %q, want %q", c.lot, c.now, got, c.want)
		}
	}
}

// TestAnyHistory: histories without sense (lots of lots, silos, holds, blends in any order, masses of nothing) break nothing
// and give each finding an id of its own.
func TestAnyHistory(t *testing.T) {
	codes := []records.LotCode{"A", "B", "C", "D"}
	places := []records.StationCode{"silo", "bin", "shed", "heap", "nowhere"}
	items := []records.ItemCode{"barley", "pale-malt", "rootlets", "wheat-flour", "unheard-of"}
	statuses := []records.Status{records.Organic100, records.Organic, records.MadeWith, records.Conventional}
	uses := []records.Use{records.Sale, records.Storage, records.Feed, records.Compost, records.Landfill, records.ForTest, records.Return}
	rapid.Check(t, func(rt *rapid.T) {
		x := newTeller(t)
		lot := func() records.LotCode { return rapid.SampledFrom(codes).Draw(rt, "lot") }
		at := func() records.StationCode { return rapid.SampledFrom(places).Draw(rt, "station") }
		weight := func() records.Weight { return pound(fmt.Sprint(rapid.IntRange(0, 50).Draw(rt, "mass"))) }
		partner := func() records.PartnerCode {
			return rapid.SampledFrom([]records.PartnerCode{"brewer", "depot", "pig-farm", "who"}).Draw(rt, "partner")
		}
		for range rapid.IntRange(1, 25).Draw(rt, "entries") {
			var fact records.Fact
			switch rapid.IntRange(0, 8).Draw(rt, "kind") {
			case 0:
				fact = &records.Receipt{Lot: lot(), Item: rapid.SampledFrom(items).Draw(rt, "item"), Status: rapid.SampledFrom(statuses).Draw(rt, "status"), Weight: weight(), To: at(), Source: partner()}
			case 1:
				fact = &records.Move{Lot: lot(), From: "silo", To: "bin", Weight: weight()}
			case 2, 3:
				p := &records.Process{Process: rapid.SampledFrom([]string{"blending", "bagging", "pelleting"}).Draw(rt, "process"), Station: at()}
				for range rapid.IntRange(1, 3).Draw(rt, "in") {
					p.Inputs = append(p.Inputs, records.Input{Lot: lot(), From: at(), Weight: weight()})
				}
				for range rapid.IntRange(1, 2).Draw(rt, "out") {
					o := records.Output{Lot: lot(), Item: rapid.SampledFrom(items).Draw(rt, "item"), Status: rapid.SampledFrom(statuses).Draw(rt, "status"), To: at(), Weight: weight(), Bags: 2, BagNet: massOf("1"), BestBy: day("2025-03-05")}
					if rapid.Bool().Draw(rt, "waste") {
						o.Disposal = "bad"
					}
					p.Outputs = append(p.Outputs, o)
				}
				fact = p
			case 4:
				fact = &records.Handover{Lot: lot(), From: at(), To: partner(), Use: rapid.SampledFrom(uses).Draw(rt, "use"), Weight: weight(), Status: rapid.SampledFrom(statuses).Draw(rt, "status")}
			case 5:
				fact = &records.Hold{Lots: []records.LotCode{lot()}, Why: "why"}
			case 6:
				fact = &records.Release{Lots: []records.LotCode{lot()}, Rejected: rapid.Bool().Draw(rt, "rejected"), Why: "why"}
			case 7:
				fact = &records.Result{Lot: lot(), Values: []records.Measured{measure("DON", "11", "ppm"), measure("Moisture", "9", "%"), measure("Net weight 1", "0.5", "lb")}}
			default:
				fact = &records.Sample{Lot: lot(), Act: rapid.SampledFrom([]string{"kept", "discarded"}).Draw(rt, "act"), Number: 1}
			}
			x.tell(told{fmt.Sprintf("2025-03-%02d 09:00", rapid.IntRange(3, 12).Draw(rt, "day")), fact})
		}
		f := x.floor("2025-04-20 09:00")
		ids := map[string]bool{}
		for _, fd := range goodsFindings(x.st, f) {
			if ids[fd.ID] {
				rt.Fatalf("two findings have the id %s", fd.ID)
			}
			ids[fd.ID] = true
			_ = fd.Sentence("es")
		}
		for _, code := range codes {
			Certificate(nil, f, x.st, code)
		}
	})
}
