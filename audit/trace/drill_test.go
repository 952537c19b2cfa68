package trace

import (
	"slices"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/lots"
)

// The levels of 21 CFR 7.42(b)(3) (regulations, check value C54: A and B seen, C to E from memory), rounded up.
func TestRequiredChecks(t *testing.T) {
	for _, c := range []struct {
		level string
		n     int
		want  int
	}{
		{"A", 0, 0}, {"A", 7, 7}, {"A", 200, 200},
		{"B", 0, 0}, {"B", 1, 1}, {"B", 9, 1}, {"B", 10, 2}, {"B", 19, 2}, {"B", 20, 3}, {"B", 200, 21}, // more than 10 %, not 10 %
		{"C", 0, 0}, {"C", 1, 1}, {"C", 10, 1}, {"C", 11, 2}, {"C", 200, 20}, {"C", 201, 21},
		{"D", 0, 0}, {"D", 1, 1}, {"D", 50, 1}, {"D", 51, 2}, {"D", 200, 4},
		{"E", 200, 0},
	} {
		if got := RequiredChecks(c.level, c.n); got != c.want {
			t.Errorf("level %s of %d: %d, want %d", c.level, c.n, got, c.want)
		}
	}
}

func drillJournal() *journal {
	j := oneWay()
	at := func(n int) records.Instant { return day + 5000*minute + records.Instant(n)*minute }
	holds := kg(80).Mass
	j.add(at(0), "ana", &records.Drill{Drill: "d1", Step: "start", Subject: "their-lot:Field 7", Why: "yearly", Lead: "ana", Level: "B"})
	j.add(at(10), "ana", &records.Drill{Drill: "d1", Step: "contact", Partner: "baker", Method: "telephone"})
	j.add(at(15), "ana", &records.Drill{Drill: "d1", Step: "contact", Partner: "baker", Method: "telephone", Reached: true, Spoke: "Bo", Holds: &holds})
	j.add(at(20), "ana", &records.Drill{Drill: "d1", Step: "contact", Partner: "brewer", Method: "telephone", Reached: true})
	j.add(at(30), "ana", &records.Drill{Drill: "d1", Step: "start", Subject: "M1", Why: "again", Lead: "ana"})
	return j
}

func TestADrillInterruptedAndFinished(t *testing.T) {
	j := drillJournal()
	st, f := j.fold(t, lots.Forever-1)
	drills := Drills(st, f.At)
	if len(drills) != 1 || !drills[0].Interrupted() || len(drills[0].Contacts) != 3 || len(drills[0].Again) != 1 {
		t.Fatalf("%+v", drills)
	}
	figures := drills[0].Figures(mustTrace(t, j, drills[0].Subject(), Forward))
	want := []records.PartnerCode{"baker", "cows", "depot", "brewer"} // direct ones, then who was called besides
	var got []records.PartnerCode
	for _, r := range figures.Rows {
		got = append(got, r.Partner.Code)
	}
	if !slices.Equal(got, want) {
		t.Fatalf("rows %v", got)
	}
	if figures.ToReach != 3 || figures.Required != 1 || figures.Tried != 1 || figures.Reached != 1 || !figures.Enough || figures.Shipped != 262e9 || figures.Found != 80e9 {
		t.Fatalf("%+v", figures)
	}
	if !slices.Equal(figures.Left(), []records.PartnerCode{"cows", "depot"}) || *figures.ToFirstContact != 10*time.Minute || figures.ToFinish != nil || figures.ToTrace != nil {
		t.Fatalf("%+v", figures)
	}

	j.add(day+5100*minute, "ana", &records.Drill{Drill: "d1", Step: "finish", Lessons: "Ask the dairy for a night number.",
		Figures: []records.Measured{{Name: "trace", Value: records.Quantity{Value: records.NewDecimal(15, 1), Unit: "s"}}}})
	st, f = j.fold(t, lots.Forever-1)
	d := Drills(st, f.At)[0]
	figures = d.Figures(mustTrace(t, j, d.Subject(), Forward))
	if d.Interrupted() || *figures.ToFinish != 100*time.Minute || *figures.ToTrace != 1500*time.Millisecond {
		t.Fatalf("%+v", figures)
	}
	if len(Drills(st, day)) != 0 {
		t.Fatal("a drill before anything of it happened")
	}
}

func TestADrillWithoutAStartOrConsignees(t *testing.T) {
	j := newJournal()
	j.add(day, "ana", &records.Receipt{Lot: "R1", Item: "barley", Status: records.Organic, Weight: kg(5), To: "silo", Source: "farm"})
	j.add(day+1, "ana", &records.Drill{Drill: "d2", Step: "contact", Partner: "stranger", Reached: true})
	st, f := j.fold(t, lots.Forever-1)
	d := Drills(st, f.At)[0]
	figures := d.Figures(mustTrace(t, j, "R1", Forward))
	if d.Subject() != "" || figures.ToReach != 0 || figures.Percent != 100 || figures.Reached != 0 || !figures.Enough || figures.ToFirstContact != nil || len(figures.Rows) != 1 {
		t.Fatalf("%+v %+v", d, figures)
	}
}
