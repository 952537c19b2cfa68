// Package journey gives a trace through several plants its outward forms: text for a terminal, and a form of plain values that is JSON for
// other programs and what the company's page shows.
//
// It knows words in English and Spanish. It works nothing out: what is joined, and by which rule, comes with the trace (audit/across). Of a plant
// that was not looked at it says no more than the other plant's own records hold.
//
// The members of Form, as JSON, are stable: Format changes when one changes its meaning or goes. Masses are exact decimal kilograms as
// texts, times UTC; in sentences, masses are in the unit and times on the clock of the plant that wrote them.
package journey
