package lots_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/lots/lotstest"
	"grainward/records/state"
)

// A keeper that goes on from what it has folded gives at each step the floor that folding everything gives: whatever comes late,
// is corrected or withdrawn, whichever plans and clean-outs become known in between. The floors it gave before stay as they were,
// while others read them.
func TestKeeperGoesOn(t *testing.T) {
	lots.SmallPages(t, 4)
	other := strings.Replace(planText, "silo-1, title: Silo 1, kind: silo, holds: mixed", "silo-1, title: Silo 1, kind: silo, holds: separate", 1)
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, rapid.Bool().Draw(t, "distinct"))
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		written := slices.Clone(h.entries)
		for i, text := range []string{planText, other, planText} {
			written = append(written, adoption(9000+i, records.Instant(1+i*rng.IntN(60)), text))
		}
		if rng.IntN(2) == 0 {
			rng.Shuffle(len(written), func(i, j int) { written[i], written[j] = written[j], written[i] })
		}
		for i, e := range h.entries {
			c := &records.Correct{Target: e.ID, Reason: "x"}
			switch rng.IntN(6) {
			case 0:
				c.Withdraw = true
			case 1:
				c.With = &records.Replacement{Happened: records.Instant(10 + rng.IntN(80)), Kind: e.Kind, Fact: otherFact(rng, e, h.entries)}
			default:
				continue
			}
			written = slices.Insert(written, rng.IntN(len(written)+1), entry(5000+i, 500, c))
		}
		st, keeper := state.New(), new(lots.Keeper)
		var readers sync.WaitGroup
		defer readers.Wait()
		at := records.Instant(1000)
		for i, e := range written {
			st.Apply(records.Position(i), e)
			if rng.IntN(4) == 0 {
				at = records.Instant(rng.IntN(120))
			} else if rng.IntN(2) == 0 {
				at = 1000
			}
			var known []lots.CleanOut
			for k, c := range h.cleanOuts {
				if k%5 != i/3%5 || rng.IntN(8) == 0 {
					known = append(known, c)
				}
			}
			snapshot := st.Snapshot()
			floor, want := keeper.At(snapshot, at, known), lotstest.Dump(lots.Fold(snapshot, at, known))
			if got := lotstest.Dump(floor); got != want {
				t.Fatalf("after entry %d, at %s:\n%s\nfrom nothing:\n%s\n%s", i, at, got, want, h.told())
			}
			standsAsGoneThrough(t, floor)
			if before := at - records.Instant(rng.IntN(130)); rng.IntN(2) == 0 {
				fold, want := keeper.Earlier(snapshot, before), lotstest.Dump(lots.Fold(snapshot, before, known))
				readers.Go(func() { // the keeper goes on meanwhile
					if got := lotstest.Dump(fold()); got != want {
						t.Errorf("at %s, asked at %s after entry %d:\n%s\nfrom nothing:\n%s\n%s", before, at, i, got, want, h.told())
					}
				})
			}
			readers.Go(func() {
				for range 2 {
					if got := lotstest.Dump(floor); got != want {
						t.Errorf("the floor after entry %d became\n%s\nand was\n%s", i, got, want)
					}
				}
			})
			if rng.IntN(3) == 0 {
				readers.Wait()
			}
		}
	})
}

// standsAsGoneThrough holds what is said to be at each place against going through all lots.
func standsAsGoneThrough(t *rapid.T, f *lots.Floor) {
	t.Helper()
	want := map[lots.Place][]int{lots.Samples: nil, {Station: "nowhere"}: nil, {Holder: "nobody"}: nil}
	for code := range f.Contacts {
		want[lots.Place{Station: code}] = nil
	}
	for i, l := range f.Lots {
		for p := range l.At.Places() {
			want[p] = append(want[p], i)
		}
	}
	for p, there := range want {
		var sum records.Micrograms
		var its []*lots.Lot
		for _, i := range there {
			its, sum = append(its, f.Lots[i]), sum+f.Lots[i].At.Of(p)
		}
		if got := f.There(p); !slices.Equal(got, there) {
			t.Fatalf("at %s are the lots %v, going through all finds %v", p, got, there)
		}
		if got, mass := f.Contents(p); !slices.Equal(got, its) || mass != sum {
			t.Fatalf("at %s are %d lots of %d, going through all finds %d of %d", p, len(got), mass, len(its), sum)
		}
	}
}
