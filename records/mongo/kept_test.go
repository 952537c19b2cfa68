package mongo

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"go.mongodb.org/mongo-driver/bson"

	"grainward/records"
	"grainward/records/mongo/mongotest"
	"grainward/server/auth"
	"grainward/server/auth/authtest"
)

func mustKeep(t *testing.T, uri string) *Kept {
	t.Helper()
	k := must(OpenKept(t.Context(), uri))
	t.Cleanup(func() { _ = k.Close() })
	return k
}

// TestCabinet: the place where PINs and sign-ins are kept, held to what server/auth asks of one.
func TestCabinet(t *testing.T) {
	authtest.Run(t, func(t *testing.T) authtest.Opened {
		uri := mongotest.Database(t)
		s := mustOpen(t, uri, Create)
		return authtest.Opened{Name: "mongo, on " + s.Server().String(), Cabinet: mustKeep(t, uri), Beside: func(t *testing.T) auth.Cabinet { return mustKeep(t, uri) }}
	})
}

// The answer to a Put is lost, and the Put asked again: what is said is what was done.
func TestKeptAnswerLost(t *testing.T) {
	uri := mongotest.Database(t)
	mustOpen(t, uri, Create)
	direct := mustKeep(t, uri)
	lost := ""
	liar := mongotest.NewLiar(t, hostOf(t, uri), func(command string, body bson.Raw) (bson.D, bool) {
		if command != lost {
			return nil, true
		}
		lost = ""
		return failure(91, "ShutdownInProgress"), true // done, and said to be refused
	})
	k := mustKeep(t, mongotest.Through(t, uri, liar.Address()))
	for _, c := range []struct {
		command string
		rev     func() int64
	}{{"insert", func() int64 { return 0 }}, {"update", func() int64 { _, rev, _ := direct.Get(t.Context(), "people", "nora"); return rev }}} {
		rev := c.rev()
		lost = c.command
		if ok, err := k.Put(t.Context(), "people", "nora", []byte(c.command), rev); !ok || err != nil {
			t.Errorf("%s: %v, %v", c.command, ok, err)
		}
		if v, _, err := direct.Get(t.Context(), "people", "nora"); string(v) != c.command || err != nil {
			t.Errorf("%s: it holds %s, %v", c.command, v, err)
		}
	}
	if ok, err := k.Put(t.Context(), "people", "nora", []byte("x"), 12345); ok || err != nil {
		t.Errorf("at a revision that never was: %v, %v", ok, err)
	}
}

// A writer that died between taking its turn and writing: for a while nobody else writes, and then what it had wanted to
// write is written, and others go on from there.
func TestKeptWriterDied(t *testing.T) {
	for name, clock := range map[string]time.Duration{"long ago": -2 * abandoned, "by a clock that is an hour ahead": time.Hour} {
		t.Run(name, func(t *testing.T) { writerDied(t, clock) })
	}
}

func writerDied(t *testing.T, clock time.Duration) {
	uri := mongotest.Database(t)
	mustOpen(t, uri, Create)
	k := mustKeep(t, uri)
	must(k.Put(t.Context(), "tries", "nora", []byte("1"), 0))
	_, rev, _ := k.Get(t.Context(), "tries", "nora")
	turn := turnDoc{fmt.Sprintf("tries/nora %d", rev), "tries/nora", rev + 1, []byte("2"), time.Now()}
	must(k.turns.InsertOne(t.Context(), turn))
	if ok, err := k.Put(t.Context(), "tries", "nora", []byte("3"), rev); ok || err != nil {
		t.Errorf("in its turn: %v, %v", ok, err)
	}
	turn.Taken = turn.Taken.Add(clock)
	must(k.turns.ReplaceOne(t.Context(), byID(turn.ID), turn))
	if ok, err := k.Put(t.Context(), "tries", "nora", []byte("3"), rev); ok || err != nil {
		t.Errorf("in its place: %v, %v", ok, err)
	}
	v, now, err := k.Get(t.Context(), "tries", "nora")
	if string(v) != "2" || now != rev+1 || err != nil {
		t.Errorf("it holds %s at %d, %v", v, now, err)
	}
	if ok, err := k.Put(t.Context(), "tries", "nora", []byte("3"), now); !ok || err != nil {
		t.Errorf("afterwards: %v, %v", ok, err)
	}
	if err := k.Delete(t.Context(), "tries", "nora"); err != nil {
		t.Fatal(err)
	}
	if n := must(k.turns.CountDocuments(t.Context(), bson.D{})); n != 0 {
		t.Errorf("%d turns are left", n)
	}
}

// Counting through a line that cuts and repeats: nobody's count is lost. One may be counted twice, which errs towards asking
// for patience.
func TestKeptOnABadLine(t *testing.T) {
	uri := mongotest.Database(t)
	mustOpen(t, uri, Create)
	line := mongotest.NewProxy(t, hostOf(t, uri), rand.Uint64(), badLine)
	t.Cleanup(line.Quiet)
	var k *Kept
	for k == nil {
		var err error
		if k, err = OpenKept(t.Context(), mongotest.Through(t, uri, line.Address())); err != nil && records.KindOf(err) != records.Unavailable {
			t.Fatal(err)
		}
	}
	defer k.Close()
	counted := 0
	for range 150 {
		v, rev, err := k.Get(t.Context(), "tries", "nora")
		if err != nil {
			continue
		}
		if ok, err := k.Put(t.Context(), "tries", "nora", append(v, 'x'), rev); ok && err == nil {
			counted++
		}
	}
	line.Quiet()
	v, _, err := mustKeep(t, uri).Get(t.Context(), "tries", "nora")
	if err != nil || len(v) < counted {
		t.Errorf("%d of %d counts are there, %v", len(v), counted, err)
	}
	t.Logf("%d counted, %d there; %s", counted, len(v), line)
}
