// Package company is what a company says of its plants: which there are and where their records lie, under which host each is asked
// for, which partners of one are another of them, and who works at more than one.
//
// It is read from company.yaml as a plan is read from plan.yaml: everything found wrong is said at once, with line and column. What
// only the plants' own plans can tell (whether a partner or a person of that code is known there) is said beside it, as notes: the plan in
// force may change while the file stays, and a plant must not stop being served because a partner was renamed.
//
// It knows codes, and plans where it is handed them. It must not know entries, a store, HTTP, or whether a plant can be opened.
package company
