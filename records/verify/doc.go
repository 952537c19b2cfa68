// Package verify recomputes a journal from its stored bytes and says where it is not what was written and signed.
//
// It trusts nothing it did not compute itself. It shares the formats with the rest (package records reads an entry,
// package ledger reads a checkpoint) and none of the writer's code: it must not import records/book or records/state,
// and it keeps its own Merkle tree. It only reads. It does not judge what entries say.
//
// # What is held against what
//
//   - Positions run from 0 without a gap, up to the head the store reports.
//   - Each row's bytes hash to the leaf hash kept beside them, and are an entry in its one canonical form.
//   - No two entries have one id.
//   - Each stored checkpoint, and each earlier one the caller kept elsewhere, is signed by the plant's key for this
//     journal's origin, and has the root that the rows come to at its size.
//   - The largest of them covers every row: rows beyond it are unsigned, rows short of it are gone.
//   - Each document and photo has the hash it is kept under, and each one that an entry names is there.
//
// # What a fault can say
//
// A row keeps both its bytes and their hash, so when one of the two was damaged the next checkpoint usually tells
// which: the root agrees with one of them. When rows were rewritten together with their hashes, the first checkpoint that no
// longer agrees bounds the place: it lies between the size of the last one that agreed and its own.
//
// # What it can not see
//
// Whoever holds the private key and the file can rewrite both. Only a checkpoint kept elsewhere (every binder carries
// one) shows that: hand it in as Extra. And rows cut off the end together with their checkpoints leave a journal
// that is whole and shorter; an Extra checkpoint shows that too.
package verify
