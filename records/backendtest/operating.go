package backendtest

import (
	"bytes"
	"testing"

	"grainward/records"
)

// readyAndSized is for backends that say whether they take a batch now and how large they are: ready when open, not when closed or
// opened for reading, larger after a document than before, and asking changes nothing.
func readyAndSized(t *testing.T, o Opened) {
	s, ok := o.Store.(records.Ready)
	sized, too := o.Store.(records.Sized)
	if !ok || !too {
		t.Skipf("backend %s does not say whether it is ready, or how large it is", o.Name)
	}
	if err := s.Ready(t.Context()); err != nil {
		t.Errorf("empty and open: %v", err)
	}
	before, err := sized.Footprint(t.Context())
	if err != nil || before.Stored < 0 {
		t.Fatalf("%+v, %v", before, err)
	}
	mustAppend(t, o.Store, 0, rowsFrom(0, 3), "three")
	mustPut(t, o.Store, bytes.Repeat([]byte("grain and water "), 1<<16))
	after, err := sized.Footprint(t.Context())
	if err != nil || after.Stored < before.Stored+1<<19 { // half of it: a database may compress
		t.Errorf("%d bytes before a document of 1 MiB, %d after; %v", before.Stored, after.Stored, err)
	}
	if after.Free == 0 || after.Free < -1 {
		t.Errorf("%d bytes are free", after.Free)
	}
	if err := s.Ready(t.Context()); err != nil {
		t.Errorf("with entries in it: %v", err)
	}
	wantJournal(t, o.Store, rowsFrom(0, 3))
	if o.ReadOnly != nil {
		reader := o.ReadOnly(t)
		defer closeStore(t, reader)
		wantKind(t, "a store opened for reading", reader.(records.Ready).Ready(t.Context()), records.ReadOnly)
	}
	closeStore(t, o.Store)
	if err := s.Ready(t.Context()); err == nil {
		t.Error("ready after Close")
	}
}
