package auth

import (
	"cmp"
	"context"
	"slices"
	"time"

	"grainward/records"
)

// bounds is what is kept at most. Between two sweepings a drawer may grow by sweepEach.
type bounds struct {
	signins, // of one person
	tries,
	withdrawn, // devices
	links,
	accesses int // of each link
}

var usual = bounds{signins: 50, tries: 5000, withdrawn: 300, links: 500, accesses: 2000}

const (
	sweepAfter = time.Hour
	sweepEach  = 500 // writes
)

// sweepNow takes out what is old, when it is time. It is called where something new is about to be written.
func (s *Store) sweepNow(ctx context.Context) error {
	s.sweeping.Lock()
	defer s.sweeping.Unlock()
	now := s.now()
	if s.writes++; s.swept != 0 && now < s.swept.Add(sweepAfter) && !ahead(s.swept, now) && s.writes < sweepEach {
		return nil
	}
	if err := s.sweep(ctx, now); err != nil {
		return err
	}
	s.swept, s.writes = now, 0
	return nil
}

func (s *Store) sweep(ctx context.Context, now records.Instant) error {
	ofPerson := map[records.PersonCode][]aged{}
	err := all(ctx, s.in, inSignIns, func(key string, in signin) error {
		if now >= in.Made.Add(Absolute+remembered) {
			return s.in.Delete(ctx, inSignIns, key)
		}
		ofPerson[in.Person] = append(ofPerson[in.Person], aged{key, in.Seen})
		return nil
	})
	for _, theirs := range ofPerson {
		err = cmp.Or(err, s.keepNewest(ctx, inSignIns, theirs, s.most.signins))
	}
	if err != nil {
		return err
	}
	var counts, devices, links []aged
	if err := all(ctx, s.in, inTries, func(key string, n count) error {
		if now >= max(n.At, n.NotBefore).Add(forgotten) {
			return s.in.Delete(ctx, inTries, key)
		}
		counts = append(counts, aged{key, max(n.At, n.NotBefore)})
		return nil
	}); err != nil {
		return err
	}
	if err := all(ctx, s.in, inCodes, func(key string, c code) error {
		if c.good(now) {
			return nil
		}
		return s.in.Delete(ctx, inCodes, key)
	}); err != nil {
		return err
	}
	if err := all(ctx, s.in, inDevices, func(key string, d device) error {
		if d.Withdrawn != 0 {
			devices = append(devices, aged{key, d.Withdrawn})
		}
		return nil
	}); err != nil {
		return err
	}
	if err := all(ctx, s.in, inLinks, func(key string, l link) error {
		links = append(links, aged{key, l.Made})
		return nil
	}); err != nil {
		return err
	}
	if err := s.dropLinks(ctx, oldest(links, s.most.links)); err != nil {
		return err
	}
	return cmp.Or(s.keepNewest(ctx, inTries, counts, s.most.tries), s.keepNewest(ctx, inDevices, devices, s.most.withdrawn))
}

// aged is a key with the moment it was last of use.
type aged struct {
	key string
	at  records.Instant
}

// oldest are all but the newest n.
func oldest(all []aged, n int) []aged {
	slices.SortFunc(all, func(a, b aged) int { return cmp.Compare(b.at, a.at) })
	return all[min(n, len(all)):]
}

func (s *Store) keepNewest(ctx context.Context, drawer string, all []aged, n int) error {
	for _, a := range oldest(all, n) {
		if err := s.in.Delete(ctx, drawer, a.key); err != nil {
			return err
		}
	}
	return nil
}

// dropLinks takes out links with the list of who read with them.
func (s *Store) dropLinks(ctx context.Context, gone []aged) error {
	for _, g := range gone {
		l, _, err := read[link](ctx, s.in, inLinks, g.key)
		if err != nil {
			return err
		}
		for n := l.Opened; n > max(0, l.Opened-s.most.accesses); n-- {
			if err := s.in.Delete(ctx, inAccesses, accessKey(l.ID, n)); err != nil {
				return err
			}
		}
		if err := s.in.Delete(ctx, inLinks, g.key); err != nil {
			return err
		}
	}
	return nil
}
