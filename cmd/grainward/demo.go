package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"grainward/audit"
	"grainward/cmd/demoplant"
	"grainward/exports/binder"
	"grainward/records"
	"grainward/records/plan"
	"grainward/records/sqlite"
	"grainward/server/auth"
)

type demoCommand struct {
	Dir     plantDir `placeholder:"DIR" help:"An empty or new directory to build it in; a new temporary one when left out."`
	NoServe bool     `help:"Build it and write its binder, and serve nothing."`
	Company bool     `help:"Build a second plant too, a mill that takes the malt house's malt, and serve both with their company's page."`
	Seed    uint64   `default:"1" placeholder:"N" help:"Another number, another eighteen months."`
	listenFlags
}

func (c *demoCommand) Run(ctx context.Context, w *world) error {
	if err := c.check(); err != nil {
		return err
	}
	dir := c.Dir
	if dir == "" {
		made, err := os.MkdirTemp("", "grainward-demo-")
		if err != nil {
			return fileError("making a directory for the demo", os.TempDir(), err)
		}
		dir = plantDir(made)
	}
	now := w.instant()
	if c.Company {
		return c.runCompany(ctx, w, string(dir), now)
	}
	if err := buildDemo(ctx, w, dir, c.Seed, now); err != nil {
		return err
	}
	if err := tellDemo(ctx, w, dir, now); err != nil {
		return err
	}
	if c.NoServe {
		w.say("To look at it in a browser: grainward enrol --dir %s; grainward serve --dir %s", dir, dir)
		return nil
	}
	code, err := demoCode(ctx, w, dir)
	if err != nil {
		return err
	}
	return serve(ctx, w, &plantFlag{Dir: dir}, &c.listenFlags, func(url string) {
		w.say("PINs are taken only on enrolled devices. To make your browser one, open this within a day and press the button:")
		w.say("  %s%s", url, enrolPath(code))
		w.say("Press Ctrl-C to stop; %s stays until you remove it.", dir)
	})
}

// buildDemo makes the demo plant's directory: its records up to a moment, its plan, and a PIN for everybody.
func buildDemo(ctx context.Context, w *world, d plantDir, seed uint64, until records.Instant) error {
	if err := startPlant(ctx, d, "Demo", plan.Starter()); err != nil {
		return err
	}
	if err := fillDemo(ctx, d, seed, until); err != nil {
		return err
	}
	b, err := d.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	st := b.View().State
	if err := os.WriteFile(d.planFile(), []byte(inForce(st, until).Text), 0o644); err != nil {
		return fileError("writing", d.planFile(), err)
	}
	return setDemoSecrets(ctx, w, d, st.PlanAt(until))
}

// fillDemo writes the demo plant's records into a journal that is still empty.
func fillDemo(ctx context.Context, d plantDir, seed uint64, until records.Instant) (err error) {
	store, signer, origin, err := d.openKeyed(ctx)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, store.Close()) }()
	if _, err := demoplant.Write(ctx, store, origin, signer, seed, until); err != nil {
		return fmt.Errorf("building the demo plant: %w", err)
	}
	return nil
}

// openKeyed opens a plant's journal for writing, with its private key and the name that its tree heads bear.
func (d plantDir) openKeyed(ctx context.Context) (store *sqlite.Store, signer, origin string, err error) {
	if signer, err = d.signer(); err != nil {
		return nil, "", "", err
	}
	if origin, err = originOf(signer, true); err != nil {
		return nil, "", "", err
	}
	store, err = d.openStore(ctx, sqlite.Write)
	return store, signer, origin, err
}

// demoPassword and demoPINs are of the demo plant only, and printed: its people are invented.
const demoPassword = "warm malt at dawn"

var demoPINs = []string{"2580", "1470", "3690", "7410", "8520", "9630", "1590", "3570", "2684", "4862"}

func setDemoSecrets(ctx context.Context, w *world, d plantDir, p *plan.Plan) (err error) {
	people, err := auth.Open(d.people(), auth.Options{Now: w.instant})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, people.Close()) }()
	for i := range p.People {
		who := &p.People[i]
		if err := people.SetPIN(ctx, who.Code, "", demoPINs[i%len(demoPINs)]); err != nil {
			return err
		}
		if who.Role == "lead" {
			if err := people.SetPassword(ctx, who.Code, "", demoPassword, who.Name); err != nil {
				return err
			}
		}
	}
	return nil
}

// demoCode enrols the browser that is used to look at the demo, in the way any device is.
func demoCode(ctx context.Context, w *world, d plantDir) (code string, err error) {
	people, err := auth.Open(d.people(), auth.Options{Now: w.instant, Remember: auth.Briefly})
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, people.Close()) }()
	code, _, err = people.MakeCode(ctx, "", "Browser of the demo", auth.CodeMost)
	return code, err
}

// tellDemo writes a binder of the last year beside the plant and says what there is to look at.
func tellDemo(ctx context.Context, w *world, d plantDir, now records.Instant) error {
	b, err := (&plantFlag{Dir: d}).openSigned(ctx, w)
	if err != nil {
		return err
	}
	defer b.Close()
	view := b.View()
	head, err := b.head(ctx, view)
	if err != nil {
		return err
	}
	report, p := audit.At(view.State, now), view.State.PlanAt(now)
	in, err := binderInput(report, head, b.key, "the demo", b.Leaf)
	if err != nil {
		return err
	}
	in.To = p.Day(now)
	in.From = in.To.AddMonths(-12)
	path := filepath.Join(string(d), "binder.xlsx")
	if err := writeWhole(path, func(out io.Writer) error { return binder.Write(ctx, out, in, w.steps("writing the binder")) }); err != nil {
		return err
	}
	n := counts(report.Findings)
	w.say("%s, an invented plant: %s and %s (%d critical, %d major, %d minor, %s).", p.Plant.Name, plural(int(head.Size), "entry"),
		plural(len(report.Findings), "finding"), n["critical"], n["major"], n["minor"], plural(n["note"], "note"))
	w.say("  %s  the plant's directory: --dir for every command", d)
	w.say("  %s  the binder of %s to %s", path, in.From, in.To)
	w.say("To sign in (a lead's PIN is for the floor; the lead's pages ask for the password):")
	for i, who := range p.People {
		if who.AtWork(p.Day(now)) {
			password := ""
			if who.Role == "lead" {
				password = ", password: " + demoPassword
			}
			w.say("  PIN %s  %s, %s%s", demoPINs[i%len(demoPINs)], who.Name, who.Role, password)
		}
	}
	w.say("Look at: grainward findings --dir %s; grainward verify --dir %s", d, d)
	return nil
}
