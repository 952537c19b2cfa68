package main

import (
	"context"
	"fmt"
	"slices"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"grainward/audit"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/sqlite"
	"grainward/records/state"
)

type findingsCommand struct {
	plantFlag
	At       string         `placeholder:"TIME" help:"The moment asked about: entries that had happened by then; now when left out."`
	From     string         `placeholder:"TIME" help:"Only findings dated from then on."`
	To       string         `placeholder:"TIME" help:"Only findings dated until then."`
	AsKnown  string         `placeholder:"TIME" help:"Only what had been written down by then."`
	Severity audit.Severity `default:"note" placeholder:"WORD" help:"Only findings at least as grave: note, minor, major or critical."`
	Open     bool           `help:"Leave out findings that an answer has closed."`
	Lang     string         `enum:",en,es" default:"" placeholder:"LANG" help:"The language of the sentences, en or es; the plant's first when left out."`
	JSON     bool           `name:"json" help:"Print one JSON object."`
}

// Help is the long help of the command, and the documentation of its JSON.
func (*findingsCommand) Help() string {
	return `What the records show, worst first and newest first within a severity. Findings are not an error: the exit code is 0. A finding keeps its id for ever; an answer names it by that id.

With --json, one object:

"format": 1; "plant": its name; "position": how many entries were judged; "root": the tree head over the journal's entries, base64; "at": the moment; "asKnown", "from", "to": as asked, when asked; "counts": how many findings of each severity, and how many are "closed"; "findings": the list.

Each finding: "id"; "rule"; "severity": note, minor, major or critical; "subject": of "task", "station", "person", "document", "instrument" and "agent", those it is about; "when"; "sentence": by language; "values": the named values in the sentence; "evidence": positions of the entries that show it; "clauses"; "answers": positions of the entries that answer it; "closed": whether an answer closed it.

All times are UTC, such as 2026-03-08T12:30:00.000Z.`
}

// findingsJSON is the outer object; its members are documented in Help and stay.
type findingsJSON struct {
	Format   int             `json:"format"`
	Plant    string          `json:"plant"`
	Position int             `json:"position"`
	Root     string          `json:"root"`
	At       records.Instant `json:"at"`
	AsKnown  records.Instant `json:"asKnown,omitzero"`
	From     records.Instant `json:"from,omitzero"`
	To       records.Instant `json:"to,omitzero"`
	Counts   map[string]int  `json:"counts"`
	Findings []findingJSON   `json:"findings"`
}

type findingJSON struct {
	ID       string             `json:"id"`
	Rule     string             `json:"rule"`
	Severity audit.Severity     `json:"severity"`
	Subject  audit.Subject      `json:"subject"`
	When     records.Instant    `json:"when"`
	Sentence map[string]string  `json:"sentence"`
	Values   []audit.Value      `json:"values"`
	Evidence []records.Position `json:"evidence"`
	Clauses  []records.Clause   `json:"clauses"`
	Answers  []records.Position `json:"answers"`
	Closed   bool               `json:"closed"`
}

func (c *findingsCommand) Run(ctx context.Context, w *world) error {
	b, err := c.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	view := b.View()
	q, err := c.question(view.State, w.instant())
	if err != nil {
		return err
	}
	st := view.State
	if q.asKnown != 0 {
		st = st.AsKnown(q.asKnown)
	}
	findings := slices.DeleteFunc(slices.Clone(audit.At(st, q.at).Findings), func(f *audit.Finding) bool { return !q.wants(f) || f.Severity < c.Severity || c.Open && f.Closed })
	if c.JSON {
		return writeFindingsJSON(w, view.State, view.Head.Root.String(), q, findings)
	}
	c.print(w, q, findings)
	return nil
}

// question is what the flags ask.
type question struct {
	plan                  *plan.Plan // whose clock is shown; nil when there is none
	at, asKnown, from, to records.Instant
}

func (c *findingsCommand) question(st *state.State, now records.Instant) (q question, err error) {
	q = question{plan: st.PlanAt(now), at: now}
	for _, f := range []struct {
		flag, text string
		edge       edge
		to         *records.Instant
	}{{"--at", c.At, dayEnd, &q.at}, {"--as-known", c.AsKnown, dayEnd, &q.asKnown}, {"--from", c.From, dayStart, &q.from}, {"--to", c.To, dayEnd, &q.to}} {
		if f.text == "" {
			continue
		}
		if *f.to, err = parseMoment(f.flag, f.text, q.plan, f.edge); err != nil {
			return q, err
		}
	}
	if q.to != 0 && q.from > q.to {
		return q, wrongFlag("--from", c.From, "a time not after --to, "+c.To)
	}
	return q, nil
}

func (q *question) wants(f *audit.Finding) bool {
	return f.When >= q.from && (q.to == 0 || f.When <= q.to)
}

func (c *findingsCommand) print(w *world, q question, findings []*audit.Finding) {
	lang := c.Lang
	if lang == "" {
		lang = "en"
		if q.plan != nil {
			lang = q.plan.Plant.Languages[0]
		}
	}
	if q.plan == nil {
		w.say("No plan is in force yet, so nothing is due. Adopt one with `grainward plan adopt`.")
	}
	for _, f := range findings {
		closed := ""
		if f.Closed {
			closed = " (closed)"
		}
		w.say("%-8s  %s  %s%s\n%10s%s", f.Severity, shown(q.plan, f.When), f.Sentence(lang), closed, "", f.ID)
	}
	n := counts(findings)
	w.say("%s at %s: %d critical, %d major, %d minor, %s; %d closed. This is what the records show; the certifier and the authority having jurisdiction decide.",
		plural(len(findings), "finding"), shown(q.plan, q.at), n["critical"], n["major"], n["minor"], plural(n["note"], "note"), n["closed"])
}

func counts(findings []*audit.Finding) map[string]int {
	n := map[string]int{"critical": 0, "major": 0, "minor": 0, "note": 0, "closed": 0}
	for i := range findings {
		n[findings[i].Severity.String()]++
		if findings[i].Closed {
			n["closed"]++
		}
	}
	return n
}

func writeFindingsJSON(w *world, st *state.State, root string, q question, findings []*audit.Finding) error {
	out := findingsJSON{Format: 1, Position: int(st.Size()), Root: root, At: q.at, AsKnown: q.asKnown, From: q.from, To: q.to, Counts: counts(findings), Findings: []findingJSON{}}
	langs := []string{"en"}
	if q.plan != nil {
		out.Plant, langs = q.plan.Plant.Name, q.plan.Plant.Languages
	}
	for _, f := range findings {
		says := map[string]string{}
		for _, lang := range langs {
			says[lang] = f.Sentence(lang)
		}
		out.Findings = append(out.Findings, findingJSON{f.ID, f.Rule, f.Severity, f.Subject, f.When, says, f.Values, f.Evidence, f.Clauses, f.Answers, f.Closed})
	}
	return w.writeJSON(out)
}

// writeJSON writes one value and a line feed, the same bytes for the same value.
func (w *world) writeJSON(v any) error {
	text, err := json.Marshal(v, json.Deterministic(true), jsontext.WithIndent("  "), json.OmitZeroStructFields(false))
	if err != nil {
		return fmt.Errorf("writing JSON: %w", err)
	}
	_, err = w.out.Write(append(text, '\n'))
	return err
}
