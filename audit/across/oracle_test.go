package across

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/company"
)

type plantCode = company.PlantCode

// drawWorld draws two to four plants that send goods round, name them well and badly, and send some back.
func drawWorld(t *rapid.T) *world {
	w := newWorld([]plantCode{"a", "b", "c", "d"}[:rapid.IntRange(2, 4).Draw(t, "plants")]...)
	pool := []records.LotCode{"L-1", "L-2", "L1-1", "M-3", "M-4"}
	if rapid.Bool().Draw(t, "few") { // so that one receipt could answer many handovers
		pool, w = pool[:2], newWorld("a", "b")
	}
	lot := func(what string) records.LotCode { return rapid.SampledFrom(pool).Draw(t, what) }
	paper := func() string {
		return rapid.SampledFrom([]string{"", "", "", "note 1001", "note 1002", "1001", "NOTE-1002", "2"}).Draw(t, "paper")
	}
	for range rapid.IntRange(1, 40).Draw(t, "entries") {
		at := rapid.SampledFrom(w.codes).Draw(t, "at")
		other := rapid.SampledFrom(w.codes).Draw(t, "other")
		when := start + records.Instant(rapid.IntRange(0, 60).Draw(t, "when"))*hour
		mass := rapid.SampledFrom([]int{100, 101, 200, 300}).Draw(t, "mass")
		switch what := rapid.IntRange(0, 9).Draw(t, "what"); {
		case what < 3 && other != at:
			w.send(at, when, lot("lot"), "to-"+string(other), mass, paper())
		case what < 6 && other != at:
			name := rapid.SampledFrom([]string{"%s", "%s", "%s", "%s", "%s", "%s/7", "%s 7", "%s, L-2", "no %s", "", "M3;m 4", "l11"}).Draw(t, "name")
			if strings.Contains(name, "%") {
				name = fmt.Sprintf(name, lot("theirs"))
			}
			w.receive(at, when, lot("lot"), "to-"+string(other), name, mass, paper())
		case what < 9:
			if in, out := lot("in"), lot("out"); in != out {
				w.process(at, when, in, out, mass)
			}
		default:
			w.receive(at, when, lot("lot"), "farm", "F", mass)
		}
	}
	return w
}

type edge struct{ plant, lot string }

// union is all plants as one graph, written down edge by edge: steps within plants as the entries have them, joins between.
func union(c *Company) (steps, over map[edge][]edge) {
	steps, over = map[edge][]edge{}, map[edge][]edge{}
	for _, p := range c.Plants {
		for _, s := range p.Floor.Steps {
			for _, in := range s.In {
				for _, out := range s.Out {
					from := edge{string(p.Code), string(p.Floor.Lots[in.Lot].Code)}
					steps[from] = append(steps[from], edge{string(p.Code), string(p.Floor.Lots[out.Lot].Code)})
				}
			}
		}
	}
	for _, j := range c.Joins {
		for _, portion := range j.Handover.Portions {
			from := edge{string(j.From), string(c.Plant(j.From).Floor.Lots[portion.Lot].Code)}
			over[from] = append(over[from], edge{string(j.To), string(j.Receipt.Receipt.Lot)})
		}
	}
	return steps, over
}

// reach relaxes every edge until nothing changes: the slow way to the nearest of everything, fewest plants first and then fewest steps.
func reach(from edge, steps, over map[edge][]edge) map[edge]Far {
	far := map[edge]Far{from: {}}
	for changed := true; changed; {
		changed = false
		better := func(e edge, f Far) {
			if was, there := far[e]; !there || f.Hops < was.Hops || f.Hops == was.Hops && f.Steps < was.Steps {
				far[e], changed = f, true
			}
		}
		for e, f := range far {
			for _, to := range steps[e] {
				better(to, Far{f.Hops, f.Steps + 1})
			}
			for _, to := range over[e] {
				better(to, Far{f.Hops + 1, f.Steps})
			}
		}
	}
	return far
}

func turned(edges map[edge][]edge) map[edge][]edge {
	out := map[edge][]edge{}
	for from, tos := range edges {
		for _, to := range tos {
			out[to] = append(out[to], from)
		}
	}
	return out
}

// The walk is that of one union graph walked naively, from every lot of every plant; and forward is the mirror image of back.
func TestWalkIsTheUnions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Build(drawWorld(t).plants(t), partners)
		steps, over := union(c)
		forward := map[edge]map[edge]bool{}
		for _, p := range c.Plants {
			for _, l := range p.Floor.Lots {
				from := edge{string(p.Code), string(l.Code)}
				s, err := trace.ParseSubject("lot:"+from.lot, nil)
				if err != nil {
					t.Fatal(err)
				}
				tr, err := c.Trace(p.Code, s, trace.Both)
				if err != nil {
					t.Fatal(err)
				}
				up, down := map[edge]Far{}, map[edge]Far{}
				forward[from] = map[edge]bool{}
				for _, leg := range tr.Legs {
					for _, l := range leg.Lots {
						at := edge{string(leg.Plant), string(l.Code)}
						if l.Up.Is() {
							up[at] = l.Up
						}
						if l.Down.Is() {
							down[at] = l.Down
							forward[from][at] = true
						}
					}
				}
				sameDetail(t, tr, up, down, steps)
				same(t, "down of", from, down, reach(from, steps, over))
				same(t, "up of", from, up, reach(from, turned(steps), turned(over)))
				for at := range up {
					if at != from && forward[at] != nil && !forward[at][from] {
						t.Fatalf("%v is back of %v, which is not forward of it", at, from)
					}
				}
			}
		}
		for from, all := range forward {
			for at := range all {
				if !isBack(t, c, at, from) {
					t.Fatalf("%v is forward of %v, which is not back of it", at, from)
				}
			}
		}
	})
}

// sameDetail holds what is told within each plant against the union graph: the same lots, and the ways between them that the walk took.
func sameDetail(t *rapid.T, tr *Trace, up, down map[edge]Far, steps map[edge][]edge) {
	got := map[[2]edge]bool{}
	for i := range tr.Legs {
		leg := &tr.Legs[i]
		detail := tr.Detail(leg)
		if len(detail.Lots) != len(leg.Lots) {
			t.Fatalf("at %s are %d lots, and the detail has %d", leg.Plant, len(leg.Lots), len(detail.Lots))
		}
		for k := range leg.Lots {
			if l := detail.Lot(leg.Lots[k].Code); l == nil || (l.Down >= 0) != leg.Lots[k].Down.Is() || (l.Up >= 0) != leg.Lots[k].Up.Is() {
				t.Fatalf("at %s, %s: %+v in the detail", leg.Plant, leg.Lots[k].Code, l)
			}
		}
		for _, p := range detail.Paths {
			got[[2]edge{{string(leg.Plant), string(p.From)}, {string(leg.Plant), string(p.To)}}] = true
		}
		for _, m := range detail.Movements {
			if at := (edge{string(leg.Plant), string(m.Lot)}); m.Forward != hasEdge(down, at) {
				t.Fatalf("%v: forward is %v", at, m.Forward)
			}
		}
	}
	seen := map[[2]edge]bool{}
	for from, tos := range steps {
		for _, to := range tos {
			along := hasEdge(down, from) || hasEdge(up, to)
			if got[[2]edge{from, to}] && !along {
				t.Fatalf("%v to %v is no way of the trace", from, to)
			}
			if !got[[2]edge{from, to}] && along {
				t.Fatalf("%v to %v is missing", from, to)
			}
			seen[[2]edge{from, to}] = true
		}
	}
	for way := range got {
		if !seen[way] {
			t.Fatalf("no step made the way %v", way)
		}
	}
}

func hasEdge(m map[edge]Far, e edge) bool { _, ok := m[e]; return ok }

func same(t *rapid.T, what string, from edge, got, want map[edge]Far) {
	if len(got) != len(want) {
		t.Fatalf("%s %v: %v, and not %v", what, from, got, want)
	}
	for at, f := range want {
		if got[at] != f {
			t.Fatalf("%s %v: %v is %v away, and not %v", what, from, at, got[at], f)
		}
	}
}

func isBack(t *rapid.T, c *Company, at, of edge) bool {
	s, _ := trace.ParseSubject("lot:"+at.lot, nil)
	tr, err := c.Trace(plantCode(at.plant), s, trace.Back)
	if err != nil {
		t.Fatal(err)
	}
	for _, leg := range tr.Legs {
		for _, l := range leg.Lots {
			if string(leg.Plant) == of.plant && string(l.Code) == of.lot {
				return true
			}
		}
	}
	return false
}

var notLetters, bagEnd = regexp.MustCompile(`[^\p{L}\p{Nd}]`), regexp.MustCompile(`^(.*?)[/# ]+0*([1-9][0-9]*)$`)

// slowNamed is how near a written name comes to a lot, by patterns: 0 to 2, or -1.
func slowNamed(written, lot string) int {
	written = strings.TrimSpace(written)
	plain := func(s string) string { return strings.ToUpper(notLetters.ReplaceAllString(s, "")) }
	if plain(written) == "" {
		return -1
	}
	if written == lot {
		return 0
	}
	m := bagEnd.FindStringSubmatch(written)
	switch {
	case m != nil && m[1] == lot:
		return 1
	case plain(written) == plain(lot):
		return 2
	case m != nil && plain(m[1]) == plain(lot):
		return 1
	}
	return -1
}

// Which handover each receipt answers, taken from the package comment literally: all pairs, and again and again the best of those left.
func TestJoinsAreTheSlowOnes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Build(drawWorld(t).plants(t), partners)
		var got, want []string
		for _, j := range c.Joins {
			got = append(got, fmt.Sprintf("%s %d <- %s %d by %q", j.To, j.Receipt.Record.Position, j.From, j.Handover.Record.Position, strings.TrimSpace(j.Written)))
		}
		for a := range c.Plants {
			for b := range c.Plants {
				if a != b {
					want = append(want, slowJoins(&c.Plants[a], &c.Plants[b])...)
				}
			}
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Fatalf("joined\n%s\nand not\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		// What is joined to nothing is all the rest, once.
		seen := map[string]int{}
		for _, j := range c.Joins {
			seen[fmt.Sprint("sent ", j.From, j.Handover.Record.Position)] = 1
		}
		for _, s := range c.Sent {
			seen[fmt.Sprint("sent ", s.From, s.Handover.Record.Position)]++
		}
		for _, p := range c.Plants {
			for _, x := range p.Floor.Transfers {
				if x.Handover != nil && partners(p.Code, x.To.Holder) != "" && seen[fmt.Sprint("sent ", p.Code, x.Record.Position)] != 1 {
					t.Fatalf("%s %d is joined and loose, or neither", p.Code, x.Record.Position)
				}
			}
		}
	})
}

type slowPair struct {
	wish, r, h    int
	written       string
	paper, agrees bool
	how           int
	gap           records.Instant
	posR, posH    records.Position
}

func (p slowPair) before(o slowPair) bool {
	type step struct{ less, more bool }
	for _, s := range []step{
		{p.paper && !o.paper, o.paper && !p.paper}, {p.how < o.how, p.how > o.how}, {p.agrees && !o.agrees, o.agrees && !p.agrees}, {p.gap < o.gap, p.gap > o.gap},
		{p.posR < o.posR, p.posR > o.posR}, {p.posH < o.posH, p.posH > o.posH},
	} {
		if s.less || s.more {
			return s.less
		}
	}
	return p.wish < o.wish
}

func slowJoins(a, b *Plant) (out []string) {
	var pairs []slowPair
	wishes := 0
	for r := range b.Floor.Transfers {
		rt := b.Floor.Transfers[r]
		if rt.Receipt == nil || rt.Receipt.Source != records.PartnerCode("to-"+string(a.Code)) {
			continue
		}
		names := []string{rt.Receipt.TheirLot}
		if len(slowMeans(a, b, rt.Receipt.TheirLot)) == 0 {
			names = regexp.MustCompile(`[,;+&\n]`).Split(rt.Receipt.TheirLot, -1)
			if len(names) > 1 {
				names = slices.DeleteFunc(names, func(s string) bool { return s == "" })
			}
		}
		for _, name := range names {
			means := slowMeans(a, b, name)
			if len(names) > 1 {
				for h := range means {
					means[h] = 3
				}
			}
			if notLetters.ReplaceAllString(rt.Receipt.TheirLot, "") == "" {
				for h := range a.Floor.Transfers {
					if ht := a.Floor.Transfers[h]; ht.Handover != nil && ht.Handover.To == records.PartnerCode("to-"+string(b.Code)) && slowPaper(ht.Handover.Papers, rt.Receipt.Papers) {
						means[h] = 4
					}
				}
			}
			anyPaper := false
			for h := range means {
				anyPaper = anyPaper || slowPaper(a.Floor.Transfers[h].Handover.Papers, rt.Receipt.Papers)
			}
			var mine []slowPair
			for h, how := range means {
				ht := a.Floor.Transfers[h]
				paper := slowPaper(ht.Handover.Papers, rt.Receipt.Papers)
				late := ht.Record.Happened > rt.Record.Happened+24*hour
				if anyPaper && !paper || !anyPaper && late {
					continue
				}
				mine = append(mine, slowPair{wish: wishes, r: r, h: h, written: name, paper: paper && (len(means) > 1 || how == 4), how: how, agrees: slowAgree(ht.Handover.Weight, rt.Receipt.Weight),
					gap: max(rt.Record.Happened-ht.Record.Happened, ht.Record.Happened-rt.Record.Happened), posR: rt.Record.Position, posH: ht.Record.Position})
			}
			pairs = append(pairs, mine...)
			wishes++
		}
	}
	answered, taken := map[int]bool{}, map[int]bool{}
	for _, alone := range []bool{true, false} {
		for {
			best := -1
			for i, p := range pairs {
				if !answered[p.wish] && !(alone && taken[p.h]) && (best < 0 || p.before(pairs[best])) {
					best = i
				}
			}
			if best < 0 {
				break
			}
			p := pairs[best]
			answered[p.wish], taken[p.h] = true, true
			out = append(out, fmt.Sprintf("%s %d <- %s %d by %q", b.Code, p.posR, a.Code, p.posH, strings.TrimSpace(p.written)))
		}
	}
	return out
}

// slowMeans are the handovers of a to b whose lot a name comes nearest to.
func slowMeans(a, b *Plant, name string) map[int]int {
	means, nearest := map[int]int{}, 9
	for pass := range 2 {
		for h := range a.Floor.Transfers {
			t := a.Floor.Transfers[h]
			if t.Handover == nil || t.Handover.To != records.PartnerCode("to-"+string(b.Code)) {
				continue
			}
			if how := slowNamed(name, string(t.Handover.Lot)); how >= 0 && how <= nearest {
				if nearest = how; pass == 1 {
					means[h] = how
				}
			}
		}
	}
	return means
}

// slowPaper knows the drawn papers only: "note 1001" and "1001" are one, "2" is no number.
func slowPaper(a, b []string) bool {
	number := func(s string) string { return regexp.MustCompile(`\d{4}`).FindString(s) }
	return number(a[0]) != "" && number(a[0]) == number(b[0])
}

// slowAgree knows the drawn masses only: 100 and 101 kg are within what two scales of half a percent explain (twice 0.71 kg).
func slowAgree(a, b records.Weight) bool {
	x, y := a.Mass.Value.Float(), b.Mass.Value.Float()
	return x == y || x+y == 201
}
