package bigplant

import (
	"fmt"
	"math"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// rounds are the duties that fall due by the clock.
func (t *today) rounds() {
	t.last = t.last[:0]
	weekday := [...]string{"SU", "MO", "TU", "WE", "TH", "FR", "SA"}[t.day.Weekday()]
	for i := range tasks {
		k := &tasks[i]
		if k.weekly != "" {
			if k.weekly == weekday {
				t.round(k, 1)
			}
			continue
		}
		for _, s := range k.rounds {
			t.round(k, s)
		}
	}
}

// round signs a task off at all its stations. Of 400 windows one is missed, of 200 one is late.
func (t *today) round(k *task, s int) {
	for i, st := range k.stations {
		if k.while[0] != "" && !t.occupied(k, i, s) {
			continue
		}
		if t.one(400) {
			t.missed(k, st, s)
			continue
		}
		open := slots[s].opens
		span := slots[s].due - open
		switch {
		case k.grade != "": // machines stand still then
			open, span = 16*60+5, 30
		case s == 0 && k.while[0] != "": // before beds are stripped and kilns unloaded
			span = 50
		}
		minute := open + 5 + t.r.IntN(span-5)
		if k.grade == "" && t.one(200) && (s != 0 || k.while[0] == "") {
			minute = slots[s].due + 5 + t.r.IntN(slots[s].lapses-slots[s].due-10)
		}
		d := t.signoff(k, st, t.at(minute))
		d.Fact.(*records.Signoff).Window = t.base.Add(time.Duration(slots[s].opens) * time.Minute)
		if t.one(150) {
			t.last = append(t.last, d)
		}
	}
}

// occupied says whether there is anything at the i-th station of a task that is only due while there is.
func (t *today) occupied(k *task, i, s int) bool {
	since := t.day - t.since
	switch k.code {
	case "steep-watch":
		first := calendar.Date(i % steeps)
		return since > first || since == first && s > 0
	case "kiln-watch":
		return since > 7 || since == 7 && s > 0
	default: // floors
		first := calendar.Date((i+floors-2)%floors + 2) // the first day on which a batch is laid on it
		return since > first || since == first && s > 0
	}
}

// missed is a window nobody came for; the lead answers for one in three.
func (t *today) missed(k *task, st records.StationCode, s int) {
	if !t.one(3) {
		return
	}
	opens := t.base.Add(time.Duration(slots[s].opens) * time.Minute)
	at := t.at(14 * 60).Add(24 * time.Hour)
	t.write(t.r, at, at.Add(time.Second), leadCode(t.r.IntN(leads)), records.Verified, &records.Answer{Finding: fmt.Sprintf("missed:%s@%s:%s", k.code, st, opens),
		Cause: "Too few people on the shift.", Action: "Done in the next round.", Lots: "None: the next round found nothing.", Prevention: "Somebody stands in from now on.", Closes: true})
}

// signoff signs one piece of work off. Of 300 rounds one is out of its limits, something is done about it, and mostly it is then looked at
// again; of 1,500 one fails and is done again.
func (t *today) signoff(k *task, st records.StationCode, at records.Instant) *draft {
	f := &records.Signoff{Task: k.code, Station: st, Outcome: records.Passed}
	by := t.someone()
	if k.minutes > 0 && k.grade != "" {
		f.Started = at.Add(-time.Duration(k.minutes) * time.Minute)
	}
	if k.agent != "" {
		f.Agents = []records.AgentUse{{Agent: k.agent}}
	}
	if k.second {
		for f.Second = t.someone(); f.Second == by; {
			f.Second = t.someone()
		}
	}
	if t.one(60) {
		f.Note = "As always."
	}
	again := false
	if k.rounds != nil && k.family != "calibration" {
		bad := *f
		switch {
		case t.one(300):
			bad.Answers, bad.Action, bad.Note, again = t.answers(k, true), "Put right and looked at again.", "", true
		case t.one(1500):
			bad.Answers, bad.Outcome, bad.Note, again = t.answers(k, false), records.Failed, "Not good enough; to be done again.", true
		}
		if again && t.one(3) { // nobody looked again
			return t.signed(at, by, records.Performed, &bad)
		}
		if again {
			t.signed(at.Add(-90*time.Second), by, records.Performed, &bad)
		}
	}
	f.Answers = t.answers(k, false)
	return t.signed(at, by, records.Performed, f)
}

// answers are to all that is asked; out has the first one outside its limits.
func (t *today) answers(k *task, out bool) (all []records.Response) {
	for i := range k.asks {
		all = append(all, t.answer(&k.asks[i], out && i == 0))
	}
	return all
}

func (t *today) answer(a *ask, out bool) records.Response {
	if a.unit == "" {
		yes := !out
		return records.Response{Ask: a.code, Yes: &yes}
	}
	x := a.low + float64((a.high-a.low)*t.r.Float64())
	if out {
		x = a.hi + 1
	}
	scale := 1
	if a.high-a.low < 1 {
		scale = 2
	}
	return records.Response{Ask: a.code, Value: &records.Quantity{Value: fixed(x, scale), Unit: a.unit}}
}

// fixed is a number rounded to some decimals.
func fixed(x float64, decimals int) records.Decimal {
	return records.NewDecimal(int64(math.Round(x*math.Pow10(decimals))), decimals)
}
