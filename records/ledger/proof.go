package ledger

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

const (
	proofHeader = "c2sp.org/tlog-proof@v1"
	// maxProofHashes is the longest way to the root of any tree whose size is an int64.
	maxProofHashes = 63
)

// Proof is everything a reader needs, beside a leaf and a verifier key, to check that the leaf is in the log.
type Proof struct {
	// Extra is whatever the writer wants to send along; empty means none. Nothing signs it: it may help to
	// find or rebuild the leaf, and must not be believed for anything else.
	Extra []byte
	// Index is the position of the leaf, counted from 0.
	Index int64
	// Hashes is the inclusion proof as Tree.Inclusion gives it, for the size in the checkpoint.
	Hashes []Hash
	// Checkpoint is the signed checkpoint, byte for byte as Sign wrote it.
	Checkpoint []byte
}

// FormatProof writes p as a tlog-proof file (usual name ending: .tlog-proof). It does not judge: what
// CheckProof would refuse is written all the same.
func FormatProof(p Proof) []byte {
	var b bytes.Buffer
	b.WriteString(proofHeader + "\n")
	if len(p.Extra) > 0 {
		fmt.Fprintf(&b, "extra %s\n", base64.StdEncoding.EncodeToString(p.Extra))
	}
	fmt.Fprintf(&b, "index %d\n", p.Index)
	for _, h := range p.Hashes {
		fmt.Fprintf(&b, "%s\n", h)
	}
	b.WriteByte('\n')
	b.Write(p.Checkpoint)
	return b.Bytes()
}

// ParseProof reads a tlog-proof file. It accepts only bytes that FormatProof would write again, and only with a
// checkpoint that has the form Open reads. Errors wrap ErrMalformed and name the line. It proves nothing:
// no signature and no hash is checked before CheckProof.
func ParseProof(data []byte) (Proof, error) {
	line := 0
	fail := func(format string, args ...any) (Proof, error) {
		return Proof{}, fmt.Errorf("%w: proof line %d: %s", ErrMalformed, line, fmt.Sprintf(format, args...))
	}
	rest, ended := data, true
	next := func() string {
		var l []byte
		line++
		l, rest, ended = bytes.Cut(rest, []byte("\n"))
		return string(l)
	}

	if l := next(); l != proofHeader || !ended {
		return fail("%.60q: need %q", l, proofHeader)
	}
	var p Proof
	l := next()
	if digits, ok := strings.CutPrefix(l, "extra "); ok {
		extra, err := base64.StdEncoding.DecodeString(digits)
		if err != nil || len(extra) == 0 || base64.StdEncoding.EncodeToString(extra) != digits {
			return fail("extra %.60q: need at least one byte in standard base64, or no such line", digits)
		}
		p.Extra = extra
		l = next()
	}
	digits, ok := strings.CutPrefix(l, "index ")
	if !ok {
		return fail("%.60q: need \"index \" and the position of the leaf", l)
	}
	var err error
	if p.Index, err = parseCount(digits); err != nil {
		return fail("index %.60q: %v", digits, err)
	}
	for l = next(); l != ""; l = next() {
		h, err := parseHash(l)
		if err != nil {
			return fail("hash %.60q: %v", l, err)
		}
		if len(p.Hashes) == maxProofHashes {
			return fail("more than %d hashes: no tree is that high", maxProofHashes)
		}
		p.Hashes = append(p.Hashes, h)
	}
	if !ended {
		return fail("the file ends here: need an empty line and the signed checkpoint")
	}
	line++
	// An empty list of known keys: the note is taken apart, and must come out unverified.
	_, err = openWith(rest, note.VerifierList())
	var unverified *note.UnverifiedNoteError
	if !errors.As(err, &unverified) {
		return Proof{}, fmt.Errorf("proof line %d and after: %w", line, err)
	}
	if _, err := ParseCheckpoint(unverified.Note.Text); err != nil {
		return Proof{}, fmt.Errorf("proof line %d and after: %w", line, err)
	}
	p.Checkpoint = bytes.Clone(rest)
	return p, nil
}

// CheckProof checks that verifierKey signed the proof's checkpoint and that leaf (a LeafHash) is at p.Index in
// the tree the checkpoint commits to; it returns that checkpoint. Errors are those of Open and VerifyInclusion.
// The caller still compares Origin with the log it expects, if the key may sign for several.
func CheckProof(p Proof, leaf Hash, verifierKey string) (Checkpoint, error) {
	c, err := Open(p.Checkpoint, verifierKey)
	if err != nil {
		return Checkpoint{}, fmt.Errorf("checkpoint of the proof: %w", err)
	}
	if err := VerifyInclusion(c.Root, c.Size, p.Index, leaf, p.Hashes); err != nil {
		return Checkpoint{}, err
	}
	return c, nil
}
