package across

import (
	"fmt"
	"testing"

	"grainward/audit/trace"
	"grainward/records"
)

// A lot goes from the malt house to the mill, from there to the bakehouse, and some of it back to the malt house.
func TestThreePlants(t *testing.T) {
	w := newWorld("malt", "mill", "bake")
	w.receive("malt", start, "GRAIN", "farm", "F1", 1000)
	w.process("malt", start+hour, "GRAIN", "MALT-1", 1000)
	w.send("malt", start+2*hour, "MALT-1", "to-mill", 600, "delivery note 10471")
	w.receive("mill", start+5*hour, "M-7", "to-malt", "MALT-1", 600, "10471")
	w.process("mill", start+6*hour, "M-7", "FLOUR-7", 600)
	w.send("mill", start+7*hour, "FLOUR-7", "to-bake", 500)
	w.send("mill", start+7*hour+minute, "M-7", "to-malt", 50)
	w.receive("bake", start+9*hour, "B-1", "to-mill", "flour 7", 497)
	w.receive("malt", start+10*hour, "BACK-1", "to-mill", "M-7", 50)
	c := w.build(t)
	for way, want := range map[string]string{
		"malt GRAIN forward":  "malt:GRAIN MALT-1 BACK-1, mill:M-7 FLOUR-7, bake:B-1",
		"malt GRAIN back":     "malt:GRAIN",
		"bake B-1 back":       "bake:B-1, mill:M-7 FLOUR-7, malt:GRAIN MALT-1",
		"malt BACK-1 back":    "malt:GRAIN MALT-1 BACK-1, mill:M-7",
		"malt MALT-1 both":    "malt:GRAIN MALT-1 BACK-1, mill:M-7 FLOUR-7, bake:B-1",
		"mill M-7 both":       "mill:M-7 FLOUR-7, malt:GRAIN MALT-1 BACK-1, bake:B-1",
		"mill FLOUR-7 both":   "mill:M-7 FLOUR-7, malt:GRAIN MALT-1, bake:B-1",
		"malt GRAIN both":     "malt:GRAIN MALT-1 BACK-1, mill:M-7 FLOUR-7, bake:B-1",
		"malt nowhere either": "",
	} {
		var at, lot, dir string
		if _, err := fmt.Sscan(way, &at, &lot, &dir); err != nil {
			t.Fatal(err)
		}
		if dir == "either" {
			s, _ := trace.ParseSubject(lot, nil)
			if _, err := c.Trace("malt", s, trace.Both); records.KindOf(err) != records.NotFound {
				t.Errorf("%s: %v", way, err)
			}
			continue
		}
		tr := mustTrace(t, c, w.codes[map[string]int{"malt": 0, "mill": 1, "bake": 2}[at]], lot, map[string]trace.Direction{"both": trace.Both, "forward": trace.Forward, "back": trace.Back}[dir])
		if got := lotsOf(tr); got != want {
			t.Errorf("%s: %s, and not %s", way, got, want)
		}
	}
	if len(c.Joins) != 3 || len(c.Sent)+len(c.Got) != 0 {
		t.Fatalf("%d joins, %d sent, %d got", len(c.Joins), len(c.Sent), len(c.Got))
	}
	if j := c.Joins[2]; j.Named != Respelt || j.Rule != OnlyOne || j.Differs || j.Written != "flour 7" {
		t.Errorf("%+v", j)
	}
	far := mustTrace(t, c, "malt", "GRAIN", trace.Forward)
	if l := far.Legs[2].Lots[0]; l.Down != (Far{2, 2}) || l.Up.Is() {
		t.Errorf("B-1 is %+v from GRAIN", l.Down)
	}
	s, _ := trace.ParseSubject("X", nil)
	if _, err := c.Trace("elsewhere", s, trace.Both); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
}

// How a receipt may name the lot.
func TestNames(t *testing.T) {
	for _, x := range []struct {
		written string
		lot     records.LotCode
		how     Named
		ok      bool
	}{
		{"PM-0312", "PM-0312", AsWritten, true},
		{" PM-0312 ", "PM-0312", AsWritten, true},
		{"pm 0312", "PM-0312", Respelt, true},
		{"PM0312", "PM-0312", Respelt, true},
		{"PM-0312/12", "PM-0312", AsBag, true},
		{"PM-0312 #12", "PM-0312", AsBag, true},
		{"pm0312/12", "PM-0312", AsBag, true},
		{"PM-0312/", "PM-0312", Respelt, true},
		{"PM-03120", "PM-0312", NotNamed, false},
		{"PM-0312/x", "PM-0312", NotNamed, false},
		{"PM-0312/-1", "PM-0312", NotNamed, false},
		{"", "PM-0312", NotNamed, false},
		{"--", "PM-0312", NotNamed, false},
		{"--", "--", NotNamed, false},
		{"malz-ä1", "MALZ-Ä1", Respelt, true},
	} {
		if how, ok := named(x.written, x.lot); how != x.how || ok != x.ok {
			t.Errorf("%q means %s: %v %v", x.written, x.lot, how, ok)
		}
	}
	for _, x := range []struct {
		a, b string
		ok   bool
	}{
		{"delivery note 10471", "10471", true}, {"10471", "Delivery Note 10471", true}, {"DN-10471", "dn 10471", true}, {"note 10471", "471", false}, {"note 10471", "0471", false},
		{"A110471", "10471", false}, {"note", "delivery note", false}, {"", "", false}, {"bill of lading", "bill of lading", false}, {"BOL 77/2026", "BOL 77-2026", true},
	} {
		if got := shares([]string{"x", x.a}, []string{x.b}); got != x.ok {
			t.Errorf("%q and %q: %v", x.a, x.b, got)
		}
	}
}

// What tells several handovers of one lot apart, and what is left without a counterpart.
func TestChoosing(t *testing.T) {
	type sent struct {
		at     int // hours
		mass   int
		papers string
	}
	type got struct {
		at     int
		theirs string
		mass   int
		papers string
	}
	for name, x := range map[string]struct {
		sent []sent
		got  []got
		want string // receipt>handover rule, …; then what is loose
	}{
		"papers before all else": {[]sent{{0, 500, "note 1111"}, {10, 500, "note 2222"}}, []got{{12, "L", 500, "1111"}}, "0>0 papers; sent 1 taken"},
		"the mass tells":         {[]sent{{0, 500, ""}, {10, 300, ""}}, []got{{12, "L", 500, ""}}, "0>0 mass; sent 1 taken"},
		"the time tells":         {[]sent{{0, 500, ""}, {10, 500, ""}}, []got{{12, "L", 500, ""}}, "0>1 time; sent 0 taken"},
		"one each":               {[]sent{{0, 500, ""}, {10, 500, ""}}, []got{{12, "L", 500, ""}, {13, "L", 500, ""}}, "0>1 time, 1>0 time"},
		"one load in two":        {[]sent{{0, 1000, ""}}, []got{{2, "L", 600, ""}, {3, "L", 400, ""}}, "0>0 only, 1>0 only"},
		"one load in two, short": {[]sent{{0, 1000, ""}}, []got{{2, "L", 600, ""}, {3, "L", 300, ""}}, "0>0 only differs, 1>0 only differs"},
		"two of one paper":       {[]sent{{0, 1000, "note 1111"}, {1, 400, ""}}, []got{{2, "L", 600, "1111"}, {3, "L", 400, "1111"}}, "0>0 papers, 1>0 papers; sent 1 taken"},
		"left after it came":     {[]sent{{48, 500, ""}}, []got{{0, "L", 500, ""}}, "; sent 0 taken; got 0 late"},
		"clocks differ":          {[]sent{{20, 500, ""}}, []got{{0, "L", 500, ""}}, "0>0 only"},
		"another name":           {[]sent{{0, 500, ""}}, []got{{1, "K", 500, ""}}, "; sent 0 none; got 0 none"},
		"no name":                {[]sent{{0, 500, ""}}, []got{{1, "", 500, ""}}, "; sent 0 none; got 0 unnamed"},
		"no name, but a paper":   {[]sent{{0, 500, "note 1111"}}, []got{{1, "", 500, "1111"}}, "0>0 papers"},
		"another name, a paper":  {[]sent{{0, 500, "note 1111"}}, []got{{1, "K", 500, "1111"}}, "; sent 0 none; got 0 none"},
		"one of several":         {[]sent{{0, 500, ""}}, []got{{1, "K, L/3; M", 500, ""}}, "0>0 only"},
		"lighter":                {[]sent{{0, 500, ""}}, []got{{1, "L", 480, ""}}, "0>0 only differs"},
		"as the scales go":       {[]sent{{0, 500, ""}}, []got{{1, "L", 496, ""}}, "0>0 only"},
	} {
		t.Run(name, func(t *testing.T) {
			w := newWorld("a", "b")
			w.receive("a", start-hour, "L", "farm", "F", 5000)
			for _, s := range x.sent {
				w.send("a", start+records.Instant(s.at)*hour, "L", "to-b", s.mass, s.papers)
			}
			for i, g := range x.got {
				w.receive("b", start+records.Instant(g.at)*hour, records.LotCode(fmt.Sprintf("R-%d", i)), "to-a", g.theirs, g.mass, g.papers)
			}
			c := w.build(t)
			got := ""
			for i, j := range c.Joins {
				if i > 0 {
					got += ", "
				}
				got += fmt.Sprintf("%s>%d %s", string(j.Got)[2:], j.Handover.Record.Position-2, j.Rule)
				if j.Differs {
					got += " differs"
				}
			}
			for _, s := range c.Sent {
				got += fmt.Sprintf("; sent %d %s", s.Handover.Record.Position-2, s.Why)
			}
			for _, g := range c.Got {
				got += fmt.Sprintf("; got %s %s", string(g.Lot)[2:], g.Why)
			}
			if got != x.want {
				t.Errorf("%s, and not %s", got, x.want)
			}
		})
	}
}

// A plant whose records are not looked at: what the other's own records hold is said, and nothing of it.
func TestNotLookedAt(t *testing.T) {
	w := newWorld("a", "b", "c")
	w.receive("a", start, "L", "farm", "F", 500)
	w.send("a", start+hour, "L", "to-b", 500)
	w.receive("b", start+2*hour, "SECRET", "to-a", "L", 500)
	w.send("b", start+3*hour, "SECRET", "to-c", 500)
	w.receive("c", start+4*hour, "C-1", "to-b", "SECRET", 500)
	c := w.build(t, "b")
	tr := mustTrace(t, c, "a", "L", trace.Both)
	if got := lotsOf(tr); got != "a:L" || len(tr.Joins) != 0 || len(tr.Sent) != 1 || tr.Sent[0].Why != NotLookedAt || tr.Sent[0].To != "b" {
		t.Errorf("%s %+v", got, tr.Sent)
	}
	tr = mustTrace(t, c, "c", "C-1", trace.Both)
	if got := lotsOf(tr); got != "c:C-1" || len(tr.Got) != 1 || tr.Got[0].Why != NotLookedAt || tr.Got[0].Written != "SECRET" {
		t.Errorf("%s %+v", got, tr.Got)
	}
	s, _ := trace.ParseSubject("SECRET", nil)
	if _, err := c.Trace("b", s, trace.Both); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
}

// A handover to a plant whose company row or plan does not know us back says so.
func TestOneSided(t *testing.T) {
	w := newWorld("a", "b")
	w.receive("a", start, "L", "farm", "F", 500)
	w.send("a", start+hour, "L", "to-b", 500)
	c := Build(w.plants(t), func(at plantCode, partner records.PartnerCode) plantCode {
		if at == "b" {
			return ""
		}
		return partners(at, partner)
	})
	if len(c.Sent) != 1 || c.Sent[0].Why != NoPartner {
		t.Errorf("%+v", c.Sent)
	}
}
