package trace

import (
	"math"
	"math/big"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/state"
)

// slowForward is what was made of lots, by going over all steps again and again until nothing is added. Written without
// the graph.
func slowForward(f *lots.Floor, start []int) map[int]bool {
	have := map[int]bool{}
	for _, i := range start {
		have[i] = true
	}
	for grew := true; grew; {
		grew = false
		for _, s := range f.Steps {
			if !slices.ContainsFunc(s.In, func(p lots.Portion) bool { return have[p.Lot] }) {
				continue
			}
			for _, o := range s.Out {
				grew = grew || !have[o.Lot]
				have[o.Lot] = true
			}
		}
	}
	return have
}

// slowShares are the expected shares downstream as exact fractions, by replaying every step and every receipt of the plant.
func slowShares(f *lots.Floor, start []int) map[int]*big.Rat {
	type event struct {
		r    *state.Record
		step *lots.Step
		t    *lots.Transfer
	}
	var events []event
	for i := range f.Steps {
		events = append(events, event{f.Steps[i].Record, f.Steps[i], nil})
	}
	for i := range f.Transfers {
		if f.Transfers[i].Receipt != nil {
			events = append(events, event{f.Transfers[i].Record, nil, f.Transfers[i]})
		}
	}
	slices.SortFunc(events, func(a, b event) int { return order(a.r, b.r) })
	in, subj := map[int]*big.Rat{}, map[int]*big.Rat{}
	for i := range f.Lots {
		in[i], subj[i] = new(big.Rat), new(big.Rat)
	}
	enter := func(l int, m records.Micrograms, share *big.Rat) {
		if slices.Contains(start, l) {
			share = big.NewRat(1, 1)
		}
		mass := new(big.Rat).SetInt64(int64(m))
		in[l].Add(in[l], mass)
		subj[l].Add(subj[l], mass.Mul(mass, share))
	}
	now := func(l int) *big.Rat {
		switch {
		case slices.Contains(start, l):
			return big.NewRat(1, 1)
		case in[l].Sign() == 0:
			return new(big.Rat)
		}
		return new(big.Rat).Quo(subj[l], in[l])
	}
	for _, e := range events {
		if e.t != nil {
			for _, p := range e.t.Portions {
				enter(p.Lot, p.Mass, new(big.Rat))
			}
			continue
		}
		sum, ours := new(big.Rat), new(big.Rat)
		for _, p := range e.step.In {
			m := new(big.Rat).SetInt64(int64(p.Mass))
			sum.Add(sum, m)
			ours.Add(ours, m.Mul(m, now(p.Lot)))
		}
		share := new(big.Rat)
		if sum.Sign() > 0 {
			share.Quo(ours, sum)
		}
		for _, o := range e.step.Out {
			enter(o.Lot, o.Mass, share)
		}
	}
	out := map[int]*big.Rat{}
	for i := range f.Lots {
		out[i] = now(i)
	}
	return out
}

// drawSubject draws lots of the floor as a subject.
func traceOf(t *rapid.T, st *state.State, f *lots.Floor, i int, dir Direction) *Trace {
	tr, err := Make(st, f, Build(f), Subject{Text: string(f.Lots[i].Code), Of: OfLot, Code: string(f.Lots[i].Code)}, dir)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func TestATraceAgreesWithTheSlowOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		st, f := history(t).fold(t, lots.Forever-1)
		if len(f.Lots) == 0 {
			return
		}
		i := rapid.IntRange(0, len(f.Lots)-1).Draw(t, "subject")
		tr := traceOf(t, st, f, i, Both)
		forward, shares := slowForward(f, []int{i}), slowShares(f, []int{i})
		for k, l := range f.Lots {
			row := tr.Lot(l.Code)
			down, up := forward[k], slowForward(f, []int{k})[i]
			if (row != nil) != (down || up) || row != nil && ((row.Down >= 0) != down || (row.Up >= 0) != up) {
				t.Fatalf("lot %s: traced %+v; slow walk says downstream %v, upstream %v", l.Code, row, down, up)
			}
			if row == nil {
				continue
			}
			if row.Entered+row.Adjusted != row.Used+row.Standing {
				t.Fatalf("lot %s: %d entered, %d adjusted, %d used, %d standing", l.Code, row.Entered, row.Adjusted, row.Used, row.Standing)
			}
			if row.Share < 0 || row.Share > 1 {
				t.Fatalf("lot %s: a share of %v", l.Code, row.Share)
			}
			want, _ := shares[k].Float64()
			if l.Entered == 0 && k != i {
				want = 0
			}
			if down && math.Abs(row.Share-want) > 1e-9 {
				t.Fatalf("lot %s: share %v, slow %v", l.Code, row.Share, want)
			}
		}
		if tr.Lots[0].Code != f.Lots[i].Code {
			t.Fatal("the subject does not come first")
		}
	})
}

// TestTheAccountConserves holds the account as is against the floor's own identity: what came into the circle is what
// stands somewhere, less what adjustments added, plus what was lost in the steps.
func TestTheAccountConserves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		st, f := history(t).fold(t, lots.Forever-1)
		if len(f.Lots) == 0 {
			return
		}
		i := rapid.IntRange(0, len(f.Lots)-1).Draw(t, "subject")
		tr := traceOf(t, st, f, i, Forward)
		s := tr.Account.AsIs
		var standing, adjusted, lost records.Micrograms
		in := slowForward(f, []int{i})
		for k, l := range f.Lots {
			if in[k] {
				standing += l.Standing()
				adjusted += l.Adjusted
			}
		}
		for _, step := range f.Steps {
			if slices.ContainsFunc(step.In, func(p lots.Portion) bool { return in[p.Lot] }) {
				for _, p := range step.In {
					lost += p.Mass
				}
				for _, o := range step.Out {
					lost -= o.Mass
				}
			}
		}
		if got := s.OnHand + s.HandedOver + s.ByProduct + s.Samples + s.Destroyed; got != standing {
			t.Fatalf("%d standing by the account, %d by the lots", got, standing)
		}
		if got := s.Loss + s.Unbanded + s.Excess; got != lost {
			t.Fatalf("%d lost by the account, %d by the steps", got, lost)
		}
		if s.Basis() != standing+lost-adjusted || s.Unexplained != -adjusted {
			t.Fatalf("basis %d, standing %d, lost %d, adjusted %d, unexplained %d", s.Basis(), standing, lost, adjusted, s.Unexplained)
		}
		if d := tr.Account.Dry; d != nil && (d.Basis() < 0 || d.Loss < 0) {
			t.Fatalf("dry account %+v", *d)
		}
	})
}

// plainly is a trace without journal positions, which differ when the same is written in another order.
func plainly(t *Trace) *Trace {
	c := *t
	c.Lots, c.Paths, c.Movements, c.Touches, c.Papers = slices.Clone(t.Lots), slices.Clone(t.Paths), slices.Clone(t.Movements), slices.Clone(t.Touches), slices.Clone(t.Papers)
	for i := range c.Lots {
		l := &c.Lots[i]
		l.Holds, l.SampleNotes = slices.Clone(l.Holds), slices.Clone(l.SampleNotes)
		for k := range l.Holds {
			l.Holds[k].Entry = 0
		}
		for k := range l.SampleNotes {
			l.SampleNotes[k].Entry = 0
		}
	}
	for i := range c.Paths {
		c.Paths[i].Entry = 0
	}
	for i := range c.Movements {
		m := &c.Movements[i]
		m.Entry, m.Accepted = 0, slices.Clone(m.Accepted)
		for k := range m.Accepted {
			m.Accepted[k].Entry = 0
		}
	}
	for i := range c.Touches {
		x := &c.Touches[i]
		x.Began = 0
		for _, p := range []**Clean{&x.Before, &x.After} {
			if *p != nil {
				clean := **p
				clean.Entry = 0
				*p = &clean
			}
		}
		x.Agents = slices.Clone(x.Agents)
		for k := range x.Agents {
			x.Agents[k].Entry = 0
		}
	}
	for i := range c.Papers {
		c.Papers[i].Entry = 0
	}
	return &c
}

// TestLateAndCorrectedEntriesGiveTheSameTrace writes one history in order, and again in any order with some entries first
// written wrongly and corrected at the end.
func TestLateAndCorrectedEntriesGiveTheSameTrace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := history(t)
		inOrder := &journal{entries: slices.Clone(j.entries)}
		slices.SortFunc(inOrder.entries, func(a, b records.Entry) int { return int(a.Happened - b.Happened) })
		late := &journal{}
		var fixes []records.Entry
		for k, e := range j.entries {
			if k > 0 && rapid.IntRange(0, 3).Draw(t, "wrong") == 0 {
				right := e
				e.Happened += 7 * minute
				e.By = "ben"
				if r, ok := e.Fact.(*records.Receipt); ok {
					wrong := *r
					wrong.Lot, wrong.Weight = "L0", kg(1)
					e.Fact = &wrong
				}
				c := &records.Correct{Target: e.ID, Reason: "a slip", With: &records.Replacement{Happened: right.Happened, By: right.By, Kind: right.Kind, Fact: right.Fact}}
				fixes = append(fixes, records.Entry{ID: id(1000 + k), Happened: day + 9999*minute, Recorded: 1, By: "ana", Meaning: records.Performed, Kind: records.KindCorrect, Fact: c})
			}
			late.entries = append(late.entries, e)
		}
		late.entries = append(late.entries, fixes...)
		st, f := inOrder.fold(t, lots.Forever-1)
		st2, f2 := late.fold(t, lots.Forever-1)
		if len(f.Lots) == 0 {
			return
		}
		i := rapid.IntRange(0, len(f.Lots)-1).Draw(t, "subject")
		k := f2.Index(f.Lots[i].Code)
		if k < 0 {
			t.Fatalf("lot %s is not there", f.Lots[i].Code)
		}
		a, b := plainly(traceOf(t, st, f, i, Both)), plainly(traceOf(t, st2, f2, k, Both))
		if !reflect.DeepEqual(a, b) {
			t.Fatalf("in order:\n%+v\nlate and corrected:\n%+v", a, b)
		}
	})
}

// oneWay is grain from a farm to a bakery and a dairy, through a silo where two receipts meet.
func oneWay() *journal {
	j := newJournal()
	at := func(n int) records.Instant { return day + records.Instant(n)*60*minute }
	j.add(at(0), "ben", &records.Signoff{Task: "sweep", Station: "silo", Outcome: records.Passed, Agents: []records.AgentUse{{Agent: "suds"}}})
	j.add(at(1), "ana", &records.Receipt{Lot: "R1", Item: "barley", Status: records.Organic, Weight: wet(600, 10), To: "silo", Via: []records.StationCode{"pit"}, Source: "farm", TheirLot: "Field 7", Certificate: "cert-farm"})
	j.add(at(2), "ana", &records.Receipt{Lot: "R2", Item: "barley", Status: records.Organic, Weight: wet(200, 10), To: "silo", Via: []records.StationCode{"pit"}, Source: "farm", TheirLot: "Field 8"})
	j.add(at(3), "ben", &records.Process{Process: "steeping", Station: "floor", Inputs: []records.Input{{From: "silo", Weight: wet(400, 10)}},
		Outputs: []records.Output{{Lot: "G1", Item: "green", Status: records.Organic, To: "floor", Weight: wet(640, 45)}}})
	j.add(at(4), "ben", &records.Process{Process: "kilning", Station: "kiln", Inputs: []records.Input{{Lot: "G1", From: "floor", Weight: wet(640, 45), Last: true}},
		Outputs: []records.Output{{Lot: "M1", Item: "malt", Status: records.Organic, To: "store", Weight: wet(330, 4), Bags: 13}, {Lot: "B1", Item: "rootlets", Status: records.Organic, To: "store", Weight: wet(12, 5)}}})
	ho := j.add(at(5), "ana", &records.Handover{Lot: "M1", From: "store", To: "baker", Use: records.Sale, Weight: wet(100, 4), Bags: 4})
	j.add(at(6), "ana", &records.Handover{Confirms: ho, Lot: "M1", To: "baker", Weight: wet(100, 4), Received: &records.Acceptance{By: "Bo"}})
	j.add(at(6)+1, "ana", &records.Handover{Lot: "M1", From: "store", To: "depot", Use: records.Storage, Weight: wet(150, 4)})
	j.add(at(7), "ana", &records.Handover{Lot: "M1", FromHolder: "depot", To: "brewer", Use: records.Sale, Weight: wet(50, 4)})
	j.add(at(8), "ana", &records.Handover{Lot: "B1", From: "store", To: "cows", Use: records.Feed, Weight: wet(12, 5), Last: true})
	m := kg(1).Mass
	j.add(at(9), "ben", &records.Sample{Lot: "M1", Act: "kept", Number: 5, From: "store", Mass: &m, Where: "shelf 3"})
	j.add(at(10), "ana", &records.Hold{Lots: []records.LotCode{"M1"}, Why: "a doubt about moisture"})
	return j
}

func TestFromABagBackToTheFarm(t *testing.T) {
	tr := mustTrace(t, oneWay(), "label:M1/13", Both)
	if tr.Subject.Bag != 13 || tr.Subject.Code != "M1" {
		t.Fatalf("subject %+v", tr.Subject)
	}
	var codes []records.LotCode
	for _, l := range tr.Lots {
		codes = append(codes, l.Code)
	}
	if !slices.Equal(codes, []records.LotCode{"M1", "G1", "R1", "R2"}) {
		t.Fatalf("lots %v", codes)
	}
	// 400 kg of 800 kg were drawn, three quarters of it R1: half of each went on. Malt is 330 of the 342 kg that came off the kiln.
	if r := tr.Lot("R1"); !r.Estimated || math.Abs(r.Share-0.5*330/342) > 1e-12 {
		t.Fatalf("R1 %v, %v", r.Share, r.Estimated)
	}
	if p := tr.Paths[0]; p.From != "R1" || p.To != "G1" || p.In != 300e9 || !p.Estimated || p.What != "steeping" {
		t.Fatalf("first path %+v", p)
	}
	if tr.Papers[0].Code != "cert-farm" || tr.Papers[0].OnFile {
		t.Fatalf("papers %+v", tr.Papers)
	}
	m := tr.Lot("M1")
	if !m.Held || len(m.Holds) != 1 || m.Samples != 5 || m.SampleNotes[0].Where != "shelf 3" || m.Bags != 13 {
		t.Fatalf("M1 %+v", m)
	}
	if len(tr.Consignees) != 3 {
		t.Fatalf("consignees %+v", tr.Consignees)
	}
	for _, want := range []struct {
		code                   records.PartnerCode
		direct, confirmed      bool
		sent, onward, standing records.Micrograms
	}{{"baker", true, true, 100e9, 0, 100e9}, {"brewer", false, false, 0, 50e9, 50e9}, {"depot", true, false, 150e9, 0, 100e9}} {
		i := slices.IndexFunc(tr.Consignees, func(c Consignee) bool { return c.Partner == want.code })
		if c := tr.Consignees[i]; c.Direct != want.direct || c.Confirmed != want.confirmed || c.Sent != want.sent || c.Onward != want.onward || c.Standing != want.standing {
			t.Errorf("%s: %+v", want.code, c)
		}
	}
	if p := tr.Partner("baker"); p.Name != "Invented Bakery" || len(p.Contacts) != 1 || p.Contacts[0].AtNight {
		t.Errorf("baker %+v", p)
	}
	if p := tr.Partner("farm"); !p.Contacts[0].AtNight {
		t.Errorf("farm %+v", p)
	}
	i := slices.IndexFunc(tr.Touches, func(x Touch) bool { return x.Station == "silo" && x.Lot == "R1" })
	if x := tr.Touches[i]; x.Before == nil || x.Before.By != "ben" || x.After != nil || x.Agents[0].Code != "suds" || len(x.People) != 2 || x.To != lots.Forever {
		t.Errorf("silo %+v", x)
	}
}

func TestForwardFromAReceiptAccountsForTheMass(t *testing.T) {
	tr := mustTrace(t, oneWay(), "their-lot:field 7", Forward)
	if g := tr.Lot("G1"); g.Share != 0.75 || !g.Estimated {
		t.Fatalf("G1 %v %v", g.Share, g.Estimated)
	}
	d := tr.Account.Dry
	if d == nil {
		t.Fatalf("no dry account: %v", tr.Account.Undried)
	}
	// By hand, in kg of dry matter. Received: 600 x 0.90; joined: the 100 kg of R2 in the draw x 0.90. Steeping 360 -> 352,
	// a loss of 8, within 5 %; kilning 352 -> 316.8 + 11.4, a loss of 23.8, within 10 %. At the silo 300 x 0.90 of R1 remain.
	want := Sums{Received: 540e9, Joined: 90e9, OnHand: 270e9 + 79*96e7, HandedOver: 250 * 96e7, ByProduct: 114e8, Samples: 96e7, Loss: 318e8}
	if *d != want {
		t.Fatalf("dry account\n%+v, want\n%+v", *d, want)
	}
	if share, ok := d.Share(); !ok || share != 1 {
		t.Fatalf("share %v", share)
	}
	if tr.Lot("R2") != nil {
		t.Fatal("R2 is not forward of R1")
	}
}

func TestALotMadeFromItself(t *testing.T) {
	j := oneWay()
	j.add(day+1000*minute, "ben", &records.Process{Process: "blending", Station: "floor", Inputs: []records.Input{{Lot: "M1", From: "store", Weight: kg(1)}},
		Outputs: []records.Output{{Lot: "G1", Item: "green", Status: records.Organic, To: "floor", Weight: kg(1)}}})
	tr := mustTrace(t, j, "M1", Both)
	if len(tr.Cycles) != 1 || !slices.Equal(tr.Cycles[0], []records.LotCode{"G1", "M1"}) {
		t.Fatalf("cycles %v", tr.Cycles)
	}
	if g := tr.Lot("G1"); g.Up < 0 || g.Down < 0 {
		t.Fatalf("G1 %+v", g)
	}
}
