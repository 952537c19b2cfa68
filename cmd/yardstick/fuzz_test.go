package yardstick

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"syscall"
	"testing"
	"time"

	"grainward/records"
)

// FuzzParseJSON: whatever a file holds, it is refused as input, or can be told, drawn if it is a growth, and written again as it was read.
func FuzzParseJSON(f *testing.F) {
	var b bytes.Buffer
	if err := FormatJSON(&b, samples()[:2]); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte(`{"what":"grainward bench","reports":[{"size":300,"machine":{"cpu":"\u0000<&\u001b[2J"},"rows":[{"name":"opening","ours":{"value":1e-12},"peer":"x","theirs":{"value":1e15}}]},{"size":20000000}]}`))
	f.Add([]byte(`{"what":"grainward bench","reports":[{"size":300,"rows":[{"name":"opening","ours":{"value":1e308}}]},{"size":301}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		rs, err := ParseJSON(bytes.NewReader(data))
		if err != nil {
			if records.KindOf(err) != records.Invalid {
				t.Fatal(err)
			}
			return
		}
		for _, r := range rs {
			if err := WriteTable(io.Discard, r); err != nil {
				t.Fatal(err)
			}
		}
		var svg, once, twice bytes.Buffer
		switch err := Draw(&svg, rs); {
		case err == nil:
			dec := xml.NewDecoder(&svg)
			for {
				if _, err := dec.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatal(err)
				}
			}
		case records.KindOf(err) != records.Invalid:
			t.Fatal(err)
		}
		if err := FormatJSON(&once, rs); err != nil {
			t.Fatal(err)
		}
		again, err := ParseJSON(bytes.NewReader(once.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		if err := FormatJSON(&twice, again); err != nil || once.String() != twice.String() {
			t.Fatal(err)
		}
	})
}

// What another process is said to have used is what the system's own accounting says, for the one process both can be asked about.
func TestUsedBy(t *testing.T) {
	for begun := time.Now(); time.Since(begun) < 60*time.Millisecond; {
	}
	cpu, resident, ok := usedBy(os.Getpid())
	if !ok {
		t.Skip("the system has no /proc")
	}
	own := processorTime()
	if d := own - cpu; d < -50*time.Millisecond || d > 500*time.Millisecond || cpu < 20*time.Millisecond {
		t.Errorf("%v, and %v by getrusage", cpu, own)
	}
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	if most := uint64(u.Maxrss) * 1024; resident == 0 || resident > most+most/4 {
		t.Errorf("%d bytes, and at most %d by getrusage", resident, most)
	}
	if _, _, ok := usedBy(1 << 30); ok {
		t.Error("a process that is none")
	}
}

// A full disk is said as one.
func TestOnDisk(t *testing.T) {
	for err, want := range map[error]records.ErrorKind{syscall.ENOSPC: records.Full, syscall.EROFS: records.ReadOnly, os.ErrNotExist: records.NotFound} {
		if got := onDisk(&os.PathError{Op: "write", Path: "x", Err: err}); records.KindOf(got) != want {
			t.Errorf("%v: %v", err, got)
		}
	}
}
