package main

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"

	"grainward/records"
	"grainward/records/mongo"
	"grainward/records/sqlite"
	"grainward/records/transfer"
	"grainward/server/auth"
)

type copyCommand struct {
	From string `required:"" placeholder:"PLACE" help:"What is copied."`
	To   string `required:"" placeholder:"PLACE" help:"Where to: empty, or where a copy of the same journal was begun."`
	Vkey string `type:"path" placeholder:"FILE" help:"The plant's public key (plant.vkey), to check the signatures of the tree heads too."`

	People bool `help:"Copy who may sign in too: PINs and passwords, enrolled devices and auditors' links. Both places are then a plant's directory or a database."`
}

// Help is the long help of the command.
func (*copyCommand) Help() string {
	return `A PLACE is a journal's file (or a plant's directory, whose journal.db it then is), a MongoDB URI (mongodb://HOST[,HOST...]/DATABASE?replicaSet=NAME), or @FILE, whose first line is such a URI: a password is better kept there than on the command line.

Copied are the entries with their signed tree heads, and the documents and photos; not the private key and plan.yaml, which stay in the plant's directory. PINs, passwords, enrolled devices and auditors' links are copied with --people, and set anew otherwise; whoever is signed in signs in again. Every entry is hashed and every tree head compared on the way, and at the end the copy is read back: both have the same tree head. A copy that was broken off is gone on with by giving the same command again. Nothing is ever written over: a place that holds another journal is refused.

Stop writing to the plant first. To go on in the new place, give --mongo from then on, or leave it out, and move the old journal away: two places that are both written to are two journals.`
}

func (c *copyCommand) Run(ctx context.Context, w *world) (err error) {
	o := transfer.Options{Progress: w.bar("copying")}
	if c.Vkey != "" {
		text, err := os.ReadFile(c.Vkey)
		if err != nil {
			return fileError("reading the public key", c.Vkey, err)
		}
		o.Verifier = strings.TrimSpace(string(text))
	}
	if c.People {
		for name, place := range map[string]string{"--from": c.From, "--to": c.To} {
			if info, err := os.Stat(place); !isURI(place) && (err != nil || !info.IsDir()) {
				return wrongFlag(name, place, "with --people, a plant's directory or a database: a journal's file alone has no people beside it")
			}
		}
	}
	if c.From == c.To {
		return wrongFlag("--to", placeName(c.To), "another place than --from")
	}
	from, err := openPlace(ctx, c.From, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	to, err := openPlace(ctx, c.To, true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	r, err := transfer.Copy(ctx, to, from, o)
	if err != nil {
		return err
	}
	w.say("%s holds %s (%d of them were there), %s and %s.", placeName(c.To), plural(int(r.Entries), "entry"), r.Before, plural(r.Heads, "signed tree head"), plural(r.Files, "file"))
	w.say("Tree head of both: %s", r.Root)
	if c.People {
		return c.carryPeople(ctx, w)
	}
	return nil
}

// carryPeople copies who may sign in, once the journal is there.
func (c *copyCommand) carryPeople(ctx context.Context, w *world) (err error) {
	from, err := openPeopleAt(ctx, c.From, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	to, err := openPeopleAt(ctx, c.To, true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	got, err := auth.Carry(ctx, to, from)
	if err != nil {
		return err
	}
	w.say("Copied who may sign in: %s, %s and %s; %d of what is kept of them is new there. Whoever is signed in signs in again.",
		plural(got.People, "person"), plural(got.Devices, "device"), plural(got.Links, "link"), got.New)
	return nil
}

// openPeopleAt opens what a place keeps of the people. make makes it where there is none yet.
func openPeopleAt(ctx context.Context, place string, make bool) (auth.FileCabinet, error) {
	if isURI(place) {
		var uri mongoURI
		if err := uri.UnmarshalText([]byte(place)); err != nil {
			return nil, err
		}
		return mongo.OpenKept(ctx, string(uri))
	}
	file := plantDir(place).people()
	if !make && !exists(file) {
		return nil, &records.Error{Kind: records.NotFound, What: "there is no " + file, Do: "Nobody has a PIN there: leave --people out."}
	}
	return auth.OpenFile(file)
}

// isURI says that a place is in a database.
func isURI(place string) bool {
	return strings.HasPrefix(place, "mongodb://") || strings.HasPrefix(place, "mongodb+srv://") || strings.HasPrefix(place, "@")
}

// placeName is a place without a password.
func placeName(place string) string {
	if isURI(place) && !strings.HasPrefix(place, "@") {
		return "The database"
	}
	return place
}

func openPlace(ctx context.Context, place string, write bool) (records.Store, error) {
	if isURI(place) {
		var uri mongoURI
		if err := uri.UnmarshalText([]byte(place)); err != nil {
			return nil, err
		}
		if write {
			return mongo.Open(ctx, string(uri), mongo.Create)
		}
		return mongo.Open(ctx, string(uri), mongo.Read)
	}
	if info, err := os.Stat(place); err == nil && info.IsDir() {
		place = filepath.Join(place, "journal.db")
	}
	if write {
		return sqlite.Open(ctx, place, sqlite.Write)
	}
	return sqlite.Open(ctx, place, sqlite.Read)
}
