package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/kong"
)

// execStart is the command of a unit.
func execStart(t *testing.T, path string) []string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?m)^ExecStart=(.*)$`).FindStringSubmatch(string(text))
	if m == nil {
		t.Fatalf("%s starts nothing:\n%s", path, text)
	}
	return strings.Fields(m[1])
}

// parses says whether a command line is one that the program takes, without running it.
func parses(args []string) error {
	parser, err := kong.New(&commands{}, kong.Name("grainward"))
	if err == nil {
		_, err = parser.Parse(args)
	}
	return err
}

// TestUnits writes the units for plants of several kinds: systemd finds no fault in them, what they start is a command of this program,
// and the service is walled in.
func TestUnits(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	if err != nil && os.Getenv("GRAINWARD_CI") != "" {
		t.Fatal(err)
	}
	uri := filepath.Join(t.TempDir(), "uri")
	if err := os.WriteFile(uri, []byte("mongodb://db1.example/mill\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	plant := []string{"--dir", "/var/lib/grainward/plant"}
	etc := t.TempDir()
	company := filepath.Join(etc, "company.yaml")
	text := strings.NewReplacer("dir: upper,", "dir: upper, mongo: \"@uri\",", "dir: lower,", "dir: /var/lib/grainward/lower,").Replace(twoPlants)
	for path, data := range map[string]string{company: text, filepath.Join(etc, "uri"): "mongodb://db1.example/upper\n"} {
		if err := os.WriteFile(path, []byte(data), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, more := range map[string][]string{
		"a company":       {"--company", company, "--listen", "0.0.0.0:8443"},
		"on this machine": nil,
		"on the network":  {"--listen", "0.0.0.0:8443", "--watch", "off", "--keep", "7"},
		"own certificate": {"--listen", "0.0.0.0:443", "--cert", "/etc/ssl/site.crt", "--key", "/etc/ssl/site.key", "--name", "mill", "--user", "mill"},
		"a database":      {"--mongo", "@" + uri},
	} {
		t.Run(name, func(t *testing.T) {
			into := t.TempDir()
			number := 3
			if isOneOf("--company", more...) {
				number = 5
			} else {
				more = append(more, plant...)
			}
			out := ask(t, append([]string{"unit", "--backups", "/var/backups/grainward", "--program", program, "--into", into}, more...)...)
			paths := strings.Fields(out)
			if len(paths) != number {
				t.Fatal(out)
			}
			services := slices.DeleteFunc(slices.Clone(paths), func(path string) bool { return !strings.HasSuffix(path, ".service") })
			for _, path := range services {
				if err := parses(execStart(t, path)[1:]); err != nil {
					t.Errorf("%s: %v", path, err)
				}
			}
			if analyze == "" {
				t.Skip("there is no systemd-analyze here")
			}
			if said, err := exec.CommandContext(t.Context(), analyze, append([]string{"verify", "--man=no"}, paths...)...).CombinedOutput(); err != nil || strings.Contains(string(said), into) {
				t.Errorf("%v: %s", err, said)
			}
			for _, path := range services { // 2.0 of 10 at most; above it the exit code is not 0
				if said, err := exec.CommandContext(t.Context(), analyze, "security", "--offline=true", "--threshold=20", path).CombinedOutput(); err != nil {
					t.Errorf("%v: %s", err, said)
				}
			}
		})
	}
}

// Of a company there is one service, which may write where each plant is, and for each plant a backup that may write that plant's only.
func TestUnitsOfCompany(t *testing.T) {
	etc := t.TempDir()
	company := filepath.Join(etc, "company.yaml")
	write := func(text string) {
		if err := os.WriteFile(company, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	write(strings.NewReplacer("dir: upper,", "dir: upper, mongo: \"@uri\",", "dir: lower,", "dir: /srv/lower,").Replace(twoPlants))
	out := ask(t, "unit", "--company", company, "--backups", "/srv/backups", "--program", "/usr/local/bin/grainward", "--name", "tarn")
	parts := map[string]string{}
	for _, part := range strings.Split(out, "# tarn")[1:] {
		name, text, _ := strings.Cut(part, "\n")
		parts[name] = text
	}
	for name, words := range map[string][]string{
		".service":              {"ExecStart=/usr/local/bin/grainward serve --company " + company + " --listen", "ReadWritePaths=" + etc + " -/srv/lower\n", "ReadOnlyPaths=" + etc + "/uri\n"},
		"-backup-upper.service": {"backup --dir " + etc + "/upper --into /srv/backups/upper --keep 30 --mongo @" + etc + "/uri\n", "ReadWritePaths=" + etc + "/upper /srv/backups\n", "a backup of upper"},
		"-backup-lower.service": {"backup --dir /srv/lower --into /srv/backups/lower --keep 30\n", "ReadWritePaths=/srv/lower /srv/backups\n"},
		"-backup-upper.timer":   {"a backup of upper each night"},
		"-backup-lower.timer":   {"OnCalendar="},
	} {
		for _, word := range words {
			if !strings.Contains(parts[name], word) {
				t.Errorf("tarn%s has not %q:\n%s", name, word, parts[name])
			}
		}
	}
	if len(parts) != 5 || strings.Contains(parts["-backup-lower.service"], "uri") {
		t.Errorf("%d units: %s", len(parts), out)
	}
	refused := func(want string, args ...string) {
		t.Helper()
		var errs strings.Builder
		if code := Run(t.Context(), append([]string{"unit", "--backups", "/srv/backups"}, args...), quietWorld(io.Discard, &errs)); code != 2 || !strings.Contains(errs.String(), want) {
			t.Errorf("%q: exit code %d, %s", args, code, &errs)
		}
	}
	refused("can't be used together", "--company", company, "--dir", "/srv/plant")
	refused("missing flags: --dir=DIR or --company=FILE")
	refused("the company file to say where", "--company", company, "--mongo", "@/etc/uri")
	write(strings.Replace(twoPlants, "dir: upper,", "dir: upper, mongo: \"mongodb://db1.example/upper\",", 1))
	refused("everybody can read a unit", "--company", company)
	write(strings.Replace(twoPlants, "dir: upper,", "dir: upper mill,", 1))
	refused("which mean nothing else in a unit", "--company", company)
	write("name: x")
	refused("the company file has", "--company", company)
}

// What would mean something else in a unit, or can not work in one, is refused before anything is written.
func TestUnitRefused(t *testing.T) {
	for want, more := range map[string][]string{
		"which mean nothing else in a unit": {"--dir", "/srv/my plant"},
		"everybody can read a unit":         {"--mongo", "mongodb://db1.example/mill"},
		"nobody's home":                     {"--dir", "/home/nora/plant"},
		"1 or more":                         {"--keep", "0"},
		"is not an address to listen at":    {"--listen", "here"},
	} {
		into := t.TempDir()
		var errs strings.Builder
		args := append([]string{"unit", "--dir", "/srv/plant", "--backups", "/srv/backups", "--into", into}, more...)
		if code := Run(t.Context(), args, quietWorld(io.Discard, &errs)); code != 2 || !strings.Contains(errs.String(), want) {
			t.Errorf("%q: exit code %d, %s", more, code, &errs)
		}
		if left, err := os.ReadDir(into); err != nil || len(left) > 0 {
			t.Error(left, err)
		}
	}
}

// outside are the programs of other makers that the guide's commands begin with; they are not run here.
var outside = []string{"install", "useradd", "systemctl", "curl", "cp"}

// TestGuide runs every command of this program that the guide shows, in order, each at its place: directories elsewhere, the user left
// out, and in place of systemd what the units start.
func TestGuide(t *testing.T) {
	root := t.TempDir()
	for _, dir := range []string{"/var/lib/grainward", "/var/backups/grainward", "/etc/systemd/system"} {
		if err := os.MkdirAll(root+dir, 0o700); err != nil {
			t.Fatal(err)
		}
	}
	here := strings.NewReplacer("/var/", root+"/var/", "/etc/systemd", root+"/etc/systemd")
	now := time.Now()
	run := func(line string, words []string) {
		t.Helper()
		var errs strings.Builder
		w := quietWorld(io.Discard, &errs)
		w.in = strings.NewReader("grey herons in the reeds\n")
		w.now = func() time.Time { now = now.Add(time.Second); return now }
		if code := Run(t.Context(), words, w); code != 0 {
			t.Fatalf("%s: exit code %d\n%s", line, code, &errs)
		}
	}
	ours := 0
	for _, block := range regexp.MustCompile("(?ms)^```sh\n(.*?)^```$").FindAllStringSubmatch(guide, -1) {
		for line := range strings.Lines(block[1]) {
			line = strings.TrimSpace(line)
			command := here.Replace(strings.TrimPrefix(line, "runuser -u grainward -- "))
			words := strings.Fields(command)
			switch {
			case words[0] == "grainward":
				if strings.Contains(command, "NEWEST.db") {
					names, err := datedBackups(root + "/var/backups/grainward")
					if err != nil || len(names) == 0 {
						t.Fatal(names, err)
					}
					words = strings.Fields(strings.Replace(command, "NEWEST.db", names[len(names)-1], 1))
				}
				if words[1] == "restore" { // on another machine
					bring(t, root)
				}
				run(line, words[1:])
				ours++
			case line == "systemctl start grainward-backup.service":
				run(line, execStart(t, root+"/etc/systemd/system/grainward-backup.service")[1:])
			case strings.HasPrefix(line, "systemctl enable --now grainward.service"):
				if err := parses(execStart(t, root+"/etc/systemd/system/grainward.service")[1:]); err != nil {
					t.Fatal(err)
				}
			case !isOneOf(words[0], outside...):
				t.Errorf("the guide runs %q, which is neither of this program nor known", line)
			}
		}
	}
	if ours < 10 {
		t.Errorf("the guide shows %d commands of this program", ours)
	}
	run("the restored plant", []string{"verify", "--dir", root + "/var/lib/grainward/plant"})
}

// bring makes a machine another one: what is carried over is there, the plant is not.
func bring(t *testing.T, root string) {
	t.Helper()
	lib := root + "/var/lib/grainward"
	for from, to := range map[string]string{lib + "/plant/plant.key": lib + "/plant.key", root + "/var/backups/grainward/move.db": lib + "/move.db"} {
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.RemoveAll(lib + "/plant"); err != nil {
		t.Fatal(err)
	}
}

// Every command of the guide's text that is in backquotes exists, and README names the guide.
func TestGuideNamesRealCommands(t *testing.T) {
	known := map[string]bool{}
	for _, node := range model(t).Leaves(false) {
		known[strings.Fields(node.FullPath())[1]] = true
	}
	for _, m := range regexp.MustCompile("`grainward ([a-z]+)").FindAllStringSubmatch(guide, -1) {
		if !known[m[1]] {
			t.Errorf("the guide mentions `grainward %s`, which is no command", m[1])
		}
	}
	if !strings.Contains(readme(t), "grainward guide") {
		t.Error("README.md does not name the guide")
	}
}
