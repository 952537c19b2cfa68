package sqlite

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

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
	if first, err := isFirstWriting(log); err != nil {
		return nil, wrong("looking at a log", path, err)
	} else if first {
		return nil, errNothingStarted(path)
	}
	if log == path+rollback {
		return nil, &records.Error{Kind: records.ReadOnly, What: fmt.Sprintf("a change to %s was cut off, and %s is needed to take it back, which reading alone can not do", path, log),
			Do: "give the command that was cut off again, or open a copy of both files for writing"}
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
	for _, log := range []string{path + "-wal", path + rollback} {
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

// rollback ends the name of the log that SQLite uses until the write-ahead log is turned on.
const rollback = "-journal"

// isFirstWriting says whether a log is that of the first writing to a file, which was cut off: the file was empty before, and is for the
// next writer. The log's header says so (https://sqlite.org/fileformat2.html#the_rollback_journal): 8 bytes by which it is known, the number of
// its pages, a number drawn at random, and the size of the file before, of 4 bytes each.
func isFirstWriting(log string) (bool, error) {
	if !strings.HasSuffix(log, rollback) {
		return false, nil
	}
	f, err := os.Open(log)
	if err != nil {
		return false, err
	}
	defer f.Close()
	var header [20]byte
	if _, err := io.ReadFull(f, header[:]); errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	return string(header[:8]) == "\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" && binary.BigEndian.Uint32(header[16:]) == 0, nil
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
