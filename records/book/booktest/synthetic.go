package booktest

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// Synthetic is a journal of n entries over five years, for tests that want long spans of few entries (what is measured is
// measured on cmd/bigplant): a plan of 60 tasks at three stations each, done
// three times a day, signed off in time but for one window in two hundred, with a number answered each time and a
// review twice a week. It is the same for the same n.
func Synthetic(n int) []records.Entry {
	const stations, days = 3, 5 * 365
	tasks := max(1, n/(days*stations*3))
	start, err := records.ParseInstant("2021-01-01T05:00:00Z") // midnight in New York
	if err != nil {
		panic(err)
	}
	perDay := n / days
	text := syntheticPlan(tasks, stations)
	sum := sha256.Sum256([]byte(text))
	entries := make([]records.Entry, 0, n)
	add := func(happened records.Instant, by records.PersonCode, m records.Meaning, f records.Fact) {
		e := records.Entry{Happened: happened, Recorded: happened.Add(90 * time.Second), By: by, Device: "tablet-1", Meaning: m, Kind: f.Kind(), Fact: f}
		i := len(entries)
		e.ID = records.EntryID{byte(happened >> 40), byte(happened >> 32), byte(happened >> 24), byte(happened >> 16), byte(happened >> 8), byte(happened),
			0x70, 0, 0x80, 0, 0, 0, byte(i >> 24), byte(i >> 16), byte(i >> 8), byte(i)}
		entries = append(entries, e)
	}
	add(start, "ana", records.Approved, &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
	reviewed := records.Position(0)
	for day := 0; len(entries) < n; day++ {
		midnight := start + records.Instant(day)*86_400_000
		for k := 0; k < perDay && len(entries) < n; k++ {
			turn := k % (tasks * stations * 3)
			if (day*7+k)%200 == 0 {
				turn = (turn + 1) % (tasks * stations * 3) // nobody came; the next one is done twice
			}
			slot, at := turn/(tasks*stations), turn%(tasks*stations)
			happened := midnight.Add(time.Duration(6+5*slot)*time.Hour + time.Duration(k)*time.Second)
			v := records.NewDecimal(int64(50+(day+k)%40), 1)
			add(happened, records.PersonCode([]string{"ben", "cia", "dov"}[k%3]), records.Performed, &records.Signoff{
				Task: records.TaskCode(fmt.Sprintf("task-%d", at/stations)), Station: records.StationCode(fmt.Sprintf("station-%d", at%stations)), Outcome: records.Passed,
				Answers: []records.Response{{Ask: "reading", Value: &records.Quantity{Value: v, Unit: "degF"}}, {Ask: "clean", Yes: &yes}}})
		}
		if day%3 == 2 && len(entries) < n {
			last := records.Position(len(entries) - 1)
			add(midnight.Add(23*time.Hour), "ana", records.Verified, &records.Review{From: reviewed, To: last})
			reviewed = last + 1
		}
	}
	return entries
}

var yes = true

func syntheticPlan(tasks, stations int) string {
	var b strings.Builder
	since, err := calendar.ParseDate("2021-01-01")
	if err != nil {
		panic(err)
	}
	fmt.Fprintf(&b, `grainward: 1
plant: {name: Synthetic Malt, address: 1 Test Lane, zone: America/New_York, units: lb, languages: [en], since: %s}
profile:
  {allergens: [US], reviewWorkingDays: 7, lateEntry: 1h, keepYears: {food: 2, organic: 5}, clauses: [{cite: 21 CFR 117.35(a), title: Clean and in repair}]}
people:
  - {code: ana, name: Ana Test, initials: AT, role: lead}
  - {code: ben, name: Ben Test, initials: BT, role: crew}
  - {code: cia, name: Cia Test, initials: CT, role: crew}
  - {code: dov, name: Dov Test, initials: DT, role: crew}
stations:
`, since)
	var all []string
	for s := range stations {
		fmt.Fprintf(&b, "  - {code: station-%d, title: Station %d, kind: germination floor, holds: separate}\n", s, s)
		all = append(all, fmt.Sprintf("station-%d", s))
	}
	b.WriteString("tasks:\n")
	families := []string{"sanitation", "footwear", "floor", "turning", "monitoring", "water"}
	for t := range tasks {
		fmt.Fprintf(&b, `  - code: task-%d
    title: Task %d
    family: %s
    stations: [%s]
    who: crew
    when:
      - {rule: FREQ=DAILY, starts: %s, opens: "05:30", due: "09:00", lapses: "10:30"}
      - {rule: FREQ=DAILY, starts: %s, opens: "10:45", due: "14:00", lapses: "15:30"}
      - {rule: FREQ=DAILY, starts: %s, opens: "15:45", due: "20:00", lapses: "23:00"}
    asks:
      - {code: reading, title: Reading, type: number, unit: degF, limits: {min: 4, max: 9}}
      - {code: clean, title: Clean, type: yesno, right: "yes"}
    clauses: [21 CFR 117.35(a)]
`, t, t, families[t%len(families)], strings.Join(all, ", "), since, since, since)
	}
	return b.String()
}
