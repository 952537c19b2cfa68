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
	Dir     string `required:"" type:"path" placeholder:"DIR" help:"The plant's directory, such as /var/lib/grainward/plant."`
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
	return `Three units for systemd: NAME.service serves the plant, NAME-backup.service makes a backup and reads it back, NAME-backup.timer runs that each night. They run as a user of their own and may write nothing but the plant's directory and, for the backup, that of the backups. ` + "`grainward guide`" + ` prints how to install the whole.`
}

//go:embed unit
var unitFiles embed.FS

// unit is what is filled in.
type unit struct {
	Name, User, Dir, Backups, Serve, Backup, Families string
	Reads                                             []string
}

// plainWord is what needs no quoting in a unit, where spaces, quotes, dollars and percent signs mean something.
var plainWord = regexp.MustCompile(`^[A-Za-z0-9._/:@,\[\]-]+$`)

func (c *unitCommand) Run(w *world) error {
	u, err := c.unit()
	if err != nil {
		return err
	}
	t, err := template.ParseFS(unitFiles, "unit/*.tmpl")
	if err != nil {
		return err
	}
	for _, f := range []struct{ template, name string }{{"service.tmpl", ".service"}, {"backup.tmpl", "-backup.service"}, {"timer.tmpl", "-backup.timer"}} {
		var text strings.Builder
		if err := t.ExecuteTemplate(&text, f.template, u); err != nil {
			return err
		}
		name := c.Name + f.name
		if c.Into == "" {
			w.say("# %s", name)
			w.say("%s", strings.TrimSpace(text.String())+"\n")
			continue
		}
		path := filepath.Join(c.Into, name)
		if err := writeNew(path, []byte(strings.TrimSpace(text.String())+"\n"), 0o644); err != nil {
			return err
		}
		w.say("%s", path)
	}
	return nil
}

func (c *unitCommand) unit() (*unit, error) {
	for _, f := range []struct{ name, value string }{{"--dir", c.Dir}, {"--backups", c.Backups}, {"--listen", c.Listen}, {"--watch", c.Watch}, {"--cert", c.Cert}, {"--key", c.Key}, {"--mongo", c.Mongo}, {"--user", c.User}, {"--program", c.Program}, {"--name", c.Name}} {
		if f.value != "" && !plainWord.MatchString(f.value) {
			return nil, wrongFlag(f.name, f.value, "letters, digits and . _ / : @ , -, which mean nothing else in a unit")
		}
	}
	listen := listenFlags{Listen: c.Listen, Cert: c.Cert, Key: c.Key}
	if err := listen.check(); err != nil {
		return nil, err
	}
	switch {
	case c.Mongo != "" && !strings.HasPrefix(c.Mongo, "@/"):
		return nil, wrongFlag("--mongo", "given", "@ and the full path of a file: everybody can read a unit, and a URI may hold a password")
	case c.Keep < 1:
		return nil, wrongFlag("--keep", strconv.Itoa(c.Keep), "1 or more")
	case strings.HasPrefix(c.Dir, "/home/") || strings.HasPrefix(c.Dir, "/root/"):
		return nil, wrongFlag("--dir", c.Dir, "a directory that is in nobody's home: the service can not see those")
	}
	u := &unit{Name: c.Name, User: c.User, Dir: c.Dir, Backups: c.Backups, Families: "AF_INET AF_INET6 AF_UNIX AF_NETLINK"}
	serve := []string{c.Program, "serve", "--dir", c.Dir, "--listen", c.Listen, "--log", "json", "--log-level", "info"}
	backup := []string{c.Program, "backup", "--dir", c.Dir, "--into", c.Backups, "--keep", strconv.Itoa(c.Keep)}
	if c.Watch != "off" {
		serve = append(serve, "--watch", c.Watch)
	}
	if c.Cert != "" {
		serve = append(serve, "--cert", c.Cert, "--key", c.Key)
		u.Reads = append(u.Reads, c.Cert, c.Key)
	}
	if c.Mongo != "" {
		serve, backup = append(serve, "--mongo", c.Mongo), append(backup, "--mongo", c.Mongo)
		u.Reads = append(u.Reads, strings.TrimPrefix(c.Mongo, "@"))
	}
	u.Serve, u.Backup = strings.Join(serve, " "), strings.Join(backup, " ")
	return u, nil
}
