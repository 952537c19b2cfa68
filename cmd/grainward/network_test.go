package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/sqlite"
	"grainward/server"
)

// What the flags of serve lead to: TLS where other machines can come, the plant's authority in its directory, a door to fetch it at.
func TestListenFlags(t *testing.T) {
	dir := plantDir(filepath.Join(t.TempDir(), "p"))
	var out strings.Builder
	w := &world{in: strings.NewReader(""), out: &out, err: &out, now: time.Now}
	if code := Run(t.Context(), []string{"init", "--dir", string(dir), "--name", "Alderbend"}, w); code != 0 {
		t.Fatal(out.String())
	}
	b, err := dir.openBook(t.Context(), w, sqlite.Write)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for _, c := range []struct {
		flags   listenFlags
		tls     bool
		install string
	}{
		{listenFlags{Listen: "127.0.0.1:8417"}, false, ""},
		{listenFlags{Listen: "[::1]:0"}, false, ""},
		{listenFlags{Listen: "0.0.0.0:8443"}, true, "0.0.0.0:8480"},
		{listenFlags{Listen: ":8443"}, true, ":8480"},
		{listenFlags{Listen: "[fd00::2]:8443", Install: "[fd00::2]:80"}, true, "[fd00::2]:80"},
		{listenFlags{Listen: "192.168.7.20:443", Install: "off"}, true, ""},
	} {
		var made server.Config
		if err := c.flags.check(); err != nil {
			t.Fatal(err)
		}
		if err := c.flags.configure(&made, w, dir, b); err != nil {
			t.Fatal(err)
		}
		if (made.Network != nil) != c.tls || made.InstallAt != c.install {
			t.Errorf("%+v leads to %v at %q", c.flags, made.Network, made.InstallAt)
		}
	}
	info, err := os.Stat(filepath.Join(string(dir), "authority.key"))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Error(info, err)
	}
	f := listenFlags{Listen: "0.0.0.0:8443", Name: []string{"elsewhere.example"}}
	if err := f.configure(&server.Config{}, w, dir, b); records.KindOf(err) != records.Invalid || !strings.Contains(err.Error(), "elsewhere.example") {
		t.Error("a name the authority may not certify:", err)
	}
}
