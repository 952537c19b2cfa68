package mongo

import (
	"crypto/sha256"
	"fmt"
	"net"
	"testing"
	"time"

	"grainward/records"
)

var noon = records.InstantOf(time.Date(2026, 3, 2, 17, 0, 0, 0, time.UTC))

const planText = `grainward: 1
plant: {name: Brackwater Mill, address: 1 Weir Road, zone: America/New_York, since: 2026-03-02}
stations:
  - {code: mill, title: Mill, kind: mill, holds: passes}
tasks:
  - {code: sweep, title: Sweep, family: sanitation, stations: [mill]}
people:
  - {code: nora, name: Nora Feldt, initials: NF, role: lead}
`

func adoption() records.Entry {
	return records.Entry{ID: records.NewEntryID(), Happened: noon.Add(-time.Hour), By: "nora", Meaning: records.Approved, Kind: records.KindPlan,
		Fact: &records.Adoption{Text: planText, SHA256: fmt.Sprintf("%x", sha256.Sum256([]byte(planText)))}}
}

func deviation() records.Entry {
	return records.Entry{ID: records.NewEntryID(), Happened: noon, By: "nora", Meaning: records.Performed, Kind: records.KindDeviation,
		Fact: &records.Deviation{What: "dust on the sill", Station: "mill"}}
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// scripted is a connection that says what it was told to.
type scripted struct {
	net.Conn
	in []byte
}

func (s *scripted) Write(p []byte) (int, error) { return len(p), nil }
func (s *scripted) Close() error                { return nil }
func (s *scripted) Read(p []byte) (int, error) {
	n := copy(p, s.in)
	s.in = s.in[n:]
	return n, nil
}

func mustWrite(t *testing.T, c net.Conn, p []byte) {
	t.Helper()
	if n, err := c.Write(p); n != len(p) || err != nil {
		t.Fatalf("writing: %d bytes, %v", n, err)
	}
}
