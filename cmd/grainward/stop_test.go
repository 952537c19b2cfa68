package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"grainward/cmd/crowd"
	"grainward/records"
	"grainward/records/sqlite"
	"grainward/server/auth"
)

// passes enrol so many devices at a plant, for its people of the crew in turn.
func passes(t testing.TB, dir plantDir, n int, people ...records.PersonCode) (all []crowd.Pass) {
	t.Helper()
	now := func() records.Instant { return records.InstantOf(time.Now()) }
	a, err := auth.Open(dir.people(), auth.Options{Now: now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}}) // hashes that cost little
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	for _, who := range people {
		if err := a.SetPIN(t.Context(), who, "", "4071"); err != nil {
			t.Fatal(err)
		}
	}
	for i := range n {
		code, _, err := a.MakeCode(t.Context(), "", fmt.Sprint("Tablet ", i), 0)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, crowd.Pass{Code: code, Person: people[i%len(people)], PIN: "4071"})
	}
	return all
}

// swept is a sign-off of the small plan's task.
func swept(who records.PersonCode) (records.EntryID, []byte) {
	e := records.Entry{ID: records.NewEntryID(), Happened: records.InstantOf(time.Now()), By: who, Meaning: records.Performed, Kind: records.KindSignoff,
		Fact: &records.Signoff{Task: "sweep", Station: "mill", Outcome: records.Passed}}
	row, err := records.Format(e)
	if err != nil {
		panic(err)
	}
	return e.ID, row.Bytes
}

// signoffs are the ids of the sign-offs in a plant's journal.
func signoffs(t *testing.T, dir plantDir) map[records.EntryID]int {
	t.Helper()
	store, err := dir.openStore(t.Context(), sqlite.Read)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	there := map[records.EntryID]int{}
	err = store.Read(t.Context(), 0, func(_ records.Position, row records.Row) error {
		e, err := records.ParseTrusted(row.Bytes)
		if err == nil && e.Kind == records.KindSignoff {
			there[e.ID]++
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return there
}

// TestStopsUnderLoad tells a serving process to stop while devices sign at it. It ends in order and with exit code 0; what is in the
// journal is what was acknowledged, no more and no less.
func TestStopsUnderLoad(t *testing.T) {
	for _, sig := range []os.Signal{syscall.SIGTERM, os.Interrupt} {
		t.Run(sig.String(), func(t *testing.T) {
			dir := adoptedPlant(t)
			all := passes(t, dir, 6, "amadeo", "nora")
			cmd, base, errs := startServer(t, dir)
			c, err := crowd.Enrol(t.Context(), base, all)
			if err != nil {
				t.Fatal(err)
			}
			defer c.Leave()
			var mu sync.Mutex
			acknowledged := map[records.EntryID]bool{}
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			ended := make(chan error, 1)
			tally := c.Go(ctx, func(device, turn int) (crowd.Ask, bool) {
				id, body := swept(c.Person(device))
				return crowd.Ask{Kind: "sign-off", Method: http.MethodPost, Path: "/api/entries", Body: body, Heard: func(status int, _ []byte) {
					if status != http.StatusCreated {
						return
					}
					mu.Lock()
					defer mu.Unlock()
					if acknowledged[id] = true; len(acknowledged) == 100 {
						if err := cmd.Process.Signal(sig); err != nil {
							t.Error(err)
						}
						go func() { ended <- cmd.Wait(); stop() }()
					}
				}}, true
			})
			if err := <-ended; err != nil {
				t.Errorf("it ended with %v: %s", err, errs)
			}
			for status, n := range tally.Kinds["sign-off"].Refused {
				if status >= 500 && status != http.StatusServiceUnavailable {
					t.Errorf("%d were answered with %d", n, status)
				}
			}
			there := signoffs(t, dir)
			for id := range acknowledged {
				if there[id] != 1 {
					t.Errorf("%s was acknowledged and is there %d times", id, there[id])
				}
			}
			if len(there) != len(acknowledged) || len(there) < 100 {
				t.Errorf("%d are in the journal, %d were acknowledged", len(there), len(acknowledged))
			}
			if code := Run(t.Context(), []string{"verify", "--dir", string(dir)}, quietWorld(io.Discard, os.Stderr)); code != 0 {
				t.Errorf("verify: exit code %d", code)
			}
		})
	}
}

// serving is a process that serves a plant.
type serving struct {
	*exec.Cmd
	watched string // where its metrics are, when it was told to have them
}

// startServer serves a plant in a process of its own. What it says on standard error is whole once it has ended.
func startServer(t *testing.T, dir plantDir, more ...string) (cmd *serving, base string, errs *strings.Builder) {
	t.Helper()
	cmd = &serving{Cmd: exec.Command(os.Args[0], append([]string{"serve", "--dir", string(dir), "--listen", "127.0.0.1:0"}, more...)...)}
	cmd.Env = append(os.Environ(), serverVariable+"=1")
	errs = &strings.Builder{}
	cmd.Stderr = errs
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	lines := bufio.NewReader(out)
	for base == "" {
		line, err := lines.ReadString('\n')
		if err != nil {
			t.Fatalf("it said nothing of where it serves: %v", err)
		}
		url := regexp.MustCompile(`http://127\.0\.0\.1:[1-9]\d*`).FindString(line)
		switch {
		case strings.HasPrefix(line, "Serving"):
			base = url
		case strings.HasPrefix(line, "Metrics"):
			cmd.watched = url
		}
	}
	return cmd, base, errs
}

// TestStopsAtOnce: a second signal does not wait for somebody who asks and does not read.
func TestStopsAtOnce(t *testing.T) {
	cmd, base, _ := startServer(t, adoptedPlant(t))
	at := strings.TrimPrefix(base, "http://")
	conn, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	// Until no buffer between the two holds more, and the server waits in the midst of an answer: then it takes no further question.
	for asking := strings.Repeat("GET /static/style.css HTTP/1.1\r\nHost: localhost\r\n\r\n", 100); ; {
		if err := conn.SetWriteDeadline(time.Now().Add(time.Second)); err != nil {
			t.Fatal(err)
		}
		_, err := io.WriteString(conn, asking)
		if errors.Is(err, os.ErrDeadlineExceeded) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	again := time.NewTicker(20 * time.Millisecond) // one that comes before the first was taken in is none of its own
	defer again.Stop()
	for {
		_ = cmd.Process.Signal(syscall.SIGTERM)
		select {
		case err := <-ended:
			var by *exec.ExitError
			if !errors.As(err, &by) || by.Sys().(syscall.WaitStatus).Signal() != syscall.SIGTERM {
				t.Errorf("it ended with %v, as if it had waited", err)
			}
			return
		case <-again.C:
		}
	}
}
