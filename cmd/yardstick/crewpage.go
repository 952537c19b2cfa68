package yardstick

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"regexp"

	"grainward/cmd/crowd"
	"grainward/records"
	"grainward/records/book"
	"grainward/records/plan"
	"grainward/records/sqlite"
)

// crewPage is what the crew's page of the starter plan weighs: bodies as the server sends them, packed. A browser's figure has the heads
// of requests too; `go test ./server -run CrewWeight -v` gives it.
func crewPage(ctx context.Context, r *run) (rows []Row, err error) {
	if err := r.letGo(); err != nil {
		return nil, err
	}
	r.Say("weighing the crew's page")
	place, p, err := r.starterPlant(ctx)
	if err != nil {
		return nil, err
	}
	lead, hand := firstOf(p, "lead"), firstOf(p, "crew")
	passes, err := admit(ctx, place, lead, []records.PersonCode{hand}, r.Now)
	if err != nil {
		return nil, err
	}
	s, err := place.Serve(ctx)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Stop()) }()
	c, err := crowd.Enrol(ctx, s.URL, passes)
	if err != nil {
		return nil, err
	}
	defer c.Leave()
	sum, files, err := firstLoad(ctx, c)
	if err != nil {
		return nil, err
	}
	return []Row{{Name: "crew-page", What: "crew page, first load", Ours: Figure{float64(sum) / 1e3, "kB"}, Limit: &Limit{Most: 60, Unit: "kB"}, Also: []Also{{"files", Figure{float64(files), ""}}}}}, nil
}

// starterPlant is a plant with the starter plan in force and nothing else.
func (r *run) starterPlant(ctx context.Context) (place *Place, p *plan.Plan, err error) {
	text := plan.Starter()
	if p, err = plan.Parse(text); err != nil {
		return nil, nil, err
	}
	if place, err = r.NewPlant(ctx, r.sub("starter"), text); err != nil {
		return nil, nil, err
	}
	store, err := sqlite.Open(ctx, place.Journal, sqlite.Write)
	if err != nil {
		return nil, nil, err
	}
	now := func() records.Instant { return records.InstantOf(r.Now()) }
	b, err := book.Open(ctx, store, book.Options{Origin: place.Origin, Signer: place.Signer, Now: now})
	if err != nil {
		return nil, nil, errors.Join(err, store.Close())
	}
	sum := sha256.Sum256(text)
	_, err = b.Admit(ctx, records.Entry{ID: records.NewEntryID(), Happened: now(), By: firstOf(p, "lead"), Meaning: records.Approved, Kind: records.KindPlan,
		Fact: &records.Adoption{Text: string(text), SHA256: hex.EncodeToString(sum[:])}})
	return place, p, errors.Join(err, b.Close())
}

func firstOf(p *plan.Plan, role string) records.PersonCode {
	for i := range p.People {
		if p.People[i].Role == role {
			return p.People[i].Code
		}
	}
	return ""
}

var (
	inPage   = regexp.MustCompile(`(?:src|href)="(/[^"]+)"`)
	inModule = regexp.MustCompile(`(?m)^(?:import|export)\s[^;]*?"(\.[^"]+)"`) // not import(…), which comes later
)

// firstLoad fetches the page, all it names, all that its modules name, and the day's work, each once; it gives the bytes of the bodies as
// they came, and how many there were.
func firstLoad(ctx context.Context, c *crowd.Crowd) (sum, files int, err error) {
	queue, seen := []string{"/crew"}, map[string]bool{"/crew": true}
	queue = append(queue, "/api/crew")
	tally := c.Go(ctx, func(_, n int) (crowd.Ask, bool) {
		if n == len(queue) {
			return crowd.Ask{}, false
		}
		at := queue[n]
		return crowd.Ask{Kind: "file", Method: http.MethodGet, Path: at, Packed: true, Heard: func(status int, body []byte) {
			sum, files = sum+len(body), files+1
			text, e := unpacked(body)
			if err = errors.Join(err, e); status != http.StatusOK {
				err = errors.Join(err, fmt.Errorf("%s was answered with %d", at, status))
			}
			find := inPage
			if path.Ext(at) == ".mjs" {
				find = inModule
			} else if at != "/crew" {
				return
			}
			for _, m := range find.FindAllSubmatch(text, -1) {
				to := string(m[1])
				if find == inModule {
					to = path.Join(path.Dir(at), to)
				}
				if !seen[to] {
					seen[to] = true
					queue = append(queue, to)
				}
			}
		}}, true
	})
	return sum, files, errors.Join(err, tally.Wrong())
}

func unpacked(body []byte) ([]byte, error) {
	if !bytes.HasPrefix(body, []byte{0x1f, 0x8b}) {
		return bytes.Clone(body), nil
	}
	zr, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(zr)
}
