package plan

import (
	"fmt"
	"reflect"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/placed"
)

// WithPerson is a plan's text with one more person at the end of people; all else, comments too, stays as it was written. The
// text comes back only when read again it says what it said, and that person.
func WithPerson(text []byte, who Person) ([]byte, error) {
	lines := strings.SplitAfter(string(text), "\n")
	seq, err := peopleOf(text)
	if err != nil {
		return nil, err
	}
	last := seq.Values[len(seq.Values)-1]
	at := last.GetToken().Position.Line // of the last person's first line, counted from 1
	dash := strings.Index(lines[seq.Start.Position.Line-1], "-")
	for i := at; i < len(lines); i++ { // to the last line that is theirs
		trimmed := strings.TrimSpace(lines[i])
		if trimmed == "" || trimmed[0] == '#' {
			continue
		}
		if len(lines[i])-len(strings.TrimLeft(lines[i], " ")) <= dash {
			break
		}
		at = i + 1
	}
	if !strings.HasSuffix(lines[at-1], "\n") {
		lines[at-1] += "\n"
	}
	row := fmt.Sprintf("%s- {code: %s, name: %s, initials: %s, role: %s", strings.Repeat(" ", dash), who.Code, strconv.Quote(who.Name), strconv.Quote(who.Initials), who.Role)
	if len(who.Languages) > 0 {
		row += ", languages: [" + strings.Join(who.Languages, ", ") + "]"
	}
	if who.From != nil {
		row += ", from: " + who.From.String()
	}
	out := strings.Join(lines[:at], "") + row + "}\n" + strings.Join(lines[at:], "")
	return edited(text, out, func(p *Plan) { p.People = append(p.People, who) })
}

// WithLeaver is a plan's text in which a person has a last day; all else stays as it was written.
func WithLeaver(text []byte, code records.PersonCode, last calendar.Date) ([]byte, error) {
	seq, err := peopleOf(text)
	if err != nil {
		return nil, err
	}
	lines := strings.SplitAfter(string(text), "\n")
	for _, node := range seq.Values {
		m, ok := node.(*ast.MappingNode)
		if !ok {
			continue
		}
		var mine bool
		var until, first *ast.MappingValueNode
		for _, kv := range m.Values {
			if first == nil {
				first = kv
			}
			switch kv.Key.GetToken().Value {
			case "code":
				mine = kv.Value.GetToken().Value == string(code)
			case "until":
				until = kv
			}
		}
		if !mine {
			continue
		}
		switch {
		case until != nil:
			pos := until.Value.GetToken().Position
			replace(lines, pos.Line, pos.Column, until.Value.GetToken().Value, last.String())
		case m.IsFlowStyle:
			replace(lines, m.End.Position.Line, m.End.Position.Column, "", ", until: "+last.String())
		default:
			pos := first.Key.GetToken().Position
			lines[pos.Line-1] = strings.TrimSuffix(lines[pos.Line-1], "\n") + "\n" + strings.Repeat(" ", pos.Column-1) + "until: " + last.String() + "\n"
		}
		return edited(text, strings.Join(lines, ""), func(p *Plan) {
			if who := p.Person(code); who != nil {
				who.Until = &last
			}
		})
	}
	return nil, &records.Error{Kind: records.NotFound, What: "the plan has nobody of the code " + string(code)}
}

// replace puts a text in the place of another that begins at a line and column, both counted from 1, the column in characters.
func replace(lines []string, line, column int, old, new string) {
	chars := []rune(lines[line-1])
	at := min(max(column-1, 0), len(chars))
	rest := strings.TrimPrefix(string(chars[at:]), old)
	lines[line-1] = string(chars[:at]) + new + rest
}

// byHand says that a text is written in a way that is not edited here.
func byHand() error {
	return &records.Error{Kind: records.Invalid, What: "the people of this plan are written in a way that can not be changed here", Do: "Change the plan's text and adopt it."}
}

// peopleOf finds the list of people, one under the other.
func peopleOf(text []byte) (*ast.SequenceNode, error) {
	file, err := placed.Parse(text)
	if err != nil || len(file.Docs) == 0 {
		return nil, byHand()
	}
	body, ok := file.Docs[0].Body.(*ast.MappingNode)
	if !ok {
		return nil, byHand()
	}
	for _, kv := range body.Values {
		if kv.Key.GetToken().Value != "people" {
			continue
		}
		if seq, ok := kv.Value.(*ast.SequenceNode); ok && !seq.IsFlowStyle && len(seq.Values) > 0 {
			return seq, nil
		}
	}
	return nil, byHand()
}

// edited reads a text that was changed: faults of the change are told as those of any plan; one that says anything else than the
// old plan with the change is refused.
func edited(before []byte, after string, change func(*Plan)) ([]byte, error) {
	want, err := Parse(before)
	if err != nil {
		return nil, err
	}
	got, err := Parse([]byte(after))
	if err != nil {
		return nil, err
	}
	change(want)
	if len(Diff(want, got)) != 0 || !reflect.DeepEqual(want.People, got.People) {
		return nil, byHand()
	}
	return []byte(after), nil
}
