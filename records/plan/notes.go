package plan

import (
	"fmt"
	"slices"
	"strings"
)

// Note points at something in a plan that is allowed and perhaps not meant.
type Note struct {
	Line int    // of the file, from 1
	Path string // such as tasks[floor-scrub].clauses
	Text string // what is remarkable, in one sentence without a full stop
}

// String is the note with its line and path.
func (n Note) String() string { return fmt.Sprintf("line %d: %s: %s", n.Line, n.Path, n.Text) }

// Notes are what is allowed and perhaps not meant, in the order of the lines. A plan is in force with its notes.
func (p *Plan) Notes() []Note { return slices.Clone(p.notes) }

// takeNotes looks a faultless plan over.
func (r *reader) takeNotes(p *Plan) {
	note := func(path, format string, args ...any) {
		p.notes = append(p.notes, Note{r.nearest(path).Line, r.show(path), fmt.Sprintf(format, args...)})
	}
	evidenced, measured, taught := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for i, t := range p.Tasks {
		if len(t.Clauses) == 0 {
			note(fmt.Sprintf("tasks[%d]", i), "it names no clause, so the binder's index can not point to it")
		}
		for _, c := range t.Clauses {
			evidenced[string(c)] = true
		}
		for _, a := range t.Asks {
			measured[string(a.Instrument)] = true
		}
	}
	for i, c := range p.Profile.Clauses {
		if !evidenced[string(c.Cite)] && len(c.Kinds) == 0 {
			note(fmt.Sprintf("profile.clauses[%d]", i), "no task and no kind of entry is evidence for %s", c.Cite)
		}
	}
	for i, a := range p.Agents {
		if a.Approval == "" && a.Organic != "no" {
			note(fmt.Sprintf("agents[%d]", i), "no document says that the certifier approved it")
		}
		if a.Check == "" && a.Organic == "conditions" {
			note(fmt.Sprintf("agents[%d]", i), "it is allowed with conditions, and no check is named")
		}
	}
	for i, in := range p.Instruments {
		if !measured[string(in.Code)] && in.Uncertainty == nil {
			note(fmt.Sprintf("instruments[%d]", i), "no task asks for a value measured with it")
		}
	}
	for i, person := range p.People {
		for _, t := range person.Trained {
			taught[string(t.Task)] = true
		}
		if len(person.Trained) == 0 && person.Role != "visitor" && person.Until == nil {
			note(fmt.Sprintf("people[%d]", i), "%s has no training in the plan", person.Name)
		}
	}
	for i, t := range p.Tasks {
		if t.Trained && !taught[string(t.Code)] {
			note(fmt.Sprintf("tasks[%d].trained", i), "only trained people may sign, and the plan names nobody trained in it")
		}
	}
	for i, partner := range p.Partners {
		awake := slices.ContainsFunc(partner.Contacts, func(c Contact) bool { return c.Hours == "24h" })
		inRecall := slices.ContainsFunc(partner.Roles, func(role string) bool {
			return contains([]string{"supplier", "customer", "carrier", "warehouse", "feed-farm"}, role)
		})
		if inRecall && !awake {
			note(fmt.Sprintf("partners[%d]", i), "nobody there answers at night (a contact with hours: 24h), which a recall may need")
		}
	}
	if len(p.Grades) == 0 {
		note("", "no grades of clean-out are listed, so no clean-out can be judged")
	}
	r.noteLanguages(p)
	slices.SortStableFunc(p.notes, func(a, b Note) int { return a.Line - b.Line })
}

// noteLanguages notes texts in languages the plant does not list, and once a language how many texts lack it.
func (r *reader) noteLanguages(p *Plan) {
	for _, path := range r.texts {
		for _, lang := range Languages() {
			if _, there := r.spots[path+"."+lang]; there && !contains(p.Plant.Languages, lang) {
				p.notes = append(p.notes, Note{r.nearest(path + "." + lang).Line, r.show(path), lang + " is not among plant.languages"})
			}
		}
	}
	for _, lang := range p.Plant.Languages {
		missing, first := 0, ""
		for _, path := range r.texts {
			_, there := r.spots[path+"."+lang]
			if _, bare := r.bare[path]; there || bare && lang == r.lang {
				continue
			}
			if missing++; missing == 1 {
				first = path
			}
		}
		if missing > 0 {
			text := fmt.Sprintf("%d texts are not in %s; this is the first", missing, lang)
			p.notes = append(p.notes, Note{r.nearest(first).Line, r.show(first), strings.Replace(text, "1 texts are", "1 text is", 1)})
		}
	}
}
