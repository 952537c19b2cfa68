package ledger

import (
	"bytes"
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// GenerateKey makes an Ed25519 key called name and returns its two texts: signer, which is secret, and verifier,
// which is to be handed to every reader. The seed is 32 bytes from rand; a nil rand means the system's source.
// The name must be non-empty UTF-8 without spaces, plus signs and control characters.
func GenerateKey(rand io.Reader, name string) (signer, verifier string, err error) {
	if err := checkName(name); err != nil {
		return "", "", err
	}
	signer, verifier, err = note.GenerateKey(rand, name)
	if err != nil {
		return "", "", fmt.Errorf("make key %q: %w", name, err)
	}
	if _, err := note.NewVerifier(verifier); err != nil {
		return "", "", fmt.Errorf("%w: name %q: need UTF-8 without spaces or plus signs", ErrKey, name)
	}
	return signer, verifier, nil
}

// VerifierOf derives the verifier text from a signer text.
func VerifierOf(signerKey string) (string, error) {
	signer, err := parseSigner(signerKey)
	if err != nil {
		return "", err
	}
	// parseSigner has checked the form PRIVATE+KEY+name+id+base64(type ‖ seed); the base64 may hold further pluses.
	parts := strings.SplitN(signerKey, "+", 5)
	raw, err := base64.StdEncoding.DecodeString(parts[4])
	if err != nil || len(raw) != 1+ed25519.SeedSize {
		return "", fmt.Errorf("%w: signer key of %q: not an Ed25519 seed", ErrKey, signer.Name())
	}
	public := ed25519.NewKeyFromSeed(raw[1:]).Public().(ed25519.PublicKey)
	verifier, err := note.NewEd25519VerifierKey(signer.Name(), public)
	if err != nil {
		return "", fmt.Errorf("%w: signer key of %q: %w", ErrKey, signer.Name(), err)
	}
	return verifier, nil
}

// Sign writes c as a signed note. A checkpoint whose text could not be read back is refused with ErrMalformed.
//
// Whoever signs must hold that c is consistent with everything signed before under the same origin; two
// inconsistent signed checkpoints are proof of forgery against the signer.
func Sign(c Checkpoint, signerKey string) ([]byte, error) {
	signer, err := NewSigner(signerKey)
	if err != nil {
		return nil, err
	}
	return signer.Sign(c)
}

// Signer is a signer text made ready, for whoever signs often: working out the key takes as long as a signature.
type Signer struct{ with note.Signer }

// NewSigner reads a signer text. The error wraps ErrKey and does not show it.
func NewSigner(signerKey string) (*Signer, error) {
	with, err := parseSigner(signerKey)
	if err != nil {
		return nil, err
	}
	return &Signer{with}, nil
}

// Sign is the function Sign with this key. It may be called from many goroutines.
func (s *Signer) Sign(c Checkpoint) ([]byte, error) {
	text := FormatCheckpoint(c)
	if _, err := ParseCheckpoint(text); err != nil {
		return nil, fmt.Errorf("refuse to sign: %w", err)
	}
	return signText(text, s.with)
}

// Open reads a signed checkpoint and checks that verifierKey signed it. Only then is the content looked at.
//
// The error wraps ErrKey (verifierKey is no verifier text), ErrMalformed (not a signed note, or its text is not a
// checkpoint), ErrUnknownKey (no signature by this key; the signers found are named) or ErrBadSignature (one is
// claimed and false). Signatures by further keys, a witness's for instance, are permitted and not checked.
func Open(signed []byte, verifierKey string) (Checkpoint, error) {
	text, err := openNote(signed, verifierKey)
	if err != nil {
		return Checkpoint{}, err
	}
	return ParseCheckpoint(text)
}

func signText(text string, signer note.Signer) ([]byte, error) {
	signed, err := note.Sign(&note.Note{Text: text}, signer)
	if err != nil {
		return nil, fmt.Errorf("%w: sign as %q: %w", ErrMalformed, signer.Name(), err)
	}
	return signed, nil
}

func openNote(signed []byte, verifierKey string) (text string, err error) {
	verifier, err := note.NewVerifier(verifierKey)
	if err != nil {
		// Only the part before the first plus is shown: a signer key given by mistake must not end up in a log file.
		name, _, _ := strings.Cut(verifierKey, "+")
		return "", fmt.Errorf("%w: verifier key beginning %.60q: %w: need name+id+base64 as GenerateKey made it", ErrKey, name, err)
	}
	opened, err := openWith(signed, note.VerifierList(verifier))
	var unverified *note.UnverifiedNoteError
	var invalid *note.InvalidSignatureError
	switch {
	case err == nil:
		return opened.Text, nil
	case errors.As(err, &unverified):
		return "", fmt.Errorf("%w: checked against %s, signed by %s: use the verifier key of the log that signed, or distrust it",
			ErrUnknownKey, keyLabel(verifier.Name(), verifier.KeyHash()), signers(unverified.Note.UnverifiedSigs))
	case errors.As(err, &invalid):
		return "", fmt.Errorf("%w: not what %s signed: the text or the signature was altered", ErrBadSignature, keyLabel(invalid.Name, invalid.Hash))
	}
	return "", err
}

// openWith is note.Open made strict. Its base64 reader ignores the unused bits of a last digit, so several byte
// strings would pass as one note; here one note has one form.
func openWith(signed []byte, known note.Verifiers) (*note.Note, error) {
	opened, err := note.Open(signed, known)
	var unverified *note.UnverifiedNoteError
	var invalid *note.InvalidSignatureError
	if err != nil && !errors.As(err, &unverified) && !errors.As(err, &invalid) {
		return nil, fmt.Errorf("%w: signed note: need UTF-8 text, an empty line, and lines \"— name base64\" each ended by a newline: %w", ErrMalformed, err)
	}
	lines := bytes.Split(signed[bytes.LastIndex(signed, []byte("\n\n"))+2:], []byte("\n"))
	for i, line := range lines[:len(lines)-1] {
		digits := line[bytes.LastIndexByte(line, ' ')+1:]
		if _, err := base64.StdEncoding.Strict().DecodeString(string(digits)); err != nil {
			return nil, fmt.Errorf("%w: signed note, signature %d: %w", ErrMalformed, i+1, err)
		}
	}
	return opened, err
}

// parseSigner never quotes the key: it is secret.
func parseSigner(signerKey string) (note.Signer, error) {
	signer, err := note.NewSigner(signerKey)
	if err != nil {
		return nil, fmt.Errorf("%w: signer key (not shown): %w: need PRIVATE+KEY+name+id+base64 as GenerateKey made it", ErrKey, err)
	}
	if err := checkName(signer.Name()); err != nil {
		return nil, err
	}
	return signer, nil
}

// checkName refuses what the note package would let into a key and then not read back in a note.
func checkName(name string) error {
	if name == "" || strings.ContainsFunc(name, isControl) {
		return fmt.Errorf("%w: name %q: need at least one character and no control characters", ErrKey, name)
	}
	return nil
}

func keyLabel(name string, id uint32) string { return fmt.Sprintf("%s+%08x", name, id) }

// signers names the first few signers found, for an error message.
func signers(sigs []note.Signature) string {
	var names []string
	for i, s := range sigs {
		if i == 3 {
			names = append(names, fmt.Sprintf("%d more", len(sigs)-i))
			break
		}
		names = append(names, fmt.Sprintf("%.80q", keyLabel(s.Name, s.Hash)))
	}
	return strings.Join(names, ", ")
}
