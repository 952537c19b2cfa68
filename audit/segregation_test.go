package audit_test

import (
	"crypto/sha256"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/audit"
	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// testhof is how the plans of the tests about goods begin: the plant, and the stations they have in common.
const testhof = `grainward: 1
plant: {name: Testhof Malt, address: 1 Test Lane, zone: America/New_York, units: kg, languages: [en], since: 2026-01-01}
profile: {allergens: [US, EU], reviewWorkingDays: 7, lateEntry: 1h, keepYears: {food: 2, organic: 5}}
stations:
  - {code: conveyor, title: Conveyor, kind: conveyor, holds: passes, purge: 10 kg}
  - {code: silo, title: Silo, kind: silo, holds: mixed}
  - {code: floor, title: Floor, kind: germination floor, holds: separate}
`

const goodsPlan = testhof + `  - {code: store, title: Store, kind: store, holds: separate}
  - {code: pallets, title: Pallets, kind: store, holds: separate, packaged: true}
grades:
  - {code: swept, title: Swept}
  - {code: washed, title: Washed}
changeovers:
  - {from: organic, to: conventional, grade: none}
  - {from: organic+wheat, to: organic, grade: swept}
  - {from: conventional, to: organic, grade: washed}
  - {from: conventional, to: organic, grade: swept, stations: [conveyor]}
items:
  - {code: barley, title: Barley, stage: raw}
  - {code: wheat, title: Wheat, stage: raw, allergens: [wheat]}
tasks:
  - {code: sweep, title: Sweep, family: clean-out, stations: [conveyor, silo, floor, store], grade: swept, who: crew}
  - {code: wash, title: Wash, family: clean-out, stations: [conveyor, silo, floor, store], grade: washed, who: crew}
partners:
  - {code: farm, name: Test Farm, roles: [supplier]}
  - {code: shop, name: Test Shop, roles: [customer]}
people:
  - {code: ana, name: Ana Test, initials: AT, role: lead}
`

// goodsStory is a plant's entries in the order of writing; minute 0 is a morning in March.
type goodsStory struct{ entries []records.Entry }

func minute(m int) records.Instant {
	i, err := records.ParseInstant("2026-03-03T12:00:00Z")
	if err != nil {
		panic(err)
	}
	return i + records.Instant(m)*60_000
}

func newStory() *goodsStory {
	s := &goodsStory{}
	s.add(-60, adoptionOf(goodsPlan))
	return s
}

func adoptionOf(text string) *records.Adoption {
	return &records.Adoption{Text: text, SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(text)))}
}

func (s *goodsStory) add(m int, f records.Fact) *goodsStory {
	n := len(s.entries)
	id := records.EntryID{0, 0, 0, 0, 0, 1, 0x70, 0, 0x80, 0, 0, 0, 0, 0, byte(n >> 8), byte(n)}
	s.entries = append(s.entries, records.Entry{ID: id, Happened: minute(m), Recorded: minute(m), By: "ana", Meaning: records.Performed, Kind: f.Kind(), Fact: f})
	return s
}

func (s *goodsStory) state() *state.State {
	st := state.New()
	for i, e := range s.entries {
		st.Apply(records.Position(i), e)
	}
	return st
}

func inKg(n int) records.Weight {
	return records.Weight{Mass: records.Mass{Value: records.NewDecimal(int64(n), 0), Unit: "kg"}}
}

// lotClass is what the letters of the tests' lots mean.
func lotClass(lot records.LotCode) (item records.ItemCode, status records.Status) {
	switch lot[0] {
	case 'C':
		return "barley", records.Conventional
	case 'W':
		return "wheat", records.Organic
	case 'K':
		return "wheat", records.Conventional
	}
	return "barley", records.Organic
}

func (s *goodsStory) receipt(m int, lot records.LotCode, to records.StationCode, via ...records.StationCode) *goodsStory {
	item, status := lotClass(lot)
	return s.add(m, &records.Receipt{Lot: lot, Item: item, Status: status, Weight: inKg(100), To: to, Via: via, Source: "farm"})
}

func (s *goodsStory) away(m int, lot records.LotCode, from records.StationCode, via ...records.StationCode) *goodsStory {
	return s.add(m, &records.Handover{Lot: lot, From: from, To: "shop", Use: records.Sale, Weight: inKg(100), Last: true, Via: via})
}

func (s *goodsStory) clean(m, took int, task records.TaskCode, at records.StationCode) *goodsStory {
	return s.add(m, &records.Signoff{Task: task, Station: at, Outcome: records.Passed, Started: minute(m - took)})
}

func (s *goodsStory) purge(m, kg int, lot records.LotCode, from records.StationCode) *goodsStory {
	item, _ := lotClass(lot)
	return s.add(m, &records.Purge{Stations: []records.StationCode{"conveyor"}, Lot: lot, From: from, Weight: inKg(kg),
		Became: records.Output{Lot: "PURGED", Item: item, Status: records.Conventional, To: "store", Weight: inKg(kg)}})
}

// Small stories, each with what the records show of it.
func TestSegregationStories(t *testing.T) {
	cases := map[string]struct {
		story func(*goodsStory)
		want  string // rule:station:lot<after, in order of time
	}{
		"side by side in bags": {func(s *goodsStory) {
			s.receipt(0, "A", "pallets").receipt(1, "C", "pallets").away(2, "C", "pallets").receipt(3, "B", "pallets")
		}, ""},
		"side by side and open": {func(s *goodsStory) { s.receipt(0, "A", "store").receipt(1, "C", "store") }, "together:store:C<A"},
		"blended on purpose": {func(s *goodsStory) {
			s.receipt(0, "A", "pallets").receipt(1, "C", "pallets").add(2, &records.Process{Process: "blending", Station: "conveyor",
				Inputs:  []records.Input{{Lot: "A", From: "pallets", Weight: inKg(50)}, {Lot: "C", From: "pallets", Weight: inKg(50)}},
				Outputs: []records.Output{{Lot: "MIX", Item: "barley", Status: records.Conventional, To: "pallets", Weight: inKg(100)}}})
		}, ""},
		"nothing before":             {func(s *goodsStory) { s.receipt(0, "A", "floor") }, ""},
		"like after like":            {func(s *goodsStory) { s.receipt(0, "A", "floor").away(1, "A", "floor").receipt(2, "B", "floor") }, ""},
		"conventional after organic": {func(s *goodsStory) { s.receipt(0, "A", "floor").away(1, "A", "floor").receipt(2, "C", "floor") }, ""},
		"organic after conventional": {func(s *goodsStory) { s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(2, "A", "floor") }, "gap:floor:A<C"},
		"washed between": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").clean(3, 1, "wash", "floor").receipt(4, "A", "floor")
		}, ""},
		"washed as it went and as it came": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").clean(3, 2, "wash", "floor").receipt(3, "A", "floor")
		}, ""},
		"only swept": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").clean(3, 1, "sweep", "floor").receipt(4, "A", "floor")
		}, "weak-clean-out:floor:A<C"},
		"washing began before it was gone": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(2, "C", "floor").clean(3, 2, "wash", "floor").receipt(4, "A", "floor")
		}, "cleaned-occupied:floor:C gap:floor:A<C"},
		"washed elsewhere": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").clean(3, 1, "wash", "store").receipt(4, "A", "floor")
		}, "gap:floor:A<C"},
		"washed afterwards": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(2, "A", "floor").away(3, "A", "floor").clean(5, 1, "wash", "floor")
		}, "gap:floor:A<C"},
		"lots between do not clean": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(2, "A", "floor").away(3, "A", "floor").receipt(4, "B", "floor")
		}, "gap:floor:A<C gap:floor:B<C"},
		"a wash ends it for those after": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(2, "A", "floor").away(3, "A", "floor").clean(5, 1, "wash", "floor").receipt(6, "B", "floor")
		}, "gap:floor:A<C"},
		"spelt after barley adds nothing": {func(s *goodsStory) { s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(2, "K", "floor") }, ""},
		"barley after wheat":              {func(s *goodsStory) { s.receipt(0, "K", "floor").away(1, "K", "floor").receipt(2, "C", "floor") }, "allergen-gap:floor:C<K"},
		"barley after wheat, swept": {func(s *goodsStory) {
			s.receipt(0, "W", "floor").away(1, "W", "floor").clean(2, 1, "sweep", "floor").receipt(3, "A", "floor")
		}, ""},
		"together on a floor":            {func(s *goodsStory) { s.receipt(0, "C", "floor").receipt(1, "A", "floor") }, "together:floor:A<C"},
		"one goes as the other comes":    {func(s *goodsStory) { s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(1, "A", "floor") }, "gap:floor:A<C"},
		"over a conveyor":                {func(s *goodsStory) { s.receipt(0, "C", "store", "conveyor").receipt(1, "A", "floor", "conveyor") }, "gap:conveyor:A<C"},
		"over a conveyor at one instant": {func(s *goodsStory) { s.receipt(0, "C", "store", "conveyor").receipt(0, "A", "floor", "conveyor") }, "gap:conveyor:A<C"},
		"over a conveyor the other way":  {func(s *goodsStory) { s.receipt(0, "A", "floor", "conveyor").receipt(0, "C", "store", "conveyor") }, ""},
		"over a conveyor, swept": {func(s *goodsStory) {
			s.receipt(0, "C", "store", "conveyor").clean(2, 1, "sweep", "conveyor").receipt(3, "A", "floor", "conveyor")
		}, ""},
		"over a conveyor, purged": {func(s *goodsStory) {
			s.receipt(-9, "B", "floor").receipt(0, "K", "silo", "conveyor").purge(1, 10, "B", "floor").receipt(3, "A", "floor", "conveyor")
		}, ""},
		"over a conveyor, purged too little": {func(s *goodsStory) {
			s.receipt(-9, "B", "floor").receipt(0, "K", "silo", "conveyor").purge(1, 9, "B", "floor").receipt(3, "A", "floor", "conveyor")
		}, "weak-clean-out:conveyor:A<K"},
		"two purges do not add up": {func(s *goodsStory) {
			s.receipt(-9, "B", "floor").receipt(0, "K", "silo", "conveyor").purge(1, 5, "B", "floor").purge(2, 5, "B", "floor").receipt(3, "A", "floor", "conveyor")
		}, "weak-clean-out:conveyor:A<K"},
		"purged with what is no better": {func(s *goodsStory) {
			s.receipt(-9, "C", "silo").receipt(0, "K", "floor", "conveyor").away(1, "K", "floor").clean(3, 1, "wash", "floor").purge(4, 10, "C", "silo").receipt(5, "A", "floor", "conveyor")
		}, "gap:conveyor:A<C"},
		"purged before the last of it had come": {func(s *goodsStory) {
			s.receipt(-9, "C1", "store").receipt(-9, "B", "floor").receipt(0, "C2", "store", "conveyor").purge(0, 10, "B", "floor")
			s.add(0, &records.Process{Process: "cleaning", Station: "conveyor", Started: minute(-5), Inputs: []records.Input{{Lot: "C1", From: "store", Weight: inKg(100), Last: true}},
				Outputs: []records.Output{{Lot: "D", Item: "barley", Status: records.Organic, To: "silo", Weight: inKg(99)}}})
			s.receipt(3, "A", "floor", "conveyor")
		}, "broken-made:D gap:conveyor:A<C1"},
		"purged at the instant, after it": {func(s *goodsStory) {
			s.receipt(-9, "B", "floor").receipt(0, "C", "store", "conveyor").purge(0, 10, "B", "floor").receipt(3, "A", "floor", "conveyor")
		}, ""},
		"purged at the instant, before it": {func(s *goodsStory) {
			s.receipt(-9, "B", "floor").purge(0, 10, "B", "floor").receipt(0, "C", "store", "conveyor").receipt(3, "A", "floor", "conveyor")
		}, "gap:conveyor:A<C"},
		"a silo proven empty": {func(s *goodsStory) {
			s.receipt(0, "C", "silo").away(1, "", "silo").clean(3, 1, "wash", "silo").receipt(4, "A", "silo")
		}, ""},
		"downgraded on the spot": {func(s *goodsStory) {
			s.receipt(0, "A", "floor").add(1, &records.Process{Process: "downgrading", Station: "floor", Inputs: []records.Input{{Lot: "A", From: "floor", Weight: inKg(40)}},
				Outputs: []records.Output{{Lot: "CA", Item: "barley", Status: records.Conventional, To: "floor", Weight: inKg(40)}}})
		}, ""},
		"downgraded, and met again": {func(s *goodsStory) {
			s.receipt(0, "A", "floor").add(1, &records.Process{Process: "downgrading", Station: "floor", Inputs: []records.Input{{Lot: "A", From: "floor", Weight: inKg(40)}},
				Outputs: []records.Output{{Lot: "CA", Item: "barley", Status: records.Conventional, To: "silo", Weight: inKg(40)}}})
			s.add(2, &records.Move{Lot: "A", From: "floor", To: "silo", Weight: inKg(60), Last: true})
		}, "together:silo:A<CA"},
		"broken, made into more, and shipped": {func(s *goodsStory) {
			s.receipt(0, "C", "floor").away(1, "C", "floor").receipt(2, "A", "floor").add(3, &records.Process{Process: "cleaning", Station: "store",
				Inputs: []records.Input{{Lot: "A", From: "floor", Weight: inKg(100), Last: true}}, Outputs: []records.Output{{Lot: "M", Item: "barley", Status: records.Organic, To: "store", Weight: inKg(99)}}})
			s.add(4, &records.Handover{Lot: "M", From: "store", To: "shop", Use: records.Sale, Status: records.Organic, Weight: inKg(99), Last: true})
		}, "gap:floor:A<C broken-made:M broken-shipped:M"},
	}
	rules := []string{"gap", "weak-clean-out", "allergen-gap", "together", "cleaned-occupied", "broken-made", "broken-shipped"}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			s := newStory()
			c.story(s)
			rep := audit.At(s.state(), minute(100))
			type line struct {
				f    audit.Finding
				text string
			}
			var found []line
			for _, f := range rep.Findings {
				k := slices.Index(rules, f.Rule)
				if k < 0 {
					continue
				}
				text := f.Rule + ":"
				if f.Subject.Station != "" {
					text += string(f.Subject.Station) + ":"
				}
				text += string(f.Subject.Lot)
				for _, v := range f.Values {
					if k < 4 && (v.Name == "after" || v.Name == "other") {
						text += "<" + v.Word
					}
				}
				found = append(found, line{*f, text})
			}
			slices.SortFunc(found, func(a, b line) int {
				if a.f.When != b.f.When {
					return int(a.f.When - b.f.When)
				}
				if a.f.Rule != b.f.Rule {
					return slices.Index(rules, a.f.Rule) - slices.Index(rules, b.f.Rule)
				}
				return strings.Compare(a.text, b.text)
			})
			var got []string
			for _, l := range found {
				got = append(got, l.text)
			}
			if text := strings.Join(got, " "); text != c.want {
				t.Errorf("told %q\nwant %q", text, c.want)
			}
		})
	}
}

// slowSegregation takes the design's sentences literally: each contact against each contact before it, each clean-out
// against each contact.
type slowSegregation struct {
	p       *plan.Plan
	f       *lots.Floor
	broken  map[int]records.Instant
	told    []string
	station records.StationCode
	all     []lots.Contact
}

func (s *slowSegregation) class(lot int) string {
	l := s.f.Lots[lot]
	c := plan.Class{Status: string(l.Status)}
	if c.Status == "" {
		c.Status = "conventional"
	}
	if i := s.p.Item(l.Item); i != nil {
		c.Allergens = i.Allergens
	}
	return c.String()
}

func (s *slowSegregation) status(lot int) string {
	st, _, _ := strings.Cut(s.class(lot), "+")
	return st
}

func (s *slowSegregation) breaks(lot int, at records.Instant) {
	if was, ok := s.broken[lot]; s.f.Lots[lot].Status.IsOrganic() && (!ok || at < was) {
		s.broken[lot] = at
	}
}

// sameRecord says whether one of two contacts was brought by the record that made their lots of one another, both from
// the same, or something new from both (a blend).
func (s *slowSegregation) sameRecord(r *state.Record, a, b int) bool {
	for _, step := range s.f.Steps {
		if step.Record != r {
			continue
		}
		var lots []int
		for _, p := range step.In {
			lots = append(lots, p.Lot)
		}
		for _, m := range step.Out {
			lots = append(lots, m.Lot)
		}
		return slices.Contains(lots, a) && slices.Contains(lots, b)
	}
	return false
}

// empty says whether nothing was at the station at any moment within a clean-out, other than what it proved gone.
func (s *slowSegregation) empty(c lots.CleanOut) (there []int) {
	for _, k := range s.all {
		if k.Ended == c.Record && c.Record != nil {
			continue
		}
		// two stretches meet inside when the later beginning is before the earlier end; an instant is met strictly within
		if k.From < c.To && c.From < k.To && !slices.Contains(there, k.Lot) {
			there = append(there, k.Lot)
		}
	}
	return there
}

// cleaned says which records are evidence that the station was cleaned from one instant to another for a grade, and
// whether there was any attempt.
func (s *slowSegregation) cleaned(need records.GradeCode, from records.Instant, by records.Instant, left records.Position) (good []records.EntryID, attempt bool) {
	rank, _ := s.p.GradeRank(need)
	for _, c := range s.f.CleanOuts[s.station] {
		if from <= c.From && c.To <= by && len(s.empty(c)) == 0 {
			if attempt = true; c.Grade >= rank {
				good = append(good, c.Record.ID)
			}
		}
	}
	for _, k := range s.all {
		if !k.Purge || k.From < from || k.To > by || k.From == from && k.Began.Position <= left {
			continue // of what is of one instant, the purge must be the later in the journal
		}
		attempt = true
		ran, _ := k.Began.Fact.(*records.Purge).Weight.Mass.Micrograms()
		if row := s.p.Station(s.station); row.Purge != nil {
			if least, _ := row.Purge.Micrograms(); ran >= least {
				good = append(good, k.Began.ID)
			}
		}
	}
	return good, attempt
}

func (s *slowSegregation) look(got *audit.Segregation) {
	for i, c := range s.all {
		if c.Purge {
			continue
		}
		// the newest end of each class among what ended at or before c began; entries of one instant in journal order
		newest, left := map[string]records.Instant{}, map[string]records.Position{}
		for j, e := range s.all {
			switch {
			case e.To > c.From, e.Ended == c.Began && s.sameRecord(c.Began, e.Lot, c.Lot):
				continue
			case e.To == c.From && e.From == c.From && (j >= i || e.Began == c.Began):
				continue
			}
			class := s.class(e.Lot)
			if e.To == newest[class] {
				left[class] = max(left[class], e.Ended.Position)
			} else if e.To > newest[class] {
				newest[class], left[class] = e.To, e.Ended.Position
			}
		}
		for class, since := range newest {
			need, needed := s.p.GradeFor(class, s.class(c.Lot), s.station)
			if !needed {
				continue
			}
			good, attempt := s.cleaned(need, since, c.From, left[class])
			s.told = append(s.told, fmt.Sprintf("arrival %s %s %d %s after %s %d: evidence %t attempt %t", s.station, s.f.Lots[c.Lot].Code, c.From, c.Began.ID, class, since, len(good) > 0, len(good) > 0 || attempt))
			for _, a := range got.All().Arrivals {
				if a.Station == s.station && a.Contact == c && s.class(a.After) == class && a.Evidence != nil && !slices.Contains(good, a.Evidence.ID) {
					s.told = append(s.told, "taken for evidence: "+a.Evidence.ID.String())
				}
			}
			if was, _, _ := strings.Cut(class, "+"); len(good) == 0 && was != s.status(c.Lot) {
				s.breaks(c.Lot, c.From)
			}
		}
		for _, e := range s.all[:i] {
			if e.Lot == c.Lot || c.Purge || e.Purge || s.sameRecord(c.Began, e.Lot, c.Lot) {
				continue
			}
			// they overlap when one began before the other ended; a pass also what one record brought with it
			overlap := e.To > c.From || e.From == e.To && e.From == c.From && e.Began == c.Began
			_, ab := s.p.GradeFor(s.class(e.Lot), s.class(c.Lot), s.station)
			_, ba := s.p.GradeFor(s.class(c.Lot), s.class(e.Lot), s.station)
			if !overlap || !ab && !ba {
				continue
			}
			s.told = append(s.told, fmt.Sprintf("together %s %s %s %d %d %s %s", s.station, s.f.Lots[e.Lot].Code, s.f.Lots[c.Lot].Code, c.From, min(c.To, e.To), e.Began.ID, c.Began.ID))
			if s.status(e.Lot) != s.status(c.Lot) {
				s.breaks(e.Lot, c.From)
				s.breaks(c.Lot, c.From)
			}
		}
	}
	for _, c := range s.f.CleanOuts[s.station] {
		for _, lot := range s.empty(c) {
			s.told = append(s.told, fmt.Sprintf("occupied %s %s", c.Record.ID, s.f.Lots[lot].Code))
		}
	}
}

// spread takes breaks on from step to step, in the order in which they happened.
func (s *slowSegregation) spread() {
	for _, step := range s.f.Steps {
		for _, in := range step.In {
			at, broken := s.broken[in.Lot]
			bad := !s.f.Lots[in.Lot].Status.IsOrganic() || broken && at <= step.Record.Happened
			for _, out := range step.Out {
				if bad && out.Lot != in.Lot && (broken && at <= step.Record.Happened || s.f.Lots[out.Lot].Status != records.MadeWith) {
					s.breaks(out.Lot, step.Record.Happened)
				}
			}
		}
	}
	for lot, at := range s.broken {
		s.told = append(s.told, fmt.Sprintf("broken %s %d", s.f.Lots[lot].Code, at))
	}
}

// segregationLines says what the audit found in the words of the slow one.
func segregationLines(s *slowSegregation, got *audit.Segregation) (out []string) {
	code := func(i int) records.LotCode { return s.f.Lots[i].Code }
	apart := got.All()
	for _, a := range apart.Arrivals {
		out = append(out, fmt.Sprintf("arrival %s %s %d %s after %s %d: evidence %t attempt %t", a.Station, code(a.Lot), a.Contact.From, a.Contact.Began.ID, s.class(a.After), a.Since,
			a.Evidence != nil, a.Evidence != nil || a.Weak != nil))
	}
	for _, t := range apart.Together {
		out = append(out, fmt.Sprintf("together %s %s %s %d %d %s %s", t.Station, code(t.A), code(t.B), t.From, t.To, t.Began[0].ID, t.Began[1].ID))
	}
	for _, o := range apart.Occupied {
		out = append(out, fmt.Sprintf("occupied %s %s", o.CleanOut.Record.ID, code(o.Lot)))
	}
	for lot, b := range got.Broken {
		out = append(out, fmt.Sprintf("broken %s %d", code(lot), b.When))
	}
	slices.Sort(out)
	return out
}

func drawStory(t *rapid.T) *goodsStory {
	s := newStory()
	n := func(label string, from, to int) int { return rapid.IntRange(from, to).Draw(t, label) }
	station := func() records.StationCode {
		return rapid.SampledFrom([]records.StationCode{"silo", "floor", "store"}).Draw(t, "station")
	}
	any := func() records.StationCode {
		return rapid.SampledFrom([]records.StationCode{"conveyor", "silo", "floor", "store"}).Draw(t, "any")
	}
	lot := func() records.LotCode {
		return rapid.SampledFrom([]records.LotCode{"A", "B", "C", "W", "K"}).Draw(t, "lot")
	}
	via := func() []records.StationCode { return slices.Repeat([]records.StationCode{"conveyor"}, n("via", 0, 1)) }
	output := func() records.Output {
		l := lot()
		item, status := lotClass(l)
		return records.Output{Lot: l, Item: item, Status: status, To: station(), Weight: inKg(n("kg", 1, 20))}
	}
	for range n("n", 1, 30) {
		m := n("minute", 0, 30)
		switch n("kind", 0, 9) {
		case 0, 1, 2:
			s.receipt(m, lot(), station(), via()...)
		case 3, 4:
			s.away(m, lot(), station(), via()...)
		case 5:
			from, to := station(), station()
			if from != to {
				s.add(m, &records.Move{Lot: lot(), From: from, To: to, Weight: inKg(n("kg", 1, 20)), Via: via(), Last: rapid.Bool().Draw(t, "last")})
			}
		case 6:
			s.add(m, &records.Process{Process: "kilning", Station: any(), Started: minute(m - n("took", 0, 5)), Inputs: []records.Input{{Lot: lot(), From: station(), Weight: inKg(n("kg", 1, 20)), Last: rapid.Bool().Draw(t, "last")}},
				Outputs: []records.Output{output(), output()}[:n("outputs", 1, 2)], Via: via()})
		case 7:
			o := output()
			s.add(m, &records.Purge{Stations: []records.StationCode{any()}, Lot: lot(), From: station(), Weight: inKg(n("kg", 8, 12)), Became: o})
		default:
			outcome := rapid.SampledFrom([]records.Outcome{records.Passed, records.Passed, records.Failed}).Draw(t, "outcome")
			s.add(m, &records.Signoff{Task: rapid.SampledFrom([]records.TaskCode{"sweep", "wash"}).Draw(t, "task"), Station: any(), Outcome: outcome, Started: minute(m - n("took", 0, 3))})
		}
	}
	return s
}

func TestSegregationAgainstSlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		story := drawStory(t)
		rep := audit.At(story.state(), minute(rapid.IntRange(5, 40).Draw(t, "at")))
		got := rep.Goods.Segregation
		s := &slowSegregation{p: rep.State.PlanAt(minute(0)), f: rep.Goods.Floor, broken: map[int]records.Instant{}}
		for station, all := range rep.Goods.Contacts {
			s.station, s.all = station, all.Cut(0, all.Len())
			s.look(got)
		}
		s.spread()
		slices.Sort(s.told)
		if lines := segregationLines(s, got); !slices.Equal(lines, s.told) {
			var b strings.Builder
			for _, e := range story.entries[1:] {
				row, _ := records.Format(e)
				fmt.Fprintf(&b, "%s\n", row.Bytes)
			}
			t.Fatalf("only the audit has:\n%s\nonly the slow one has:\n%s\n%s", lesser(lines, s.told), lesser(s.told, lines), b.String())
		}
	})
}

// lesser is what of one list the other has not, as often.
func lesser(a, b []string) string {
	left := slices.Clone(b)
	var out []string
	for _, x := range a {
		if k := slices.Index(left, x); k >= 0 {
			left = slices.Delete(left, k, k+1)
		} else {
			out = append(out, x)
		}
	}
	return strings.Join(out, "\n")
}
