package lots

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/state"
)

// Contacts in pages are the plain list they stand for, whatever is put behind, in between, or ended; a version that was left alone stays
// as it was while those that came of it change.
func TestContacts(t *testing.T) {
	type version struct {
		paged Contacts
		plain []Contact
		turn  turn
	}
	rapid.Check(t, func(t *rapid.T) {
		SmallPages(t, rapid.IntRange(1, 5).Draw(t, "per page"))
		versions := []version{{turn: 1}}
		for step := range rapid.IntRange(1, 40).Draw(t, "steps") {
			k := rapid.IntRange(0, len(versions)-1).Draw(t, "which")
			if rapid.IntRange(0, 3).Draw(t, "fork") == 0 { // what a folder does in a new turn
				v := versions[k]
				versions = append(versions, version{Contacts{slices.Clone(v.paged.pages)}, slices.Clone(v.plain), turn(step + 2)})
				k = len(versions) - 1
			} else if k != len(versions)-1 && rapid.Bool().Draw(t, "newest") {
				k = len(versions) - 1
			}
			v := &versions[k]
			if slices.ContainsFunc(versions[k+1:], func(later version) bool { return len(later.paged.pages) > 0 }) {
				continue // another came of it, perhaps: it is left alone
			}
			n := len(v.plain)
			switch what := rapid.IntRange(0, 2).Draw(t, "what"); {
			case what == 0 && n > 0:
				i, by := rapid.IntRange(0, n-1).Draw(t, "ended"), &state.Record{}
				v.paged.end(i, records.Instant(1000+step), by, v.turn)
				v.plain[i].To, v.plain[i].Ended = records.Instant(1000+step), by
			case what == 1:
				c := Contact{Lot: step, From: 100}
				v.paged.append(c, v.turn)
				v.plain = append(v.plain, c)
			default:
				c := Contact{Lot: step, From: records.Instant(rapid.IntRange(0, 100).Draw(t, "from"))}
				i := v.paged.Begun(c.From)
				if want := slices.IndexFunc(append(slices.Clone(v.plain), Contact{From: 1000}), func(x Contact) bool { return x.From >= c.From }); i != want {
					t.Fatalf("%d began before %d, not %d", want, c.From, i)
				}
				v.paged.insert(i, c, v.turn)
				v.plain = slices.Insert(v.plain, i, c)
			}
			for k, v := range versions {
				var all []Contact
				for c := range v.paged.All() {
					all = append(all, *c)
				}
				if !slices.Equal(all, v.plain) || v.paged.Len() != len(v.plain) {
					t.Fatalf("version %d is %v, not %v", k, all, v.plain)
				}
				from := rapid.IntRange(0, len(v.plain)).Draw(t, "cut from")
				to := rapid.IntRange(from, len(v.plain)).Draw(t, "to")
				if got := v.paged.Cut(from, to); !slices.Equal(got, v.plain[from:to]) {
					t.Fatalf("from %d to %d of version %d: %v, not %v", from, to, k, got, v.plain[from:to])
				}
				all = nil
				for c := range v.paged.From(from) {
					all = append(all, *c)
				}
				if !slices.Equal(all, v.plain[from:]) {
					t.Fatalf("from %d on of version %d: %v, not %v", from, k, all, v.plain[from:])
				}
				if from < len(v.plain) && *v.paged.At(from) != v.plain[from] {
					t.Fatalf("%d of version %d is %v, not %v", from, k, *v.paged.At(from), v.plain[from])
				}
				same := 0
				for w := versions[0].plain; same < len(w) && same < len(v.plain) && w[same] == v.plain[same]; same++ {
				}
				if got := versions[0].paged.Common(v.paged); got != same {
					t.Fatalf("versions 0 and %d begin alike with %d, not %d", k, same, got)
				}
			}
		}
	})
}
