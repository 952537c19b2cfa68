package company

import (
	"fmt"
	"slices"
	"strings"

	"grainward/records"
	"grainward/records/plan"
)

// PlantCode names a plant within its company.
type PlantCode string

// Company is what company.yaml says.
type Company struct {
	Name   string
	Host   string // of the company's own page
	Plants []Plant
	People []Person
}

// Plant is one plant of it.
type Plant struct {
	Code     PlantCode
	Dir      string // its directory, from the company file's
	Mongo    string // a URI, or @FILE from the company file's directory; empty: its journal is a file in Dir
	Host     string // under which browsers ask for it
	Partners []Partner
	line     int
}

// Partner is a partner of a plant that is another plant of ours.
type Partner struct {
	Partner records.PartnerCode // in the plan of the plant that has the row
	Plant   PlantCode
	line    int
}

// Person is somebody who works at more than one plant.
type Person struct {
	Name string
	At   []Post // in the order of the file
}

// Post is who a person is at one plant.
type Post struct {
	Plant  PlantCode
	Person records.PersonCode
	line   int
}

// Plant is the plant of a code, or nil.
func (c *Company) Plant(code PlantCode) *Plant {
	for i := range c.Plants {
		if c.Plants[i].Code == code {
			return &c.Plants[i]
		}
	}
	return nil
}

// Index is a plant's place in the file, or -1.
func (c *Company) Index(code PlantCode) int {
	return slices.IndexFunc(c.Plants, func(p Plant) bool { return p.Code == code })
}

// PlantOf is which plant of ours a partner of a plant is; empty when it is none.
func (c *Company) PlantOf(at PlantCode, partner records.PartnerCode) PlantCode {
	if p := c.Plant(at); p != nil {
		for _, row := range p.Partners {
			if row.Partner == partner {
				return row.Plant
			}
		}
	}
	return ""
}

// Posts are the plants a person of one plant belongs to, that one first, and who they are there. Somebody whom the file does not name
// belongs to their own plant only.
func (c *Company) Posts(at PlantCode, person records.PersonCode) []Post {
	out := []Post{{Plant: at, Person: person}}
	for _, p := range c.People {
		if !slices.ContainsFunc(p.At, func(x Post) bool { return x.Plant == at && x.Person == person }) {
			continue
		}
		for _, post := range p.At {
			if post.Plant != at {
				out = append(out, post)
			}
		}
	}
	return out
}

// Note is something that may not be meant; it stops nothing.
type Note struct {
	Line int
	Says string
}

func (n Note) String() string { return fmt.Sprintf("line %d: %s", n.Line, n.Says) }

// Notes compares the file with the plans in force; of a plant without one (nil, or none because it can not be opened) nothing is said.
func (c *Company) Notes(planOf func(PlantCode) *plan.Plan) (out []Note) {
	for _, p := range c.Plants {
		have := planOf(p.Code)
		if have == nil {
			continue
		}
		for _, row := range p.Partners {
			if have.Partner(row.Partner) == nil {
				out = append(out, Note{row.line, fmt.Sprintf("the plan in force at %s has no partner %s; nothing that went to %s or came from it is followed. Its partners: %s",
					p.Code, row.Partner, row.Plant, some(have.Partners, func(x *plan.Partner) string { return string(x.Code) }))})
			}
			if back := c.Plant(row.Plant); back != nil && !slices.ContainsFunc(back.Partners, func(x Partner) bool { return x.Plant == p.Code }) {
				out = append(out, Note{row.line, fmt.Sprintf("%s calls %s its partner %s, and %s has no partner that is %s; without it nothing is followed between them", p.Code, row.Plant, row.Partner, row.Plant, p.Code)})
			}
		}
	}
	for _, who := range c.People {
		for _, post := range who.At {
			if have := planOf(post.Plant); have != nil && have.Person(post.Person) == nil {
				out = append(out, Note{post.line, fmt.Sprintf("the plan in force at %s has nobody of the code %s (%s). Its people: %s",
					post.Plant, post.Person, who.Name, some(have.People, func(x *plan.Person) string { return string(x.Code) }))})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Note) int { return a.Line - b.Line })
	return out
}

// some are the codes of rows, the first of them when they are many.
func some[R any](rows []R, code func(*R) string) string {
	const most = 12
	var all []string
	for i := range rows {
		if i == most {
			all = append(all, fmt.Sprintf("and %d more", len(rows)-most))
			break
		}
		all = append(all, code(&rows[i]))
	}
	if len(all) == 0 {
		return "none"
	}
	return strings.Join(all, ", ")
}
