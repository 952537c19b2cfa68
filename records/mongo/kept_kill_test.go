package mongo

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"go.mongodb.org/mongo-driver/bson"

	"grainward/records"
	"grainward/records/faulttest"
	"grainward/records/mongo/mongotest"
	"grainward/server/auth"
)

// setterVariable names the database in which this binary, started again as another process, sets PINs until it is killed.
const setterVariable = "GRAINWARD_MONGO_TEST_SETTER"

const (
	firstPIN, secondPIN = "4071", "5182"
	mark, second        = "+", "!" // what a setter says of a mark that it made, and behind the number of somebody whose PIN it changed
)

func TestMain(m *testing.M) {
	if uri := os.Getenv(setterVariable); uri != "" {
		if err := playSetter(uri, os.Args[1], os.Args[2]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

func overKept(k *Kept) (*auth.Store, error) {
	return auth.New(k, auth.Options{Now: func() records.Instant { return records.InstantOf(time.Now()) }, Params: auth.Params{Memory: 8, Time: 1, Threads: 1}})
}

// playSetter gives one person of its own after the other a PIN, and then another one, and between them makes a mark in a value that all
// setters share, as wrong tries at one person are. It says each of these once it was told that it is written.
func playSetter(uri, crowd, from string) error {
	ctx := context.Background()
	k, err := OpenKept(ctx, uri)
	if err != nil {
		return err
	}
	s, err := overKept(k)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(from)
	for ; err == nil; n++ {
		who := person(crowd, n)
		if err = s.SetPIN(ctx, who, "", firstPIN); err != nil {
			return err
		}
		fmt.Println(n)
		v, rev, err := k.Get(ctx, "marks", "shared")
		if err != nil {
			return err
		}
		ok, err := k.Put(ctx, "marks", "shared", fmt.Append(nil, 1+numberIn(v)), rev)
		if err != nil {
			return err
		}
		if ok { // else another one was quicker, or was killed while it was its turn
			fmt.Println(mark)
		}
		if err := s.SetPIN(ctx, who, "", secondPIN); err != nil {
			return err
		}
		fmt.Printf("%d%s\n", n, second)
	}
	return err
}

func person(crowd string, n int) records.PersonCode {
	return records.PersonCode(fmt.Sprint(crowd, "-", n))
}

func numberIn(v []byte) int {
	n, _ := strconv.Atoi(string(v)) // nothing yet is none
	return n
}

// TestKeptKilled runs three processes that set PINs in one database, and kills each again and again at moments it does not choose
// while the others go on. The next process goes on with the person whose PIN was being set. Every PIN that was said to be set
// opens; marks that several make in one value are all there, whether or not one was killed in its turn.
func TestKeptKilled(t *testing.T) {
	kills := (faulttest.Times(t, 9) + 2) / 3 // of each of the three
	seed := faulttest.Seed(t, rand.Uint64())
	uri := mongotest.Database(t)
	mustOpen(t, uri, Create)
	var mu sync.Mutex
	var all said
	var wg sync.WaitGroup
	for i := range 3 {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		crowd := string(rune('a' + i))
		wg.Go(func() {
			mine := said{pins: map[records.PersonCode]string{}}
			for range kills {
				if err := mine.setAndKill(uri, crowd, r); err != nil {
					t.Error(err)
					return
				}
			}
			mu.Lock()
			defer mu.Unlock()
			all.add(mine)
		})
	}
	wg.Wait()

	k := mustKeep(t, uri)
	s := must(overKept(k))
	for who, pin := range all.pins {
		opens := func(pin string) bool {
			return must(s.Check(t.Context(), auth.Try{Person: who, Secret: pin, Device: "tablet"})).Outcome == auth.Right
		}
		if !opens(pin) && (pin == secondPIN || !opens(secondPIN)) { // who was being given another one when their setter was killed may have either
			t.Errorf("the PIN of %s, %s, was said to be set and does not open", who, pin)
		}
	}
	v, _, err := k.Get(t.Context(), "marks", "shared")
	if err != nil || numberIn(v) < all.marks || numberIn(v) > all.marks+3*kills {
		t.Errorf("%d marks were made and %s are there, %v", all.marks, v, err)
	}
	turns := must(k.turns.CountDocuments(t.Context(), bson.D{}))
	faulttest.Count(t, 3*kills, "kills of three processes that set PINs in one database", fmt.Sprintf("%d PINs acknowledged, %d of them changed once more, all there, and %d marks in one value; %d killed before anything, %d in a turn to write", len(all.pins)+all.changed, all.changed, all.marks, all.early, turns))
	if all.early == 3*kills || all.marks == 0 {
		t.Error("nothing was acknowledged: nothing was shown")
	}
}

// said is what setters were told: whose PIN is which, and how many marks were made.
type said struct {
	pins                  map[records.PersonCode]string
	changed, marks, early int
	next                  int // the number of the person that comes next
}

func (a *said) add(b said) {
	if a.pins == nil {
		a.pins = map[records.PersonCode]string{}
	}
	for who, pin := range b.pins {
		a.pins[who] = pin
	}
	a.changed, a.marks, a.early = a.changed+b.changed, a.marks+b.marks, a.early+b.early
}

// setAndKill starts a setter, kills it, and takes in what it said.
func (a *said) setAndKill(uri, crowd string, r *rand.Rand) error {
	cmd := exec.Command(os.Args[0], crowd, strconv.Itoa(a.next))
	cmd.Env = append(os.Environ(), setterVariable+"="+uri)
	var errs strings.Builder
	cmd.Stderr = &errs
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	lines := bufio.NewReader(out)
	wanted, heard, armed := max(0, r.IntN(20)-4), 0, false
	for {
		if heard >= wanted && !armed {
			armed = true
			late := time.Duration(r.IntN(8000)) * time.Microsecond
			if wanted == 0 { // it still starts, or opens the database
				late = time.Duration(r.IntN(120)) * time.Millisecond
			}
			time.AfterFunc(late, func() { _ = cmd.Process.Kill() })
		}
		line, err := lines.ReadString('\n')
		if err == io.EOF { // a line without its end was not said
			break
		}
		if err != nil {
			return err
		}
		heard++
		if err := a.take(crowd, strings.TrimSuffix(line, "\n")); err != nil {
			return err
		}
	}
	if heard == 0 {
		a.early++
	}
	if err := cmd.Wait(); err == nil || errs.Len() > 0 {
		return errors.Join(fmt.Errorf("it was not killed: %s", &errs), err)
	}
	return nil
}

func (a *said) take(crowd, line string) error {
	if line == mark {
		a.marks++
		return nil
	}
	text, again := strings.CutSuffix(line, second)
	n, err := strconv.Atoi(text)
	if err != nil {
		return err
	}
	who := person(crowd, n)
	a.next = n
	if a.pins[who] = firstPIN; again {
		a.pins[who] = secondPIN
		a.changed++
		a.next = n + 1
	}
	return nil
}
