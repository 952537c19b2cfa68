package main

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"grainward/records"
)

// backupNote says which backup of a plant was made last and verified. It lies in the plant's directory, for `grainward size` and for
// the metrics of a server that did not make it.
type backupNote struct {
	File    string           `json:"file"`
	Made    records.Instant  `json:"made"`
	Entries records.Position `json:"entries"`
	Bytes   int64            `json:"bytes"`
}

func (d plantDir) backupNote() string { return filepath.Join(string(d), "backup.json") }

// noteBackup keeps the note, whole or not at all.
func (d plantDir) noteBackup(n backupNote) error {
	text, err := json.Marshal(n)
	if err != nil {
		return err
	}
	part, err := os.CreateTemp(string(d), "backup.json.*.part")
	if err != nil {
		return fileError("noting the backup", d.backupNote(), err)
	}
	_, err = part.Write(append(text, '\n'))
	if err = errors.Join(err, part.Chmod(0o644), part.Close()); err == nil {
		err = os.Rename(part.Name(), d.backupNote())
	}
	if err != nil {
		return fileError("noting the backup", d.backupNote(), errors.Join(err, os.Remove(part.Name())))
	}
	return nil
}

// lastBackup is the note; ok is false when no backup was made, or the note can not be read.
func (d plantDir) lastBackup() (n backupNote, ok bool, err error) {
	text, err := os.ReadFile(d.backupNote())
	if errors.Is(err, fs.ErrNotExist) {
		return n, false, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &n)
	}
	if err != nil {
		return backupNote{}, false, fileError("reading the note of the last backup", d.backupNote(), err)
	}
	return n, true, nil
}

// newestBackup is when it was made; zero when none is known.
func (d plantDir) newestBackup() time.Time {
	n, ok, err := d.lastBackup()
	if err != nil || !ok {
		return time.Time{}
	}
	return n.Made.Time()
}
