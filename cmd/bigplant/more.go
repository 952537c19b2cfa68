package bigplant

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"grainward/records"
)

// Further is one more entry after the journal's last, of a sort whose cost is to be known.
type Further struct {
	Sort string
	Make func(turn int) records.Entry
}

// Reached is where a journal has come to, and what further entries can refer to.
type Reached struct {
	Size    records.Position
	Now     records.Instant // when they are taken in
	Long    records.Instant // years before it
	Target  records.Entry   // a sign-off of about then
	Finding string          // the id of something that was found
}

// further makes entries that come after a journal's last.
type further struct {
	*Plant
	Reached
	made uint64
}

// More are the sorts: of every kind of entry one of now, of sign-offs those that other duties depend on too, and those that
// reach into the past.
func (p *Plant) More(at Reached) []Further {
	m := &further{Plant: p, Reached: at}
	return append(m.work(), append(m.goods(), m.desk()...)...)
}

func (m *further) entry(turn int, happened records.Instant, by records.PersonCode, meaning records.Meaning, f records.Fact) records.Entry {
	m.made++
	return records.Entry{ID: newID(rand.New(rand.NewPCG(m.seed, m.made<<48|uint64(happened))), happened), Happened: happened, Recorded: m.Now.Add(time.Duration(turn) * time.Second), By: by, Device: "tablet-1", Meaning: meaning, Kind: f.Kind(), Fact: f}
}

// crew is an entry of now by one of the crew, lead one by a lead.
func (m *further) crew(turn int, f records.Fact) records.Entry {
	return m.entry(turn, m.Now, crewCode(turn%crew), usual(f), f)
}

func (m *further) lead(turn int, f records.Fact) records.Entry {
	return m.entry(turn, m.Now, leadCode(0), usual(f), f)
}

func usual(f records.Fact) records.Meaning {
	row, _ := records.RowOf(f.Kind())
	return row.Meanings[0]
}

// sign is a sign-off that passes, at one of the task's stations.
func (m *further) sign(turn int, code records.TaskCode, happened records.Instant) records.Entry {
	k := taskOf[code]
	t := &today{Plant: m.Plant, r: rand.New(rand.NewPCG(m.seed, uint64(turn)))}
	return m.entry(turn, happened, crewCode(turn%crew), records.Performed, &records.Signoff{Task: code, Station: k.stations[turn%len(k.stations)], Outcome: records.Passed, Answers: t.answers(k, false)})
}

func (m *further) work() []Further {
	signed := func(code records.TaskCode) func(int) records.Entry {
		return func(n int) records.Entry { return m.sign(n, code, m.Now) }
	}
	return []Further{
		{"a sign-off", signed("tidy-round")},
		{"a clean-out", signed("floor-scrub")},
		{"a bed stripped", signed("strip-bed")},
		{"a calibration check", signed("probe-check")},
		{"an old sign-off", func(n int) records.Entry { return m.sign(n, "tidy-round", m.Long.Add(time.Duration(n)*time.Hour)) }},
		{"an old correction", func(n int) records.Entry {
			f := *m.Target.Fact.(*records.Signoff)
			f.Note = "Looked up in the paper log."
			return m.entry(n, m.Now, m.Target.By, records.Performed, &records.Correct{Target: m.Target.ID, Reason: "Mistyped.", With: &records.Replacement{Kind: records.KindSignoff, Fact: &f}})
		}},
	}
}

// load is what is put in and taken out of silos, and few the bags that other entries are of.
var (
	load = portion{200, 12.2}.weight()
	few  = portion{110, 3.8}.weight()
)

func (m *further) goods() []Further {
	// bagged is a batch that stands in the warehouse.
	bagged := func(turn int) *batch {
		return m.batch(turn%houses, max(0, int(m.plan.Day(m.Now)-m.since)-9))
	}
	move := func(turn int, happened records.Instant) records.Entry {
		h := turn % houses
		return m.entry(turn, happened, crewCode(turn%crew), records.Performed, &records.Move{From: station("silo", h), To: nth("steep", h, 0), Via: []records.StationCode{station("conveyor", h)}, Weight: load})
	}
	return []Further{
		{"a receipt", func(n int) records.Entry {
			h := n % houses
			return m.crew(n, &records.Receipt{Lot: loadLot(h, 9900+n, 1), Item: "barley", Status: records.Organic, Weight: load, To: station("silo", h),
				Via: []records.StationCode{station("pit", h), station("conveyor", h)}, Source: suppliers[0], TheirLot: "L-9", Packaging: "bulk", ReleasedBy: "Yard"})
		}},
		{"a move", func(n int) records.Entry { return move(n, m.Now) }},
		{"a late move", func(n int) records.Entry { return move(n, m.Now.Add(-48*time.Hour)) }}, // from a device that was off the network
		{"an old move", func(n int) records.Entry { return move(n, m.Long) }},
		{"a process", func(n int) records.Entry {
			b, net := bagged(n), lb(55)
			return m.crew(n, &records.Process{Process: "bagging", Station: station("bagger", b.house), Started: m.Now.Add(-time.Minute), Inputs: []records.Input{{Lot: b.code("B"), From: "warehouse", Weight: few}},
				Outputs: []records.Output{{Lot: b.code(fmt.Sprintf("B-%d", n+1)), Item: b.item("malt"), Status: records.Organic, To: "warehouse", Weight: few, Bags: 2, BagNet: &net}}})
		}},
		{"a handover", func(n int) records.Entry {
			return m.entry(n, m.Now, crewCode(n%crew), records.Released, &records.Handover{Lot: bagged(n).code("B"), From: "warehouse", To: buyer(n % buyers), Use: records.Sale, Weight: few, Bags: 2, Status: records.Organic, Packaging: "bags on pallets", Checked: yes(),
				Vehicle: records.Vehicle{Carrier: "cartway", Number: "CW 9", Clean: yes(), LastLoad: "bagged flour"}, Papers: []string{"delivery note 9"}})
		}},
		{"a count", func(n int) records.Entry {
			return m.crew(n, &records.Count{Station: station("silo", n%houses), Found: []records.Found{{Weight: load}}})
		}},
		{"a purge", func(n int) records.Entry {
			h := n % houses
			return m.crew(n, &records.Purge{Stations: []records.StationCode{station("conveyor", h)}, From: station("silo", h), Weight: load,
				Became: records.Output{Lot: records.LotCode(fmt.Sprintf("P%d-%d", h+1, n)), Item: "barley", Status: records.Conventional, To: "by-product", Weight: load}})
		}},
		{"a hold", func(n int) records.Entry {
			return m.crew(n, &records.Hold{Lots: []records.LotCode{bagged(n).code("B")}, Why: "Torn bags."})
		}},
		{"a release", func(n int) records.Entry {
			return m.lead(n, &records.Release{Lots: []records.LotCode{bagged(n).code("B")}, Why: "Looked through; they are whole."})
		}},
		{"a result", func(n int) records.Entry {
			return m.crew(n, &records.Result{Lot: bagged(n).code("B"), Method: "bench", Values: []records.Measured{{Name: "Moisture", Value: records.Quantity{Value: fixed(3.9, 1), Unit: "%"}}}})
		}},
		{"a sample", func(n int) records.Entry {
			return m.crew(n, &records.Sample{Lot: bagged(n).code("B"), Act: "kept", Number: 1, Where: "Sample shelf"})
		}},
	}
}

func (m *further) desk() []Further {
	return []Further{
		{"a deviation", func(n int) records.Entry {
			return m.crew(n, &records.Deviation{What: "Boot rack broken; boots stood on the floor.", Station: tasks[0].stations[n%doors], Action: "Boots washed."})
		}},
		{"an answer", func(n int) records.Entry {
			return m.lead(n, &records.Answer{Finding: m.Finding, Cause: "Looked into.", Action: "Put right.", Lots: "None.", Prevention: "Watched.", Closes: true})
		}},
		{"a review", func(n int) records.Entry {
			return m.lead(n, &records.Review{From: m.Size - 400, To: m.Size - records.Position(1+n)})
		}},
		{"an excuse", func(n int) records.Entry {
			from := m.Now.Add(time.Hour)
			return m.lead(n, &records.Excuse{Task: "tidy-round", Station: taskOf["tidy-round"].stations[n%rooms], From: from, To: from.Add(24 * time.Hour), Reason: "The room is being painted."})
		}},
		{"a photo", func(n int) records.Entry {
			code := records.DocumentCode(fmt.Sprintf("photo-%d", n))
			return m.entry(n, m.Now, crewCode(n%crew), records.Performed, &records.Document{Code: code, Title: "The floor after the scrub", Type: "photo", Subject: records.Subject{Of: "plant"}})
		}},
		{"a certificate", func(n int) records.Entry {
			from := m.plan.Day(m.Now)
			to := from.AddMonths(12)
			d := papers()[1]
			d.From, d.To = &from, &to
			return m.lead(n, &d)
		}},
		{"a step of a drill", func(n int) records.Entry {
			return m.lead(n, &records.Drill{Drill: fmt.Sprintf("drill-%d", n), Step: "start", Subject: "lot " + string(loadLot(0, 1, 0)), Why: "Twice a year.", Lead: leadCode(0), Level: "A"})
		}},
		{"a plan", func(n int) records.Entry {
			text := strings.Replace(m.text, "name: Bigplant Malt House", fmt.Sprintf("name: Bigplant Malt House %d", n+2), 1)
			sum := sha256.Sum256([]byte(text))
			return m.lead(n, &records.Adoption{Text: text, SHA256: hex.EncodeToString(sum[:])})
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
