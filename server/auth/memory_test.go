package auth

import (
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// besides opens one file twice: as a server that remembers and as another process.
func besides(t *testing.T) (server, other *Store, m *memory, clock *handClock) {
	t.Helper()
	_, c, _ := open(t) // for its clock
	path := filepath.Join(t.TempDir(), "people.db")
	o := Options{Now: c.now, Params: Params{Memory: 8, Time: 1, Threads: 1}}
	var err error
	if other, err = Open(path, o); err != nil {
		t.Fatal(err)
	}
	o.Remember = time.Second
	if server, err = Open(path, o); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { server.Close(); other.Close() })
	m = server.in.(*memory)
	clock = &handClock{at: time.Unix(1e9, 0)}
	m.now = clock.now
	return server, other, m, clock
}

type handClock struct{ at time.Time }

func (c *handClock) now() time.Time { return c.at }

// What was written here counts at once; what another process wrote, when the time has passed and not before it was looked at again.
func TestMemoryLasts(t *testing.T) {
	server, other, _, clock := besides(t)
	ctx := t.Context()
	enrol := func(s *Store) (string, Device) {
		code, _, err := s.MakeCode(ctx, "", "Tablet", CodeMost)
		if err != nil {
			t.Fatal(err)
		}
		key, d, _, err := s.Enrol(ctx, code, "")
		if err != nil {
			t.Fatal(err)
		}
		return key, d
	}
	sees := func(key string, d Device, want bool) {
		t.Helper()
		if got, err := server.Device(ctx, key); err != nil || (got.Code == d.Code) != want {
			t.Fatalf("%q %v; wanted %v", got.Code, err, want)
		}
	}
	key, d := enrol(server)
	sees(key, d, true)
	if err := server.WithdrawDevice(ctx, d.Code, "nora"); err != nil {
		t.Fatal(err)
	}
	sees(key, d, false)

	key, d = enrol(other)
	sees(key, d, true)
	if err := other.WithdrawDevice(ctx, d.Code, "nora"); err != nil {
		t.Fatal(err)
	}
	clock.at = clock.at.Add(999 * time.Millisecond)
	sees(key, d, true) // the price
	clock.at = clock.at.Add(time.Millisecond)
	sees(key, d, false)

	// A PIN that another process set counts at once where PINs are compared, and ends sign-ins within the second.
	if err := server.SetPIN(ctx, "nora", "", "4862"); err != nil {
		t.Fatal(err)
	}
	token, _, err := server.SignIn(ctx, "nora", PIN, "")
	if err != nil {
		t.Fatal(err)
	}
	runs := func(want bool) {
		t.Helper()
		if in, err := server.Who(ctx, token, ""); err != nil || in.Runs != want {
			t.Fatal(in, err)
		}
	}
	runs(true)
	if err := other.SetPIN(ctx, "nora", "", "9753"); err != nil {
		t.Fatal(err)
	}
	if token, _, err = server.SignIn(ctx, "nora", PIN, ""); err != nil {
		t.Fatal(err)
	}
	clock.at = clock.at.Add(time.Second)
	runs(true)
	if err := server.SignOut(ctx, token); err != nil {
		t.Fatal(err)
	}
	runs(false)
}

// However reads and writes meet, whoever reads after a write has come back sees that write or a later one.
func TestMemoryIsNeverBehindItself(t *testing.T) {
	_, _, m, _ := besides(t)
	ctx := t.Context()
	type counted struct{ N int }
	var done struct {
		sync.Mutex
		n int
	}
	var writers, readers sync.WaitGroup
	stop := make(chan struct{})
	for range 2 {
		writers.Go(func() {
			for range 300 {
				var wrote int
				if err := change(ctx, m, inDevices, "d", func(v *counted, _ bool) (bool, error) { v.N++; wrote = v.N; return true, nil }); err != nil {
					t.Error(err)
					return
				}
				done.Lock()
				done.n = max(done.n, wrote)
				done.Unlock()
			}
		})
	}
	var reads [4]int
	for i := range reads {
		readers.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				done.Lock()
				least := done.n
				done.Unlock()
				v, _, err := recent[counted](ctx, m, inDevices, "d")
				if err != nil || v.N < least {
					t.Errorf("saw %d after %d was written (%v)", v.N, least, err)
					return
				}
				reads[i]++
			}
		})
	}
	writers.Wait()
	close(stop)
	readers.Wait()
	if v, _, _ := recent[counted](ctx, m, inDevices, "d"); v.N != 600 {
		t.Errorf("%d writes are there of 600", v.N)
	}
	t.Logf("reads %v beside 600 writes", reads)
}

// It does not grow without end.
func TestMemoryIsBounded(t *testing.T) {
	_, _, m, clock := besides(t)
	for i := range 3 * memoriesMost {
		_, _, asked := m.recall(inDevices, fmt.Sprint(i))
		m.store(inDevices, fmt.Sprint(i), i, asked)
	}
	if len(m.have) > memoriesMost {
		t.Error(len(m.have))
	}
	if v, ok, _ := m.recall(inDevices, fmt.Sprint(3*memoriesMost-1)); !ok || v != 3*memoriesMost-1 {
		t.Error("the newest is not there")
	}
	clock.at = clock.at.Add(time.Hour)
	if _, ok, _ := m.recall(inDevices, fmt.Sprint(3*memoriesMost-1)); ok {
		t.Error("it is kept for ever")
	}
	if _, there, err := recent[device](t.Context(), m, inDevices, "none"); there || err != nil {
		t.Error(there, err)
	}
	if _, ok, _ := m.recall(inDevices, "none"); ok {
		t.Error("that nothing is there was kept")
	}
}
