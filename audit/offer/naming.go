package offer

import (
	"slices"
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/state"
)

// Manner is how lots of a kind are named, read off the last one.
//
//	tail     the code of what went in, with the ending Drop taken off and Add put on
//	dated    Before, the day in Layout, Middle, a number from 1 up when Number says so, After
//	counted  Before, the next number, at least Width digits, After
//	none     nothing was ever named so: the item's letters and the day
type Manner struct {
	Is      string `json:"is"`
	Drop    string `json:"drop,omitempty"`
	Add     string `json:"add,omitempty"`
	Before  string `json:"before,omitempty"`
	Layout  string `json:"layout,omitempty"`  // of the day: YYYYMMDD, YYMMDD, YYYY-MM-DD, YY-MM-DD
	Started bool   `json:"started,omitempty"` // it is the day on which the process began
	Middle  string `json:"middle,omitempty"`
	Number  bool   `json:"number,omitempty"`
	Next    int    `json:"next,omitempty"` // counted
	Width   int    `json:"width,omitempty"`
	After   string `json:"after,omitempty"`
}

// Named is the manner in which lots of a status are named: some plants mark it in the code.
type Named struct {
	Status records.Status `json:"status"`
	Manner Manner         `json:"manner"`
}

// name notes how a lot was named, once for each status.
func (m *maker) name(list *[]Named, status records.Status, code records.LotCode, r *state.Record, from []records.LotCode) {
	if !slices.ContainsFunc(*list, func(n Named) bool { return n.Status == status }) {
		*list = append(*list, Named{status, m.manner(code, r, from)})
	}
}

// layouts are the ways a day is written in a code, the longest first, with Go's for each.
var layouts = []struct{ name, layout string }{
	{"YYYY-MM-DD", "2006-01-02"}, {"YYYYMMDD", "20060102"}, {"YY-MM-DD", "06-01-02"}, {"YYMMDD", "060102"},
}

// leastStem is how much of a code two lots must share for one to be named after the other; less is chance.
const leastStem = 4

// manner reads how a lot was named: after what went in, by its day, or by counting.
func (m *maker) manner(code records.LotCode, r *state.Record, from []records.LotCode) Manner {
	if out, ok := tail(string(code), from); ok {
		return out
	}
	if out, ok := m.dated(string(code), r); ok {
		return out
	}
	return m.counted(string(code))
}

// tail compares with what went in: the longest stem wins.
func tail(code string, from []records.LotCode) (out Manner, ok bool) {
	best := leastStem - 1
	for _, in := range from {
		n := 0
		for n < len(code) && n < len(in) && code[n] == in[n] {
			n++
		}
		rest := len(in) - n
		if n > best && n > rest && string(in) != code {
			best, out, ok = n, Manner{Is: "tail", Drop: string(in[n:]), Add: code[n:]}, true
		}
	}
	return out, ok
}

func (m *maker) dated(code string, r *state.Record) (Manner, bool) {
	type day struct {
		at      records.Instant
		started bool
	}
	days := []day{{r.Happened, false}}
	if f, ok := r.Fact.(*records.Process); ok && f.Started != 0 {
		days = append(days, day{f.Started, true})
	}
	for _, d := range days {
		when := d.at.Time().In(m.p.Location())
		for _, l := range layouts {
			before, after, found := strings.Cut(code, when.Format(l.layout))
			if !found {
				continue
			}
			out := Manner{Is: "dated", Before: before, Layout: l.name, Started: d.started}
			out.Middle, _, out.After, out.Number = splitNumber(after)
			return out, true
		}
	}
	return Manner{}, false
}

// counted looks for the highest number among the lots named alike.
func (m *maker) counted(code string) Manner {
	before, digits, after, ok := splitNumber(code)
	if !ok {
		return Manner{Is: "none"}
	}
	highest, width := 0, 0
	for _, l := range m.f.Lots {
		if !strings.HasPrefix(string(l.Code), before) || !strings.HasSuffix(string(l.Code), after) {
			continue // most, and taking a number out takes longer
		}
		b, n, a, is := splitNumber(string(l.Code))
		if !is || b != before || a != after {
			continue
		}
		if v, err := strconv.Atoi(n); err == nil && v >= highest {
			highest, width = v, len(n)
		}
	}
	if width == 0 {
		width = len(digits)
	}
	return Manner{Is: "counted", Before: before, Next: highest + 1, Width: width, After: after}
}

// splitNumber takes the last run of digits out of a text; of at most 9, so that a number can be made of it.
func splitNumber(text string) (before, digits, after string, ok bool) {
	end := strings.LastIndexAny(text, "0123456789") + 1
	start := end
	for start > 0 && text[start-1] >= '0' && text[start-1] <= '9' && end-start < 9 {
		start--
	}
	if end == 0 {
		return text, "", "", false
	}
	return text[:start], text[start:end], text[end:], true
}
