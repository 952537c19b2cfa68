// Package trace walks the lots of a floor both ways: what went into a lot and what was made of it, with masses, who has it
// now, what touched it, and how much of it the records account for; and the figures of a recall drill.
//
// It knows the floor (records/lots), the plan and the entries. It must not know rules and findings (package audit), nor
// how a trace looks (exports/lineage). It asks no clock: a trace is of the floor's moment.
//
// # Reading order
//
// graph.go is the arrays and the walk; subject.go what a trace can start from; trace.go puts a trace together; share.go is
// the expected share; account.go the mass accounted for; touch.go, papers.go and goods.go are what is said of each lot;
// drill.go the drill.
//
// # Exact meanings
//
// Lots are joined by steps: a process or a purge, with the lots that went in and those that came out. B is forward of A
// when it can be reached from A by going from a lot to a step it went into to a lot that step made; B is back of A exactly
// when A is forward of B. A lot is forward and back of itself, at distance 0. A lot that a mixed station (a silo) still had
// as a resident, with nothing left by computation, is joined with a mass of 0: a trace does not lose it.
//
// # Shares
//
// The share of a lot downstream is how much of all that ever entered it is expected to be subject goods, taking each lot
// and each step as well mixed by mass, in the order in which things happened. The share of a lot upstream is how much of
// all that ever entered it is expected to have gone into the subject. A share that rests on what a mixed station is computed to have
// given out is marked as an estimate, as is every mass that does.
//
// # Mass accounted for
//
// Looked at are the subject and everything forward of it. What entered that circle from outside (received, made by steps that
// took nothing from it, or joined to a step that did) is the basis. Accounted for is what of it stands at our stations, was
// handed over, is by-product, was retained as samples, was destroyed, and was lost in processes as far as the plan's band for
// that process goes. On dry matter when every moisture needed was written down, else as is; both are exact micrograms
// until the ratio.
package trace
