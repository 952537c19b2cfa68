package ledger

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// What is read must be written back byte for byte, and what is refused must be refused as malformed.

func FuzzParseCheckpoint(f *testing.F) {
	f.Add(sofaText)
	f.Add("log\n0\n" + empty44 + "\n")
	f.Add("log\n7\n" + root44 + "\nextension\n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := ParseCheckpoint(text)
		if err != nil {
			if !errors.Is(err, ErrMalformed) {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		if got := FormatCheckpoint(c); got != text {
			t.Fatalf("read %q, wrote %q", text, got)
		}
		// Whatever can be read can be signed and opened again.
		signed, err := Sign(c, neumannSigner)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := Open(signed, neumannVerifier); err != nil || again != c {
			t.Fatalf("%+v opened as %+v, %v", c, again, err)
		}
	})
}

func FuzzParseProof(f *testing.F) {
	f.Add([]byte(proofHeader + "\nindex 0\n\n" + sofaNote))
	f.Add([]byte(proofHeader + "\nextra YQ==\nindex 12\n" + root44 + "\n" + empty44 + "\n\n" + sofaNote))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ParseProof(data)
		if err != nil {
			if !errors.Is(err, ErrMalformed) {
				t.Fatalf("%q: %v", data, err)
			}
			return
		}
		if got := FormatProof(p); !bytes.Equal(got, data) {
			t.Fatalf("read %q, wrote %q", data, got)
		}
		if _, err := CheckProof(p, LeafHash(data), neumannVerifier); err == nil {
			t.Fatalf("a proof about itself: %q", data)
		}
	})
}

// FuzzOpen gives Open both arbitrary bytes and a right signature over arbitrary text: only a text that
// ParseCheckpoint reads may come out, and one key leaves one signature line.
func FuzzOpen(f *testing.F) {
	f.Add([]byte(sofaNote), sofaText)
	f.Add([]byte(neumannNote), neumannText)
	f.Add([]byte(fooNote), "log\n0\n"+empty44+"\n")
	f.Fuzz(func(t *testing.T, signed []byte, text string) {
		if c, err := Open(signed, neumannVerifier); err == nil {
			again, err := Sign(c, neumannSigner)
			if err != nil {
				t.Fatal(err)
			}
			body, line, _ := bytes.Cut(again, []byte("\n\n"))
			if !bytes.HasPrefix(signed, append(body, "\n\n"...)) || !bytes.Contains(signed, line) {
				t.Fatalf("opened %q, would sign %q", signed, again)
			}
		} else if !errors.Is(err, ErrMalformed) && !errors.Is(err, ErrUnknownKey) && !errors.Is(err, ErrBadSignature) {
			t.Fatalf("%q: %v", signed, err)
		}

		if !strings.HasSuffix(text, "\n") {
			return
		}
		note, err := signNote(text, neumannSigner)
		if err != nil {
			t.Fatal(err)
		}
		want, refused := ParseCheckpoint(text)
		got, err := Open(note, neumannVerifier)
		if got != want || (err == nil) != (refused == nil) {
			t.Fatalf("%q opened as %+v, %v; read as %+v, %v", note, got, err, want, refused)
		}
	})
}
