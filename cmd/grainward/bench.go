package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"grainward/cmd/yardstick"
)

type benchCommand struct {
	Size    int      `default:"1000000" placeholder:"N" help:"Entries of the journal, and lots of the trace."`
	Seed    uint64   `default:"1" placeholder:"N" help:"Another number, another plant."`
	Only    []string `placeholder:"NAME,..." help:"Measure these only: sign-offs, opening, findings, trace, binder, memory, crew-page."`
	Devices int      `default:"64" placeholder:"N" help:"Devices that sign off at once."`
	Growth  bool     `help:"Measure at every size of --sizes, for how the costs grow."`
	Sizes   []int    `default:"10000,30000,100000,300000,1000000,3000000" placeholder:"N,..." help:"With --growth: the sizes."`
	JSON    string   `name:"json" placeholder:"FILE" help:"Write the figures there as well, as JSON."`
	SVG     string   `name:"svg" placeholder:"FILE" help:"Draw how the costs grow there, with --growth or --from."`
	From    string   `placeholder:"FILE" help:"Measure nothing: take the figures that --json wrote."`
	Dir     string   `placeholder:"DIR" help:"Where its files lie while it measures: the disk whose fsync counts; the system's temporary directory when left out."`
	Check   bool     `help:"End with exit code 3 when something is not within its limit."`
}

// Help is the long help of the command.
func (*benchCommand) Help() string {
	return `Draws a plant from a seed, writes its journal, and measures what the design promises, each number beside a peer that does the bare minimum of the same work, in the same run. Ratios carry from machine to machine; seconds do not. Let nothing else run meanwhile. The first run of 1,000,000 entries takes some minutes and 1.5 GB of disk.

What it makes on the disk it removes, also when it is stopped with Ctrl-C.`
}

func (c *benchCommand) Run(ctx context.Context, w *world) error {
	if c.SVG != "" && !c.Growth && c.From == "" {
		return wrongFlag("--svg", c.SVG, "a growth to draw: --growth, or --from FILE")
	}
	if c.Devices < 1 {
		return wrongFlag("--devices", fmt.Sprint(c.Devices), "at least 1")
	}
	for _, path := range []string{c.JSON, c.SVG} { // before minutes are spent on what could not be written
		if err := writable(path); err != nil {
			return err
		}
	}
	reports, err := c.reports(ctx, w)
	if err != nil {
		return err
	}
	for i, r := range reports {
		if i > 0 {
			w.say("")
		}
		if err := yardstick.WriteTable(w.out, r); err != nil {
			return err
		}
	}
	if c.JSON != "" && c.From == "" {
		if err := overwrite(c.JSON, func(out io.Writer) error { return yardstick.FormatJSON(out, reports) }); err != nil {
			return err
		}
	}
	if c.SVG != "" {
		if err := overwrite(c.SVG, func(out io.Writer) error { return yardstick.Draw(out, reports) }); err != nil {
			return err
		}
	}
	if c.Check && slices.ContainsFunc(reports, func(r *yardstick.Report) bool { return len(r.Short()) > 0 }) {
		return errShort
	}
	return nil
}

// errShort is how bench --check ends when something is not within its limit; the table has said what.
var errShort = errors.New("not everything is within its limit")

func (c *benchCommand) reports(ctx context.Context, w *world) (all []*yardstick.Report, err error) {
	if c.From != "" {
		f, err := os.Open(c.From)
		if err != nil {
			return nil, fileError("reading", c.From, err)
		}
		defer f.Close()
		return yardstick.ParseJSON(f)
	}
	sizes := []int{c.Size}
	if c.Growth {
		sizes = slices.Clone(c.Sizes)
		slices.Sort(sizes)
	}
	begun := w.now()
	for i, size := range sizes {
		config := yardstick.Config{Dir: c.Dir, Seed: c.Seed, Size: size, Only: c.Only, Devices: c.Devices, Now: w.now, NewPlant: benchPlant(w),
			Say: func(text string) { w.note("%s  %s", elapsed(w.now().Sub(begun)), text) }, Bar: w.steps}
		if c.Growth {
			w.note("%s  size %d of %d: %d entries", elapsed(w.now().Sub(begun)), i+1, len(sizes), size)
			config.Rounds = 2
		}
		r, err := yardstick.Run(ctx, config)
		if err != nil {
			return nil, err
		}
		all = append(all, r)
	}
	return all, nil
}

func elapsed(d time.Duration) string {
	return fmt.Sprintf("%2d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}

// writable says beforehand whether a file can be written.
func writable(path string) error {
	if path == "" {
		return nil
	}
	if info, err := os.Stat(filepath.Dir(path)); err != nil || !info.IsDir() {
		return fileError("writing", path, errors.Join(err, os.ErrNotExist))
	}
	return nil
}

// overwrite writes a file anew, whole or not at all.
func overwrite(path string, fill func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return fileError("writing", path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	out := bufio.NewWriter(f)
	if err := errors.Join(fill(out), out.Flush(), f.Chmod(0o644), f.Close()); err != nil {
		return fileError("writing", path, err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return fileError("writing", path, err)
	}
	return nil
}

// benchPlant makes plants' directories as init does, to be served by this program in a process of its own.
func benchPlant(w *world) func(ctx context.Context, dir string, planText []byte) (*yardstick.Place, error) {
	return func(ctx context.Context, dir string, planText []byte) (*yardstick.Place, error) {
		d := plantDir(dir)
		if err := startPlant(ctx, d, "bench", planText); err != nil {
			return nil, err
		}
		signer, err := d.signer()
		if err != nil {
			return nil, err
		}
		origin, err := originOf(signer, true)
		if err != nil {
			return nil, err
		}
		return &yardstick.Place{Journal: d.journal(), People: d.people(), Signer: signer, Origin: origin,
			Serve: func(ctx context.Context) (*yardstick.Served, error) { return serveElsewhere(ctx, d) }}, nil
	}
}

// serveElsewhere runs `grainward serve` and gives where it answers.
func serveElsewhere(ctx context.Context, d plantDir) (s *yardstick.Served, err error) {
	self, err := os.Executable()
	if err != nil {
		return nil, fmt.Errorf("finding this program, to serve with: %w", err)
	}
	cmd := exec.CommandContext(ctx, self, "serve", "--dir", string(d), "--listen", "127.0.0.1:0")
	for _, v := range os.Environ() { // another plant's place must not become this one's
		if !strings.HasPrefix(v, "GRAINWARD_DIR=") && !strings.HasPrefix(v, "GRAINWARD_MONGO=") {
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	cmd.WaitDelay = 20 * time.Second
	var said strings.Builder
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("starting the server: %w", err)
	}
	stop := func() error {
		_ = cmd.Process.Signal(os.Interrupt) // it may have ended by itself: Wait tells
		_, _ = io.Copy(io.Discard, out)
		if err := cmd.Wait(); err != nil && ctx.Err() == nil {
			return fmt.Errorf("the server ended with %w: %s", err, strings.TrimSpace(said.String()))
		}
		return nil
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if _, rest, ok := strings.Cut(lines.Text(), " at http"); ok {
			url, _, _ := strings.Cut("http"+rest, ". Press")
			return &yardstick.Served{URL: url, PID: cmd.Process.Pid, Stop: stop}, nil
		}
	}
	return nil, errors.Join(errors.New("the server did not say where it answers"), lines.Err(), stop(), ctx.Err())
}
