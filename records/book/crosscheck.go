package book

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"grainward/records"
	"grainward/records/plan"
	"grainward/records/state"
)

// admission checks drafts against the journal and against the drafts taken before them in the same batch.
type admission struct {
	book    *Book
	st      *state.State
	now     records.Instant
	entries []records.Entry
	rows    []records.Row
	places  map[records.EntryID]int // into entries
	plans   []state.InForce         // of this batch, by From
}

// newAdmission has room for so many drafts.
func newAdmission(b *Book, drafts int) *admission {
	return &admission{book: b, st: b.st, now: b.now(), entries: make([]records.Entry, 0, drafts), rows: make([]records.Row, 0, drafts), places: make(map[records.EntryID]int, drafts)}
}

// take checks one caller's drafts; all of them are taken or none.
func (a *admission) take(ctx context.Context, drafts []records.Entry) ([]Receipt, error) {
	n, plans := len(a.entries), a.plans
	receipts := make([]Receipt, 0, len(drafts))
	var faults []Fault
	for i, d := range drafts {
		r, err := a.one(ctx, d)
		if err != nil {
			faults = append(faults, Fault{i, err})
			continue
		}
		receipts = append(receipts, r)
	}
	if len(faults) == 0 {
		return receipts, nil
	}
	for _, e := range a.entries[n:] {
		delete(a.places, e.ID)
	}
	a.entries, a.rows, a.plans = a.entries[:n], a.rows[:n], plans
	return nil, &Errors{faults}
}

func (a *admission) one(ctx context.Context, d records.Entry) (Receipt, error) {
	d.Recorded = a.now
	row, err := records.Written(d)
	if err != nil {
		return Receipt{}, err
	}
	if r, known, err := a.again(d); known {
		return r, err
	}
	if d.Happened > a.now.Add(ahead) {
		return Receipt{}, invalid("the "+string(d.Kind)+" would lie in the future", field("happened", d.Happened.String(),
			"not after "+a.now.String()+", the time here; set the device's clock right"))
	}
	adopted, err := a.crossCheck(ctx, d)
	if err != nil {
		return Receipt{}, err
	}
	r := Receipt{Position: a.st.Size() + records.Position(len(a.entries)), Recorded: d.Recorded}
	a.places[d.ID] = len(a.entries)
	a.entries, a.rows = append(a.entries, d), append(a.rows, row)
	if adopted != nil {
		a.plans = append(slices.Clone(a.plans), state.InForce{From: d.Happened, Plan: adopted})
		slices.SortStableFunc(a.plans, func(x, y state.InForce) int { return int(min(1, max(-1, x.From-y.From))) })
	}
	return r, nil
}

// again finds an id that is there already: the same thing sent twice is one entry, another thing under the same id is
// refused.
func (a *admission) again(d records.Entry) (Receipt, bool, error) {
	var there records.Entry
	r := Receipt{Already: true}
	if i, ok := a.places[d.ID]; ok {
		there, r.Position = a.entries[i], a.st.Size()+records.Position(i)
	} else if pos, ok := a.st.Find(d.ID); ok {
		there, r.Position = a.st.First(pos).Entry, pos
	} else {
		return r, false, nil
	}
	r.Recorded = there.Recorded
	if !there.SameAs(d) {
		return r, true, &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the id %s is already used, at position %d, for an entry that says something else", d.ID, r.Position),
			Do: "If the first was wrong, send a correction that names it; a new entry needs a new id."}
	}
	return r, true, nil
}

// planAt is the plan in force at an instant, those adopted in this batch included.
func (a *admission) planAt(at records.Instant) *plan.Plan {
	p := a.st.PlanAt(at)
	var from records.Instant
	for _, in := range a.st.Plans() {
		if in.From <= at {
			from = in.From
		}
	}
	for _, in := range a.plans {
		if in.From <= at && in.From >= from {
			p = in.Plan
		}
	}
	return p
}

// crossCheck says whether what a draft names exists: in the plan in force when it happened, in the journal, among the
// files. It returns the plan when the draft adopts one.
func (a *admission) crossCheck(ctx context.Context, d records.Entry) (*plan.Plan, error) {
	if f, ok := d.Fact.(*records.Adoption); ok {
		return a.adoption(d, f)
	}
	p := a.planAt(d.Happened)
	if p == nil {
		return nil, invalid("no plan was in force when this happened", field("happened", d.Happened.String(),
			"a time after a plan was adopted; adopt one with `grainward plan adopt`"))
	}
	c := &check{a: a, ctx: ctx, plan: p, self: d.ID}
	c.person("by", d.By)
	if d.Paper != nil {
		c.person("paper.whose", d.Paper.Whose)
		if d.Paper.Sheet != "" {
			if err := c.blob("paper.sheet", d.Paper.Sheet); err != nil {
				return nil, err
			}
		}
	}
	if err := c.fact("fact", d.Kind, d.Fact); err != nil {
		return nil, err
	}
	if len(c.faults) > 0 {
		return nil, invalid("the "+string(d.Kind)+" names what is not there", c.faults...)
	}
	return nil, nil
}

func (a *admission) adoption(d records.Entry, f *records.Adoption) (*plan.Plan, error) {
	if sum := sha256.Sum256([]byte(f.Text)); hex.EncodeToString(sum[:]) != f.SHA256 {
		return nil, invalid("the plan's text is not the one its hash names", field("fact.sha256", f.SHA256, hex.EncodeToString(sum[:])))
	}
	p, err := plan.Parse([]byte(f.Text))
	if err != nil {
		return nil, err
	}
	// Whoever adopts a plan must be known to the plan before it, or for the first to itself.
	before := a.planAt(d.Happened)
	if before == nil {
		before = p
	}
	if before.Person(d.By) == nil {
		return nil, invalid("the plan is adopted by somebody it does not know", field("by", string(d.By), "one of "+list(people(before)())))
	}
	return p, nil
}

// check gathers the faults of one draft.
type check struct {
	a      *admission
	ctx    context.Context
	plan   *plan.Plan
	self   records.EntryID // of the entry that says it; of the one first written when a correction does
	faults []records.FieldError
}

// known notes a fault unless the code is in the plan; an empty code was not given.
func (c *check) known(at, code, what string, ok bool, have func() []string) {
	if code == "" || ok {
		return
	}
	c.faults = append(c.faults, field(at, code, fmt.Sprintf("the plan then in force has no such %s; %s", what, nearest(code, have()))))
}

func (c *check) fact(at string, kind records.Kind, f records.Fact) error {
	p := c.plan
	switch f := f.(type) {
	case *records.Signoff:
		return c.signoff(at, f)
	case *records.Deviation:
		c.known(at+".task", string(f.Task), "task", p.Task(f.Task) != nil, tasks(p))
		c.station(at+".station", f.Station)
		for i, id := range f.Entries {
			c.entry(fmt.Sprintf("%s.entries[%d]", at, i), id)
		}
	case *records.Answer:
		if !f.Deviation.IsZero() {
			if e := c.entry(at+".deviation", f.Deviation); e != nil && e.Kind != records.KindDeviation {
				c.faults = append(c.faults, field(at+".deviation", f.Deviation.String(), "a deviation; this is a "+string(e.Kind)))
			}
		}
	case *records.Review:
		if last := c.a.st.Size() + records.Position(len(c.a.entries)) - 1; f.To > last {
			c.faults = append(c.faults, field(at+".to", fmt.Sprint(f.To), fmt.Sprintf("at most %d, the newest entry", last)))
		}
		for i, id := range f.Except {
			c.entry(fmt.Sprintf("%s.except[%d]", at, i), id)
		}
	case *records.Excuse:
		c.known(at+".task", string(f.Task), "task", p.Task(f.Task) != nil, tasks(p))
		c.station(at+".station", f.Station)
	case *records.Document:
		c.subject(at+".subject.code", f.Subject)
		if f.File != nil {
			return c.blob(at+".file.sha256", f.File.SHA256)
		}
	case *records.Correct:
		return c.correct(at, f)
	case *records.Handover:
		c.handover(at, f)
		return c.signature(at+".received", f.Received)
	default:
		if c.goods(at, f) {
			return nil
		}
		return fmt.Errorf("book: no cross-check is written for entries of kind %s", kind)
	}
	return nil
}

func (c *check) signoff(at string, f *records.Signoff) error {
	p := c.plan
	t := p.Task(f.Task)
	if t == nil || !slices.Contains(t.Stations, f.Station) { // else the plan has both
		c.known(at+".task", string(f.Task), "task", t != nil, tasks(p))
		c.station(at+".station", f.Station)
		if t != nil && p.Station(f.Station) != nil {
			c.faults = append(c.faults, field(at+".station", string(f.Station), fmt.Sprintf("one where %s is done: %s", t.Code, list(codes(t.Stations)))))
		}
	}
	if f.Second != "" {
		c.person(at+".second", f.Second)
	}
	for i, who := range f.Trainees {
		c.person(fmt.Sprintf("%s.trainees[%d]", at, i), who)
	}
	for i, use := range f.Agents {
		c.known(fmt.Sprintf("%s.agents[%d].agent", at, i), string(use.Agent), "agent", p.Agent(use.Agent) != nil, agents(p))
	}
	for i, r := range f.Answers {
		if t != nil && t.Ask(r.Ask) == nil {
			c.known(fmt.Sprintf("%s.answers[%d].ask", at, i), string(r.Ask), "question of "+string(t.Code), false, asks(t))
		}
		if r.Photo != "" {
			if err := c.blob(fmt.Sprintf("%s.answers[%d].photo", at, i), r.Photo); err != nil {
				return err
			}
		}
	}
	return nil
}

func (c *check) subject(at string, s records.Subject) {
	p := c.plan
	switch s.Of {
	case "partner":
		c.partner(at, records.PartnerCode(s.Code))
	case "agent":
		c.known(at, s.Code, "agent", p.Agent(records.AgentCode(s.Code)) != nil, agents(p))
	case "station":
		c.station(at, records.StationCode(s.Code))
	case "instrument":
		c.instrument(at, records.InstrumentCode(s.Code))
	case "person":
		c.person(at, records.PersonCode(s.Code))
	case "item":
		c.item(at, records.ItemCode(s.Code))
	}
}

// correct checks the target, and what is put in its place, as if it had been written when it happened.
func (c *check) correct(at string, f *records.Correct) error {
	target := c.entry(at+".target", f.Target)
	if target == nil || f.With == nil {
		return nil
	}
	first := target
	for first != nil && first.Kind == records.KindCorrect {
		first = c.entry(at+".target", first.Fact.(*records.Correct).Target)
	}
	if first == nil {
		return nil
	}
	if f.With.Kind != first.Kind {
		c.faults = append(c.faults, field(at+".with.kind", string(f.With.Kind), "the kind of the entry first written, "+string(first.Kind)))
		return nil
	}
	when := first.Happened
	if f.With.Happened != 0 {
		when = f.With.Happened
		if when > c.a.now.Add(ahead) {
			c.faults = append(c.faults, field(at+".with.happened", when.String(), "not in the future"))
		}
	}
	if adopts, ok := f.With.Fact.(*records.Adoption); ok {
		_, err := c.a.adoption(records.Entry{By: first.By, Happened: when}, adopts)
		return err
	}
	inner := &check{a: c.a, ctx: c.ctx, plan: c.a.planAt(when), self: first.ID}
	if inner.plan == nil {
		c.faults = append(c.faults, field(at+".with.happened", when.String(), "a time after a plan was adopted"))
		return nil
	}
	inner.person(at+".with.by", f.With.By)
	err := inner.fact(at+".with.fact", f.With.Kind, f.With.Fact)
	c.faults = append(c.faults, inner.faults...)
	return err
}

// entry finds an entry by id in the journal or in this batch, or notes a fault.
func (c *check) entry(at string, id records.EntryID) *records.Entry {
	if i, ok := c.a.places[id]; ok {
		return &c.a.entries[i]
	}
	if pos, ok := c.a.st.Find(id); ok {
		return &c.a.st.First(pos).Entry
	}
	c.faults = append(c.faults, field(at, id.String(), "the id of an entry that is in the journal"))
	return nil
}

// signature notes a fault when the other party's drawing is not on file.
func (c *check) signature(at string, a *records.Acceptance) error {
	if a == nil || a.Signature == "" {
		return nil
	}
	return c.blob(at+".signature", a.Signature)
}

// blob notes a fault unless the bytes were put beside the journal before.
func (c *check) blob(at, key string) error {
	_, err := c.a.book.store.GetBlob(c.ctx, key)
	var own *records.Error
	if errors.As(err, &own) && own.Kind == records.NotFound {
		c.faults = append(c.faults, field(at, key, "the SHA-256 of a file that is beside the journal; send the file first"))
		return nil
	}
	return err
}

func field(at, value, want string) records.FieldError {
	return records.FieldError{Field: at, Value: value, Want: want}
}

func invalid(what string, faults ...records.FieldError) error {
	return &records.Error{Kind: records.Invalid, What: what, Fields: faults}
}
