package main

import (
	"bufio"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// writeNew writes a new file; see writeWhole.
func writeNew(path string, data []byte, mode fs.FileMode) error {
	return fillNew(path, mode, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// writeWhole fills a new file and makes it durable; a file already there is left alone. It is written beside its place and named when it is
// whole: half a plan could be taken for a plan, and an empty binder for one that was lost. What is broken off leaves at most a file whose
// name ends in .part.
func writeWhole(path string, fill func(io.Writer) error) error { return fillNew(path, 0o644, fill) }

func fillNew(path string, mode fs.FileMode, fill func(io.Writer) error) error {
	if borne(path) { // said before the work and not after it
		return fileError("writing", path, fs.ErrExist)
	}
	part, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return fileError("writing", path, err)
	}
	out := bufio.NewWriterSize(part, 1<<16)
	err = fill(out)
	if err == nil {
		if err = errors.Join(out.Flush(), part.Chmod(mode), part.Sync()); err != nil {
			err = fileError("writing", path, err)
		}
	}
	if shut := part.Close(); err == nil && shut != nil {
		err = fileError("writing", path, shut)
	}
	if err == nil {
		err = nameNew(part.Name(), path)
	}
	if gone := os.Remove(part.Name()); !errors.Is(gone, fs.ErrNotExist) {
		err = errors.Join(err, gone)
	}
	return err
}

// nameNew gives a file that is whole its name, which nothing may bear yet, and makes that durable.
func nameNew(part, path string) error {
	err := os.Link(part, path)
	if err != nil && !borne(path) { // a file system without links, such as a memory stick's
		err = os.Rename(part, path)
	}
	if err != nil {
		return fileError("writing", path, err)
	}
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return fileError("writing", path, err)
	}
	if err := errors.Join(dir.Sync(), dir.Close()); err != nil {
		return fileError("writing", path, err)
	}
	return nil
}

// borne says whether anything bears the name, be it a link to nowhere.
func borne(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
