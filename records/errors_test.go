package records

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
)

func TestErrorWords(t *testing.T) {
	e := &Error{Kind: Invalid, What: "3 lines can not be taken in", Do: "Put them right and import the file again.", Err: io.ErrUnexpectedEOF,
		Fields: []FieldError{{Line: 4, Field: "fact.task", Value: "scrub", Want: "a task of the plan"}, {Field: "by", Want: "it must be given"}, {Line: 9, Want: "a whole line"}}}
	const want = "3 lines can not be taken in\n" +
		"  line 4: fact.task is \"scrub\": a task of the plan\n" +
		"  by: it must be given\n" +
		"  line 9: a whole line: unexpected EOF\n" +
		"Put them right and import the file again."
	if e.Error() != want {
		t.Errorf("told:\n%s\nwant:\n%s", e, want)
	}
	if !errors.Is(e, io.ErrUnexpectedEOF) {
		t.Error("the cause is lost")
	}
	if got := (FieldError{Want: "something"}).String(); got != "something" {
		t.Errorf("a fault without a field is told as %q", got)
	}
	if got := (FieldError{Field: "note", Value: strings.Repeat("ö", 100)}).String(); len(got) > 80 {
		t.Errorf("a long value is told whole: %s", got)
	}
}

func TestKindOf(t *testing.T) {
	conflict := &Error{Kind: Conflict, What: "taken"}
	for _, c := range []struct {
		err  error
		want ErrorKind
	}{
		{conflict, Conflict},
		{fmt.Errorf("appending: %w", conflict), Conflict},
		{errors.Join(io.EOF, fmt.Errorf("deep: %w", conflict)), Conflict},
		{&Error{Kind: Busy, Err: conflict}, Busy},
		{io.EOF, Internal},
		{nil, Internal},
	} {
		if got := KindOf(c.err); got != c.want {
			t.Errorf("%v has kind %d, want %d", c.err, got, c.want)
		}
	}
	if !IsConflict(fmt.Errorf("x: %w", conflict)) || IsConflict(nil) || IsConflict(io.EOF) {
		t.Error("IsConflict")
	}
}

// What a person is told of a line that can not be read: where, what stands there, and what should.
func TestPlainJSON(t *testing.T) {
	draft := func(fact string) string { return `{"kind":"signoff","fact":` + fact + `}` }
	correct := func(with string) string { return `{"kind":"correct","fact":{"reason":"x","with":` + with + `}}` }
	for _, c := range []struct{ line, want string }{
		{draft(`{"task":5}`), "fact.task is \"5\": it is a number and must be text in quotes"},
		{draft(`{"note":5}`), "fact.note is \"5\": it is a number and must be text in quotes"},
		{`{"happened":1772955000}`, "happened is \"1772955000\": it is a number and must be text in quotes"},
		{draft(`{"answers":[{"ask":"a"},{"ask":"b","value":{"value":3.5}}]}`), "fact.answers[1].value.value is \"3.5\": it is a number and must be text in quotes"},
		{draft(`{"answers":[{"ask":"b","value":{"value":"3,5"}}]}`), "fact.answers[0].value.value: \"3,5\" is not a decimal number: ',' does not belong there (write it like 12, 3.5 or -0.25)"},
		{draft(`{"answers":[{"ask":"b","value":{"unit":"mg/L"}}]}`), "fact.answers[0].value.value: it must be given"},
		{draft(`{"answers":[{"ask":"b","value":"3.5"}]}`), "fact.answers[0].value is \"3.5\": it is text and must be a group {…}"},
		{draft(`{"answers":[{"ask":"b","yes":"true"}]}`), "fact.answers[0].yes is \"true\": it is text and must be true or false, without quotes"},
		{draft(`{"answers":{"ask":"b"}}`), "fact.answers: it is a group {…} and must be a list […]"},
		{draft(`{"answers":[{"ask":"b","value":{"value":"1","units":"C"}}]}`), "fact.answers[0].value.units: there is no such member; check its spelling"},
		{draft(`{"answrs":[]}`), "fact.answrs: there is no such member; check its spelling"},
		{draft(`[]`), "fact: it is a list […] and must be a group {…}"},
		{draft(`true`), "fact is \"true\": it is a yes or no and must be a group {…}"},
		{draft(`null`), "fact: what happened, as kind signoff says it"},
		{draft(`{"started":"8 March"}`), "fact.started: \"8 March\" is not a time like 2026-03-08T07:30:00Z or 2026-03-08T02:30:00-05:00"},
		{draft(`{"task":"a","task":"b"}`), "fact.task: it is there twice; keep one"},
		{correct(`{"kind":"signoff","fact":{"task":5}}`), "fact.with.fact.task is \"5\": it is a number and must be text in quotes"},
		{correct(`{"kind":"signoff","fact":{"answers":[{"value":{}}]}}`), "fact.with.fact.answers[0].value.value: it must be given"},
		{correct(`{"kind":"signed","fact":{}}`), "fact.with.kind is \"signed\": it must be one of plan, signoff"},
		{correct(`{"kind":"signoff"}`), "fact.with.fact: what happened, as kind signoff says it"},
		{correct(`{"kind":"signoff","id":"` + idA + `","fact":{}}`), "fact.with: a replacement holds only happened, by, kind and fact"},
		{correct(`{"kind":"review","fact":{"to":5}}`), "fact.with.fact.from: the position of the first entry verified"},
		{`{"kind":"review","fact":{}}`, "fact.from: the position of the first entry verified\n  fact.to: the position of the last entry verified"},
		{`{"kind":"review","fact":{"from":1.5,"to":2}}`, "fact.from is \"1.5\": it must be a whole number, without quotes"},
		{`{"kind":"review","fact":{"from":0,"to":99999999999999999999}}`, "fact.to is \"99999999999999999999\": it must be a whole number, without quotes"},
		{`{"kind":"review","fact":{"from":"0","to":"1"}}`, "fact.from is \"0\": it is text and must be a whole number, without quotes"},
		{`{"kind":"document","fact":{"from":"2026-02-30"}}`, "fact.from: "},
		{`{"kind":"signed"}`, "kind is \"signed\": it must be one of plan, signoff"},
		{`{"knd":"signoff"}`, "knd: there is no such member; check its spelling"},
		{`[]`, "the entry is not a group {…} of members"},
		{`5`, "the entry is not a group {…} of members"},
		{`null`, "kind: it must be one of plan, signoff"},
		{``, "there is no entry: the text is empty"},
		{draft(`{"task":"a`), "the entry stops in the middle, after 36 bytes"},
		{draft(`{}`) + ` {}`, "the entry is not JSON: after 29 bytes, "},
		{draft(`{"task":"a" "note":"b"}`), "the entry is not JSON: after 37 bytes, "},
		{draft("{\"task\":\"a\",\"note\":\"\xe9\"}"), "invalid UTF-8, at fact.note"},
		{`kind: signoff`, "the entry is not JSON: after 0 bytes, "},
		{strings.Repeat("[", 1<<20), "the entry is not"},
		{draft(strings.Repeat("[", 1<<20)), "the entry is not JSON: after 10024 bytes, exceeded max depth"},
		{draft(`{"note":` + strings.Repeat(`{"note":`, 1<<20)), "the entry is not JSON: "},
		{`{"kind":"signoff","fact":{"` + strings.Repeat("x", 1<<16) + `":1}}`, "there is no such member"},
	} {
		shown := c.line[:min(len(c.line), 120)]
		_, err := ParseDraft([]byte(c.line))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s\n told %.500v\n want %s", shown, err, c.want)
			continue
		}
		if KindOf(err) != Invalid {
			t.Errorf("%s: kind %d, want Invalid", shown, KindOf(err))
		}
		if len(err.Error()) > 400 {
			t.Errorf("%s: told in %d bytes", shown, len(err.Error()))
		}
	}
}
