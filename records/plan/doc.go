// Package plan is the plant's written plan: the part of its organic system plan and food-safety plan that a program
// can check. It knows how plan.yaml is read, cross-checked, compared and described; it must not know entries, the
// current time, or what is overdue.
//
// A plan is a value. It is adopted by a journal entry that carries its whole text, and is in force from then until
// the next one; work is judged by the plan in force when it was due.
package plan
