package sqlite

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"grainward/records"
)

// The tests need other processes: to be killed, to hold the lock, to be nobody. Those are this test binary again,
// with the part to play in the environment and what it needs as arguments.
const partVariable = "GRAINWARD_SQLITE_TEST_PART"

var parts = map[string]func(ctx context.Context, args []string, in *bufio.Reader) error{
	"appender":      playAppender,
	"holder":        playHolder,
	"reader":        playReader,
	"frozen reader": playFrozenReader,
	"writer":        playWriter,
	"backer":        playBacker,
	"migrator":      playMigrator,
	"racer":         playRacer,
	"limited":       playLimited,
}

func TestMain(m *testing.M) {
	if part := os.Getenv(partVariable); part != "" {
		play, ok := parts[part]
		if !ok {
			fmt.Fprintln(os.Stderr, "no such part:", part)
			os.Exit(2)
		}
		if err := play(context.Background(), os.Args[1:], bufio.NewReader(os.Stdin)); err != nil {
			fmt.Fprintf(os.Stderr, "kind %d: %v\n", records.KindOf(err), err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// child is a started process. Its standard input is a pipe, so that it sees the end of file should this one die.
type child struct {
	cmd    *exec.Cmd
	in     io.WriteCloser
	out    *bufio.Reader
	errors *strings.Builder
}

func start(t *testing.T, cmd *exec.Cmd, part string) *child {
	t.Helper()
	cmd.Env = append(os.Environ(), partVariable+"="+part)
	c := &child{cmd: cmd, errors: &strings.Builder{}}
	cmd.Stderr = c.errors
	var err error
	if c.in, err = cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	c.out = bufio.NewReader(out)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if cmd.ProcessState == nil {
			_ = cmd.Process.Kill()
			_ = cmd.Wait()
		}
	})
	return c
}

func (c *child) line(t *testing.T) string {
	t.Helper()
	line, err := c.out.ReadString('\n')
	if err != nil {
		err = errors.Join(err, c.cmd.Wait())
		t.Fatalf("the other process ended early: %v\n%s", err, c.errors)
	}
	return strings.TrimSuffix(line, "\n")
}

// partRow is a row that tells which batch it belongs to, with padding that its place decides, so that whoever reads
// it can tell the bytes are right and the batch whole.
func partRow(at, first, of int) records.Row {
	r := rand.New(rand.NewPCG(uint64(at), uint64(of)))
	pad := make([]byte, r.IntN(3000))
	for i := range pad {
		pad[i] = 'a' + byte(r.IntN(26))
	}
	text := fmt.Appendf(nil, `{"at":%d,"first":%d,"of":%d,"pad":"%s"}`, at, first, of, pad)
	return records.Row{Bytes: text, Leaf: sha256.Sum256(text)}
}

func partBatch(first, of int) records.Batch {
	b := records.Batch{After: records.Position(first)}
	for i := range of {
		b.Rows = append(b.Rows, partRow(first+i, first, of))
	}
	return b
}

// checkParts reads from the border of a batch to the end: every row right, every batch whole. It gives the end.
func checkParts(ctx context.Context, s *Store, from int) (int, error) {
	due, first, of := from, from, 0
	err := s.Read(ctx, records.Position(from), func(at records.Position, r records.Row) error {
		if due == first+of { // a new batch
			var place int
			first = due
			if _, err := fmt.Sscanf(string(r.Bytes), `{"at":%d,"first":%d,"of":%d,`, &place, new(int), &of); err != nil {
				return fmt.Errorf("position %d: %.60q: %w", at, r.Bytes, err)
			}
		}
		if want := partRow(due, first, of); int(at) != due || string(r.Bytes) != string(want.Bytes) || r.Leaf != want.Leaf {
			return fmt.Errorf("position %d: %.60q where %.60q was due", at, r.Bytes, want.Bytes)
		}
		due++
		return nil
	})
	if err == nil && due != first+of {
		err = fmt.Errorf("the batch of %d from %d ends at %d", of, first, due)
	}
	return due, err
}

// playAppender appends batches until it is killed, and writes each new end once it is acknowledged.
func playAppender(ctx context.Context, args []string, _ *bufio.Reader) error {
	seed, err := strconv.ParseUint(args[1], 10, 64)
	if err != nil {
		return err
	}
	r := rand.New(rand.NewPCG(seed, 0))
	s, err := Open(ctx, args[0], Write)
	if err != nil {
		return err
	}
	if seed%2 == 0 { // fold the log into the file often, to be killed in the midst of that too
		if _, err := s.writes.conn.ExecContext(ctx, "PRAGMA wal_autocheckpoint = 20"); err != nil {
			return err
		}
	}
	head, err := s.Head(ctx)
	for at := int(head); err == nil; {
		b := partBatch(at, 1+r.IntN(12))
		if err = s.Append(ctx, b); err == nil {
			at += len(b.Rows)
			_, err = fmt.Println(at)
		}
	}
	return err
}

// playHolder opens for writing and waits for its input to end.
func playHolder(ctx context.Context, args []string, in *bufio.Reader) error {
	s, err := Open(ctx, args[0], Write)
	if err != nil {
		return err
	}
	fmt.Println("holding")
	_, err = io.Copy(io.Discard, in)
	return errors.Join(err, s.Close())
}
