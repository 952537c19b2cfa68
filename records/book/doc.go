// Package book is the only door through which anything is written: admit (shape, cross-references) -> append (durable)
// -> apply (state).
//
// It knows the journal's rules: what is well formed and names things the plan has, that one id is one entry, that
// work can not have happened in the future. It must not know SQL, HTTP, or whether the news in an entry is good: a fact
// is never refused because it is bad news.
//
// # How a sign-off becomes durable
//
// Callers hand drafts to Admit and wait. One goroutine takes everything that is waiting, checks it, makes canonical
// bytes, signs the new tree head, and appends all of it as one batch: concurrent sign-offs share one commit. Only when
// the backend has said that the batch is durable is it applied to the state and are the callers told. When another
// process has written meanwhile (a shared database), the book reads what it missed and checks again.
//
// # Reading
//
// View gives an unchanging state with the tree head that belongs to it. It costs little, never blocks writers, and
// may be kept as long as one likes.
package book
