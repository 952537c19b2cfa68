// Package mongo keeps a plant's journal, documents and photos in one MongoDB database, which several servers may use at
// once.
//
// It knows the contract records.Store and the MongoDB wire protocol; it must not know what a fact means, nor any other
// backend.
//
// # The database
//
//	about       {_id: "journal", format}: what the database is; {_id: "tail", at}: a batch near the end
//	journal     one document a batch: {_id, n, token, rows: [{bytes, leaf}], note}
//	parts       rows of batches too long for one document: {_id: "<token>-<i>", rows}
//	fs.files    documents and photos, as GridFS lays them out; _id and filename are the SHA-256
//	fs.chunks   their bytes; _id is "<SHA-256>-<n>"
//	kept, turns no part of the records: values that can be changed and erased (see Kept)
//
// A batch's _id is its first position (in 19 digits) and n its number of rows, so the next batch's _id is _id + n: the
// documents are a chain. Two batches after the same position have the same _id, and a duplicate key is the conflict: no transaction is
// needed. That a batch is not put past the end, or into the middle of another, is seen to by following the chain to its
// end before inserting. Bytes are kept as BSON binary, which no server rewrites.
//
// A batch whose rows do not fit one document keeps them in parts, written first; the one document that names them is what
// commits them. Parts that no batch names were left by a writer that died, and are never read.
//
// # What a commit is worth
//
// Writes have concern "majority" with journaling, reads come from the primary with concern "majority": what was
// acknowledged survives the loss of a minority of the members, and nothing is read that a new primary could take back. On
// a server of one member that is as much as its disk.
//
// # An answer that does not come
//
// Each Append puts a token of its own into its document. When the connection breaks before the answer, the insertion is
// sent again: it succeeds, or a duplicate key is met and the token there says whose batch it is. So one Append writes
// once, however often it was sent, by us or by whatever lies between. Only when the database stays away for longer than
// patience is the error Unavailable and the outcome open; the book, asked again with the same entry ids, finds out.
//
// The driver does not look at which request an answer belongs to, so an answer delivered twice would be taken for that of
// the next request: an acknowledgement for something never written. Connections without TLS are therefore checked
// message by message, and broken off at the first that is not in turn (wire.go).
//
// # What it costs
//
// Reading on from a border of batches, as a server that follows the journal does, and asking for the head look documents up by
// exact _id: the same cost at any size. Reading from the start or from far back uses a range of _id in order, which MongoDB
// serves from its index; FerretDB scans and sorts the collection for it.
package mongo
