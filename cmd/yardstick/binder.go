package yardstick

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/xuri/excelize/v2"

	"grainward/exports"
	"grainward/exports/binder"
)

// binders is the binder of the last eight months, against the stream writer alone with the same cells, and its memory.
func binders(ctx context.Context, r *run) (rows []Row, err error) {
	o, err := r.opened(ctx)
	if err != nil {
		return nil, err
	}
	if o.report == nil {
		if _, _, err := r.judged(ctx); err != nil {
			return nil, err
		}
	}
	in := r.binderInput(o)
	r.Say("memory of a binder of the last eight months")
	peak, n, err := binderMemory(ctx, in)
	if err != nil {
		return nil, err
	}
	r.Say("keeping its cells for the peer")
	sheets, err := cellsOf(ctx, in)
	if err != nil {
		return nil, err
	}
	var ours, raw times
	var oursCPU, rawCPU times
	rounds := min(r.Rounds, 2) // each takes long, and there is little between them
	for turn := range rounds {
		r.Say(fmt.Sprintf("writing the binder, and the same cells bare, round %d of %d", turn+1, rounds))
		runtime.GC()
		used := processorTime()
		if err := ours.try(func() error { return binder.Write(ctx, io.Discard, in, nil) }); err != nil {
			return nil, err
		}
		oursCPU = append(oursCPU, processorTime()-used)
		runtime.GC()
		used = processorTime()
		if err := raw.try(func() error { return rawBook(ctx, sheets, r.dir) }); err != nil {
			return nil, err
		}
		rawCPU = append(rawCPU, processorTime()-used)
	}
	speed := Row{Name: "binder", What: "binder of eight months", Ours: seconds(ours.best()), Peer: "the stream writer", Theirs: seconds(raw.best()), Ratio: over(raw.best(), ours.best()), Limit: &Limit{Least: 0.85},
		Also: []Also{{"rows", Figure{float64(n), ""}}, {"rows a second", Figure{float64(n) / ours.best().Seconds(), ""}}}}
	if cpu := rawCPU.best(); cpu > 0 {
		speed.Also = append(speed.Also, Also{"ratio of processor time", Figure{over(cpu, oursCPU.best()), ""}})
	}
	return []Row{speed, {Name: "binder-memory", What: "memory while it is written", Ours: Figure{float64(peak) / 1e6, "MB"}, Limit: &Limit{Most: 300, Unit: "MB"}}}, nil
}

// binderInput is the last eight months of the journal as it stands.
func (r *run) binderInput(o *opened) binder.Input {
	at := o.report.At
	p, head := o.report.State.PlanAt(at), o.book.View().Head
	to := p.Day(at)
	return binder.Input{Report: o.report, From: max(p.Plant.Since, to.AddMonths(-8)), To: to, Leaf: o.book.Leaf, TempDir: r.dir,
		Stamp: exports.Stamp{Plant: p.Plant.Name, Address: p.Plant.Address, Origin: r.plant.Origin, Size: head.Size, Root: head.Root, At: at, Program: "grainward bench", MadeBy: "grainward bench"}}
}

// binderMemory is the most that is found live by any collection while a binder is written, above what was before. Collections come
// after every fifth of growth while it is measured, so that there are many to look at; what is dead does not count.
func binderMemory(ctx context.Context, in binder.Input) (peak uint64, rows int, err error) {
	before := live()
	defer debug.SetGCPercent(debug.SetGCPercent(20))
	var most atomic.Uint64
	stop, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		s := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
		for tick := time.NewTicker(2 * time.Millisecond); ; {
			select {
			case <-stop:
				tick.Stop()
				return
			case <-tick.C:
				metrics.Read(s)
				most.Store(max(most.Load(), s[0].Value.Uint64()))
			}
		}
	}()
	err = binder.WriteSeen(ctx, io.Discard, in, nil, func(string, int, []excelize.Cell) { rows++ })
	close(stop)
	<-ended
	if most.Load() > before {
		peak = most.Load() - before
	}
	return peak, rows, err
}

// sheet is the rows of one sheet as they were handed to the stream writer.
type sheet struct {
	name string
	rows [][]any
}

// cellsOf keeps every cell of a binder.
func cellsOf(ctx context.Context, in binder.Input) (sheets []sheet, err error) {
	err = binder.WriteSeen(ctx, io.Discard, in, nil, func(name string, _ int, row []excelize.Cell) {
		if len(sheets) == 0 || sheets[len(sheets)-1].name != name {
			sheets = append(sheets, sheet{name: name})
		}
		cells, vals := slices.Clone(row), make([]any, len(row))
		for i := range cells {
			vals[i] = &cells[i]
		}
		s := &sheets[len(sheets)-1]
		s.rows = append(s.rows, vals)
	})
	return sheets, err
}

// rawBook writes sheets with the library's stream writer and nothing else.
func rawBook(ctx context.Context, sheets []sheet, dir string) (err error) {
	f := excelize.NewFile(excelize.Options{TmpDir: dir})
	defer func() { err = errors.Join(err, f.Close()) }()
	if err := binder.Styled(f); err != nil {
		return err
	}
	for i, s := range sheets {
		if err := ctx.Err(); err != nil {
			return err
		}
		name := "S" + strconv.Itoa(i)
		if _, err := f.NewSheet(name); err != nil {
			return err
		}
		sw, err := f.NewStreamWriter(name)
		if err != nil {
			return err
		}
		for n, row := range s.rows {
			if err := sw.SetRow("A"+strconv.Itoa(n+1), row); err != nil {
				return err
			}
		}
		if err := sw.Flush(); err != nil {
			return err
		}
	}
	_, err = f.WriteTo(io.Discard)
	return err
}
