package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"grainward/records"
	"grainward/records/sqlite"
)

type pinCommand struct {
	plantFlag
	Person records.PersonCode `arg:"" name:"code" help:"The person's code in the plan."`
	PIN    bool               `name:"pin" help:"Set a PIN for a lead, who is asked for a password otherwise."`
	Forget bool               `help:"Erase the person's PIN, password and sign-ins instead."`
}

// Help is the long help of the command.
func (*pinCommand) Help() string {
	return `A lead is given a password (12 characters or more, taken on any device), everybody else a PIN (4 to 12 digits, taken on enrolled devices only: see grainward enrol). It is read as one line from standard input; on a terminal it is asked for twice and not shown. It is never taken from the command line, where others could read it.`
}

func (c *pinCommand) Run(ctx context.Context, w *world) error {
	b, err := c.openBook(ctx, w, sqlite.Read)
	if err != nil {
		return err
	}
	defer b.Close()
	p := b.View().State.PlanAt(w.instant())
	switch {
	case p == nil:
		return &records.Error{Kind: records.NotFound, What: "no plan is in force, so nobody is known yet", Do: "Adopt one with `grainward plan adopt`."}
	case p.Person(c.Person) == nil && !c.Forget:
		var codes []string
		for _, who := range p.People {
			codes = append(codes, string(who.Code))
		}
		return wrongFlag("code", string(c.Person), "somebody in the plan: "+strings.Join(codes, ", "))
	}
	store, err := c.openPeople(ctx, w)
	if err != nil {
		return err
	}
	defer store.Close()
	if c.Forget {
		if err := store.Forget(ctx, c.Person); err != nil {
			return err
		}
		w.say("Nothing is kept about %s any more.", c.Person)
		return nil
	}
	who, kind := p.Person(c.Person), "PIN"
	if who.Role == "lead" && !c.PIN {
		kind = "password"
	}
	secret, err := w.readSecret(kind)
	if err != nil {
		return err
	}
	if kind == "password" {
		err = store.SetPassword(ctx, c.Person, "", secret, who.Name, p.Plant.Name)
	} else {
		err = store.SetPIN(ctx, c.Person, "", secret)
	}
	if err != nil {
		return err
	}
	w.say("The %s of %s is set.", kind, who.Name)
	return nil
}

// readSecret reads a PIN or password.
func (w *world) readSecret(kind string) (string, error) {
	file, isFile := w.in.(*os.File)
	if !w.asks || !isFile {
		line, err := bufio.NewReader(w.in).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", fmt.Errorf("reading the %s: %w", kind, err)
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	var typed [2]string
	for i, ask := range []string{kind + ": ", "Again: "} {
		fmt.Fprint(w.err, ask)
		text, err := term.ReadPassword(int(file.Fd()))
		fmt.Fprintln(w.err)
		if err != nil {
			return "", fmt.Errorf("reading the %s: %w", kind, err)
		}
		typed[i] = string(text)
	}
	if typed[0] != typed[1] {
		return "", &records.Error{Kind: records.Invalid, What: "the two differ", Do: "Nothing was set; try again."}
	}
	return typed[0], nil
}
