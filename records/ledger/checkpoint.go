package ledger

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/mod/sumdb/tlog"
)

// Checkpoint is a tree head: what a tree was at one size.
type Checkpoint struct {
	// Origin names the log, once and for ever. It should equal the name of the key that signs for it, a
	// URL without scheme such as "malthouse.example/log". Nothing here compares the two: a reader that follows
	// one log compares Origin with the one it expects.
	Origin string
	// Size is the number of leaves.
	Size int64
	// Root is the RFC 6962 root over those leaves.
	Root Hash
}

// FormatCheckpoint writes the note text of a checkpoint: three lines, each ended by a newline. It does not
// judge; Sign refuses a checkpoint whose text would not be read back as the same checkpoint.
func FormatCheckpoint(c Checkpoint) string {
	return fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, c.Root)
}

// ParseCheckpoint reads what FormatCheckpoint writes and nothing else, so that one checkpoint has one text.
// Errors wrap ErrMalformed and name the line. It checks no signature: use Open for bytes from elsewhere.
//
// Extension lines, which the open form permits but advises against, are refused: they would be signed without
// anybody being able to check them against the tree.
func ParseCheckpoint(text string) (Checkpoint, error) {
	fail := func(line int, format string, args ...any) (Checkpoint, error) {
		return Checkpoint{}, fmt.Errorf("%w: checkpoint line %d: %s", ErrMalformed, line, fmt.Sprintf(format, args...))
	}
	lines := strings.SplitN(text, "\n", 4)
	if len(lines) < 4 {
		return fail(len(lines), "no newline at its end: need three lines (origin, size, root), each ended by one")
	}
	origin, size, root, rest := lines[0], lines[1], lines[2], lines[3]

	if origin == "" {
		return fail(1, "empty: need the name of the log")
	}
	if !utf8.ValidString(origin) || strings.ContainsFunc(origin, isControl) {
		return fail(1, "origin %.60q: need UTF-8 without control characters", origin)
	}
	n, err := parseCount(size)
	if err != nil {
		return fail(2, "size %.60q: %v", size, err)
	}
	h, err := parseHash(root)
	if err != nil {
		return fail(3, "root %.60q: %v", root, err)
	}
	if n == 0 && h != EmptyRoot() {
		return fail(3, "root %v at size 0: the tree without leaves has root %v", h, EmptyRoot())
	}
	if rest != "" {
		return fail(4, "extension lines are refused (%.60q): ask the log for a checkpoint of three lines", rest)
	}
	return Checkpoint{Origin: origin, Size: n, Root: h}, nil
}

// isControl is the set a signed note forbids: ASCII control characters. (Newlines are taken out before.)
func isControl(r rune) bool { return r < 0x20 }

// parseCount reads a size or an index: decimal digits, no sign, no leading zero, at most 2^63 − 1.
func parseCount(s string) (int64, error) {
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 || strconv.FormatInt(n, 10) != s {
		return 0, fmt.Errorf("need a whole number from 0 to %d in decimal digits without leading zeros", int64(1<<63-1))
	}
	return n, nil
}

// parseHash reads 32 bytes in standard base64, padded, the unused bits of the last digit zero.
func parseHash(s string) (Hash, error) {
	h, err := tlog.ParseHash(s)
	if err != nil || h.String() != s {
		return Hash{}, fmt.Errorf("need the %d characters of 32 bytes in standard base64", 44)
	}
	return h, nil
}
