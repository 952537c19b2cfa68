package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// bench runs the command; the servers it starts are this test binary.
func bench(t *testing.T, ctx context.Context, args ...string) (out, notes string, code int) {
	t.Helper()
	t.Setenv(serverVariable, "bench")
	t.Setenv("GRAINWARD_DIR", "/nowhere") // of no concern to what is measured
	var o, e strings.Builder
	w := &world{in: strings.NewReader(""), out: &o, err: &e, now: time.Now}
	code = Run(ctx, append([]string{"bench"}, args...), w)
	return o.String(), e.String(), code
}

// The whole command on a small plant, with servers in processes of their own: a table, JSON of the same, a drawing made of two of them, and
// nothing left behind.
func TestBench(t *testing.T) {
	dir, kept := t.TempDir(), t.TempDir()
	file, svg := filepath.Join(kept, "figures.json"), filepath.Join(kept, "growth.svg")
	out, notes, code := bench(t, t.Context(), "--growth", "--sizes", "900,300", "--devices", "2", "--only", "sign-offs,memory,crew-page", "--dir", dir, "--json", file, "--svg", svg)
	if code != 0 {
		t.Fatalf("exit code %d\n%s%s", code, out, notes)
	}
	for _, want := range []string{"sign-offs, 2 devices at once", "one fsync a record", "crew page, first load", "Journal: 300 entries", "Journal: 900 entries", "processor time a sign-off, server"} {
		if !strings.Contains(out, want) && (want != "processor time a sign-off, server" || isThere("/proc/self/stat")) {
			t.Errorf("%q is not in\n%s", want, out)
		}
	}
	if !strings.Contains(notes, "size 2 of 2: 900 entries") {
		t.Error(notes)
	}
	if got, err := os.ReadDir(dir); err != nil || len(got) > 0 {
		t.Error("left behind:", got, err)
	}
	drawn, err := os.ReadFile(svg)
	if err != nil || !strings.Contains(string(drawn), "from 300 to 900 entries") {
		t.Error(err)
	}
	// The same from the figures alone.
	again := filepath.Join(kept, "again.svg")
	told, _, code := bench(t, t.Context(), "--from", file, "--svg", again)
	if redrawn, err := os.ReadFile(again); code != 0 || err != nil || string(redrawn) != string(drawn) || told != out {
		t.Error(code, err, told)
	}
}

func TestBenchCheck(t *testing.T) {
	path := filepath.Join(t.TempDir(), "figures.json")
	for ratio, want := range map[string]int{"2.9": 0, "3.1": 3} {
		text := `{"what":"grainward bench","reports":[{"made":"2026-03-09T12:00:00Z","seed":1,"size":1000,"machine":{"cpu":"c","cores":2,"system":"s","go":"g","syncRate":1000},
"rows":[{"name":"opening","what":"opening the journal","ours":{"value":3,"unit":"s"},"peer":"reading and hashing","theirs":{"value":1,"unit":"s"},"ratio":` + ratio + `,"limit":{"most":3}}]}]}`
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, notes, code := bench(t, t.Context(), "--from", path, "--check"); code != want || strings.Contains(out, "SHORT") != (want == 3) {
			t.Errorf("ratio %s: exit code %d\n%s%s", ratio, code, out, notes)
		}
		if _, _, code := bench(t, t.Context(), "--from", path); code != 0 {
			t.Errorf("without --check, exit code %d", code)
		}
	}
}

// What can not be measured is said before anything is done.
func TestBenchRefuses(t *testing.T) {
	dir := t.TempDir()
	bad := filepath.Join(dir, "bad.json")
	if err := os.WriteFile(bad, []byte("{}"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args string
		code int
		says string
	}{
		{"--size 5", 2, "from 300 to"},
		{"--only speed", 2, "one of sign-offs"},
		{"--devices 0", 2, "at least 1"},
		{"--svg " + filepath.Join(dir, "x.svg"), 2, "--growth"},
		{"--json " + filepath.Join(dir, "gone", "x.json"), 5, "Check the path."},
		{"--from " + filepath.Join(dir, "gone.json"), 5, "gone.json"},
		{"--from " + bad, 2, "does not hold what grainward bench writes"},
		{"--dir " + filepath.Join(dir, "gone") + " --size 500", 5, "name another with --dir"},
	} {
		out, notes, code := bench(t, t.Context(), strings.Fields(c.args)...)
		if code != c.code || !strings.Contains(notes, c.says) {
			t.Errorf("bench %s: exit code %d\n%s%s", c.args, code, out, notes)
		}
	}
	if got, err := os.ReadDir(dir); err != nil || len(got) != 1 {
		t.Error(got, err)
	}
}

// Stopped while a server of another process runs: it ends too, and its plant is gone.
func TestBenchStopped(t *testing.T) {
	dir := t.TempDir()
	ctx, stop := context.WithCancel(t.Context())
	go func() {
		for !isThere(dir) || !letIn(dir) {
			time.Sleep(5 * time.Millisecond)
		}
		stop()
	}()
	out, notes, code := bench(t, ctx, "--size", "600", "--devices", "8", "--only", "sign-offs", "--dir", dir)
	if code == 0 || !strings.Contains(notes, "stopped before it was done") {
		t.Errorf("exit code %d\n%s%s", code, out, notes)
	}
	if got, err := os.ReadDir(dir); err != nil || len(got) > 0 {
		t.Error("left behind:", got, err)
	}
}

// letIn says whether somebody has been let in yet.
func letIn(dir string) bool {
	all, _ := filepath.Glob(filepath.Join(dir, "grainward-bench-*", "plant", "people.db"))
	return len(all) > 0
}

func isThere(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
