package server

import (
	"bytes"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/state"
	"grainward/server/pages"
)

// sentBack is a form as a browser sends it when nothing in it is changed.
func sentBack(m *mender) url.Values {
	v := url.Values{}
	for _, h := range m.hidden {
		v.Set(h.Name, h.Value)
	}
	for _, f := range m.fields {
		switch f.Type {
		case "part":
		case "measure":
			for _, p := range f.Parts {
				v.Set(p.Name, p.Value)
			}
		case "checks", "select":
			for _, o := range f.Options {
				if o.Chosen {
					v.Add(f.Name, o.Value)
				}
			}
		default:
			v.Set(f.Name, f.Value)
		}
	}
	return v
}

// mendable are the kinds that have a form to correct them, and of their facts what no form changes.
var mendable = map[records.Kind][]string{
	records.KindDeviation: {"Task", "Station", "Lots", "Entries"},
	records.KindAnswer:    {"Finding", "Deviation", "Closes"},
	records.KindExcuse:    {"Task", "Station", "From", "To"},
	records.KindReview:    {"From", "To", "Except"},
	records.KindHold:      {"Lots"},
	records.KindRelease:   {"Lots", "Rejected"},
	records.KindDocument:  {"Code", "Subject", "File"},
	records.KindReceipt:   nil,
	records.KindMove:      nil,
	records.KindProcess:   nil,
	records.KindHandover:  {"Confirms", "Signature"},
	records.KindCount:     nil,
	records.KindPurge:     nil,
	records.KindResult:    {"Name", "Unit"},
	records.KindSample:    nil,
}

// Two facts that differ in everything: the form that shows the one, read into the other, makes them the same, but for what no form changes.
func TestFormsToCorrectHoldEverything(t *testing.T) {
	w := plant(t)
	for _, kind := range records.Kinds() {
		stays, is := mendable[kind.Kind]
		a, b := kind.New(), kind.New()
		x, y := &filler{}, &filler{n: 400}
		if is {
			x.fill(reflect.ValueOf(a).Elem(), "")
			y.fill(reflect.ValueOf(b).Elem(), "")
			turned(reflect.ValueOf(b).Elem())
		}
		r := &request{lang: "en", now: w.clock.now(), view: w.Book.View(), plan: w.Book.View().State.PlanAt(w.clock.now()), form: url.Values{}}
		shown := &mender{request: r, plan: r.plan}
		if got := shown.fact(a); got != is {
			t.Errorf("%s has a form to correct it: %t, want %t", kind.Kind, got, is)
		}
		if !is {
			continue
		}
		r.form = sentBack(shown)
		read := &mender{request: r, plan: r.plan, sheet: &sheet{request: r}}
		read.fact(b)
		if len(read.sheet.ms) > 0 {
			t.Errorf("%s: %+v", kind.Kind, read.sheet.ms)
		}
		kept(reflect.ValueOf(a).Elem(), reflect.ValueOf(b).Elem(), stays)
		if !reflect.DeepEqual(a, b) {
			t.Errorf("%s: the form does not hold all of\n%s\nbut makes\n%s", kind.Kind, written(t, w, a), written(t, w, b))
		}
	}
}

// turned makes every yes a no, and every choice of few another.
func turned(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			turned(v.Elem())
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				turned(v.Field(i))
			}
		}
	case reflect.Slice:
		for i := range v.Len() {
			turned(v.Index(i))
		}
	case reflect.Bool:
		v.SetBool(false)
	case reflect.String:
		if other := map[string]string{"organic": "conventional", "feed": "sale", "kept": "discarded", "kg": "lb"}[v.String()]; other != "" {
			v.SetString(other)
		}
	}
}

// kept copies the fields that stay.
func kept(from, to reflect.Value, stays []string) {
	switch from.Kind() {
	case reflect.Pointer:
		if !from.IsNil() && !to.IsNil() {
			kept(from.Elem(), to.Elem(), stays)
		}
	case reflect.Struct:
		for i := range from.NumField() {
			f := from.Type().Field(i)
			if !f.IsExported() {
				continue
			}
			for _, name := range stays {
				if f.Name == name && f.Type != reflect.TypeFor[records.Mass]() && from.Type() != reflect.TypeFor[records.Mass]() {
					to.Field(i).Set(from.Field(i))
				}
			}
			kept(from.Field(i), to.Field(i), stays)
		}
	case reflect.Slice:
		for i := range min(from.Len(), to.Len()) {
			kept(from.Index(i), to.Index(i), stays)
		}
	}
}

func written(t *testing.T, w *world, f records.Fact) []byte {
	t.Helper()
	row, err := records.Format(records.Entry{ID: records.NewEntryID(), Happened: w.clock.now(), By: "nora", Kind: f.Kind(), Fact: f})
	if err != nil {
		t.Fatal(err)
	}
	return bytes.TrimSpace(row.Bytes)
}

// A receipt of the wrong mass, from the wrong silo an hour late, is put right by who wrote it; what was typed comes back with what is wrong.
func TestCorrectGoods(t *testing.T) {
	w := plant(t)
	p := w.Book.View().State.PlanAt(w.clock.now())
	at := w.clock.now().Add(-2 * time.Hour)
	mass := records.Mass{Value: records.NewDecimal(4000, 0), Unit: "lb"}
	e := records.Entry{ID: records.NewEntryID(), Happened: at, By: "hank", Meaning: records.Received, Kind: records.KindReceipt,
		Fact: &records.Receipt{Lot: "B-26-1", Item: p.Items[0].Code, Status: records.Organic, Weight: records.Weight{Mass: mass}, To: p.Stations[0].Code, Via: []records.StationCode{p.Stations[1].Code}, Source: p.Partners[0].Code}}
	got, err := w.Book.Admit(t.Context(), e)
	if err != nil {
		t.Fatal(err)
	}
	pos := got[0].Position
	path := "/reword/" + positionText(pos)
	w.wants(w.ask(crew, entryHref(pos), nil), 200, `href="`+path+`"`)
	w.wants(w.ask(crew, path, nil), 200, `value="4000"`, `value="lb"`, `value="B-26-1"`, `name="happened"`, "is worked out anew", "/withdraw/"+positionText(pos))

	before := w.size()
	bad := typed("hank", "mass", "40O0", "mass-unit", "lb", "moisture", "wet", "lot", "b 26", "reason", "")
	w.wants(w.ask(crew, path, bad), 422, "is no mass", `value="40O0"`, "is not a number", "Fill in: Why is it corrected?", `value="b 26"`)
	w.wants(w.ask(crew, path, typed("hank", "source", "", "reason", "x")), 422, "Fill in: Taken over from")
	w.wants(w.ask(crew, path, typed("hank", "happened", "2027-01-01T00:00", "reason", "x")), 422, "lies in the future")
	if w.size() != before {
		t.Fatal("a form with faults was written down")
	}
	hour := at.Add(-time.Hour).Time().In(p.Location()).Format("2006-01-02T15:04")
	good := typed("hank", "mass", "4400,5", "mass-unit", "lb", "moisture", "12.5", "to", string(p.Stations[2].Code), "via-shown", "yes", "happened", hour, "reason", "The ticket says 4400.5.")
	w.wants(w.ask(crew, path, good), 303)
	w.wants(w.ask(crew, path, good), 303) // a second tap
	if w.size() != before+1 {
		t.Fatalf("%d entries were written", w.size()-before)
	}
	now := w.Book.View().State.Now(pos)
	want := *e.Fact.(*records.Receipt)
	moist := records.NewDecimal(125, 1)
	want.Weight = records.Weight{Mass: records.Mass{Value: records.NewDecimal(44005, 1), Unit: "lb"}, Moisture: &moist}
	want.To, want.Via = p.Stations[2].Code, nil
	if !bytes.Equal(factOf(t, now), factOf(t, &state.Record{Entry: records.Entry{ID: e.ID, Kind: e.Kind, Fact: &want}})) {
		t.Errorf("it counts as\n%s\nwant\n%s", factOf(t, now), factOf(t, &state.Record{Entry: records.Entry{ID: e.ID, Kind: e.Kind, Fact: &want}}))
	}
	if got := now.Happened.Time().In(p.Location()).Format("2006-01-02T15:04"); got != hour {
		t.Errorf("it happened at %s, want %s", got, hour)
	}
	w.wants(w.ask(crew, path, nil), 200, `value="4400.5"`) // corrected again from here
	w.wants(w.ask(lead, path, typed("nora", "variety", "Tillow", "reason", "looked up", "again", thePassword)), 303)
	if f := w.Book.View().State.Now(pos).Fact.(*records.Receipt); f.Variety != "Tillow" || f.Weight.Mass.String() != "4400.5 lb" {
		t.Errorf("a correction of a correction lost something: %+v", f)
	}
	if now := w.Book.View().State.Now(pos); now.Happened.Time().In(p.Location()).Format("2006-01-02T15:04") != hour {
		t.Error("a correction of a correction moved it back")
	}
	w.wants(w.ask(crew, "/reword/"+positionText(w.size()-1), nil), 403) // the lead's
}

func factOf(t *testing.T, r *state.Record) []byte {
	t.Helper()
	row, err := records.Format(records.Entry{ID: r.ID, Kind: r.Kind, Fact: r.Fact})
	if err != nil {
		t.Fatal(err)
	}
	return row.Bytes
}

// Every field of a form to correct something has a label in each language, and no two have one name.
func TestFormsToCorrectAreLabelled(t *testing.T) {
	w := plant(t)
	for kind := range mendable {
		for _, lang := range pages.Languages() {
			k, _ := records.RowOf(kind)
			f := k.New()
			(&filler{}).fill(reflect.ValueOf(f).Elem(), "")
			r := &request{lang: lang, now: w.clock.now(), view: w.Book.View(), plan: w.Book.View().State.PlanAt(w.clock.now()), form: url.Values{}}
			m := &mender{request: r, plan: r.plan}
			m.fact(f)
			names := map[string]bool{}
			for _, f := range m.fields {
				if f.Label == "" || strings.HasPrefix(f.Label, "row-") || f.Type != "part" && names[f.Name] {
					t.Errorf("%s, %s: field %q is labelled %q, or stands twice", kind, lang, f.Name, f.Label)
				}
				names[f.Name] = true
			}
		}
	}
}
