package records

import (
	"reflect"
	"testing"
)

// FuzzParseDraftWith is what a device sends: an entry with more beside it. What is taken in one pass is what is taken member by member.
func FuzzParseDraftWith(f *testing.F) {
	f.Add([]byte(`{"id":"01900000-0000-7000-8000-000000000001","happened":"2026-03-02T12:30:00-05:00","by":"ana","kind":"deviation","fact":{"what":"dust"},"sent":"2026-03-02T12:30:01-05:00","again":"4071"}`))
	f.Add([]byte(`{"id":"01900000-0000-7000-8000-000000000001","recorded":"2026-03-02T12:30:00-05:00"}`))
	f.Add([]byte(`{"id":"01900000-0000-7000-8000-000000000001","happened":"2026-03-02T12:30:00-05:00","by":"ana","kind":"signoff","fact":{"task":"t","station":"s","outcome":"passed","answers":[{"ask":"a","value":{"value":"1.0","unit":"C"}}]},"paper":{"whose":"ben","colour":1}}`))
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
		var sentToo Instant
		var againToo string
		slow, err := draftByMember(b, map[string]any{"sent": &sentToo, "again": &againToo}, []string{"recorded", "device"})
		if err != nil || !reflect.DeepEqual(slow, e) || sentToo != sent || againToo != again {
			t.Errorf("in one pass %+v %v %q, member by member %+v %v %q %v", e, sent, again, slow, sentToo, againToo, err)
		}
	})
}
