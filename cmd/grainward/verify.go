package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"strings"

	"grainward/records"
	"grainward/records/ledger"
	"grainward/records/sqlite"
	"grainward/records/verify"
)

type verifyCommand struct {
	plantFlag
	Binder     string   `arg:"" optional:"" name:"BINDER.xlsx" help:"A binder to be held against the journal, as it was written or saved again by another program."`
	Checkpoint []string `placeholder:"FILE" help:"A checkpoint or .tlog-proof file kept elsewhere, to be held against the journal; may be given several times."`
	Vkey       string   `placeholder:"FILE" help:"The plant's public key as you were handed it; the one in DIR when left out."`
	JSON       bool     `name:"json" help:"Print one JSON object."`
}

// Help is the long help of the command, and the documentation of its JSON.
func (*verifyCommand) Help() string {
	return `With BINDER.xlsx, every cell of a binder is compared with a binder made anew from the journal's entries of that day.

Reads only, and trusts nothing that it did not compute itself. Whoever holds the private key could rewrite the whole journal: a checkpoint kept elsewhere shows that, so keep some, and give them with --checkpoint.

The exit code is 0 when everything is as it was written and signed, and 3 when not.

With --json, one object: "format": 1; "ok"; "report", with "entries": rows read; "root": the tree head they come to, base64; "signed": so many rows are covered by a checkpoint that is signed and agrees; "checkpoints": so many agree; "unchecked": so many lie past a missing row; "files": documents and photos whose hash agrees; "faults", in order of position, each with "position" and "to" (-1 when it is about no row), "kind" (missing, altered, malformed, repeated, rewritten, removed, unsigned, signature, file) and "sentence"; "more": faults beyond those listed. When a binder was given and the journal is as it was written, also "binder", with "entries": how many the journal held when it was made; "at": its moment; "leaves" and "cells": how many were compared; "same": whether it is byte for byte what the journal gives; "faults", each with "sheet", "cell", what it "says" and what it "should"; "more".`
}

func (c *verifyCommand) Run(ctx context.Context, w *world) error {
	key, err := c.key()
	if err != nil {
		return err
	}
	extra, err := readCheckpoints(c.Checkpoint)
	if err != nil {
		return err
	}
	store, err := c.openStore(ctx, sqlite.Read)
	if err != nil {
		return err
	}
	defer store.Close()
	report, err := verifyStore(ctx, w, store, key, extra)
	if err != nil {
		return err
	}
	ok, result := report.OK(), verifyJSON{Format: 1, Report: report}
	if c.Binder != "" && ok {
		if result.Binder, err = checkBinder(ctx, c.Binder, store, key); err != nil {
			return err
		}
		ok = len(result.Binder.Faults) == 0
	}
	if c.JSON {
		result.OK = ok
		err = w.writeJSON(result)
	} else {
		printReport(w, c.journalName(), &report)
		c.printBinder(w, result.Binder)
	}
	if err == nil && !ok {
		err = errFaulty
	}
	return err
}

// verifyJSON is the outer object; its members are documented in Help and stay.
type verifyJSON struct {
	Format int           `json:"format"`
	OK     bool          `json:"ok"`
	Report verify.Report `json:"report"`
	Binder *binderJSON   `json:"binder,omitempty"`
}

func (c *verifyCommand) key() (string, error) {
	if c.Vkey == "" {
		return c.Dir.verifier()
	}
	text, err := os.ReadFile(c.Vkey)
	if err != nil {
		return "", fileError("reading the public key", c.Vkey, err)
	}
	return strings.TrimSpace(string(text)), nil
}

// verifyStore verifies a journal with a public key, whose name is the journal's origin.
func verifyStore(ctx context.Context, w *world, store records.Store, key string, extra [][]byte) (verify.Report, error) {
	origin, err := originOf(key, false)
	if err != nil {
		return verify.Report{}, err
	}
	return verify.Journal(ctx, store, verify.Options{Verifier: key, Origin: origin, Extra: extra, Progress: w.bar("verifying")})
}

// readCheckpoints reads signed checkpoints from files; of a proof file it takes the checkpoint in it.
func readCheckpoints(paths []string) (all [][]byte, err error) {
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			return nil, fileError("reading the checkpoint", path, err)
		}
		if bytes.HasPrefix(text, []byte("c2sp.org/tlog-proof@")) {
			proof, err := ledger.ParseProof(text)
			if err != nil {
				return nil, &records.Error{Kind: records.Invalid, What: path + " is not a proof file", Err: err}
			}
			text = proof.Checkpoint
		}
		all = append(all, text)
	}
	return all, nil
}

func printReport(w *world, name string, r *verify.Report) {
	if r.OK() {
		w.say("%s is as it was written and signed: %s, %s, %s.", name, plural(int(r.Entries), "entry"), plural(r.Checkpoints, "checkpoint"), plural(r.Files, "file"))
		w.say("Tree head: %s", r.Root)
		return
	}
	n := len(r.Faults) + r.More
	if f := r.First(); f.Position >= 0 {
		w.say("%s is not as it was written: %s. The first bad entry is at position %d.", name, plural(n, "fault"), f.Position)
	} else {
		w.say("%s is not as it was written: %s.", name, plural(n, "fault"))
	}
	for _, f := range r.Faults {
		w.say("  %-9s  %s", f.Kind, indent(f.Sentence))
	}
	if r.More > 0 {
		w.say("  and %d more", r.More)
	}
	w.say("%s read; %d are covered by a checkpoint that is signed and agrees.", plural(int(r.Entries), "entry"), r.Signed)
	w.say("Stop writing, keep the file as it is, and restore the newest backup that verifies (`grainward restore`).")
}

// indent keeps the further lines of a sentence under its first.
func indent(text string) string { return strings.ReplaceAll(text, "\n", fmt.Sprintf("\n%13s", "")) }
