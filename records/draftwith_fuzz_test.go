package records

import "testing"

// FuzzParseDraftWith is what a device sends: an entry with more beside it.
func FuzzParseDraftWith(f *testing.F) {
	f.Add([]byte(`{"id":"01900000-0000-7000-8000-000000000001","happened":"2026-03-02T12:30:00-05:00","by":"ana","kind":"deviation","fact":{"what":"dust"},"sent":"2026-03-02T12:30:01-05:00","again":"4071"}`))
	f.Add([]byte(`{"id":"01900000-0000-7000-8000-000000000001","recorded":"2026-03-02T12:30:00-05:00"}`))
	f.Add([]byte(`{"sent":{"a":[1e999,"\ud800"]},"sent":1}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		var sent Instant
		var again string
		e, err := ParseDraftWith(b, map[string]any{"sent": &sent, "again": &again}, "recorded", "device")
		if err != nil {
			if KindOf(err) != Invalid {
				t.Errorf("kind %d: %v", KindOf(err), err)
			}
			return
		}
		if e.ID == (EntryID{}) || e.Recorded != 0 || e.Device != "" {
			t.Errorf("taken without an id, or with what the taker writes: %+v", e)
		}
	})
}
