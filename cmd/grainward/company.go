package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"grainward/records"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/records/sqlite"
)

type companyCommand struct {
	Init  companyInitCommand  `cmd:"" help:"Write a commented company file to start from."`
	Check companyCheckCommand `cmd:"" help:"Read a company file and report every fault at once; then what the plants' plans do not know."`
}

type companyInitCommand struct {
	File string `arg:"" type:"path" help:"The file to write, such as company.yaml; nothing is written over."`
}

func (c *companyInitCommand) Run(w *world) error {
	if err := writeNew(c.File, company.Starter(), 0o644); err != nil {
		return err
	}
	w.say("Wrote %s. Next:", c.File)
	w.say("  1. edit it: its comments say how")
	w.say("  2. grainward company check %s", c.File)
	w.say("  3. grainward serve --company %s", c.File)
	return nil
}

type companyCheckCommand struct {
	File string `arg:"" type:"path" help:"The company file."`
}

func (c *companyCheckCommand) Run(ctx context.Context, w *world) error {
	f, err := readCompany(c.File)
	if err != nil {
		return err
	}
	plans := map[company.PlantCode]*plan.Plan{}
	bad := 0
	for i := range f.Plants {
		p := &f.Plants[i]
		in, err := f.planOf(ctx, w, p)
		switch {
		case err != nil:
			bad++
			w.say("plant %s can not be opened: %v", p.Code, err)
		case in == nil:
			w.say("note: plant %s has no plan in force yet", p.Code)
		}
		plans[p.Code] = in
	}
	for _, n := range f.Notes(func(code company.PlantCode) *plan.Plan { return plans[code] }) {
		w.say("note: %s", n)
	}
	if bad > 0 {
		return &records.Error{Kind: records.Unavailable, What: fmt.Sprintf("%s of %s can not be opened", plural(bad, "plant"), f.Name), Do: "The others would be served all the same; what each needs is said above."}
	}
	w.say("%s: %s, %s, can be served at %s.", c.File, f.Name, plural(len(f.Plants), "plant"), f.Host)
	return nil
}

// companyFile is a company as it was read, and where its paths are from.
type companyFile struct {
	*company.Company
	dir string
}

func readCompany(path string) (*companyFile, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fileError("reading the company file", path, err)
	}
	c, err := company.Parse(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &companyFile{c, filepath.Dir(path)}, nil
}

// flags are those by which a command would open a plant alone.
func (f *companyFile) flags(p *company.Plant) (*plantFlag, error) {
	out := &plantFlag{Dir: plantDir(f.path(p.Dir))}
	uri := p.Mongo
	if name, is := strings.CutPrefix(uri, "@"); is {
		uri = "@" + f.path(name)
	}
	if uri == "" {
		return out, nil
	}
	return out, out.Mongo.UnmarshalText([]byte(uri))
}

func (f *companyFile) path(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(f.dir, name)
}

// planOf is a plant's plan in force; nil when none is.
func (f *companyFile) planOf(ctx context.Context, w *world, p *company.Plant) (in *plan.Plan, err error) {
	flags, err := f.flags(p)
	if err != nil {
		return nil, err
	}
	b, err := flags.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	return b.View().State.PlanAt(w.instant()), nil
}
