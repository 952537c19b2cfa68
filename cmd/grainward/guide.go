package main

import _ "embed"

type guideCommand struct{}

// guide is how to install, upgrade and move a plant's server; a test runs its commands.
//
//go:embed guide.md
var guide string

func (guideCommand) Run(w *world) error {
	_, err := w.out.Write([]byte(guide))
	return err
}
