package auth

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/crypto/argon2"

	"grainward/records"
)

// Params are argon2id's costs.
type Params struct {
	Memory  uint32 // KiB
	Time    uint32 // passes
	Threads uint8
}

// DefaultParams are the least the OWASP password storage sheet gives for argon2id (as noted in 2026): 19 MiB, two
// passes, one lane; about 30 ms on a small machine.
var DefaultParams = Params{Memory: 19_456, Time: 2, Threads: 1}

const (
	pinLeast = 4
	pinMost  = 12 // digits

	saltBytes = 16
	hashBytes = 32
)

// CheckPIN says what is wrong with a PIN somebody wants to set, or nil. It never repeats the PIN.
func CheckPIN(pin string) error {
	bad := func(want string) error {
		return &records.Error{Kind: records.Invalid, What: "that PIN can not be used", Fields: []records.FieldError{{Field: "pin", Want: want}}}
	}
	if len(pin) < pinLeast || len(pin) > pinMost {
		return bad("4 to 12 digits")
	}
	up, down, same := true, true, true
	for i := range len(pin) {
		if pin[i] < '0' || pin[i] > '9' {
			return bad("digits only")
		}
		if i > 0 {
			step := (int(pin[i]) - int(pin[i-1]) + 10) % 10
			up, down, same = up && step == 1, down && step == 9, same && step == 0
		}
	}
	switch {
	case same:
		return bad("not the same digit over and over")
	case up || down:
		return bad("not digits in a row, such as 1234")
	case repeats(pin):
		return bad("not one pair over and over, such as 1212")
	}
	return nil
}

func repeats(pin string) bool {
	for i := 2; i < len(pin); i++ {
		if pin[i] != pin[i-2] {
			return false
		}
	}
	return true
}

// FormatHash hashes a PIN and writes it as a PHC string, with a fresh salt.
func FormatHash(pin string, p Params) (string, error) {
	salt := make([]byte, saltBytes)
	if _, err := rand.Read(salt); err != nil {
		return "", fmt.Errorf("making a salt: %w", err)
	}
	return formatPHC(p, salt, argon2.IDKey([]byte(pin), salt, p.Time, p.Memory, p.Threads, hashBytes)), nil
}

func formatPHC(p Params, salt, hash []byte) string {
	b64 := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, p.Memory, p.Time, p.Threads, b64.EncodeToString(salt), b64.EncodeToString(hash))
}

// parsePHC reads what formatPHC writes. Costs beyond what this program would ever set are refused: a damaged file
// must not make it take all the memory.
func parsePHC(text string) (p Params, salt, hash []byte, err error) {
	bad := func(what string) (Params, []byte, []byte, error) {
		return Params{}, nil, nil, &records.Error{Kind: records.Corrupt, What: "a stored PIN can not be read: " + what, Do: "Set that person's PIN anew."}
	}
	part := strings.Split(text, "$")
	if len(part) != 6 || part[0] != "" || part[1] != "argon2id" || part[2] != "v="+strconv.Itoa(argon2.Version) {
		return bad("it is not argon2id of version 19")
	}
	for _, kv := range strings.Split(part[3], ",") {
		name, value, _ := strings.Cut(kv, "=")
		n, err := strconv.ParseUint(value, 10, 32)
		if err != nil {
			return bad("its costs are not numbers")
		}
		switch name {
		case "m":
			p.Memory = uint32(n)
		case "t":
			p.Time = uint32(n)
		case "p":
			p.Threads = uint8(min(n, 255))
		}
	}
	if p.Memory < 8 || p.Memory > 1<<20 || p.Time < 1 || p.Time > 64 || p.Threads < 1 || p.Threads > 16 {
		return bad("its costs are out of range")
	}
	salt, errSalt := base64.RawStdEncoding.Strict().DecodeString(part[4])
	hash, errHash := base64.RawStdEncoding.Strict().DecodeString(part[5])
	if errSalt != nil || errHash != nil || len(salt) < 8 || len(hash) < 16 || len(hash) > 64 {
		return bad("its salt or hash is damaged")
	}
	return p, salt, hash, nil
}

// verify compares a PIN with a PHC string, exactly as typed, in constant time. stale says that the costs have been
// raised since and the PIN is to be hashed again.
func verify(pin, phc string, now Params) (ok, stale bool, err error) {
	p, salt, want, err := parsePHC(phc)
	if err != nil {
		return false, false, err
	}
	got := argon2.IDKey([]byte(pin), salt, p.Time, p.Memory, p.Threads, uint32(len(want)))
	return subtle.ConstantTimeCompare(got, want) == 1, p != now, nil
}
