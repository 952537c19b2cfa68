package records

import (
	"encoding/hex"
	"fmt"

	"github.com/google/uuid"
)

// EntryID is the UUIDv7 made where the work was signed (RFC 9562 section 5.7). It is the idempotency key: the same
// id sent twice is one entry. It may not be used to order entries: device clocks differ.
type EntryID [16]byte

// NewEntryID makes a fresh id from the clock and the system's randomness.
func NewEntryID() EntryID { return EntryID(uuid.Must(uuid.NewV7())) }

// ParseEntryID reads the 36-character form with hyphens, in lower case, and only version 7.
func ParseEntryID(text string) (EntryID, error) { return parseEntryID([]byte(text)) }

func parseEntryID(text []byte) (EntryID, error) {
	u, err := uuid.ParseBytes(text)
	var again [36]byte
	if err != nil || string(EntryID(u).write(&again)) != string(text) {
		return EntryID{}, fmt.Errorf("%q is not an id like 0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e (lower case, with hyphens)", clip(string(text)))
	}
	if u.Variant() != uuid.RFC4122 {
		return EntryID{}, fmt.Errorf("%q is not an id of RFC 9562: the fourth group starts with 8, 9, a or b", text)
	}
	if u.Version() != 7 {
		return EntryID{}, fmt.Errorf("%q is a version %d id; entries need version 7", text, u.Version())
	}
	return EntryID(u), nil
}

// write is String into the caller's memory.
func (id EntryID) write(to *[36]byte) []byte {
	at := 0
	for i, b := range id {
		if i == 4 || i == 6 || i == 8 || i == 10 {
			to[at] = '-'
			at++
		}
		hex.Encode(to[at:at+2], []byte{b})
		at += 2
	}
	return to[:]
}

// IsZero says that no id was given.
func (id EntryID) IsZero() bool { return id == EntryID{} }

// String is the 36-character form.
func (id EntryID) String() string { return uuid.UUID(id).String() }

// MarshalText writes the 36-character form.
func (id EntryID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// AppendText appends the 36-character form.
func (id EntryID) AppendText(b []byte) ([]byte, error) {
	var text [36]byte
	return append(b, id.write(&text)...), nil
}

// UnmarshalText is ParseEntryID.
func (id *EntryID) UnmarshalText(text []byte) error {
	parsed, err := parseEntryID(text)
	if err != nil {
		return err
	}
	*id = parsed
	return nil
}
