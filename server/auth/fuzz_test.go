package auth

import (
	"context"
	"path/filepath"
	"testing"

	"grainward/records"
)

// FuzzTokens is what a browser shows: nobody's sign-in, device, link or code comes of what was never given out.
func FuzzTokens(f *testing.F) {
	now := func() records.Instant { return 1_773_043_200_000 }
	s, err := Open(filepath.Join(f.TempDir(), "people.db"), Options{Now: now, Params: cheap})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { s.Close() })
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		f.Fatal(err)
	}
	token, _, err := s.SignIn(ctx, "nora", PIN, "")
	if err != nil {
		f.Fatal(err)
	}
	text, _, err := s.MakeCode(ctx, "nora", "Floor tablet", 0)
	if err != nil {
		f.Fatal(err)
	}
	device, d, _, err := s.Enrol(ctx, text, "192.0.2.1")
	if err != nil {
		f.Fatal(err)
	}
	for _, given := range []string{token, device, text, "", ".", string(d.Code) + ".", token + "=", "\x00", string(d.Code) + "." + token} {
		f.Add(given)
	}
	f.Fuzz(func(t *testing.T, given string) {
		if who, err := s.Who(ctx, given, d.Code); err != nil || who.Person != "" && given != token {
			t.Errorf("%q is a sign-in of %q: %v", given, who.Person, err)
		}
		if got, err := s.Device(ctx, given); err != nil || got.Code != "" && given != device {
			t.Errorf("%q is the device %q: %v", given, got.Code, err)
		}
		if _, found, err := s.OpenLink(ctx, given); err != nil || found {
			t.Errorf("%q is a link: %v", given, err)
		}
		if made, _, _, err := s.Enrol(ctx, given, "192.0.2.2"); err != nil || made != "" {
			t.Errorf("%q enrolled a device: %v", given, err)
		}
		if a, err := s.Check(ctx, Try{Person: records.PersonCode(given), Secret: given, Device: d.Code}); err != nil || a.Outcome == Right {
			t.Errorf("%q is somebody with that secret: %v", given, err)
		}
	})
}

// FuzzKept is what is read back from the cabinet: whatever lies there, it is an error with a kind or nobody.
func FuzzKept(f *testing.F) {
	for _, v := range []string{`{"person":"nora","by":"pin","made":1,"seen":1}`, `{"pin":{"phc":"$argon2id$v=19$m=8,t=1,p=1$c2FsdA$aGFzaA","set":1}}`, `{"tries":9,"notBefore":9223372036854775807,"at":-9223372036854775808}`, `[]`, `null`, `{`, `{"tries":1e400}`} {
		f.Add(v)
	}
	f.Fuzz(func(t *testing.T, value string) {
		now := func() records.Instant { return 1_773_043_200_000 }
		c := &oneValue{value: []byte(value)}
		s, err := New(c, Options{Now: now, Params: cheap})
		if err != nil {
			t.Fatal(err)
		}
		ctx := t.Context()
		token, _, err := newToken()
		if err != nil {
			t.Fatal(err)
		}
		check := func(doing string, err error) {
			if err != nil && records.KindOf(err) == records.Internal {
				t.Errorf("%s: an error without a kind: %v", doing, err)
			}
		}
		_, err = s.Who(ctx, token, "")
		check("who", err)
		_, err = s.Device(ctx, "tablet."+token)
		check("device", err)
		_, _, err = s.OpenLink(ctx, token)
		check("link", err)
		_, err = s.People(ctx)
		check("people", err)
		_, err = s.Devices(ctx)
		check("devices", err)
		_, err = s.Links(ctx)
		check("links", err)
	})
}

// oneValue is a cabinet that has the same value everywhere, and keeps nothing.
type oneValue struct{ value []byte }

func (c *oneValue) Get(context.Context, string, string) ([]byte, int64, error) {
	return c.value, 1, nil
}
func (c *oneValue) Put(context.Context, string, string, []byte, int64) (bool, error) {
	return true, nil
}
func (c *oneValue) Delete(context.Context, string, string) error { return nil }
func (c *oneValue) Each(_ context.Context, _ string, do func(string, []byte) error) error {
	return do("x", c.value)
}
