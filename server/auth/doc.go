// Package auth says who is asking, from where, and for how long: it keeps the PINs and passwords of the plan's people, the
// devices a lead enrolled, the sign-ins made, and the read-only links given to auditors.
//
// It knows a person only by their code, and nothing about roles: those are the plan's and are looked up at each
// request, so that a person the plan lets go of is out at once. It must not know facts, nor the web framework; secrets
// are not records, so they lie in a place of their own that can be erased without touching the journal.
//
// # What a PIN is worth, and a password
//
// A short PIN can not be protected by hashing: a million tries at 28 ms are eight hours. What protects it is that it is
// compared only for a browser that shows the secret of an enrolled device, and that tries are few. A password is taken
// from anywhere: 12 characters or more, any characters, nothing demanded of their sorts (NIST SP 800-63B section
// 3.1.1.2), but not one of the few that everybody tries first, nor the person's own name. Both are compared exactly as
// typed and hashed with argon2id (RFC 9106), so that one seen in a copied file is not read off it at a glance.
//
// # Slow-down
//
// Two counts are kept for each try: one of the person, one of the place it comes from (an enrolled device, or a network
// address). Of a person three wrong ones in a row cost nothing; from then on each makes the next wait twice as long, from
// 15 seconds to 15 minutes, and at ten they are locked: for an hour, then two, up to a day, or until a lead unlocks them.
// A person's count on enrolled devices and that from elsewhere are apart, so that a stranger on the network can not lock
// somebody out of the floor. A place may be wrong nine times, and thirty times lock it; one is forgotten each five
// minutes, and a right secret takes back only its own try: otherwise whoever knows one PIN could try those of others.
// A try is counted before it is compared, so that many at once are no way round it.
//
// Somebody who is not known, or has no secret, is answered like anybody else: as slowly, in the same words, and with
// counts of their own.
//
// # Tokens
//
// Every token is 256 random bits, given out once; only its SHA-256 is kept. A sign-in has two ends: idle (30 minutes) and
// absolute (12 hours, a long shift). One made with a PIN counts only on the device it was made on. A new secret, and a
// device withdrawn, end what hung on them. A sign-in that ran out is remembered for a day, so that whoever was typing when
// it did can be asked for their PIN by name and lose nothing. An enrolment code is used once and soon.
//
// # The place underneath
//
// All of it is kept in a Cabinet: named drawers of small values under keys, each with a revision, changed by comparing
// the revision. One file of SQLite is the first (Open); a document database is another: a collection a drawer, or one
// collection keyed by drawer and key. To add one, implement the four methods and run authtest.Run over it; then hand it
// to New. Everything here is point reads and writes except the lists a lead looks at and the sweeping of what is old,
// which go through whole drawers; sweeping keeps every drawer bounded (sweep.go has the limits).
//
// Drawers and keys: people/CODE, tries/WHO, signins/HASH, devices/CODE, codes/HASH, links/ID, accesses/ID/NUMBER.
package auth
