package main

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/plan"
	"grainward/records/sqlite"
	"grainward/records/state"
)

type drillCommand struct {
	Start   drillStart   `cmd:"" help:"Start a recall drill: trace the subject and list who has to be reached."`
	Contact drillContact `cmd:"" help:"Write down that a partner was tried, reached or not, and what they still hold."`
	Finish  drillFinish  `cmd:"" help:"Finish a drill: its figures are computed and written down with the lessons."`
	Show    drillShow    `cmd:"" help:"List the drills, or show one: figures, and who is still to be reached."`
}

type drillStart struct {
	plantFlag
	Drill   string             `required:"" placeholder:"CODE" help:"A code for the drill, such as spring-2026."`
	Subject string             `required:"" help:"What is traced, as the trace command takes it."`
	Why     string             `required:"" help:"Why, or what is supposed to have happened."`
	Lead    records.PersonCode `required:"" placeholder:"CODE" help:"Who leads the drill."`
	Level   string             `enum:"A,B,C,D,E" default:"A" help:"Effectiveness check level of 21 CFR 7.42(b)(3): A all consignees, B more than 10 %, C 10 %, D 2 %, E none."`
	By      records.PersonCode `required:"" placeholder:"CODE" help:"Who writes it down."`
}

func (c *drillStart) Run(ctx context.Context, w *world) error {
	return c.Dir.drill(ctx, w, c.By, &records.Drill{Drill: c.Drill, Step: "start", Subject: c.Subject, Why: c.Why, Lead: c.Lead, Level: c.Level},
		func(st *state.State) error {
			if d := findDrill(st, w.instant(), c.Drill); d != nil {
				return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the drill %s was started before", c.Drill), Do: "Go on with it (`grainward drill show`), or give the new one another code."}
			}
			_, _, err := drillTrace(st, w.instant(), c.Subject) // a subject that never existed is told now, not at the end
			return err
		})
}

type drillContact struct {
	plantFlag
	Drill   string              `required:"" placeholder:"CODE" help:"The drill's code."`
	Partner records.PartnerCode `required:"" placeholder:"CODE" help:"Who was tried."`
	Reached bool                `required:"" negatable:"not-reached" help:"Whether somebody there was reached."`
	Method  string              `placeholder:"WORD" help:"How: telephone, e-mail…"`
	Spoke   string              `placeholder:"NAME" help:"With whom."`
	Holds   string              `placeholder:"MASS" help:"What they still hold, such as \"550 lb\"."`
	Note    string              `placeholder:"TEXT" help:"Anything else."`
	By      records.PersonCode  `required:"" placeholder:"CODE" help:"Who writes it down."`
}

func (c *drillContact) Run(ctx context.Context, w *world) error {
	f := &records.Drill{Drill: c.Drill, Step: "contact", Partner: c.Partner, Reached: c.Reached, Method: c.Method, Spoke: c.Spoke, Note: c.Note}
	if c.Holds != "" {
		m, err := records.ParseMass(c.Holds)
		if err != nil {
			return wrongFlag("--holds", c.Holds, err.Error())
		}
		f.Holds = &m
	}
	return c.Dir.drill(ctx, w, c.By, f, mustBeOpen(w, c.Drill))
}

type drillFinish struct {
	plantFlag
	Drill   string             `required:"" placeholder:"CODE" help:"The drill's code."`
	Lessons string             `required:"" help:"What was learnt, and what will be done about it."`
	By      records.PersonCode `required:"" placeholder:"CODE" help:"Who writes it down."`
}

func (c *drillFinish) Run(ctx context.Context, w *world) error {
	f := &records.Drill{Drill: c.Drill, Step: "finish", Lessons: c.Lessons}
	return c.Dir.drill(ctx, w, c.By, f, func(st *state.State) error {
		if err := mustBeOpen(w, c.Drill)(st); err != nil {
			return err
		}
		d := findDrill(st, w.instant(), c.Drill)
		t, took, err := drillTrace(st, w.instant(), d.Subject())
		if err != nil {
			return err
		}
		f.Figures = drillFigures(d.Figures(t), t, took, st.PlanAt(w.instant()))
		return nil
	})
}

type drillShow struct {
	plantFlag
	Drill string `arg:"" optional:"" help:"The drill's code; all drills when left out."`
}

func (c *drillShow) Run(ctx context.Context, w *world) error {
	b, err := c.Dir.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	st := b.View().State
	if c.Drill != "" {
		d := findDrill(st, w.instant(), c.Drill)
		if d == nil {
			return noDrill(c.Drill)
		}
		return showDrill(w, st, d)
	}
	all := trace.Drills(st, w.instant())
	if len(all) == 0 {
		w.say("No recall drill is on record.")
	}
	for i := range all {
		state := "finished"
		if all[i].Interrupted() {
			state = "NOT FINISHED"
		}
		w.say("%-20s  %-12s  %s  %s", all[i].Code, state, startedAt(st, &all[i]), all[i].Subject())
	}
	return nil
}

func startedAt(st *state.State, d *trace.Drill) string {
	if d.Start == nil {
		return "(no start)      "
	}
	return shown(st.PlanAt(d.Start.Happened), d.Start.Happened)
}

// drill writes one step down, after a check against the journal, and shows how the drill stands.
func (d plantDir) drill(ctx context.Context, w *world, by records.PersonCode, f *records.Drill, check func(*state.State) error) error {
	b, err := d.openBook(ctx, w, sqlite.Write)
	if err != nil {
		return err
	}
	defer b.Close()
	if err := check(b.View().State); err != nil {
		return err
	}
	if _, err := b.Admit(ctx, records.Entry{ID: records.NewEntryID(), Happened: w.instant(), By: by, Meaning: records.Performed, Kind: records.KindDrill, Fact: f}); err != nil {
		return err
	}
	return afterStep(w, b, f)
}

func afterStep(w *world, b *book.Book, f *records.Drill) error {
	st := b.View().State
	return showDrill(w, st, findDrill(st, w.instant(), f.Drill))
}

func mustBeOpen(w *world, code string) func(*state.State) error {
	return func(st *state.State) error {
		d := findDrill(st, w.instant(), code)
		switch {
		case d == nil || d.Start == nil:
			return noDrill(code)
		case !d.Interrupted():
			return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the drill %s is finished", code), Do: "Start another one, or correct its entries with `grainward import`."}
		}
		return nil
	}
}

func noDrill(code string) error {
	return &records.Error{Kind: records.NotFound, What: fmt.Sprintf("no drill %s was started", code), Do: "`grainward drill show` lists them; `grainward drill start` begins one."}
}

func findDrill(st *state.State, at records.Instant, code string) *trace.Drill {
	all := trace.Drills(st, at)
	for i := range all {
		if all[i].Code == code {
			return &all[i]
		}
	}
	return nil
}

// drillTrace traces a drill's subject forward and says how long that took.
func drillTrace(st *state.State, at records.Instant, text string) (*trace.Trace, time.Duration, error) {
	begun := time.Now()
	zone := time.UTC
	if p := st.PlanAt(at); p != nil {
		zone = p.Location()
	}
	subject, err := trace.ParseSubject(text, zone)
	if err != nil {
		return nil, 0, err
	}
	floor := audit.Floor(st, at)
	t, err := trace.Make(st, floor, trace.Build(floor), subject, trace.Forward)
	return t, time.Since(begun), err
}

// drillFigures are the figures a finish writes down; the trace's time is read back by the name "trace".
func drillFigures(d trace.DrillFigures, t *trace.Trace, took time.Duration, p *plan.Plan) []records.Measured {
	number := func(name string, v float64, unit string, decimals int) records.Measured {
		scaled := int64(math.Round(v * math.Pow10(decimals)))
		return records.Measured{Name: name, Value: records.Quantity{Value: records.NewDecimal(scaled, decimals), Unit: unit}}
	}
	unit, per := "lb", 453_592_370.0
	if p != nil && p.Plant.Units == "kg" {
		unit, per = "kg", 1e9
	}
	out := []records.Measured{
		number("trace", took.Seconds(), "s", 3),
		number("consignees to reach", float64(d.ToReach), "", 0), number("required by the level", float64(d.Required), "", 0),
		number("tried", float64(d.Tried), "", 0), number("reached", float64(d.Reached), "", 0), number("reached, percent", d.Percent, "%", 1),
		number("shipped", float64(d.Shipped)/per, unit, 1), number("found with consignees", float64(d.Found)/per, unit, 1),
	}
	if share, ok := accounted(t); ok {
		out = append(out, number("accounted for", 100*share, "%", 1))
	}
	return out
}

func showDrill(w *world, st *state.State, d *trace.Drill) error {
	p := st.PlanAt(w.instant())
	w.say("Drill %s, started %s", d.Code, startedAt(st, d))
	if d.Start == nil {
		return nil
	}
	start := d.Start.Fact.(*records.Drill)
	w.say("  subject %s; led by %s; %s", start.Subject, start.Lead, start.Why)
	t, took, err := drillTrace(st, w.instant(), start.Subject)
	if err != nil {
		return err
	}
	f := d.Figures(t)
	w.say("  trace forward: %s, %s downstream, in %.2f s", plural(len(t.Consignees), "consignee"), plural(len(t.Lots), "lot"), took.Seconds())
	if share, ok := accounted(t); ok {
		w.say("  mass accounted for: %.1f %%", 100*share)
	}
	estimate := ""
	if f.Estimated {
		estimate = " (an estimate: a mixed station lies between)"
	}
	w.say("  shipped %s%s; found with consignees %s", massShown(p, f.Shipped), estimate, massShown(p, f.Found))
	w.say("  level %s: %d of %d to be reached; tried %d, reached %d (%.1f %%)", f.Level, f.Required, f.ToReach, f.Tried, f.Reached, f.Percent)
	if d.Finish != nil {
		w.say("  finished %s. Lessons: %s", shown(p, d.Finish.Happened), d.Finish.Fact.(*records.Drill).Lessons)
		return nil
	}
	for _, r := range f.Rows {
		if r.Reached || !r.Consignee {
			continue
		}
		var who []string
		for _, c := range r.Partner.Contacts {
			who = append(who, strings.TrimSpace(c.Name+" "+c.Phone+" "+c.Hours))
		}
		w.say("  to reach: %-24s  %-28s  sent %s", r.Partner.Code, strings.Join(who, "; "), massShown(p, r.Sent))
	}
	return nil
}

// accounted is the share of mass accounted for, on dry matter where every moisture is known.
func accounted(t *trace.Trace) (float64, bool) {
	if t.Account.Dry != nil {
		return t.Account.Dry.Share()
	}
	return t.Account.AsIs.Share()
}
