package yardstick

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"grainward/cmd/bigplant"
	"grainward/records"
)

// Config says what is measured, how often, and where.
type Config struct {
	Dir    string // where the files lie while it measures; the system's place for such when empty
	Seed   uint64
	Size   int      // entries of the journal; lots of the trace
	Only   []string // names of measures; all when empty
	Rounds int      // turns of ours and the peer's; 3 when 0
	Each   int      // sign-offs a device makes in a round; 250 when 0

	Devices int // that sign off at once; 64 when 0

	NewPlant func(ctx context.Context, dir string, planText []byte) (*Place, error) // makes a plant's directory
	Now      func() time.Time
	Say      func(text string)                      // what is being done now; may be nil
	Bar      func(doing string) func(done, all int) // progress of what takes long; may be nil, and may give nil
}

// Place is a plant's directory as the program makes one.
type Place struct {
	Journal string // path of the journal's file
	People  string // path of the file of PINs
	Signer  string // the plant's private key
	Origin  string // the journal's name
	Serve   func(ctx context.Context) (*Served, error)
}

// Served is a plant being served.
type Served struct {
	URL  string
	PID  int // of the process that serves it; 0 when it is this one
	Stop func() error
}

const (
	Least = 300        // entries: fewer have nothing in them to measure
	Most  = 20_000_000 // entries: about 12 GB of memory and 10 of disk
)

// measure is one of the things measured.
type measure struct {
	name string
	asks []string // what of the design's table it answers for, in its words
	run  func(context.Context, *run) ([]Row, error)
}

// measures are in the order in which they are told. They run in another: see Run.
var measures = []measure{
	{"sign-offs", []string{"sign-offs acknowledged durable over HTTP, 64 devices at once, 2 cores"}, signOffs},
	{"opening", []string{"cold start, 1,000,000 entries"}, opening},
	{"findings", []string{"all findings over 5 years and 1,000,000 entries"}, findings},
	{"trace", []string{"trace with masses, 1,000,000 lots, 2,000,000 edges"}, traces},
	{"binder", []string{"binder of 500,000 rows"}, binders},
	{"memory", []string{"resident memory"}, memory},
	{"crew-page", []string{"the crew page"}, crewPage},
}

// order is how they run: what needs the open book first, then without its memory what needs a server or a graph.
var order = []string{"memory", "opening", "findings", "binder", "sign-offs", "trace", "crew-page"}

// Names are the names of the measures.
func Names() (all []string) {
	for _, m := range measures {
		all = append(all, m.name)
	}
	return all
}

// run is one measuring under way.
type run struct {
	Config
	dir    string
	plant  *built // the journal, once it is there
	open   *opened
	disk   float64 // the best rate of one fsync a record, so far
	record int     // bytes of one
}

func (c *Config) check() error {
	if c.Size < Least || c.Size > Most {
		return wrong("size", fmt.Sprint(c.Size), fmt.Sprintf("from %d to %d entries", Least, Most))
	}
	if most := len(bigplant.Crew()); c.Devices < 0 || c.Devices > most {
		return wrong("devices", fmt.Sprint(c.Devices), fmt.Sprintf("from 1 to %d", most))
	}
	for _, name := range c.Only {
		if !slices.Contains(Names(), name) {
			return wrong("measure", name, "one of "+strings.Join(Names(), ", "))
		}
	}
	return nil
}

func wrong(field, value, want string) error {
	return &records.Error{Kind: records.Invalid, What: "that can not be measured", Fields: []records.FieldError{{Field: field, Value: value, Want: want}}}
}

// Run measures. What it puts on the disk is gone when it returns, also when ctx ends it.
func Run(ctx context.Context, c Config) (rep *Report, err error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	if c.Rounds == 0 {
		c.Rounds = 3
	}
	if c.Each == 0 {
		c.Each = 250
	}
	if c.Devices == 0 {
		c.Devices = 64
	}
	if c.Say == nil {
		c.Say = func(string) {}
	}
	if c.Bar == nil {
		c.Bar = func(string) func(int, int) { return nil }
	}
	dir, err := os.MkdirTemp(c.Dir, "grainward-bench-")
	if err != nil {
		return nil, onDisk(err)
	}
	r := &run{Config: c, dir: dir}
	defer func() { err = errors.Join(err, r.close(), os.RemoveAll(dir)) }()
	rows := map[string][]Row{}
	for _, name := range order {
		if len(c.Only) > 0 && !slices.Contains(c.Only, name) {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m := measures[slices.IndexFunc(measures, func(m measure) bool { return m.name == name })]
		if rows[name], err = m.run(ctx, r); err != nil {
			return nil, fmt.Errorf("measuring %s: %w", name, onDisk(err))
		}
	}
	if r.disk == 0 {
		if r.disk, err = r.syncRate(ctx, time.Second/2); err != nil {
			return nil, onDisk(err)
		}
	}
	rep = &Report{Made: c.Now().UTC().Truncate(time.Second), Seed: c.Seed, Size: c.Size, Machine: thisMachine(r.disk)}
	for _, m := range measures {
		rep.Rows = append(rep.Rows, rows[m.name]...)
	}
	return rep, nil
}

// sub is a new directory below that of the run.
func (r *run) sub(name string) string { return filepath.Join(r.dir, name) }
