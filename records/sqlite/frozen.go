package sqlite

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"grainward/records"
)

// frozen remembers what a file looked like that is read without locks, as one that does not change.
type frozen struct {
	path string
	then fs.FileInfo
}

// freeze allows such reading only when there is no log beside the file: what the log holds could not be seen.
func freeze(path string) (*frozen, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, wrong("looking at the journal", path, err)
	}
	f := &frozen{path, info}
	if err := f.check(); err != nil {
		return nil, &records.Error{Kind: records.ReadOnly, What: path + " has entries in its log that can not be read where nothing can be written",
			Do: "copy the file and the -wal file beside it to a folder that can be written, and open the copy", Err: err}
	}
	return f, nil
}

// check says whether the file still is what it was. Each call looks before and after it reads.
func (f *frozen) check() error {
	if f == nil {
		return nil
	}
	busy := func(what string) error {
		return &records.Error{Kind: records.Busy, What: what, Do: "open it again"}
	}
	log, err := os.Stat(f.path + "-wal")
	switch {
	case err == nil && log.Size() > 0:
		return busy("a writer has opened " + f.path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return wrong("looking for the log", f.path, err)
	}
	now, err := os.Stat(f.path)
	if err != nil {
		return wrong("looking at the journal", f.path, err)
	}
	if !os.SameFile(now, f.then) || now.Size() != f.then.Size() || !now.ModTime().Equal(f.then.ModTime()) {
		return busy(fmt.Sprintf("%s has changed since it was opened", f.path))
	}
	return nil
}
