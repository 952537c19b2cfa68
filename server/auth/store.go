package auth

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"io"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"grainward/records"
)

// Options of a store.
type Options struct {
	Now      func() records.Instant // the clock; required
	Params   Params                 // of new hashes; DefaultParams when zero
	Parallel int                    // secrets compared at once for enrolled devices, each taking Params.Memory; 2 when zero
	Remember time.Duration          // how long it may go on by what it read of people, devices and sign-ins before it looks again; 0 looks every time
}

// Briefly is a Remember that a floor does not notice: another process's changes count within a second.
const Briefly = time.Second

// Store answers who is asking. It may be used from many goroutines.
type Store struct {
	in     Cabinet
	now    func() records.Instant
	params Params
	dummy  string // a hash of nothing, compared where there is no secret

	turns, elsewhere chan struct{} // one for each comparison under way; strangers do not take those of the floor

	most     bounds
	sweeping sync.Mutex
	swept    records.Instant
	writes   int
}

// New makes a store over a cabinet, which Close closes if it can be closed.
func New(c Cabinet, o Options) (*Store, error) {
	if o.Remember > 0 {
		c = remember(c, o.Remember)
	}
	s := &Store{in: c, now: o.Now, params: o.Params, most: usual}
	if o.Params == (Params{}) {
		s.params = DefaultParams
	}
	if o.Parallel < 1 {
		o.Parallel = 2
	}
	s.turns, s.elsewhere = make(chan struct{}, o.Parallel), make(chan struct{}, 1)
	var err error
	s.dummy, err = FormatHash("nobody", s.params)
	return s, err
}

// Close releases the cabinet.
func (s *Store) Close() error {
	if c, ok := s.in.(io.Closer); ok {
		return c.Close()
	}
	return nil
}

const tokenBytes = 32

// newToken is a secret for a browser, and what is kept of it.
func newToken() (token, kept string, err error) {
	raw := make([]byte, tokenBytes)
	if _, err := rand.Read(raw); err != nil {
		return "", "", fmt.Errorf("making a token: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(raw), hashOf(raw), nil
}

// keptOf is what is kept of a token; ok is false for what never was one.
func keptOf(token string) (kept string, ok bool) {
	raw, err := base64.RawURLEncoding.Strict().DecodeString(token)
	if err != nil || len(raw) != tokenBytes {
		return "", false
	}
	return hashOf(raw), true
}

func hashOf(raw []byte) string {
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:])
}

// letters are those of enrolment codes and of the ends of device codes: none that is read as another (Crockford's base 32).
const letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

func randomLetters(n int) (string, error) {
	raw := make([]byte, n)
	if _, err := rand.Read(raw); err != nil {
		return "", fmt.Errorf("making a code: %w", err)
	}
	for i := range raw {
		raw[i] = letters[raw[i]%32]
	}
	return string(raw), nil
}

// NameMost is how many characters a name of a device or link may have.
const NameMost = 60

func checkName(name string) error {
	bad := func(want string) error {
		return &records.Error{Kind: records.Invalid, What: "that name can not be used", Fields: []records.FieldError{{Field: "name", Want: want}}}
	}
	if n := utf8.RuneCountInString(name); n < 1 || n > NameMost || !utf8.ValidString(name) {
		return bad(fmt.Sprintf("1 to %d characters", NameMost))
	}
	for _, c := range name {
		if !unicode.IsPrint(c) {
			return bad("letters, digits, signs and spaces")
		}
	}
	return nil
}
