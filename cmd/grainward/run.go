package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"

	"grainward/records"
)

// world is what the program uses of the world around it.
type world struct {
	in       io.Reader
	out, err io.Writer
	asks     bool // there is somebody at a terminal to answer a question
	progress bool // standard error is a terminal
	now      func() time.Time
}

func (w *world) instant() records.Instant { return records.InstantOf(w.now()) }

func (w *world) say(format string, args ...any) { fmt.Fprintf(w.out, format+"\n", args...) }

func (w *world) note(format string, args ...any) { fmt.Fprintf(w.err, format+"\n", args...) }

// commands is the whole command line; each field is a file of its own.
type commands struct {
	Init       initCommand       `cmd:"" help:"Start a plant: a directory with a key, an empty journal and a plan to edit."`
	Plan       planCommand       `cmd:"" help:"Check the plan, print its JSON Schema, compare it, adopt it."`
	Import     importCommand     `cmd:"" help:"Write down facts from a file, one a line: all of them or none."`
	Export     exportCommand     `cmd:"" help:"Print entries as they are stored, one canonical JSON text a line."`
	Findings   findingsCommand   `cmd:"" help:"What is missing, late, failed or overdue."`
	Trace      traceCommand      `cmd:"" help:"Everything a lot, bag, partner, station, agent or person had to do with, upstream and down."`
	Lots       lotsCommand       `cmd:"" help:"The lots that stand at the plant."`
	Station    stationCommand    `cmd:"" help:"What is at a station, and its timeline with changeovers."`
	Balance    balanceCommand    `cmd:"" help:"What the masses come to: processes, inventory, organic in and out."`
	Drill      drillCommand      `cmd:"" help:"Record a recall drill, step by step."`
	Binder     binderCommand     `cmd:"" help:"Write the audit binder of a period: one workbook."`
	Verify     verifyCommand     `cmd:"" help:"Recompute everything from the stored bytes and name what is not as it was written."`
	Prove      proveCommand      `cmd:"" help:"Write a proof that one entry is in the signed journal."`
	Checkpoint checkpointCommand `cmd:"" help:"Print the journal's newest signed tree head."`
	Backup     backupCommand     `cmd:"" help:"Copy the journal to a new file, also while it is in use, and read it back."`
	Restore    restoreCommand    `cmd:"" help:"Make a backup the journal of a plant that has none."`
	Rehearse   rehearseCommand   `cmd:"" help:"Restore a backup elsewhere, answer a request for records from it, and say how long that took."`
	Size       sizeCommand       `cmd:"" help:"How large the records are, how they grow, and when the disk is full."`
	Copy       copyCommand       `cmd:"" help:"Copy a journal between a file and a MongoDB database, either way; both have the same tree head then."`
	Pin        pinCommand        `cmd:"" help:"Set somebody's PIN, read from standard input."`
	Enrol      enrolCommand      `cmd:"" help:"Make a code that enrols a device, so that PINs are taken on it."`
	Company    companyCommand    `cmd:"" help:"Write or check the file that says which plants a company has."`
	Serve      serveCommand      `cmd:"" help:"Answer browsers on this machine: sign work off, see findings, make a binder."`
	Unit       unitCommand       `cmd:"" help:"Write units for systemd: a service, and a backup each night."`
	Guide      guideCommand      `cmd:"" help:"Print how to install, upgrade and move a server of the plant."`
	Demo       demoCommand       `cmd:"" help:"Build an invented malt house with eighteen months of records, and serve it."`
	Bench      benchCommand      `cmd:"" help:"Measure this program on this machine against its limits."`
	Version    versionCommand    `cmd:"" help:"Print the program's version."`
}

const about = `Keeps the food-safety and organic records of a small grain plant. What it says is what the records show; the certifier and the authority having jurisdiction decide.`

const exitCodes = `Exit codes: 0 done; 1 a fault of the program; 2 usage, or input that is not as it should be; 3 verify found something, or bench --check something short of its limit; 4 busy, another process holds the plant; 5 not there; 6 storage: read-only, full, damaged, too new, or not answering.

A command that reads or writes a plant takes --dir DIR; without it, the environment variable GRAINWARD_DIR names the directory. Its journal is in a MongoDB database with --mongo URI, or with GRAINWARD_MONGO in the environment. Times are on the plant's clock unless they carry an offset.`

// left is how --help ends the reading of a command line.
type left int

// Run does what args say and gives the exit code.
func Run(ctx context.Context, args []string, w *world) (code int) {
	defer func() {
		if r := recover(); r != nil {
			n, ok := r.(left)
			if !ok {
				w.note("grainward: a fault of the program: %v\nPlease report it, with the command that led to it. The journal is safe: what was acknowledged is stored.", r)
				code = 1
				return
			}
			code = int(n)
		}
	}()
	var cli commands
	parser, err := kong.New(&cli, kong.Name("grainward"), kong.Description(about+"\n\n"+exitCodes), kong.Writers(w.out, w.err),
		kong.Exit(func(code int) { panic(left(code)) }), kong.ConfigureHelp(kong.HelpOptions{Compact: true, WrapUpperBound: 110}),
		kong.BindTo(ctx, (*context.Context)(nil)), kong.Bind(w))
	if err != nil {
		w.note("grainward: %v", err)
		return 1
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parsed, err := parser.Parse(args)
	if err != nil {
		w.note("grainward: %s\nRun \"grainward --help\" for the commands, and \"grainward COMMAND --help\" for one of them.", strings.TrimSuffix(err.Error(), "."))
		return 2
	}
	if err := parsed.Run(); err != nil {
		return report(w, err)
	}
	return 0
}

// errFaulty is how verify ends when it has found something, having said what.
var errFaulty = errors.New("verify found something")

// report says an error to a person and gives its exit code.
func report(w *world, err error) int {
	switch {
	case errors.Is(err, errFaulty), errors.Is(err, errShort):
		return 3
	case errors.Is(err, context.Canceled):
		w.note("grainward: stopped before it was done.")
		return 1
	case records.KindOf(err) == records.Internal && (errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)): // of whatever is written, a binder's part or standard output
		w.note("grainward: %v\nFree some space on the disk and do it again; nothing half written was left behind.", err)
		return exitCode(records.Full)
	}
	w.note("grainward: %v", err)
	return exitCode(records.KindOf(err))
}

// exitCode is the one place where kinds of error become exit codes.
func exitCode(k records.ErrorKind) int {
	switch k {
	case records.Invalid, records.Conflict, records.Denied:
		return 2
	case records.Busy:
		return 4
	case records.NotFound:
		return 5
	case records.ReadOnly, records.Full, records.TooNew, records.Corrupt, records.Unavailable:
		return 6
	}
	return 1
}

// wrongFlag is a value of the command line that can not be used.
func wrongFlag(name, value, want string) error {
	return &records.Error{Kind: records.Invalid, What: "the command line is not right", Fields: []records.FieldError{{Field: name, Value: value, Want: want}}}
}
