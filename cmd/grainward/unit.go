package main

import (
	"embed"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"text/template"
)

type unitCommand struct {
	Dir     string `required:"" xor:"of" type:"path" placeholder:"DIR" help:"The plant's directory, such as /var/lib/grainward/plant."`
	Company string `required:"" xor:"of" type:"path" placeholder:"FILE" help:"A company file instead: one service for all its plants, and a backup of each."`
	Backups string `required:"" type:"path" placeholder:"DIR" help:"Where a backup is made each night, such as /var/backups/grainward; better on another disk."`
	Keep    int    `default:"30" placeholder:"N" help:"How many backups stay there."`
	Listen  string `default:"127.0.0.1:8417" placeholder:"HOST:PORT" help:"Where browsers are answered; 0.0.0.0:8443 for the plant's network, by TLS."`
	Watch   string `default:"9464" placeholder:"[HOST:]PORT" help:"Where metrics and health are answered; on this machine when it is a port alone, 'off' for nowhere."`
	Cert    string `type:"path" placeholder:"FILE" help:"A certificate of the site's own (PEM), which the user must be able to read."`
	Key     string `type:"path" placeholder:"FILE" help:"Its private key (PEM, mode 0600)."`
	Mongo   string `placeholder:"@FILE" help:"The file that holds the MongoDB URI, when the journal is in a database."`
	User    string `default:"grainward" placeholder:"NAME" help:"The system user that runs it and owns both directories."`
	Program string `default:"/usr/local/bin/grainward" type:"path" placeholder:"FILE" help:"Where this program is."`
	Name    string `default:"grainward" placeholder:"NAME" help:"What the units are called; another name for a second plant on one machine."`
	Into    string `type:"path" placeholder:"DIR" help:"Where to write them, such as /etc/systemd/system; when left out, they are printed. Nothing is written over."`
}

// Help is the long help of the command.
func (*unitCommand) Help() string {
	return `Three units for systemd: NAME.service serves the plant, NAME-backup.service makes a backup and reads it back, NAME-backup.timer runs that each night. They run as a user of their own and may write nothing but the plant's directory and, for the backup, that of the backups.

With --company FILE, NAME.service serves every plant of the file and the company's page, and each plant has a backup and a timer of its own, NAME-backup-PLANT, into a directory of its own below --backups: one that fails stops no other. Write them anew, after removing the old ones, when a plant is added to the file. ` + "`grainward guide`" + ` prints how to install the whole.`
}

//go:embed unit
var unitFiles embed.FS

// unit is what is filled in.
type unit struct {
	template, file string // which form it has, and what it is called

	Name, User, Of, Start, Families string
	Writes, Reads                   []string
}

// plainWord is what needs no quoting in a unit, where spaces, quotes, dollars and percent signs mean something.
var plainWord = regexp.MustCompile(`^[A-Za-z0-9._/:@,\[\]-]+$`)

func (c *unitCommand) Run(w *world) error {
	units, err := c.units()
	if err != nil {
		return err
	}
	t, err := template.ParseFS(unitFiles, "unit/*.tmpl")
	if err != nil {
		return err
	}
	for _, u := range units {
		var text strings.Builder
		if err := t.ExecuteTemplate(&text, u.template, u); err != nil {
			return err
		}
		if c.Into == "" {
			w.say("# %s", u.file)
			w.say("%s", strings.TrimSpace(text.String())+"\n")
			continue
		}
		path := filepath.Join(c.Into, u.file)
		if err := writeNew(path, []byte(strings.TrimSpace(text.String())+"\n"), 0o644); err != nil {
			return err
		}
		w.say("%s", path)
	}
	return nil
}

func (c *unitCommand) units() ([]unit, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	u := unit{template: "service.tmpl", file: c.Name + ".service", Name: c.Name, User: c.User, Families: "AF_INET AF_INET6 AF_UNIX AF_NETLINK"}
	flags := []string{"--listen", c.Listen, "--log", "json", "--log-level", "info"}
	if c.Watch != "off" {
		flags = append(flags, "--watch", c.Watch)
	}
	if c.Cert != "" {
		flags = append(flags, "--cert", c.Cert, "--key", c.Key)
		u.Reads = append(u.Reads, c.Cert, c.Key)
	}
	if c.Company != "" {
		return c.ofCompany(u, flags)
	}
	u.Writes = []string{c.Dir}
	if c.Mongo != "" {
		flags = append(flags, "--mongo", c.Mongo)
		u.Reads = append(u.Reads, strings.TrimPrefix(c.Mongo, "@"))
	}
	u.Start = c.start("serve", append([]string{"--dir", c.Dir}, flags...)...)
	return append([]unit{u}, c.backup(u, "-backup", c.Dir, c.Mongo, c.Backups)...), nil
}

func (c *unitCommand) start(command string, args ...string) string {
	return strings.Join(append([]string{c.Program, command}, args...), " ")
}

// backup is the service that makes a backup of a plant, and the timer that runs it.
func (c *unitCommand) backup(u unit, ending, dir, mongo, into string) []unit {
	args := []string{"--dir", dir, "--into", into, "--keep", strconv.Itoa(c.Keep)}
	if mongo != "" {
		args = append(args, "--mongo", mongo)
	}
	u.template, u.file, u.Start, u.Writes = "backup.tmpl", c.Name+ending+".service", c.start("backup", args...), []string{dir, c.Backups}
	timer := u
	timer.template, timer.file = "timer.tmpl", c.Name+ending+".timer"
	return []unit{u, timer}
}

// ofCompany are the units of a company file. It may name plants that are not there yet.
func (c *unitCommand) ofCompany(u unit, flags []string) ([]unit, error) {
	f, err := readCompany(c.Company)
	if err != nil {
		return nil, err
	}
	u.Writes = []string{f.dir} // the authority of the company's page is made there
	var backups []unit
	for _, p := range f.Plants {
		dir, mongo := f.path(p.Dir), p.Mongo
		if !plainWord.MatchString(dir) {
			return nil, wrongFlag("--company", dir, "plants in directories of letters, digits and . _ / : @ , -, which mean nothing else in a unit")
		}
		if mongo != "" && !strings.HasPrefix(mongo, "@") {
			return nil, wrongFlag("--company", "given", "mongo: \"@FILE\" for plant "+string(p.Code)+": everybody can read a unit, and a URI may hold a password")
		}
		own := u
		own.Of, own.Reads = string(p.Code), nil
		if mongo != "" {
			file := f.path(strings.TrimPrefix(mongo, "@"))
			mongo, own.Reads = "@"+file, []string{file}
			u.Reads = append(u.Reads, file)
		}
		if !within(dir, f.dir) {
			u.Writes = append(u.Writes, "-"+dir) // one that is not there yet keeps the others from nothing
		}
		backups = append(backups, c.backup(own, "-backup-"+string(p.Code), dir, mongo, filepath.Join(c.Backups, string(p.Code)))...)
	}
	u.Start = c.start("serve", append([]string{"--company", c.Company}, flags...)...)
	return append([]unit{u}, backups...), nil
}

// within says whether a directory is another, or lies in it.
func within(dir, in string) bool {
	rel, err := filepath.Rel(in, dir)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, "../")
}

func (c *unitCommand) check() error {
	for _, f := range []struct{ name, value string }{{"--dir", c.Dir}, {"--company", c.Company}, {"--backups", c.Backups}, {"--listen", c.Listen}, {"--watch", c.Watch}, {"--cert", c.Cert}, {"--key", c.Key}, {"--mongo", c.Mongo}, {"--user", c.User}, {"--program", c.Program}, {"--name", c.Name}} {
		if f.value != "" && !plainWord.MatchString(f.value) {
			return wrongFlag(f.name, f.value, "letters, digits and . _ / : @ , -, which mean nothing else in a unit")
		}
	}
	listen := listenFlags{Listen: c.Listen, Cert: c.Cert, Key: c.Key}
	if err := listen.check(); err != nil {
		return err
	}
	switch {
	case c.Mongo != "" && c.Company != "":
		return wrongFlag("--mongo", "given", "the company file to say where each plant's journal is")
	case c.Mongo != "" && !strings.HasPrefix(c.Mongo, "@/"):
		return wrongFlag("--mongo", "given", "@ and the full path of a file: everybody can read a unit, and a URI may hold a password")
	case c.Keep < 1:
		return wrongFlag("--keep", strconv.Itoa(c.Keep), "1 or more")
	}
	for _, f := range []struct{ name, value string }{{"--dir", c.Dir}, {"--company", c.Company}} {
		if strings.HasPrefix(f.value, "/home/") || strings.HasPrefix(f.value, "/root/") {
			return wrongFlag(f.name, f.value, "a directory that is in nobody's home: the service can not see those")
		}
	}
	return nil
}
