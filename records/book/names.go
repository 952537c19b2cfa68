package book

import (
	"fmt"
	"strings"

	"grainward/records/plan"
)

// The codes a plan has of each sort, for telling what would have been right: gathered when there is something to tell, which is
// hardly ever, and not for every entry that is taken.

func people(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.People {
			out = append(out, string(p.People[i].Code))
		}
		return out
	}
}

func tasks(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Tasks {
			out = append(out, string(p.Tasks[i].Code))
		}
		return out
	}
}

func stations(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Stations {
			out = append(out, string(p.Stations[i].Code))
		}
		return out
	}
}

func agents(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Agents {
			out = append(out, string(p.Agents[i].Code))
		}
		return out
	}
}

func items(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Items {
			out = append(out, string(p.Items[i].Code))
		}
		return out
	}
}

func partners(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Partners {
			out = append(out, string(p.Partners[i].Code))
		}
		return out
	}
}

func instruments(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Instruments {
			out = append(out, string(p.Instruments[i].Code))
		}
		return out
	}
}

func documents(p *plan.Plan) func() []string {
	return func() (out []string) {
		for i := range p.Documents {
			out = append(out, string(p.Documents[i].Code))
		}
		return out
	}
}

func asks(t *plan.Task) func() []string {
	return func() (out []string) {
		for i := range t.Asks {
			out = append(out, string(t.Asks[i].Code))
		}
		return out
	}
}

func codes[C ~string](cs []C) (out []string) {
	for _, c := range cs {
		out = append(out, string(c))
	}
	return out
}

// list joins a few codes and counts the rest.
func list(have []string) string {
	const most = 12
	if len(have) == 0 {
		return "(there are none)"
	}
	if len(have) <= most {
		return strings.Join(have, ", ")
	}
	return strings.Join(have[:most], ", ") + fmt.Sprintf(" and %d more", len(have)-most)
}

// nearest says which code was probably meant, or which there are.
func nearest(code string, have []string) string {
	best, at := 3, "" // more than two typing mistakes is a guess
	for _, h := range have {
		if d := distance(code, h); d < best {
			best, at = d, h
		}
	}
	if at != "" {
		return fmt.Sprintf("did you mean %s?", at)
	}
	if len(have) == 0 {
		return "it has none at all"
	}
	return "there are " + list(have)
}

// distance is the number of letters to put in, take out or change (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
