package server

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
	"grainward/server/pages"
)

// filler puts a value of its own into every field of a fact and remembers how it must be shown.
type filler struct {
	n    int
	want []string // of the page: every value
}

// Fields that are a choice of few, and what they hold; a page shows a word for them.
var choices = map[string]string{"Status": "organic", "Use": "feed", "Act": "kept", "Step": "contact", "Level": "B", "Outcome": "passed", "Of": "partner", "Unit": "kg"}

func (x *filler) next() int { x.n++; return 1000 + x.n }

func (x *filler) fill(v reflect.Value, name string) {
	switch to := v.Addr().Interface().(type) {
	case *records.Decimal:
		*to = records.NewDecimal(int64(x.next()), 1)
		x.want = append(x.want, to.String())
		return
	case *records.Instant:
		*to = at("2026-03-05T00:00:00-05:00") + records.Instant(x.next())*60_000
		x.want = append(x.want, to.Time().In(newYork).Format("15:04:05"))
		return
	case *calendar.Date:
		*to = calendar.Date(20000 + x.next())
		x.want = append(x.want, to.String())
		return
	case *records.EntryID:
		return // filled where it means something
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		x.fill(v.Elem(), name)
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				x.fill(v.Field(i), f.Name)
			}
		}
	case reflect.Slice:
		if v.Type() == reflect.TypeFor[[]records.EntryID]() {
			return
		}
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		x.fill(v.Index(0), name)
		x.fill(v.Index(1), name)
	case reflect.String:
		text := fmt.Sprintf("w%d", x.next())
		if c, few := choices[name]; few {
			text = c
		} else {
			x.want = append(x.want, text)
		}
		v.SetString(text)
	case reflect.Int, reflect.Int64:
		v.SetInt(int64(x.next()))
		if name != "Size" {
			x.want = append(x.want, fmt.Sprint(v.Int()))
		}
	case reflect.Bool:
		v.SetBool(true)
	default:
		panic("a fact holds a " + v.Kind().String())
	}
}

var newYork = func() *time.Location {
	l, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	return l
}()

// Whatever a fact of any kind says stands on its page, in words and not as it is stored.
func TestEveryKindInWords(t *testing.T) {
	w := plant(t)
	for _, kind := range records.Kinds() {
		for _, lang := range pages.Languages() {
			r := &request{lang: lang, now: w.clock.now(), view: w.Book.View(), plan: w.Book.View().State.PlanAt(w.clock.now())}
			x := &filler{}
			fact := kind.New()
			var values []string
			switch f := fact.(type) {
			case *records.Correct: // what it puts in place is shown as a fact of its own kind
				f.Target, f.Reason = w.Book.View().State.First(2).ID, "the reason"
				f.With = &records.Replacement{Kind: records.KindDeviation, Fact: &records.Deviation{What: "what is put in place"}}
				x.want = []string{"the reason", "what is put in place"}
			default:
				x.fill(reflect.ValueOf(fact).Elem(), "")
			}
			if s, is := fact.(*records.Signoff); is { // of each answer only one value is given
				s.Answers = []records.Response{{Ask: "w9001", Text: "w9002"}}
				x.want = []string{string(s.Task), string(s.Station), s.Action, "w9001", "w9002", string(s.Agents[0].Agent), s.Agents[0].Lot, s.Agents[0].Strength.String(), string(s.Lots[1]), string(s.Second), string(s.Trainees[1]), s.Note}
			}
			for _, row := range r.rows(&state.Record{Position: 3, Entry: records.Entry{Kind: kind.Kind, Happened: w.clock.now(), By: "nora", Fact: fact}}) {
				values = append(values, row.Value+" "+row.Href+" "+row.Name)
				if strings.HasPrefix(row.Value, "{") {
					t.Errorf("%s is shown as it is stored:\n%s", kind.Kind, row.Value)
				}
			}
			all := strings.Join(values, "\n")
			for _, want := range x.want {
				if !strings.Contains(all, want) {
					t.Errorf("%s: %q of its fact is not shown in %s:\n%s", kind.Kind, want, lang, all)
				}
			}
			if kindWord(kind.Kind) != kind.Kind {
				t.Errorf("the pages have no word for %s", kind.Kind)
			}
		}
	}
}

// A lot leads to its own page, wherever an entry names one; a clock that was off and a sheet of paper are told.
func TestEntryOfGoods(t *testing.T) {
	w := plant(t)
	mass := records.Mass{Value: records.NewDecimal(4000, 0), Unit: "lb"}
	e := records.Entry{ID: records.NewEntryID(), Happened: w.clock.now().Add(-time.Minute), DeviceTime: w.clock.now().Add(-3 * time.Hour), By: "hank", Meaning: records.Received, Kind: records.KindReceipt,
		Fact: &records.Receipt{Lot: "B/26-1", Item: records.ItemCode(w.Book.View().State.PlanAt(w.clock.now()).Items[0].Code), Status: records.Organic, Weight: records.Weight{Mass: mass}, To: w.Book.View().State.PlanAt(w.clock.now()).Stations[0].Code,
			Source: w.Book.View().State.PlanAt(w.clock.now()).Partners[0].Code}}
	got, err := w.Book.Admit(t.Context(), e)
	if err != nil {
		t.Fatal(err)
	}
	page := w.ask(crew, entryHref(got[0].Position), nil)
	w.wants(page, 200, ">Receipt</p>", "4000 lb", `href="/lots/B%2F26-1"`, "which was off", "2026-03-09 04:30:00")
	w.wants(w.ask(lead, "/reword/"+positionText(got[0].Position), nil), 200, `name="mass"`)
}
