package server

import (
	"testing"

	"grainward/audit"
	"grainward/records"
)

// Those who ask while a judgement is made share the next one, however many entries come meanwhile; and nobody is shown less than what was
// written when they asked.
func TestOneJudgementForAllWhoWait(t *testing.T) {
	w := plant(t)
	var j judge
	version := func() uint64 { return w.Book.View().State.Version() }
	note := func() {
		w.write(records.Entry{By: "hank", Fact: &records.Deviation{What: "A gull got in.", Station: "warehouse"}})
	}
	var waiting []uint64 // what was written when each of those who wait asked
	first := j.report(w.Book, func() records.Instant {
		for range 5 { // the first is being made, of what was there before these
			note()
			waiting = append(waiting, version())
		}
		note()
		return w.clock.now()
	})
	if j.made != 1 || first.State.Version() >= waiting[0] {
		t.Fatalf("%d judgements; the first is of version %d, and the first who waits asked at %d", j.made, first.State.Version(), waiting[0])
	}
	var shared *audit.Report
	for _, asked := range waiting {
		got := j.since(asked, w.Book, w.clock.now)
		if shared != nil && got != shared {
			t.Errorf("who asked at version %d was given a judgement of their own", asked)
		}
		if shared = got; got.State.Version() < asked {
			t.Errorf("who asked at version %d was shown version %d", asked, got.State.Version())
		}
		note() // a busy floor
	}
	if j.made != 2 {
		t.Errorf("%d judgements, and one was enough for all who waited", j.made-1)
	}
	if got := j.report(w.Book, w.clock.now); got.State.Version() != version() || j.made != 3 {
		t.Errorf("who asks now is shown version %d of %d", got.State.Version(), version())
	}
}
