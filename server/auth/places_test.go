package auth

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/calendar"
)

const good = "seven wet sacks of rye"

func TestCheckPassword(t *testing.T) {
	known := []string{"Nora Feldt", "Quillmere Maltings", "nora"}
	for _, p := range []string{good, "739201846352", "ñandú ñandú al río", "Nora likes barley at dawn", strings.Repeat("abcdefghij klm ", 13)} {
		if err := CheckPassword(p, known...); err != nil {
			t.Errorf("%q: %v", p, err)
		}
	}
	for _, p := range []string{"", "short words", "élan élan él", "aaaaaaaaaaaaaaaa", "maltmaltmaltmalt", "            x           y", "Password1234", "password password", "qwertyuiop asdf", "abcdefghijklmn", "987654321098",
		"norafeldt123", "Nora.Feldt.nora", "quillmere 2026", "grainward1234", strings.Repeat("x y z ", 40), "bad \xff utf8 bytes here"} {
		err := CheckPassword(p, known...)
		if records.KindOf(err) != records.Invalid {
			t.Errorf("%q was taken", p)
		}
		if err != nil && p != "" && strings.Contains(err.Error(), p) {
			t.Errorf("the error repeats the password: %v", err)
		}
	}
}

func FuzzCheckPassword(f *testing.F) {
	f.Add("Nora.Feldt.nora", "Nora Feldt")
	f.Add(good, "")
	f.Fuzz(func(t *testing.T, p, name string) {
		if n := utf8.RuneCountInString(p); CheckPassword(p, name) == nil && (n < PasswordLeast || n > PasswordMost) {
			t.Errorf("%q was taken", p)
		}
	})
}

func TestPINsOnlyOnDevices(t *testing.T) {
	s, _, _ := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	if err := s.SetPassword(ctx, "nora", "hank", good, "Nora Feldt"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		secret string
		device records.DeviceCode
		want   Outcome
		by     Kind
	}{
		{"4071", "tablet", Right, PIN}, {"4071", "", Wrong, ""}, {good, "tablet", Right, Password}, {good, "", Right, Password},
		{good + " ", "", Wrong, ""}, {strings.ToUpper(good), "tablet", Wrong, ""}, {"", "tablet", Wrong, ""},
	} {
		a, err := s.Check(ctx, Try{Person: "nora", Secret: c.secret, Device: c.device, Address: "192.0.2.1"})
		if err != nil || a.Outcome != c.want || a.By != c.by {
			t.Errorf("%q on %q: %+v %v", c.secret, c.device, a, err)
		}
	}
	// twelve digits may be either
	if err := s.SetPassword(ctx, "nora", "", "739201846352"); err != nil {
		t.Fatal(err)
	}
	for _, device := range []records.DeviceCode{"", "tablet"} {
		if a, err := s.Check(ctx, Try{Person: "nora", Secret: "739201846352", Device: device}); a.Outcome != Right || a.By != Password || err != nil {
			t.Error(a, err)
		}
	}
	if err := s.DropPIN(ctx, "nora"); err != nil {
		t.Fatal(err)
	}
	if a, _ := s.Check(ctx, at("nora", "4071")); a.Outcome != Wrong {
		t.Error("a PIN that was taken away is", a)
	}
}

// Whoever asks from elsewhere can not tell whether a person is known, by the answers or by how they slow down.
func TestUnknownPeople(t *testing.T) {
	s, c, _ := open(t)
	ctx := context.Background()
	if err := s.SetPassword(ctx, "nora", "", good); err != nil {
		t.Fatal(err)
	}
	if err := s.SetPIN(ctx, "hank", "", "4071"); err != nil {
		t.Fatal(err)
	}
	var said [4][]string
	for i, who := range []records.PersonCode{"nora", "hank", "nobody-here", "<b>Nora</b> "} {
		for n := range 14 {
			a, err := s.Check(ctx, Try{Person: who, Secret: "something quite wrong", Address: fmt.Sprint("192.0.2.", 100*i+n)})
			if err != nil {
				t.Fatal(err)
			}
			said[i] = append(said[i], fmt.Sprint(a.Outcome, a.Until.Sub(c.now())*time.Duration(min(1, a.Until)), a.Place))
			c.add(10 * time.Second)
		}
		c.add(-140 * time.Second)
	}
	for i := range said {
		if strings.Join(said[i], " ") != strings.Join(said[0], " ") {
			t.Errorf("%d is answered\n%v, not\n%v", i, said[i], said[0])
		}
	}
	// and a stranger's mischief does not lock the floor
	if a, _ := s.Check(ctx, at("hank", "4071")); a.Outcome != Right {
		t.Error("locked from elsewhere:", a)
	}
}

// A place that tries one person after the other is slowed down though no person is.
func TestPlaces(t *testing.T) {
	for _, of := range []Try{{Device: "tablet"}, {Address: "192.0.2.7"}} {
		s, c, _ := open(t)
		ctx := context.Background()
		if err := s.SetPassword(ctx, "nora", "", good); err != nil {
			t.Fatal(err)
		}
		try := func(who, secret string) Answer {
			of := of
			of.Person, of.Secret = records.PersonCode(who), secret
			a, err := s.Check(ctx, of)
			if err != nil {
				t.Fatal(err)
			}
			return a
		}
		for n := range ofPlace.free {
			if a := try(fmt.Sprint("p", n), "0001"); a.Until != 0 {
				t.Fatal(n, a)
			}
			if a := try("nora", good); a.Outcome != Right { // it takes back its own try only
				t.Fatal(n, a)
			}
		}
		if a := try("p99", "0001"); a.Until.Sub(c.now()) != firstWait || !a.Place {
			t.Fatal(a)
		}
		if a := try("nora", good); a.Outcome != Wait || !a.Place {
			t.Fatal("the place does not wait:", a)
		}
		c.add(firstWait)
		if a := try("nora", good); a.Outcome != Right {
			t.Fatal(a)
		}
		c.add(2 * ofPlace.forget)
		if a := try("p98", "0001"); a.Until != 0 {
			t.Fatal("nothing is forgotten:", a)
		}
		// and it locks
		for n := 0; ; n++ {
			a := try(fmt.Sprint("q", n), "0001")
			if a.Outcome == Locked {
				break
			}
			if n > 200 {
				t.Fatal("it never locks")
			}
			if a.Outcome == Wait {
				c.add(a.Until.Sub(c.now()))
			}
		}
	}
}

// The locks of a person grow to a day, and are forgotten after a day of peace.
func TestLocksGrow(t *testing.T) {
	var n count
	now := records.Instant(0)
	var locks []time.Duration
	for len(locks) < 7 {
		n.add(now, ofPerson)
		if n.NotBefore == 0 {
			now++
			continue
		}
		if n.Tries == ofPerson.lock {
			locks = append(locks, n.NotBefore.Sub(now))
		}
		now = n.NotBefore
	}
	if got := fmt.Sprint(locks); got != "[1h0m0s 2h0m0s 4h0m0s 8h0m0s 16h0m0s 24h0m0s 24h0m0s]" {
		t.Error(got)
	}
	n.add(now.Add(forgotten), ofPerson)
	if n.Tries != 1 || n.Locks != 0 || n.NotBefore != 0 {
		t.Error("after a day it is not forgotten:", n)
	}
}

// Whatever comes in whatever order, no more wrong ones are compared than the waits allow.
func TestCountAgainstSlow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := limit{free: rapid.IntRange(0, 4).Draw(t, "free"), lock: rapid.IntRange(6, 12).Draw(t, "lock")}
		var n count
		now, open := records.Instant(1), records.Instant(0) // open: worked out here, not read off n
		tries, locks := 0, 0
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 20*60).Draw(t, "later")) * time.Second)
			_, wait := n.waiting(now, l)
			if wait != (open > now) {
				t.Fatalf("at %d it waits: %v; it should until %d", now, wait, open)
			}
			if wait {
				continue
			}
			n.add(now, l)
			if tries == l.lock {
				tries = l.free
			}
			tries++
			open = 0
			switch {
			case tries == l.lock:
				hours := 1
				for range locks {
					hours = min(24, hours*2)
				}
				open, locks = now.Add(time.Duration(hours)*time.Hour), locks+1
			case tries > l.free:
				seconds := 15
				for range tries - l.free - 1 {
					seconds = min(900, seconds*2)
				}
				open = now.Add(time.Duration(seconds) * time.Second)
			}
		}
	})
}

func TestDevices(t *testing.T) {
	s, c, path := open(t)
	ctx := context.Background()
	code, ends, err := s.MakeCode(ctx, "nora", "  ", 0)
	if err != nil || ends != c.now().Add(CodeLasts) || len(code) != 9 || code[4] != '-' {
		t.Fatal(code, ends, err) // a name may be of spaces: the server trims
	}
	for _, bad := range []string{"", strings.Repeat("x", 61), "two\nlines", "\x00"} {
		if _, _, err := s.MakeCode(ctx, "nora", bad, 0); records.KindOf(err) != records.Invalid {
			t.Errorf("the name %q: %v", bad, err)
		}
	}
	for _, wrong := range []string{"", "0000-0000", code[:8], strings.Repeat("A", 10_000)} {
		if _, _, a, err := s.Enrol(ctx, wrong, "192.0.2.1"); a.Outcome != Wrong || err != nil {
			t.Errorf("%.20q: %v %v", wrong, a, err)
		}
	}
	c.add(CodeLasts)
	if _, _, a, _ := s.Enrol(ctx, code, "192.0.2.1"); a.Outcome != Wrong {
		t.Error("a code outlives its end")
	}
	code, _, _ = s.MakeCode(ctx, "nora", "Kiln tablet — №1", 0)
	typed := " " + strings.ToLower(strings.NewReplacer("0", "O", "1", "l").Replace(code)) + " "
	token, d, a, err := s.Enrol(ctx, typed, "192.0.2.1")
	if err != nil || a.Outcome != Right || !strings.HasPrefix(string(d.Code), "kiln-tablet-1-") || d.By != "nora" {
		t.Fatal(d, a, err)
	}
	if _, _, a, _ := s.Enrol(ctx, code, "192.0.2.1"); a.Outcome != Wrong {
		t.Error("a code was used twice")
	}
	c.add(time.Hour)
	if got, err := s.Device(ctx, token); err != nil || got.Code != d.Code {
		t.Fatal(got, err)
	}
	for _, junk := range []string{"", ".", token + "x", token[:len(token)-2] + "zz", string(d.Code) + ".", "other" + token, strings.Repeat("a.", 999)} {
		if got, err := s.Device(ctx, junk); err != nil || got.Code != "" {
			t.Errorf("%.30q is %v %v", junk, got, err)
		}
	}
	if err := s.RenameDevice(ctx, d.Code, "Kiln, by the door"); err != nil {
		t.Fatal(err)
	}
	all, err := s.Devices(ctx)
	if err != nil || len(all) != 1 || all[0].Name != "Kiln, by the door" || all[0].Seen != c.now() {
		t.Fatal(all, err)
	}
	// a sign-in with a PIN hangs on its device
	in, _, err := s.SignIn(ctx, "hank", PIN, d.Code)
	if err != nil {
		t.Fatal(err)
	}
	if got, _ := s.Who(ctx, in, d.Code); got.Person != "hank" || got.By != PIN {
		t.Error(got)
	}
	for _, other := range []records.DeviceCode{"", "another"} {
		if got, _ := s.Who(ctx, in, other); got.Person != "" {
			t.Error("a sign-in counts on", other)
		}
	}
	if err := s.WithdrawDevice(ctx, d.Code, "nora"); err != nil {
		t.Fatal(err)
	}
	if got, _ := s.Device(ctx, token); got.Code != "" {
		t.Error("withdrawn, and still", got)
	}
	if err := s.WithdrawDevice(ctx, "nowhere", "nora"); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
	held(t, path, token[strings.Index(token, ".")+1:], code, plainLetters(code))
}

// held fails when a file has one of some secrets in it.
func held(t *testing.T, path string, secrets ...string) {
	t.Helper()
	for _, s := range secrets {
		if fileHas(t, path, s) || fileHas(t, path+"-wal", s) {
			t.Errorf("the file holds %q", s)
		}
	}
}

func TestLinks(t *testing.T) {
	s, c, path := open(t)
	s.most.accesses = 20
	ctx := context.Background()
	day := func(text string) calendar.Date {
		d, err := calendar.ParseDate(text)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	l := Link{For: "Ida Brandt", From: day("2026-01-01"), To: day("2026-03-31"), By: "nora", Ends: c.now().Add(14 * 24 * time.Hour)}
	for name, bad := range map[string]func(*Link){
		"reversed": func(l *Link) { l.To = l.From - 1 }, "ended": func(l *Link) { l.Ends = c.now() }, "for ever": func(l *Link) { l.Ends = c.now().Add(2 * linkLasts) }, "nobody": func(l *Link) { l.For = "" },
	} {
		l := l
		bad(&l)
		if _, _, err := s.MakeLink(ctx, l); records.KindOf(err) != records.Invalid {
			t.Errorf("%s: %v", name, err)
		}
	}
	token, made, err := s.MakeLink(ctx, l)
	if err != nil {
		t.Fatal(err)
	}
	got, found, err := s.OpenLink(ctx, token)
	if err != nil || !found || got.From != l.From || got.To != l.To || !got.Good(c.now()) || got.Good(l.Ends) {
		t.Fatal(got, found, err)
	}
	for _, junk := range []string{"", ".", token + "x", made.ID + "." + strings.Repeat("A", 43), "x" + token} {
		if _, found, err := s.OpenLink(ctx, junk); found || err != nil {
			t.Errorf("%q opens a link; %v", junk, err)
		}
	}
	for n := range s.most.accesses + 5 {
		if err := s.LogAccess(ctx, made.ID, fmt.Sprint("/entry/", n)); err != nil {
			t.Fatal(err)
		}
		c.add(time.Second)
	}
	if err := s.LogAccess(ctx, made.ID, "/"+strings.Repeat("é", 400)); err != nil {
		t.Fatal(err)
	}
	as, err := s.Accesses(ctx, made.ID, 1, 3)
	if err != nil || len(as) != 3 || as[0].Path != fmt.Sprint("/entry/", s.most.accesses+4) || as[2].Path != fmt.Sprint("/entry/", s.most.accesses+2) {
		t.Fatal(as, err)
	}
	every, err := s.Accesses(ctx, made.ID, 0, 1<<30)
	if err != nil || len(every) != s.most.accesses {
		t.Fatal(len(every), err)
	}
	if n := s.size(t, inAccesses); n != s.most.accesses {
		t.Error(n, "accesses are kept")
	}
	if err := s.LogAccess(ctx, "nowhere", "/"); records.KindOf(err) != records.NotFound {
		t.Error(err)
	}
	ls, err := s.Links(ctx)
	if err != nil || len(ls) != 1 || ls[0].Opened != s.most.accesses+6 || ls[0].For != "Ida Brandt" {
		t.Fatal(ls, err)
	}
	held(t, path, token, token[len(made.ID)+1:])
}

func (s *Store) size(t *testing.T, drawer string) (n int) {
	t.Helper()
	if err := s.in.Each(t.Context(), drawer, func(string, []byte) error { n++; return nil }); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestSweeping(t *testing.T) {
	s, c, _ := open(t)
	s.most.signins, s.most.links = 5, 9
	ctx := context.Background()
	// more than one person can need
	for range s.most.signins + 3 {
		if _, _, err := s.SignIn(ctx, "nora", Password, ""); err != nil {
			t.Fatal(err)
		}
		c.add(time.Second)
	}
	last, _, err := s.SignIn(ctx, "nora", Password, "")
	if err != nil {
		t.Fatal(err)
	}
	// strangers from everywhere
	for n := range 60 {
		if _, err := s.Check(ctx, Try{Person: records.PersonCode(fmt.Sprint("p", n)), Secret: "x", Address: fmt.Sprint("192.0.2.", n)}); err != nil {
			t.Fatal(err)
		}
	}
	if _, _, err := s.MakeCode(ctx, "nora", "x", 0); err != nil {
		t.Fatal(err)
	}
	if n := s.size(t, inTries); n < 120 {
		t.Error("they are not counted:", n)
	}
	c.add(sweepAfter)
	for range 2 {
		if _, _, err := s.SignIn(ctx, "hank", Password, ""); err != nil {
			t.Fatal(err)
		}
	}
	if n := s.size(t, inSignIns); n > s.most.signins+3 {
		t.Error(n, "sign-ins are kept")
	}
	if in, _ := s.Who(ctx, last, ""); in.Person != "nora" {
		t.Error("the newest is gone")
	}
	if n := s.size(t, inCodes); n != 0 {
		t.Error(n, "codes are kept")
	}
	c.add(forgotten + Absolute + remembered)
	if _, _, err := s.SignIn(ctx, "hank", Password, ""); err != nil {
		t.Fatal(err)
	}
	if a, b := s.size(t, inTries), s.size(t, inSignIns); a != 0 || b != 1 {
		t.Error(a, "counts and", b, "sign-ins are kept")
	}
	// links with what hangs on them
	for n := range s.most.links + 4 {
		l := Link{For: fmt.Sprint("auditor ", n), By: "nora", Ends: c.now().Add(time.Hour)}
		_, made, err := s.MakeLink(ctx, l)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.LogAccess(ctx, made.ID, "/"); err != nil {
			t.Fatal(err)
		}
		c.add(time.Millisecond)
	}
	c.add(sweepAfter)
	if _, _, err := s.SignIn(ctx, "hank", Password, ""); err != nil {
		t.Fatal(err)
	}
	if a, b := s.size(t, inLinks), s.size(t, inAccesses); a != s.most.links || b != s.most.links {
		t.Error(a, "links and", b, "accesses are kept")
	}
}

// versionOne is the schema as version 0.1 made it. It is never edited.
const versionOne = `
create table pins (person text primary key, phc text not null, set_at integer not null, set_by text not null, tries integer not null default 0, not_before integer not null default 0) strict;
create table signins (hash blob primary key, person text not null, made integer not null, seen integer not null) strict;
create index signins_of on signins (person);
pragma user_version = 1;
`

// A file of the first version keeps its PINs and counts; its sign-ins end.
func TestFileOfVersionOne(t *testing.T) {
	path := filepath.Join(t.TempDir(), "people.db")
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", Opaque: path}).String())
	if err != nil {
		t.Fatal(err)
	}
	phc, err := FormatHash("4071", cheap)
	if err != nil {
		t.Fatal(err)
	}
	c := &clock{at: records.InstantOf(time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC))}
	_, err = db.Exec(versionOne+`
insert into pins values ('nora', ?, ?, '', 0, 0), ('hank', ?, ?, 'nora', 9, ?);
insert into signins values (x'00', 'nora', 1, 1);`, phc, int64(c.at), phc, int64(c.at), int64(c.at.Add(8*time.Minute)))
	if err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	for range 2 { // it is brought up once
		s, err := Open(path, Options{Now: c.now, Params: cheap})
		if err != nil {
			t.Fatal(err)
		}
		ctx := context.Background()
		have, err := s.People(ctx)
		if err != nil || len(have) != 2 || have["nora"].PIN != c.at || have["hank"].Until == 0 {
			t.Fatal(have, err)
		}
		if a, err := s.Check(ctx, at("nora", "4071")); a.Outcome != Right || err != nil {
			t.Fatal(a, err)
		}
		if a, err := s.Check(ctx, at("hank", "4071")); a.Outcome != Wait || err != nil {
			t.Fatal(a, err)
		}
		if n := s.size(t, inSignIns); n != 0 {
			t.Error(n, "sign-ins were carried over")
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestNewPIN(t *testing.T) {
	seen := map[string]bool{}
	for range 50 {
		pin, err := NewPIN()
		if err != nil || len(pin) != 6 || CheckPIN(pin) != nil {
			t.Fatal(pin, err)
		}
		seen[pin] = true
	}
	if len(seen) < 45 {
		t.Error("they repeat")
	}
}
