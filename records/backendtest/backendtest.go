// Package backendtest holds every sentence of the comments on records.Backend, records.Heads and records.Blobs as one
// test suite, which each backend runs from its own test file.
//
// It must not know which backend it runs on: a difference between databases is either inside the contract, and then
// tested for all, or it is not promised. What it can not test is the power cut itself; a backend shows that by
// killing a process of its own.
package backendtest

import (
	"testing"

	"grainward/records"
)

// Opened is one empty, writable store and what can be done around it. The opener arranges for its place (a
// directory, a database) to be removed after the test; the suite closes the stores. A func that the backend can not
// offer is nil, and what would need it is skipped by name.
type Opened struct {
	// Name is what the suite logs, so that a test run says what it exercised.
	Name string
	// Store is empty and open for writing.
	Store records.Store
	// Reopen opens the same journal for writing after Store was closed, sharing nothing with it in memory.
	Reopen func(t *testing.T) records.Store
	// Beside opens the same journal for writing while Store is open: a second process on a shared database.
	Beside func(t *testing.T) records.Store
	// ReadOnly opens the same journal for reading only, while Store is open.
	ReadOnly func(t *testing.T) records.Store
	// Damage changes a byte of the blob kept under key, behind the back of Store.
	Damage func(t *testing.T, key string)
}

var cases = []struct {
	name string
	run  func(*testing.T, Opened)
}{
	{"append keeps order and bytes", keepsOrderAndBytes},
	{"an empty journal", emptyJournal},
	{"a batch of many rows", manyRows},
	{"a row of 1 MiB", longRow},
	{"an empty batch is invalid", emptyBatch},
	{"a conflict changes nothing", conflictChangesNothing},
	{"of appends after one position exactly one succeeds", oneWinner},
	{"of appends from two openings exactly one succeeds", oneWinnerBeside},
	{"many batches at once", manyBatches},
	{"reading while others append", readWhileAppending},
	{"appending while reading", appendWhileReading},
	{"read from the middle and beyond the end", readFrom},
	{"an error from visit ends the reading", visitError},
	{"no memory is shared", noSharedMemory},
	{"checkpoints in order with their sizes", checkpoints},
	{"a blob comes back", blobComesBack},
	{"a blob put twice is one blob", blobTwice},
	{"sizes a blob may have", blobSizes},
	{"a blob never put is not found", blobNotFound},
	{"a damaged blob is corrupt until put again", blobDamaged},
	{"blobs in order of key", blobsInOrder},
	{"blob memory is not shared", blobNoSharedMemory},
	{"close twice and calls after close", closed},
	{"closing while others append", closeWhileAppending},
	{"reopened it reads the same", reopened},
	{"read only", readOnly},
	{"ready and sized", readyAndSized},
}

// Run runs the whole suite; open is called once for each case.
func Run(t *testing.T, open func(t *testing.T) Opened) {
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			o := open(t)
			if o.Name == "" || o.Store == nil {
				t.Fatal("the opener gave no name or no store")
			}
			t.Logf("exercising backend %s", o.Name)
			t.Cleanup(func() { closeStore(t, o.Store) })
			c.run(t, o)
		})
	}
}
