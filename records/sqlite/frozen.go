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

// freeze allows such reading only when there is no log beside the file: what a log holds could not be seen.
func freeze(path string) (*frozen, error) {
	log, err := logBeside(path)
	if err != nil {
		return nil, wrong("looking for a log", path, err)
	}
	if log != "" {
		return nil, &records.Error{Kind: records.ReadOnly, What: fmt.Sprintf("%s has not been folded into %s, and nothing can be written there to do it", log, path),
			Do: "copy both files to a folder that can be written, and open the copy"}
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, wrong("looking at the journal", path, err)
	}
	return &frozen{path, info}, nil
}

// logBeside names the log that a writer has open or that a crash has left; "" when there is none. The second name is
// of the log SQLite uses while the file is made.
func logBeside(path string) (string, error) {
	for _, log := range []string{path + "-wal", path + "-journal"} {
		info, err := os.Stat(log)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		if err == nil && info.Size() > 0 {
			return log, nil
		}
	}
	return "", nil
}

// check says whether the file still is what it was. Each call looks before and after it reads.
func (f *frozen) check() error {
	if f == nil {
		return nil
	}
	log, err := logBeside(f.path)
	if err != nil {
		return wrong("looking for a log", f.path, err)
	}
	now, err := os.Stat(f.path)
	if err != nil {
		return wrong("looking at the journal", f.path, err)
	}
	if log != "" || !os.SameFile(now, f.then) || now.Size() != f.then.Size() || !now.ModTime().Equal(f.then.ModTime()) {
		return &records.Error{Kind: records.Busy, What: "a writer has changed " + f.path + " since it was opened for reading", Do: "open it again"}
	}
	return nil
}
