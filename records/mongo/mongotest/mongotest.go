// Package mongotest gives tests a MongoDB database: on the replica set that GRAINWARD_TEST_MONGODB_URI names, or else on
// FerretDB, built from the module in testdata/mongod. It is imported by tests only.
//
// It knows where a server is and how to lie between it and its clients (proxy.go); it must not know what a journal is.
package mongotest

import (
	"bufio"
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	driver "go.mongodb.org/mongo-driver/mongo"
	"go.mongodb.org/mongo-driver/mongo/options"
)

// Variable names a server to run on. It may hold credentials and options; the database name in it is replaced.
const Variable = "GRAINWARD_TEST_MONGODB_URI"

// URI is that of a server every test of this process may use, without a database. Where none can be had the test is
// skipped, unless one was asked for or GRAINWARD_CI is set: then it fails.
func URI(t testing.TB) string {
	t.Helper()
	if uri := os.Getenv(Variable); uri != "" {
		if err := ping(t.Context(), uri); err != nil {
			t.Fatalf("%s names a server that can not be reached: %v", Variable, err)
		}
		return uri
	}
	s, err := common()
	if err != nil {
		missing(t, err)
	}
	return s.URI
}

// common is one server for all tests of the process. It ends with it, when its standard input does.
var common = sync.OnceValues(func() (*Server, error) {
	dir, err := os.MkdirTemp("", "grainward-mongod-")
	if err != nil {
		return nil, err
	}
	return start(dir, "127.0.0.1:0", "-temporary")
})

func missing(t testing.TB, err error) {
	t.Helper()
	if os.Getenv("GRAINWARD_CI") != "" {
		t.Fatalf("the server in testdata/mongod: %v", err)
	}
	t.Skipf("no server to test on; the one in testdata/mongod: %v", err)
}

func ping(ctx context.Context, uri string) error {
	ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	c, err := driver.Connect(ctx, options.Client().ApplyURI(uri))
	if err != nil {
		return err
	}
	return errors.Join(c.Ping(ctx, nil), c.Disconnect(ctx))
}

// build makes the server's program once a process.
var build = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "grainward-mongod-")
	if err != nil {
		return "", err
	}
	program := filepath.Join(dir, "mongod")
	_, here, _, _ := runtime.Caller(0)
	cmd := exec.Command("go", "build", "-o", program, ".")
	cmd.Dir = filepath.Join(filepath.Dir(here), "..", "..", "..", "testdata", "mongod")
	cmd.Env = append(os.Environ(), "GOFLAGS=-mod=readonly", "GOWORK=off")
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("building it: %w\n%s", err, out)
	}
	return program, nil
})

// Server is a process of its own that answers.
type Server struct {
	URI string // without a database
	dir string
	cmd *exec.Cmd
}

// Start starts a server of the test's own on a directory, to be killed and started again. It always runs FerretDB.
func Start(t testing.TB, dir string) *Server {
	t.Helper()
	s, err := start(dir, "127.0.0.1:0")
	if err != nil {
		missing(t, err)
	}
	s.dir = dir
	t.Cleanup(s.Kill)
	return s
}

// Again starts the server that was killed, on its directory and where it listened.
func (s *Server) Again(t testing.TB) {
	t.Helper()
	next, err := start(s.dir, s.Address())
	if err != nil {
		t.Fatal(err)
	}
	s.cmd = next.cmd
}

// Kill ends the server as a power cut would, as far as a signal can.
func (s *Server) Kill() {
	if s.cmd.ProcessState == nil {
		_ = s.cmd.Process.Kill()
		_ = s.cmd.Wait()
	}
}

// Address is where it listens.
func (s *Server) Address() string {
	u, err := url.Parse(s.URI)
	if err != nil {
		panic(err) // it was parsed before
	}
	return u.Host
}

func start(dir, listen string, more ...string) (*Server, error) {
	program, err := build()
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(program, append([]string{"-dir", dir, "-listen", listen}, more...)...)
	cmd.Dir = dir
	cmd.Stderr = io.Discard
	if _, err := cmd.StdinPipe(); err != nil { // open as long as this process lives
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	s := &Server{cmd: cmd}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		return nil, fmt.Errorf("it ended before it said where it listens: %w", errors.Join(err, cmd.Wait()))
	}
	s.URI = strings.TrimSpace(line)
	if _, err := url.Parse(s.URI); err != nil {
		return nil, err
	}
	return s, nil
}

// Database is the URI of a database that holds nothing and is dropped when the test ends.
func Database(t testing.TB) string {
	t.Helper()
	uri := URI(t)
	var random [6]byte
	_, _ = rand.Read(random[:])
	name := "grainwardtest_" + hex.EncodeToString(random[:])
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		c, err := driver.Connect(ctx, options.Client().ApplyURI(uri))
		if err == nil {
			err = errors.Join(c.Database(name).Drop(ctx), c.Disconnect(ctx))
		}
		if err != nil {
			t.Errorf("dropping the database %s: %v", name, err)
		}
	})
	return WithDatabase(t, uri, name)
}

// WithDatabase puts a database into a URI.
func WithDatabase(t testing.TB, uri, name string) string {
	t.Helper()
	u, err := url.Parse(uri)
	if err != nil {
		t.Fatal(err)
	}
	if u.User != nil && u.Path != "" && u.Path != "/" && !u.Query().Has("authSource") {
		q := u.Query() // who signs in is looked up there unless told otherwise
		q.Set("authSource", strings.TrimPrefix(u.Path, "/"))
		u.RawQuery = q.Encode()
	}
	u.Path = "/" + name
	return u.String()
}

// Through is a URI that goes to an address instead of to its own hosts: that of a proxy.
func Through(t testing.TB, uri, address string) string {
	t.Helper()
	u, err := url.Parse(uri)
	if err != nil {
		t.Fatal(err)
	}
	u.Host = address
	q := u.Query()
	q.Del("replicaSet")
	q.Set("directConnection", "true")
	u.RawQuery = q.Encode()
	return u.String()
}
