// Command grainward keeps a grain plant's food-safety and organic records: see the README for what it is for.
//
// This package knows flags, files, progress and exit codes; each command is one file. It must not know any rule of the
// trade, nor compute anything a package below it could be asked for.
//
// # A plant's directory
//
// Every command that reads or writes a plant takes --dir DIR (or the environment variable GRAINWARD_DIR):
//
//	journal.db   the journal, documents and photos; any SQLite tool reads it
//	plan.yaml    the plan being edited; what is in force is what was adopted
//	plant.key    the private key that signs the journal: readable by its owner only, in no backup, never sent anywhere
//	plant.vkey   the public key: hand it to everybody who is to check the journal
//	people.db    PINs and sign-ins; can be erased without touching a record
//	authority.*  the plant's certificate authority, made when the plant's network is first answered; its key is as plant.key
//
// With --mongo URI (or GRAINWARD_MONGO) the journal, documents, photos and PINs are in a MongoDB database, and journal.db
// and people.db are not used; several processes may then write at once. See package records/mongo.
//
// The key's name is the journal's origin in its checkpoints, such as quillmere-floor-maltings.grainward.invalid/1f3a9c0b:
// the plant's name, a domain that can never be registered (RFC 2606), and eight random digits. It is a name and not an
// address; nothing is ever looked up under it.
//
// # Times
//
// Times given by people (--at, --happened, ...) are read on the plant's clock unless they carry an offset. A date alone is
// the start of that day where a stretch begins, and its last instant where one ends or a moment is asked about.
//
// # Exit codes
//
//	0  done
//	1  a fault of the program
//	2  usage, or input that is not as it should be
//	3  verify found something
//	4  busy: another process holds the plant
//	5  not there
//	6  storage: read-only, full, damaged, too new, or not answering
//
// # JSON
//
// findings, verify, trace, lots, station and balance take --json for programs. Their members are never renamed or removed
// while the number in "format" stays the same; new ones may be added. What they mean is in the help of each (findings
// --help, ...; for trace also in exports/lineage). Masses are exact decimal kilograms as texts.
package main
