package main

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"grainward/records"
	"grainward/records/mongo/mongotest"
	"grainward/records/sqlite"
)

const twoPlants = `name: Brackwater Grain
host: company.localhost
plants:
  - {code: upper, dir: upper, host: upper.localhost}
  - {code: lower, dir: lower, host: lower.localhost}
people:
  - {name: Nora Feldt, at: {upper: nora, lower: nora}}
`

// twoOf makes the plants of twoPlants and their company file, in a directory or on databases.
func twoOf(t *testing.T, text string, uris ...string) (path string) {
	t.Helper()
	dir := t.TempDir()
	for i, code := range []string{"upper", "lower"} {
		p := &plantFlag{Dir: plantDir(filepath.Join(dir, code))}
		if len(uris) > 0 {
			p.Mongo = mongoURI(uris[i])
			text = strings.Replace(text, "dir: "+code+",", "dir: "+code+`, mongo: "@`+code+`.uri",`, 1)
			if err := os.WriteFile(filepath.Join(dir, code+".uri"), []byte(uris[i]+"\n"), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		name := "Brackwater " + code
		if err := startPlantIn(t.Context(), p, name, []byte(strings.Replace(smallPlan, "Brackwater Mill", name, 1))); err != nil {
			t.Fatal(err)
		}
		args := []string{"--dir", string(p.Dir)}
		if p.Mongo != "" {
			args = append(args, "--mongo", string(p.Mongo))
		}
		if got := Run(t.Context(), append([]string{"plan", "adopt", "--by", "nora"}, args...), quietWorld(io.Discard, os.Stderr)); got != 0 {
			t.Fatalf("adopting: %d", got)
		}
		w := quietWorld(io.Discard, os.Stderr)
		w.in = strings.NewReader("seven wet sacks of rye\n")
		if got := Run(t.Context(), append([]string{"pin", "nora"}, args...), w); got != 0 {
			t.Fatalf("setting a password: %d", got)
		}
	}
	path = filepath.Join(dir, "company.yaml")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// of asks a host of a company that is served somewhere on this machine.
func of(t *testing.T, c *http.Client, base, host, method, path, cookie, body string) (int, string, string) {
	t.Helper()
	req, err := http.NewRequest(method, base+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Host = host + base[strings.LastIndex(base, ":"):]
	if cookie != "" {
		req.Header.Set("Cookie", "grainward="+cookie)
	}
	if body != "" {
		req.Header.Set("Content-Type", "application/json")
	}
	res, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range res.Cookies() {
		if k.Name == "grainward" {
			cookie = k.Value
		}
	}
	return res.StatusCode, string(text), cookie
}

var stay = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}

const asNora = `{"plant":"upper","person":"nora","secret":"seven wet sacks of rye"}`

// TestServeCompany runs a real process for two plants, one of which can not be opened (its key is not its own), asks it by Host, and
// interrupts it: both are let go of.
func TestServeCompany(t *testing.T) {
	path := twoOf(t, twoPlants)
	lower := plantDir(filepath.Join(filepath.Dir(path), "lower"))
	if err := os.Chmod(lower.keyFile(), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0], "serve", "--company", path, "--listen", "127.0.0.1:0", "--watch", "0")
	cmd.Env = append(os.Environ(), serverVariable+"=1")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var errs strings.Builder
	cmd.Stderr = &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	lines := bufio.NewReader(out)
	line, err := lines.ReadString('\n')
	watched := regexp.MustCompile(`http://\S+:\d+`).FindString(line)
	if err != nil || watched == "" {
		t.Fatalf("it said %q; %v", line, err)
	}
	line, err = lines.ReadString('\n')
	port := regexp.MustCompile(`http://company\.localhost:(\d+)\. `).FindStringSubmatch(line)
	if err != nil || port == nil {
		t.Fatalf("it said %q; %v", line, err)
	}
	go io.Copy(io.Discard, lines)
	base := "http://127.0.0.1:" + port[1]
	for host, want := range map[string]struct {
		status int
		words  string
	}{"upper.localhost": {200, "Brackwater upper"}, "lower.localhost": {503, "can not be opened now"}, "company.localhost": {200, "Brackwater Grain"}, "elsewhere.example": {421, "No plant of this name"}} {
		if status, text, _ := of(t, stay, base, host, "GET", "/", "", ""); status != want.status || !strings.Contains(text, want.words) {
			t.Errorf("%s: %d %s", host, status, text)
		}
	}
	// whoever watches is told why, and neither where nor by what
	health := fetch(t, watched+"/healthz", 503)
	if !strings.Contains(health, "upper: ok\n") || !strings.Contains(health, "lower: It can not be opened: its key or its database is not as safe as it must be") || strings.Contains(health, "plant.key") || strings.Contains(health, "/") {
		t.Error(health)
	}
	if figures := fetch(t, watched+"/metrics", 200); !strings.Contains(figures, `grainward_shut{kind="denied",plant="lower"} 1`) || !strings.Contains(figures, `grainward_ready{plant="lower"} 0`) || strings.Contains(figures, `kind="denied",plant="upper"`) {
		t.Errorf("the figures say nothing of it:\n%.2000s", figures)
	}
	status, text, cookie := of(t, stay, base, "company.localhost", "POST", "/api/sign-in", "", asNora)
	if status != 200 {
		t.Fatal(status, text)
	}
	if _, text, _ = of(t, stay, base, "company.localhost", "GET", "/api/plants", cookie, ""); !strings.Contains(text, `"code":"lower","name":"lower"`) || !strings.Contains(text, "can be read or changed by others") {
		t.Error(text)
	}
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatalf("it ended with %v\n%s", err, &errs)
	}
	if !strings.Contains(errs.String(), "plant lower can not be opened, and is tried again every 30s") {
		t.Errorf("it said %s", &errs)
	}
	if err := os.Chmod(lower.keyFile(), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, code := range []string{"upper", "lower"} {
		if got := Run(t.Context(), []string{"import", "--dir", filepath.Join(filepath.Dir(path), code), "-"}, quietWorld(io.Discard, os.Stderr)); got != 0 {
			t.Errorf("writing to %s after it: exit code %d", code, got)
		}
	}
}

// serveHere serves a company in this process until the test ends, and gives its address.
func serveHere(t *testing.T, path string, more ...string) (base string, said *strings.Builder) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	r, w := io.Pipe()
	ended := make(chan int, 1)
	said = &strings.Builder{}
	go func() {
		ended <- Run(ctx, append([]string{"serve", "--company", path}, more...), quietWorld(w, said))
		w.Close()
	}()
	t.Cleanup(func() {
		cancel()
		if got := <-ended; got != 0 {
			t.Errorf("it ended with exit code %d: %s", got, said)
		}
	})
	lines := bufio.NewReader(r)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			cancel()
			t.Fatalf("it ended with exit code %d: %s", <-ended, said)
		}
		if at := regexp.MustCompile(`(https?)://company\.[a-z.]+:(\d+)\. `).FindStringSubmatch(line); at != nil {
			go io.Copy(io.Discard, lines)
			return at[1] + "://127.0.0.1:" + at[2], said
		}
	}
}

// TestCompanyByTLS: each host shows a certificate under its own authority, which the others' do not vouch for; the unencrypted door leads
// to the host that was asked for.
func TestCompanyByTLS(t *testing.T) {
	path := twoOf(t, strings.ReplaceAll(twoPlants, ".localhost", ".internal"))
	dir := filepath.Dir(path)
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	door := free.Addr().String()
	free.Close()
	if got := Run(t.Context(), []string{"serve", "--company", path, "--listen", "127.0.0.1:0"}, quietWorld(io.Discard, io.Discard)); got != 2 {
		t.Errorf("names of the network without TLS: exit code %d", got)
	}
	base, _ := serveHere(t, path, "--listen", "0.0.0.0:0", "--install", door)
	if !strings.HasPrefix(base, "https://") {
		t.Fatal(base)
	}
	trusts := func(dir string) *http.Client {
		pem, err := os.ReadFile(filepath.Join(dir, "authority.crt"))
		if err != nil {
			t.Fatal(err)
		}
		pool := x509.NewCertPool()
		if !pool.AppendCertsFromPEM(pem) {
			t.Fatal("no certificate")
		}
		return &http.Client{CheckRedirect: stay.CheckRedirect, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}, DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, network, strings.TrimPrefix(base, "https://"))
		}}}
	}
	port := base[strings.LastIndex(base, ":"):]
	for host, at := range map[string]string{"company.internal": dir, "upper.internal": filepath.Join(dir, "upper"), "lower.internal": filepath.Join(dir, "lower")} {
		for other, from := range map[string]string{"company.internal": dir, "upper.internal": filepath.Join(dir, "upper"), "lower.internal": filepath.Join(dir, "lower")} {
			res, err := trusts(from).Get("https://" + host + port + "/")
			if (err == nil) != (at == from) {
				t.Errorf("%s with the authority of %s: %v", host, other, err)
			}
			if err == nil {
				if res.StatusCode != 200 {
					t.Error(host, res.Status)
				}
				res.Body.Close()
			}
		}
	}
	req, err := http.NewRequest("GET", "http://"+door+"/today", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Host = "lower.internal"
	res, err := stay.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if got := res.Header.Get("Location"); got != "https://lower.internal"+port+"/today" {
		t.Errorf("the door leads to %s", got)
	}
}

// TestCompanyOnMongo: a database each, two servers of the company at once. What one takes for a plant, the other shows at that plant and
// nowhere else.
func TestCompanyOnMongo(t *testing.T) {
	path := twoOf(t, twoPlants, mongotest.Database(t), mongotest.Database(t))
	var bases []string
	var cookies []string
	for range 2 {
		base, _ := serveHere(t, path, "--listen", "127.0.0.1:0")
		status, text, cookie := of(t, stay, base, "company.localhost", "POST", "/api/sign-in", "", asNora)
		if status != 200 {
			t.Fatal(status, text)
		}
		bases, cookies = append(bases, base), append(cookies, cookie)
	}
	if status, _, _ := of(t, stay, bases[1], "company.localhost", "GET", "/plants", cookies[0], ""); status != 200 {
		t.Errorf("a sign-in taken by one server: %d at the other", status)
	}
	sizes := func(base, cookie string) (upper, lower int) {
		var got struct {
			Plants []struct {
				Code string
				Size int
			}
		}
		_, text, _ := of(t, stay, base, "company.localhost", "GET", "/api/plants", cookie, "")
		if err := json.Unmarshal([]byte(text), &got); err != nil || len(got.Plants) != 2 {
			t.Fatal(text, err)
		}
		return got.Plants[0].Size, got.Plants[1].Size
	}
	upper, lower := sizes(bases[0], cookies[0])
	// a sign-off at the lower plant, through the first server
	status, text, at := of(t, stay, bases[0], "lower.localhost", "POST", "/api/sign-in", "", `{"person":"nora","secret":"seven wet sacks of rye"}`)
	if status != 200 {
		t.Fatal(status, text)
	}
	now := records.InstantOf(time.Now()).String() // to the millisecond: the plan was adopted in this very second
	entry := fmt.Sprintf(`{"id":"%s","happened":"%s","by":"nora","kind":"signoff","fact":{"task":"sweep","station":"mill","outcome":"passed"},"sent":"%s"}`, records.NewEntryID(), now, now)
	if status, text, _ := of(t, stay, bases[0], "lower.localhost", "POST", "/api/entries", at, entry); status != 201 {
		t.Fatal(status, text)
	}
	for { // asked until it is there; the test's own timeout ends it
		if u, l := sizes(bases[1], cookies[1]); l == lower+1 {
			if u != upper {
				t.Errorf("the other plant has %d entries, and had %d", u, upper)
			}
			break
		}
	}
	if status, _, _ := of(t, stay, bases[1], "upper.localhost", "GET", "/api/head", at, ""); status != 401 {
		t.Errorf("the lower plant's sign-in at the upper plant: %d", status)
	}
	f, err := readCompany(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Plants {
		flags, err := f.flags(&f.Plants[i])
		if err != nil {
			t.Fatal(err)
		}
		store, err := flags.openStore(t.Context(), sqlite.Read)
		if err != nil {
			t.Fatal(err)
		}
		n, err := store.Head(t.Context())
		if want := upper + i; err != nil || int(n) != want || upper != lower {
			t.Errorf("the database of %s has %d entries, and not %d; %v", f.Plants[i].Code, n, want, err)
		}
		store.Close()
	}
}
