package main

import (
	"context"
	"fmt"
	"os"

	"grainward/records/plan"
	"grainward/records/sqlite"
)

type planCommand struct {
	Check  planCheckCommand  `cmd:"" help:"Read the plan and report every fault at once, with line and column; then what may not be meant."`
	Schema planSchemaCommand `cmd:"" help:"Print the JSON Schema of plan.yaml, for editors."`
	Diff   planDiffCommand   `cmd:"" help:"What differs between the plan in force and plan.yaml."`
	Adopt  planAdoptCommand  `cmd:"" help:"Put plan.yaml in force, after showing what changes."`
}

// planFlags name a plan file: that of the plant, or another.
type planFlags struct {
	Dir  plantDir `env:"GRAINWARD_DIR" placeholder:"DIR" help:"The plant's directory; its plan.yaml is read."`
	File string   `arg:"" optional:"" help:"Another plan file."`
}

type planCheckCommand struct{ planFlags }

func (c *planCheckCommand) Run(w *world) error {
	path := c.File
	if path == "" {
		if c.Dir == "" {
			return wrongFlag("FILE", "", "a plan file, or --dir DIR for the plant's own")
		}
		if err := c.Dir.check(); err != nil {
			return err
		}
		path = c.Dir.planFile()
	}
	_, p, err := readPlan(path)
	if err != nil {
		return err
	}
	for _, n := range p.Notes() {
		w.say("note: %s", n)
	}
	w.say("%s: the plan of %s can be adopted. It has %s, %s and %s.", path, p.Plant.Name,
		plural(len(p.Tasks), "task"), plural(len(p.Stations), "station"), plural(len(p.People), "person"))
	return nil
}

type planSchemaCommand struct{}

func (*planSchemaCommand) Run(w *world) error {
	_, err := w.out.Write(plan.Schema())
	return err
}

type planDiffCommand struct{ plantFlag }

func (c *planDiffCommand) Run(ctx context.Context, w *world) error {
	_, p, err := readPlan(c.Dir.planFile())
	if err != nil {
		return err
	}
	b, err := c.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	old := b.View().State.PlanAt(w.instant())
	if old == nil {
		w.say("No plan is in force yet; all of plan.yaml is new.")
		return nil
	}
	changes := plan.Diff(old, p)
	for _, ch := range changes {
		w.say("%s.", ch.Sentence)
	}
	if len(changes) == 0 {
		w.say("plan.yaml says what the plan in force says.")
	}
	return nil
}

// readPlan reads a plan file.
func readPlan(path string) (text []byte, p *plan.Plan, err error) {
	if text, err = os.ReadFile(path); err != nil {
		return nil, nil, fileError("reading the plan", path, err)
	}
	if p, err = plan.Parse(text); err != nil {
		return nil, nil, fmt.Errorf("%s: %w", path, err)
	}
	return text, p, nil
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	many, irregular := map[string]string{"person": "people", "entry": "entries", "leaf hash": "leaf hashes", "process": "processes"}[word]
	if !irregular {
		many = word + "s"
	}
	return fmt.Sprintf("%d %s", n, many)
}
