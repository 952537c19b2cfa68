package calendar

import "errors"

// check refuses parts that do not go together. The combinations are RFC 5545
// section 3.3.10's unless marked as ours.
func (r *Rule) check(seen map[string]bool) error {
	// The widest ordinal BYDAY can use: five of a weekday in a month, 53 in a year.
	ordinals, furthest := r.furthestOrdinal()
	inMonth := r.freq == monthly || r.byMonth.len > 0
	switch {
	case r.freq == 0:
		return errors.New("FREQ is missing: want FREQ=DAILY, WEEKLY, MONTHLY or YEARLY")
	case seen["COUNT"] && seen["UNTIL"]:
		return errors.New("COUNT with UNTIL: want only one of them to end the rule")
	case r.byWeekNo.len > 0 && r.freq != yearly:
		return errors.New("BYWEEKNO with FREQ=" + r.freq.String() + ": want FREQ=YEARLY with it")
	case r.byYearDay.len > 0 && r.freq != yearly:
		return errors.New("BYYEARDAY with FREQ=" + r.freq.String() + ": want FREQ=YEARLY with it")
	case r.byMonthDay.len > 0 && r.freq == weekly:
		return errors.New("BYMONTHDAY with FREQ=WEEKLY: want FREQ=MONTHLY, or BYDAY for the day of the week")
	case ordinals && r.freq != monthly && r.freq != yearly:
		return errors.New("BYDAY with an ordinal and FREQ=" + r.freq.String() + ": want FREQ=MONTHLY or YEARLY, or days without ordinals")
	case ordinals && r.byWeekNo.len > 0:
		return errors.New("BYDAY with an ordinal and BYWEEKNO: want days without ordinals")
	case inMonth && furthest > 5: // ours: it could never match
		return errors.New("BYDAY with an ordinal beyond 5 in a month: want 1 to 5 or -5 to -1")
	case r.bySetPos.len > 0 && r.days+r.byMonth.len+r.byWeekNo.len+r.byYearDay.len+r.byMonthDay.len == 0:
		return errors.New("BYSETPOS alone: want another BY part for it to choose from")
	}
	return nil
}

func (r *Rule) furthestOrdinal() (any bool, furthest int) {
	for i := range r.byDay {
		for _, n := range r.byDay[i].list() {
			any = any || n != 0
			furthest = max(furthest, n, -n)
		}
	}
	return any, furthest
}
