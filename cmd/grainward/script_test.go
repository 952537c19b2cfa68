package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"grainward/records/mongo/mongotest"
	"grainward/records/sqlite"
)

func TestMain(m *testing.M) {
	if os.Getenv(appenderVariable) != "" {
		playAppender()
		return
	}
	if os.Getenv(serverVariable) != "" {
		main()
	}
	testscript.Main(m, map[string]func(){
		"grainward": main,
		"holder":    playHolder,
	})
}

// TestScripts runs the sessions in testdata/script: what a person types, what comes back, and the exit code.
func TestScripts(t *testing.T) {
	testscript.Run(t, scripts("testdata/script"))
}

// TestMongoScripts runs those in testdata/mongoscript, which need a database: each has two of its own, $DB and $DB2.
func TestMongoScripts(t *testing.T) {
	mongotest.URI(t) // or the test is skipped
	p := scripts("testdata/mongoscript")
	p.Setup = func(env *testscript.Env) error {
		env.Setenv("DB", mongotest.Database(t))
		env.Setenv("DB2", mongotest.Database(t))
		return nil
	}
	testscript.Run(t, p)
}

func scripts(dir string) testscript.Params {
	return testscript.Params{
		Dir:                 dir,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Condition: func(cond string) (bool, error) {
			if cond == "mount" {
				return mayMount(), nil
			}
			return false, fmt.Errorf("no such condition: %s", cond)
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"code":     exits,
			"sql":      changeFile,
			"rewrite":  rewriteFile,
			"fill":     fillUp,
			"await":    await,
			"tmpfs":    mountSmall,
			"readonly": mountReadOnly,
			"many":     writeMany,
		},
	}
}

// exits runs a command and wants an exit code: code N grainward ARGS.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N command args...")
	}
	got, err := 0, ts.Exec(args[1], args[2:]...)
	var ended interface{ ExitCode() int }
	if errors.As(err, &ended) {
		got = ended.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if fmt.Sprint(got) != args[0] {
		ts.Fatalf("exit code %d, want %s", got, args[0])
	}
}

// changeFile runs SQL on a file behind the program's back: sql FILE STATEMENT.
func changeFile(ts *testscript.TestScript, _ bool, args []string) {
	db, err := sql.Open("sqlite", ts.MkAbs(args[0]))
	ts.Check(err)
	_, err = db.Exec(args[1])
	ts.Check(errors.Join(err, db.Close()))
}

// writeMany writes a file of many facts: many FILE N.
func writeMany(ts *testscript.TestScript, _ bool, args []string) {
	n, err := strconv.Atoi(args[1])
	ts.Check(err)
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, `{"happened":"2026-03-02T12:30:00.%03d-05:00","by":"amadeo","kind":"deviation","fact":{"what":"%d: %s"}}`+"\n", i%1000, i, strings.Repeat("dust on the sill; ", 20))
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(b.String()), 0o644))
}

// await waits until a file is there.
func await(ts *testscript.TestScript, _ bool, args []string) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for range tick.C {
		if _, err := os.Stat(ts.MkAbs(args[0])); err == nil {
			return
		}
	}
}

// mayMount says whether this process may mount: where it may not, a full disk and a read-only one can not be made.
func mayMount() bool {
	dir, err := os.MkdirTemp("", "grainward-mount-")
	if err != nil {
		return false
	}
	defer os.Remove(dir)
	if syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k") != nil {
		return false
	}
	return syscall.Unmount(dir, 0) == nil
}

// mountSmall makes a directory a disk of its own: tmpfs DIR SIZE.
func mountSmall(ts *testscript.TestScript, _ bool, args []string) {
	dir := ts.MkAbs(args[0])
	ts.Check(os.MkdirAll(dir, 0o755))
	ts.Check(syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+args[1]))
	ts.Defer(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
}

// fillUp writes a file until the disk it is on is full: fill FILE.
func fillUp(ts *testscript.TestScript, _ bool, args []string) {
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	for err = nil; err == nil; {
		_, err = f.Write(make([]byte, 4096))
	}
	if !errors.Is(err, syscall.ENOSPC) {
		ts.Fatalf("filling the disk: %v", err)
	}
}

// mountReadOnly makes a directory one that can not be written: readonly DIR.
func mountReadOnly(ts *testscript.TestScript, _ bool, args []string) {
	dir := ts.MkAbs(args[0])
	ts.Check(syscall.Mount(dir, dir, "", syscall.MS_BIND, ""))
	ts.Defer(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	ts.Check(syscall.Mount("", dir, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))
}

// playHolder is a second process that has a plant open for writing: holder DIR. It says so with a file and waits to be
// killed.
func playHolder() {
	dir := os.Args[1]
	s, err := sqlite.Open(context.Background(), plantDir(dir).journal(), sqlite.Write)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	defer s.Close()
	if err := os.WriteFile(filepath.Join(filepath.Dir(strings.TrimSuffix(dir, "/")), "held"), fmt.Append(nil, os.Getpid()), 0o644); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	select {}
}
