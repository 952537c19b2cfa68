package main

import (
	"time"

	"github.com/schollz/progressbar/v3"

	"grainward/records"
)

// bar is a progress function that draws on a terminal, or nil when there is none.
func (w *world) bar(doing string) func(done, all records.Position) {
	if !w.progress {
		return nil
	}
	var bar *progressbar.ProgressBar
	return func(done, all records.Position) {
		if bar == nil {
			bar = progressbar.NewOptions64(int64(all), progressbar.OptionSetWriter(w.err), progressbar.OptionSetDescription(doing),
				progressbar.OptionClearOnFinish(), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionSetRenderBlankState(false))
		}
		// A bar that can not be drawn must not stop the work it is about.
		_ = bar.Set64(int64(min(done, all)))
	}
}

// steps is bar for work counted in ints.
func (w *world) steps(doing string) func(done, all int) {
	bar := w.bar(doing)
	if bar == nil {
		return nil
	}
	return func(done, all int) { bar(records.Position(done), records.Position(all)) }
}
