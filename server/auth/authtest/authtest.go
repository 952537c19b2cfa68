// Package authtest holds every sentence of the comment on auth.Cabinet as a test suite, and what a Store promises where it
// leans on them: counting in parallel, a code used once, sign-ins that end.
//
// It must not know which cabinet it runs on. A cabinet's own test only calls Run.
package authtest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/server/auth"
)

// Opened is one empty cabinet and what can be done around it. The opener arranges for it to be closed and removed.
type Opened struct {
	Name    string // what the suite logs
	Cabinet auth.Cabinet
	// Beside opens the same place once more, as another process would. nil when the place can not be shared.
	Beside func(t *testing.T) auth.Cabinet
}

// Run holds a cabinet to its contract. open gives an empty one at each call.
func Run(t *testing.T, open func(t *testing.T) Opened) {
	for _, c := range []struct {
		name string
		run  func(*testing.T, Opened)
	}{
		{"what was put is there", putAndGet},
		{"a revision never comes back", revisions},
		{"of writers at one revision exactly one wins", oneWinner},
		{"each in the order of keys", each},
		{"drawers and keys are apart", apart},
		{"no memory is shared", noSharedMemory},
		{"a value of 16 KiB", longValue},
		{"a call after its end", cancelled},
		{"wrong tries at once are all counted", parallelTries},
		{"a code enrols one device", oneDevice},
		{"a new secret ends sign-ins", secretEnds},
		{"a link and who read with it", links},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := open(t)
			t.Log("runs on", o.Name)
			c.run(t, o)
		})
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func put(t *testing.T, c auth.Cabinet, drawer, key, value string, rev int64) bool {
	t.Helper()
	ok, err := c.Put(t.Context(), drawer, key, []byte(value), rev)
	must(t, err)
	return ok
}

func get(t *testing.T, c auth.Cabinet, drawer, key string) (string, int64) {
	t.Helper()
	b, rev, err := c.Get(t.Context(), drawer, key)
	must(t, err)
	if (rev == 0) != (b == nil) {
		t.Fatalf("%q at revision %d", b, rev)
	}
	return string(b), rev
}

func putAndGet(t *testing.T, o Opened) {
	c := o.Cabinet
	if v, rev := get(t, c, "people", "nora"); v != "" || rev != 0 {
		t.Fatal("an empty drawer has", v, rev)
	}
	if !put(t, c, "people", "nora", `{"a":1}`, 0) || put(t, c, "people", "nora", `{"a":2}`, 0) {
		t.Fatal("made twice, or not at all")
	}
	v, rev := get(t, c, "people", "nora")
	if v != `{"a":1}` {
		t.Fatal(v)
	}
	if put(t, c, "people", "nora", `{"a":3}`, rev+1) || !put(t, c, "people", "nora", `{"a":4}`, rev) || put(t, c, "people", "nora", `{"a":5}`, rev) {
		t.Fatal("a revision is not looked at")
	}
	if v, now := get(t, c, "people", "nora"); v != `{"a":4}` || now == rev {
		t.Fatal(v, now)
	}
	if put(t, c, "people", "hank", `{}`, 7) {
		t.Fatal("what is not there was at revision 7")
	}
	if o.Beside != nil {
		if v, _ := get(t, o.Beside(t), "people", "nora"); v != `{"a":4}` {
			t.Fatal("beside it there is", v)
		}
	}
	must(t, c.Delete(t.Context(), "people", "nora"))
	must(t, c.Delete(t.Context(), "people", "nora"))
	if v, rev := get(t, c, "people", "nora"); v != "" || rev != 0 {
		t.Fatal("taken out and still there:", v, rev)
	}
}

func revisions(t *testing.T, o Opened) {
	had := map[int64]bool{}
	for range 50 {
		if !put(t, o.Cabinet, "tries", "x", "{}", 0) {
			t.Fatal("not made")
		}
		for range 2 {
			_, rev := get(t, o.Cabinet, "tries", "x")
			if rev == 0 || had[rev] {
				t.Fatal("the revision again:", rev)
			}
			had[rev] = true
			if !put(t, o.Cabinet, "tries", "x", "{}", rev) {
				t.Fatal("not written")
			}
		}
		must(t, o.Cabinet.Delete(t.Context(), "tries", "x"))
	}
}

func oneWinner(t *testing.T, o Opened) {
	cabinets := []auth.Cabinet{o.Cabinet}
	if o.Beside != nil {
		cabinets = append(cabinets, o.Beside(t))
	}
	for round := range 10 {
		_, rev := get(t, o.Cabinet, "tries", "x")
		var won atomic.Int32
		var wg sync.WaitGroup
		for i := range 8 {
			wg.Go(func() {
				ok, err := cabinets[i%len(cabinets)].Put(t.Context(), "tries", "x", fmt.Appendf(nil, `{"n":%d}`, i), rev)
				if err != nil {
					t.Error(err)
				}
				if ok {
					won.Add(1)
				}
			})
		}
		wg.Wait()
		if won.Load() != 1 {
			t.Fatalf("round %d: %d won", round, won.Load())
		}
	}
}

func each(t *testing.T, o Opened) {
	var want []string
	for i := range 120 {
		key := fmt.Sprintf("link-%d/%09d", i%3, i)
		want = append(want, key)
		put(t, o.Cabinet, "accesses", key, fmt.Sprintf(`{"i":%d}`, i), 0)
	}
	slices.Sort(want)
	var got []string
	must(t, o.Cabinet.Each(t.Context(), "accesses", func(key string, value []byte) error {
		got = append(got, key)
		if !strings.Contains(key, strings.Trim(string(value), `{}"i:`)) {
			t.Errorf("%s is %s", key, value)
		}
		return o.Cabinet.Delete(t.Context(), "accesses", key) // it may be called from within
	}))
	if !slices.Equal(got, want) {
		t.Fatalf("%d keys, not %d, or in another order: %q", len(got), len(want), got)
	}
	stop := errors.New("enough")
	put(t, o.Cabinet, "links", "a", "{}", 0)
	put(t, o.Cabinet, "links", "b", "{}", 0)
	n := 0
	if err := o.Cabinet.Each(t.Context(), "links", func(string, []byte) error { n++; return stop }); !errors.Is(err, stop) || n != 1 {
		t.Fatal(err, n)
	}
	must(t, o.Cabinet.Each(t.Context(), "accesses", func(key string, _ []byte) error { t.Error(key, "is still there"); return nil }))
}

func apart(t *testing.T, o Opened) {
	pairs := [][2]string{{"people", "a"}, {"tries", "a"}, {"tries", "device:a"}, {"tries", "?00ff"}, {"accesses", "a/1"}, {"accesses", "a"}, {"tries", "A"}, {"tries", "$a.b"}, {"tries", strings.Repeat("k", 160)}}
	for i, p := range pairs {
		if !put(t, o.Cabinet, p[0], p[1], fmt.Sprint(i), 0) {
			t.Errorf("%q is there already", p)
		}
	}
	for i, p := range pairs {
		if v, _ := get(t, o.Cabinet, p[0], p[1]); v != fmt.Sprint(i) {
			t.Errorf("%q holds %s, not %d", p, v, i)
		}
	}
}

func noSharedMemory(t *testing.T, o Opened) {
	mine := []byte(`{"a":"mine"}`)
	_, err := o.Cabinet.Put(t.Context(), "people", "a", mine, 0)
	must(t, err)
	copy(mine, "XXXXXXXXXXXX")
	b, _, err := o.Cabinet.Get(t.Context(), "people", "a")
	must(t, err)
	copy(b, "YYYYYYYYYYYY")
	if v, _ := get(t, o.Cabinet, "people", "a"); v != `{"a":"mine"}` {
		t.Fatal(v)
	}
}

func longValue(t *testing.T, o Opened) {
	long := append(append([]byte(`{"a":"`), bytes.Repeat([]byte("é"), 8000)...), `"}`...)
	if !put(t, o.Cabinet, "people", "a", string(long), 0) {
		t.Fatal("not written")
	}
	if v, _ := get(t, o.Cabinet, "people", "a"); v != string(long) {
		t.Fatal("it comes back as", len(v), "bytes")
	}
}

func cancelled(t *testing.T, o Opened) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := o.Cabinet.Put(ctx, "people", "a", []byte("{}"), 0); err == nil {
		t.Error("written after its end")
	}
	if _, rev := get(t, o.Cabinet, "people", "a"); rev != 0 {
		t.Error("it was written all the same")
	}
}

// theTime is when the suite plays; it stands still.
var theTime = records.InstantOf(time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC))

// stores are one over the cabinet, and one beside it when that can be.
func stores(t *testing.T, o Opened) []*auth.Store {
	t.Helper()
	options := auth.Options{Now: func() records.Instant { return theTime }, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}, Parallel: 8}
	first, err := auth.New(o.Cabinet, options)
	must(t, err)
	if o.Beside == nil {
		return []*auth.Store{first, first}
	}
	second, err := auth.New(o.Beside(t), options)
	must(t, err)
	return []*auth.Store{first, second}
}

func parallelTries(t *testing.T, o Opened) {
	ss := stores(t, o)
	must(t, ss[0].SetPIN(t.Context(), "nora", "", "4071"))
	var compared atomic.Int32
	var wg sync.WaitGroup
	for i := range 40 {
		wg.Go(func() {
			a, err := ss[i%2].Check(t.Context(), auth.Try{Person: "nora", Secret: "0001", Device: "tablet"})
			if err != nil {
				t.Error(err)
			}
			if a.Outcome == auth.Wrong {
				compared.Add(1)
			}
		})
	}
	wg.Wait()
	if compared.Load() != 4 {
		t.Errorf("%d of 40 tries at once were compared, not 4", compared.Load())
	}
}

func oneDevice(t *testing.T, o Opened) {
	ss := stores(t, o)
	code, _, err := ss[0].MakeCode(t.Context(), "nora", "Floor tablet", 0)
	must(t, err)
	var enrolled atomic.Int32
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			token, d, a, err := ss[i%2].Enrol(t.Context(), strings.ToLower(code), fmt.Sprint("192.0.2.", i))
			if err != nil {
				t.Error(err)
			}
			if a.Outcome != auth.Right {
				return
			}
			enrolled.Add(1)
			if got, err := ss[1].Device(t.Context(), token); err != nil || got.Code != d.Code || got.Name != "Floor tablet" {
				t.Error(got, err)
			}
		})
	}
	wg.Wait()
	if enrolled.Load() != 1 {
		t.Errorf("one code enrolled %d devices", enrolled.Load())
	}
}

func secretEnds(t *testing.T, o Opened) {
	ss := stores(t, o)
	must(t, ss[0].SetPIN(t.Context(), "nora", "", "4071"))
	token, _, err := ss[0].SignIn(t.Context(), "nora", auth.PIN, "tablet")
	must(t, err)
	if in, err := ss[1].Who(t.Context(), token, "tablet"); err != nil || in.Person != "nora" || !in.Runs {
		t.Fatal(in, err)
	}
	must(t, ss[1].SetPIN(t.Context(), "nora", "", "5192"))
	if in, err := ss[0].Who(t.Context(), token, "tablet"); err != nil || in.Person != "" {
		t.Fatal("a new PIN leaves the sign-in of", in, err)
	}
}

func links(t *testing.T, o Opened) {
	ss := stores(t, o)
	token, l, err := ss[0].MakeLink(t.Context(), auth.Link{For: "Ida Brandt, certifier", From: day("2026-01-01"), To: day("2026-03-31"), By: "nora", Ends: theTime.Add(time.Hour)})
	must(t, err)
	var wg sync.WaitGroup
	for i := range 12 {
		wg.Go(func() {
			if err := ss[i%2].LogAccess(t.Context(), l.ID, fmt.Sprint("/entry/", i)); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	as, err := ss[1].Accesses(t.Context(), l.ID, 0, 100)
	must(t, err)
	if len(as) != 12 || as[0].At != theTime || !strings.HasPrefix(as[0].Path, "/entry/") {
		t.Fatal(as)
	}
	must(t, ss[0].WithdrawLink(t.Context(), l.ID, "nora"))
	got, found, err := ss[1].OpenLink(t.Context(), token)
	if err != nil || !found || got.Good(theTime) || got.Opened != 12 || got.WithdrawnBy != "nora" {
		t.Fatal(got, found, err)
	}
}

func day(text string) calendar.Date {
	d, err := calendar.ParseDate(text)
	if err != nil {
		panic(err) // the texts stand in this file
	}
	return d
}
