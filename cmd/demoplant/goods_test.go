package demoplant_test

import (
	"maps"
	"slices"
	"testing"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/memory"
)

// Of everything that stands anywhere the records say where it came from and what became of the rest.
func TestGoodsAddUp(t *testing.T) {
	for i, text := range moments {
		t.Run(text, func(t *testing.T) {
			until := instant(t, text)
			p := simulate(t, uint64(i), until)
			st := written(t, p, memory.New()).View().State
			g := audit.At(st, until).Goods
			for _, l := range g.Lots {
				if l.Entered+l.Adjusted != l.Standing()+l.Used {
					t.Errorf("%s: %d entered, %d adjusted, %d standing, %d used", l.Code, l.Entered, l.Adjusted, l.Standing(), l.Used)
				}
			}
			if len(g.Lots) < 1000 {
				t.Errorf("%d lots; want 1,000", len(g.Lots))
			}
			rooted := rootedLots(g.Floor)
			finished := 0
			for i, l := range g.Lots {
				item := st.PlanAt(until).Item(l.Item)
				if item == nil || item.Stage != "finished" || l.Origin == nil {
					continue
				}
				finished++
				if !rooted[i] {
					t.Errorf("%s (%s) does not go back to receipts", l.Code, l.Item)
				}
			}
			verdicts := map[audit.Verdict]int{}
			for _, b := range g.Balance.Steps() {
				verdicts[b.Verdict]++
			}
			whole := map[audit.Verdict]int{}
			lo, hi := 1.0, 0.0
			for _, b := range g.Balance.Whole() {
				whole[b.Verdict]++
				lo, hi = min(lo, b.Loss), max(hi, b.Loss)
			}
			if len(g.Balance.Whole()) < 500 || whole[audit.Within] != len(g.Balance.Whole()) {
				t.Errorf("over the whole way: %v; want at least 500, all within the plan's band", whole)
			}
			if off := verdicts[audit.Above] + verdicts[audit.Below]; off > 3 { // a bed that grew too long, and what was typed wrongly on purpose
				t.Errorf("processes by their bands: %v", verdicts)
			}
			why := map[lots.Why]int{}
			for _, a := range g.Adjustments {
				why[a.Why]++
			}
			models := map[audit.Model]int{}
			for _, m := range g.Segregation.Models {
				models[m]++
			}
			organic := audit.Organic(st, g.Floor)
			if organic.In.Dry < organic.Out.Dry+organic.Standing.Dry {
				t.Errorf("organic dry matter: %d in, %d out, %d standing", organic.In.Dry, organic.Out.Dry, organic.Standing.Dry)
			}
			t.Logf("%d lots, %d finished, %d steps, %d transfers; %v; whole way %v, losses %.3f to %.3f; adjustments %v; assumed %d; models %v; arrivals after unlike goods %d",
				len(g.Lots), finished, len(g.Steps), len(g.Transfers), verdicts, whole, lo, hi, why, len(g.Assumed), models, len(g.Segregation.All().Arrivals))
			for _, k := range records.Kinds() {
				t.Logf("%-10s %d", k.Kind, st.Kind(k.Kind).Len())
			}
		})
	}
}

// rootedLots are the lots all of whose ancestors go back to receipts, by another way than the audit's: backwards, and by
// lots instead of masses.
func rootedLots(f *lots.Floor) map[int]bool {
	known := map[int]bool{}
	var root func(lot int, path map[int]bool) bool
	root = func(lot int, path map[int]bool) bool {
		if r, ok := known[lot]; ok {
			return r
		}
		l := f.Lots[lot]
		ok := l.Receipt != nil || len(l.Made) > 0
		path[lot] = true
		for _, s := range l.Made {
			ok = ok && len(f.Steps[s].In) > 0
			for _, in := range f.Steps[s].In {
				ok = ok && !path[in.Lot] && root(in.Lot, path)
			}
		}
		delete(path, lot)
		known[lot] = ok
		return ok
	}
	for i := range f.Lots {
		root(i, map[int]bool{})
	}
	return known
}

// The handovers of two hundred customers, each of whom the plan can be asked to reach.
func TestCustomersAreManyAndReachable(t *testing.T) {
	until := instant(t, moments[0])
	st := written(t, simulate(t, 1, until), memory.New()).View().State
	p := st.PlanAt(until)
	served := map[records.PartnerCode]bool{}
	for _, r := range st.Kind(records.KindHandover).All() {
		if h := r.Fact.(*records.Handover); h.Use == records.Sale {
			served[h.To] = true
		}
	}
	for c := range maps.Keys(served) {
		if x := p.Partner(c); x == nil || len(x.Contacts) == 0 || x.Contacts[0].Phone == "" || x.Address == "" {
			t.Errorf("%s can not be reached by the plan", c)
		}
	}
	if len(served) < 190 {
		t.Errorf("%d customers were served; want about two hundred", len(served))
	}
}

// Every system of goods has what the demo is to show of it.
func TestEveryProcessAndGrainIsThere(t *testing.T) {
	until := instant(t, moments[0])
	st := written(t, simulate(t, 1, until), memory.New()).View().State
	processes, grains := map[string]int{}, map[records.ItemCode]map[records.Status]int{}
	for _, r := range st.Kind(records.KindProcess).All() {
		processes[r.Fact.(*records.Process).Process]++
	}
	for _, r := range st.Kind(records.KindReceipt).All() {
		f := r.Fact.(*records.Receipt)
		if grains[f.Item] == nil {
			grains[f.Item] = map[records.Status]int{}
		}
		grains[f.Item][f.Status]++
	}
	for _, want := range []string{"steeping", "germination", "kilning", "cleaning", "bagging", "milling", "blending", "downgrading"} {
		if processes[want] == 0 {
			t.Errorf("no %s among %v", want, processes)
		}
	}
	for _, want := range []records.ItemCode{"barley", "wheat", "spelt", "rye", "oats", "corn"} {
		if grains[want][records.Organic] == 0 {
			t.Errorf("no organic %s was received: %v", want, grains)
		}
	}
	if grains["barley"][records.Conventional] == 0 {
		t.Error("no barley was received that is not organic")
	}
	var steps []string
	for _, r := range st.Kind(records.KindDrill).All() {
		steps = append(steps, r.Fact.(*records.Drill).Step)
	}
	for _, want := range []string{"start", "contact", "finish"} {
		if !slices.Contains(steps, want) {
			t.Errorf("no drill has a %s", want)
		}
	}
	t.Logf("%v %v", processes, grains)
}
