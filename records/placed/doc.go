// Package placed reads a YAML file that a person wrote, as a tree of which every value has its place, and tells everything found wrong
// in it at once: in the order of the lines, each line quoted with a mark under the spot.
//
// The YAML library's own decoder stops at the first fault and reads decimals through float64; this package hands on the library's tree and
// leaves values as they are written (0.40 stays "0.40").
//
// It knows YAML's shapes, places, and how large a file its reader is ready for. It must not know what any file means: which keys there are,
// what a value may be, and what is said of a wrong one is its caller's (records/plan reads by struct tags, records/company by hand).
//
// A Spot counts lines and columns from 1, columns in characters. A line's quoted form is
//
//	4:9 |   name: Alderbend
//	    |         ^^^^^^^^^
//
// A line of more than 100 characters is shown from a little before the spot.
package placed
