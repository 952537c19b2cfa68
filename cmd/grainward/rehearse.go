package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"grainward/audit"
	"grainward/audit/trace"
	"grainward/exports/binder"
	"grainward/exports/columns"
	"grainward/exports/lineage"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/sqlite"
	"grainward/records/state"
)

type rehearseCommand struct {
	File string   `arg:"" type:"existingfile" help:"The backup."`
	Dir  plantDir `env:"GRAINWARD_DIR" placeholder:"DIR" help:"The plant's directory, for its public key alone."`
	Vkey string   `placeholder:"FILE" help:"The plant's public key (plant.vkey), instead of the one in DIR."`
	Lot  string   `placeholder:"CODE" help:"The lot that is asked for; the one that was handed over last when left out."`
	From string   `placeholder:"DATE" help:"The first day that is asked for; two years before the last when left out."`
	To   string   `placeholder:"DATE" help:"The last day; that of the newest entry when left out."`
	Into string   `type:"path" placeholder:"DIR" help:"A new directory to keep what was restored and made; when left out, it is made elsewhere and removed."`

	Thorough bool `help:"Also hold every cell of the binder against the restored journal, which takes several times as long as the rest."`
}

// Help is the long help of the command.
func (*rehearseCommand) Help() string {
	return `Restores the backup into a scratch directory and answers a request for records from it alone: the whole trace of a lot as a workbook and the binder of a period. It says how long each step took, against the 24 hours from the request within which records are to be made available (21 CFR 1.361; as soon as possible within them).

The plant's journal is not touched, and the private key is not needed. What it shows is how long the machine takes, and that this backup can be used; whether the records are those that were asked for is for the authority to say.`
}

// duty is the time that 21 CFR 1.361 gives.
const duty = 24 * time.Hour

// rehearsal is a restore that is being timed.
type rehearsal struct {
	w     *world
	steps [][]string
	total time.Duration
	head  string // of the restored journal's tree
}

// step does one thing and notes how long it took.
func (r *rehearsal) step(what string, do func() (detail string, err error)) error {
	begun := time.Now()
	detail, err := do()
	took := time.Since(begun)
	if err != nil {
		return err
	}
	r.total += took
	r.steps = append(r.steps, []string{what, inSeconds(took), detail})
	return nil
}

func inSeconds(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }

func (c *rehearseCommand) Run(ctx context.Context, w *world) (err error) {
	key, err := c.key()
	if err != nil {
		return err
	}
	dir := c.Into
	if dir == "" {
		if dir, err = os.MkdirTemp("", "grainward-rehearsal-"); err != nil {
			return fileError("making a scratch directory", os.TempDir(), err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	} else if err = os.Mkdir(dir, 0o700); err != nil {
		return fileError("making the directory", dir, err)
	}
	r := &rehearsal{w: w}
	if err := c.rehearse(ctx, r, plantFlag{Dir: plantDir(dir)}, key); err != nil {
		return err
	}
	r.steps = append(r.steps, []string{"together", inSeconds(r.total), ""})
	if err := columns.Write(w.out, []string{"step", "took", ""}, "lrl", r.steps); err != nil {
		return err
	}
	w.say("Tree head of what was restored: %s", r.head)
	w.say("Records asked for under 21 CFR 1.361 are to be made available as soon as possible, and within 24 hours of the request. From this backup the machine took %s; 24 hours are %s times as long. Finding the backup, and somebody to run this, is not in it.", inSeconds(r.total), times(duty, r.total))
	if c.Into != "" {
		w.say("Everything that was restored and made is in %s.", c.Into)
	}
	return nil
}

// times says how often one stretch of time goes into another, in two figures: more would be noise.
func times(all, part time.Duration) string {
	n := int64(all / max(part, time.Millisecond))
	for unit := int64(10); n/unit >= 10; unit *= 10 {
		if n/unit < 100 {
			n = n / unit * unit
			break
		}
	}
	return fmt.Sprint(n)
}

func (c *rehearseCommand) key() (string, error) {
	if c.Vkey == "" && c.Dir == "" {
		return "", wrongFlag("--vkey", "", "the plant's public key: give plant.vkey, or the plant's directory with --dir")
	}
	return (&verifyCommand{plantFlag: plantFlag{Dir: c.Dir}, Vkey: c.Vkey}).key()
}

// rehearse is the drill itself: from the backup to the answer.
func (c *rehearseCommand) rehearse(ctx context.Context, r *rehearsal, plant plantFlag, key string) error {
	if err := r.step("verify the backup", func() (string, error) {
		report, err := proveBackup(ctx, r.w, c.File, key)
		if err == nil && !report.OK() {
			printReport(r.w, c.File, &report)
			err = errFaulty
		}
		r.head = report.Root.String()
		return plural(int(report.Entries), "entry"), err
	}); err != nil {
		return err
	}
	if err := r.step("restore it elsewhere", func() (string, error) { return c.restore(ctx, plant.Dir, key) }); err != nil {
		return err
	}
	if err := r.step("verify what was restored", func() (string, error) {
		report, err := proveBackup(ctx, r.w, plant.Dir.journal(), key)
		if err == nil && !report.OK() {
			printReport(r.w, plant.Dir.journal(), &report)
			err = errFaulty
		}
		return "", err
	}); err != nil {
		return err
	}
	var b *signedBook
	if err := r.step("open the journal", func() (_ string, err error) {
		b, err = plant.openSigned(ctx, r.w)
		return "", err
	}); err != nil {
		return err
	}
	err := c.answer(ctx, r, plant, b)
	return errors.Join(err, b.Close())
}

// restore copies the backup and puts the public key beside it; there is no private one to put.
func (c *rehearseCommand) restore(ctx context.Context, d plantDir, key string) (string, error) {
	source, err := sqlite.Open(ctx, c.File, sqlite.Read)
	if err != nil {
		return "", err
	}
	err = source.Backup(ctx, d.journal())
	if err = errors.Join(err, source.Close(), writeNew(d.vkeyFile(), []byte(key+"\n"), 0o644)); err != nil {
		return "", err
	}
	info, err := os.Stat(d.journal())
	if err != nil {
		return "", fileError("looking at what was restored", d.journal(), err)
	}
	return inBytes(info.Size()), nil
}

// answer makes what somebody with a request is handed.
func (c *rehearseCommand) answer(ctx context.Context, r *rehearsal, plant plantFlag, b *signedBook) error {
	view := b.View()
	head, err := b.head(ctx, view)
	if err != nil {
		return err
	}
	at := view.State.First(head.Size - 1).Recorded // nobody has missed anything since the backup was made: it only is not in it
	from, to, err := c.period(view.State, head.Size, at)
	if err != nil {
		return err
	}
	var report *audit.Report
	if err := r.step("judge every duty, lot and clean-out", func() (string, error) {
		report = audit.At(view.State, at)
		return plural(len(report.Findings), "finding"), nil
	}); err != nil {
		return err
	}
	if err := c.traced(r, plant.Dir, view, head, report, b.key); err != nil {
		return err
	}
	path := filepath.Join(string(plant.Dir), fmt.Sprintf("binder-%s-%s.xlsx", from, to))
	if err := r.step("write the binder", func() (string, error) {
		in, err := binderInput(report, head, b.key, "a rehearsal", b.Leaf)
		if err != nil {
			return "", err
		}
		in.From, in.To, in.Lang = from, to, "en"
		return fmt.Sprintf("%s to %s", from, to), writeWhole(path, func(out io.Writer) error { return binder.Write(ctx, out, in, nil) })
	}); err != nil {
		return err
	}
	if !c.Thorough {
		return nil
	}
	return r.step("hold the binder against the journal", func() (string, error) {
		v, err := checkBinder(ctx, path, b.store, b.key)
		if err != nil {
			return "", err
		}
		if len(v.Faults) > 0 {
			return "", &records.Error{Kind: records.Corrupt, What: "the binder does not agree with the restored journal: " + v.Faults[0].sentence, Do: "Please report it, and keep the backup."}
		}
		return fmt.Sprintf("%d cells agree", v.Cells), nil
	})
}

// traced writes the trace of the lot that is asked for, both ways. A journal without lots has none.
func (c *rehearseCommand) traced(r *rehearsal, d plantDir, view *book.View, head book.Head, report *audit.Report, key string) error {
	lot := c.Lot
	if lot == "" {
		if lot = lastLot(view.State, head.Size); lot == "" {
			r.steps = append(r.steps, []string{"trace a lot", "", "none: no lots are in the journal"})
			return nil
		}
	}
	return r.step("trace a lot both ways, as a workbook", func() (string, error) {
		p := view.State.PlanAt(report.At)
		if p == nil {
			return "", &records.Error{Kind: records.NotFound, What: "no plan is in the journal, so nothing can be traced"}
		}
		subject, err := trace.ParseSubject(lot, p.Location())
		if err != nil {
			return "", err
		}
		floor := audit.Floor(view.State, report.At)
		t, err := trace.Make(view.State, floor, trace.Build(floor), subject, trace.Both)
		if err != nil {
			return "", err
		}
		s, err := stamp(report, head, key, "a rehearsal")
		if err != nil {
			return "", err
		}
		in := lineage.Input{Trace: t, Stamp: s, Lang: "en"}
		return lot, writeWhole(filepath.Join(string(d), "trace.xlsx"), func(out io.Writer) error { return lineage.WriteSheets(out, in) })
	})
}

// lastLot is the lot that was handed over last, or else received last; empty when there is none.
func lastLot(st *state.State, size records.Position) (lot string) {
	for pos := size - 1; pos >= 0; pos-- {
		switch fact := st.First(pos).Fact.(type) {
		case *records.Handover:
			if fact.Lot != "" {
				return string(fact.Lot)
			}
		case *records.Receipt:
			if lot == "" {
				lot = string(fact.Lot)
			}
		}
	}
	return lot
}

// period is what is asked for, in days.
func (c *rehearseCommand) period(st *state.State, size records.Position, at records.Instant) (from, to calendar.Date, err error) {
	p := st.PlanAt(at)
	if p == nil {
		return 0, 0, &records.Error{Kind: records.NotFound, What: "no plan is in the journal, so there is nothing to make a binder of"}
	}
	to = p.Day(st.First(size - 1).Recorded)
	if c.To != "" {
		if to, err = calendar.ParseDate(c.To); err != nil {
			return 0, 0, wrongFlag("--to", c.To, "a date such as 2026-03-08")
		}
	}
	from = to.AddMonths(-24)
	if c.From != "" {
		if from, err = calendar.ParseDate(c.From); err != nil {
			return 0, 0, wrongFlag("--from", c.From, "a date such as 2026-03-08")
		}
	}
	if from > to {
		return 0, 0, wrongFlag("--from", from.String(), "a day before "+to.String())
	}
	return from, to, nil
}
