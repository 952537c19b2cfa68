package records

import (
	"bytes"
	"errors"
	"fmt"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"grainward/records/ledger"
)

// Position is an entry's place in the journal, counted from 0; it is also its leaf index in the tree.
type Position int64

// Entry is one signed statement.
type Entry struct {
	ID       EntryID    `json:"id"`
	Happened Instant    `json:"happened"`        // when the work was done, by the signer's clock
	Recorded Instant    `json:"recorded"`        // when the journal took it in
	By       PersonCode `json:"by"`              // who signed
	Device   DeviceCode `json:"device,omitzero"` // where
	Meaning  Meaning    `json:"meaning"`
	Kind     Kind       `json:"kind"`
	Fact     Fact       `json:"fact"`

	// DeviceTime is what the device's clock said when the work was done, when that clock was found to be off; Happened is then
	// put right by the difference. Both are shown; nothing is judged by this one.
	DeviceTime Instant `json:"deviceTime,omitzero"`
	// Paper says that the entry was typed in from a sheet filled in by hand. By is then who typed it.
	Paper *Paper `json:"paper,omitzero"`
}

// Paper is where a typed-in entry comes from.
type Paper struct {
	Whose PersonCode `json:"whose"`          // who did the work and signed the sheet
	Sheet string     `json:"sheet,omitzero"` // key of a photo of it on file
}

// Performer is who did what the entry says: whoever signed it, on the sheet where there was one.
func (e *Entry) Performer() PersonCode {
	if e.Paper != nil {
		return e.Paper.Whose
	}
	return e.By
}

// Row is what a backend keeps of one entry: the canonical bytes, and their leaf hash, kept beside them so that a
// damaged entry can be named and not only noticed.
type Row struct {
	Bytes []byte
	Leaf  ledger.Hash
}

// UnmarshalJSONFrom reads no more than there is to say of a sheet.
func (p *Paper) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	type plain Paper
	return json.UnmarshalDecode(dec, (*plain)(p), strict)
}

// typed is the envelope as it is written: nothing that is not said takes part.
type typed struct {
	ID         EntryID    `json:"id,omitzero"`
	Happened   Instant    `json:"happened,omitzero"`
	Recorded   Instant    `json:"recorded,omitzero"`
	By         PersonCode `json:"by,omitzero"`
	Device     DeviceCode `json:"device,omitzero"`
	Meaning    Meaning    `json:"meaning,omitzero"`
	Kind       Kind       `json:"kind,omitzero"`
	Fact       Fact       `json:"fact,omitzero"`
	DeviceTime Instant    `json:"deviceTime,omitzero"`
	Paper      *Paper     `json:"paper,omitzero"`
}

// wire is the envelope as it is read. The kind, which says how to read the fact, comes after it.
type wire struct {
	ID         EntryID    `json:"id"`
	Happened   Instant    `json:"happened"`
	Recorded   Instant    `json:"recorded"`
	By         PersonCode `json:"by"`
	Device     DeviceCode `json:"device"`
	Meaning    Meaning    `json:"meaning"`
	Kind       Kind       `json:"kind"`
	Fact       factSlot   `json:"fact"`
	DeviceTime Instant    `json:"deviceTime"`
	Paper      *Paper     `json:"paper"`
}

// factSlot takes a fact in where it stands when its type was guessed right beforehand, and its bytes otherwise.
type factSlot struct {
	guess Fact           // to decode into; nil when there is none
	given bool           // guess holds what was read
	raw   jsontext.Value // when there was no guess
}

// UnmarshalJSONFrom reads the fact, or keeps its bytes.
func (s *factSlot) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if s.guess != nil && dec.PeekKind() != 'n' {
		s.given = true
		return json.UnmarshalDecode(dec, s.guess, strict)
	}
	raw, err := dec.ReadValue()
	s.raw = bytes.Clone(raw)
	return err
}

var strict = json.JoinOptions(json.RejectUnknownMembers(true))

// Format makes the canonical bytes of an entry (RFC 8785) and their leaf hash. It is called once in an entry's life.
func Format(e Entry) (Row, error) {
	if b, ok := canonicalSignoff(&e); ok {
		return Row{Bytes: b, Leaf: ledger.LeafHash(b)}, nil
	}
	return formatAny(e)
}

// formatAny is Format of any kind.
func formatAny(e Entry) (Row, error) {
	b, err := json.Marshal(&e, json.Deterministic(true))
	if err != nil {
		return Row{}, fmt.Errorf("writing entry %s as JSON: %w", e.ID, err)
	}
	v := jsontext.Value(b)
	if err := v.Canonicalize(); err != nil {
		return Row{}, fmt.Errorf("writing entry %s in canonical form: %w", e.ID, err)
	}
	return Row{Bytes: v, Leaf: ledger.LeafHash(v)}, nil
}

// Parse reads stored bytes. It accepts only what Format could have written: canonical, complete, and of a known kind
// with known fields, so that nothing in a journal is ever silently passed over.
func Parse(b []byte) (Entry, error) {
	e, err := ParseTrusted(b)
	if err != nil {
		return Entry{}, err
	}
	if e.Recorded == 0 {
		return Entry{}, &Error{Kind: Invalid, What: unreadable, Fields: []FieldError{{Field: "recorded", Want: "the journal writes when it took the entry in"}}}
	}
	if err := checkFields(e); err != nil {
		return Entry{}, err
	}
	// Writing it again is a stronger test than canonicalizing b: it also refuses a member that says nothing ("note":"")
	// and a second spelling of the same time, so that one entry has one leaf hash.
	row, err := Format(e)
	if err != nil {
		return Entry{}, err
	}
	if !bytes.Equal(row.Bytes, b) {
		return Entry{}, &Error{Kind: Invalid, What: "the bytes are not the ones the journal writes for this entry (canonical form, RFC 8785)"}
	}
	return e, checkSize(e.Kind, len(b))
}

// ParseTrusted is Parse without the check of form: for replaying rows whose leaf hash has just been compared.
func ParseTrusted(b []byte) (Entry, error) {
	e, err := parse(b)
	if err == nil {
		trim(e.Fact)
	}
	return e, err
}

// parse reads an envelope and the fact its kind asks for.
func parse(b []byte) (Entry, error) {
	if row, ok := foretold(b); ok {
		// One pass: the fact is decoded where it stands, into the type its kind asks for.
		w := wire{Fact: factSlot{guess: row.New()}}
		if err := json.Unmarshal(b, &w, strict); err == nil && w.Kind == row.Kind && w.Fact.given {
			return Entry{w.ID, w.Happened, w.Recorded, w.By, w.Device, w.Meaning, w.Kind, w.Fact.guess, w.DeviceTime, w.Paper}, nil
		}
	}
	// Two passes, for bytes in another order, and for the errors of this one.
	var e Entry
	if err := json.Unmarshal(b, &e); err != nil {
		return Entry{}, plainJSON(b, err)
	}
	return e, nil
}

// trim saves room in a fact that is kept for good.
func trim(f Fact) {
	if s, ok := f.(*Signoff); ok {
		s.Answers = sharedAnswers(s.Answers)
	}
}

// foretold is the row of the kind that the envelope will turn out to have, if b is canonical: the kind comes after the
// fact, and nothing after it has a kind of its own. It is a guess to be compared with what is then decoded.
func foretold(b []byte) (KindRow, bool) {
	const member = `"kind":"`
	from := bytes.LastIndex(b, []byte(member))
	if from < 0 {
		return KindRow{}, false
	}
	kind, _, _ := bytes.Cut(b[from+len(member):], []byte{'"'})
	row, ok := kindTable[Kind(kind)]
	return row, ok
}

// ParseDraft reads one line of an import: an entry that the journal has not taken in yet. `recorded` must not be
// there; id, device and meaning may be left out. A missing id is made from the content, so that the same file
// imported twice is written once.
func ParseDraft(b []byte) (Entry, error) {
	e, err := parse(b)
	if err != nil {
		return Entry{}, err
	}
	if e.Recorded != 0 {
		return Entry{}, &Error{Kind: Invalid, What: "the line already says when it was recorded", Fields: []FieldError{{Field: "recorded",
			Value: e.Recorded.String(), Want: "leave it out: the journal writes it"}}}
	}
	return WithDefaults(e)
}

// WithDefaults fills what a draft may leave out: the usual meaning of its kind, and an id made from its content.
func WithDefaults(e Entry) (Entry, error) {
	if row, ok := RowOf(e.Kind); ok && e.Meaning == "" {
		e.Meaning = row.Meanings[0]
	}
	if e.ID.IsZero() {
		row, err := Format(e)
		if err != nil {
			return Entry{}, err
		}
		e.ID = contentID(e.Happened, row.Leaf)
	}
	return e, nil
}

// contentID is a version 7 id whose random part is taken from a hash.
func contentID(at Instant, h ledger.Hash) (id EntryID) {
	copy(id[6:], h[:])
	for i, ms := 5, uint64(at); i >= 0; i, ms = i-1, ms>>8 {
		id[i] = byte(ms)
	}
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// SameAs says whether two entries say the same, whenever each was recorded: the test for an id sent twice.
func (e Entry) SameAs(other Entry) bool {
	e.Recorded, other.Recorded = 0, 0
	a, errA := Format(e)
	b, errB := Format(other)
	return errA == nil && errB == nil && a.Leaf == b.Leaf
}

// MarshalJSONTo writes the envelope with its fact.
func (e *Entry) MarshalJSONTo(enc *jsontext.Encoder) error {
	w := typed(*e)
	return json.MarshalEncode(enc, &w)
}

// UnmarshalJSONFrom reads the envelope, then the fact by its kind.
func (e *Entry) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var w wire
	if err := json.UnmarshalDecode(dec, &w, strict); err != nil {
		return err
	}
	fact, err := parseFact(w.Kind, w.Fact.raw)
	if err != nil {
		return err
	}
	*e = Entry{w.ID, w.Happened, w.Recorded, w.By, w.Device, w.Meaning, w.Kind, fact, w.DeviceTime, w.Paper}
	return nil
}

func parseFact(k Kind, raw jsontext.Value) (Fact, error) {
	row, ok := RowOf(k)
	if !ok {
		return nil, unknownKind(k)
	}
	if len(raw) == 0 || raw.Kind() == 'n' {
		return nil, &Error{Kind: Invalid, What: "the entry has no fact", Fields: []FieldError{{Field: "fact", Want: "what happened, as kind " + string(k) + " says it"}}}
	}
	fact := row.New()
	if err := json.Unmarshal(raw, fact, strict); err != nil {
		return nil, plainJSONAt("fact", raw, err)
	}
	return fact, nil
}

// MarshalJSONTo writes a replacement with its fact.
func (r *Replacement) MarshalJSONTo(enc *jsontext.Encoder) error {
	return json.MarshalEncode(enc, &typed{Happened: r.Happened, By: r.By, Kind: r.Kind, Fact: r.Fact})
}

// UnmarshalJSONFrom reads a replacement; the envelope's other members are refused.
func (r *Replacement) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	var w wire
	if err := json.UnmarshalDecode(dec, &w, strict); err != nil {
		return err
	}
	if !w.ID.IsZero() || w.Recorded != 0 || w.Device != "" || w.Meaning != "" || w.DeviceTime != 0 || w.Paper != nil {
		return errors.New("a replacement holds only happened, by, kind and fact")
	}
	fact, err := parseFact(w.Kind, w.Fact.raw)
	if err != nil {
		return err
	}
	*r = Replacement{w.Happened, w.By, w.Kind, fact}
	return nil
}
