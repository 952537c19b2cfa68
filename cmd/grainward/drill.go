package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/exports/columns"
	"grainward/records"
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
	Drill   string             `placeholder:"CODE" help:"A code for the drill, such as spring-2026; made from the day when left out."`
	Subject string             `required:"" help:"What is traced, as the trace command takes it."`
	Why     string             `required:"" help:"Why, or what is supposed to have happened."`
	Lead    records.PersonCode `required:"" placeholder:"CODE" help:"Who leads the drill."`
	Level   string             `enum:"A,B,C,D,E" default:"A" help:"Effectiveness check level of 21 CFR 7.42(b)(3): A all consignees, B more than 10 %, C 10 %, D 2 %, E none."`
	By      records.PersonCode `required:"" placeholder:"CODE" help:"Who writes it down."`
}

func (c *drillStart) Run(ctx context.Context, w *world) error {
	f := &records.Drill{Drill: c.Drill, Step: "start", Subject: c.Subject, Why: c.Why, Lead: c.Lead, Level: c.Level}
	return c.drill(ctx, w, c.By, f, func(st *state.State, _ time.Time) error {
		if f.Drill == "" {
			f.Drill = trace.FreeDrillCode(st, w.instant())
		}
		if d := trace.FindDrill(st, w.instant(), f.Drill); d != nil {
			return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("the drill %s was started before", f.Drill), Do: "Go on with it (`grainward drill show`), or give the new one another code."}
		}
		_, err := drillTrace(st, w.instant(), c.Subject) // a subject that never existed is told now, not at the end
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
	return c.drill(ctx, w, c.By, f, mustBeOpen(w, c.Drill))
}

type drillFinish struct {
	plantFlag
	Drill   string             `required:"" placeholder:"CODE" help:"The drill's code."`
	Lessons string             `required:"" help:"What was learnt, and what will be done about it."`
	By      records.PersonCode `required:"" placeholder:"CODE" help:"Who writes it down."`
}

func (c *drillFinish) Run(ctx context.Context, w *world) error {
	f := &records.Drill{Drill: c.Drill, Step: "finish", Lessons: c.Lessons}
	return c.drill(ctx, w, c.By, f, func(st *state.State, begun time.Time) error {
		if err := mustBeOpen(w, c.Drill)(st, begun); err != nil {
			return err
		}
		d := trace.FindDrill(st, w.instant(), c.Drill)
		t, err := drillTrace(st, w.instant(), d.Subject())
		if err != nil {
			return err
		}
		figures := d.Figures(t)
		f.Figures = figures.Measured(t, time.Since(begun), st.PlanAt(w.instant()).MassUnit())
		return nil
	})
}

type drillShow struct {
	plantFlag
	Drill string `arg:"" optional:"" help:"The drill's code; all drills when left out."`
}

func (c *drillShow) Run(ctx context.Context, w *world) error {
	begun := time.Now()
	b, err := c.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	st := b.View().State
	if c.Drill != "" {
		d := trace.FindDrill(st, w.instant(), c.Drill)
		if d == nil {
			return noDrill(c.Drill)
		}
		return showDrill(w, st, d, begun)
	}
	all := trace.Drills(st, w.instant())
	if len(all) == 0 {
		w.say("No recall drill is on record.")
	}
	for i := range all {
		d := &all[i]
		state := "finished"
		if d.Interrupted() {
			state = "NOT FINISHED"
		}
		w.say("%-20s  %-12s  %s  %s", d.Code, state, startedAt(st, d), d.Subject())
		if !d.Interrupted() || d.Start == nil {
			continue
		}
		t, err := drillTrace(st, w.instant(), d.Subject())
		if err != nil {
			w.say("    its subject can not be traced: %v", err)
			continue
		}
		f := d.Figures(t)
		if left := f.Left(); len(left) > 0 {
			w.say("    not reached yet: %s", joinCodes(left))
		}
		w.say("    go on with `grainward drill show %s`", d.Code)
	}
	return nil
}

func joinCodes(codes []records.PartnerCode) string {
	texts := make([]string, len(codes))
	for i, c := range codes {
		texts[i] = string(c)
	}
	return strings.Join(texts, ", ")
}

func startedAt(st *state.State, d *trace.Drill) string {
	if d.Start == nil {
		return "(no start)      "
	}
	return shown(st.PlanAt(d.Start.Happened), d.Start.Happened)
}

// drill writes one step down, after a check against the journal, and shows how the drill stands. The time of a trace counts from
// here: in a recall somebody waits for the journal to be read, too.
func (p *plantFlag) drill(ctx context.Context, w *world, by records.PersonCode, f *records.Drill, check func(st *state.State, begun time.Time) error) error {
	begun := time.Now()
	b, err := p.openBook(ctx, w, sqlite.Write)
	if err != nil {
		return err
	}
	defer b.Close()
	if err := check(b.View().State, begun); err != nil {
		return err
	}
	if _, err := b.Admit(ctx, records.Entry{ID: records.NewEntryID(), Happened: w.instant(), By: by, Meaning: records.Performed, Kind: records.KindDrill, Fact: f}); err != nil {
		return err
	}
	st := b.View().State
	return showDrill(w, st, trace.FindDrill(st, w.instant(), f.Drill), begun)
}

func mustBeOpen(w *world, code string) func(*state.State, time.Time) error {
	return func(st *state.State, _ time.Time) error {
		d := trace.FindDrill(st, w.instant(), code)
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

// drillTrace traces a drill's subject forward.
func drillTrace(st *state.State, at records.Instant, text string) (*trace.Trace, error) {
	zone := time.UTC
	if p := st.PlanAt(at); p != nil {
		zone = p.Location()
	}
	subject, err := trace.ParseSubject(text, zone)
	if err != nil {
		return nil, err
	}
	floor := audit.Floor(st, at)
	return trace.Make(st, floor, trace.Build(floor), subject, trace.Forward)
}

// showDrill says how a drill stands: by the trace at its finish, or now while it goes on.
func showDrill(w *world, st *state.State, d *trace.Drill, begun time.Time) error {
	p, at := st.PlanAt(w.instant()), w.instant()
	w.say("Drill %s, started %s", d.Code, startedAt(st, d))
	if d.Start == nil {
		return nil
	}
	if d.Finish != nil {
		at = d.Finish.Happened
	}
	start := d.Start.Fact.(*records.Drill)
	w.say("  subject %s; led by %s; %s", start.Subject, start.Lead, start.Why)
	t, err := drillTrace(st, at, start.Subject)
	if err != nil {
		return err
	}
	f := d.Figures(t)
	w.say("  trace forward: %s, %s downstream; read and traced in %.2f s", plural(len(t.Consignees), "consignee"), plural(len(t.Lots), "lot"), time.Since(begun).Seconds())
	accounted, _ := t.Account.Best()
	if share, ok := accounted.Share(); ok {
		w.say("  mass accounted for: %.1f %%", 100*share)
	}
	estimate := ""
	if f.Estimated {
		estimate = " (an estimate: a mixed station lies between)"
	}
	w.say("  shipped %s%s; found with consignees %s", p.Mass(f.Shipped), estimate, p.Mass(f.Found))
	w.say("  level %s: %d of %d to be reached; tried %d, reached %d (%.1f %%)", f.Level, f.Required, f.ToReach, f.Tried, f.Reached, f.Percent)
	if err := showReach(w, p, &f, d.Finish == nil); err != nil {
		return err
	}
	var onward []records.PartnerCode
	for _, c := range t.Consignees {
		if !c.Direct {
			onward = append(onward, c.Partner)
		}
	}
	if len(onward) > 0 { // those we sent it to are to tell them; who they are is known where the onward handover was written down
		for _, line := range columns.Break("Further on, from them: "+joinCodes(onward), columns.Wide) {
			w.say("%s", line)
		}
	}
	if d.Finish != nil {
		w.say("Finished %s. Lessons: %s", shown(p, d.Finish.Happened), d.Finish.Fact.(*records.Drill).Lessons)
	}
	return nil
}

// showReach shows who was tried and, while the drill goes on, whom to call; those still to be reached first.
func showReach(w *world, p *plan.Plan, f *trace.DrillFigures, open bool) error {
	var left, rest [][]string
	for i := range f.Rows {
		r := &f.Rows[i]
		row := []string{string(r.Partner.Code), p.Mass(r.Sent), "", "", ""}
		if r.Holds != nil {
			row[3] = "holds " + p.Mass(*r.Holds)
		}
		if n := len(r.Tries); n > 0 {
			last := r.Tries[n-1]
			row[4] = strings.TrimSpace(fmt.Sprintf("%s %s %s", shown(p, last.When), last.Method, last.Spoke))
		}
		switch {
		case r.Reached:
			row[2] = "reached"
		case len(r.Tries) > 0:
			row[2] = fmt.Sprintf("tried %d, NOT REACHED", len(r.Tries))
		default:
			row[2] = "not tried"
		}
		if !r.Consignee {
			row[1] = "none from us"
		}
		if r.Reached || !r.Consignee || !open {
			rest = append(rest, row)
			continue
		}
		row[4] = callWhom(r)
		left = append(left, row)
	}
	if len(left)+len(rest) == 0 {
		w.say("  nobody outside the plant has any of it")
		return nil
	}
	return columns.Write(w.out, []string{"partner", "shipped", "contact", "found", "last call, or whom to call"}, "lrlll", append(left, rest...))
}

// callWhom names the people at a partner, those who answer at any hour first.
func callWhom(r *trace.Reach) string {
	var night, day []string
	for _, c := range r.Partner.Contacts {
		who := strings.Join(strings.Fields(c.Name+" "+c.Phone+" "+c.Email+" "+c.Hours), " ")
		if c.AtNight {
			night = append(night, who)
		} else {
			day = append(day, who)
		}
	}
	if len(night)+len(day) == 0 {
		return "the plan names nobody there"
	}
	return "call " + strings.Join(append(night, day...), "; ")
}
