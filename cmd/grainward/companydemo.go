package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"grainward/audit"
	"grainward/cmd/demomill"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/plan"
	"grainward/records/sqlite"
)

// theCompany is the demo's company file. The malt house's customer, a bakehouse, has its own mill, which is the second plant.
const theCompany = `# The demo's company: an invented malt house and the mill of a bakehouse that takes its malt.
name: Saltmarrow and Crumb
host: company.localhost
plants:
  - code: malthouse
    dir: malthouse
    host: malthouse.localhost
    partners:
      crumb-and-crust: mill
  - code: mill
    dir: mill
    host: mill.localhost
    partners:
      saltmarrow: malthouse
people:
  - name: Desmond Achterberg
    at: {malthouse: desmond, mill: achterberg}
`

// runCompany builds the demo's two plants and serves them with their company's page.
func (c *demoCommand) runCompany(ctx context.Context, w *world, dir string, now records.Instant) error {
	malt, mill, path := plantDir(filepath.Join(dir, "malthouse")), plantDir(filepath.Join(dir, "mill")), filepath.Join(dir, "company.yaml")
	if entries, err := os.ReadDir(dir); err == nil && len(entries) > 0 {
		return &records.Error{Kind: records.Conflict, What: dir + " is not empty", Do: "Name a directory that is empty or not there yet; nothing was changed."}
	}
	if err := buildDemo(ctx, w, malt, c.Seed, now); err != nil {
		return err
	}
	if err := buildMill(ctx, w, malt, mill, now); err != nil {
		return err
	}
	if err := writeNew(path, []byte(theCompany), 0o644); err != nil {
		return err
	}
	f, err := readCompany(path)
	if err != nil {
		return err
	}
	w.say("%s: a malt house and a mill that takes its malt.", f.Name)
	w.say("  %s  the company file", path)
	w.say("The company's page is for leads, by plant and password (%s): Imke Strand or Desmond Achterberg at malthouse, Jory Pike at mill.", demoPassword)
	w.say("Desmond Achterberg works at both; the others see their own plant. On purpose, %s.", strings.Join(demomill.Slips, "; "))
	w.say("Look at: grainward trace --company %s malthouse/partner:crumb-and-crust", path)
	if c.NoServe {
		return nil
	}
	return serveCompany(ctx, w, f, &c.listenFlags, func(url string) {
		w.say("Serving at %s. Press Ctrl-C to stop; %s stays until you remove it.", url, dir)
	})
}

// buildMill makes the mill's directory: its records of what the malt house handed over to it, its plan, and a PIN for everybody.
func buildMill(ctx context.Context, w *world, malt, d plantDir, until records.Instant) (err error) {
	loads, err := loadsFor(ctx, w, malt, "crumb-and-crust", until)
	if err != nil {
		return err
	}
	if err := startPlant(ctx, d, "Crumb and Crust Mill", plan.Starter()); err != nil {
		return err
	}
	store, signer, origin, err := d.openKeyed(ctx)
	if err != nil {
		return err
	}
	var now records.Instant
	b, err := book.Open(ctx, store, book.Options{Origin: origin, Signer: signer, Now: func() records.Instant { return now }})
	if err != nil {
		return errors.Join(err, store.Close())
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if err := demomill.Write(ctx, b, &now, loads, until); err != nil {
		return err
	}
	st := b.View().State
	if err := os.WriteFile(d.planFile(), []byte(inForce(st, until).Text), 0o644); err != nil {
		return fileError("writing", d.planFile(), err)
	}
	return setDemoSecrets(ctx, w, d, st.PlanAt(until))
}

// loadsFor are what a plant handed over to a partner, as the papers have it.
func loadsFor(ctx context.Context, w *world, d plantDir, to records.PartnerCode, until records.Instant) (out []demomill.Load, err error) {
	b, err := (&plantFlag{Dir: d}).openBook(ctx, w, sqlite.Read)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	f := audit.Floor(b.View().State, until)
	for _, t := range f.Transfers {
		h := t.Handover
		if h == nil || t.To.Holder != to {
			continue
		}
		item := records.ItemCode("other-malt")
		if l := f.Find(h.Lot); l != nil && l.Item == "pale-malt" {
			item = "malt"
		} else if l != nil && (l.Item == "wheat-malt" || l.Item == "spelt-malt") {
			item = "wheat-malt"
		}
		m, err := h.Weight.Mass.Micrograms()
		if err != nil {
			return nil, err
		}
		out = append(out, demomill.Load{When: t.Record.Happened, Lot: h.Lot, Item: item, Status: h.Status, Pounds: int(m.In("lb") + 0.5), Bags: h.Bags, Papers: h.Papers})
	}
	return out, nil
}
