package calendar

import (
	"bufio"
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
)

// The oracles are two npm packages: rrule-temporal 2.2.8 and, for what that one
// gets wrong, rrule 2.8.1. Each rule is asked of the first that knows its shape.
const (
	temporal = "rrule-temporal"
	classic  = "rrule"
)

// oracle names the library to ask about rules of this shape, or "" for none.
//
// Where rrule-temporal differs from us, the verdict was found in RFC 5545 section
// 3.3.10, always for FREQ=YEARLY:
//
//   - BYYEARDAY with BYDAY: it keeps year days that are on none of the weekdays
//     (BYYEARDAY=165,337,329;BYDAY=SA,MO,TH from 2036-02-23 gives Friday 13 June
//     2036). Note 2 below the table says BYDAY limits when BYYEARDAY is present.
//   - BYYEARDAY with BYMONTHDAY, and BYWEEKNO with either: it drops one of the parts
//     (BYWEEKNO=26;BYMONTHDAY=13 gives 25 June 2032, no 13th). Parts are applied to
//     the current set, so a date has to fit them all; rrule agrees with us.
//   - BYDAY with and without ordinals, no BYMONTH: it drops the days without
//     (BYDAY=9WE,SU gives the ninth Wednesday only). The RFC: without an ordinal, all
//     such days of the period.
//   - BYDAY with an ordinal and BYMONTHDAY: it does not limit, or limits to nothing;
//     note 2 says BYDAY limits when BYMONTHDAY is present.
//
// The last two rrule gets wrong as well, in MONTHLY rules too, where it takes a list
// with and without ordinals for a condition to meet twice. It also gives all seven
// days for a BYWEEKNO without a day, where the RFC takes what the rule leaves open
// from the start, and repeats an instance or invents one when BYSETPOS asks for more
// than there are. Rules of all shapes are held against slowBetween.
func (s spec) oracle() string {
	ordinals := slices.ContainsFunc(s.byDay, func(d ordinalDay) bool { return d.n != 0 })
	plain := slices.ContainsFunc(s.byDay, func(d ordinalDay) bool { return d.n == 0 })
	switch {
	case s.freq != "YEARLY":
		return temporal
	case ordinals && (s.byMonthDay != nil || s.byYearDay != nil || plain && s.byMonth == nil):
		return ""
	case s.byYearDay != nil && (s.byMonthDay != nil || s.byDay != nil),
		s.byWeekNo != nil && (s.byMonthDay != nil || s.byYearDay != nil):
		if s.bySetPos == nil {
			return classic
		}
		return ""
	}
	return temporal
}

type seededDrawer struct{ *rand.Rand }

func (d seededDrawer) pick(low, high int) int { return low + d.IntN(high-low+1) }

type question struct {
	Library string `json:"library"`
	Rule    string `json:"rule"`
	Start   Date   `json:"start"`
	To      Date   `json:"to"`
}

func TestBetweenAgainstOracles(t *testing.T) {
	dir := filepath.Join("..", "..", "testdata", "rrule-oracle")
	missing := t.Skipf
	if os.Getenv("GRAINWARD_CI") != "" {
		missing = t.Fatalf
	}
	if _, err := os.Stat(filepath.Join(dir, "node_modules")); err != nil {
		missing("%v: run npm ci in %s first", err, dir)
	}
	node, err := exec.LookPath("node")
	if err != nil {
		missing("%v", err)
	}

	questions := drawQuestions(map[string]int{temporal: 500, classic: 150})
	var in, stderr bytes.Buffer
	lines := json.NewEncoder(&in)
	for _, q := range questions {
		if err := lines.Encode(q); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.CommandContext(t.Context(), node, "answer.mjs")
	cmd.Dir, cmd.Stdin, cmd.Stderr = dir, &in, &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, stderr.Bytes())
	}

	answers := bufio.NewScanner(bytes.NewReader(out))
	answers.Buffer(nil, 1<<24)
	rules, instances := map[string]int{}, map[string]int{}
	for _, q := range questions {
		var a struct {
			Dates []Date
			Error string
		}
		if !answers.Scan() {
			t.Fatalf("no answer to %s: %v", q.Rule, answers.Err())
		}
		if err := json.Unmarshal(answers.Bytes(), &a); err != nil {
			t.Fatal(err)
		}
		got := mustRule(q.Rule).Between(q.Start, q.Start, q.To)
		if a.Error != "" || !slices.Equal(got, a.Dates) {
			t.Errorf("%s from %v to %v:\n  ours %v\n%s %v %s", q.Rule, q.Start, q.To, got, q.Library, a.Dates, a.Error)
		}
		rules[q.Library]++
		instances[q.Library] += len(a.Dates)
	}
	t.Logf("rules asked: %v; dates given: %v", rules, instances)
}

// drawQuestions draws rules from a fixed seed until each library has its share.
func drawQuestions(share map[string]int) (out []question) {
	d := seededDrawer{rand.New(rand.NewPCG(5545, 3883))}
	for share[temporal] > 0 || share[classic] > 0 {
		s, start := specFrom(d), Date(d.pick(0, 30000))
		q := question{s.oracle(), s.text(), start, start + Date(d.pick(0, 4000))}
		if q.Library == classic {
			q.To += 15000 // its rules ask much of a date; few meet it in ten years
		}
		if share[q.Library] > 0 {
			share[q.Library]--
			out = append(out, q)
		}
	}
	return out
}
