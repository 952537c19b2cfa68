package records

import (
	"fmt"
	"runtime"
	"testing"
	"unsafe"
)

// benchRows writes n sign-offs as a plant would: two answers, a note, a handful of people, stations and tasks.
func benchRows(tb testing.TB, n int) []Row {
	rows := make([]Row, n)
	for i := range rows {
		yes := true
		reading, err := ParseDecimal(fmt.Sprintf("%d.%d", i%9, i%10))
		if err != nil {
			tb.Fatal(err)
		}
		at := Instant(1_772_955_000_000 + int64(i)*60_000)
		e := Entry{
			ID: contentID(at, [32]byte{byte(i), byte(i >> 8), byte(i >> 16)}), Happened: at, Recorded: at + 41_250,
			By: PersonCode(fmt.Sprintf("crew-%d", i%7)), Device: "tablet-2", Meaning: Performed, Kind: KindSignoff,
			Fact: &Signoff{
				Task: TaskCode(fmt.Sprintf("scrub-floor-%d", i%11)), Station: StationCode(fmt.Sprintf("germination-%d", i%5)),
				Window: at - 3_600_000, Started: at - 900_000, Outcome: Passed, Note: "drain cover lifted",
				Answers: []Response{
					{Ask: "ozone-residue", Value: &Quantity{Value: reading, Unit: "mg/L"}},
					{Ask: "visibly-clean", Yes: &yes},
				},
			},
		}
		if rows[i], err = Format(e); err != nil {
			tb.Fatal(err)
		}
	}
	return rows
}

func BenchmarkFormat(b *testing.B) {
	row := benchRows(b, 1)[0]
	e, err := Parse(row.Bytes)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(row.Bytes)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Format(e); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkWritten is the whole check of an entry that is to be taken in.
func BenchmarkWritten(b *testing.B) {
	e, err := Parse(benchRows(b, 1)[0].Bytes)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Written(e); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkParse(b *testing.B)        { benchmarkReading(b, Parse) }
func BenchmarkParseTrusted(b *testing.B) { benchmarkReading(b, ParseTrusted) }

func benchmarkReading(b *testing.B, parse func([]byte) (Entry, error)) {
	rows := benchRows(b, 1000)
	b.SetBytes(int64(len(rows[0].Bytes)))
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		if _, err := parse(rows[i%len(rows)].Bytes); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

// BenchmarkEntryKept measures what a decoded sign-off keeps on the heap. The design allows 600 bytes an entry with
// everything else in it.
func BenchmarkEntryKept(b *testing.B) {
	const n = 100_000
	rows := benchRows(b, n)
	for b.Loop() {
		kept := make([]Entry, n)
		before := heapInUse()
		for i, row := range rows {
			var err error
			if kept[i], err = ParseTrusted(row.Bytes); err != nil {
				b.Fatal(err)
			}
		}
		grown := float64(heapInUse()-before) / n
		b.ReportMetric(grown, "heap-B/entry")
		b.ReportMetric(grown+float64(sizeOfEntry), "with-envelope-B/entry")
		runtime.KeepAlive(kept)
		runtime.KeepAlive(rows)
	}
}

func heapInUse() int64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

const sizeOfEntry = unsafe.Sizeof(Entry{})
