// Package timeline draws a station over a stretch of time: lots as bars, clean-outs and purges as signs beside them, and the
// stretches in which the records show no evidence between unlike lots.
//
// It knows how things look. It must not know entries, a plan, a floor or a judgement: everything it draws comes with its words, and it
// works out nothing but where a thing stands on the paper.
//
// The drawing is a fragment of SVG for a page: it has no style of its own, only classes (a page that allows no inline style can
// show it, light or dark), and says everything by shape and text too. What does not fit (see the constants) is left out, and the
// caller is told how much: a table beside the drawing has it all.
//
// The same input gives the same bytes.
package timeline
