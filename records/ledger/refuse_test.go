package ledger

import (
	"bytes"
	"encoding/base64"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/note"
	"pgregory.net/rapid"
)

// wraps checks that an error, if there is one, is of the kind, and says more than the kind.
func wraps(t *testing.T, name string, err, kind error) {
	t.Helper()
	if err == nil {
		return
	}
	if !errors.Is(err, kind) {
		t.Errorf("%s: %v is not of the kind %q", name, err, kind)
	}
	if len(err.Error()) < len(kind.Error())+10 {
		t.Errorf("%s: %q says too little", name, err)
	}
}

const (
	root44  = "CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I="
	empty44 = "47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU="
)

func TestParseCheckpointRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                                           "line 1",
		"log":                                        "line 1",
		"log\n7\n" + root44:                          "line 3: no newline",
		"\n7\n" + root44 + "\n":                      "line 1: empty",
		"lo\tg\n7\n" + root44 + "\n":                 "line 1: origin",
		"lo\xffg\n7\n" + root44 + "\n":               "line 1: origin",
		"log\r\n7\r\n" + root44 + "\r\n":             "line 1: origin",
		"log\n\n" + root44 + "\n":                    "line 2: size",
		"log\n07\n" + root44 + "\n":                  "line 2: size",
		"log\n+7\n" + root44 + "\n":                  "line 2: size",
		"log\n-7\n" + root44 + "\n":                  "line 2: size",
		"log\n 7\n" + root44 + "\n":                  "line 2: size",
		"log\n7.0\n" + root44 + "\n":                 "line 2: size",
		"log\n1_0\n" + root44 + "\n":                 "line 2: size",
		"log\n9223372036854775808\n" + root44 + "\n": "line 2: size",
		"log\n7\n\n":                                 "line 3: root",
		"log\n7\n" + root44[:43] + "\n":              "line 3: root",
		"log\n7\n" + root44 + "=\n":                  "line 3: root",
		"log\n7\n" + root44 + " \n":                  "line 3: root",
		"log\n7\n" + root44 + "\r\n":                 "line 3: root",
		"log\n7\n" + root44[:42] + "J=\n":            "line 3: root", // the unused bits of the last digit
		"log\n7\n" + strings.ReplaceAll(root44, "/", "_") + "\n": "line 3: root",
		"log\n0\n" + root44 + "\n":                               "line 3: root",
		"log\n7\n" + root44 + "\nmore\n":                         "line 4: extension lines are refused",
		"log\n7\n" + root44 + "\n\n":                             "line 4: extension lines are refused",
	} {
		c, err := ParseCheckpoint(text)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %+v, %v, want %q", text, c, err, want)
		}
		wraps(t, text, err, ErrMalformed)
	}
	for _, text := range []string{"log\n0\n" + empty44 + "\n", "my log +1\n9223372036854775807\n" + root44 + "\n"} {
		if c, err := ParseCheckpoint(text); err != nil || FormatCheckpoint(c) != text {
			t.Errorf("%q: %+v, %v", text, c, err)
		}
	}
}

func TestSignRefuses(t *testing.T) {
	good := Checkpoint{"log", 1, LeafHash(nil)}
	for name, c := range map[string]Checkpoint{
		"no origin":        {"", 1, LeafHash(nil)},
		"two lines":        {"log\n1", 1, LeafHash(nil)},
		"forged blank":     {"log\n\n— x", 1, LeafHash(nil)},
		"below zero":       {"log", -1, LeafHash(nil)},
		"root of nothing":  {"log", 0, LeafHash(nil)},
		"zero value":       {},
		"not UTF-8":        {"l\xc3g", 1, LeafHash(nil)},
		"control (escape)": {"l\x1bg", 1, LeafHash(nil)},
	} {
		signed, err := Sign(c, neumannSigner)
		if err == nil {
			t.Errorf("%s: signed %q", name, signed)
		}
		wraps(t, name, err, ErrMalformed)
	}
	for name, key := range map[string]string{
		"empty":          "",
		"a verifier key": neumannVerifier,
		"cut":            neumannSigner[:len(neumannSigner)-4],
		"other name":     strings.Replace(neumannSigner, "Peter", "Paul", 1),
		"other type":     strings.Replace(neumannSigner, "+AYE", "+BIE", 1),
		"control":        controlKey(t),
	} {
		_, err := Sign(good, key)
		_, err2 := VerifierOf(key)
		if err == nil || err2 == nil {
			t.Errorf("%s: %v, %v", name, err, err2)
			continue
		}
		wraps(t, name, err, ErrKey)
		wraps(t, name, err2, ErrKey)
		if secret := neumannSigner[len(neumannSigner)-20:]; strings.Contains(err.Error()+err2.Error(), secret) {
			t.Errorf("%s: the error shows the secret", name)
		}
	}
}

// controlKey is a key that the note package makes and then cannot read back in a note.
func controlKey(t *testing.T) string {
	signer, _, err := note.GenerateKey(nil, "a\x01b")
	if err != nil {
		t.Fatal(err)
	}
	return signer
}

func TestGenerateKey(t *testing.T) {
	for _, name := range []string{"", "two words", "a+b", "a\nb", "a\x00b", "a\u00a0b", "\xff"} {
		if s, _, err := GenerateKey(nil, name); err == nil {
			t.Errorf("name %q: %s", name, s)
		} else {
			wraps(t, name, err, ErrKey)
		}
	}
	if _, _, err := GenerateKey(bytes.NewReader(make([]byte, 31)), "log"); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("too little randomness: %v", err)
	}
	a, va, err1 := GenerateKey(nil, "log")
	b, vb, err2 := GenerateKey(nil, "log")
	if err1 != nil || err2 != nil || a == b || va == vb {
		t.Errorf("two keys: %v, %v, same: %v, %v", err1, err2, a == b, va == vb)
	}
	// Source: golang.org/x/mod v0.43.0, sumdb/note/example_test.go: the key EnochRoot, made from zeros, has id af0cfe78.
	if _, v, err := GenerateKey(bytes.NewReader(make([]byte, 32)), "EnochRoot"); err != nil || !strings.HasPrefix(v, "EnochRoot+af0cfe78+") {
		t.Errorf("EnochRoot: %s, %v", v, err)
	}
	rapid.Check(t, func(t *rapid.T) {
		signer, verifier := drawKey(t, drawOrigin(t))
		if got, err := VerifierOf(signer); err != nil || got != verifier {
			t.Fatalf("VerifierOf(%s) = %s, %v, want %s", signer, got, err, verifier)
		}
	})
}

func TestOpenTellsErrorsApart(t *testing.T) {
	c := Checkpoint{"log", 1, LeafHash(nil)}
	mine, myKey, _ := GenerateKey(bytes.NewReader(bytes.Repeat([]byte{1}, 32)), "log")
	_, sameName, _ := GenerateKey(bytes.NewReader(bytes.Repeat([]byte{2}, 32)), "log")
	signed, err := Sign(c, mine)
	if err != nil {
		t.Fatal(err)
	}
	s := string(signed)
	cosigned := s + neumannNote[len(neumannText)+1:]
	sigLine := s[strings.Index(s, "—"):]
	zeroSig := "— log " + base64.StdEncoding.EncodeToString(append(idOf(t, sigLine), make([]byte, 64)...)) + "\n"
	// The last digit before the padding has unused bits; lenient base64 reads this as the same signature.
	digits := "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
	last := len(s) - 3
	loose := s[:last] + string(digits[strings.IndexByte(digits, s[last])+1]) + s[last+1:]

	for _, k := range []struct {
		name, signed, key string
		kind              error
	}{
		{"right", s, myKey, nil},
		{"right, beside a witness", cosigned, myKey, nil},
		{"same name, other key", s, sameName, ErrUnknownKey},
		{"other key", s, neumannVerifier, ErrUnknownKey},
		{"no key", s, "", ErrKey},
		{"a signer for a verifier", s, mine, ErrKey},
		{"text changed", strings.Replace(s, "\n1\n", "\n2\n", 1), myKey, ErrBadSignature},
		{"signature changed", strings.Replace(s, sigLine, zeroSig, 1), myKey, ErrBadSignature},
		{"unused bits of the base64", loose, myKey, ErrMalformed},
		{"unused bits, no such key", loose, neumannVerifier, ErrMalformed},
		{"nothing", "", myKey, ErrMalformed},
		{"no signature", FormatCheckpoint(c), myKey, ErrMalformed},
		{"no signature after the blank", FormatCheckpoint(c) + "\n", myKey, ErrMalformed},
		{"cut", s[:len(s)-1], myKey, ErrMalformed},
		{"line ends of another system", strings.ReplaceAll(s, "\n", "\r\n"), myKey, ErrMalformed},
		{"no note", "binary \x00\x01", myKey, ErrMalformed},
		{"extension line", signAny(t, FormatCheckpoint(c)+"more\n", mine), myKey, ErrMalformed},
		{"not a checkpoint", signAny(t, "hello\n", mine), myKey, ErrMalformed},
	} {
		got, err := Open([]byte(k.signed), k.key)
		switch {
		case k.kind == nil && (err != nil || got != c):
			t.Errorf("%s: %+v, %v", k.name, got, err)
		case k.kind != nil && (err == nil || got != Checkpoint{}):
			t.Errorf("%s: accepted as %+v", k.name, got)
		}
		wraps(t, k.name, err, k.kind)
	}
	if _, err := Open([]byte(strings.Repeat("x", 10)), mine); strings.Contains(err.Error(), mine[len(mine)-20:]) {
		t.Error("the error shows a secret key given by mistake")
	}
	if _, err := Open([]byte(cosigned), sameName); err == nil || !strings.Contains(err.Error(), "PeterNeumann+c74f20a3") {
		t.Errorf("the signers found are not named: %v", err)
	}
	many := s
	for range 5 {
		other, _, _ := GenerateKey(nil, "witness")
		many += strings.TrimPrefix(signAny(t, FormatCheckpoint(c), other), FormatCheckpoint(c)+"\n")
	}
	if _, err := Open([]byte(many), neumannVerifier); err == nil || !strings.Contains(err.Error(), "3 more") {
		t.Errorf("many signers: %v", err)
	}
}

func signAny(t *testing.T, text, signerKey string) string {
	t.Helper()
	signed, err := signNote(text, signerKey)
	if err != nil {
		t.Fatal(err)
	}
	return string(signed)
}

// idOf takes the four bytes of the key's id from a signature line.
func idOf(t *testing.T, sigLine string) []byte {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(strings.TrimSpace(sigLine[strings.LastIndexByte(sigLine, ' ')+1:]))
	if err != nil {
		t.Fatal(err)
	}
	return raw[:4]
}

func TestParseProofRefuses(t *testing.T) {
	h := "c2sp.org/tlog-proof@v1\n"
	for data, want := range map[string]string{
		"":                                  "line 1",
		"c2sp.org/tlog-proof@v1":            "line 1",
		"c2sp.org/tlog-proof@v2\n":          "line 1",
		h:                                   "line 2",
		h + "\n":                            "line 2",
		h + "extra \nindex 0\n":             "line 2: extra",
		h + "extra YQ\nindex 0\n":           "line 2: extra",
		h + "extra YR==\nindex 0\n":         "line 2: extra", // unused bits
		h + "extra YQ==\n\n":                "line 3",
		h + "index\n":                       "line 2",
		h + "index -1\n":                    "line 2: index",
		h + "index 00\n":                    "line 2: index",
		h + "index 9223372036854775808\n\n": "line 2: index",
		h + "index 0\nextra YQ==\n":         "line 3: hash",
		h + "index 0\nYQ==\n\n" + sofaNote:  "line 3: hash",
		h + "index 0\n" + root44:            "line 4: the file ends",
		h + "index 0\n" + root44 + "\n":     "line 4: the file ends",
		h + "index 0\n" + strings.Repeat(root44+"\n", 64): "line 66: more than 63",
		h + "index 0\n\n":                                          "line 4 and after",
		h + "index 0\n\n" + sofaText:                               "line 4 and after",
		h + "index 0\n\n\n" + sofaNote:                             "line 4 and after",
		h + "index 0\n\n" + fooNote:                                "line 4 and after",
		h + "index 0\n\n" + sofaNote[:len(sofaNote)-1]:             "line 4 and after",
		strings.ReplaceAll(h+"index 0\n\n"+sofaNote, "\n", "\r\n"): "line 1",
		"\ufeff" + h + "index 0\n\n" + sofaNote:                    "line 1",
	} {
		p, err := ParseProof([]byte(data))
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %+v, %v, want %q", data, p, err, want)
		}
		wraps(t, data, err, ErrMalformed)
	}
	for _, data := range []string{
		h + "index 0\n\n" + sofaNote,
		h + "extra YQ==\nindex 9223372036854775807\n" + strings.Repeat(root44+"\n", 63) + "\n" + sofaNote,
	} {
		if p, err := ParseProof([]byte(data)); err != nil || string(FormatProof(p)) != data {
			t.Errorf("%q: %+v, %v", data, p, err)
		}
	}
}

func TestCheckProof(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p, leaf, c, signerKey, verifierKey := drawProof(rt)
		if got, err := CheckProof(p, leaf, verifierKey); err != nil || got != c {
			rt.Fatalf("%+v, %v", got, err)
		}
		// True hashes under a checkpoint of another size, rightly signed.
		c.Size++
		other := p
		other.Checkpoint, _ = Sign(Checkpoint{c.Origin, c.Size, LeafHash(nil)}, signerKey)
		for name, try := range map[string]struct {
			p    Proof
			leaf Hash
			key  string
			kind error
		}{
			"other leaf":       {p, flip(leaf, 7), verifierKey, ErrNotProven},
			"index past size":  {Proof{nil, math.MaxInt64, p.Hashes, p.Checkpoint}, leaf, verifierKey, ErrNotProven},
			"index below zero": {Proof{nil, -1, p.Hashes, p.Checkpoint}, leaf, verifierKey, ErrNotProven},
			"other checkpoint": {other, leaf, verifierKey, ErrNotProven},
			"other key":        {p, leaf, fooVerifier, ErrUnknownKey},
			"no checkpoint":    {Proof{nil, p.Index, p.Hashes, nil}, leaf, verifierKey, ErrMalformed},
		} {
			got, err := CheckProof(try.p, try.leaf, try.key)
			if err == nil || got != (Checkpoint{}) {
				rt.Fatalf("%s: accepted", name)
			}
			wraps(t, name, err, try.kind)
		}
	})
}
