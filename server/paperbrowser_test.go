package server

import (
	"errors"
	"fmt"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// look opens a page, asks axe and the ruler, and takes a picture.
func (b *browser) look(name, path string) {
	b.Helper()
	if path != "" {
		b.open(path)
	}
	b.reads("")
	b.axe(name)
	if bad := b.eval(gloveCheck); bad != "" {
		b.Errorf("%s:\n%s", name, bad)
	}
	b.shoot(name)
}

// codes are what zbar, which we did not write, reads in a picture of the page, the QR codes alone.
func (b *browser) codes() (read []string) {
	b.Helper()
	shot, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.Fatal(err)
	}
	return zbar(b.T, shot)
}

func zbar(t *testing.T, picture []byte) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shot.png")
	if err := os.WriteFile(path, picture, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", path).Output()
	if err != nil {
		t.Fatalf("zbarimg: %v %s", err, out)
	}
	return strings.Fields(string(out))
}

func needs(t *testing.T, programs ...string) {
	t.Helper()
	for _, p := range programs {
		_, err := exec.LookPath(p)
		outside(t, p, err != nil)
	}
}

// pdf is the page as Chromium prints it, one picture a page at 150 dots an inch, and the size of the first in points.
func (b *browser) pdf(name string) (sheets [][]byte, size string) {
	b.Helper()
	css := true
	got, err := chromedp.Call(b.ctx, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PreferCSSPageSize: &css})
	if err != nil {
		b.Fatal(err)
	}
	dir := b.T.TempDir()
	if *pictures != "" {
		dir = filepath.Join(*pictures, name)
		if err := errors.Join(os.RemoveAll(dir), os.MkdirAll(dir, 0o755)); err != nil {
			b.Fatal(err)
		}
	}
	file := filepath.Join(dir, "sheets.pdf")
	if err := os.WriteFile(file, got.Data, 0o600); err != nil {
		b.Fatal(err)
	}
	info, err := exec.Command("pdfinfo", file).Output()
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(info)) {
		if rest, is := strings.CutPrefix(line, "Page size:"); is {
			size = strings.TrimSpace(rest)
		}
	}
	if out, err := exec.Command("pdftoppm", "-png", "-r", "110", file, filepath.Join(dir, "page")).CombinedOutput(); err != nil {
		b.Fatal(string(out), err)
	}
	names, err := filepath.Glob(filepath.Join(dir, "page*.png"))
	if err != nil {
		b.Fatal(err)
	}
	for _, n := range names {
		p, err := os.ReadFile(n)
		if err != nil {
			b.Fatal(err)
		}
		sheets = append(sheets, p)
	}
	return sheets, size
}

// The page of the network, its codes read from the screen by zbar, at both sizes and in both languages.
func TestBrowserNetworkPage(t *testing.T) {
	needs(t, "zbarimg")
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			base := w.serve()
			w.onNetwork()
			at := w.at
			w.at = reached{port: "8443", install: "8480"}
			w.Server.TLS = false // the browser comes by way of loopback
			defer func() { w.at = at }()
			b := newBrowser(t, base, s)
			b.look("install-es", "/install?lang=es")
			b.look("install", "/install")
			if got := strings.Join(b.codes(), " "); !strings.Contains(got, "http://malthouse.local:8480/") || !strings.Contains(got, "http://malthouse.local:8443/") {
				t.Errorf("the codes say %q", got)
			}
			b.signIn("nora", "Nora Feldt")
			b.look("network", "/network")
			b.dark()
			b.look("network-dark", "/network")
			if got := strings.Join(b.codes(), " "); !strings.Contains(got, "http://malthouse.local:8480/") {
				t.Errorf("in the dark the codes say %q", got)
			}
		})
	}
}

// Sheets are printed to PDF by Chromium: every sheet on one page of its size, nothing cut off, and its code leads where it says.
func TestBrowserSheets(t *testing.T) {
	needs(t, "zbarimg", "pdftoppm", "pdfinfo")
	w := plant(t)
	base := w.serve()
	b := newBrowser(t, base, sizes[1])
	b.signIn("nora", "Nora Feldt")
	b.look("sheets", "/sheets")
	for paper, size := range map[string]string{"a4": "594.96 x 841.92 pts (A4)", "letter": "612 x 792 pts (letter)"} {
		which := map[string]string{"a4": "&station=floor-1&days=7", "letter": ""}[paper] // Letter is the shorter
		b.look("station-sheets-"+paper, "/sheets/stations?paper="+paper)
		pages, got := b.pdf("stations-" + paper)
		stations := w.Book.View().State.PlanAt(w.clock.now()).Stations
		if len(pages) != len(stations) || got != size {
			t.Errorf("%d stations are printed on %d pages of %s", len(stations), len(pages), got)
		}
		for i, p := range pages {
			if read := zbar(t, p); len(read) != 1 || read[0] != base+"/crew?station="+string(stations[i].Code) {
				t.Errorf("page %d: the code says %q", i+1, read)
			}
		}
		b.look("log-sheets-"+paper, "/sheets/log?day=2026-03-10&in=en&paper="+paper+which)
		pages, got = b.pdf("log-" + paper)
		if want := b.eval("document.querySelectorAll('section.paper').length"); fmt.Sprint(len(pages)) != want || got != size {
			t.Errorf("%s log sheets are printed on %d pages of %s", want, len(pages), got)
		}
		for i, p := range pages {
			want := b.eval(fmt.Sprintf("document.querySelectorAll('section.paper')[%d].querySelector('svg.qr').getAttribute('aria-label').replace('QR code: ', '')", i))
			if read := zbar(t, p); len(read) != 1 || read[0] != want || !strings.HasPrefix(want, base+"/paper?sheet=") {
				t.Errorf("page %d: the code says %q, not %q", i+1, read, want)
			}
			img, err := png.Decode(strings.NewReader(string(p)))
			if err != nil {
				t.Fatal(err)
			}
			// the last half centimetre stays white: what is printed over a page's end is cut by printers
			for y := img.Bounds().Dy() - 22; y < img.Bounds().Dy(); y++ {
				for x := range img.Bounds().Dx() {
					if r, _, _, _ := img.At(x, y).RGBA(); r < 0x8000 {
						t.Fatalf("%s page %d is printed to the edge", paper, i+1)
					}
				}
			}
		}
	}
	b.look("log-sheets-es", "/sheets/log?day=2026-03-10&in=es&station=floor-1&days=7")
	if !strings.Contains(b.eval("document.querySelector('main').innerText"), "Hecho a las") {
		t.Error("not in Spanish")
	}
	// the phone sees them too
	phone := newBrowser(t, base, sizes[0])
	phone.signIn("nora", "Nora Feldt")
	phone.look("sheets", "/sheets")
	phone.look("log-sheets", "/sheets/log?day=2026-03-10&station=entrance")
	phone.look("station-sheets", "/sheets/stations?station=entrance")
}

// morning presses the line of the morning's hygiene check.
const morning = `[...document.querySelectorAll('a.row[href^="/paper/hygiene-check/"]')].find(a => a.innerText.includes('05:00–13:00')).click()`

// A crew member types a sheet in: photo, a line that is new, and one that was signed on a phone already.
func TestBrowserFromPaper(t *testing.T) {
	for _, s := range sizes {
		t.Run(s.name, func(t *testing.T) {
			w := plant(t)
			b := newBrowser(t, w.serve(), s)
			b.signIn("hank", "Hank Osgood")
			b.look("from-paper", "/paper")
			b.do(chromedp.SendKeys(chromedp.CSS("#sheet"), "no such sheet"))
			b.press("button.main", "There is no sheet")
			b.look("from-paper-unknown", "")
			b.open("/paper?sheet=entrance.2026-03-09")
			b.look("from-paper-sheet", "")
			photo := filepath.Join(t.TempDir(), "sheet.png")
			if err := os.WriteFile(photo, picture(), 0o600); err != nil {
				t.Fatal(err)
			}
			b.do(chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{photo}))
			b.press("main button", "Another page")
			b.look("from-paper-photo", "")
			before := w.size()
			b.eval(morning)
			b.reads("Who signed it on paper?")
			b.look("paper-line", "")
			b.press("button.main", "Say who signed it on paper.")
			b.look("paper-line-back", "")
			b.do(chromedp.SetValue(chromedp.CSS("#whose"), "grete"), chromedp.SetValue(chromedp.CSS("#when"), "06:10"))
			for _, a := range []string{"a-fit", "a-hands", "a-clothes"} {
				b.do(chromedp.Click(chromedp.CSS(`input[name="` + a + `"][value="yes"]`)))
			}
			b.do(chromedp.Click(chromedp.CSS(`input[name="outcome"][value="passed"]`)))
			b.press("button.main", "Written down:")
			if w.size() != before+1 {
				t.Fatal(w.size())
			}
			e := w.last()
			if e.By != "hank" || e.Performer() != "grete" || len(e.Paper.Sheet) != 64 || e.Happened.String() != at("2026-03-09T06:10:00-04:00").String() {
				t.Errorf("%+v %+v", e, e.Paper)
			}
			b.look("from-paper-written", "")
			b.open(entryHref(before))
			b.reads("Typed in by Hank Osgood from the paper of")
			b.look("entry-from-paper", "")
			// the same line once more: shown first
			b.open("/paper?sheet=entrance.2026-03-09")
			b.eval(morning)
			b.reads("This line is written down already")
			b.look("paper-line-twice", "")
		})
	}
}
