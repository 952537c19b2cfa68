package mongo

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/url"
	"sync"
	"sync/atomic"
	"testing"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/book/booktest"
	"grainward/records/faulttest"
	"grainward/records/mongo/mongotest"
	"grainward/records/verify"
)

// badLine is a line on which about one request in seven goes wrong in some way.
var badLine = map[mongotest.Fault]int{mongotest.CutBefore: 80, mongotest.CutWithin: 60, mongotest.CutAfter: 120, mongotest.CutAnswer: 60,
	mongotest.Delay: 500, mongotest.Repeat: 60, mongotest.RepeatBytes: 60, mongotest.Replay: 800}

// TestBadLine lets two servers race on one journal, each behind a line that cuts, delays and repeats, while whoever signs
// work off asks again until it is told that it is written. Acknowledged means durable, and nothing is there twice.
func TestBadLine(t *testing.T) {
	writers, each := 8, faulttest.Times(t, 100)
	if testing.Short() {
		writers, each = 4, faulttest.Times(t, 30)
	}
	uri := mongotest.Database(t)
	mustOpen(t, uri, Create)
	seed := faulttest.Seed(t, rand.Uint64())
	signer, verifier := booktest.Key(t)
	var books []*book.Book
	var lines []*mongotest.Proxy
	for i := range 2 {
		line := mongotest.NewProxy(t, hostOf(t, uri), seed+uint64(i), badLine)
		var s *Store
		for s == nil {
			var err error
			if s, err = Open(t.Context(), mongotest.Through(t, uri, line.Address()), Write); err != nil && records.KindOf(err) != records.Unavailable {
				t.Fatal(err)
			}
		}
		b, _ := booktest.OpenAs(t, s, signer, noon)
		books, lines = append(books, b), append(lines, line)
		t.Cleanup(line.Quiet) // before the book is checked and closed
	}
	must(admitUntilTold(t, books[0], adoption()))

	var mu sync.Mutex
	acknowledged := map[records.EntryID]records.Position{}
	var asked atomic.Int64
	var wg sync.WaitGroup
	for w := range writers {
		b := books[w%len(books)]
		wg.Go(func() {
			for range each {
				e := deviation()
				at, err := admitUntilTold(t, b, e, &asked)
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				acknowledged[e.ID] = at
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	var troubles int64
	for i, line := range lines {
		line.Quiet()
		t.Logf("line %d: %s", i+1, line)
		troubles += line.Total()
		if line.Total() == 0 {
			t.Errorf("line %d did nothing", i+1)
		}
	}
	mustHoldOnce(t, uri, verifier, acknowledged)
	faulttest.Count(t, int(troubles), "cuts, delays and repetitions on the lines of two servers to their database", fmt.Sprintf("%d sign-offs acknowledged after %d askings, each there once", len(acknowledged), asked.Load()))
}

// TestDatabaseKilled kills the database itself while two servers write, and starts it again. Acknowledged means durable: what was
// acknowledged is there, once. (SIGKILL stands for a crash of the database, not for a power cut.)
func TestDatabaseKilled(t *testing.T) {
	kills := faulttest.Times(t, 12)
	database := mongotest.Start(t, t.TempDir())
	uri := mongotest.WithDatabase(t, database.URI, "mill")
	mustOpen(t, uri, Create)
	signer, verifier := booktest.Key(t)
	var books []*book.Book
	for range 2 {
		b, _ := booktest.OpenAs(t, mustOpen(t, uri, Write), signer, noon)
		books = append(books, b)
	}
	must(admitUntilTold(t, books[0], adoption()))
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	var mu sync.Mutex
	acknowledged := map[records.EntryID]records.Position{}
	told := make(chan struct{})
	done := make(chan struct{})
	var wg sync.WaitGroup
	for w := range 6 {
		b := books[w%len(books)]
		wg.Go(func() {
			for {
				e := deviation()
				at, err := admitUntilTold(t, b, e)
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				acknowledged[e.ID] = at
				mu.Unlock()
				select {
				case told <- struct{}{}:
				case <-done:
					return
				}
			}
		})
	}
	for range kills {
		for range 1 + r.IntN(30) {
			<-told
		}
		database.Kill() // in the midst of what the others have sent meanwhile
		database.Again(t)
	}
	<-told
	close(done)
	wg.Wait()
	mustHoldOnce(t, uri, verifier, acknowledged)
	faulttest.Count(t, kills, "kills of the database while two servers write", fmt.Sprintf("%d entries acknowledged, each there once", len(acknowledged)))
}

// admitUntilTold asks with the same id until the answer is that it is written.
func admitUntilTold(t *testing.T, b *book.Book, e records.Entry, asked ...*atomic.Int64) (records.Position, error) {
	for {
		for _, n := range asked {
			n.Add(1)
		}
		got, err := b.Admit(t.Context(), e)
		switch {
		case err == nil:
			return got[0].Position, nil
		case records.KindOf(err) != records.Unavailable:
			return 0, err
		}
	}
}

// mustHoldOnce reads the journal afresh: it verifies, and every acknowledged entry is where it was said to be, once.
func mustHoldOnce(t *testing.T, uri, verifier string, acknowledged map[records.EntryID]records.Position) {
	t.Helper()
	s := mustOpen(t, uri, Read)
	report, err := verify.Journal(context.Background(), s, verify.Options{Verifier: verifier, Origin: booktest.Origin})
	if err != nil || !report.OK() {
		t.Fatalf("verify: %+v, %v", report.Faults, err)
	}
	there := map[records.EntryID]records.Position{}
	err = s.Read(context.Background(), 0, func(at records.Position, row records.Row) error {
		e, err := records.Parse(row.Bytes)
		if _, twice := there[e.ID]; twice {
			t.Errorf("%s is there twice", e.ID)
		}
		there[e.ID] = at
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for id, at := range acknowledged {
		if is, ok := there[id]; !ok || is != at {
			t.Errorf("%s was acknowledged at position %d: there %v, at %d", id, at, ok, is)
		}
	}
	if t.Failed() {
		return
	}
	t.Logf("%d entries in the journal, of which %d were acknowledged; none lost, none twice", len(there), len(acknowledged))
}

// TestOutOfTurn: an answer that comes twice must not be taken for the next one's. Without the check an Append whose
// request was thrown away would be told that it succeeded.
func TestOutOfTurn(t *testing.T) {
	c := &strictConn{Conn: &scripted{in: append(answer(7, 1), answer(7, 1)...)}}
	buf := make([]byte, 64)
	mustWrite(t, c, request(1))
	if n, err := c.Read(buf[:21]); n != 21 || err != nil {
		t.Fatalf("the answer to the request: %d bytes, %v", n, err)
	}
	mustWrite(t, c, request(2))
	if n, err := c.Read(buf); n != 0 || !errors.Is(err, errOutOfTurn) {
		t.Fatalf("the first answer again: %d bytes, %v", n, err)
	}
	if n, err := c.Read(buf); n != 0 || !errors.Is(err, errOutOfTurn) {
		t.Fatalf("reading on: %d bytes, %v", n, err)
	}
}

// Answers that stream (moreToCome) each answer the one before; and a message may come a byte at a time.
func TestStreamedAnswers(t *testing.T) {
	first := answer(8, 1)
	first[16] = moreToCome
	c := &strictConn{Conn: &scripted{in: append(first, answer(9, 8)...)}}
	mustWrite(t, c, request(1))
	for i := range 42 {
		if n, err := c.Read(make([]byte, 1)); n != 1 || err != nil {
			t.Fatalf("byte %d: %v", i, err)
		}
	}
}

func hostOf(t *testing.T, uri string) string {
	t.Helper()
	u, err := url.Parse(uri)
	if err != nil {
		t.Fatal(err)
	}
	return u.Host
}

func wireMessage(id, to uint32) []byte {
	m := make([]byte, 21)
	binary.LittleEndian.PutUint32(m, 21)
	binary.LittleEndian.PutUint32(m[4:], id)
	binary.LittleEndian.PutUint32(m[8:], to)
	binary.LittleEndian.PutUint32(m[12:], opMsg)
	return m
}

func request(id uint32) []byte    { return wireMessage(id, 0) }
func answer(id, to uint32) []byte { return wireMessage(id, to) }
