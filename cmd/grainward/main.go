package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/term"
)

func main() {
	// A second signal ends the program at once: stop gives them back their usual meaning after the first.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	context.AfterFunc(ctx, stop)
	w := &world{
		in: os.Stdin, out: os.Stdout, err: os.Stderr,
		asks:     term.IsTerminal(int(os.Stdin.Fd())) && term.IsTerminal(int(os.Stderr.Fd())),
		progress: term.IsTerminal(int(os.Stderr.Fd())),
		now:      time.Now,
	}
	code := Run(ctx, os.Args[1:], w)
	stop()
	os.Exit(code)
}
