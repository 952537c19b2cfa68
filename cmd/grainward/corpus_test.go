package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestFuzzTargetsKeepACorpus wants, for every fuzz target there is, inputs that were found to lead somewhere new, in testdata/fuzz beside it: they
// are tried in every run of the tests. Small ones, or the repository would carry more inputs than program.
func TestFuzzTargetsKeepACorpus(t *testing.T) {
	const mostFile, mostAll = 8 << 10, 1 << 20
	target := regexp.MustCompile(`(?m)^func (Fuzz\w+)\(f \*testing\.F\)`)
	targets, inputs, all := map[string]bool{}, 0, int64(0)
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if name := d.Name(); name == "node_modules" || name != ".." && strings.HasPrefix(name, ".") {
				return fs.SkipDir
			}
			return nil
		}
		if dir, fuzz := filepath.Split(filepath.Clean(path)); strings.Contains(filepath.ToSlash(dir), "/testdata/fuzz/") {
			info, err := d.Info()
			if err != nil {
				return err
			}
			if info.Size() > mostFile {
				t.Errorf("%s has %d bytes; keep what is small", fuzz, info.Size())
			}
			inputs, all = inputs+1, all+info.Size()
			return nil
		}
		if !strings.HasSuffix(path, "_test.go") {
			return nil
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, m := range target.FindAllStringSubmatch(string(text), -1) {
			targets[m[1]] = true
			kept := filepath.Join(filepath.Dir(path), "testdata", "fuzz", m[1])
			if have, err := os.ReadDir(kept); err != nil || len(have) == 0 {
				t.Errorf("%s in %s keeps no input in %s", m[1], path, kept)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if all > mostAll || len(targets) < 20 {
		t.Errorf("%d targets keep %d inputs of %d bytes", len(targets), inputs, all)
	}
	t.Logf("%d inputs of %d bytes are kept", inputs, all)
}
