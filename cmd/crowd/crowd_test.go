package crowd_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/cmd/crowd"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/records/plan"
	"grainward/server"
	"grainward/server/auth"
)

// plant is a server on loopback with the starter plan in force, and passes for so many devices.
func plant(t *testing.T, devices int) (base string, b *book.Book, passes []crowd.Pass) {
	t.Helper()
	ctx := t.Context()
	now := func() records.Instant { return records.InstantOf(time.Now()) }
	signer, _, err := ledger.GenerateKey(nil, "crowd.test/journal")
	if err != nil {
		t.Fatal(err)
	}
	b, err = book.Open(ctx, memory.New(), book.Options{Origin: "crowd.test/journal", Signer: signer, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	sum := sha256.Sum256(plan.Starter())
	adoption := &records.Adoption{Text: string(plan.Starter()), SHA256: hex.EncodeToString(sum[:])}
	if _, err := b.Admit(ctx, records.Entry{ID: records.NewEntryID(), Happened: now(), By: "nora", Meaning: records.Approved, Kind: records.KindPlan, Fact: adoption}); err != nil {
		t.Fatal(err)
	}
	a, err := auth.Open(filepath.Join(t.TempDir(), "people.db"), auth.Options{Now: now, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	if err := a.SetPIN(ctx, "hank", "", "4071"); err != nil {
		t.Fatal(err)
	}
	for i := range devices {
		code, _, err := a.MakeCode(ctx, "nora", fmt.Sprint("Tablet ", i), 0)
		if err != nil {
			t.Fatal(err)
		}
		passes = append(passes, crowd.Pass{Code: code, Person: "hank", PIN: "4071"})
	}
	s := server.New(server.Config{Book: b, Auth: a, Now: now, Version: "0.1"})
	run, stop := context.WithCancel(ctx)
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- s.Run(run, "127.0.0.1:0", func(u string) { ready <- u }) }()
	select {
	case base = <-ready:
	case err := <-ended:
		t.Fatal(err)
	}
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return base, b, passes
}

func signoff(who records.PersonCode) []byte {
	yes := true
	e := records.Entry{ID: records.NewEntryID(), Happened: records.InstantOf(time.Now()), By: who, Meaning: records.Performed, Kind: records.KindSignoff,
		Fact: &records.Signoff{Task: "footwear-check", Station: "entrance", Outcome: records.Passed, Answers: []records.Response{{Ask: "worn", Yes: &yes}, {Ask: "clean", Yes: &yes}}}}
	row, err := records.Format(e)
	if err != nil {
		panic(err)
	}
	return row.Bytes
}

// What a crowd says was acknowledged is in the journal, once, and what was refused is counted as refused and is not.
func TestCrowd(t *testing.T) {
	base, b, passes := plant(t, 5)
	c, err := crowd.Enrol(t.Context(), base, passes)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Leave()
	before := b.View().Head.Size
	var mu sync.Mutex
	var at []records.Position
	const each = 20
	tally := c.Go(t.Context(), func(device, turn int) (crowd.Ask, bool) {
		switch {
		case turn == each:
			return crowd.Ask{}, false
		case turn%10 == 4:
			return crowd.Ask{Kind: "look", Method: http.MethodGet, Path: "/api/findings"}, true
		case turn%10 == 7:
			return crowd.Ask{Kind: "nonsense", Method: http.MethodPost, Path: "/api/entries", Body: []byte(`{"id":`)}, true
		}
		return crowd.Ask{Kind: "sign-off", Method: http.MethodPost, Path: "/api/entries", Body: signoff(c.Person(device)), Heard: func(status int, body []byte) {
			var got struct{ Position records.Position }
			if err := json.Unmarshal(body, &got); err != nil || status != http.StatusCreated {
				t.Errorf("%d %s %v", status, body, err)
			}
			mu.Lock()
			at = append(at, got.Position)
			mu.Unlock()
		}}, true
	})
	n := len(passes) * each
	signed, looked, wrong := tally.Kinds["sign-off"], tally.Kinds["look"], tally.Kinds["nonsense"]
	if signed.Good != n*8/10 || looked.Good != n/10 || wrong.Good != 0 || wrong.Refused[http.StatusBadRequest]+wrong.Refused[http.StatusUnprocessableEntity] != n/10 {
		t.Errorf("%+v %+v %+v", signed, looked, wrong)
	}
	if got := b.View().Head.Size - before; int(got) != signed.Good {
		t.Errorf("the journal grew by %d, %d were acknowledged", got, signed.Good)
	}
	slices.Sort(at)
	if len(at) != signed.Good || len(slices.Compact(at)) != signed.Good {
		t.Errorf("positions %v", at)
	}
	if err := tally.Wrong(); err == nil || !strings.Contains(err.Error(), "10 of 10 nonsenses") {
		t.Error(err)
	}
	if lo, mid, hi := signed.At(0), signed.At(0.5), signed.At(1); lo <= 0 || mid < lo || hi < mid || hi > tally.Took {
		t.Error(lo, mid, hi, tally.Took)
	}
}

// The end of the context ends a crowd, with every answer counted.
func TestCrowdStops(t *testing.T) {
	base, b, passes := plant(t, 3)
	c, err := crowd.Enrol(t.Context(), base, passes)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Leave()
	before := b.View().Head.Size
	ctx, stop := context.WithCancel(t.Context())
	tally := c.Go(ctx, func(device, turn int) (crowd.Ask, bool) {
		if device == 0 && turn == 5 {
			stop()
		}
		return crowd.Ask{Kind: "sign-off", Method: http.MethodPost, Path: "/api/entries", Body: signoff("hank")}, true
	})
	if err := tally.Wrong(); err != nil {
		t.Error(err)
	}
	if got := int(b.View().Head.Size - before); got != tally.Kinds["sign-off"].Good || got < 6 {
		t.Error(got, tally.Kinds["sign-off"])
	}
}

func TestEnrolRefused(t *testing.T) {
	base, _, passes := plant(t, 1)
	passes[0].PIN = "0000"
	_, err := crowd.Enrol(t.Context(), base, passes)
	if err == nil || !strings.Contains(err.Error(), "device 1 of 1, for hank") || !strings.Contains(err.Error(), "/api/sign-in") {
		t.Error(err)
	}
	if _, err := crowd.Enrol(t.Context(), "ftp://nowhere.example", passes); records.KindOf(err) != records.Invalid {
		t.Error(err)
	}
}
