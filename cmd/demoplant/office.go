package demoplant

import (
	"cmp"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// desk is what the lead keeps in mind about reviewing.
type desk struct {
	forgotten calendar.Date // the day whose records nobody looked at
	postponed calendar.Date // the day whose records were looked at too late
	caughtUp  calendar.Date // and when
	holiday   calendar.Date // Monday of the week in which the assistant reviews instead
}

// office is what is written at the lead's desk: excuses, the newcomer's training, what went wrong and how it was
// answered, and the hours of review, which reviewAll fills in once it is known what there was to review.
func (s *sim) office() {
	s.desk = desk{forgotten: s.working(s.monday(371) + 2), postponed: s.working(s.monday(315) + 1), holiday: s.monday(238)}
	s.desk.caughtUp = s.monday(315) + 21
	s.closedWeek()
	s.powerCut()
	s.droppings()
	s.alarm()
	s.jobs = append(s.jobs, job{task: "training-newcomer", station: "office", at: s.at(s.dates.trained, 10, 30), by: assistant, trainees: []records.PersonCode{newcomer}})
	for d := s.since + 1; s.at(d, 15, 0) <= s.until; d++ {
		if !deskDay(d) || !s.works(d) {
			continue
		}
		by, at := lead, between(s.rand("review", d), s.at(d, 15, 5), s.at(d, 16, 30), 0, 1)
		if s.desk.holiday <= d && d < s.desk.holiday+7 {
			by = assistant
		}
		s.add(at, by, records.Verified, &records.Review{}).prompt()
	}
}

// closedWeek is the week in which the dry side stands still; the beds are tended all the same.
func (s *sim) closedWeek() {
	monday := s.monday(210)
	for i, station := range []records.StationCode{"conveyor", "cleaner", "bagger", "mill"} {
		e := records.Excuse{Station: station, From: s.at(monday, 0, 0), To: s.at(monday+7, 0, 0) - 1, Reason: "Dry side closed for a week; nothing is cleaned, bagged or milled."}
		s.away = append(s.away, e)
		s.add(s.at(monday-4, 14, 20+i), lead, records.Approved, &e).prompt()
	}
}

// powerCut is an evening without readings of the kiln.
func (s *sim) powerCut() {
	b := s.batch(145, s.since+290) // the 146th batch goes on the kiln a week after it went into the steep
	d := s.day(b.kilnLoad)
	e := records.Excuse{Task: "kiln-watch", Station: "kiln", From: s.at(d, 16, 50), To: s.at(d, 23, 5), Reason: "Power cut from 16:55 to 23:00: fan, burner and probes without current."}
	s.away = append(s.away, e)
	dev := s.add(s.at(d, 17, 5), s.onShift(s.at(d, 17, 5))[0], records.Performed, &records.Deviation{What: "Power cut. Kiln fan and burner stand still, probes show nothing.",
		Task: "kiln-watch", Station: "kiln", Lots: []records.LotCode{b.lot}, Action: "Kiln doors opened for draught, called the lead."})
	s.add(s.at(d+1, 8, 10), lead, records.Approved, &e).prompt()
	s.add(s.at(d+1, 14, 30), lead, records.Verified, &records.Answer{Deviation: dev.entry.ID, Closes: true, Cause: "Transformer of the village failed.",
		Action: "Kiln run on from 23:00 by hand until the schedule was met again.", Lots: "Moisture off the kiln within the plan; lot kept.",
		Prevention: "Hand-cranked draught and a battery thermometer now lie beside the kiln."}).prompt()
	s.mistakes = append(s.mistakes, Mistake{What: "A power cut left the kiln unwatched for an evening; reported, excused, answered and closed", When: dev.entry.Happened, Entry: dev.entry.ID,
		Shows: []Expected{{Rule: "deviation", About: dev.entry.ID.String(), Closed: true}}})
}

func (s *sim) droppings() {
	at := s.at(s.working(s.monday(455)+1), 10, 20)
	dev := s.add(at, s.onShift(at)[0], records.Performed, &records.Deviation{What: "Rodent droppings behind the pallets by the loading door.", Task: "trap-check", Station: "warehouse",
		Action: "Two pallets moved out and looked at, floor vacuumed, two more traps set."})
	s.add(at.Add(29*time.Hour), lead, records.Verified, &records.Answer{Deviation: dev.entry.ID, Closes: true, Cause: "Brush strip of the loading door worn through.",
		Action: "Bags of both pallets opened and looked at: whole and clean. Brush strip replaced.", Lots: "No bag was gnawed; nothing held back.",
		Prevention: "Door brush added to the weekly walk round."}).prompt()
	s.mistakes = append(s.mistakes, Mistake{What: "Droppings in the warehouse; reported, answered and closed", When: at, Entry: dev.entry.ID,
		Shows: []Expected{{Rule: "deviation", About: dev.entry.ID.String(), Closed: true}}})
}

// alarm is the trouble of this week, still open.
func (s *sim) alarm() {
	d := s.day(s.until) - 6
	at := s.at(d, 15, 40)
	dev := s.add(at, s.onShift(at)[0], records.Performed, &records.Deviation{What: "Ozone generator stopped with its alarm twice today.", Station: "floor-1",
		Action: "Restarted; strength of the scrub water read before each use."})
	s.mistakes = append(s.mistakes, Mistake{What: "The ozone generator keeps stopping; reported, not answered yet", When: at, Entry: dev.entry.ID,
		Shows: []Expected{{Rule: "deviation", About: dev.entry.ID.String()}}})
}

// reviewAll puts the drafts into the order in which the journal takes them in, drops what it has not taken in by the
// last moment, and gives each review the positions written since the one before it.
func (s *sim) reviewAll() {
	s.drafts = slices.DeleteFunc(s.drafts, func(d *draft) bool { return d.recorded > s.until })
	slices.SortStableFunc(s.drafts, func(a, b *draft) int {
		return cmp.Or(cmp.Compare(a.recorded, b.recorded), cmp.Compare(a.entry.Happened, b.entry.Happened))
	})
	var out []*draft
	var next records.Position
	var later [][2]records.Position // the postponed day's positions
	for _, d := range s.drafts {
		if d.entry.Kind != records.KindReview {
			out = append(out, d)
			continue
		}
		runs, waiting := s.toReview(out, next)
		later = append(later, waiting...)
		if s.day(d.entry.Happened) >= s.desk.caughtUp && len(later) > 0 {
			runs, later = append(runs, later...), nil
			s.mistakes = append(s.mistakes, Mistake{What: "A day's records were reviewed long after the time allowed", When: d.entry.Happened, Entry: d.entry.ID,
				Shows: []Expected{{Rule: "review-late", About: s.desk.postponed.String()}}})
		}
		next = records.Position(len(out))
		for i, run := range runs {
			r := d
			if i > 0 {
				r = s.add(d.entry.Happened.Add(time.Duration(i)*time.Minute/4), d.entry.By, records.Verified, &records.Review{}).prompt()
				r.recorded = d.recorded
			}
			*r.entry.Fact.(*records.Review) = records.Review{From: run[0], To: run[1]}
			if ownWork(out, run, r.entry.By) {
				s.mistakes = append(s.mistakes, Mistake{What: "The lead was on holiday and the assistant reviewed their own work among the rest", When: r.entry.Happened, Entry: r.entry.ID,
					Shows: []Expected{{Rule: "review-own", About: r.entry.ID.String()}}})
			}
			out = append(out, r)
		}
	}
	s.mistakes = append(s.mistakes, Mistake{What: "A day's records were never reviewed", When: s.at(s.desk.forgotten, 12, 0),
		Shows: []Expected{{Rule: "review-missed", About: s.desk.forgotten.String()}}})
	s.drafts = out
}

// toReview is the runs of positions from next on, without the forgotten day's; the postponed day's come apart.
func (s *sim) toReview(out []*draft, next records.Position) (runs, waiting [][2]records.Position) {
	for pos := next; pos < records.Position(len(out)); pos++ {
		to := &runs
		switch s.day(out[pos].recorded) {
		case s.desk.forgotten:
			continue
		case s.desk.postponed:
			to = &waiting
		}
		if n := len(*to); n > 0 && (*to)[n-1][1] == pos-1 {
			(*to)[n-1][1] = pos
			continue
		}
		*to = append(*to, [2]records.Position{pos, pos})
	}
	return runs, waiting
}

func ownWork(out []*draft, run [2]records.Position, who records.PersonCode) bool {
	return slices.ContainsFunc(out[run[0]:run[1]+1], func(d *draft) bool { return d.entry.Kind == records.KindSignoff && d.entry.By == who })
}
