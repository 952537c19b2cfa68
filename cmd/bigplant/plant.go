package bigplant

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"math/rand/v2"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

// Plant makes the journal of one seed.
type Plant struct {
	seed  uint64
	text  string
	plan  *plan.Plan
	since calendar.Date

	waiting []*draft // happened, and not taken in yet
	made    uint32   // drafts so far; keeps ids apart
	last    []*draft // sign-offs of the day that may be corrected
}

// draft is an entry with the moment at which the journal is to take it in.
type draft struct {
	records.Entry
	at  records.Instant
	no  uint32
	rev bool // a review of all that came before it
}

// New is the plant of a seed.
func New(seed uint64) (*Plant, error) {
	text := written()
	p, err := plan.Parse([]byte(text))
	if err != nil {
		return nil, err
	}
	return &Plant{seed: seed, text: text, plan: p, since: p.Plant.Since}, nil
}

// Each gives the first n entries in the order of the journal, as the journal would keep them. It may be called once.
func (p *Plant) Each(n int, do func(records.Entry) error) error {
	given, reviewed := 0, 0
	p.open()
	for day := p.since; given < n; day++ {
		t := &today{Plant: p, day: day, r: rand.New(rand.NewPCG(p.seed, uint64(day))), base: p.plan.At(day, plan.DayTime{Clock: 4 * 3600}) - 4*3600*1000}
		t.rounds()
		t.malt()
		t.sales()
		t.desk()
		midnight := p.plan.At(day+1, plan.DayTime{})
		slices.SortFunc(p.waiting, func(a, b *draft) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.no, b.no)) })
		for len(p.waiting) > 0 && p.waiting[0].at < midnight && given < n {
			d := p.waiting[0]
			p.waiting = p.waiting[1:]
			if d.rev {
				if given == reviewed {
					continue
				}
				d.Fact = &records.Review{From: records.Position(reviewed), To: records.Position(given - 1)}
				reviewed = given
			}
			d.Recorded = d.at
			if err := do(d.Entry); err != nil {
				return err
			}
			given++
		}
	}
	return nil
}

// open puts the plan in force.
func (p *Plant) open() {
	sum := sha256.Sum256([]byte(p.text))
	at := p.plan.At(p.since, plan.DayTime{Clock: 4*3600 + 30*60})
	r := rand.New(rand.NewPCG(p.seed, 0))
	p.write(r, at, at, leadCode(0), records.Approved, &records.Adoption{Text: p.text, SHA256: hex.EncodeToString(sum[:])})
}

// write adds a draft that happened at one moment and is taken in at another.
func (p *Plant) write(r *rand.Rand, happened, taken records.Instant, by records.PersonCode, m records.Meaning, f records.Fact) *draft {
	p.made++
	d := &draft{at: taken, no: p.made, Entry: records.Entry{ID: newID(r, happened), Happened: happened, By: by, Meaning: m, Kind: f.Kind(), Fact: f}}
	d.Device = records.DeviceCode(deviceCodes[int(p.made)%len(deviceCodes)])
	p.waiting = append(p.waiting, d)
	return d
}

var deviceCodes = []string{"tablet-1", "tablet-2", "tablet-3", "tablet-4", "tablet-5", "tablet-6", "tablet-7", "tablet-8"}

// newID is a UUIDv7 (RFC 9562 section 5.7) whose random part comes from the seed.
func newID(r *rand.Rand, at records.Instant) (id records.EntryID) {
	for i, ms := 5, uint64(at); i >= 0; i, ms = i-1, ms>>8 {
		id[i] = byte(ms)
	}
	a, b := r.Uint64(), r.Uint32()
	for i := range 8 {
		id[6+i] = byte(a >> (8 * i))
	}
	id[14], id[15] = byte(b), byte(b>>8)
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// today is a day while it is made.
type today struct {
	*Plant
	day  calendar.Date
	r    *rand.Rand
	base records.Instant // midnight, as four in the morning has it: nothing happens earlier
}

// at is so many minutes after midnight, with seconds of its own.
func (t *today) at(minutes int) records.Instant {
	return t.base.Add(time.Duration(minutes)*time.Minute + time.Duration(t.r.IntN(60_000))*time.Millisecond)
}

func (t *today) someone() records.PersonCode { return crewCode(t.r.IntN(crew)) }

// sent is when a tablet sends what was signed on it: minutes later, or a day later when it lay in the wrong place.
func (t *today) sent(happened records.Instant) records.Instant {
	if t.one(700) {
		return happened.Add(time.Duration(13+t.r.IntN(30)) * time.Hour)
	}
	return happened.Add(time.Duration(5+t.r.IntN(600)) * time.Second)
}

// one says yes once in n.
func (t *today) one(n int) bool { return t.r.IntN(n) == 0 }

// signed adds an entry of the floor.
func (t *today) signed(happened records.Instant, by records.PersonCode, m records.Meaning, f records.Fact) *draft {
	return t.write(t.r, happened, t.sent(happened), by, m, f)
}

// PlanText is the plan's text, Plan the plan.
func (p *Plant) PlanText() string { return p.text }

// Plan is the plan in force from the first entry on.
func (p *Plant) Plan() *plan.Plan { return p.plan }

// Crew are those who sign work off.
func Crew() (all []records.PersonCode) {
	for i := range crew {
		all = append(all, crewCode(i))
	}
	return all
}

// Lead is one who may do everything.
func Lead() records.PersonCode { return leadCode(0) }
