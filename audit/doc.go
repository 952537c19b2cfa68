// Package audit says what the records show: which work was done, late, failed or missed, which sign-offs fall short of
// the plan, what was not reviewed in time, which documents had lapsed, and how each clause stands.
//
// Everything here is a pure function of a state and a moment, and returns the same Finding. The moment is an
// argument: this package never asks a clock. It knows nothing of how findings look, of storage, or of HTTP. A finding
// never says that a plant is or is not in order with the law: it says what the records show; the certifier and the
// authority having jurisdiction decide.
//
// # Reading order
//
// rules.go lists every rule with its sentence. window.go expands a duty's windows, match.go answers them with
// sign-offs, check.go holds a sign-off against its task, chapters.go says how much of a duty is judged again. review.go, documents.go, entries.go, retention.go are one
// judgement each. Goods are judged from the floor of records/lots: segregation.go with timeline.go and broken.go, agents.go, balance.go and reconcile.go, custody.go
// with particulars.go, assumptions.go and byproduct.go, stock.go with holds, best-by, results, samples, net weights and
// compositions; goodsaudit.go and goodschange.go join them and judge again what changed. auditor.go puts everything together and remembers what has not changed.
//
// # Exact meanings
//
// A duty is one task at one station. Its windows have three instants: opens, due, lapses. The plan in force when a
// window was due decides whether there is such a window; the plan in force when a sign-off happened decides what it
// had to say. A sign-off passes when whoever signed it said so, every answer the plan asks for is there in the plan's
// unit, and every answer lies within its limits.
//
// Sign-offs are taken in the order in which they happened (ties: journal order). Each goes to the window it names if
// it fits there (opens <= happened <= lapses, and no passing sign-off is there yet), else to the earliest window it
// fits. A failed sign-off leaves its window waiting, so that the repeat, when it passes, puts the same window right.
// One that fits nowhere is unplanned.
//
// At a moment T a window is done (passed by due), late (passed after), put right (failed, then passed), failed, missed
// (nothing, and T is past lapses), excused, or still waiting: coming, open, or overdue once T is past due.
package audit
