// Package calendar knows civil dates, recurrence rules over civil dates, wall
// time in a zone, and working days. It must not know tasks, plans, entries, or
// what the time is now: every moment it speaks of is handed to it.
//
// Work in a plant repeats on dates ("every second Tuesday") and is due at a
// time of day ("05:30"), and only when the two are put together does a time
// zone matter. So the package keeps the three apart:
//
//   - a [Rule] says which dates, and is expanded over dates alone, where every
//     day has the same length and nothing is ever missing or doubled;
//   - a [Clock] says the time of day, written beside the rule and never in it;
//   - [At] joins a date and a clock in a zone, and is the only place where a
//     clock change is decided.
//
// # Clock changes
//
// RFC 5545 section 3.3.10 asks that an instance falling on a local time that
// does not exist be ignored. That is right for a meeting and wrong for a duty:
// a cleaning due at 02:30 would silently not be due on the one spring night on
// which the clock jumps from 02:00 to 03:00, and nobody would be told. [At]
// therefore answers the first instant after the gap, and in the autumn overlap
// the first of the two, so that every date of a rule gives exactly one moment.
// Two different clocks in one gap give the same moment; two dates whose times
// fall in one gap of a whole day (Pacific/Apia, 30 December 2011) do so too.
//
// Dates that do not exist (31 April) are another matter and follow the RFC:
// a rule for the 31st has no instance in April. Write BYMONTHDAY=-1 for "the
// last day of every month".
//
// # Range
//
// Dates run from 1 January 0001 to 31 December 9999 in the proleptic Gregorian
// calendar ([FirstDate], [LastDate]); arithmetic stops at these ends instead of
// wrapping round, so that a date can always be written and read again.
package calendar
