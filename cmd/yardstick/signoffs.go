package yardstick

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"math/big"
	mathrand "math/rand/v2"
	"net/http"
	"os"
	"slices"
	"time"

	"grainward/cmd/bigplant"
	"grainward/cmd/crowd"
	"grainward/records"
	"grainward/server/auth"
)

// syncTime is how long the disk's own rate is taken for in a round.
const syncTime = time.Second

// codesAtOnce is how many codes for devices are made before they are used.
const codesAtOnce = 16

// syncRate is what the disk allows: records of the journal's usual size written to the end of a file, one fsync each, one at a time.
func (r *run) syncRate(ctx context.Context, long time.Duration) (rate float64, err error) {
	f, err := os.CreateTemp(r.dir, "sync-")
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(f.Name())) }()
	record := make([]byte, max(r.record, 440))
	n := 0
	begun := time.Now()
	for ; n < 10 || time.Since(begun) < long; n++ {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if _, err := f.Write(record); err != nil {
			return 0, err
		}
		if err := f.Sync(); err != nil {
			return 0, err
		}
	}
	return float64(n) / time.Since(begun).Seconds(), nil
}

// signOffs is 64 devices signing at once.
func signOffs(ctx context.Context, r *run) (rows []Row, err error) {
	b, err := r.journal(ctx)
	if err != nil {
		return nil, err
	}
	if err := r.letGo(); err != nil {
		return nil, err
	}
	r.Say("starting a server on the journal")
	s, err := b.Serve(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Stop()) }()
	_, resident, told := usedBy(s.PID)
	people := bigplant.Crew()[:r.Devices]
	r.Say(fmt.Sprintf("enrolling %d devices", len(people)))
	c, err := crowd.Enrol(ctx, s.URL, nil)
	if err != nil {
		return nil, err
	}
	defer c.Leave()
	for group := range slices.Chunk(people, codesAtOnce) {
		passes, err := admit(ctx, b.Place, bigplant.Lead(), group, r.Now)
		if err != nil {
			return nil, err
		}
		if err := c.Add(ctx, passes); err != nil {
			return nil, err
		}
	}

	var best *crowd.Tally
	var theirCPU, ourCPU time.Duration
	count := func(t *crowd.Tally) *crowd.Count { return t.Kinds["sign-off"] }
	rate := func(t *crowd.Tally) float64 { return float64(count(t).Good) / t.Took.Seconds() }
	for turn := range r.Rounds {
		r.Say(fmt.Sprintf("writing records with one fsync each, and %d devices signing off, round %d of %d", c.Len(), turn+1, r.Rounds))
		bodies := r.bodies(b, c, turn)
		disk, err := r.syncRate(ctx, syncTime)
		if err != nil {
			return nil, err
		}
		r.disk = max(r.disk, disk)
		server, _, _ := usedBy(s.PID)
		devices := processorTime()
		tally := c.Go(ctx, func(device, n int) (crowd.Ask, bool) {
			if n == len(bodies[device]) {
				return crowd.Ask{}, false
			}
			return crowd.Ask{Kind: "sign-off", Method: http.MethodPost, Path: "/api/entries", Body: bodies[device][n]}, true
		})
		if err := errors.Join(ctx.Err(), tally.Wrong()); err != nil {
			return nil, err
		}
		if best == nil || rate(tally) > rate(best) {
			best, ourCPU = tally, processorTime()-devices
			after, _, _ := usedBy(s.PID)
			theirCPU = after - server
		}
	}
	n := count(best)
	row := Row{Name: "sign-offs", What: fmt.Sprintf("sign-offs, %d devices at once", c.Len()), Ours: Figure{rate(best), "/s"}, Peer: "one fsync a record", Theirs: Figure{r.disk, "/s"}, Ratio: rate(best) / r.disk, Limit: &Limit{Least: 5}}
	for _, p := range []struct {
		name  string
		share float64
	}{{"answered after, median", 0.5}, {"95 of 100", 0.95}, {"99 of 100", 0.99}, {"slowest", 1}} {
		row.Also = append(row.Also, Also{p.name, seconds(n.At(p.share))})
	}
	if told && s.PID != 0 {
		row.Also = append(row.Also, Also{"processor time a sign-off, server", seconds(theirCPU / time.Duration(n.Good))}, Also{"devices", seconds(ourCPU / time.Duration(n.Good))},
			Also{"of the machine's memory before the first, server", Figure{float64(resident) / 1e6, "MB"}})
	}
	return []Row{row}, nil
}

// bodies are the sign-offs of a round, made beforehand: a device's own work is no cost of the server's. They are made in the order in
// which they go out, one of each device after the other, since what they say of when the work was done is when they were made.
func (r *run) bodies(b *built, c *crowd.Crowd, turn int) [][][]byte {
	all := make([][][]byte, c.Len())
	rng := mathrand.New(mathrand.NewPCG(r.Seed, uint64(r.Now().UnixNano())+uint64(turn)))
	size, n := 0, 0
	for range r.Each {
		for d := range all {
			row, err := records.Format(b.plant.Signed(rng, c.Person(d), records.InstantOf(r.Now())))
			if err != nil {
				panic(err) // bigplant's own tests admit such entries
			}
			all[d] = append(all[d], row.Bytes)
			size, n = size+len(row.Bytes), n+1
		}
	}
	if n > 0 {
		r.record = size / n
	}
	return all
}

// admit lets people sign in: a PIN each, and a device each.
func admit(ctx context.Context, p *Place, lead records.PersonCode, people []records.PersonCode, now func() time.Time) (passes []crowd.Pass, err error) {
	a, err := auth.Open(p.People, auth.Options{Now: func() records.Instant { return records.InstantOf(now()) }})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	for i, who := range people {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		pin, err := setPIN(ctx, a, who)
		if err != nil {
			return nil, err
		}
		code, _, err := a.MakeCode(ctx, lead, fmt.Sprintf("Bench %d", i+1), 0)
		if err != nil {
			return nil, err
		}
		passes = append(passes, crowd.Pass{Code: code, Person: who, PIN: pin})
	}
	return passes, nil
}

// setPIN draws PINs until one is taken: those that are easily guessed are refused.
func setPIN(ctx context.Context, a *auth.Store, who records.PersonCode) (pin string, err error) {
	for range 20 {
		n, err := rand.Int(rand.Reader, big.NewInt(10_000))
		if err != nil {
			return "", err
		}
		pin = fmt.Sprintf("%04d", n)
		if err = a.SetPIN(ctx, who, "", pin); records.KindOf(err) != records.Invalid {
			return pin, err
		}
	}
	return "", fmt.Errorf("no PIN was taken for %s: %w", who, err)
}
