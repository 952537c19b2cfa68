// Package auth says who is asking: it keeps the PINs of the plan's people and the sign-ins made with them.
//
// It knows a person only by their code, and nothing about roles: those are the plan's and are looked up at each
// request, so that a person the plan lets go of is out at once. It must not know facts, nor the web framework; secrets
// are not records, so they lie in a small file of their own that can be erased without touching the journal.
//
// # What a PIN is worth
//
// A short PIN can not be protected by hashing: a million tries at 28 ms are eight hours. What protects it is that tries
// are few (Slowdown), that the file is readable by its owner only, and that the program listens on this machine only.
// The hash (argon2id, RFC 9106) is there so that a PIN seen in a copied file is not read off it at a glance.
//
// # Slow-down
//
// Each person has tries of their own. Three wrong ones cost nothing; from then on each makes the next wait twice as
// long, from 15 seconds to 15 minutes. At ten in a row the PIN is locked for an hour, or until a lead sets a new one.
// A try is counted before it is compared, so that many at once are no way round it. Nobody is locked out for good by
// a stranger's mischief, and a right PIN clears the count.
//
// # Sign-ins
//
// A token is 256 random bits. The store keeps its SHA-256 only, with two ends: idle (30 minutes) and absolute (12
// hours, a long shift). Setting a PIN ends every sign-in of that person. One that ran out is remembered for a day, so
// that whoever was typing when it did can be asked for their PIN by name and lose nothing.
package auth
