package auth

import (
	"cmp"
	"context"
	"crypto/subtle"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

const (
	linkLasts = 366 * 24 * time.Hour // the longest a link may be good for
	pathMost  = 300
)

// Link lets somebody read the records of a period without signing in, until it ends or is withdrawn.
type Link struct {
	ID          string             `json:"id"`
	For         string             `json:"for"`  // who it was made for, in words
	From        calendar.Date      `json:"from"` // of the records shown, both days included
	To          calendar.Date      `json:"to"`
	By          records.PersonCode `json:"by"`
	Made        records.Instant    `json:"made"`
	Ends        records.Instant    `json:"ends"`
	Withdrawn   records.Instant    `json:"withdrawn,omitzero"`
	WithdrawnBy records.PersonCode `json:"withdrawnBy,omitzero"`
	Opened      int                `json:"opened,omitzero"` // pages read with it
	Last        records.Instant    `json:"last,omitzero"`   // when the last was
}

// Good says whether it may be read with at a moment.
func (l *Link) Good(now records.Instant) bool {
	return l.Withdrawn == 0 && now < l.Ends && !ahead(l.Ends, now.Add(linkLasts)) // made before the clock was set back
}

type link struct {
	Link
	Hash string `json:"hash"` // of its token
}

// Access is one page read with a link.
type Access struct {
	At   records.Instant `json:"at"`
	Path string          `json:"path"`
}

// MakeLink makes a link: For, From, To, By and Ends are taken from l. The token is given out once.
func (s *Store) MakeLink(ctx context.Context, l Link) (token string, made Link, err error) {
	if err := checkName(l.For); err != nil {
		return "", made, err
	}
	now := s.now()
	bad := func(field, want string) (string, Link, error) {
		return "", made, &records.Error{Kind: records.Invalid, What: "that link can not be made", Fields: []records.FieldError{{Field: field, Want: want}}}
	}
	switch {
	case l.To < l.From:
		return bad("to", "not before the first day")
	case l.Ends <= now || l.Ends > now.Add(linkLasts):
		return bad("ends", "a day from tomorrow to a year from now")
	}
	if err := s.sweepNow(ctx); err != nil {
		return "", made, err
	}
	secret, kept, err := newToken()
	if err != nil {
		return "", made, err
	}
	id, err := randomLetters(10)
	if err != nil {
		return "", made, err
	}
	made = Link{ID: strings.ToLower(id), For: l.For, From: l.From, To: l.To, By: l.By, Made: now, Ends: l.Ends}
	err = change(ctx, s.in, inLinks, made.ID, func(v *link, _ bool) (bool, error) {
		*v = link{made, kept}
		return true, nil
	})
	return made.ID + "." + secret, made, err
}

// OpenLink is the link of a token. found is false for what never was one; one that ended or was withdrawn is found and is
// not Good, so that its holder can be told.
func (s *Store) OpenLink(ctx context.Context, token string) (l Link, found bool, err error) {
	id, secret, _ := strings.Cut(token, ".")
	kept, ok := keptOf(secret)
	if !ok || records.CheckCode(id) != nil {
		return l, false, nil
	}
	v, there, err := read[link](ctx, s.in, inLinks, id)
	if err != nil || !there || subtle.ConstantTimeCompare([]byte(v.Hash), []byte(kept)) != 1 {
		return l, false, err
	}
	return v.Link, true, nil
}

// WithdrawLink ends a link at once.
func (s *Store) WithdrawLink(ctx context.Context, id string, by records.PersonCode) error {
	return s.changeLink(ctx, id, func(l *link) {
		if l.Withdrawn == 0 {
			l.Withdrawn, l.WithdrawnBy = s.now(), by
		}
	})
}

// Links are all that are kept, the newest first.
func (s *Store) Links(ctx context.Context) (ls []Link, err error) {
	err = all(ctx, s.in, inLinks, func(_ string, l link) error {
		ls = append(ls, l.Link)
		return nil
	})
	slices.SortStableFunc(ls, func(a, b Link) int { return cmp.Or(cmp.Compare(b.Made, a.Made), strings.Compare(a.ID, b.ID)) })
	return ls, err
}

// LogAccess writes down that a page was read with a link, before it is shown.
func (s *Store) LogAccess(ctx context.Context, id, path string) error {
	n, now := 0, s.now()
	if err := s.changeLink(ctx, id, func(l *link) {
		l.Opened++
		n, l.Last = l.Opened, max(l.Last, now)
	}); err != nil {
		return err
	}
	b, err := json.Marshal(Access{At: now, Path: strings.ToValidUTF8(path[:min(len(path), pathMost)], "")})
	if err != nil {
		return fmt.Errorf("writing down an access: %w", err)
	}
	if _, err := s.in.Put(ctx, inAccesses, accessKey(id, n), b, 0); err != nil {
		return err
	}
	if n > s.most.accesses {
		return s.in.Delete(ctx, inAccesses, accessKey(id, n-s.most.accesses))
	}
	return nil
}

func accessKey(id string, n int) string { return fmt.Sprintf("%s/%09d", id, n) }

// Accesses are those of a link that are still kept, the newest first: at most most of them, after the newest skip.
func (s *Store) Accesses(ctx context.Context, id string, skip, most int) (as []Access, err error) {
	l, there, err := read[link](ctx, s.in, inLinks, plainCode(id))
	if err != nil || !there {
		return nil, err
	}
	for n := l.Opened - skip; n > max(0, l.Opened-s.most.accesses) && len(as) < most; n-- {
		a, there, err := read[Access](ctx, s.in, inAccesses, accessKey(id, n))
		if err != nil {
			return nil, err
		}
		if there {
			as = append(as, a)
		}
	}
	return as, nil
}

func (s *Store) changeLink(ctx context.Context, id string, do func(*link)) error {
	return change(ctx, s.in, inLinks, plainCode(id), func(l *link, there bool) (bool, error) {
		if !there {
			return false, &records.Error{Kind: records.NotFound, What: "there is no such link"}
		}
		do(l)
		return true, nil
	})
}
