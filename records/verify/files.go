package verify

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"slices"

	"grainward/records"
)

// namedFile is where a file was first named, and the size it was said to have; 0 when none was said.
type namedFile struct {
	at   records.Position
	size int64
}

// noteFiles remembers the files a fact names.
func (r *reading) noteFiles(at records.Position, f records.Fact) {
	name := func(key string, size int64) {
		if have, ok := r.files[key]; !ok || have.size == 0 {
			if ok {
				at = have.at
			}
			r.files[key] = namedFile{at, size}
		}
	}
	switch f := f.(type) {
	case *records.Document:
		if f.File != nil {
			name(f.File.SHA256, f.File.Size)
		}
	case *records.Signoff:
		for _, a := range f.Answers {
			if a.Photo != "" {
				name(a.Photo, 0)
			}
		}
	case *records.Handover:
		if f.Received != nil && f.Received.Signature != "" {
			name(f.Received.Signature, 0)
		}
	case *records.Correct:
		if f.With != nil {
			r.noteFiles(at, f.With.Fact)
		}
	}
}

// checkFiles hashes every file kept, and looks for every file named.
func (r *reading) checkFiles(ctx context.Context) error {
	var keys []string
	sizes := map[string]int64{}
	err := r.store.EachBlob(ctx, func(key string, size int64) error {
		keys, sizes[key] = append(keys, key), size
		return nil
	})
	if err != nil {
		if records.KindOf(err) != records.Corrupt {
			return err
		}
		r.report.add(NoPosition, NoPosition, File, "the files can not all be listed: %s", firstLine(err))
	}
	for _, key := range keys {
		at := NoPosition
		if f, ok := r.files[key]; ok {
			at = f.at
		}
		data, err := r.store.GetBlob(ctx, key)
		sum := sha256.Sum256(data)
		switch kind := records.KindOf(err); {
		case err != nil && kind != records.Corrupt && kind != records.NotFound:
			return err
		case err != nil || hex.EncodeToString(sum[:]) != key:
			r.report.add(at, at, File, "the file kept as %s was altered: it no longer has that SHA-256", key)
		case sizes[key] != int64(len(data)):
			r.report.add(at, at, File, "the file kept as %s has %d bytes and is listed with %d", key, len(data), sizes[key])
		default:
			r.report.Files++
		}
	}
	for _, key := range slices.Sorted(maps.Keys(r.files)) {
		size, kept := sizes[key]
		switch f := r.files[key]; {
		case !kept:
			r.report.add(f.at, f.at, File, "the file %s, named at position %d, is not there", key, f.at)
		case f.size != 0 && f.size != size:
			r.report.add(f.at, f.at, File, "the file %s has %d bytes; the entry at position %d says %d", key, size, f.at, f.size)
		}
	}
	return nil
}
