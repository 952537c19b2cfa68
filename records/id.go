package records

import (
	"fmt"

	"github.com/google/uuid"
)

// EntryID is the UUIDv7 made where the work was signed (RFC 9562 section 5.7). It is the idempotency key: the same
// id sent twice is one entry. It may not be used to order entries: device clocks differ.
type EntryID [16]byte

// NewEntryID makes a fresh id from the clock and the system's randomness.
func NewEntryID() EntryID { return EntryID(uuid.Must(uuid.NewV7())) }

// ParseEntryID reads the 36-character form with hyphens, in lower case, and only version 7.
func ParseEntryID(text string) (EntryID, error) {
	u, err := uuid.Parse(text)
	if err != nil || u.String() != text {
		return EntryID{}, fmt.Errorf("%q is not an id like 0197f2a4-1c5e-7b3a-9d2e-4f6a8b0c1d2e (lower case, with hyphens)", clip(text))
	}
	if u.Version() != 7 || u.Variant() != uuid.RFC4122 {
		return EntryID{}, fmt.Errorf("%q is a version %d id; entries need version 7", text, u.Version())
	}
	return EntryID(u), nil
}

// IsZero says that no id was given.
func (id EntryID) IsZero() bool { return id == EntryID{} }

// String is the 36-character form.
func (id EntryID) String() string { return uuid.UUID(id).String() }

// MarshalText writes the 36-character form.
func (id EntryID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// AppendText appends the 36-character form.
func (id EntryID) AppendText(b []byte) ([]byte, error) { return append(b, id.String()...), nil }

// UnmarshalText is ParseEntryID.
func (id *EntryID) UnmarshalText(text []byte) error {
	parsed, err := ParseEntryID(string(text))
	if err != nil {
		return err
	}
	*id = parsed
	return nil
}
