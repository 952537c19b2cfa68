package demoplant

import (
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// slip is a mistake waiting to be made: the first job of a task on or after a day that fits becomes its victim.
type slip struct {
	task records.TaskCode
	from calendar.Date
	when func(*job) bool
	do   func(*job) // instead of signing the job off as usual
}

// note puts a mistake on the list.
func (s *sim) note(what string, when records.Instant, entry records.EntryID, shows ...Expected) {
	s.mistakes = append(s.mistakes, Mistake{What: what, When: when, Entry: entry, Shows: shows})
}

// slips is every mistake the crew makes with the work itself, by the day on which it can first happen. The office's
// own are in office.go and papers.go.
func slips(s *sim) []*slip {
	d := func(days int) calendar.Date { return s.since + calendar.Date(days) }
	evening := func(j *job) bool { return s.hour(j.opens) == 17 }
	morning := func(j *job) bool { return s.hour(j.opens) == 5 }
	var skipped calendar.Date // the day on which the scale was not checked
	about := func(d *draft) string { return d.entry.ID.String() }

	return []*slip{
		{task: "bed-temperature", from: d(20), when: morning, do: func(j *job) {
			bad := s.sign(j, func(f *records.Signoff) { set(f, "top", "72.4", "degF") })
			s.again(j, 55*time.Minute, "Turned at once, read again")
			s.note("A bed was too warm, and the sign-off says nothing of what was done; read again within the hour", j.at, bad.entry.ID,
				Expected{Rule: "limit-no-action", About: about(bad)}, Expected{Rule: "put-right", About: j.window()})
		}},
		{task: "bed-temperature", from: d(35), when: evening, do: func(j *job) {
			wrong := s.sign(j, func(f *records.Signoff) { set(f, "bottom", "552", "degF") })
			s.correct(wrong, 20*time.Minute, "The point was left out", "bottom", "55.2", "degF")
			s.note("A value typed without its point, corrected", j.at, wrong.entry.ID)
		}},
		{task: "turn-bed", from: d(47), when: evening, do: func(j *job) {
			missed := Expected{Rule: "missed", About: j.window(), Closed: true}
			s.add(s.at(s.day(j.at)+1, 9, 30), lead, records.Verified, &records.Answer{Finding: missed.ID(), Closes: true, Cause: "One of two on the late shift went home ill; the other had the kiln.",
				Action: "Bed turned first thing in the morning, no mats found.", Lots: "Rootlets a little long; lot kept, noted on its sheet.", Prevention: "The lead is called whenever a shift is short."}).prompt()
			s.note("An evening turn was missed", j.due, records.EntryID{}, missed)
		}},
		{task: "floor-scrub", from: d(60), do: func(j *job) {
			bad := s.sign(j, func(f *records.Signoff) {
				set(f, "residue", "0.34", "mg/L")
				f.Outcome, f.Action = records.Failed, "Rinsed twice more with potable water and aired; measured again."
			})
			s.again(j, 50*time.Minute, "")
			s.note("Ozone was left on a floor after the scrub; rinsed and put right", j.at, bad.entry.ID, Expected{Rule: "put-right", About: j.window()},
				Expected{Rule: "residue-over", About: about(bad) + "/residue"})
		}},
		{task: "turn-bed", from: d(75), when: evening, do: func(j *job) {
			j.at = j.due.Add(67 * time.Minute)
			late := s.sign(j, nil)
			s.note("An evening turn was done an hour late", j.at, late.entry.ID, Expected{Rule: "late", About: j.window()})
		}},
		{task: "magnet-check", from: d(90), do: func(j *job) {
			s.sign(j, nil)
			j.at = j.at.Add(95 * time.Second)
			twice := s.sign(j, nil)
			back := s.add(j.at.Add(6*time.Minute), j.by, records.Performed, &records.Correct{Target: twice.entry.ID, Reason: "Signed twice", Withdraw: true})
			back.entry.Device = twice.entry.Device
			s.note("A sign-off sent twice, one withdrawn", j.at, twice.entry.ID)
		}},
		{task: "bed-temperature", from: d(105), when: evening, do: func(j *job) {
			late := s.sign(j, func(f *records.Signoff) { f.Note = "From a slip of paper; tablet was empty." })
			late.recorded = nextRound(j.at.Add(17 * time.Hour))
			s.note("A bed temperature was written down the day after", j.at, late.entry.ID, Expected{Rule: "late-entry", About: about(late)})
		}},
		{task: "silo-temperature", from: d(120), do: func(j *job) {
			wrong := s.sign(j, func(f *records.Signoff) { set(f, "warmest", "18", "degC") })
			s.note("A silo was read in degrees Celsius, which the plan can not judge", j.at, wrong.entry.ID,
				Expected{Rule: "unit-differs", About: about(wrong)}, Expected{Rule: "failed", About: j.window()})
		}},
		{task: "dispatch-check", from: d(135), do: func(j *job) {
			short := s.sign(j, func(f *records.Signoff) { f.Answers = f.Answers[:1] })
			s.note("A truck was let go without a word on its papers", j.at, short.entry.ID, Expected{Rule: "value-missing", About: about(short)},
				Expected{Rule: "needed-failed", About: about(short)})
		}},
		{task: "wet-wash", from: d(140), when: func(j *job) bool { return j.station == "cleaner" }, do: func(j *job) {
			j.agents = []records.AgentUse{{Agent: "quat"}}
			strong := s.sign(j, func(f *records.Signoff) {
				f.Outcome, f.Action = records.Failed, "Rinsed once more by hand; no test strip was left to see whether it helped."
				for i := range f.Answers {
					if f.Answers[i].Ask == "rinse" {
						f.Answers[i].Yes = new(bool)
					}
				}
			})
			s.note("The cleaner was washed with quaternary ammonium, the rinse showed residue, and organic malt came next", j.at, strong.entry.ID,
				Expected{Rule: "needed-failed", About: about(strong)}, Expected{Rule: "residue-over", About: about(strong) + "/rinse"},
				Expected{Rule: "agent-not-allowed", About: about(strong) + "/quat"})
		}},
		{task: "walk-round", from: d(150), do: func(j *job) {
			j.by = s.onShift(j.at)[0]
			crew := s.sign(j, nil)
			s.note("The lead's walk round was done by the crew", j.at, crew.entry.ID, Expected{Rule: "signer-role", About: about(crew)})
		}},
		{task: "silo-clean", from: d(165), do: func(j *job) {
			alone := s.sign(j, func(f *records.Signoff) { f.Second = "" })
			s.note("A silo was cleaned with no second person named", j.at, alone.entry.ID, Expected{Rule: "second-missing", About: about(alone)})
		}},
		{task: "sieve-test", from: d(200), do: func(j *job) {
			wrong := s.sign(j, func(f *records.Signoff) { set(f, "coarse", "212", "%") })
			first := s.correct(wrong, 25*time.Minute, "The point was left out", "coarse", "2.12", "%")
			s.correct(first, 50*time.Minute, "The point was put in the wrong place", "coarse", "21.2", "%")
			s.note("A value typed wrongly, corrected, and the correction corrected", j.at, wrong.entry.ID)
		}},
		{task: "scale-check", from: d(225), do: func(j *job) {
			skipped = s.day(j.at)
			s.note("The scale was not checked on a bagging day", j.due, records.EntryID{}, Expected{Rule: "missed", About: j.window()})
		}},
		{task: "bag-check", from: d(225), when: func(j *job) bool { return s.day(j.at) == skipped }, do: func(j *job) {
			bag := s.sign(j, nil)
			s.note("and bags were weighed on it", j.at, bag.entry.ID, Expected{Rule: "calibration-lapsed", About: about(bag) + "/floor-scale"})
		}},
		{task: "magnet-check", from: d(290), do: func(j *job) {
			e := s.add(j.at, j.by, records.Approved, &records.Excuse{Task: j.task, Station: j.station, From: j.opens, To: j.due, Reason: "Nothing ran through today."})
			s.note("Somebody of the crew excused their own work", j.at, e.entry.ID, Expected{Rule: "lead-only", About: about(e)}, Expected{Rule: "missed", About: j.window()})
		}},
		{task: "turn-bed", from: s.dates.joins + 2, when: morning, do: func(j *job) {
			j.by = newcomer
			green := s.sign(j, nil)
			s.note("Somebody new turned a bed before being trained", j.at, green.entry.ID, Expected{Rule: "signer-untrained", About: about(green)})
		}},
		{task: "turn-bed", from: s.dates.lastDay + 3, when: morning, do: func(j *job) {
			j.by = leaver
			gone := s.sign(j, nil)
			s.note("A turn was signed under the name of somebody who had left", j.at, gone.entry.ID, Expected{Rule: "signer-away", About: about(gone)})
		}},
		{task: "floor-scrub", from: d(395), do: func(j *job) {
			j.agents = []records.AgentUse{{Agent: "peracetic-acid", Lot: "PAA-19"}}
			other := s.sign(j, nil)
			s.note("A floor was scrubbed with an agent the plan does not list for floors", j.at, other.entry.ID, Expected{Rule: "agent-unlisted", About: about(other) + "/peracetic-acid"})
		}},
		{task: "turn-bed", from: d(430), when: morning, do: func(j *job) {
			s.sign(j, nil)
			j.at, j.opens = s.at(s.day(j.at), 14, 5), 0
			extra := s.sign(j, func(f *records.Signoff) { f.Note = "Warm on top, turned once more." })
			s.note("A bed was turned once more than asked for", j.at, extra.entry.ID, Expected{Rule: "unplanned", About: about(extra)})
		}},
	}
}

// hour is the hour on the wall.
func (s *sim) hour(at records.Instant) int {
	return at.Time().In(s.versions[0].plan.Location()).Hour()
}

// again does a job once more, rightly.
func (s *sim) again(j *job, after time.Duration, note string) {
	j.at, j.note = j.at.Add(after), note
	s.sign(j, nil)
}

// correct replaces what a sign-off, or a correction of it, says to one question.
func (s *sim) correct(d *draft, after time.Duration, reason string, ask records.AskCode, value, unit string) *draft {
	said, ok := d.entry.Fact.(*records.Signoff)
	if !ok {
		said = d.entry.Fact.(*records.Correct).With.Fact.(*records.Signoff)
	}
	fact := *said
	fact.Answers = append([]records.Response(nil), said.Answers...)
	set(&fact, ask, value, unit)
	return s.add(d.entry.Happened.Add(after), d.entry.By, records.Performed, &records.Correct{Target: d.entry.ID, Reason: reason,
		With: &records.Replacement{Kind: records.KindSignoff, Fact: &fact}})
}
