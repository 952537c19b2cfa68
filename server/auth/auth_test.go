package auth

import (
	"bytes"
	"context"
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/crypto/argon2"
	"pgregory.net/rapid"

	"grainward/records"
)

// cheap keeps the tests quick; the vectors are run at full cost.
var cheap = Params{Memory: 8, Time: 1, Threads: 1}

type clock struct {
	sync.Mutex
	at records.Instant
}

func (c *clock) now() records.Instant { c.Lock(); defer c.Unlock(); return c.at }
func (c *clock) add(d time.Duration)  { c.Lock(); defer c.Unlock(); c.at = c.at.Add(d) }

// at is a try on an enrolled device.
func at(who records.PersonCode, secret string) Try {
	return Try{Person: who, Secret: secret, Device: "tablet"}
}

func open(t *testing.T) (*Store, *clock, string) {
	t.Helper()
	c := &clock{at: records.InstantOf(time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC))}
	path := filepath.Join(t.TempDir(), "people of the plant?.db")
	s, err := Open(path, Options{Now: c.now, Params: cheap})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s, c, path
}

// Vectors of the PHC reference implementation, confirmed with Debian's `argon2` command (standards.md section 6).
var vectors = []struct {
	p    Params
	want string
}{
	{Params{65_536, 2, 1}, "09316115d5cf24ed5a15a31a3ba326e5cf32edc24702987c02b6566f61913cf7"},
	{Params{19_456, 2, 1}, "3cbd356a63f2794bb11bb1f4bc8af95fea87919bd69c79860465c562f87ccf61"},
}

func TestVectors(t *testing.T) {
	for _, v := range vectors {
		want, _ := hex.DecodeString(v.want)
		phc := formatPHC(v.p, []byte("somesalt"), want)
		if ok, stale, err := verify("password", phc, v.p); !ok || stale || err != nil {
			t.Errorf("%s: %v, stale %v, %v", phc, ok, stale, err)
		}
		if ok, _, _ := verify("passwore", phc, v.p); ok {
			t.Errorf("%s takes another password", phc)
		}
	}
}

func TestOutsideProgramAgrees(t *testing.T) {
	tool, err := exec.LookPath("argon2")
	if err != nil {
		if os.Getenv("GRAINWARD_CI") != "" {
			t.Fatal("the argon2 command is not installed")
		}
		t.Skip("the argon2 command is not installed")
	}
	for _, pin := range []string{"4071", "918273645546"} {
		cmd := exec.Command(tool, "pepperandsalt", "-id", "-t", "2", "-k", "19456", "-p", "1", "-l", "32", "-e")
		cmd.Stdin = strings.NewReader(pin)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		if ok, stale, err := verify(pin, strings.TrimSpace(string(out)), DefaultParams); !ok || stale || err != nil {
			t.Errorf("%q of the argon2 command: %v, stale %v, %v", out, ok, stale, err)
		}
	}
}

func TestPHCReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Params{rapid.Uint32Range(8, 1<<20).Draw(t, "m"), rapid.Uint32Range(1, 64).Draw(t, "t"), uint8(rapid.IntRange(1, 16).Draw(t, "p"))}
		salt := rapid.SliceOfN(rapid.Byte(), 8, 32).Draw(t, "salt")
		hash := rapid.SliceOfN(rapid.Byte(), 16, 64).Draw(t, "hash")
		p2, salt2, hash2, err := parsePHC(formatPHC(p, salt, hash))
		if err != nil || p2 != p || !bytes.Equal(salt, salt2) || !bytes.Equal(hash, hash2) {
			t.Fatal(p2, salt2, hash2, err)
		}
	})
}

func TestDamagedHashes(t *testing.T) {
	good := formatPHC(cheap, []byte("somesalt"), make([]byte, 32))
	for _, bad := range []string{"", "$", good[1:], good + "$", strings.Replace(good, "argon2id", "argon2i", 1), strings.Replace(good, "v=19", "v=16", 1),
		strings.Replace(good, "m=8", "m=99999999", 1), strings.Replace(good, "t=1", "t=0", 1), strings.Replace(good, "p=1", "p=x", 1), strings.Replace(good, "m=8,", "", 1), good + "!"} {
		if _, _, err := verify("4071", bad, cheap); records.KindOf(err) != records.Corrupt {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func FuzzParsePHC(f *testing.F) {
	f.Add(formatPHC(cheap, []byte("somesalt"), make([]byte, 32)))
	f.Add("$argon2id$v=19$m=,t=,p=$$")
	f.Fuzz(func(t *testing.T, text string) {
		p, salt, hash, err := parsePHC(text)
		if err != nil {
			return
		}
		p2, salt2, hash2, err := parsePHC(formatPHC(p, salt, hash))
		if err != nil || p2 != p || !bytes.Equal(salt, salt2) || !bytes.Equal(hash, hash2) {
			t.Errorf("%q is not read back: %v", text, err)
		}
	})
}

func TestCheckPIN(t *testing.T) {
	for _, pin := range []string{"4071", "9130", "112233", "918273645546", "1124"} {
		if err := CheckPIN(pin); err != nil {
			t.Errorf("%s: %v", pin, err)
		}
	}
	for _, pin := range []string{"", "407", "4071407140714", "40a1", "４０７１", " 4071", "0000", "77777", "1234", "4321", "7890", "9012", "1212", "909090"} {
		err := CheckPIN(pin)
		if records.KindOf(err) != records.Invalid {
			t.Errorf("%q was taken", pin)
		}
		if err != nil && len(pin) > 3 && strings.Contains(strings.ReplaceAll(strings.ReplaceAll(err.Error(), "such as 1234", ""), "such as 1212", ""), pin) {
			t.Errorf("the error repeats the PIN: %v", err)
		}
	}
}

func TestCheck(t *testing.T) {
	s, _, path := open(t)
	ctx := context.Background()
	if a, err := s.Check(ctx, at("nora", "4071")); a.Outcome != NoPIN || err != nil {
		t.Fatal(a, err)
	}
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	if a, err := s.Check(ctx, at("nora", "4072")); a.Outcome != Wrong || err != nil {
		t.Fatal(a, err)
	}
	if a, err := s.Check(ctx, at("nora", "4071")); a.Outcome != Right || err != nil {
		t.Fatal(a, err)
	}
	if a, _ := s.Check(ctx, at("amadeo", "4071")); a.Outcome != NoPIN {
		t.Fatal("one person's PIN opens for another")
	}
	if err := s.SetPIN(ctx, "Nora!", "", "4071"); records.KindOf(err) != records.Invalid {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatal(info.Mode(), err)
	}
	have, err := s.People(ctx)
	if err != nil || len(have) != 1 || have["nora"].PIN == 0 || have["nora"].Password != 0 {
		t.Fatal(have, err)
	}
}

func TestNoSecretInTheFile(t *testing.T) {
	s, _, path := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "407193865"); err != nil {
		t.Fatal(err)
	}
	token, _, err := s.SignIn(ctx, "nora", PIN, "")
	if err != nil {
		t.Fatal(err)
	}
	held(t, path, "407193865", token)
}

func fileHas(t *testing.T, name, text string) bool {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return bytes.Contains(b, []byte(text))
}

func TestSlowdownAndLock(t *testing.T) {
	s, c, _ := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	var waits []time.Duration
	for n := 1; n <= ofPerson.lock; n++ {
		a, err := s.Check(ctx, at("nora", "0001"))
		if err != nil || a.Outcome != Wrong {
			t.Fatal(n, a, err)
		}
		var wait time.Duration
		if a.Until != 0 {
			wait = a.Until.Sub(c.now())
		}
		waits = append(waits, wait)
		if n == ofPerson.lock {
			if have, _ := s.People(ctx); have["nora"].Until != a.Until {
				t.Error("the lead is not shown until when:", have)
			}
		}
		if wait > 0 { // even the right one waits
			c.add(wait - time.Millisecond)
			want := Wait
			if n == ofPerson.lock {
				want = Locked
			}
			if a, _ := s.Check(ctx, at("nora", "4071")); a.Outcome != want {
				t.Fatal(n, a)
			}
			c.add(time.Millisecond)
		}
	}
	want := []time.Duration{0, 0, 0, 15 * time.Second, 30 * time.Second, time.Minute, 2 * time.Minute, 4 * time.Minute, 8 * time.Minute, time.Hour}
	for i := range want {
		if waits[i] != want[i] {
			t.Errorf("wait %d is %v, not %v", i+1, waits[i], want[i])
		}
	}
	if a, _ := s.Check(ctx, at("nora", "4071")); a.Outcome != Right {
		t.Error("after the lock has run out the right PIN is not taken:", a)
	}
	if a, _ := s.Check(ctx, at("nora", "0001")); a.Outcome != Wrong || a.Until != 0 {
		t.Error("a right PIN does not clear the count:", a)
	}
}

func TestNewPINUnlocks(t *testing.T) {
	s, c, _ := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	for range 4 {
		if _, err := s.Check(ctx, at("nora", "0001")); err != nil {
			t.Fatal(err)
		}
	}
	if a, _ := s.Check(ctx, at("nora", "4071")); a.Outcome != Wait {
		t.Fatal(a)
	}
	if err := s.SetPIN(ctx, "nora", "hank", "5192"); err != nil {
		t.Fatal(err)
	}
	if a, _ := s.Check(ctx, at("nora", "5192")); a.Outcome != Right {
		t.Fatal(a)
	}
	_ = c
}

// Many tries at once are no way round the count.
func TestParallelTries(t *testing.T) {
	s, _, _ := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	var compared int
	var mu sync.Mutex
	var wg sync.WaitGroup
	for range 40 {
		wg.Go(func() {
			a, err := s.Check(ctx, at("nora", "0001"))
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				t.Error(err)
			}
			if a.Outcome == Wrong {
				compared++
			}
		})
	}
	wg.Wait()
	if compared != ofPerson.free+1 {
		t.Errorf("%d of 40 tries at once were compared, not %d", compared, ofPerson.free+1)
	}
}

func TestSignIns(t *testing.T) {
	s, c, _ := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	who := func(token string) (records.PersonCode, bool) {
		t.Helper()
		in, err := s.Who(ctx, token, "")
		if err != nil {
			t.Fatal(err)
		}
		return in.Person, in.Runs
	}
	token, _, err := s.SignIn(ctx, "nora", PIN, "")
	if err != nil || len(token) != 43 {
		t.Fatal(token, err)
	}
	other, _, _ := s.SignIn(ctx, "nora", PIN, "")
	if token == other {
		t.Fatal("two tokens are the same")
	}
	for range 30 { // kept up by use, until the absolute end
		if p, runs := who(token); p != "nora" || !runs {
			t.Fatal(p, runs)
		}
		c.add(Idle - time.Minute)
		if c.now().Sub(records.InstantOf(time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC))) >= Absolute {
			break
		}
	}
	if p, runs := who(token); p != "nora" || runs {
		t.Error("it outlives the absolute end, or is not remembered:", p, runs)
	}
	third, _, _ := s.SignIn(ctx, "nora", PIN, "")
	c.add(Idle)
	if p, runs := who(third); p != "nora" || runs {
		t.Error("it outlives the idle end:", p, runs)
	}
	fourth, _, _ := s.SignIn(ctx, "nora", PIN, "")
	if err := s.SignOut(ctx, fourth); err != nil {
		t.Fatal(err)
	}
	if p, _ := who(fourth); p != "" {
		t.Error("signed out, and still", p)
	}
	fifth, _, _ := s.SignIn(ctx, "nora", PIN, "")
	if err := s.SetPIN(ctx, "nora", "", "5192"); err != nil {
		t.Fatal(err)
	}
	if p, _ := who(fifth); p != "" {
		t.Error("a new PIN leaves an old sign-in")
	}
	for _, junk := range []string{"", "x", strings.Repeat("A", 43), strings.Repeat("A", 4000), token[:42] + "!"} {
		if p, runs := who(junk); p != "" || runs {
			t.Errorf("%q is %s's", junk, p)
		}
	}
	c.add(Absolute + remembered + time.Hour)
	if _, _, err := s.SignIn(ctx, "nora", PIN, ""); err != nil {
		t.Fatal(err)
	}
	if p, _ := who(token); p != "" {
		t.Error("remembered for ever")
	}
}

func TestForget(t *testing.T) {
	s, _, _ := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	token, _, _ := s.SignIn(ctx, "nora", PIN, "")
	if err := s.Forget(ctx, "nora"); err != nil {
		t.Fatal(err)
	}
	if in, _ := s.Who(ctx, token, ""); in.Person != "" {
		t.Error(in)
	}
	if a, _ := s.Check(ctx, at("nora", "4071")); a.Outcome != NoPIN {
		t.Error(a)
	}
}

func TestRehashedWhenCostsRise(t *testing.T) {
	s, _, path := open(t)
	ctx := context.Background()
	if err := s.SetPIN(ctx, "nora", "", "4071"); err != nil {
		t.Fatal(err)
	}
	dearer := Params{Memory: 16, Time: 2, Threads: 1}
	s2, err := Open(path, Options{Now: s.now, Params: dearer})
	if err != nil {
		t.Fatal(err)
	}
	defer s2.Close()
	if a, err := s2.Check(ctx, at("nora", "4071")); a.Outcome != Right || err != nil {
		t.Fatal(a, err)
	}
	kept, _, err := read[person](ctx, s2.in, inPeople, "nora")
	if err != nil {
		t.Fatal(err)
	}
	if p, _, _, err := parsePHC(kept.PIN.PHC); p != dearer || err != nil {
		t.Error(p, err)
	}
	if a, _ := s2.Check(ctx, at("nora", "4071")); a.Outcome != Right {
		t.Error("not right after it was hashed again")
	}
}

func TestFilesThatAreNot(t *testing.T) {
	dir := t.TempDir()
	junk := filepath.Join(dir, "junk.db")
	if err := os.WriteFile(junk, bytes.Repeat([]byte("not a database "), 300), 0o600); err != nil {
		t.Fatal(err)
	}
	now := func() records.Instant { return 1 }
	if _, err := Open(junk, Options{Now: now}); records.KindOf(err) != records.Corrupt {
		t.Error(err)
	}
	if _, err := Open(filepath.Join(dir, "no", "such", "people.db"), Options{Now: now}); err == nil {
		t.Error("a folder that is not there")
	}
	s, err := Open(filepath.Join(dir, "newer.db"), Options{Now: now})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.in.(*file).db.Exec("pragma user_version = 3"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if _, err := Open(filepath.Join(dir, "newer.db"), Options{Now: now}); records.KindOf(err) != records.TooNew {
		t.Error(err)
	}
}

func BenchmarkCheckAtFullCost(b *testing.B) {
	for b.Loop() {
		argon2.IDKey([]byte("4071"), []byte("somesaltsomesalt"), DefaultParams.Time, DefaultParams.Memory, DefaultParams.Threads, hashBytes)
	}
}
