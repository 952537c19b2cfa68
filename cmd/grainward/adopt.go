package main

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"strings"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/sqlite"
	"grainward/records/state"
)

type planAdoptCommand struct {
	plantFlag
	By       records.PersonCode `required:"" placeholder:"CODE" help:"Who adopts it: a person of the plan in force, or of this one when it is the first."`
	Happened string             `placeholder:"TIME" help:"From when it is in force; now when left out."`
	Note     string             `help:"Why it changes."`
	Yes      bool               `help:"Do not ask. On a terminal the question is asked otherwise."`
}

func (c *planAdoptCommand) Run(ctx context.Context, w *world) error {
	text, p, err := readPlan(c.Dir.planFile())
	if err != nil {
		return err
	}
	b, err := c.openBook(ctx, w, sqlite.Write)
	if err != nil {
		return err
	}
	defer b.Close()
	st, now := b.View().State, w.instant()
	happened := now
	if c.Happened != "" {
		clock := st.PlanAt(now)
		if clock == nil {
			clock = p
		}
		if happened, err = parseMoment("--happened", c.Happened, clock, dayStart); err != nil {
			return err
		}
	}
	fact := &records.Adoption{Text: string(text), SHA256: fmt.Sprintf("%x", sha256.Sum256(text)), Note: c.Note}
	draft, err := records.WithDefaults(records.Entry{ID: records.NewEntryID(), Happened: happened, By: c.By, Kind: records.KindPlan, Fact: fact})
	if err != nil {
		return err
	}
	if in := inForce(st, happened); in != nil && in.SHA256 == fact.SHA256 {
		w.say("This very plan is in force already; nothing was written.")
		return nil
	}
	w.sayChanges(st, p, draft, now)
	if !c.Yes && w.asks {
		ok, err := w.confirm("Adopt this plan?")
		if err != nil || !ok {
			w.say("Not adopted; nothing was written.")
			return err
		}
	}
	receipts, err := b.Admit(ctx, draft)
	if err != nil {
		return err
	}
	w.say("Adopted: entry %d, in force from %s.", receipts[0].Position, shown(p, happened))
	return nil
}

// inForce is the adoption in force at an instant, or nil.
func inForce(st *state.State, at records.Instant) (fact *records.Adoption) {
	for _, in := range st.Plans() {
		if in.From <= at {
			fact = in.Record.Fact.(*records.Adoption)
		}
	}
	return fact
}

// mostShown is how many changes and findings are shown of each sort.
const mostShown = 40

// sayChanges shows what adopting a plan would change: in its words, and in what is found now.
func (w *world) sayChanges(st *state.State, p *plan.Plan, draft records.Entry, now records.Instant) {
	if old := st.PlanAt(draft.Happened); old == nil {
		w.say("This is the first plan: %s, %s, %s.", p.Plant.Name, plural(len(p.Tasks), "task"), plural(len(p.People), "person"))
	} else {
		changes := plan.Diff(old, p)
		w.say("%s:", plural(len(changes), "change"))
		for i, ch := range changes {
			if i == mostShown {
				w.say("  and %d more: see `grainward plan diff`", len(changes)-i)
				break
			}
			w.say("  %s.", ch.Sentence)
		}
	}
	// A fold of its own: what is only tried must not reach the state that others read.
	trial := st.Prefix(st.Size())
	draft.Recorded = now
	trial.Apply(trial.Size(), draft)
	come, gone := audit.Compare(audit.At(st, now).Findings, audit.At(trial, now).Findings)
	lang := p.Plant.Languages[0]
	w.sayFindings("Findings that would come:", come, lang)
	w.sayFindings("Findings that would go:", gone, lang)
	if len(come)+len(gone) == 0 {
		w.say("The findings stay as they are.")
	}
}

// sayFindings shows findings by rule: how many, and the first of them.
func (w *world) sayFindings(title string, fs []*audit.Finding, lang string) {
	if len(fs) == 0 {
		return
	}
	w.say("%s %d", title, len(fs))
	n, first, rules := map[string]int{}, map[string]*audit.Finding{}, []string{}
	for i := range fs {
		if n[fs[i].Rule]++; first[fs[i].Rule] == nil {
			first[fs[i].Rule], rules = fs[i], append(rules, fs[i].Rule)
		}
	}
	for _, rule := range rules {
		w.say("  %5d  %-18s  such as: %s", n[rule], rule, first[rule].Sentence(lang))
	}
}

// confirm asks a question on the terminal; only y or yes is a yes.
func (w *world) confirm(question string) (bool, error) {
	fmt.Fprintf(w.err, "%s [y/N] ", question)
	line, err := bufio.NewReader(w.in).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return false, fmt.Errorf("reading the answer: %w", err)
	}
	answer := strings.ToLower(strings.TrimSpace(line))
	return answer == "y" || answer == "yes", nil
}
