package binder

import (
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/metrics"
	"strconv"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"grainward/audit"
	"grainward/exports"
	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/plan"
	"grainward/records/state"
)

// bigRows is how many entries the benchmarks' journal has; GRAINWARD_BENCH_ROWS changes it.
func bigRows() int {
	if n, err := strconv.Atoi(os.Getenv("GRAINWARD_BENCH_ROWS")); err == nil {
		return n
	}
	return 20_000
}

// bigInput is a journal of readings, two numbers each, a minute apart.
func bigInput(b *testing.B, n int) Input {
	b.Helper()
	text := planText(b)
	p, err := plan.Parse([]byte(text))
	if err != nil {
		b.Fatal(err)
	}
	st := state.New()
	first := at("2026-01-05T12:00:00Z")
	st.Apply(0, records.Entry{Happened: at("2026-01-04T12:00:00Z"), Recorded: at("2026-01-04T12:00:00Z"), By: "nora", Kind: records.KindPlan, Meaning: records.Approved, Fact: &records.Adoption{Text: text}})
	people := []records.PersonCode{"hank", "lucia", "grete", "beto"}
	happened := first
	for i := 1; i <= n; i++ {
		happened = first + records.Instant(i)*60_000
		id := records.EntryID{byte(i >> 24), byte(i >> 16), byte(i >> 8), byte(i), 6: 0x70, 8: 0x80}
		st.Apply(records.Position(i), records.Entry{ID: id, Happened: happened, Recorded: happened + 30_000, By: people[i%4], Kind: records.KindSignoff, Meaning: records.Performed,
			Fact: &records.Signoff{Task: "kiln-load", Station: "kiln", Outcome: records.Passed, Lots: []records.LotCode{"PB-2026-031"},
				Answers: []records.Response{{Ask: "depth", Value: qty("24."+strconv.Itoa(i%10), "in")}, {Ask: "level", Yes: yes()}}}})
	}
	rep := audit.At(st, happened)
	return Input{Report: rep, From: date("2026-01-05"), To: p.Day(happened), TempDir: b.TempDir(),
		Leaf:  func(pos records.Position) (ledger.Hash, error) { return ledger.Hash{byte(pos), byte(pos >> 8)}, nil },
		Stamp: exports.Stamp{Plant: p.Plant.Name, Address: p.Plant.Address, Origin: origin, Size: st.Size(), Root: ledger.Hash{1}, At: happened, Program: "grainward bench", MadeBy: "Nora Feldt"}}
}

// recordedSheet keeps every row of a sheet as it was handed to the stream writer.
type recordedSheet struct {
	name string
	rows [][]any
}

// BenchmarkBinder is the binder of a long journal.
func BenchmarkBinder(b *testing.B) {
	in := bigInput(b, bigRows())
	b.ResetTimer()
	rows := 0
	for b.Loop() {
		if _, err := writeAs(b.Context(), io.Discard, in, nil, func(x *builder) { x.tap = func(string, int, []any) { rows++ } }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows)/b.Elapsed().Seconds(), "rows/s")
}

// BenchmarkBinderAgainstRaw writes the same cells with the library's stream writer and nothing else, in turn with the
// binder, and gives how fast the binder is of that.
func BenchmarkBinderAgainstRaw(b *testing.B) {
	in := bigInput(b, bigRows())
	var sheets []recordedSheet
	if _, err := writeAs(b.Context(), io.Discard, in, nil, func(x *builder) {
		x.tap = func(sheet string, _ int, vals []any) {
			if len(sheets) == 0 || sheets[len(sheets)-1].name != sheet {
				sheets = append(sheets, recordedSheet{name: sheet})
			}
			row := make([]any, len(vals))
			for i, v := range vals {
				cell := *v.(*excelize.Cell)
				row[i] = &cell
			}
			s := &sheets[len(sheets)-1]
			s.rows = append(s.rows, row)
		}
	}); err != nil {
		b.Fatal(err)
	}
	var ours, raw, oursCPU, rawCPU time.Duration
	b.ResetTimer()
	for b.Loop() {
		runtime.GC()
		t, used := time.Now(), cpu(b)
		if err := Write(b.Context(), io.Discard, in, nil); err != nil {
			b.Fatal(err)
		}
		ours, oursCPU = ours+time.Since(t), oursCPU+cpu(b)-used
		runtime.GC()
		t, used = time.Now(), cpu(b)
		if err := rawBook(sheets, in.TempDir); err != nil {
			b.Fatal(err)
		}
		raw, rawCPU = raw+time.Since(t), rawCPU+cpu(b)-used
	}
	b.ReportMetric(raw.Seconds()/ours.Seconds(), "of-raw")
	b.ReportMetric(rawCPU.Seconds()/oursCPU.Seconds(), "of-raw-cpu") // the steadier one on a machine that has other work
	b.ReportMetric(0, "ns/op")
}

// cpu is the processor time this process has used.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func rawBook(sheets []recordedSheet, dir string) error {
	f := excelize.NewFile(excelize.Options{TmpDir: dir})
	defer f.Close()
	if _, err := styles(f); err != nil {
		return err
	}
	for i, s := range sheets {
		if _, err := f.NewSheet(fmt.Sprintf("S%d", i)); err != nil {
			return err
		}
		sw, err := f.NewStreamWriter(fmt.Sprintf("S%d", i))
		if err != nil {
			return err
		}
		for r, row := range s.rows {
			if err := sw.SetRow("A"+strconv.Itoa(r+1), row); err != nil {
				return err
			}
		}
		if err := sw.Flush(); err != nil {
			return err
		}
	}
	_, err := f.WriteTo(io.Discard)
	return err
}

// BenchmarkBinderMemory gives the most live memory while a binder is written, over what was there before.
func BenchmarkBinderMemory(b *testing.B) {
	in := bigInput(b, bigRows())
	runtime.GC()
	read := func() uint64 {
		s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		metrics.Read(s)
		return s[0].Value.Uint64()
	}
	before := read()
	var peak atomic.Uint64
	rows := 0
	for b.Loop() {
		if _, err := writeAs(b.Context(), io.Discard, in, func(int, int) {
			if now := read(); now > peak.Load() {
				peak.Store(now)
			}
		}, func(x *builder) { x.tap = func(string, int, []any) { rows++ } }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(peak.Load()-before)/1e6, "MB-peak")
	b.ReportMetric(float64(rows/b.N), "rows")
}
