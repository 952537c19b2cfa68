package main

import (
	"cmp"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	formatslog "github.com/transparency-dev/formats/log"
	formatsproof "github.com/transparency-dev/formats/proof"
	merkleproof "github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
	"golang.org/x/mod/sumdb/note"

	"grainward/audit/audittest"
	"grainward/records"
)

// ask runs a command on a quiet world and gives what it printed.
func ask(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs strings.Builder
	if code := Run(t.Context(), args, quietWorld(&out, &errs)); code != 0 {
		t.Fatalf("%q: exit code %d\n%s", args, code, &errs)
	}
	return out.String()
}

// TestDemo builds the demo and holds what the program says of it against programs written apart from it.
func TestDemo(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	ask(t, "demo", "--no-serve", "--dir", dir)
	lines := strings.Split(strings.TrimSuffix(ask(t, "export", "--dir", dir), "\n"), "\n")
	var entries []records.Entry
	for i, line := range lines {
		e, err := records.Parse([]byte(line))
		if err != nil {
			t.Fatalf("line %d: %v", i, err)
		}
		entries = append(entries, e)
	}
	t.Run("findings", func(t *testing.T) { findingsByOracle(t, dir, entries) })
	t.Run("proofs", func(t *testing.T) { proofsByPeer(t, dir, lines) })
	t.Run("trace", func(t *testing.T) { traceByHand(t, dir, entries) })
}

// findingsByOracle holds findings --json against the slow audit of audit/audittest, at several moments.
func findingsByOracle(t *testing.T, dir string, entries []records.Entry) {
	first, last := entries[0].Happened, entries[len(entries)-1].Recorded
	for _, at := range []records.Instant{first + (last-first)/4, first + (last-first)/2, last} {
		var said struct {
			Findings []audittest.Expected
		}
		if err := json.Unmarshal([]byte(ask(t, "findings", "--json", "--dir", dir, "--at", at.String())), &said); err != nil {
			t.Fatal(err)
		}
		said.Findings = slices.DeleteFunc(said.Findings, func(f audittest.Expected) bool {
			rule, _, _ := strings.Cut(f.ID, ":")
			return !audittest.Knows(rule)
		})
		for i := range said.Findings {
			slices.Sort(said.Findings[i].Evidence)
		}
		slices.SortFunc(said.Findings, func(a, b audittest.Expected) int {
			return cmp.Or(strings.Compare(a.ID, b.ID), cmp.Compare(a.When, b.When))
		})
		should := audittest.Findings(entries, at)
		if len(should) == 0 {
			t.Errorf("at %s nothing is found, so nothing is shown", at)
		}
		for i := range max(len(should), len(said.Findings)) {
			switch {
			case i >= len(should):
				t.Fatalf("at %s: %+v, and the oracle has no more", at, said.Findings[i])
			case i >= len(said.Findings):
				t.Fatalf("at %s: the oracle has %+v too", at, should[i])
			}
			a, b := said.Findings[i], should[i]
			same := slices.Equal(a.Evidence, b.Evidence) // an empty list and none are the same
			a.Evidence, b.Evidence = nil, nil
			if !same || !reflect.DeepEqual(a, b) {
				t.Fatalf("at %s:\n  %+v, the oracle\n  %+v", at, said.Findings[i], should[i])
			}
		}
		t.Logf("at %s: %d findings agree", at, len(should))
	}
}

// proofsByPeer checks proof files with github.com/transparency-dev/formats v0.1.1 and merkle v0.0.2 alone, from what a
// stranger would hold: the proof, the public key and the exported line.
func proofsByPeer(t *testing.T, dir string, lines []string) {
	key, err := os.ReadFile(plantDir(dir).vkeyFile())
	if err != nil {
		t.Fatal(err)
	}
	verifier, err := note.NewVerifier(strings.TrimSpace(string(key)))
	if err != nil {
		t.Fatal(err)
	}
	for _, pos := range []int{0, 1, len(lines) / 2, len(lines) - 1} {
		var p formatsproof.TLogProof
		if err := p.Unmarshal([]byte(ask(t, "prove", strconv.Itoa(pos), "--dir", dir))); err != nil {
			t.Fatal(err)
		}
		head, _, _, err := formatslog.ParseCheckpoint(p.Checkpoint, verifier.Name(), verifier)
		if err != nil || head.Size != uint64(len(lines)) || p.Index != uint64(pos) {
			t.Fatalf("position %d: checkpoint %+v, index %d, %v", pos, head, p.Index, err)
		}
		var hashes [][]byte
		for _, h := range p.Hashes {
			hashes = append(hashes, h[:])
		}
		leaf := rfc6962.DefaultHasher.HashLeaf([]byte(lines[pos]))
		if err := merkleproof.VerifyInclusion(rfc6962.DefaultHasher, p.Index, head.Size, leaf, hashes, head.Hash); err != nil {
			t.Errorf("position %d: %v", pos, err)
		}
		leaf[7] ^= 1
		if merkleproof.VerifyInclusion(rfc6962.DefaultHasher, p.Index, head.Size, leaf, hashes, head.Hash) == nil {
			t.Errorf("position %d: the peer accepts another leaf too", pos)
		}
	}
}

// TestAdoptAsks answers the question that a terminal is asked before a plan is adopted.
func TestAdoptAsks(t *testing.T) {
	dir := adoptedPlant(t)
	text := strings.Replace(smallPlan, "title: Sweep", "title: Sweep well", 1)
	if err := os.WriteFile(dir.planFile(), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ typed, says string }{{"\n", "Not adopted"}, {"no\n", "Not adopted"}, {"", "Not adopted"}, {"yes\n", "Adopted: entry 1"}} {
		var out, errs strings.Builder
		w := &world{in: strings.NewReader(c.typed), out: &out, err: &errs, asks: true, now: time.Now}
		if code := Run(t.Context(), []string{"plan", "adopt", "--dir", string(dir), "--by", "nora"}, w); code != 0 || !strings.Contains(out.String(), c.says) || !strings.Contains(errs.String(), "[y/N]") {
			t.Errorf("typed %q: exit code %d\n%s%s", c.typed, code, &out, &errs)
		}
	}
}

// TestProgress wants long work to draw on standard error when that is a terminal, and nothing anywhere when it is not.
func TestProgress(t *testing.T) {
	var out, errs strings.Builder
	w := &world{in: strings.NewReader(""), out: &out, err: &errs, progress: true, now: time.Now}
	bar := w.steps("polishing")
	for done := range 10 {
		bar(done, 10)
	}
	if !strings.Contains(errs.String(), "polishing") || out.Len() > 0 {
		t.Fatalf("standard error %q, output %q", &errs, &out)
	}
	w.progress = false
	if w.steps("polishing") != nil {
		t.Fatal("a bar is drawn where there is no terminal")
	}
}
