package crew

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Taking comment lines out changes nothing of what a module does: no text goes over several lines, and every module is still one by
// Node's own reading of it.
func TestModulesGoOutWithoutComments(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil && os.Getenv("GRAINWARD_CI") != "" {
		t.Fatal("node is not here")
	}
	for _, name := range Names() {
		if path.Ext(name) != ".mjs" {
			continue
		}
		raw, fault := static.ReadFile("static/" + name)
		if fault != nil {
			t.Fatal(fault)
		}
		for i, line := range bytes.Split(raw, []byte("\n")) {
			if bytes.Count(line, []byte("`"))%2 != 0 || bytes.HasPrefix(bytes.TrimSpace(line), []byte("/*")) {
				t.Errorf("%s:%d: a text or comment over several lines", name, i+1)
			}
		}
		out, _, fault := File(name)
		if fault != nil {
			t.Fatal(fault)
		}
		if len(out) > len(raw) || regexp.MustCompile(`(?m)^\s*//`).Match(out) {
			t.Errorf("%s still has comments", name)
		}
		if err != nil {
			continue
		}
		cmd := exec.Command(node, "--check", "--input-type=module", "-")
		cmd.Stdin = bytes.NewReader(out)
		if said, bad := cmd.CombinedOutput(); bad != nil {
			t.Errorf("%s: %s", name, said)
		}
	}
}

// The shell asks at once for every module that the page starts with, and for no other.
func TestShellNamesItsModules(t *testing.T) {
	html, err := Shell()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"crew.mjs", "queue.mjs", "store.mjs", "ask.mjs", "pad.mjs", "decimal.mjs", "words.mjs"} {
		if !strings.Contains(string(html), `href="/crew/`+Version()+"/"+name+`"`) {
			t.Errorf("%s is not asked for at once", name)
		}
	}
	for _, name := range []string{"goods.mjs", "worker.mjs", "cache.mjs"} {
		if strings.Contains(string(html), name) {
			t.Errorf("%s is", name)
		}
	}
}

func TestFiles(t *testing.T) {
	for _, bad := range []string{"", "..", "../doc.go", "none.mjs", "a/b", "/etc/passwd"} {
		if _, _, err := File(bad); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	data, media, err := File(List)
	var names []string
	if err != nil || media != "application/json" || json.Unmarshal(data, &names) != nil || !slices.Contains(names, "queue.mjs") {
		t.Errorf("%s %s %v", data, media, err)
	}
	for _, name := range names {
		if _, media, err := File(name); err != nil || media == "" {
			t.Errorf("%s: %q %v", name, media, err)
		}
	}
}

// Every text is there in both languages, with the same values in it, and every key that is said is there.
func TestTexts(t *testing.T) {
	files, err := filepath.Glob("static/*.mjs")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	row := regexp.MustCompile(`(?m)^  "?([a-z0-9-]+)"?: \["((?:[^"\\]|\\.)*)", "((?:[^"\\]|\\.)*)"\],$`)
	said := regexp.MustCompile(`\bt\("([a-z0-9-]+)"`)
	values := regexp.MustCompile(`\{\d\}`)
	have, want := map[string]bool{}, map[string]string{}
	for _, f := range files {
		data, err := static.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range row.FindAllSubmatch(data, -1) {
			key := string(m[1])
			if have[key] {
				t.Errorf("the text %s is there twice", key)
			}
			have[key] = true
			en, es := values.FindAllString(string(m[2]), -1), values.FindAllString(string(m[3]), -1)
			slices.Sort(en)
			slices.Sort(es)
			if len(m[2]) == 0 || len(m[3]) == 0 || !slices.Equal(en, es) {
				t.Errorf("%s: %s | %s", key, m[2], m[3])
			}
		}
		for _, m := range said.FindAllSubmatch(data, -1) {
			want[string(m[1])] = f
		}
	}
	if len(have) < 100 {
		t.Fatalf("only %d texts were found", len(have))
	}
	for key, f := range want {
		if !have[key] && !strings.HasSuffix(key, "-") {
			t.Errorf("%s says %q, which is not there", f, key)
		}
	}
}
