package server

import (
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	cdpbrowser "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
	"github.com/xuri/excelize/v2"

	"grainward/audit"
	"grainward/exports"
	"grainward/exports/binder"
	"grainward/records/calendar"
)

// A lead makes a binder in the browser and downloads it; LibreOffice opens what lies in the folder of downloads.
func TestBrowserBinderOpened(t *testing.T) {
	office, err := exec.LookPath("soffice")
	outside(t, "LibreOffice", err != nil)
	w := plant(t)
	w.binders.maker = func(ctx context.Context, out io.Writer, from, to calendar.Date, by string, progress func(int, int)) error {
		view := w.Book.View()
		p := view.State.PlanAt(w.clock.now())
		return binder.Write(ctx, out, binder.Input{Report: audit.At(view.State, w.clock.now()), Leaf: w.Book.Leaf, From: from, To: to, Stamp: exports.Stamp{Plant: p.Plant.Name, Address: p.Plant.Address,
			Origin: "quillmere.example/journal", Size: view.Head.Size, Root: view.Head.Root, Checkpoint: view.Head.Checkpoint, VerifierKey: w.Key, At: w.clock.now(), Program: "test", MadeBy: by}}, progress)
	}
	b := newBrowser(t, w.serve(), sizes[1])
	dir := t.TempDir()
	if _, err := chromedp.Call(b.ctx, cdpbrowser.SetDownloadBehavior, cdpbrowser.SetDownloadBehaviorParams{Behavior: cdpbrowser.SetDownloadBehaviorBehaviorAllow, DownloadPath: dir}); err != nil {
		t.Fatal(err)
	}
	b.signIn("nora", "Nora Feldt")
	b.open("/binder")
	b.reads("Make the binder")
	b.press("button.main", "Download the binder")
	b.do(chromedp.Click(chromedp.CSS("a[download]")))
	path := filepath.Join(dir, "binder-2026-02-01-2026-03-09.xlsx")
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	late := time.After(time.Minute)
	for {
		if _, err := os.Stat(path); err == nil {
			break
		}
		select {
		case <-again.C:
		case <-late:
			names, _ := filepath.Glob(filepath.Join(dir, "*"))
			t.Fatal("nothing was downloaded: ", names)
		}
	}
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	sheets := f.GetSheetList()
	f.Close()
	cmd := exec.Command(office, "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless",
		"--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1", "--outdir", dir, path)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	opened, _ := filepath.Glob(filepath.Join(dir, "binder-*.csv"))
	if len(opened) != len(sheets) || len(sheets) < 20 {
		t.Errorf("LibreOffice opened %d sheets of %d", len(opened), len(sheets))
	}
	found := false
	for _, name := range opened {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		found = found || strings.Contains(string(text), "A gull got in through the dock door.")
	}
	if !found {
		t.Error("the deviation is on no sheet")
	}
}
