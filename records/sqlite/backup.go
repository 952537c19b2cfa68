package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"grainward/records"
)

// Backup writes a copy of the journal as of one moment, with its documents, to the new file at path to, while reading
// and writing go on. It works on a store opened for reading too. A file already there is kind Conflict and is left
// alone, unless it is empty; on any error nothing is left at to. When it returns nil the copy survives a power cut.
//
// The copy is made beside its place and named when it is whole. One that was killed leaves at most a part of a copy beside it, whose
// name ends in ".part".
func (s *Store) Backup(ctx context.Context, to string) error {
	taken := func() error {
		return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("there is a file at %s already", to), Do: "name a file that does not exist; backups are never written over"}
	}
	empty := isEmptyFile(to)
	if _, err := os.Lstat(to); err == nil && !empty {
		return taken()
	}
	part, err := os.CreateTemp(filepath.Dir(to), filepath.Base(to)+".*.part") // VACUUM INTO takes an empty file
	if err != nil {
		return wrong("making the backup", to, err)
	}
	if err := s.copyInto(ctx, part); err != nil {
		return errors.Join(wrong("writing the backup", to, err), os.Remove(part.Name()))
	}
	if empty {
		err = os.Rename(part.Name(), to)
	} else if err = os.Link(part.Name(), to); err != nil && !errors.Is(err, fs.ErrExist) { // a file system without links, such as a memory stick's
		err = os.Rename(part.Name(), to)
	}
	if gone := os.Remove(part.Name()); !errors.Is(gone, fs.ErrNotExist) {
		err = errors.Join(err, gone)
	}
	if errors.Is(err, fs.ErrExist) {
		return taken()
	}
	if err != nil {
		return wrong("naming the backup", to, err)
	}
	return wrong("making the backup durable", to, syncDir(filepath.Dir(to)))
}

// copyInto fills part, makes it durable and closes it.
func (s *Store) copyInto(ctx context.Context, part *os.File) error {
	err := s.reading(func() error {
		_, err := s.reads.ExecContext(ctx, "VACUUM INTO ?", part.Name())
		return err
	})
	if err == nil {
		var info fs.FileInfo
		if info, err = os.Stat(s.path); err == nil {
			err = errors.Join(part.Chmod(info.Mode().Perm()), part.Sync())
		}
	}
	return errors.Join(err, part.Close())
}

func isEmptyFile(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode().IsRegular() && info.Size() == 0
}
