package state_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/state"
)

// history draws a journal of sign-offs, deviations and corrections, in any order of happening. Ids are made from the
// position, so that a draw can be read.
type history struct {
	entries []records.Entry
}

func id(n int) (e records.EntryID) {
	e[5], e[6], e[8], e[15], e[14] = 1, 0x70, 0x80, byte(n), byte(n>>8)
	return e
}

func signoff(task, station int, note string) *records.Signoff {
	return &records.Signoff{Task: records.TaskCode(fmt.Sprintf("t%d", task)), Station: records.StationCode(fmt.Sprintf("s%d", station)), Outcome: records.Passed, Note: note}
}

var papers = []records.DocumentCode{"licence", "photo"}

func draw(t *rapid.T) history {
	var h history
	n := rapid.IntRange(1, 40).Draw(t, "n")
	fact := func(i int) records.Fact {
		switch rapid.IntRange(0, 4).Draw(t, "what") {
		case 0:
			return &records.Deviation{What: fmt.Sprint("d", i)}
		case 1:
			return &records.Document{Code: papers[rapid.IntRange(0, 1).Draw(t, "paper code")], Title: fmt.Sprint("p", i)}
		}
		return signoff(rapid.IntRange(0, 1).Draw(t, "task"), rapid.IntRange(0, 1).Draw(t, "station"), fmt.Sprint("n", i))
	}
	for i := range n {
		e := records.Entry{ID: id(i), Happened: records.Instant(rapid.IntRange(1, 20).Draw(t, "happened")), Recorded: records.Instant(100 + i),
			By: "ana", Meaning: records.Performed, Fact: fact(i)}
		if rapid.IntRange(0, 2).Draw(t, "paper") == 0 {
			e.Paper = &records.Paper{Whose: "cleo"}
		}
		if i > 0 && rapid.IntRange(0, 2).Draw(t, "correct") == 0 {
			target := rapid.IntRange(0, i).Draw(t, "target") // i itself: a correction of nothing that was there
			c := &records.Correct{Target: id(target), Reason: "r"}
			if rapid.Bool().Draw(t, "withdraw") {
				c.Withdraw = true
			} else {
				f := fact(i)
				c.With = &records.Replacement{Kind: f.Kind(), Fact: f, Happened: records.Instant(rapid.IntRange(0, 20).Draw(t, "new happened"))}
				if rapid.Bool().Draw(t, "new by") {
					c.With.By = "ben"
				}
			}
			e.Fact = c
		}
		if rapid.IntRange(0, 30).Draw(t, "same id") == 0 && i > 0 {
			e.ID = id(rapid.IntRange(0, i-1).Draw(t, "taken"))
		}
		e.Kind = e.Fact.Kind()
		h.entries = append(h.entries, e)
	}
	return h
}

// counted is what an entry comes to, by the slow fold.
type counted struct {
	pos records.Position
	e   records.Entry
}

// slowFold reads the rules of records.Correct literally: it goes through the whole journal for every entry.
func slowFold(entries []records.Entry) []counted {
	position := func(id records.EntryID, before int) int {
		for i := 0; i < before; i++ {
			if entries[i].ID == id {
				return i
			}
		}
		return -1
	}
	// target and root of each correction that changes anything
	target, root := map[int]int{}, map[int]int{}
	for i, e := range entries {
		root[i] = i
		c, ok := e.Fact.(*records.Correct)
		if !ok {
			continue
		}
		at := position(c.Target, i)
		if at < 0 {
			continue
		}
		r := root[at]
		if c.With != nil && c.With.Kind != entries[r].Kind {
			root[i] = r // its chain is known, but it changes nothing
			continue
		}
		target[i], root[i] = at, r
	}
	// content says what the entry at i says by now, or that it is withdrawn
	var content func(i int) (fact records.Fact, with *records.Replacement, gone bool)
	content = func(i int) (records.Fact, *records.Replacement, bool) {
		for j := len(entries) - 1; j > i; j-- {
			if at, ok := target[j]; !ok || at != i {
				continue
			}
			fact, with, gone := content(j)
			if gone {
				continue // the correction was withdrawn: as if it had not been made
			}
			if with == nil {
				with = fact.(*records.Correct).With
			}
			if fact.(*records.Correct).Withdraw && with == nil {
				return nil, nil, true
			}
			return entries[i].Fact, with, false
		}
		return entries[i].Fact, nil, false
	}
	var out []counted
	for i, e := range entries {
		if _, ok := e.Fact.(*records.Correct); ok {
			out = append(out, counted{records.Position(i), e}) // a correction is itself on its kind's timeline, as written
			continue
		}
		_, with, gone := content(i)
		if gone {
			continue
		}
		if with != nil {
			e.Fact = with.Fact
			if with.Happened != 0 {
				e.Happened = with.Happened
			}
			switch {
			case with.By != "" && e.Paper != nil:
				e.Paper = &records.Paper{Whose: with.By}
			case with.By != "":
				e.By = with.By
			}
		}
		out = append(out, counted{records.Position(i), e})
	}
	slices.SortStableFunc(out, func(a, b counted) int {
		if a.e.Happened != b.e.Happened {
			return int(a.e.Happened - b.e.Happened)
		}
		return int(a.pos - b.pos)
	})
	return out
}

func without(a, b []string) string {
	return strings.Join(slices.DeleteFunc(slices.Clone(a), func(s string) bool { return slices.Contains(b, s) }), "\n")
}

func show(pos records.Position, e records.Entry) string {
	return fmt.Sprintf("%d@%d %s %s %s %+v", pos, e.Happened, e.By, e.Performer(), e.Kind, e.Fact)
}

// dump writes a state's timelines as text.
func dump(st *state.State) string {
	var b strings.Builder
	for _, row := range records.Kinds() {
		for _, r := range st.Kind(row.Kind).All() {
			fmt.Fprintln(&b, row.Kind, show(r.Position, r.Entry))
		}
	}
	duties := map[string]state.Timeline{}
	for d, tl := range st.Duties() {
		duties[string(d.Task+" "+records.TaskCode(d.Station))] = tl
	}
	for _, name := range slices.Sorted(maps.Keys(duties)) {
		for _, r := range duties[name].All() {
			fmt.Fprintln(&b, name, show(r.Position, r.Entry))
		}
	}
	for _, code := range papers {
		for _, r := range st.Documents(code).All() {
			fmt.Fprintln(&b, code, show(r.Position, r.Entry))
		}
	}
	for _, o := range st.Oddities() {
		fmt.Fprintln(&b, o)
	}
	return b.String()
}

func fold(entries []records.Entry) *state.State {
	st := state.New()
	for i, e := range entries {
		st.Apply(records.Position(i), e)
	}
	return st
}

// The fold agrees with one that does it the slow way, whatever is late, corrected, or corrected again.
func TestFoldAgainstSlowFold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := draw(t)
		st := fold(h.entries)
		var want, got []string
		for _, c := range slowFold(h.entries) {
			want = append(want, show(c.pos, c.e))
		}
		var all []*state.Record
		for _, row := range records.Kinds() {
			all = append(all, st.Kind(row.Kind).All()...)
		}
		for _, code := range papers {
			its := slices.DeleteFunc(slices.Clone(st.Kind(records.KindDocument).All()), func(r *state.Record) bool { return r.Fact.(*records.Document).Code != code })
			if !slices.Equal(st.Documents(code).All(), its) {
				t.Fatalf("the documents %s are not those of that code", code)
			}
		}
		slices.SortFunc(all, func(a, b *state.Record) int {
			if a.Happened != b.Happened {
				return int(a.Happened - b.Happened)
			}
			return int(a.Position - b.Position)
		})
		for _, r := range all {
			got = append(got, show(r.Position, r.Entry))
			if now := st.Now(r.Position); now != r && r.Kind != records.KindCorrect {
				t.Fatalf("Now(%d) is not the record on the timeline", r.Position)
			}
			if r.Corrected != nil && fmt.Sprint(r.Corrected.First) != fmt.Sprint(h.entries[r.Position]) {
				t.Fatalf("the entry first written at %d is not kept", r.Position)
			}
		}
		if !slices.Equal(got, want) {
			t.Fatalf("only the fold has:\n%s\nonly the slow fold has:\n%s", without(got, want), without(want, got))
		}
		for i, e := range h.entries {
			if first := st.First(records.Position(i)); fmt.Sprint(first.Entry) != fmt.Sprint(e) {
				t.Fatalf("the entry first written at %d is not kept", i)
			}
		}
	})
}

// A snapshot stays what it was, however the state goes on; and equals a fold of what it had.
func TestSnapshotsStay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := draw(t)
		st := state.New()
		type taken struct {
			view *state.State
			was  string
			n    int
		}
		var views []taken
		for i, e := range h.entries {
			st.Apply(records.Position(i), e)
			if rapid.IntRange(0, 2).Draw(t, "snapshot") == 0 {
				v := st.Snapshot()
				views = append(views, taken{v, dump(v), i + 1})
			}
		}
		for _, v := range views {
			if now := dump(v.view); now != v.was {
				t.Fatalf("the snapshot after %d entries changed:\n%s\nwas\n%s", v.n, now, v.was)
			}
			if again := dump(fold(h.entries[:v.n])); again != v.was {
				t.Fatalf("the snapshot after %d entries is not the fold of them:\n%s\nfold\n%s", v.n, v.was, again)
			}
			if prefix := dump(st.Prefix(records.Position(v.n))); prefix != v.was {
				t.Fatalf("Prefix(%d) differs from the state at that time:\n%s\nwas\n%s", v.n, prefix, v.was)
			}
			if at := records.Instant(100 + v.n - 1); dump(st.AsKnown(at)) != v.was {
				t.Fatalf("AsKnown differs from the state at that time")
			}
		}
	})
}

// Versions tell whether a timeline changed.
func TestVersionsTell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := draw(t)
		st := state.New()
		before := map[string]string{}
		for i, e := range h.entries {
			st.Apply(records.Position(i), e)
			for d, tl := range st.Duties() {
				key := fmt.Sprint(d, tl.Version())
				var b strings.Builder
				for _, r := range tl.All() {
					fmt.Fprintln(&b, show(r.Position, r.Entry))
				}
				if was, ok := before[key]; ok && was != b.String() {
					t.Fatalf("%s has two contents:\n%s\n%s", key, was, b.String())
				}
				before[key] = b.String()
			}
		}
	})
}

func TestTimelineCuts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := draw(t)
		st := fold(h.entries)
		tl := st.Kind(records.KindSignoff)
		from, to := records.Instant(rapid.IntRange(0, 21).Draw(t, "from")), records.Instant(rapid.IntRange(0, 21).Draw(t, "to"))
		var between, until []*state.Record
		var last *state.Record
		for _, r := range tl.All() {
			if from <= r.Happened && r.Happened <= to {
				between = append(between, r)
			}
			if r.Happened <= to {
				until, last = append(until, r), r
			}
		}
		if !slices.Equal(tl.Between(from, to), between) || !slices.Equal(tl.Until(to), until) || tl.Last(to) != last {
			t.Fatalf("cuts from %d to %d differ", from, to)
		}
	})
}

func TestApplyTwicePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a position applied twice went unnoticed")
		}
	}()
	st := fold([]records.Entry{{ID: id(0), Happened: 1, Kind: records.KindSignoff, Fact: signoff(0, 0, "")}})
	st.Apply(0, records.Entry{ID: id(1), Kind: records.KindSignoff, Fact: signoff(0, 0, "")})
}
