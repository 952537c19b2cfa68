package crew

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"
)

//go:embed static
var static embed.FS

//go:embed shell.html
var shellText string

var shell = template.Must(template.New("shell").Parse(shellText))

// List and Rest are the addresses, below /crew/HASH/, of the names of files that the service worker takes at once, and later.
const (
	List = "files.json"
	Rest = "rest.json"
)

// Names are the files of the page, by name.
var Names = sync.OnceValue(func() (names []string) {
	entries, err := fs.ReadDir(static, "static")
	if err != nil {
		panic(err) // it is embedded a few lines above
	}
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
})

// Version is the hash in the addresses of the files: of all of them and the shell.
var Version = sync.OnceValue(func() string {
	h := sha256.New()
	fmt.Fprintf(h, "%d:%s", len(shellText), shellText)
	for _, name := range Names() {
		data, _, err := File(name)
		if err != nil {
			panic(err) // it is embedded
		}
		fmt.Fprintf(h, "%s %d:%s", name, len(data), data)
	}
	return hex.EncodeToString(h.Sum(nil))[:12]
})

// media are the types of the files. A map of ours, because not every system's table knows a module or a manifest.
var media = map[string]string{".mjs": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".svg": "image/svg+xml", ".png": "image/png",
	".webmanifest": "application/manifest+json"}

// File is one file and its media type. The error is fs.ErrNotExist for a name that is not there.
func File(name string) (data []byte, mediaType string, err error) {
	if name == List || name == Rest {
		data, err = json.Marshal(kept(name == Rest))
		return data, "application/json", err
	}
	if !fs.ValidPath(name) || strings.Contains(name, "/") {
		return nil, "", fs.ErrNotExist
	}
	if data, err = static.ReadFile("static/" + name); path.Ext(name) == ".mjs" {
		data = comment.ReplaceAll(data, nil)
	}
	return data, media[path.Ext(name)], err
}

// kept are what the service worker takes before it says that it is there, or the rest: modules the page does not start with (the forms
// about goods), which it takes when the page asks it to, a little later. The large icon is for installing only.
func kept(rest bool) []string {
	first := needed("crew.mjs", nil)
	return slices.DeleteFunc(slices.Clone(Names()), func(n string) bool {
		isRest := path.Ext(n) == ".mjs" && !IsWorker(n) && !slices.Contains(first, n)
		return n == "icon.png" || isRest != rest
	})
}

// comment is a line that is nothing but a comment: for those who read the source, not for a phone on a bad network. A test sees to it that
// no text goes over several lines, in which such a line could be meant.
var comment = regexp.MustCompile(`(?m)^\s*//.*\n`)

// IsWorker says whether a file is run as a service worker.
func IsWorker(name string) bool { return name == "worker.mjs" || name == "cache.mjs" }

// Shell is the page itself, the same for everybody.
func Shell() ([]byte, error) {
	var b bytes.Buffer
	err := shell.Execute(&b, struct {
		Version string
		Modules []string
	}{Version(), needed("crew.mjs", nil)})
	return b.Bytes(), err
}

var imports = regexp.MustCompile(`(?m)^(?:import|export) (?:[^;]*? from )?"\./([a-z]+\.mjs)";`)

// needed are a module and those it can not start without, so that a browser asks for all of them at once.
func needed(name string, had []string) []string {
	if slices.Contains(had, name) {
		return had
	}
	had = append(had, name)
	data, _, err := File(name)
	if err != nil {
		panic(err) // a module that is not there; a test starts them all
	}
	for _, m := range imports.FindAllSubmatch(data, -1) {
		had = needed(string(m[1]), had)
	}
	return had
}
