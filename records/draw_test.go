package records

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"grainward/records/calendar"
)

// A drawer makes well-formed entries of every kind with every member that a fact can have.
type drawer struct{ t *rapid.T }

func (d drawer) maybe() bool { return rapid.Bool().Draw(d.t, "maybe") }

func (d drawer) code() string {
	return rapid.StringMatching(`[a-z0-9][a-z0-9-]{0,11}`).Draw(d.t, "code")
}

func (d drawer) maybeCode() string {
	if d.maybe() {
		return d.code()
	}
	return ""
}

// text is at least min characters of any alphabet: marks that JSON escapes, astral letters and controls included.
func (d drawer) text(min int) string { return rapid.StringN(min, 30, -1).Draw(d.t, "text") }

func (d drawer) id() (id EntryID) {
	copy(id[:], rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(d.t, "id"))
	id[6], id[8] = id[6]&0x0f|0x70, id[8]&0x3f|0x80
	return id
}

func (d drawer) instant() Instant {
	first, last := mustInstant("1900-01-01T00:00:00Z"), mustInstant("2199-12-31T23:59:59.999Z")
	i := Instant(rapid.Int64Range(int64(first), int64(last)).Draw(d.t, "instant"))
	if i == 0 {
		return 1
	}
	return i
}

func (d drawer) hex() string {
	sum := sha256.Sum256([]byte(d.text(0)))
	return hex.EncodeToString(sum[:])
}

func (d drawer) decimal() Decimal {
	return NewDecimal(rapid.Int64Range(-999_999_999_999_999_999, 999_999_999_999_999_999).Draw(d.t, "coef"), rapid.IntRange(0, 12).Draw(d.t, "scale"))
}

func (d drawer) quantity() *Quantity { return &Quantity{Value: d.decimal(), Unit: d.text(0)} }

func (d drawer) date() *calendar.Date {
	if !d.maybe() {
		return nil
	}
	day := calendar.Date(rapid.Int32Range(int32(calendar.FirstDate), int32(calendar.LastDate)).Draw(d.t, "date"))
	return &day
}

func several[T any](d drawer, one func() T) (list []T) {
	for range rapid.IntRange(0, 3).Draw(d.t, "n") {
		list = append(list, one())
	}
	return list
}

func (d drawer) lots() []LotCode {
	const set82 = `!"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz`
	return several(d, func() LotCode {
		return LotCode(rapid.StringOfN(rapid.SampledFrom([]rune(set82)), 1, 20, -1).Draw(d.t, "lot"))
	})
}

func (d drawer) response() Response {
	r := Response{Ask: AskCode(d.code())}
	switch rapid.IntRange(0, 4).Draw(d.t, "answer") {
	case 0:
		r.Value = d.quantity()
	case 1:
		yes := d.maybe()
		r.Yes = &yes
	case 2:
		r.Choice = d.text(1)
	case 3:
		r.Text = d.text(1)
	case 4:
		r.Photo = d.hex()
	}
	return r
}

func (d drawer) fact(k Kind) Fact {
	switch k {
	case KindPlan:
		text := d.text(1)
		sum := sha256.Sum256([]byte(text))
		return &Adoption{Text: text, SHA256: hex.EncodeToString(sum[:]), Note: d.text(0)}
	case KindSignoff:
		s := &Signoff{Task: TaskCode(d.code()), Station: StationCode(d.code()), Outcome: rapid.SampledFrom([]Outcome{Passed, Failed}).Draw(d.t, "outcome"),
			Answers: several(d, d.response), Action: d.text(0), Lots: d.lots(), Second: PersonCode(d.maybeCode()), Note: d.text(0)}
		s.Agents = several(d, func() AgentUse { return AgentUse{Agent: AgentCode(d.code()), Lot: d.text(0), Strength: d.quantity()} })
		s.Trainees = several(d, func() PersonCode { return PersonCode(d.code()) })
		if d.maybe() {
			s.Window, s.Started = d.instant(), d.instant()
		}
		return s
	case KindDeviation:
		return &Deviation{What: d.text(1), Task: TaskCode(d.maybeCode()), Station: StationCode(d.maybeCode()), Lots: d.lots(), Entries: several(d, d.id), Action: d.text(0)}
	case KindAnswer:
		a := &Answer{Cause: d.text(1), Action: d.text(1), Lots: d.text(1), Prevention: d.text(1), Closes: d.maybe()}
		if d.maybe() {
			a.Finding = d.text(1)
		} else {
			a.Deviation = d.id()
		}
		return a
	case KindReview:
		from := rapid.Int64Range(0, 1<<53-1).Draw(d.t, "from")
		return &Review{From: Position(from), To: Position(rapid.Int64Range(from, 1<<53-1).Draw(d.t, "to")), Except: several(d, d.id), Note: d.text(0)}
	case KindExcuse:
		from, to := d.instant(), d.instant()
		return &Excuse{Task: TaskCode(d.maybeCode()), Station: StationCode(d.maybeCode()), From: min(from, to), To: max(from, to), Reason: d.text(1)}
	case KindDocument:
		doc := &Document{Code: DocumentCode(d.code()), Title: d.text(1), Type: d.text(1), Issuer: d.text(0), Number: d.text(0), From: d.date(), To: d.date(), Note: d.text(0)}
		doc.Subject = Subject{Of: rapid.SampledFrom([]string{"partner", "agent", "station", "instrument", "person", "item"}).Draw(d.t, "of"), Code: d.code()}
		if d.maybe() {
			doc.Subject = Subject{Of: "plant"}
			doc.File = &File{SHA256: d.hex(), Size: rapid.Int64Range(1, MaxBlob).Draw(d.t, "size"), Media: "application/pdf", Name: d.text(0)}
		}
		return doc
	case KindCorrect:
		c := &Correct{Target: d.id(), Reason: d.text(1), Withdraw: d.maybe()}
		if !c.Withdraw {
			kind := d.kind()
			for kind == KindCorrect {
				kind = d.kind()
			}
			c.With = &Replacement{By: PersonCode(d.maybeCode()), Kind: kind, Fact: d.fact(kind)}
			if d.maybe() {
				c.With.Happened = d.instant()
			}
		}
		return c
	}
	if f := d.goods(k); f != nil {
		return f
	}
	d.t.Fatalf("no way to draw a fact of kind %q", k)
	return nil
}

func (d drawer) kind() Kind {
	return rapid.SampledFrom(Kinds()).Draw(d.t, "kind").Kind
}

func (d drawer) entryOf(k Kind) Entry {
	row, _ := RowOf(k)
	e := Entry{ID: d.id(), Happened: d.instant(), Recorded: d.instant(), By: PersonCode(d.code()), Device: DeviceCode(d.maybeCode()),
		Meaning: rapid.SampledFrom(row.Meanings).Draw(d.t, "meaning"), Kind: k, Fact: d.fact(k)}
	if rapid.Bool().Draw(d.t, "clock off") {
		e.DeviceTime = d.instant()
	}
	if rapid.Bool().Draw(d.t, "from paper") {
		e.Paper = &Paper{Whose: PersonCode(d.code())}
		if rapid.Bool().Draw(d.t, "photo of the sheet") {
			e.Paper.Sheet = sumOf(string(e.Paper.Whose))
		}
	}
	return e
}

func (d drawer) entry() Entry { return d.entryOf(d.kind()) }

// eachKind runs a property for every kind, so that none is left to chance.
func eachKind(t *testing.T, check func(t *rapid.T, e Entry)) {
	for _, row := range Kinds() {
		t.Run(string(row.Kind), rapid.MakeCheck(func(t *rapid.T) { check(t, drawer{t}.entryOf(row.Kind)) }))
	}
}

func mustInstant(text string) Instant {
	i, err := ParseInstant(text)
	if err != nil {
		panic(err)
	}
	return i
}

func mustDecimal(text string) Decimal {
	d, err := ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return d
}

const (
	idA = "0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e"
	idB = "0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2f"
)

func mustID(text string) EntryID {
	id, err := ParseEntryID(text)
	if err != nil {
		panic(err)
	}
	return id
}

// example is one plausible entry of a kind; its fact is new at each call, to be spoiled at will.
func example(k Kind) Entry {
	yes, from := true, calendar.Date(20_400)
	hash := strings.Repeat("0123456789abcdef", 4)
	facts := map[Kind]Fact{
		KindPlan: &Adoption{Text: "plant: {}\n", SHA256: sumOf("plant: {}\n")},
		KindSignoff: &Signoff{Task: "scrub-floor", Station: "germination-1", Outcome: Passed, Started: mustInstant("2026-03-08T07:15:00Z"),
			Answers: []Response{{Ask: "ozone-residue", Value: &Quantity{Value: mustDecimal("0.00"), Unit: "mg/L"}}, {Ask: "visibly-clean", Yes: &yes}},
			Agents:  []AgentUse{{Agent: "ozonated-water"}}, Lots: []LotCode{"B26-014"}},
		KindDeviation: &Deviation{What: "belt stopped with grain on it", Station: "conveyor-2", Entries: []EntryID{mustID(idB)}},
		KindAnswer:    &Answer{Finding: "missed/turn-bed/2026-03-08", Cause: "nobody on shift", Action: "turned at 21:40", Lots: "none touched", Prevention: "a second name on the rota", Closes: true},
		KindReview:    &Review{From: 0, To: 41, Except: []EntryID{mustID(idB)}},
		KindExcuse:    &Excuse{Task: "turn-bed", From: mustInstant("2026-03-08T00:00:00Z"), To: mustInstant("2026-03-09T00:00:00Z"), Reason: "floor empty for repair"},
		KindDocument: &Document{Code: "organic-certificate", Title: "Organic certificate", Type: "certificate", Subject: Subject{Of: "plant"}, From: &from,
			File: &File{SHA256: hash, Size: 1234, Media: "application/pdf"}},
		KindCorrect: &Correct{Target: mustID(idB), Reason: "wrong station", With: &Replacement{Kind: KindSignoff,
			Fact: &Signoff{Task: "scrub-floor", Station: "germination-2", Outcome: Passed}}},
	}
	if facts[k] == nil {
		facts[k] = exampleGoods(k)
	}
	row, _ := RowOf(k)
	return Entry{ID: mustID(idA), Happened: mustInstant("2026-03-08T07:30:00Z"), Recorded: mustInstant("2026-03-08T07:30:41.25Z"), By: "crew-1",
		Device: "tablet-2", Meaning: row.Meanings[0], Kind: k, Fact: facts[k]}
}

func sumOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}
