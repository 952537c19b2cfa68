// Package exports holds what every outward form has in common: the stamp that says which journal it was made from, how
// far that journal then went, and who made it when.
//
// It knows the names of a plant and a tree head. It must not know HTTP, storage, how a judgement is made, or any one
// outward form: each form is a package below this one.
package exports
