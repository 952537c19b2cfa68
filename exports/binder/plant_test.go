package binder

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"strings"
	"testing"

	"grainward/audit"
	"grainward/exports"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/calendar"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/records/plan"
)

const origin = "quillmere.example/journal"

// plant is an invented malt house with a journal, as small as a test needs it.
type plant struct {
	t     testing.TB
	store *memory.Store
	book  *book.Book
	plan  *plan.Plan
	key   string
	now   records.Instant
	n     int
}

// seedReader gives the same key every time.
type seedReader struct{}

func (seedReader) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(i)
	}
	return len(p), nil
}

func newPlant(t testing.TB, planText string) *plant {
	t.Helper()
	signer, verifier, err := ledger.GenerateKey(seedReader{}, origin)
	if err != nil {
		t.Fatal(err)
	}
	p := &plant{t: t, store: memory.New(), key: verifier, now: at("2026-03-02T10:00:00Z")}
	if p.plan, err = plan.Parse([]byte(planText)); err != nil {
		t.Fatal(err)
	}
	p.book, err = book.Open(t.Context(), p.store, book.Options{Origin: origin, Signer: signer, Now: func() records.Instant { return p.now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.book.Close(); err != nil {
			t.Error(err)
		}
	})
	sum := sha256.Sum256([]byte(planText))
	p.admit(at("2025-01-06T10:00:00Z"), "nora", &records.Adoption{Text: planText, SHA256: hex.EncodeToString(sum[:]), Note: "first plan"})
	return p
}

func at(text string) records.Instant {
	i, err := records.ParseInstant(text)
	if err != nil {
		panic(err)
	}
	return i
}

// admit writes an entry that happened then and is written down ten minutes later; ids are made from a counter.
func (p *plant) admit(happened records.Instant, by records.PersonCode, f records.Fact) records.EntryID {
	p.t.Helper()
	p.now = max(p.now, happened+600_000)
	return p.late(happened, by, f)
}

func (p *plant) late(happened records.Instant, by records.PersonCode, f records.Fact) records.EntryID {
	p.t.Helper()
	p.n++
	id, err := records.ParseEntryID(fmt.Sprintf("0197f2a4-1c5e-7b3a-9d2e-%012x", p.n))
	if err != nil {
		p.t.Fatal(err)
	}
	row, _ := records.RowOf(f.Kind())
	if _, err := p.book.Admit(p.t.Context(), records.Entry{ID: id, Happened: happened, By: by, Meaning: row.Meanings[0], Kind: f.Kind(), Fact: f}); err != nil {
		p.t.Fatal(err)
	}
	return id
}

func yes() *bool { b := true; return &b }
func no() *bool  { b := false; return &b }

func qty(text, unit string) *records.Quantity {
	d, err := records.ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return &records.Quantity{Value: d, Unit: unit}
}

func date(text string) calendar.Date {
	d, err := calendar.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// hostile are texts that a spreadsheet program might take for something else, or lose. The first are those OWASP names for
// formula injection (its page "CSV Injection").
var hostile = []string{
	`=1+2";=1+2`, `=1+2'" ;,=1+2`, "+1+2", "-1+2", "@SUM(1,2)", "\t=1+2", "\r=1+2", "\n=1+2", "=HYPERLINK(\"https://malt.example\",\"see\")", "=cmd|' /C calc'!A0",
	"0123", "1e5", "TRUE", "2026-03-08", "_x0041_", "a\x00b\x07c", "<b>&amp;</b>", "\u202etxt.exe", "tail \n", " lead", "ünïcödé 麦芽 🌾", "A*", "~?", "'quoted",
}

// fill writes a few dozen entries of every kind into March 2026, mistakes and hostile texts included.
func (p *plant) fill() {
	day := func(d int, clock string) records.Instant { return at(fmt.Sprintf("2026-03-%02dT%s-05:00", d, clock)) }
	load := p.admit(day(2, "10:30:00"), "amadeo", &records.Signoff{Task: "load-bed", Station: "floor-1", Outcome: records.Passed,
		Answers: []records.Response{{Ask: "floor-clean", Yes: yes()}, {Ask: "mass", Value: qty("8.0", "ton")}}, Lots: []records.LotCode{"PB-2026-031"}})
	for d := 3; d <= 5; d++ {
		p.admit(day(d, "06:10:00"), "lucia", &records.Signoff{Task: "turn-bed", Station: "floor-1", Outcome: records.Passed, Answers: []records.Response{{Ask: "whole", Yes: yes()}}, Started: day(d, "05:40:00")})
		p.admit(day(d, "06:20:00"), "lucia", &records.Signoff{Task: "bed-temperature", Station: "floor-1", Outcome: records.Passed,
			Answers: []records.Response{{Ask: "top", Value: qty("64.50", "degF")}, {Ask: "bottom", Value: qty("55", "degF")}}})
		if d != 4 {
			p.admit(day(d, "19:00:00"), "hank", &records.Signoff{Task: "turn-bed", Station: "floor-1", Outcome: records.Passed, Answers: []records.Response{{Ask: "whole", Yes: yes()}}})
		}
	}
	hot := p.admit(day(5, "19:10:00"), "hank", &records.Signoff{Task: "bed-temperature", Station: "floor-1", Outcome: records.Failed,
		Answers: []records.Response{{Ask: "top", Value: qty("72.4", "degF")}, {Ask: "bottom", Value: qty("59", "degF")}}, Action: "Turned at once, doors opened."})
	p.admit(day(5, "20:30:00"), "hank", &records.Signoff{Task: "bed-temperature", Station: "floor-1", Outcome: records.Passed,
		Answers: []records.Response{{Ask: "top", Value: qty("66", "degF")}, {Ask: "bottom", Value: qty("57", "degF")}}})
	p.admit(day(6, "07:00:00"), "beto", &records.Signoff{Task: "strip-bed", Station: "floor-1", Outcome: records.Passed, Answers: []records.Response{{Ask: "bare", Yes: yes()}}})
	p.admit(day(6, "09:30:00"), "beto", &records.Signoff{Task: "floor-scrub", Station: "floor-1", Outcome: records.Passed,
		Answers: []records.Response{{Ask: "strength", Value: qty("2.1", "mg/L")}, {Ask: "residue", Value: qty("0.3", "mg/L")}, {Ask: "room-air", Value: qty("0.02", "ppm")}, {Ask: "clean", Yes: yes()}},
		Agents:  []records.AgentUse{{Agent: "ozone-water", Lot: "gen 1", Strength: qty("2.1", "mg/L")}}})
	dev := p.admit(day(6, "10:00:00"), "grete", &records.Deviation{What: "Water dripped on the bed from the ceiling.", Task: "bed-temperature", Station: "floor-1",
		Lots: []records.LotCode{"PB-2026-031"}, Entries: []records.EntryID{hot}, Action: "Moved the bed aside."})
	p.admit(day(6, "15:00:00"), "nora", &records.Answer{Deviation: dev, Cause: "A loose valve.", Action: "Valve tightened.", Lots: "PB-2026-031 kept; wet part taken out.", Prevention: "Valve on the walk round.", Closes: true})
	wrong := p.admit(day(9, "08:00:00"), "jun", &records.Signoff{Task: "scale-check", Station: "bagger", Outcome: records.Passed, Answers: []records.Response{{Ask: "shown", Value: qty("5.02", "lb")}}})
	fix := p.admit(day(9, "08:20:00"), "jun", &records.Correct{Target: wrong, Reason: "A digit was left out.", With: &records.Replacement{Kind: records.KindSignoff,
		Fact: &records.Signoff{Task: "scale-check", Station: "bagger", Outcome: records.Passed, Answers: []records.Response{{Ask: "shown", Value: qty("50.2", "lb")}}}}})
	p.admit(day(9, "08:25:00"), "jun", &records.Correct{Target: fix, Reason: "The point was in the wrong place.", With: &records.Replacement{Kind: records.KindSignoff, Happened: day(9, "07:58:00"),
		Fact: &records.Signoff{Task: "scale-check", Station: "bagger", Outcome: records.Passed, Answers: []records.Response{{Ask: "shown", Value: qty("50.02", "lb")}}}}})
	twice := p.admit(day(9, "11:00:00"), "grete", &records.Signoff{Task: "magnet-check", Station: "mill", Outcome: records.Passed, Answers: []records.Response{{Ask: "found", Choice: "none"}}})
	p.admit(day(9, "11:05:00"), "grete", &records.Correct{Target: twice, Reason: "Wrong station.", Withdraw: true})
	p.admit(day(9, "16:00:00"), "nora", &records.Signoff{Task: "training-safety", Station: "office", Outcome: records.Passed, Trainees: []records.PersonCode{"jun", "grete"},
		Answers: []records.Response{{Ask: "topics", Text: "Grain, lock-out, ozone; Nora Feldt"}}})
	p.admit(day(10, "09:00:00"), "nora", &records.Excuse{Task: "sieve-test", Station: "mill", From: day(10, "00:00:00"), To: day(12, "23:00:00"), Reason: "Mill taken apart for repair."})
	from, to := date("2025-06-01"), date("2026-05-31")
	pdf, err := p.book.PutBlob(p.t.Context(), []byte("%PDF-1.7 certificate"))
	if err != nil {
		p.t.Fatal(err)
	}
	p.admit(day(10, "09:30:00"), "nora", &records.Document{Code: "organic-certificate", Title: "Organic certificate", Type: "certificate", Subject: records.Subject{Of: "plant"}, Issuer: "Larkfield Organic Certification",
		Number: "LF-0417", From: &from, To: &to, File: &records.File{SHA256: pdf, Size: 20, Media: "application/pdf", Name: "organic.pdf"}})
	for i, text := range hostile {
		p.admit(day(11, "08:00:00")+records.Instant(i*60_000), "amadeo", &records.Deviation{What: text, Station: "mill"})
	}
	p.admit(day(11, "10:00:00"), "beto", &records.Signoff{Task: "sieve-test", Station: "mill", Outcome: records.Passed, Note: "=1+2",
		Answers: []records.Response{{Ask: "coarse", Value: qty("21.5", "%")}, {Ask: "fine", Value: qty("80", "g")}, {Ask: "sieves", Yes: no()}}, Action: "+1 sieve ordered"})
	size := p.book.View().Head.Size
	p.admit(day(12, "17:00:00"), "nora", &records.Review{From: 0, To: size - 1, Except: []records.EntryID{load}, Note: "Bed mass to be asked again."})
	p.now = day(14, "12:00:00")
	p.late(day(12, "06:00:00"), "lucia", &records.Signoff{Task: "water-check", Station: "steep-1", Outcome: records.Passed, Answers: []records.Response{{Ask: "chlorine", Value: qty("1.2", "mg/L")}, {Ask: "taste", Yes: yes()}}})
}

// input is a binder of the plant as it is now.
func (p *plant) input(from, to string) Input {
	v := p.book.View()
	moment := p.now
	return Input{
		Report: audit.At(v.State, moment), From: date(from), To: date(to), Leaf: p.book.Leaf, TempDir: p.t.TempDir(),
		Stamp: exports.Stamp{Plant: p.plan.Plant.Name, Address: p.plan.Plant.Address, Origin: origin, Size: v.Head.Size, Root: v.Head.Root,
			Checkpoint: v.Head.Checkpoint, VerifierKey: p.key, At: moment, Program: "grainward test", MadeBy: "Nora Feldt"},
	}
}

// filled is the plant most tests look at, and its binder of the first half of March.
func filled(t testing.TB) (*plant, Input) {
	t.Helper()
	p := newPlant(t, planText(t))
	p.fill()
	return p, p.input("2026-03-02", "2026-03-14")
}

func made(t testing.TB, in Input) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(context.Background(), &b, in, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// planText is the starter plan as it was when the golden sheets were written, so that they do not move when it does.
func planText(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("testdata/plan.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// longText is more than a cell holds.
func longText(n int) string { return strings.Repeat("grain ", n/6+1)[:n] }
