package bigplant

import (
	"fmt"

	"math/rand/v2"
	"time"

	"grainward/records"
)

// Further is one more entry after the journal's last, of a sort whose cost is to be known.
type Further struct {
	Sort string
	Make func(turn int) records.Entry
}

// More are the sorts: the usual ones of now, and those that reach into the past. now is the moment at which they are taken in, long a moment
// years before it; target is a sign-off of about then, and finding the id of something that was found.
func (p *Plant) More(now, long records.Instant, target records.Entry, finding string) []Further {
	made := uint64(0)
	entry := func(turn int, happened records.Instant, by records.PersonCode, m records.Meaning, f records.Fact) records.Entry {
		made++
		return records.Entry{ID: newID(rand.New(rand.NewPCG(p.seed, made<<48|uint64(happened))), happened), Happened: happened, Recorded: now.Add(time.Duration(turn) * time.Second), By: by, Device: "tablet-1", Meaning: m, Kind: f.Kind(), Fact: f}
	}
	sign := func(turn int, code records.TaskCode, at records.Instant) records.Entry {
		k := taskOf[code]
		t := &today{Plant: p, r: rand.New(rand.NewPCG(p.seed, uint64(turn)))}
		return entry(turn, at, crewCode(turn%crew), records.Performed, &records.Signoff{Task: code, Station: k.stations[turn%len(k.stations)], Outcome: records.Passed, Answers: t.answers(k, false)})
	}
	weight := portion{200, 12.2}.weight()
	return []Further{
		{"a sign-off", func(n int) records.Entry { return sign(n, "tidy-round", now) }},
		{"a clean-out", func(n int) records.Entry { return sign(n, "floor-scrub", now) }},
		{"an old sign-off", func(n int) records.Entry { return sign(n, "tidy-round", long.Add(time.Duration(n)*time.Hour)) }},
		{"a receipt", func(n int) records.Entry {
			return entry(n, now, crewCode(n%crew), records.Received, &records.Receipt{Lot: loadLot(n%houses, 9900+n, 1), Item: "barley", Status: records.Organic, Weight: weight, To: station("silo", n%houses),
				Via: []records.StationCode{station("pit", n%houses), station("conveyor", n%houses)}, Source: suppliers[0], TheirLot: "L-9", Packaging: "bulk", ReleasedBy: "Yard"})
		}},
		{"a move", func(n int) records.Entry {
			return entry(n, now, crewCode(n%crew), records.Performed, &records.Move{From: station("silo", n%houses), To: nth("steep", n%houses, 0), Via: []records.StationCode{station("conveyor", n%houses)}, Weight: weight})
		}},
		{"an old move", func(n int) records.Entry {
			return entry(n, long, crewCode(n%crew), records.Performed, &records.Move{From: station("silo", n%houses), To: nth("steep", n%houses, 0), Via: []records.StationCode{station("conveyor", n%houses)}, Weight: weight})
		}},
		{"an answer", func(n int) records.Entry {
			return entry(n, now, leadCode(0), records.Verified, &records.Answer{Finding: finding, Cause: "Looked into.", Action: "Put right.", Lots: "None.", Prevention: "Watched.", Closes: true})
		}},
		{"an old correction", func(n int) records.Entry {
			f := *target.Fact.(*records.Signoff)
			f.Note = "Looked up in the paper log."
			return entry(n, now, target.By, records.Performed, &records.Correct{Target: target.ID, Reason: "Mistyped.", With: &records.Replacement{Kind: records.KindSignoff, Fact: &f}})
		}},
		{"a photo", func(n int) records.Entry {
			code := records.DocumentCode(fmt.Sprintf("photo-%d", n))
			return entry(n, now, crewCode(n%crew), records.Performed, &records.Document{Code: code, Title: "The floor after the scrub", Type: "photo", Subject: records.Subject{Of: "plant"}})
		}},
	}
}

// Signed is a sign-off of now, as a device would send it; no two are alike.
func (p *Plant) Signed(r *rand.Rand, by records.PersonCode, at records.Instant) records.Entry {
	t := &today{Plant: p, r: r}
	k := &tasks[r.IntN(len(tasks)-1)] // the last task takes a second person
	f := &records.Signoff{Task: k.code, Station: k.stations[r.IntN(len(k.stations))], Outcome: records.Passed, Answers: t.answers(k, false)}
	return records.Entry{ID: newID(r, at), Happened: at, By: by, Meaning: records.Performed, Kind: records.KindSignoff, Fact: f}
}
