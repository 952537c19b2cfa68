// Package lineage gives a trace outward forms: text for a terminal, JSON for other programs, a workbook whose sheets
// can be sorted (the electronic sortable spreadsheet that 21 CFR 1.1455(c) asks for in 24 hours is the model, and FDA's
// guidance on recalls for its columns; neither is claimed to be met), and a drawing (SVG).
//
// It knows words in English and Spanish, and how things look. It must not know entries, a plan or a floor, and works
// nothing out: a trace comes with all its figures.
//
// # One form
//
// All four are written from Form, the trace with its words put in one language; its members, as JSON, are the stable form other
// programs may rely on. Format changes when a member changes its meaning or goes; new ones may come.
//
// # Masses
//
// In JSON a mass is exact decimal kilograms as a text ("22.67961850"), because a JSON number is a double. Elsewhere it is shown
// in the plant's unit, to two decimals; in the workbook as a number.
//
// # Bytes
//
// The same trace, stamp and language give the same bytes.
package lineage
