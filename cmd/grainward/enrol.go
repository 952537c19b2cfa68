package main

import (
	"context"
	"net/url"
	"time"
)

type enrolCommand struct {
	plantFlag
	Name string        `default:"First device" placeholder:"NAME" help:"What the device is called."`
	For  time.Duration `default:"15m" placeholder:"TIME" help:"How long the code is taken, at most 24h."`
}

// Help is the long help of the command.
func (*enrolCommand) Help() string {
	return `PINs are taken only on enrolled devices. This makes a code for the first one; a lead makes the others in the browser, under Devices. It may run beside grainward serve.`
}

func (c *enrolCommand) Run(ctx context.Context, w *world) error {
	if err := c.Dir.check(); err != nil {
		return err
	}
	store, err := c.openPeople(ctx, w)
	if err != nil {
		return err
	}
	defer store.Close()
	code, ends, err := store.MakeCode(ctx, "", c.Name, c.For)
	if err != nil {
		return err
	}
	w.say("The code for %s is %s.", c.Name, code)
	w.say("Open %s on the device, at the address that grainward serve shows, before %s. It is used once.", enrolPath(code), ends.Time().Local().Format("15:04 on 2 January"))
	return nil
}

func enrolPath(code string) string { return "/enrol?" + url.Values{"code": {code}}.Encode() }
