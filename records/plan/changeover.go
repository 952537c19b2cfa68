package plan

import (
	"fmt"
	"slices"
	"strings"

	"grainward/records"
)

const (
	AnyClass = "*"                       // in a changeover row: whatever came or comes
	NoGrade  = records.GradeCode("none") // in a changeover row: no clean-out is needed
)

// Statuses are the organic statuses of goods, in the words of 7 CFR 205.301 (100 percent organic, organic, made with
// organic) and conventional for all else.
func Statuses() []string { return []string{"organic-100", "organic", "made-with", "conventional"} }

// Class is what matters of contents for what may follow them: an organic status and a set of allergens.
type Class struct {
	Status    string
	Allergens []string // in order, each once
}

// ParseClass reads "organic", "organic+wheat", "conventional+sesame+wheat"; the order of the allergens does not matter.
func ParseClass(text string) (Class, error) {
	parts := strings.Split(text, "+")
	c := Class{Status: parts[0], Allergens: slices.Clone(parts[1:])}
	if !contains(Statuses(), c.Status) {
		return Class{}, fmt.Errorf("a class begins with one of %s, then + and each allergen: organic+wheat", strings.Join(Statuses(), ", "))
	}
	slices.Sort(c.Allergens)
	for i, a := range c.Allergens {
		if records.CheckCode(a) != nil || i > 0 && a == c.Allergens[i-1] {
			return Class{}, fmt.Errorf("after the status, + and each allergen once, in lower-case letters: organic+wheat")
		}
	}
	return c, nil
}

// String is the class with its allergens in order.
func (c Class) String() string { return strings.Join(append([]string{c.Status}, c.Allergens...), "+") }

// GradeFor gives the clean-out grade a station needs when contents of one class follow another, and whether it needs
// one at all. The same class needs none. Otherwise the most exact row of the changeover table counts: one that names
// the station before one for all, then one with fewer "*", then the first. Without a row, classes that differ in
// status, or where what came before has an allergen that what follows has not, need the strongest grade; the grade is
// empty when the plan lists none. A class that can not be read is treated as unlike every other.
func (p *Plan) GradeFor(fromClass, toClass string, at records.StationCode) (records.GradeCode, bool) {
	from, fromErr := ParseClass(fromClass)
	to, toErr := ParseClass(toClass)
	if fromErr != nil || toErr != nil {
		return p.strongest(), true
	}
	if from.String() == to.String() {
		return "", false
	}
	best, exact := -1, -1
	for i, row := range p.Changeovers {
		if n := row.exactness(from, to, at); n > exact {
			best, exact = i, n
		}
	}
	if best >= 0 {
		if g := p.Changeovers[best].Grade; g != NoGrade {
			return g, true
		}
		return "", false
	}
	adds := slices.ContainsFunc(from.Allergens, func(a string) bool { return !contains(to.Allergens, a) })
	if from.Status != to.Status || adds {
		return p.strongest(), true
	}
	return "", false
}

func (p *Plan) strongest() records.GradeCode {
	if len(p.Grades) == 0 {
		return ""
	}
	return p.Grades[len(p.Grades)-1].Code
}

// exactness is -1 when the row does not speak of the pair at the station.
func (c Changeover) exactness(from, to Class, at records.StationCode) int {
	n := 0
	for _, side := range []struct {
		row string
		is  Class
	}{{c.From, from}, {c.To, to}} {
		if side.row == AnyClass {
			continue
		}
		row, err := ParseClass(side.row)
		if err != nil || row.String() != side.is.String() {
			return -1
		}
		n++
	}
	if len(c.Stations) == 0 {
		return n
	}
	if !slices.Contains(c.Stations, at) {
		return -1
	}
	return n + 3
}

// contradicts says whether two rows speak equally exactly of one pair at one station.
func (c Changeover) contradicts(d Changeover) bool {
	same := func(a, b string) bool {
		ca, errA := ParseClass(a)
		cb, errB := ParseClass(b)
		if errA != nil || errB != nil {
			return a == b
		}
		return ca.String() == cb.String()
	}
	if !same(c.From, d.From) || !same(c.To, d.To) || (len(c.Stations) == 0) != (len(d.Stations) == 0) {
		return false
	}
	return len(c.Stations) == 0 || slices.ContainsFunc(c.Stations, func(s records.StationCode) bool { return slices.Contains(d.Stations, s) })
}
