// Package ledger makes a growing list of byte strings checkable: anybody who holds one signed line about the list
// can be shown that a given item is in it, and that a later list still begins with the earlier one.
//
// It knows RFC 6962 hashing (the same tree as RFC 9162 with SHA-256), tree heads, inclusion and consistency
// proofs, and three open text forms of the C2SP project: signed-note, tlog-checkpoint and tlog-proof. It must not
// know what the byte strings mean, nor files, databases, networks or the time. It imports the standard library and
// golang.org/x/mod/sumdb.
//
// # The tree
//
// Items are leaves, counted from 0. With ‖ for concatenation and H for SHA-256:
//
//	leaf hash   H(0x00 ‖ item)
//	inner node  H(0x01 ‖ left ‖ right)
//	no leaves   H()
//
// The root over n > 1 leaves is the node whose left part holds the first k leaves, k being the largest power of two
// below n, and whose right part holds the rest, both made the same way. The two prefixes keep a leaf from being passed
// off as an inner node.
//
// An inclusion proof is the list of sibling hashes from the leaf up to just under the root. A consistency proof is
// the list of hashes that rebuilds an old root and a new one from shared parts. Both are at most about log2 n long.
// A root does not bind the size: size and root belong together only where one signature covers both.
//
// # Keys
//
// Ed25519 only. With id = the first four bytes of H(name ‖ 0x0A ‖ 0x01 ‖ public key), in eight hex digits, and
// standard padded base64 throughout:
//
//	verifier   name+id+base64(0x01 ‖ public key)
//	signer     PRIVATE+KEY+name+id+base64(0x01 ‖ seed)
//
// A name is non-empty UTF-8 without spaces, plus signs or control characters. The signer text is secret and appears
// in no error message.
//
// # Checkpoint, signed
//
// Three lines of text, an empty line, and one line a signature, each ended by a newline (U+000A):
//
//	origin                          name of the log; UTF-8 without control characters
//	size                            decimal, no leading zeros
//	root                            base64 of 32 bytes
//
//	— name base64(id ‖ signature)   em dash, space; the signature covers the three lines with their newlines
//
// Further signature lines may stand beside ours (a witness's); they are read over. Narrower than the open forms on
// three points: extension lines after the root are refused, base64 must be the one canonical spelling, and a
// size above 2^63 − 1 cannot be read.
//
// # Proof file
//
// All that is needed beside the item and the verifier key:
//
//	c2sp.org/tlog-proof@v1
//	extra base64                    only if there is any; signed by nobody, so never to be believed
//	index decimal                   position of the leaf
//	base64 of 32 bytes              one line a hash, the leaf's sibling first; may be none, at most 63
//
//	the signed checkpoint, as it is
//
// Parsers are strict: what they read is written back byte for byte, so one thing has one spelling.
//
// # Worked example
//
// The items "one", "two" and "three", and a key whose seed is the bytes 0 to 31. The verifier key:
//
//	malthouse.example/log+9668b14f+AQOhB7/zzhC+HXDdGOdLwJln5NYwm6UNXx3chmQSVTG4
//
// The leaf hash of "two":
//
//	qxq38Hx8j+Dv9LpvqlPH5EEukaWZFT6KpOAb7s5beCU=
//
// The proof file for it, with "spoken" as extra:
//
//	c2sp.org/tlog-proof@v1
//	extra c3Bva2Vu
//	index 1
//	0Nc2CrefWKseHj/mStd+LqC8B+NrX0btIiPt2SmN+ek=
//	Zx8UbF5HHooag6PCFM5LqQe486WIjRTMjNPOdbsS75Q=
//
//	malthouse.example/log
//	3
//	Wqx3HImawpLnS/Gv4ubjAvi1WIOy0b8Ze0amvqbavKk=
//
//	— malthouse.example/log lmixT3NmXpIT35OiXlQgOXCSbiMGUVW4yFgGr69pP24hxKK4NKOa2lNcqRti7VHTklU7G9B9yaPjMS7nFa92njegqwg=
//
// To check it by hand: the two hash lines are the leaf hashes of "one" and of "three"; H(0x01 ‖ one ‖ two) joined with
// three in the same way gives the third line of the checkpoint; and the signature is by the key above.
package ledger
