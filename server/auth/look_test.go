package auth

import (
	"testing"
	"time"
)

// Looking never prolongs: a sign-in that is only looked at ends as if nobody had, and one that is used does not.
func TestLookDoesNotProlong(t *testing.T) {
	s, clock, _ := open(t)
	token, _, err := s.SignIn(t.Context(), "nora", PIN, "")
	if err != nil {
		t.Fatal(err)
	}
	for range 29 {
		clock.add(time.Minute)
		if in, err := s.Look(t.Context(), token, ""); in.Person != "nora" || !in.Runs || err != nil {
			t.Fatal(in, err)
		}
	}
	clock.add(time.Minute)
	if in, err := s.Look(t.Context(), token, ""); in.Person != "nora" || in.Runs || err != nil {
		t.Error("it was prolonged:", in, err)
	}
	if in, _ := s.Who(t.Context(), token, ""); in.Runs {
		t.Error("Who and Look differ")
	}
	for _, nobody := range []string{"", "x", token[1:] + "A"} {
		if in, err := s.Look(t.Context(), nobody, ""); in.Person != "" || in.Runs || err != nil {
			t.Error(in, err)
		}
	}
}
