// Command mongod is a database server for tests: FerretDB with its SQLite handler, which speaks the MongoDB wire
// protocol. It is a module of its own, so that the project's go.mod does not carry it.
//
// It listens on a loopback port of the system's choice, prints its URI as its first line, keeps its files in the
// directory given, and ends on SIGTERM or an interrupt, or when its standard input ends: a test that dies takes its
// server with it.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"

	"github.com/FerretDB/FerretDB/ferretdb"
)

func main() {
	dir := flag.String("dir", "", "where the databases are kept; required")
	listen := flag.String("listen", "127.0.0.1:0", "where to answer")
	temporary := flag.Bool("temporary", false, "remove the directory at the end, and the one this program is in")
	flag.Parse()
	err := run(*dir, *listen)
	if *temporary {
		err = errors.Join(err, os.RemoveAll(*dir))
		if self, where := os.Executable(); where == nil {
			err = errors.Join(err, os.RemoveAll(filepath.Dir(self)))
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "mongod:", err)
		os.Exit(1)
	}
}

func run(dir, listen string) error {
	if dir == "" {
		return errors.New("name a directory with -dir")
	}
	full, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(full, 0o700); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	go func() {
		_, _ = io.Copy(io.Discard, os.Stdin)
		stop()
	}()
	server, err := ferretdb.New(&ferretdb.Config{
		Listener:  ferretdb.ListenerConfig{TCP: listen},
		Logger:    slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError})),
		Handler:   "sqlite",
		SQLiteURL: (&url.URL{Scheme: "file", Path: full + "/"}).String(),
	})
	if err != nil {
		return err
	}
	go indexAll(ctx, full)
	ended := make(chan error, 1)
	go func() { ended <- server.Run(ctx) }()
	fmt.Println(server.MongoDBURI())
	return <-ended
}
