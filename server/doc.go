// Package server answers browsers: requests in, pages and JSON out.
//
// Every route is a row of the table in routes.go: method, path, the least role that may use it, who answers, and what it is
// for. A handler takes a request of our own and gives back a reply or an error; it never sees the web framework. Only
// adapter.go does: it copies everything out of the framework's context before the handler runs, because that context
// is used again for the next request as soon as the handler returns, and what a handler keeps (an entry on its way
// into the journal) must not change under it. TestRequestsSurvive holds it to that.
//
// Kinds of errors become statuses in one place, errors.go. A page is drawn into memory whole before its first byte is
// sent, so that a fault is a page of its own and never half of one.
//
// It does no arithmetic of judgement and no SQL: what is due and what passes is asked of audit, what is written is
// handed to records/book, who is asking is asked of server/auth and the plan.
//
// # The interface for programs
//
// What the pages do can be done as JSON (apiroutes.go): parity_test.go says for every page by which route. Entries come in by
// one door, enter in write.go, whether a form, the crew's page or a program sends them; may.go is the one table of who may write what. A
// route says in its row what it takes and gives, as values of Go types; package openapi makes the description at /api/openapi.json of
// that, and every answer of every test is held to it by an outside library (apidoc_test.go). Errors are problem details with a stable
// code, in the language of whoever asks; the book's words are said in it by pages.OfBook.
//
// # What bounds a request
//
// limits.go and rates.go: bytes by route, decided when only the headers are there; no compressed bodies; fields, nesting, pixels; so
// many requests at once and a second by address, person and device. FuzzApp throws bytes at all of it.
//
// # Where it listens
//
// Plain HTTP is answered on the machine's own loopback addresses only, and only for their names, so that neither the
// network nor a page somebody visits (by way of a name that points here) reaches it. With a certificate (server/trust) it answers
// the plant's network by TLS, for the names and addresses of that certificate. Beside it, an unencrypted port may hand out the
// certificate of the plant's authority and the page that explains it, and nothing else: doorRoutes is all of it.
package server
