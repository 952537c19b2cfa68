// Package binder writes the audit binder: one workbook (xlsx) with everything the records of a period show, made to be
// read, filtered, recounted and printed by somebody who has never seen this program, and checked against the journal.
//
// It knows the sheets, their words in English and Spanish, and the workbook's format with its limits. It must not know
// HTTP, where a journal is stored, or how a judgement is made: results and findings come from package audit, traces from
// audit/trace. The arithmetic is counting rows and adding up masses, and each is also a formula that the reader's program
// works out again.
//
// # Which rows
//
// A window belongs to the period when it was due in it, or work on it was done in it; windows not yet open at the
// moment are left out. A window that nobody answered has a row without a position. Work that answers no window belongs
// to the period in which it was done. A finding belongs to the period it dates from; older ones are shown when they are
// still open and about the plant as a whole (a document that is missing, a review not done) rather than one piece of work.
//
// An entry about goods belongs to the period it happened in, a lot when it began in the period, an entry of it moved or named
// the lot, or some of it stood here when the period began. The inventory and the organic balance are from the period's first instant to its
// last; where lots are, and what is judged of them, is as of the moment. A sheet about goods that would have no rows is left
// out, and the cover names it.
//
// # Masses
//
// A mass is a number in the plant's unit, of which two decimals are shown; where somebody wrote it, the exact value stands beside it as it was
// written. Dry matter, the sums and losses of the balances, and their residuals are formulas; expected shares of a trace are numbers.
//
// # Reading order
//
// input.go says what is asked; write.go lists the sheets; select.go picks the rows; family.go is the sheet of one family of
// tasks and the model for all others; goods.go lists the sheets about goods; table.go turns rows into cells (limits, splitting, text that stays text), sheet.go
// and rows.go cells into the format; pack.go makes equal bytes of equal content; zip.go is the package for a stranger; verify.go checks a binder against a journal.
//
// # Bytes
//
// The same journal position, moment, period, language, program version and maker give the same bytes: rows come in a
// stated order, the archive's parts in a fixed one, and all dates in it are the moment.
package binder
