package records

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/shape.golden again")

const notUTF8 = "scrubb\xe9d"

// malformation spoils the example of a kind, and names every field at fault, in the order they are told.
type malformation struct {
	name   string
	kind   Kind
	spoil  func(e *Entry)
	fields string
}

var malformed = []malformation{
	{"empty envelope", KindSignoff, func(e *Entry) { *e = Entry{Kind: KindSignoff, Fact: e.Fact} }, "id happened by meaning"},
	{"envelope in other alphabets", KindSignoff, func(e *Entry) { e.By, e.Device, e.Meaning = "Señor A", "Tablet 2", "observed" }, "by device meaning"},
	{"meaning of another kind", KindReview, func(e *Entry) { e.Meaning = Performed }, "meaning"},
	{"unknown kind", KindSignoff, func(e *Entry) { e.Kind = "signedoff" }, "kind"},
	{"no kind", KindSignoff, func(e *Entry) { e.Kind = "" }, "kind"},
	{"fact of another kind", KindSignoff, func(e *Entry) { e.Fact = &Review{} }, "fact"},
	{"no fact", KindSignoff, func(e *Entry) { e.Fact = nil }, "fact"},
	{"nil fact", KindSignoff, func(e *Entry) { e.Fact = (*Signoff)(nil) }, "fact"},
	{"a year that can not be read again", KindSignoff, func(e *Entry) { e.Happened = 1 << 50 }, "happened"},
	{"a version 4 id", KindSignoff, func(e *Entry) { e.ID[6] = 0x40 }, "id"},

	{"paper of nobody", KindSignoff, func(e *Entry) { e.Paper = &Paper{} }, "paper.whose"},
	{"paper and its photo in other alphabets", KindSignoff, func(e *Entry) { e.Paper = &Paper{Whose: "Señor A", Sheet: "ABC"} }, "paper.whose paper.sheet"},

	{"empty plan", KindPlan, func(e *Entry) { e.Fact = &Adoption{} }, "fact.text fact.sha256"},
	{"another text's hash", KindPlan, func(e *Entry) { e.Fact.(*Adoption).SHA256 = sumOf("other") }, "fact.sha256"},
	{"hash in capitals", KindPlan, func(e *Entry) { e.Fact.(*Adoption).SHA256 = strings.Repeat("AB", 32) }, "fact.sha256"},
	{"plan's note too long", KindPlan, func(e *Entry) { e.Fact.(*Adoption).Note = strings.Repeat("x", 2001) }, "fact.note"},
	{"plan too large", KindPlan, func(e *Entry) {
		text := strings.Repeat("x", 1<<20)
		e.Fact = &Adoption{Text: text, SHA256: sumOf(text)}
	}, ""},

	{"empty signoff", KindSignoff, func(e *Entry) { e.Fact = &Signoff{} }, "fact.task fact.station fact.outcome"},
	{"codes as titles", KindSignoff, func(e *Entry) { s := e.Fact.(*Signoff); s.Task, s.Station = "Scrub floor", "-1" }, "fact.task fact.station"},
	{"unknown outcome", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Outcome = "ok" }, "fact.outcome"},
	{"no answer", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Answers[0].Value = nil }, "fact.answers[0]"},
	{"two answers", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Answers[1].Text = "yes" }, "fact.answers[1]"},
	{"no question", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Answers[1].Ask = "" }, "fact.answers[1].ask"},
	{"photo without a hash", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Answers[1] = Response{Ask: "photo", Photo: "IMG_0042.jpg"} }, "fact.answers[1].photo"},
	{"unit too long", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Answers[0].Value.Unit = strings.Repeat("m", 41) }, "fact.answers[0].value.unit"},
	{"long choice and text", KindSignoff, func(e *Entry) {
		e.Fact.(*Signoff).Answers = []Response{{Ask: "smell", Choice: strings.Repeat("ö", 101)}, {Ask: "note", Text: strings.Repeat("ö", 2001)}}
	}, "fact.answers[0].choice fact.answers[1].text"},
	{"too many answers", KindSignoff, func(e *Entry) {
		e.Fact.(*Signoff).Answers = slices.Repeat([]Response{{Ask: "a", Text: "b"}}, 61)
	}, "fact.answers"},
	{"agents", KindSignoff, func(e *Entry) {
		e.Fact.(*Signoff).Agents = []AgentUse{{Agent: "PAA"}, {Lot: strings.Repeat("9", 61), Strength: &Quantity{Unit: strings.Repeat("p", 50)}}}
	}, "fact.agents[0].agent fact.agents[1].agent fact.agents[1].lot fact.agents[1].strength.unit"},
	{"lots", KindSignoff, func(e *Entry) {
		e.Fact.(*Signoff).Lots = []LotCode{"B26-014", "", "B26 014", LotCode(strings.Repeat("9", 21))}
	}, "fact.lots[1] fact.lots[2] fact.lots[3]"},
	{"second and trainees", KindSignoff, func(e *Entry) { s := e.Fact.(*Signoff); s.Second, s.Trainees = "A B", []PersonCode{"new-1", ""} }, "fact.second fact.trainees[1]"},
	{"started in no year", KindSignoff, func(e *Entry) { e.Fact.(*Signoff).Started = -1 << 50 }, "fact.started"},
	{"text in another encoding", KindSignoff, func(e *Entry) {
		s := e.Fact.(*Signoff)
		s.Note, s.Answers[0].Value.Unit = notUTF8, "\xb0C"
		s.Agents[0].Lot = "\xff"
	}, "fact.answers[0].value.unit fact.agents[0].lot fact.note"},
	{"signoff too large", KindSignoff, func(e *Entry) {
		e.Fact.(*Signoff).Answers = slices.Repeat([]Response{{Ask: "a", Text: strings.Repeat("x", 2000)}}, 40)
	}, ""},

	{"empty deviation", KindDeviation, func(e *Entry) { e.Fact = &Deviation{} }, "fact.what"},
	{"deviation's codes", KindDeviation, func(e *Entry) {
		e.Fact = &Deviation{What: "x", Task: "A", Station: "B", Lots: []LotCode{"é"}, Action: strings.Repeat("x", 2001)}
	}, "fact.task fact.station fact.lots[0] fact.action"},
	{"deviation shown by no entry", KindDeviation, func(e *Entry) { e.Fact.(*Deviation).Entries = []EntryID{{}} }, "fact.entries[0]"},

	{"empty answer", KindAnswer, func(e *Entry) { e.Fact = &Answer{} }, "fact.cause fact.action fact.lots fact.prevention fact.finding"},
	{"answer to two things", KindAnswer, func(e *Entry) { e.Fact.(*Answer).Deviation = mustID(idB) }, "fact.finding"},

	{"review turned round", KindReview, func(e *Entry) { r := e.Fact.(*Review); r.From, r.To = 41, 7 }, "fact.to"},
	{"review before the journal", KindReview, func(e *Entry) { r := e.Fact.(*Review); r.From, r.To = -2, -1 }, "fact.from fact.to"},
	{"review past what JSON holds", KindReview, func(e *Entry) { e.Fact.(*Review).To = 1 << 53 }, "fact.to"},
	{"too many exceptions", KindReview, func(e *Entry) { e.Fact.(*Review).Except = slices.Repeat([]EntryID{mustID(idB)}, 501) }, "fact.except"},

	{"empty excuse", KindExcuse, func(e *Entry) { e.Fact = &Excuse{} }, "fact.from fact.to fact.reason"},
	{"excuse turned round", KindExcuse, func(e *Entry) { x := e.Fact.(*Excuse); x.From, x.To = x.To, x.From }, "fact.to"},

	{"empty document", KindDocument, func(e *Entry) { e.Fact = &Document{} }, "fact.code fact.title fact.type fact.subject.of fact.subject.code"},
	{"document about nobody", KindDocument, func(e *Entry) { e.Fact.(*Document).Subject = Subject{Of: "partner"} }, "fact.subject.code"},
	{"document about a title", KindDocument, func(e *Entry) { e.Fact.(*Document).Subject = Subject{Of: "partner", Code: "North Farm"} }, "fact.subject.code"},
	{"empty file", KindDocument, func(e *Entry) { e.Fact.(*Document).File = &File{} }, "fact.file.sha256 fact.file.size fact.file.media"},
	{"file too large", KindDocument, func(e *Entry) { e.Fact.(*Document).File.Size = MaxBlob + 1 }, "fact.file.size"},

	{"empty correction", KindCorrect, func(e *Entry) { e.Fact = &Correct{} }, "fact.target fact.reason fact.with"},
	{"replaced and withdrawn", KindCorrect, func(e *Entry) { e.Fact.(*Correct).Withdraw = true }, "fact.with"},
	{"neither replaced nor withdrawn", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With = nil }, "fact.with"},
	{"replaced by a correction", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With = &Replacement{Kind: KindCorrect, Fact: &Correct{}} }, "fact.with.kind"},
	{"replaced by an unknown kind", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With.Kind = "signed" }, "fact.with.kind"},
	{"replaced by nothing", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With.Fact = nil }, "fact.with.fact"},
	{"replaced by nil", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With.Fact = (*Signoff)(nil) }, "fact.with.fact"},
	{"replaced by another kind", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With.Kind = KindReview }, "fact.with.fact"},
	{"replacement malformed", KindCorrect, func(e *Entry) {
		w := e.Fact.(*Correct).With
		w.By, w.Fact = "A B", &Signoff{Task: "t", Outcome: Passed, Answers: []Response{{Ask: "a"}}, Note: notUTF8}
	}, "fact.with.by fact.with.fact.station fact.with.fact.answers[0] fact.with.fact.note"},
	{"replacement in no year", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With.Happened = 1 << 50 }, "fact.with.happened"},
	{"replacement's start in no year", KindCorrect, func(e *Entry) { e.Fact.(*Correct).With.Fact.(*Signoff).Started = 1 << 50 }, "fact.with.fact.started"},
}

func TestShape(t *testing.T) {
	var told strings.Builder
	kinds := map[Kind]bool{}
	for _, c := range slices.Concat(malformed, malformedGoods) {
		e := example(c.kind)
		if err := CheckShape(e); err != nil {
			t.Fatalf("the example of kind %s is refused: %v", c.kind, err)
		}
		c.spoil(&e)
		kinds[c.kind] = true
		err := CheckShape(e)
		var own *Error
		if !errors.As(err, &own) || own.Kind != Invalid {
			t.Errorf("%s: %v; want an *Error of kind Invalid", c.name, err)
			continue
		}
		var fields []string
		for _, f := range own.Fields {
			fields = append(fields, f.Field)
			if f.Want == "" || strings.Contains(f.Want, "not as it should be") {
				t.Errorf("%s: %s does not say what would be right: %q", c.name, f.Field, f.Want)
			}
		}
		if got := strings.Join(fields, " "); got != c.fields {
			t.Errorf("%s:\n told %s\n want %s", c.name, got, c.fields)
		}
		fmt.Fprintf(&told, "# %s\n%v\n\n", c.name, err)
	}
	for _, row := range Kinds() {
		if !kinds[row.Kind] {
			t.Errorf("no malformed entry of kind %s is tried", row.Kind)
		}
	}
	golden(t, "shape.golden", told.String())
}

func golden(t *testing.T, name, got string) {
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != got {
		gotLines, wantLines := strings.Split(got, "\n"), strings.Split(string(want), "\n")
		for i := range gotLines {
			if i >= len(wantLines) || gotLines[i] != wantLines[i] {
				t.Fatalf("%s, line %d (go test -update writes it again):\n told %s\n want %s", path, i+1, gotLines[i], append(wantLines, make([]string, i+1)...)[i])
			}
		}
		t.Fatalf("%s has more lines than are told", path)
	}
}

// The limits are of characters as a person counts them, not of bytes.
func TestLimitsCountCharacters(t *testing.T) {
	for _, letter := range []string{"x", "ö", "麦", "🌾"} {
		e := example(KindSignoff)
		s := e.Fact.(*Signoff)
		if s.Note = strings.Repeat(letter, 2000); CheckShape(e) != nil {
			t.Errorf("2,000 times %s are refused: %v", letter, CheckShape(e))
		}
		if s.Note += letter; CheckShape(e) == nil {
			t.Errorf("2,001 times %s pass", letter)
		}
	}
}

// Nothing that can be held in memory may bring the program down, whatever the caller forgot.
func TestNothingPanics(t *testing.T) {
	facts := []Fact{nil}
	for _, row := range Kinds() {
		nilFact := reflect.Zero(reflect.TypeOf(row.New())).Interface().(Fact)
		facts = append(facts, row.New(), nilFact)
	}
	plain := len(facts)
	for _, inner := range facts[:plain] {
		for _, row := range Kinds() {
			facts = append(facts, &Correct{With: &Replacement{Kind: row.Kind, Fact: inner}})
		}
	}
	for _, fact := range facts {
		for _, kind := range append(Kinds(), KindRow{}) {
			e := Entry{Kind: kind.Kind, Fact: fact}
			if err := CheckShape(e); err == nil {
				t.Errorf("an empty entry of kind %q with fact %#v passes", kind.Kind, fact)
			} else if err.Error() == "" {
				t.Error("the error says nothing")
			}
			row, err := Format(e)
			if err == nil {
				if _, err := Parse(row.Bytes); err == nil {
					t.Errorf("written and read again: %s", row.Bytes)
				}
			}
			if filled, err := WithDefaults(e); err == nil && filled.ID.IsZero() {
				t.Errorf("no id was made for %+v", e)
			}
			e.SameAs(Entry{})
		}
	}
}

func TestKindTable(t *testing.T) {
	seen := map[Kind]bool{}
	for _, row := range Kinds() {
		if seen[row.Kind] || row.New().Kind() != row.Kind || len(row.Meanings) == 0 || row.Says == "" || row.MaxBytes <= 0 {
			t.Errorf("row %+v", row)
		}
		seen[row.Kind] = true
		if got, ok := RowOf(row.Kind); !ok || got.Kind != row.Kind {
			t.Errorf("%s is not found", row.Kind)
		}
	}
	if _, ok := RowOf("signed"); ok {
		t.Error("an unknown kind has a row")
	}
}
