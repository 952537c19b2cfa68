package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/faulttest"
	"grainward/records/mongo/mongotest"
	"grainward/records/sqlite"
)

// started runs the program itself as another process, which is killed after a moment (never when it is 0). It says whether the
// program had ended by itself, and with which exit code.
func started(t *testing.T, after time.Duration, args ...string) (code int, killed bool, said string) {
	t.Helper()
	return startedUntil(t, func(<-chan struct{}) bool {
		time.Sleep(after)
		return after > 0
	}, args...)
}

// startedUntil is started with a moment of the caller's: the process is killed when soon gives true. soon is told when it has ended by itself.
func startedUntil(t *testing.T, soon func(ended <-chan struct{}) bool, args ...string) (code int, killed bool, said string) {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), serverVariable+"=1")
	var out strings.Builder
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan struct{})
	go func() {
		if soon(ended) {
			_ = cmd.Process.Kill() // which does nothing to one that has ended
		}
	}()
	err := cmd.Wait()
	close(ended)
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), cmd.ProcessState.ExitCode() < 0, out.String()
}

// mustEnd is started without a kill, which must do what it should; it gives how long that took.
func mustEnd(t *testing.T, args ...string) time.Duration {
	t.Helper()
	begun := time.Now()
	if code, _, said := started(t, 0, args...); code != 0 {
		t.Fatalf("grainward %v: exit code %d\n%s", args, code, said)
	}
	return time.Since(begun)
}

// moment is when to kill in a round, spread over what takes so long, but for its first third, in which the program starts.
func moment(r *rand.Rand, long time.Duration, round, rounds int) time.Duration {
	return max(1, time.Duration(float64(long)*(0.3+0.8*(float64(round)+r.Float64())/float64(rounds))))
}

// busyPlant is a plant with some hundred entries in batches and two files.
func busyPlant(t *testing.T) plantDir {
	t.Helper()
	dir := adoptedPlant(t)
	for n := range 4 {
		facts := filepath.Join(t.TempDir(), "facts.jsonl")
		var text strings.Builder
		for i := range 40 {
			fmt.Fprintf(&text, `{"happened":"%s","by":"amadeo","kind":"deviation","fact":{"what":"%d, %d: %s"}}`+"\n", records.InstantOf(time.Now()), n, i, strings.Repeat("dust on the sill; ", 20))
		}
		if err := os.WriteFile(facts, []byte(text.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		mustRun(t, "import", "--dir", string(dir), facts, "--attach", facts)
	}
	return dir
}

func mustRun(t *testing.T, args ...string) string {
	t.Helper()
	var out, errs strings.Builder
	if code := Run(t.Context(), args, quietWorld(&out, &errs)); code != 0 {
		t.Fatalf("grainward %v: exit code %d\n%s%s", args, code, &out, &errs)
	}
	return out.String()
}

// headOf is the newest signed tree head that a place says it has; verify has found nothing at fault with it.
func headOf(t *testing.T, where ...string) string {
	t.Helper()
	mustRun(t, append([]string{"verify"}, where...)...)
	return mustRun(t, append([]string{"checkpoint"}, where...)...)
}

// TestBackupAndRestoreKilled kills `grainward backup` while another process writes, and `grainward restore`, at moments spread over
// their whole length. Half of either is never taken for a whole one, giving the command again works, and nothing is lost.
func TestBackupAndRestoreKilled(t *testing.T) {
	rounds := faulttest.Times(t, 9)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	prepared := busyPlant(t)
	left, entries := map[string]int{}, 0
	for from := 0; from < rounds; from += onePlant {
		entries += backupsKilled(t, copyOf(t, prepared), r, min(onePlant, rounds-from), left)
	}
	faulttest.Count(t, rounds, "kills of `grainward backup` in the midst of appends", fmt.Sprintf("left %v; each could be made again; %d entries acknowledged meanwhile, all there", left, entries))

	dir := prepared
	backup := filepath.Join(t.TempDir(), "backup.db")
	mustRun(t, "backup", "--dir", string(dir), backup)
	want := headOf(t, "--dir", string(dir))
	left = map[string]int{}
	long := mustEnd(t, "restore", backup, "--dir", filepath.Join(t.TempDir(), "restored"), "--key", dir.keyFile())
	for round := range rounds {
		to := filepath.Join(t.TempDir(), "restored")
		args := []string{"restore", backup, "--dir", to, "--key", dir.keyFile()}
		if round%2 == 0 {
			_, _, _ = started(t, moment(r, long, round, rounds), args...)
		} else { // in the midst of writing
			_, _, _ = startedUntil(t, onceThere(to, time.Duration(r.Int64N(int64(long/10)))), args...)
		}
		was := standing(t, plantDir(to).journal(), dir)
		begun := ""
		if was != "whole" && exists(to) {
			begun = ", and something beside it"
		}
		left[was+begun]++
		if was != "whole" {
			if round%3 == 0 { // twice
				_, _, _ = started(t, moment(r, long, round, rounds), args...)
			}
			if code, _, said := started(t, 0, args...); code != 0 && !strings.Contains(said, "there is a journal at") {
				t.Fatalf("round %d, after %s: again: exit code %d\n%s", round, was, code, said)
			}
		}
		if got := headOf(t, "--dir", to); got != want {
			t.Fatalf("round %d: restored to\n%swant\n%s", round, got, want)
		}
		mustRun(t, "plan", "diff", "--dir", to) // plan.yaml is whole
	}
	faulttest.Count(t, rounds, "kills of `grainward restore`", fmt.Sprintf("left %v; each was restored by giving it again, with the same tree head", left))
}

// onePlant is how many rounds one plant is written to: each makes it larger, and a backup slower.
const onePlant = 12

func copyOf(t *testing.T, dir plantDir) plantDir {
	t.Helper()
	to := filepath.Join(t.TempDir(), "plant")
	if err := os.CopyFS(to, os.DirFS(string(dir))); err != nil {
		t.Fatal(err)
	}
	copied := plantDir(to)
	if err := os.Chmod(copied.keyFile(), 0o600); err != nil {
		t.Fatal(err)
	}
	return copied
}

// backupsKilled kills backups of one plant that another process writes to, counts what they left, and gives how many entries were
// acknowledged meanwhile: all of them are there.
func backupsKilled(t *testing.T, dir plantDir, r *rand.Rand, rounds int, left map[string]int) (entries int) {
	t.Helper()
	writer := writing(t, dir)
	long := mustEnd(t, "backup", "--dir", string(dir), filepath.Join(t.TempDir(), "b.db"))
	backups := t.TempDir()
	for round := range rounds {
		to := filepath.Join(backups, fmt.Sprint(round, ".db"))
		_, _, _ = started(t, moment(r, long, round, rounds), "backup", "--dir", string(dir), to)
		was := standing(t, to, dir)
		if left[was]++; was != "absent" && was != "whole" {
			t.Fatalf("round %d: the backup is %s", round, was)
		}
		if code, _, said := started(t, 0, "backup", "--dir", string(dir), to); code != 0 && !strings.Contains(said, "there is a file at") {
			t.Fatalf("round %d: again: exit code %d\n%s", round, code, said)
		}
		if got := standing(t, to, dir); got != "whole" {
			t.Fatalf("round %d: made again, it is %s", round, got)
		}
	}
	acknowledged := writer()
	if len(acknowledged) == 0 {
		t.Error("nothing was written meanwhile")
	}
	mustHold(t, &plantFlag{Dir: dir}, acknowledged)
	return len(acknowledged)
}

// standing is what a backup's file is: absent, empty (and refused), or whole, which is to say that it verifies.
func standing(t *testing.T, path string, dir plantDir) string {
	t.Helper()
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "absent"
	}
	if err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(t.Context(), path, sqlite.Read)
	if err != nil {
		if info.Size() != 0 || records.KindOf(err) != records.NotFound {
			t.Fatalf("%s, of %d bytes: %v", path, info.Size(), err)
		}
		return "empty, and refused"
	}
	defer s.Close()
	key, err := dir.verifier()
	if err != nil {
		t.Fatal(err)
	}
	report, err := verifyStore(t.Context(), quietWorld(io.Discard, os.Stderr), s, key, nil)
	if err != nil || !report.OK() || report.Entries == 0 {
		t.Fatalf("%s is neither empty nor whole: %+v, %v", path, report, err)
	}
	return "whole"
}

// writing starts a process that writes to a plant; the function given back kills it and gives what it acknowledged.
func writing(t *testing.T, dir plantDir) (stop func() map[records.EntryID]bool) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), appenderVariable+"="+string(dir), slowlyVariable+"=1")
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	acknowledged := map[records.EntryID]bool{}
	begun := make(chan struct{})
	var reading sync.WaitGroup
	reading.Go(func() {
		var id string
		for once := sync.OnceFunc(func() { close(begun) }); ; once() {
			if n, err := fmt.Fscanln(out, &id); n != 1 || err != nil {
				once()
				return
			}
			if parsed, err := records.ParseEntryID(id); err == nil { // a line without its end was not said
				acknowledged[parsed] = true
			}
		}
	})
	<-begun
	var once sync.Once
	stop = func() map[records.EntryID]bool {
		once.Do(func() {
			_ = cmd.Process.Kill()
			reading.Wait()
			_ = cmd.Wait()
		})
		return acknowledged
	}
	t.Cleanup(func() { stop() })
	return stop
}

// TestCopyKilled kills `grainward copy` in both directions between a file and a database, over and over. Giving it again goes on
// with what is there and ends with the same tree head; in between nothing that is not whole passes for the journal.
func TestCopyKilled(t *testing.T) {
	mongotest.URI(t)
	rounds := faulttest.Times(t, 8)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	dir := busyPlant(t)
	file := dir.journal()
	want := headOf(t, "--dir", string(dir))
	database := mongotest.Database(t)
	long := mustEnd(t, "copy", "--from", file, "--to", database, "--vkey", dir.vkeyFile())
	kills, began := 0, map[string]int{}
	for round := range rounds {
		var args, where []string
		if round%2 == 0 {
			to := mongotest.Database(t)
			args, where = []string{"copy", "--from", file, "--to", to, "--vkey", dir.vkeyFile()}, []string{"--dir", string(dir), "--mongo", to}
		} else {
			to := t.TempDir()
			for _, path := range []string{dir.keyFile(), dir.vkeyFile()} {
				text, err := os.ReadFile(path)
				if err == nil {
					err = os.WriteFile(filepath.Join(to, filepath.Base(path)), text, 0o600)
				}
				if err != nil {
					t.Fatal(err)
				}
			}
			args, where = []string{"copy", "--from", database, "--to", to, "--vkey", dir.vkeyFile()}, []string{"--dir", to}
		}
		for again := true; again; again = r.IntN(3) == 0 {
			if _, killed, _ := started(t, moment(r, long, round, rounds), args...); killed {
				kills++
			}
		}
		began[halfway(t, where)]++
		mustEnd(t, args...)
		if got := headOf(t, where...); got != want {
			t.Fatalf("round %d: copied to\n%swant\n%s", round, got, want)
		}
	}
	faulttest.Count(t, kills, "kills of `grainward copy`, half from a file to a database and half back", fmt.Sprintf("left %v; all %d copies ended with the same tree head", began, rounds))
}

// halfway says what a broken-off copy is to those who would read it.
func halfway(t *testing.T, where []string) string {
	t.Helper()
	var errs strings.Builder
	switch code := Run(t.Context(), append([]string{"verify"}, where...), quietWorld(&errs, &errs)); code {
	case 0:
		return "a beginning that verifies, or the whole"
	case 5:
		return "no journal"
	case 3:
		return "a beginning that verify does not take for whole"
	default:
		t.Fatalf("verify after a kill: exit code %d\n%s", code, &errs)
		return ""
	}
}

// onceThere gives a moment at most so long after there is something at a path.
func onceThere(path string, late time.Duration) func(ended <-chan struct{}) bool {
	return func(ended <-chan struct{}) bool {
		for !exists(path) {
			select {
			case <-ended:
				return false
			case <-time.After(100 * time.Microsecond):
			}
		}
		time.Sleep(late)
		return true
	}
}

// TestInitKilled kills `grainward init`, every other time just after it has made its directory, where it writes for milliseconds: giving it again either works or says that the directory is not empty, and never is there a
// journal that can be written to without its key.
func TestInitKilled(t *testing.T) {
	rounds := faulttest.Times(t, 8)
	r := rand.New(rand.NewPCG(faulttest.Seed(t, rand.Uint64()), 0))
	long := mustEnd(t, "init", "--dir", filepath.Join(t.TempDir(), "p"))
	left := map[string]int{}
	for round := range rounds {
		dir := plantDir(filepath.Join(t.TempDir(), "p"))
		if round%2 == 0 {
			_, _, _ = started(t, moment(r, long, round, rounds), "init", "--dir", string(dir))
		} else {
			_, _, _ = startedUntil(t, onceThere(string(dir), time.Duration(r.IntN(20_000))*time.Microsecond), "init", "--dir", string(dir))
		}
		code, _, said := started(t, 0, "init", "--dir", string(dir))
		switch {
		case code == 0:
			left["nothing"]++
		case code == 2 && strings.Contains(said, "is not empty"):
			left["a directory that is not empty"]++
			for _, path := range []string{dir.keyFile(), dir.vkeyFile(), dir.planFile()} {
				if info, err := os.Stat(path); err == nil && info.Size() == 0 {
					t.Errorf("round %d: %s is empty", round, path)
				}
			}
			if exists(dir.journal()) {
				if _, err := dir.signer(); err != nil {
					t.Errorf("round %d: a journal without its key: %v", round, err)
				}
			}
		default:
			t.Fatalf("round %d: again: exit code %d\n%s", round, code, said)
		}
	}
	faulttest.Count(t, rounds, "kills of `grainward init`", fmt.Sprintf("left %v", left))
}
