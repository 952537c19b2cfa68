package records

import (
	"slices"
	"strconv"
	"time"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"
)

// Sign-offs are most of what a plant writes, and many arrive in one second when a shift ends. The ways in this file are short cuts for
// them and nothing else: what they do not take goes the way of every other kind, and tests hold the one to the other.

// canon writes the members of groups in the order in which it is told them, which has to be that of RFC 8785: by name.
type canon struct {
	b   []byte
	bad bool // something was no text
}

func (c *canon) name(name string) {
	if c.b[len(c.b)-1] != '{' {
		c.b = append(c.b, ',')
	}
	c.b = append(append(append(c.b, '"'), name...), '"', ':')
}

func (c *canon) quote(text string) {
	var err error
	if c.b, err = jsontext.AppendQuote(c.b, text); err != nil {
		c.bad = true
	}
}

// always writes a member, text only when there is some; so does instant.
func (c *canon) always(name, text string) { c.name(name); c.quote(text) }

func (c *canon) text(name, text string) {
	if text != "" {
		c.always(name, text)
	}
}

func (c *canon) instant(name string, at Instant) {
	if at != 0 {
		c.name(name)
		c.b = append(c.b, '"')
		c.b, _ = at.AppendText(c.b) // never fails
		c.b = append(c.b, '"')
	}
}

func (c *canon) quantity(name string, q *Quantity) {
	if q == nil {
		return
	}
	c.name(name)
	c.b = append(c.b, '{')
	c.text("unit", q.Unit)
	c.name("value")
	c.b = append(c.b, '"')
	c.b, _ = q.Value.AppendText(c.b) // never fails
	c.b = append(c.b, '"', '}')
}

// list writes a member unless there is no list.
func list[T any](c *canon, name string, all []T, one func(*T)) {
	if all == nil {
		return
	}
	c.name(name)
	c.b = append(c.b, '[')
	for i := range all {
		if i > 0 {
			c.b = append(c.b, ',')
		}
		one(&all[i])
	}
	c.b = append(c.b, ']')
}

// canonicalSignoff is the canonical bytes of an entry that is a sign-off; ok is false when this is not the way to write it.
func canonicalSignoff(e *Entry) (b []byte, ok bool) {
	f, is := e.Fact.(*Signoff)
	if !is || f == nil {
		return nil, false
	}
	c := &canon{b: append(make([]byte, 0, 512), '{')}
	c.text("by", string(e.By))
	c.text("device", string(e.Device))
	c.instant("deviceTime", e.DeviceTime)
	c.name("fact")
	c.b = append(c.b, '{')
	c.signoff(f)
	c.b = append(c.b, '}')
	c.instant("happened", e.Happened)
	if !e.ID.IsZero() {
		c.name("id")
		c.b = append(c.b, '"')
		c.b, _ = e.ID.AppendText(c.b) // never fails
		c.b = append(c.b, '"')
	}
	c.text("kind", string(e.Kind))
	c.text("meaning", string(e.Meaning))
	if e.Paper != nil {
		c.name("paper")
		c.b = append(c.b, '{')
		c.text("sheet", e.Paper.Sheet)
		c.always("whose", string(e.Paper.Whose))
		c.b = append(c.b, '}')
	}
	c.instant("recorded", e.Recorded)
	return append(c.b, '}'), !c.bad
}

func (c *canon) signoff(f *Signoff) {
	c.text("action", f.Action)
	list(c, "agents", f.Agents, func(a *AgentUse) {
		c.b = append(c.b, '{')
		c.always("agent", string(a.Agent))
		c.text("lot", a.Lot)
		c.quantity("strength", a.Strength)
		c.b = append(c.b, '}')
	})
	list(c, "answers", f.Answers, func(r *Response) {
		c.b = append(c.b, '{')
		c.always("ask", string(r.Ask))
		c.text("choice", r.Choice)
		c.text("photo", r.Photo)
		c.text("text", r.Text)
		c.quantity("value", r.Value)
		if r.Yes != nil {
			c.name("yes")
			c.b = strconv.AppendBool(c.b, *r.Yes)
		}
		c.b = append(c.b, '}')
	})
	list(c, "lots", f.Lots, func(l *LotCode) { c.quote(string(*l)) })
	c.text("note", f.Note)
	c.always("outcome", string(f.Outcome))
	c.text("second", string(f.Second))
	c.instant("started", f.Started)
	c.always("station", string(f.Station))
	c.always("task", string(f.Task))
	list(c, "trainees", f.Trainees, func(p *PersonCode) { c.quote(string(*p)) })
	c.instant("window", f.Window)
}

// plainlySound says that an entry is a sign-off with which nothing is wrong: checkFields has no fault to find, and what Format writes
// of it can be read again. False says nothing: lengths are counted in bytes here, and what is seldom is not looked at.
func plainlySound(e *Entry) bool {
	f, is := e.Fact.(*Signoff)
	return is && f != nil && e.Kind == KindSignoff && e.Paper == nil && (e.Meaning == Performed || e.Meaning == Verified) &&
		e.ID[6]>>4 == 7 && e.ID[8]>>6 == 2 && // RFC 9562 sections 4.1 and 4.2
		e.Happened != 0 && inRange(e.Happened) && inRange(e.Recorded) && inRange(e.DeviceTime) && inRange(f.Window) && inRange(f.Started) &&
		isCode(e.By) && (e.Device == "" || isCode(e.Device)) && isCode(f.Task) && isCode(f.Station) && (f.Second == "" || isCode(f.Second)) &&
		(f.Outcome == Passed || f.Outcome == Failed) && isText(f.Action, 2000) && isText(f.Note, 2000) &&
		few(f.Answers, 60, soundAnswer) && few(f.Agents, 20, soundUse) &&
		few(f.Lots, 50, func(l LotCode) bool { return l != "" && lotFault(string(l)) == "" }) && few(f.Trainees, 50, isCode)
}

// The instants that ParseInstant takes.
var (
	firstInstant = InstantOf(time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC))
	lastInstant  = InstantOf(time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)) - 1
)

func inRange(at Instant) bool { return firstInstant <= at && at <= lastInstant }

func isCode[C ~string](code C) bool { return code != "" && codeFault(string(code)) == "" }

func isText(text string, most int) bool { return len(text) <= most && utf8.ValidString(text) }

// few says that a list is not too long, and everything on it in order.
func few[T any](all []T, most int, ok func(T) bool) bool {
	return len(all) <= most && !slices.ContainsFunc(all, func(x T) bool { return !ok(x) })
}

func soundAnswer(r Response) bool {
	return isCode(r.Ask) && r.given() == 1 && soundQuantity(r.Value) && isText(r.Choice, 100) && isText(r.Text, 2000) && (r.Photo == "" || checkSHA256(r.Photo) == nil)
}

func soundUse(a AgentUse) bool {
	return isCode(a.Agent) && isText(a.Lot, 60) && soundQuantity(a.Strength)
}

func soundQuantity(q *Quantity) bool { return q == nil || isText(q.Unit, 40) }
