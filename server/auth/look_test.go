package auth

import (
	"testing"
	"time"
)

// Looking never prolongs: a sign-in that is only looked at ends as if nobody had, and one that is used does not.
func TestLookDoesNotProlong(t *testing.T) {
	s, clock, _ := open(t)
	token, err := s.SignIn(t.Context(), "nora")
	if err != nil {
		t.Fatal(err)
	}
	for range 29 {
		clock.add(time.Minute)
		if who, runs, err := s.Look(t.Context(), token); who != "nora" || !runs || err != nil {
			t.Fatal(who, runs, err)
		}
	}
	clock.add(time.Minute)
	if who, runs, err := s.Look(t.Context(), token); who != "nora" || runs || err != nil {
		t.Error("it was prolonged:", who, runs, err)
	}
	if _, runs, _ := s.Who(t.Context(), token); runs {
		t.Error("Who and Look differ")
	}
	for _, nobody := range []string{"", "x", token[1:] + "A"} {
		if who, runs, err := s.Look(t.Context(), nobody); who != "" || runs || err != nil {
			t.Error(who, runs, err)
		}
	}
}
