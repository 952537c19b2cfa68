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
// The copy is made beside its place and moved over a placeholder, so that a file that bears the name is either empty
// or a whole backup, also on the file systems of memory sticks, which have no hard links. One that was killed leaves
// the empty file, which the next one takes over, and perhaps a part of a copy beside it, whose name ends in ".part".
func (s *Store) Backup(ctx context.Context, to string) (err error) {
	place, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) && isEmptyFile(to) {
		place, err = os.OpenFile(to, os.O_WRONLY, 0o644)
	}
	if errors.Is(err, fs.ErrExist) {
		return &records.Error{Kind: records.Conflict, What: fmt.Sprintf("there is a file at %s already", to), Do: "name a file that does not exist; backups are never written over"}
	}
	if err != nil {
		return wrong("making the backup", to, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(to))
		}
	}()
	if err := place.Close(); err != nil {
		return wrong("making the backup", to, err)
	}
	part, err := os.CreateTemp(filepath.Dir(to), filepath.Base(to)+".*.part") // VACUUM INTO takes an empty file
	if err != nil {
		return wrong("making the backup", to, err)
	}
	if err := s.copyInto(ctx, part); err != nil {
		return errors.Join(wrong("writing the backup", to, err), os.Remove(part.Name()))
	}
	if err := os.Rename(part.Name(), to); err != nil {
		return errors.Join(wrong("naming the backup", to, err), os.Remove(part.Name()))
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
