package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/kong"

	"grainward/records"
)

func readme(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestReadmeCommands runs every command of the program that README.md shows in a block of sh, in order, in one
// directory, without the shell. What serves for ever is built and not served, and what measures for minutes measures little.
func TestReadmeCommands(t *testing.T) {
	blocks := regexp.MustCompile("(?ms)^```sh\n(.*?)^```$").FindAllStringSubmatch(readme(t), -1)
	t.Chdir(t.TempDir())
	t.Setenv("TMPDIR", t.TempDir())
	ran := 0
	for _, block := range blocks {
		for line := range strings.Lines(block[1]) {
			line, _, _ = strings.Cut(strings.TrimSpace(line), " #")
			args, ours := strings.CutPrefix(strings.Replace(line, "go run ./cmd/grainward", "grainward", 1), "grainward ")
			if !ours {
				continue
			}
			words := strings.Fields(args)
			switch words[0] {
			case "serve":
				continue
			case "demo":
				words = append(words, "--no-serve")
			case "bench": // as it is, on a plant of a day and a half
				t.Setenv(serverVariable, "bench")
				words = append(words, "--size", "900", "--devices", "2")
			}
			var out strings.Builder
			w := &world{in: strings.NewReader(""), out: &out, err: &out, now: time.Now}
			if code := Run(t.Context(), words, w); code != 0 {
				t.Fatalf("%s: exit code %d\n%s", line, code, &out)
			}
			ran++
		}
	}
	if ran == 0 {
		t.Fatal("README.md shows no command of this program")
	}
}

// TestReadmeNamesRealCommands looks up every command that README.md mentions in passing.
func TestReadmeNamesRealCommands(t *testing.T) {
	known := map[string]bool{}
	for _, node := range model(t).Leaves(false) {
		words := strings.Fields(node.FullPath()) // grainward plan check DIR
		known[words[0]+" "+words[1]] = true
	}
	for _, m := range regexp.MustCompile("`grainward ([a-z]+)").FindAllStringSubmatch(readme(t), -1) {
		if !known["grainward "+m[1]] {
			t.Errorf("README.md mentions `grainward %s`, which is no command", m[1])
		}
	}
}

func model(t *testing.T) *kong.Application {
	t.Helper()
	parser, err := kong.New(&commands{}, kong.Name("grainward"))
	if err != nil {
		t.Fatal(err)
	}
	return parser.Model
}

// TestEverythingHasHelp wants a sentence for every command, flag and argument.
func TestEverythingHasHelp(t *testing.T) {
	for _, node := range model(t).Leaves(false) {
		if node.Help == "" {
			t.Errorf("%s has no help", node.FullPath())
		}
		for _, f := range node.Flags {
			if f.Help == "" {
				t.Errorf("%s --%s has no help", node.FullPath(), f.Name)
			}
		}
		for _, a := range node.Positional {
			if a.Help == "" {
				t.Errorf("%s %s has no help", node.FullPath(), a.Name)
			}
		}
	}
}

// TestEnvironmentIsDocumented wants every environment variable the program reads to be named in its help; packages named *test are no part
// of it.
func TestEnvironmentIsDocumented(t *testing.T) {
	var help strings.Builder
	if code := Run(t.Context(), []string{"--help"}, &world{in: strings.NewReader(""), out: &help, err: &help, now: time.Now}); code != 0 {
		t.Fatalf("--help: exit code %d", code)
	}
	found := 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if d != nil && d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git" || strings.HasSuffix(d.Name(), "test")) {
			return fs.SkipDir
		}
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range regexp.MustCompile(`(?:env:|Getenv\(|LookupEnv\()"([A-Z_]+)"`).FindAllStringSubmatch(string(text), -1) {
			found++
			if !strings.Contains(help.String(), m[1]) {
				t.Errorf("%s reads %s, which the help does not name", path, m[1])
			}
		}
		return err
	})
	if err != nil || found == 0 {
		t.Fatalf("found %d; %v", found, err)
	}
}

// TestExitCodes wants every kind of error to have an exit code that the help and the package comment explain.
func TestExitCodes(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	for k := records.Internal; k <= records.Unavailable; k++ {
		code := exitCode(k)
		if code == 0 || code == 3 {
			t.Errorf("kind %d of error has exit code %d, which means something else", k, code)
		}
	}
	for code, means := range []string{"done", "a fault of the program", "usage, or input that is not as it should be", "verify found something", "busy", "not there", "storage"} {
		if digit := string(rune('0' + code)); !strings.Contains(exitCodes, digit+" "+means) || !strings.Contains(string(doc), digit+"  "+means) {
			t.Errorf("exit code %d, %q, is not explained in both places", code, means)
		}
	}
}
