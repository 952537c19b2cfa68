package ledger

import "errors"

// The kinds of refusal. Every error of this package wraps exactly one of them, so a caller can tell
// "these are not the bytes of that form" from "this is a lie" with errors.Is.
var (
	// ErrMalformed: the bytes, or the values about to be written, do not have the form.
	ErrMalformed = errors.New("malformed")
	// ErrKey: the text of a key cannot be used; nothing was checked with it.
	ErrKey = errors.New("unusable key")
	// ErrUnknownKey: the note has the right form but carries no signature by the key it was checked against.
	ErrUnknownKey = errors.New("not signed by this key")
	// ErrBadSignature: the note claims a signature by the key, and that signature is false.
	ErrBadSignature = errors.New("false signature")
	// ErrNotProven: a proof does not lead to the root it was given for.
	ErrNotProven = errors.New("not proven")
	// ErrRange: a leaf or a size that the tree does not have was asked for.
	ErrRange = errors.New("outside the tree")
)
