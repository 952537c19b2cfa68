package main

import (
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"grainward/records"
	"grainward/records/faulttest"
)

// A file is named when it is whole: not while it is written, not when writing it fails, and never over another.
func TestFilesAreNamedWhenWhole(t *testing.T) {
	names := func(dir string) (out []string) {
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			out = append(out, e.Name())
		}
		return out
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "b.xlsx")
	half := func(then func() error) func(io.Writer) error {
		return func(w io.Writer) error {
			if _, err := w.Write(make([]byte, 1<<20)); err != nil {
				return err
			}
			if borne(path) {
				t.Error("half a file bears the name")
			}
			return then()
		}
	}
	broken := errors.New("the power of the printer")
	if err := writeWhole(path, half(func() error { return broken })); !errors.Is(err, broken) || len(names(dir)) != 0 {
		t.Errorf("%v left %v", err, names(dir))
	}
	if err := writeWhole(path, half(func() error { return os.WriteFile(path, []byte("theirs"), 0o644) })); records.KindOf(err) != records.Conflict || !slices.Equal(names(dir), []string{"b.xlsx"}) {
		t.Errorf("somebody was quicker: %v, %v", err, names(dir))
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "theirs" {
		t.Errorf("theirs is %q, %v", text, err)
	}
	worked := false
	if err := writeWhole(path, func(io.Writer) error { worked = true; return nil }); records.KindOf(err) != records.Conflict || worked {
		t.Errorf("a file that is there: %v, and it worked for nothing: %v", err, worked)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(filepath.Join(dir, "nowhere"), path); err != nil {
		t.Fatal(err)
	}
	if err := writeNew(path, []byte("x"), 0o644); records.KindOf(err) != records.Conflict {
		t.Errorf("over a link to nowhere: %v", err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := writeWhole(path, half(func() error { return nil })); err != nil || !slices.Equal(names(dir), []string{"b.xlsx"}) {
		t.Errorf("%v, %v", err, names(dir))
	}
	if info, err := os.Stat(path); err != nil || info.Size() != 1<<20 || info.Mode().Perm() != 0o644 {
		t.Errorf("%v %v", info, err)
	}
	if err := writeWhole(filepath.Join(dir, "no", "b.xlsx"), half(func() error { return nil })); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
}

// TestBinderKilled kills `grainward binder` at moments over all its length: what bears the name is whole, or nothing does, and
// given again it works.
func TestBinderKilled(t *testing.T) {
	rounds := faulttest.Times(t, 6)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	dir := busyPlant(t)
	out := t.TempDir()
	of := func(path string) []string {
		return []string{"binder", "--dir", string(dir), "--from", "2026-01-01", "--to", "2026-12-31", "--out", path}
	}
	long := mustEnd(t, of(filepath.Join(out, "whole.xlsx"))...)
	left := map[string]int{}
	for round := range rounds {
		path := filepath.Join(out, fmt.Sprint(round, ".xlsx"))
		_, _, _ = started(t, moment(r, long, round, rounds), of(path)...)
		was := "absent"
		if borne(path) {
			was = "whole"
			mustRun(t, "verify", "--dir", string(dir), path)
		}
		left[was]++
		if code, _, said := started(t, 0, of(path)...); (code != 0) != (was == "whole") {
			t.Fatalf("round %d, after %s: again: exit code %d\n%s", round, was, code, said)
		}
		mustRun(t, "verify", "--dir", string(dir), path)
	}
	faulttest.Count(t, rounds, "kills of `grainward binder`", fmt.Sprintf("left %v; each could be made again", left))
	if left["absent"] == 0 {
		t.Error("it was never killed half way, so little was shown")
	}
}
