package demoplant

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
)

// span is how far back the records go: about eighteen months.
const span = 560

// round is how often tablets come within reach of the office and send what was signed on them: on the hour.
const round = time.Hour

// Plant is the invented plant with all its records.
type Plant struct {
	since    calendar.Date
	drafts   []draft
	mistakes []Mistake
}

// Mistake is one thing that went wrong, or was written down wrongly, on purpose.
type Mistake struct {
	What  string
	When  records.Instant
	Entry records.EntryID // the entry with the mistake in it; zero when it is that there is none
	Shows []Expected      // what the audit is expected to say of it; nothing when the crew corrected it themselves
}

// Expected is the address of one finding.
type Expected struct {
	Rule   string
	About  string // the rest of the finding's stable id: a duty and its window, an entry, a document, a day
	Closed bool   // the lead has answered it for good
}

// ID is the finding's stable id.
func (e Expected) ID() string { return e.Rule + ":" + e.About }

// draft is an entry with the moment at which the journal is to take it in.
type draft struct {
	entry    records.Entry
	recorded records.Instant
	blobs    [][]byte // to be put beside the journal before it
}

// prompt has the journal take the entry in at once, as what is written at the office's own desk is.
func (d *draft) prompt() *draft {
	d.recorded = d.entry.Happened
	return d
}

// New simulates the plant from about eighteen months before a moment until that moment. It takes a second or so.
func New(seed uint64, until records.Instant) (*Plant, error) {
	s := &sim{seed: seed, until: until}
	if err := s.run(); err != nil {
		return nil, err
	}
	return &Plant{since: s.since, drafts: s.written(), mistakes: s.mistakes}, nil
}

// Since is the plant's first day.
func (p *Plant) Since() calendar.Date { return p.since }

// Len is the number of entries.
func (p *Plant) Len() int { return len(p.drafts) }

// Mistakes are in the order in which they were made.
func (p *Plant) Mistakes() []Mistake { return slices.Clone(p.mistakes) }

// Admit takes in entries at a moment of the simulated plant: the clock that stamps `recorded` must show now. The blobs
// are put beside the journal first.
type Admit func(now records.Instant, drafts []records.Entry, blobs [][]byte) error

// Build hands over every entry, in the order of recording, to a journal that is still empty. Reviews name positions,
// so nothing else may be written meanwhile.
func (p *Plant) Build(ctx context.Context, admit Admit) error {
	for rest := p.drafts; len(rest) > 0; {
		if err := ctx.Err(); err != nil {
			return err
		}
		now, n := rest[0].recorded, 0
		var entries []records.Entry
		var blobs [][]byte
		for n < len(rest) && rest[n].recorded == now {
			entries, blobs = append(entries, rest[n].entry), append(blobs, rest[n].blobs...)
			n++
		}
		if err := admit(now, entries, blobs); err != nil {
			return fmt.Errorf("writing the demo plant's records of %s: %w", now, err)
		}
		rest = rest[n:]
	}
	return nil
}

// Build simulates a plant and hands over its entries; see New and Plant.Build.
func Build(ctx context.Context, seed uint64, until records.Instant, admit Admit) (*Plant, error) {
	p, err := New(seed, until)
	if err != nil {
		return nil, err
	}
	return p, p.Build(ctx, admit)
}

// sim is the plant while it is being simulated.
type sim struct {
	seed     uint64
	since    calendar.Date
	until    records.Instant
	versions []version
	drafts   []*draft
	jobs     []job
	grain    []batch
	away     []records.Excuse // stretches the lead excuses
	slips    []*slip
	mistakes []Mistake
	dates    dates
	desk     desk
	goods    *goods
}

// dates are the days the story turns on.
type dates struct{ tightened, joins, trained, lastDay calendar.Date }

func (s *sim) run() error {
	zone, err := calendar.LoadZone("America/New_York")
	if err != nil {
		return err
	}
	last := calendar.DateOf(s.until.Time(), zone)
	// In the second half of a month: the first of the monthly and quarterly checks are then still to come, and the checks of
	// the first day stand in for them.
	s.since = onOrAfter(last.AddDays(-span), time.Monday)
	for _, _, d := s.since.Civil(); d < 15; _, _, d = s.since.Civil() {
		s.since += 7
	}
	s.dates = dates{tightened: s.monday(182), joins: s.monday(329), trained: s.monday(329) + 8, lastDay: s.monday(357) + 3}
	if err := s.adoptAll(last); err != nil {
		return err
	}
	s.slips = slips(s)
	s.office()
	s.papers()
	s.malt()
	s.goods = s.newGoods()
	s.duties()
	s.goods.run()
	slices.SortStableFunc(s.jobs, func(a, b job) int { return cmp.Compare(a.at, b.at) })
	for i := range s.jobs {
		if s.jobs[i].at <= s.until {
			s.perform(&s.jobs[i])
		}
	}
	s.reviewAll()
	slices.SortStableFunc(s.mistakes, func(a, b Mistake) int { return cmp.Compare(a.When, b.When) })
	return nil
}

// adoptAll adopts the plan of the first day and the three that followed it.
func (s *sim) adoptAll(last calendar.Date) error {
	on := func(d calendar.Date, h, m int) func(*plan.Plan) records.Instant {
		return func(p *plan.Plan) records.Instant { return p.At(d, plan.DayTime{Clock: clock(h, m)}) }
	}
	text := amend(baseText, moved(s.since, last)...)
	// After the night shift has ended: it is not to be asked for anything under a plan it did not have.
	if err := s.adopt(text, "First plan", on(s.since, 5, 5)); err != nil {
		return err
	}
	text = amend(text, tightened...)
	if err := s.adopt(text, "A midday reading of the beds; traps twice a week; papers of the ozone generator on file", on(s.dates.tightened, 14, 10)); err != nil {
		return err
	}
	text = joined(text, s.dates.joins)
	if err := s.adopt(text, "Anselm Okoye joins the crew", on(s.dates.joins, 8, 20)); err != nil {
		return err
	}
	text = amend(text, left(s.dates.lastDay))
	return s.adopt(text, "Callum Burdock leaves", on(s.dates.lastDay-2, 15, 40))
}

// monday is the Monday of the week some days after the first.
func (s *sim) monday(days int) calendar.Date { return s.since + calendar.Date(days/7*7) }

// at is an instant on the plant's wall clock.
func (s *sim) at(d calendar.Date, h, m int) records.Instant {
	return s.versions[0].plan.At(d, plan.DayTime{Clock: clock(h, m)})
}

func clock(h, m int) calendar.Clock { return calendar.Clock(h*3600 + m*60) }

// day is the plant's civil date at an instant.
func (s *sim) day(at records.Instant) calendar.Date { return s.versions[0].plan.Day(at) }

func (s *sim) works(d calendar.Date) bool { return s.versions[0].plan.WorkingDays().Works(d) }

// working is the first working day on or after a date.
func (s *sim) working(d calendar.Date) calendar.Date {
	for !s.works(d) {
		d++
	}
	return d
}

// written is the drafts as reviewAll left them, in the order in which the journal takes them in.
func (s *sim) written() []draft {
	out := make([]draft, len(s.drafts))
	for i, d := range s.drafts {
		out[i] = *d
	}
	return out
}
