package records

import (
	"bytes"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// oddSignoff is an entry that is a sign-off, spoiled in a few places or none.
func oddSignoff(t *rapid.T) Entry {
	e := drawer{t}.entryOf(KindSignoff)
	f := e.Fact.(*Signoff)
	text := func() string {
		return rapid.SampledFrom([]string{"", "x", "-x", "X", "a b", "é", "\xff", "\x00", "\u2028", `"\`, strings.Repeat("x", 40), strings.Repeat("x", 41), strings.Repeat("x", 61),
			strings.Repeat("é", 100), strings.Repeat("x", 101), strings.Repeat("0", 64), strings.Repeat("x", 2000), strings.Repeat("x", 2001)}).Draw(t, "odd text")
	}
	instant := func() Instant {
		return rapid.SampledFrom([]Instant{0, 1, -1, firstInstant, firstInstant - 1, lastInstant, lastInstant + 1, math.MaxInt64 / 2_000_000, math.MinInt64 / 2_000_000}).Draw(t, "odd instant")
	}
	answer := func() *Response {
		if len(f.Answers) == 0 {
			f.Answers = append(f.Answers, Response{Ask: "a"})
		}
		return &f.Answers[rapid.IntRange(0, len(f.Answers)-1).Draw(t, "answer")]
	}
	use := func() *AgentUse {
		if len(f.Agents) == 0 {
			f.Agents = append(f.Agents, AgentUse{Agent: "a"})
		}
		return &f.Agents[0]
	}
	spoil := []func(){
		func() { e.ID = EntryID(rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "odd id")) },
		func() { e.ID = EntryID{} },
		func() { e.Happened = instant() },
		func() { e.Recorded = instant() },
		func() { e.DeviceTime = instant() },
		func() { e.By = PersonCode(text()) },
		func() { e.Device = DeviceCode(text()) },
		func() { e.Meaning = Meaning(text()) },
		func() { e.Meaning = rapid.SampledFrom([]Meaning{Performed, Verified, Approved}).Draw(t, "odd meaning") },
		func() { e.Kind = KindExcuse },
		func() { e.Paper = &Paper{Whose: PersonCode(text()), Sheet: text()} },
		func() { f.Task = TaskCode(text()) },
		func() { f.Station = StationCode(text()) },
		func() { f.Window = instant() },
		func() { f.Started = instant() },
		func() { f.Outcome = Outcome(text()) },
		func() { f.Action, f.Note = text(), text() },
		func() { f.Second = PersonCode(text()) },
		func() { f.Lots = append(f.Lots, LotCode(text())) },
		func() { f.Trainees = append(f.Trainees, PersonCode(text())) },
		func() {
			f.Lots, f.Trainees, f.Answers, f.Agents = []LotCode{}, []PersonCode{}, []Response{}, []AgentUse{}
		},
		func() { f.Answers = slices.Repeat([]Response{{Ask: "a", Choice: "x"}}, 61) },
		func() { f.Agents = slices.Repeat([]AgentUse{{Agent: "a"}}, 21) },
		func() { f.Lots = slices.Repeat([]LotCode{"x"}, 51) },
		func() { f.Trainees = slices.Repeat([]PersonCode{"x"}, 51) },
		func() { answer().Ask = AskCode(text()) },
		func() { answer().Value = &Quantity{Unit: text()} },
		func() { answer().Choice = text() },
		func() { f.Answers = []Response{{Ask: "a", Choice: strings.Repeat("x", 101)}} },
		func() { f.Answers = []Response{{Ask: "a", Text: strings.Repeat("x", 2001)}} },
		func() { answer().Text = text() },
		func() { answer().Photo = text() },
		func() { answer().Yes = new(bool) },
		func() { *answer() = Response{Ask: "a"} },
		func() { use().Agent = AgentCode(text()) },
		func() { use().Lot = text() },
		func() { use().Strength = &Quantity{Unit: text()} },
		func() { f.Answers = slices.Repeat([]Response{{Ask: "a", Text: strings.Repeat("x", 2000)}}, 40) }, // more than an entry holds
	}
	for range rapid.IntRange(0, 3).Draw(t, "spoiled") {
		rapid.SampledFrom(spoil).Draw(t, "spoil")()
	}
	return e
}

// A sign-off has the bytes that any kind would have.
func TestSignoffsAreWrittenAsAnyKind(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := oddSignoff(t)
		want, err := formatAny(e)
		got, ok := canonicalSignoff(&e)
		if ok != (err == nil) || ok && !bytes.Equal(got, want.Bytes) {
			t.Fatalf("%+v %+v\nquick %s %v\nslow  %s %v", e, e.Fact, got, ok, want.Bytes, err)
		}
	})
}

// With what is plainly sound nothing is found to be wrong, and it is read as it was written.
func TestPlainlySound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := oddSignoff(t)
		if !plainlySound(&e) {
			return
		}
		if err := checkFields(e); err != nil {
			t.Fatalf("plainly sound: %+v %+v\nand not: %v", e, e.Fact, err)
		}
		row, err := formatAny(e)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := ParseTrusted(row.Bytes); err != nil || !reflect.DeepEqual(back, e) {
			t.Fatalf("wrote %+v %+v\n read %+v %+v (%v)", e, e.Fact, back, back.Fact, err)
		}
	})
	if e := example(KindSignoff); !plainlySound(&e) {
		t.Error("an ordinary sign-off does not go the short way")
	}
}

// A member or a rule that is new has to be looked at in quicksignoff.go before it is written down here.
func TestPlainlySoundKnowsTheRules(t *testing.T) {
	for of, want := range map[reflect.Type]string{
		reflect.TypeFor[Entry]():    "id happened recorded by device,omitzero meaning kind fact deviceTime,omitzero paper,omitzero",
		reflect.TypeFor[Paper]():    "whose sheet,omitzero",
		reflect.TypeFor[Signoff]():  "task:code station:code window,omitzero started,omitzero outcome:oneof=passed failed answers,omitzero:max=60,dive agents,omitzero:max=20,dive action,omitzero:max=2000 lots,omitzero:max=50,dive,lot second,omitzero:omitempty,code trainees,omitzero:max=50,dive,code note,omitzero:max=2000",
		reflect.TypeFor[Response](): "ask:code value,omitzero yes,omitzero choice,omitzero:max=100 text,omitzero:max=2000 photo,omitzero:omitempty,sha256hex",
		reflect.TypeFor[AgentUse](): "agent:code lot,omitzero:max=60 strength,omitzero",
		reflect.TypeFor[Quantity](): "value unit,omitzero:max=40",
	} {
		var got []string
		for f := range of.Fields() {
			text := f.Tag.Get("json")
			if rule := f.Tag.Get("validate"); rule != "" {
				text += ":" + rule
			}
			got = append(got, text)
		}
		if text := strings.Join(got, " "); text != want {
			t.Errorf("%s has\n%s\nand was known with\n%s", of.Name(), text, want)
		}
	}
	if row, _ := RowOf(KindSignoff); !reflect.DeepEqual(row.Meanings, []Meaning{Performed, Verified}) || row.MaxBytes != maxEntry {
		t.Errorf("%+v", row)
	}
}
