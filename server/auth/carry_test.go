package auth

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// Whoever could sign in at the old place can at the new one, from the same devices and with the same links; only those who are signed
// in sign in again. A second time nothing is written, and what is there is never written over.
func TestCarry(t *testing.T) {
	old, clock, _ := open(t)
	ctx := t.Context()
	if err := old.SetPIN(ctx, "nora", "", "4862"); err != nil {
		t.Fatal(err)
	}
	if err := old.SetPassword(ctx, "nora", "", "a gull in the malt", "Nora"); err != nil {
		t.Fatal(err)
	}
	code, _, err := old.MakeCode(ctx, "nora", "Tablet", CodeMost)
	if err != nil {
		t.Fatal(err)
	}
	key, device, _, err := old.Enrol(ctx, code, "")
	if err != nil {
		t.Fatal(err)
	}
	pass, link, err := old.MakeLink(ctx, Link{For: "The certifier", From: calendar.Date(20000), To: calendar.Date(20100), By: "nora", Ends: clock.now().Add(48 * time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	token, _, err := old.SignIn(ctx, "nora", PIN, device.Code)
	if err != nil {
		t.Fatal(err)
	}

	path := filepath.Join(t.TempDir(), "people.db")
	to, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s, err := New(to, Options{Now: clock.now, Params: cheap})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, err := Carry(ctx, to, old.in)
	if err != nil || got.People != 1 || got.Devices != 1 || got.Links != 1 || got.New == 0 {
		t.Fatal(got, err)
	}
	if d, err := s.Device(ctx, key); err != nil || d.Code != device.Code || d.Name != "Tablet" {
		t.Error(d, err)
	}
	for by, secret := range map[Kind]string{PIN: "4862", Password: "a gull in the malt"} {
		try := Try{Person: "nora", Secret: secret, Address: "10.0.0.1"}
		if by == PIN {
			try.Device = device.Code
		}
		if a, err := s.Check(ctx, try); err != nil || a.Outcome != Right || a.By != by {
			t.Error(by, a, err)
		}
	}
	if l, found, err := s.OpenLink(ctx, pass); err != nil || !found || !l.Good(clock.now()) || l.ID != link.ID {
		t.Error(l, found, err)
	}
	if in, err := s.Who(ctx, token, device.Code); err != nil || in.Person != "" {
		t.Error("a sign-in went along:", in, err)
	}

	if again, err := Carry(ctx, to, old.in); err != nil || again.New != 0 || again.People != 1 {
		t.Error(again, err)
	}
	if err := s.SetPIN(ctx, "nora", "", "9753"); err != nil { // at work in the new place
		t.Fatal(err)
	}
	var own *records.Error
	if _, err := Carry(ctx, to, old.in); !errors.As(err, &own) || own.Kind != records.Conflict {
		t.Error(err)
	}
	if a, err := s.Check(ctx, Try{Person: "nora", Secret: "9753", Device: device.Code}); err != nil || a.Outcome != Right {
		t.Error("the newer PIN is gone:", a, err)
	}
}
