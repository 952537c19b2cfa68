package records

import (
	"bytes"
	"encoding/binary"
	"reflect"
	"strings"
	"sync"
	"testing"

	"github.com/go-json-experiment/json"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"grainward/records/ledger"
)

func TestRoundTrip(t *testing.T) {
	eachKind(t, func(t *rapid.T, e Entry) {
		if err := CheckShape(e); err != nil {
			t.Fatalf("a well-formed entry is refused: %v", err)
		}
		row, err := Format(e)
		if err != nil {
			t.Fatal(err)
		}
		if row.Leaf != ledger.LeafHash(row.Bytes) {
			t.Fatal("the leaf is not the hash of the bytes")
		}
		back, err := Parse(row.Bytes)
		if err != nil {
			t.Fatalf("%v\n%s", err, row.Bytes)
		}
		if !reflect.DeepEqual(back, e) {
			t.Fatalf("wrote %+v %+v\n read %+v %+v", e, e.Fact, back, back.Fact)
		}
		again, err := Format(back)
		if err != nil || !bytes.Equal(again.Bytes, row.Bytes) {
			t.Fatalf("written again (%v):\n%s\n%s", err, again.Bytes, row.Bytes)
		}
	})
}

// slowParse is ParseTrusted as it was first written, without the guess of the kind.
func slowParse(b []byte) (Entry, error) {
	var e Entry
	err := json.Unmarshal(b, &e)
	return e, err
}

func TestParseTrustedIsTheSlowReader(t *testing.T) {
	check := func(t *rapid.T, b []byte) {
		fast, errFast := ParseTrusted(b)
		slow, errSlow := slowParse(b)
		if (errFast == nil) != (errSlow == nil) || errFast == nil && !reflect.DeepEqual(fast, slow) {
			t.Fatalf("%s\nfast %+v %v\nslow %+v %v", b, fast, errFast, slow, errSlow)
		}
	}
	eachKind(t, func(t *rapid.T, e Entry) {
		row, err := Format(e)
		if err != nil {
			t.Fatal(err)
		}
		check(t, row.Bytes)
		loose, err := json.Marshal(&e) // the same members in another order: kind before fact
		if err != nil {
			t.Fatal(err)
		}
		check(t, loose)
		other := drawer{t}.kind() // a fact under another kind's name
		check(t, bytes.ReplaceAll(row.Bytes, []byte(`"kind":"`+string(e.Kind)), []byte(`"kind":"`+string(other))))
		check(t, []byte(`{"by":"crew-1","kind":"`+string(e.Kind)+`"}`))             // no fact
		check(t, []byte(`{"by":"crew-1","fact":null,"kind":"`+string(e.Kind)+`"}`)) // null
		cut := rapid.IntRange(0, len(row.Bytes)).Draw(t, "cut")
		check(t, row.Bytes[:cut])
	})
}

// The guess of the kind finds the last one written; here that is the replacement's, and the fact would fit it.
func TestTheWrongGuessIsNotBelieved(t *testing.T) {
	const fact = `{"target":"` + idB + `","reason":"x","with":{"fact":{"target":"` + idB + `","reason":"y"},"kind":"correct"}}`
	for _, line := range []string{`{"by":"a","fact":` + fact + `,"kind": "signoff"}`, `{"kind":"signoff","by":"a","fact":` + fact + `}`} {
		if e, err := ParseTrusted([]byte(line)); err == nil {
			t.Errorf("read as a %s with the fact %+v", e.Kind, e.Fact)
		}
	}
}

// Whatever bit of the stored bytes is turned, the entry is refused or says something else: nothing is passed over.
func TestEveryBitCounts(t *testing.T) {
	for _, kind := range Kinds() {
		e := example(kind.Kind)
		row, err := Format(e)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := Parse(row.Bytes); err != nil {
			t.Fatalf("the example is refused: %v", err)
		}
		read := 0
		for i := range len(row.Bytes) * 8 {
			b := bytes.Clone(row.Bytes)
			b[i/8] ^= 1 << (i % 8)
			turned, err := Parse(b)
			if err != nil {
				continue
			}
			read++
			if reflect.DeepEqual(turned, e) {
				t.Fatalf("bit %d changes nothing:\n%s\n%s", i, row.Bytes, b)
			}
			again, err := Format(turned)
			if err != nil || again.Leaf == row.Leaf || !bytes.Equal(again.Bytes, b) {
				t.Fatalf("bit %d: read, but written as %s (%v), not as %s", i, again.Bytes, err, b)
			}
		}
		if read == 0 {
			t.Errorf("%s: no turned bit was readable, so the second half of this test saw nothing", kind.Kind)
		}
	}
}

// Each line differs from a good one in its spelling only, or by one member.
func TestParseRefusesWhatFormatDoesNotWrite(t *testing.T) {
	row, err := Format(example(KindSignoff))
	if err != nil {
		t.Fatal(err)
	}
	good := string(row.Bytes)
	swap := func(old, new string) string {
		if strings.Count(good, old) == 0 {
			t.Fatalf("%q is not in %s", old, good)
		}
		return strings.Replace(good, old, new, 1)
	}
	for name, line := range map[string]string{
		"a space":                 swap(`,"device"`, `, "device"`),
		"a line's end":            good + "\n",
		"a space before":          " " + good,
		"a byte order mark":       "\uFEFF" + good,
		"another order":           swap(`{"by":"crew-1","device":"tablet-2",`, `{"device":"tablet-2","by":"crew-1",`),
		"an escaped letter":       swap(`"crew-1"`, `"cre\u0077-1"`),
		"an escaped slash":        swap(`mg/L`, `mg\/L`),
		"an escaped name":         swap(`"by"`, `"b\u0079"`),
		"a name in capitals":      swap(`"by"`, `"By"`),
		"an unknown member":       swap(`"by":`, `"buy":"x","by":`),
		"an unknown fact member":  swap(`"lots"`, `"lost":[],"lots"`),
		"an unknown answer part":  swap(`"yes":true`, `"yep":1,"yes":true`),
		"a position":              good[:len(good)-1] + `,"seq":4}`,
		"a member that is null":   swap(`"device":"tablet-2"`, `"device":null`),
		"a member saying nothing": swap(`"device":"tablet-2"`, `"device":""`),
		"an empty note":           swap(`"outcome"`, `"note":"","outcome"`),
		"a null answer":           swap(`"yes":true`, `"yes":true,"zero":null`),
		"another spelling of UTC": swap(`41.250Z`, `41.250+00:00`),
		"fewer decimals":          swap(`41.250Z`, `41.25Z`),
		"a number for a reading":  swap(`"value":"0.00"`, `"value":0.00`),
		"no reading":              swap(`{"unit":"mg/L","value":"0.00"}`, `{"unit":"mg/L"}`),
		"a null reading":          swap(`"value":"0.00"`, `"value":null`),
		"an id in capitals":       swap(`0197f2a4`, `0197F2A4`),
		"an unknown kind":         swap(`"kind":"signoff"`, `"kind":"signedoff"`),
		"another kind":            swap(`"kind":"signoff"`, `"kind":"excuse"`),
		"an unknown meaning":      swap(`"performed"`, `"observed"`),
		"no time of recording":    swap(`,"recorded":"2026-03-08T07:30:41.250Z"`, ``),
		"no signer":               swap(`"by":"crew-1",`, ``),
		"no id":                   swap(`"id":"`+idA+`",`, ``),
		"no kind":                 swap(`"kind":"signoff",`, ``),
		"no meaning":              swap(`"meaning":"performed",`, ``),
		"no task":                 swap(`,"task":"scrub-floor"`, ``),
		"a list":                  "[" + good + "]",
		"two entries":             good + good,
		"half":                    good[:len(good)/2],
		"nothing":                 "",
		"null":                    "null",
		"no fact":                 `{"by":"crew-1","happened":"2026-03-08T07:30:00.000Z","id":"` + idA + `","kind":"signoff","meaning":"performed","recorded":"2026-03-08T07:30:41.250Z"}`,
		"a null fact":             `{"by":"crew-1","fact":null,"happened":"2026-03-08T07:30:00.000Z","id":"` + idA + `","kind":"signoff","meaning":"performed","recorded":"2026-03-08T07:30:41.250Z"}`,
	} {
		if line == good {
			t.Errorf("%s: the line was not spoiled", name)
		}
		e, err := Parse([]byte(line))
		if err == nil {
			t.Errorf("%s: read as %+v from %s", name, e, line)
		} else if KindOf(err) != Invalid {
			t.Errorf("%s: kind %d, want Invalid: %v", name, KindOf(err), err)
		}
		if !reflect.DeepEqual(e, Entry{}) {
			t.Errorf("%s: refused, and still gave %+v", name, e)
		}
	}
}

func TestParseDraft(t *testing.T) {
	const line = `{"kind":"deviation","happened":"2026-03-08T02:30:00-05:00","by":"crew-1","fact":{"what":"belt stopped"}}`
	e, err := ParseDraft([]byte(line))
	if err != nil {
		t.Fatal(err)
	}
	if e.Meaning != Performed || e.Recorded != 0 || e.Happened != mustInstant("2026-03-08T07:30:00Z") {
		t.Errorf("read %+v", e)
	}
	if err := CheckShape(e); err != nil {
		t.Errorf("with its defaults it is not well formed: %v", err)
	}
	same, err := ParseDraft([]byte(` { "fact" : {"what":"belt \u0073topped"}, "by":"crew-1", "meaning":"performed", "happened":"2026-03-08T07:30:00.000Z", "kind":"deviation" } `))
	if err != nil || same.ID != e.ID {
		t.Errorf("the same content in another spelling has id %s (%v), not %s", same.ID, err, e.ID)
	}
	for _, other := range []string{
		strings.Replace(line, "crew-1", "crew-2", 1), strings.Replace(line, "02:30", "02:31", 1), strings.Replace(line, "stopped", "stopped.", 1),
		strings.Replace(line, `"by"`, `"device":"tablet-2","by"`, 1), strings.Replace(line, `"by"`, `"meaning":"verified","by"`, 1),
	} {
		if o, err := ParseDraft([]byte(other)); err != nil || o.ID == e.ID {
			t.Errorf("%s has the id of another entry (%v)", other, err)
		}
	}
	given, err := ParseDraft([]byte(strings.Replace(line, `{"kind"`, `{"id":"`+idA+`","kind"`, 1)))
	if err != nil || given.ID != mustID(idA) {
		t.Errorf("an id that was given became %s (%v)", given.ID, err)
	}
	_, err = ParseDraft([]byte(strings.Replace(line, `"by"`, `"recorded":"2026-03-08T07:30:00Z","by"`, 1)))
	if err == nil || !strings.Contains(err.Error(), "recorded") || KindOf(err) != Invalid {
		t.Errorf("a line that says when it was recorded: %v", err)
	}
}

// The time in a content id is read back by google/uuid, and the whole is a valid version 7 id.
func TestContentID(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawer{t}
		draft := d.entry()
		draft.ID, draft.Recorded = EntryID{}, 0
		e, err := WithDefaults(draft)
		if err != nil {
			t.Fatal(err)
		}
		u, err := uuid.Parse(e.ID.String())
		if err != nil || u.Version() != 7 || u.Variant() != uuid.RFC4122 {
			t.Fatalf("%s is not a version 7 id (%v)", e.ID, err)
		}
		if got := binary.BigEndian.Uint64(u[:8]) >> 16; got != uint64(e.Happened)&(1<<48-1) {
			t.Fatalf("the id's time is %d, the entry's %d", got, e.Happened)
		}
		again, err := WithDefaults(draft)
		if err != nil || again.ID != e.ID {
			t.Fatalf("made twice: %s and %s (%v)", e.ID, again.ID, err)
		}
	})
}

func TestWithDefaultsKeepsWhatIsGiven(t *testing.T) {
	e := example(KindSignoff)
	e.Meaning = Verified
	got, err := WithDefaults(e)
	if err != nil || !reflect.DeepEqual(got, e) {
		t.Errorf("%+v became %+v (%v)", e, got, err)
	}
}

func TestSameAs(t *testing.T) {
	a, b := example(KindSignoff), example(KindSignoff)
	b.Recorded += 5000
	if !a.SameAs(b) || a.Recorded == b.Recorded {
		t.Error("recorded later, it is not the same any more")
	}
	for name, change := range map[string]func(*Entry){
		"id":       func(e *Entry) { e.ID = mustID(idB) },
		"happened": func(e *Entry) { e.Happened++ },
		"by":       func(e *Entry) { e.By = "crew-2" },
		"device":   func(e *Entry) { e.Device = "" },
		"clock":    func(e *Entry) { e.DeviceTime = e.Happened },
		"paper":    func(e *Entry) { e.Paper = &Paper{Whose: "crew-2"} },
		"meaning":  func(e *Entry) { e.Meaning = Verified },
		"fact":     func(e *Entry) { e.Fact.(*Signoff).Note = "x" },
		"reading":  func(e *Entry) { e.Fact.(*Signoff).Answers[0].Value.Value = mustDecimal("0.0") },
		"kind":     func(e *Entry) { e.Kind, e.Fact = KindReview, &Review{} },
		"no fact":  func(e *Entry) { e.Fact = nil },
	} {
		c := example(KindSignoff)
		change(&c)
		if a.SameAs(c) || c.SameAs(a) {
			t.Errorf("another %s, and it counts as the same", name)
		}
	}
}

func TestPerformer(t *testing.T) {
	e := example(KindSignoff)
	if e.Performer() != "crew-1" {
		t.Error(e.Performer())
	}
	e.Paper = &Paper{Whose: "crew-2"}
	if e.Performer() != "crew-2" {
		t.Error("typed in by another, and counted as theirs")
	}
}

// Readers share one table of codes; what each gets must not depend on the others.
func TestReadersSideBySide(t *testing.T) {
	rows := benchRows(t, 200)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for _, row := range rows {
				e, err := ParseTrusted(row.Bytes)
				if err != nil {
					t.Error(err)
					return
				}
				if again, err := Format(e); err != nil || again.Leaf != row.Leaf {
					t.Errorf("read as %+v (%v)", e, err)
				}
			}
		})
	}
	all.Wait()
}

func TestDecodedAnswersKeepNoSpareRoom(t *testing.T) {
	e := example(KindSignoff)
	s := e.Fact.(*Signoff)
	for len(s.Answers) < 5 {
		s.Answers = append(s.Answers, Response{Ask: "note", Text: "dry"})
	}
	row, err := Format(e)
	if err != nil {
		t.Fatal(err)
	}
	back, err := Parse(row.Bytes)
	if err != nil {
		t.Fatal(err)
	}
	if got := back.Fact.(*Signoff).Answers; len(got) != 5 || cap(got) != 5 {
		t.Errorf("%d answers in room for %d", len(got), cap(got))
	}
}
