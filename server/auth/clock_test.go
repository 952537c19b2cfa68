package auth

import (
	"fmt"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/faulttest"
)

// TestClockJumps sets the server's clock forward and back, by minutes to years. Nobody stays signed in or locked out for longer
// than a clock that is right would have it, and whoever is asked again is let in again.
func TestClockJumps(t *testing.T) {
	year := 365 * 24 * time.Hour
	jumps := []time.Duration{time.Minute, 4 * time.Minute, 10 * time.Minute, time.Hour, 24 * time.Hour, 40 * 24 * time.Hour, year, 20 * year}
	n := 0
	for _, jump := range jumps {
		for _, back := range []bool{false, true} {
			n++
			t.Run(fmt.Sprint(jump, back), func(t *testing.T) {
				s, c, _ := open(t)
				ctx := t.Context()
				for _, who := range []records.PersonCode{"nora", "hank"} {
					if err := s.SetPIN(ctx, who, "", "4071"); err != nil {
						t.Fatal(err)
					}
				}
				if back { // the clock was ahead when all this was made, and is set right
					c.add(jump)
				}
				token, _, err := s.SignIn(ctx, "nora", PIN, "")
				if err != nil {
					t.Fatal(err)
				}
				text, _, err := s.MakeCode(ctx, "nora", "Floor tablet", 0)
				if err != nil {
					t.Fatal(err)
				}
				day := func(at records.Instant) calendar.Date { return calendar.DateOf(at.Time(), time.UTC) }
				linked, _, err := s.MakeLink(ctx, Link{For: "Ada", From: day(c.now()), To: day(c.now()), By: "nora", Ends: c.now().Add(24 * time.Hour)})
				if err != nil {
					t.Fatal(err)
				}
				for range ofPerson.lock { // lock hank out
					for {
						a, err := s.Check(ctx, at("hank", "0000"))
						if err != nil {
							t.Fatal(err)
						}
						if a.Outcome == Wait {
							c.add(a.Until.Sub(c.now()))
							continue
						}
						break
					}
				}
				locked, err := s.Check(ctx, at("hank", "4071"))
				if err != nil || locked.Outcome != Locked {
					t.Fatal(locked, err)
				}
				left := locked.Until.Sub(c.now())
				if back {
					c.add(-jump)
				} else {
					c.add(jump)
				}

				// The lock: what was left of it, and not more.
				a, err := s.Check(ctx, at("hank", "4071"))
				if err != nil {
					t.Fatal(err)
				}
				if a.Outcome == Locked || a.Outcome == Wait {
					if rest := a.Until.Sub(c.now()); rest > left+setBack {
						t.Errorf("locked for another %s, of which %s were left", rest, left)
					}
					c.add(a.Until.Sub(c.now()))
					if a, err = s.Check(ctx, at("hank", "4071")); err != nil {
						t.Fatal(err)
					}
				}
				if a.Outcome != Right {
					t.Errorf("when the lock has run out: %+v", a)
				}
				// The sign-in: for as long as it lasts at most, and then never more.
				for range int((Absolute + time.Hour) / (Idle - time.Minute)) {
					if _, err := s.Who(ctx, token, ""); err != nil {
						t.Fatal(err)
					}
					c.add(Idle - time.Minute)
				}
				if who, err := s.Who(ctx, token, ""); err != nil || who.Runs {
					t.Errorf("it runs beyond %s: %+v %v", Absolute, who, err)
				}
				c.add(2 * CodeMost)
				if token, _, _, err := s.Enrol(ctx, text, "192.0.2.1"); err != nil || token != "" {
					t.Errorf("a code is taken two days later: %v", err)
				}
				if l, _, err := s.OpenLink(ctx, linked); err != nil || l.Good(c.now()) && jump > linkLasts {
					t.Errorf("a link is good for longer than any is: %v", err)
				}
				if token, _, err = s.SignIn(ctx, "nora", PIN, ""); err != nil {
					t.Fatal(err)
				}
				if who, err := s.Who(ctx, token, ""); err != nil || !who.Runs {
					t.Errorf("signed in again: %+v %v", who, err)
				}
			})
		}
	}
	faulttest.Count(t, n, "jumps of the server's clock, from a minute to twenty years and both ways, over sign-ins, locks, codes and links", "none extended for longer than usual, everybody let in again")
}
