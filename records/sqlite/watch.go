package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"grainward/records"
)

// watch remembers which files a writer opened. SQLite itself goes on writing into a file that was moved away or replaced
// meanwhile, and what it then commits is in nobody's journal at the next start. So the names are looked at before each
// commit and again before it is acknowledged: acknowledged means in the file that bears the journal's name.
type watch struct {
	path  string
	files []watched
}

type watched struct {
	name string
	then fs.FileInfo
}

// watchFiles begins with the journal and what lies beside it by now; a writer has a log and its index from the start.
func watchFiles(path string) (*watch, error) {
	w := &watch{path: path}
	for _, name := range []string{path, path + "-wal", path + "-shm"} {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) && name != path {
			continue
		}
		if err != nil {
			return nil, wrong("looking at the journal", name, err)
		}
		w.files = append(w.files, watched{name, info})
	}
	return w, nil
}

// check says that another file, or none, bears one of the names now. A nil watch is that of a reader, who loses nothing.
func (w *watch) check() error {
	if w == nil {
		return nil
	}
	for _, f := range w.files {
		now, err := os.Stat(f.name)
		if err == nil && os.SameFile(f.then, now) {
			continue
		}
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return wrong("looking at the journal", f.name, err)
		}
		return &records.Error{Kind: records.Unavailable, What: fmt.Sprintf("%s was moved, removed or replaced while this program had it open", f.name), Err: err,
			Do: "stop this program, put back the file that was there with those beside it (or restore a backup), and start it again; nothing is acknowledged until then"}
	}
	return nil
}
