package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// serverVariable names the plant that this test binary is to serve, when it is run as another process.
const serverVariable = "GRAINWARD_TEST_SERVER"

// TestInterrupted interrupts a serving process: it ends in order, and another writer is let in.
func TestInterrupted(t *testing.T) {
	dir := adoptedPlant(t)
	cmd := exec.Command(os.Args[0], "serve", "--dir", string(dir), "--listen", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), serverVariable+"=1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	get(t, address(t, out))
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatalf("it ended with %v", err)
	}
	var errs strings.Builder
	if code := Run(t.Context(), []string{"import", "--dir", string(dir), "-"}, quietWorld(io.Discard, &errs)); code != 0 {
		t.Fatalf("writing after it: exit code %d, %s", code, &errs)
	}
}

func quietWorld(out, errs io.Writer) *world {
	return &world{in: strings.NewReader(""), out: out, err: errs, now: time.Now}
}

// adoptedPlant is a small plant whose plan is in force.
func adoptedPlant(t *testing.T) plantDir {
	t.Helper()
	dir := plantDir(filepath.Join(t.TempDir(), "plant"))
	if err := startPlant(t.Context(), dir, "Brackwater Mill", []byte(smallPlan)); err != nil {
		t.Fatal(err)
	}
	if code := Run(t.Context(), []string{"plan", "adopt", "--dir", string(dir), "--by", "nora"}, quietWorld(io.Discard, os.Stderr)); code != 0 {
		t.Fatalf("adopting the plan: exit code %d", code)
	}
	return dir
}

// address reads where a server says it is.
func address(t *testing.T, said io.Reader) string {
	t.Helper()
	line, err := bufio.NewReader(said).ReadString('\n')
	url := regexp.MustCompile(`http://127\.0\.0\.1:[1-9]\d*`).FindString(line)
	if err != nil || url == "" {
		t.Fatalf("it said %q; %v", line, err)
	}
	return url
}

func get(t *testing.T, url string) {
	t.Helper()
	r, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(r.Body)
	r.Body.Close()
	if err != nil || r.StatusCode != 200 || !strings.Contains(string(page), "Brackwater Mill") {
		t.Fatalf("%s: %v\n%s", r.Status, err, page)
	}
}

// TestServe serves a plant, asks it for a page while another command is refused the lock, and ends it.
func TestServe(t *testing.T) {
	dir := adoptedPlant(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	said, out := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- Run(ctx, []string{"serve", "--dir", string(dir), "--listen", "127.0.0.1:0"}, quietWorld(out, os.Stderr))
		out.Close()
	}()
	get(t, address(t, said))
	var errs strings.Builder
	if code := Run(t.Context(), []string{"import", "--dir", string(dir), "-"}, quietWorld(io.Discard, &errs)); code != 4 || !strings.Contains(errs.String(), "open for writing by") {
		t.Errorf("a second writer: exit code %d, %s", code, &errs)
	}
	cancel()
	if code := <-ended; code != 0 {
		t.Errorf("it ended with exit code %d", code)
	}
	if code := Run(t.Context(), []string{"verify", "--dir", string(dir)}, quietWorld(io.Discard, os.Stderr)); code != 0 {
		t.Errorf("verify: exit code %d", code)
	}
}
