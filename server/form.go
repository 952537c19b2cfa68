package server

import (
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/plan"
	"grainward/server/pages"
)

// signed is what came from the form of a sign-off. Faults are what can not be read; whether the answers are good news is
// asked of audit.
type signed struct {
	draft   records.EntryID
	as      records.PersonCode
	whose   records.PersonCode // who did it, when it is typed in from paper
	fact    *records.Signoff
	when    records.Instant // 0 when it was left empty
	none    bool            // no action was taken, and that was said
	without bool            // sign without what is missing
	reason  string          // of a correction
	faults  []pages.Message
	errs    map[records.AskCode]string // of single answers
}

const textMost = 2000 // characters, as the shape of the facts has it

// decodeSign reads a form. Every value is copied already (adapter.go), so the fact may keep what it is given.
func decodeSign(lang string, p *plan.Plan, t *plan.Task, station records.StationCode, v url.Values) signed {
	say := func(key string, args ...any) string { return pages.Text(lang, key, args...) }
	f := signed{fact: &records.Signoff{Task: t.Code, Station: station}, errs: map[records.AskCode]string{}}
	fault := func(field, text string) { f.faults = append(f.faults, pages.Message{Field: field, Text: text}) }
	text := func(name, field string) string {
		s := strings.TrimSpace(v.Get(name))
		if utf8.RuneCountInString(s) > textMost {
			fault(field, say("too-long", textMost))
		}
		return s
	}
	var err error
	f.draft = draftOf(v)
	f.as = records.PersonCode(v.Get("as"))
	if w := v.Get("window"); w != "" {
		if f.fact.Window, err = records.ParseInstant(w); err != nil {
			f.fact.Window = 0 // it then goes to the window it fits
		}
	}
	for i := range t.Asks {
		a := &t.Asks[i]
		res, given, wrong := answerOf(say, a, v)
		if wrong != "" {
			f.errs[a.Code] = wrong
			fault(askName(a), a.Title.In(lang)+": "+wrong)
		}
		if given {
			f.fact.Answers = append(f.fact.Answers, res)
		}
	}
	for _, code := range v["agent"] {
		if slices.Contains(t.Agents, records.AgentCode(code)) {
			f.fact.Agents = append(f.fact.Agents, records.AgentUse{Agent: records.AgentCode(code), Lot: strings.TrimSpace(v.Get("lot-" + code))})
		}
	}
	f.fact.Second = records.PersonCode(v.Get("second"))
	for _, code := range v["trainee"] {
		f.fact.Trainees = append(f.fact.Trainees, records.PersonCode(code))
	}
	switch o := records.Outcome(v.Get("outcome")); o {
	case records.Passed, records.Failed:
		f.fact.Outcome = o
	default:
		fault("outcome", say("outcome-missing"))
	}
	f.fact.Action, f.fact.Note, f.reason = text("action", "action"), text("note", "note"), text("reason", "reason")
	f.none, f.without = v.Get("none-taken") == "yes", v.Get("without") == "yes"
	if w := strings.TrimSpace(v.Get("when")); w != "" {
		if f.when, err = parseWhen(p, w); err != nil {
			fault("when", say("when-unreadable"))
		}
	}
	return f
}

// answerOf reads the answer to one ask. wrong says what can not be read; an empty answer is none.
func answerOf(say func(string, ...any) string, a *plan.Ask, v url.Values) (r records.Response, given bool, wrong string) {
	r.Ask = a.Code
	s := strings.TrimSpace(v.Get(askName(a)))
	if a.Type == "photo" {
		s = v.Get("kept." + askName(a))
	}
	if s == "" {
		return r, false, ""
	}
	switch a.Type {
	case "number":
		d, err := records.ParseDecimal(pointed(s))
		if err != nil {
			return r, false, say("not-a-number", s)
		}
		r.Value = &records.Quantity{Value: d, Unit: a.Unit}
	case "yesno":
		if s != "yes" && s != "no" {
			return r, false, say("choice-wrong", s)
		}
		yes := s == "yes"
		r.Yes = &yes
	case "choice":
		if !slices.Contains(a.Choices, s) {
			return r, false, say("choice-wrong", s)
		}
		r.Choice = s
	case "text":
		if utf8.RuneCountInString(s) > textMost {
			return r, false, say("too-long", textMost)
		}
		r.Text = s
	case "photo":
		r.Photo = s
	}
	return r, true, ""
}

// pointed turns the decimal comma of a Spanish keyboard into a point, and gives a minus its plain form. "1,234" stays as it is and is
// refused: it can be read two ways.
func pointed(s string) string {
	s = strings.Replace(s, "−", "-", 1)
	if strings.Count(s, ",") != 1 || strings.Contains(s, ".") || len(s)-strings.Index(s, ",") == 4 {
		return s
	}
	return strings.Replace(s, ",", ".", 1)
}

// parseWhen reads a wall time of the plant, as an input of type datetime-local sends it.
func parseWhen(p *plan.Plan, text string) (records.Instant, error) {
	day, clock, _ := strings.Cut(text, "T")
	d, err := calendar.ParseDate(day)
	if err != nil {
		return 0, err
	}
	c, err := calendar.ParseClock(clock)
	if err != nil {
		return 0, err
	}
	return p.At(d, plan.DayTime{Clock: c}), nil
}

func askName(a *plan.Ask) string { return "a-" + string(a.Code) }

// decodeReason reads a form that holds a reason and nothing else.
func decodeReason(r *request) (f signed) {
	f.draft, f.as = draftOf(r.form), records.PersonCode(r.form.Get("as"))
	f.reason = strings.TrimSpace(r.form.Get("reason"))
	switch {
	case f.as != r.who.Code:
		f.faults = append(f.faults, pages.Message{Text: r.say("not-you", personName(r.plan, f.as), r.who.Name)})
		r.form.Set("as", string(r.who.Code))
	case f.reason == "":
		f.faults = append(f.faults, pages.Message{Field: "reason", Text: r.say("reason-missing")})
	case utf8.RuneCountInString(f.reason) > textMost:
		f.faults = append(f.faults, pages.Message{Field: "reason", Text: r.say("too-long", textMost)})
	}
	return f
}

// draftOf is the entry's id, made with the form so that a second tap or the back button writes nothing twice. One that can
// not be read (the form was cut or tampered with) is replaced.
func draftOf(v url.Values) records.EntryID {
	id, err := records.ParseEntryID(v.Get("id"))
	if err != nil {
		return records.NewEntryID()
	}
	return id
}
