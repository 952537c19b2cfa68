// Package pages draws what people see. Each page is one plain struct, beside its template of the same name in
// templates/; Render fills the template with the struct. All lists every page.
//
// A page shows only what it was handed: times are already in the plant's zone, sentences already in the person's
// language, links already made. The package must not import state, audit or book, and knows no routes but those its
// navigation names.
//
// # Look
//
// Paper, ink, ruled lines, tabular figures, fonts of the system. A state is told by a word and by a shape of our own
// (templates/marks.html), never by tone alone. Main buttons are 64 px high at least and 12 px apart: a glove's size, not a
// finger's. No hover, no swipe, no long press. Nothing is inline that a content security policy would have to allow;
// every page works without its script.
package pages
