package main

import (
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"os"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"grainward/server"
)

// TestWatch looks at a serving process through its own door and its log.
func TestWatch(t *testing.T) {
	dir := adoptedPlant(t)
	if code := Run(t.Context(), []string{"backup", "--dir", string(dir), t.TempDir() + "/b.db"}, quietWorld(io.Discard, os.Stderr)); code != 0 {
		t.Fatalf("backup: exit code %d", code)
	}
	cmd, base, errs := startServer(t, dir, "--watch", "0", "--log", "json", "--log-level", "info")
	for range 3 {
		get(t, base)
	}
	text := fetch(t, cmd.watched+"/metrics", 200)
	for _, want := range []string{
		`grainward_requests_total{class="2xx",method="GET",plant="plant",route="/"} 3`,
		`grainward_journal_entries{plant="plant"} 1`,
		`grainward_ready{plant="plant"} 1`,
		`grainward_backup_timestamp_seconds{plant="plant"} `,
		`grainward_journal_bytes{plant="plant"} `,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%s is not in\n%s", want, regexp.MustCompile(`(?m)^(#|go_|process_).*\n`).ReplaceAllString(text, ""))
		}
	}
	if got := fetch(t, cmd.watched+"/healthz", 200); got != "plant: ok\n" {
		t.Error(got)
	}
	fetch(t, base+"/healthz", 200)
	if err := os.Rename(dir.journal(), dir.journal()+".away"); err != nil {
		t.Fatal(err)
	}
	for status := http.StatusOK; status == http.StatusOK; { // for a second what was found is kept
		res, err := http.Get(cmd.watched + "/healthz")
		if err != nil {
			t.Fatal(err)
		}
		status = res.StatusCode
		res.Body.Close()
	}
	if got := fetch(t, cmd.watched+"/healthz", 503); got != "plant: The journal is not where it was.\n" {
		t.Error(got)
	}
	if err := os.Rename(dir.journal()+".away", dir.journal()); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	asked, trouble := 0, 0
	for line := range strings.Lines(errs.String()) {
		var l struct{ Msg, Plant, Route, Err string }
		if err := json.Unmarshal([]byte(line), &l); err != nil || l.Plant != "plant" && l.Msg != "serving" && l.Msg != "stopped" {
			t.Errorf("%v: %s", err, line)
		}
		switch l.Msg {
		case "asked":
			asked++
		case "no entries are taken":
			trouble++
		}
	}
	if text := errs.String(); !strings.Contains(text, `"msg":"serving"`) || !strings.Contains(text, `"msg":"stopped"`) {
		t.Error("the log does not say when it began and stopped")
	}
	if asked != 4 || trouble != 1 {
		t.Errorf("%d requests and %d troubles in\n%s", asked, trouble, errs)
	}
}

func fetch(t *testing.T, url string, status int) string {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != status {
		t.Errorf("%s: %d %v\n%s", url, res.StatusCode, err, body)
	}
	return string(body)
}

// A log that was given beforehand is the one that is written to.
func TestServedKeepsItsLog(t *testing.T) {
	dir := adoptedPlant(t)
	var own, flags strings.Builder
	log := slog.New(slog.NewTextHandler(&own, nil))
	o, err := openServed(t.Context(), quietWorld(io.Discard, &flags), &plantFlag{Dir: dir}, &listenFlags{watchFlags: watchFlags{Log: "text", LogLevel: "info"}}, "plant", server.Config{Log: log})
	if err != nil {
		t.Fatal(err)
	}
	defer o.close()
	if o.server.Log != log {
		t.Error("the log of the flags took the place of the one that was given")
	}
}
