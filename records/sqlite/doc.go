// Package sqlite keeps a plant's journal, documents and photos in one SQLite file.
//
// It knows the contract records.Store, SQL and the file system; it must not know what a fact means, nor any other
// backend.
//
// # The file
//
// Any SQLite tool reads it. Its application_id is 0x47525744 ("GRWD"), its user_version the number of schema steps
// taken (see schema.go), and it holds
//
//	entries      position, body (the canonical bytes, as text), leaf (their RFC 6962 hash, 32 bytes)
//	checkpoints  size, note: the signed tree heads
//	blobs        sha256, size, bytes: documents and photos
//	about        name, value: what the file is and which program reads it
//	journal      a view of entries with the members of the envelope in columns, for people:
//
//	sqlite3 -readonly plant.db "SELECT position, happened, person, kind FROM journal"
//
// Positions are row ids, so the table is in journal order and the newest position is found without an index.
//
// # What a commit is worth
//
// The journal mode is a write-ahead log with synchronous=FULL: Append returns nil after its one sync, so what it
// acknowledged survives a power cut on a disk that keeps its word. A crash in mid-append leaves bytes at the end of
// the log that carry no commit; SQLite passes over them at the next opening. On Linux the sync is fdatasync, which
// SQLite itself uses there: the data and the size reach the disk, only timestamps may not.
//
// # One writer, many readers
//
// A writer holds a lock on the file beside the data file, its name with ".lock" added, from Open to Close (lock.go).
// Readers take no lock and see each batch whole. Copying the data file alone while a writer is open can miss what is
// still in the log: use Backup.
//
// # Reading where nothing can be written
//
// SQLite wants to create its log index beside the file even to read. When that is refused and there is no log, the
// file is opened as one that does not change; should a writer come along all the same, calls fail with kind Busy
// until the file is opened again, rather than answer from a file that moves underneath (frozen.go).
package sqlite
