package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"grainward/records"
	"grainward/records/placed"
)

// crossCheck looks for what the shape of single values does not tell: names that lead nowhere, codes given twice,
// times in the wrong order.
func (r *reader) crossCheck(p *Plan) {
	r.checkCodes(p)
	r.checkProfile(p)
	r.checkShifts(p)
	r.checkChangeovers(p)
	for i := range p.Items {
		r.checkItem(&p.Items[i], fmt.Sprintf("items[%d]", i))
	}
	for i, a := range p.Agents {
		known(r, fmt.Sprintf("agents[%d].approval", i), a.Approval, p.index.documents, "documents", true)
	}
	for i := range p.Instruments {
		r.checkInstrument(p, &p.Instruments[i], fmt.Sprintf("instruments[%d]", i))
	}
	for i := range p.Documents {
		r.checkDocument(p, &p.Documents[i], fmt.Sprintf("documents[%d]", i))
	}
	for i := range p.Tasks {
		r.checkTask(p, &p.Tasks[i], fmt.Sprintf("tasks[%d]", i))
	}
	for i, partner := range p.Partners {
		allKnown(r, fmt.Sprintf("partners[%d].certificates", i), partner.Certificates, p.index.documents, "documents")
	}
	r.checkPeople(p)
}

// known notes a code that the named list does not have.
func known[C ~string, R any](r *reader, path string, code C, list map[C]R, name string, optional bool) bool {
	if _, ok := list[code]; ok && code != "" {
		return true
	}
	if optional && code == "" || records.CheckCode(string(code)) != nil {
		return code == "" && optional // a code of the wrong shape has its own fault
	}
	if r.unsure(name) {
		return false
	}
	var have []string
	for c := range list {
		have = append(have, string(c))
	}
	slices.Sort(have)
	want := "there is no such code under " + name
	if near := nearest(string(code), have); near != "" {
		want += "; did you mean " + near + "?"
	} else if len(have) > 0 && len(have) <= 8 {
		want += "; there are " + strings.Join(have, ", ")
	}
	r.fault(path, string(code), want)
	return false
}

// unsure says whether rows of a list could not be read or have no proper code: the code looked for may be theirs, and
// the fault there is enough.
func (r *reader) unsure(list string) bool {
	for _, f := range r.faults {
		rest, within := strings.CutPrefix(f.at, list)
		if !within {
			continue
		}
		if _, after, ok := strings.Cut(rest, "]"); rest == "" || ok && rest[0] == '[' && (after == "" || after == ".code" || after == ".cite") {
			return true
		}
	}
	return false
}

func allKnown[C ~string, R any](r *reader, path string, codes []C, list map[C]R, name string) {
	once(r, path, "", codes)
	for i, c := range codes {
		known(r, fmt.Sprintf("%s[%d]", path, i), c, list, name, false)
	}
}

// once notes values given twice in a list; key is that of the code in its rows, or empty when the rows are the codes.
func once[C ~string](r *reader, path, key string, codes []C) {
	first := map[C]int{}
	for i, c := range codes {
		if c == "" {
			continue
		}
		at := placed.Join(fmt.Sprintf("%s[%d]", path, i), key)
		if key == "" {
			at = fmt.Sprintf("%s[%d]", path, i)
		}
		if j, twice := first[c]; twice {
			line := r.nearest(placed.Join(fmt.Sprintf("%s[%d]", path, j), key)).Line
			if key == "" {
				line = r.nearest(fmt.Sprintf("%s[%d]", path, j)).Line
			}
			r.fault(at, string(c), fmt.Sprintf("it stands in line %d already; each is given once", line))
			continue
		}
		first[c] = i
	}
}

func codes[R any, C ~string](rows []R, code func(R) C) []C {
	out := make([]C, len(rows))
	for i, row := range rows {
		out[i] = code(row)
	}
	return out
}

func (r *reader) checkCodes(p *Plan) {
	once(r, "shifts", "code", codes(p.Shifts, func(s Shift) records.ShiftCode { return s.Code }))
	once(r, "stations", "code", codes(p.Stations, func(s Station) records.StationCode { return s.Code }))
	once(r, "grades", "code", codes(p.Grades, func(g Grade) records.GradeCode { return g.Code }))
	once(r, "items", "code", codes(p.Items, func(i Item) records.ItemCode { return i.Code }))
	once(r, "agents", "code", codes(p.Agents, func(a Agent) records.AgentCode { return a.Code }))
	once(r, "instruments", "code", codes(p.Instruments, func(i Instrument) records.InstrumentCode { return i.Code }))
	once(r, "documents", "code", codes(p.Documents, func(d Document) records.DocumentCode { return d.Code }))
	once(r, "tasks", "code", codes(p.Tasks, func(t Task) records.TaskCode { return t.Code }))
	once(r, "partners", "code", codes(p.Partners, func(q Partner) records.PartnerCode { return q.Code }))
	once(r, "people", "code", codes(p.People, func(q Person) records.PersonCode { return q.Code }))
	once(r, "people", "initials", codes(p.People, func(q Person) string { return q.Initials }))
	once(r, "profile.clauses", "cite", codes(p.Profile.Clauses, func(c Clause) records.Clause { return c.Cite }))
}

func (r *reader) checkProfile(p *Plan) {
	once(r, "plant.languages", "", p.Plant.Languages)
	for i, f := range p.Profile.ReviewFamilies {
		if !contains(Families(), f) {
			r.fault(fmt.Sprintf("profile.reviewFamilies[%d]", i), f, "one of "+strings.Join(Families(), ", "))
		}
	}
	for i, c := range p.Profile.Clauses {
		for k, kind := range c.Kinds {
			r.checkKind(fmt.Sprintf("profile.clauses[%d].kinds[%d]", i, k), kind)
		}
	}
}

func (r *reader) checkKind(path string, kind records.Kind) {
	if _, ok := records.RowOf(kind); ok || kind == "" {
		return
	}
	var have []string
	for _, row := range records.Kinds() {
		have = append(have, string(row.Kind))
	}
	r.fault(path, string(kind), "a kind of entry: "+strings.Join(have, ", "))
}

// checkShifts notes shifts that overlap on the dial.
func (r *reader) checkShifts(p *Plan) {
	end := func(s Shift) int {
		if s.To <= s.From {
			return int(s.To) + 86_400
		}
		return int(s.To)
	}
	if slices.ContainsFunc(r.faults, func(f fault) bool { return strings.HasPrefix(f.at, "shifts") }) {
		return // a time that could not be read overlaps nothing
	}
	for i, a := range p.Shifts {
		for j, b := range p.Shifts[:i] {
			for _, days := range []int{-86_400, 0, 86_400} {
				if from := int(a.From) + days; from < end(b) && int(b.From) < end(a)+days {
					r.fault(fmt.Sprintf("shifts[%d].from", i), a.From.String(), fmt.Sprintf("the shift overlaps %s, %s to %s", p.Shifts[j].Code, b.From, b.To))
				}
			}
		}
	}
}

func (r *reader) checkChangeovers(p *Plan) {
	for i, c := range p.Changeovers {
		path := fmt.Sprintf("changeovers[%d]", i)
		for key, text := range map[string]string{"from": c.From, "to": c.To} {
			if text != "" && text != AnyClass {
				if _, err := ParseClass(text); err != nil {
					r.fault(path+"."+key, text, err.Error())
				}
			}
		}
		if c.Grade != NoGrade {
			known(r, path+".grade", c.Grade, p.index.grades, "grades", false)
		}
		allKnown(r, path+".stations", c.Stations, p.index.stations, "stations")
		for j, earlier := range p.Changeovers[:i] {
			if c.contradicts(earlier) {
				r.fault(path, c.From+" to "+c.To, fmt.Sprintf("line %d speaks of the same pair; give each once, or for other stations", r.nearest(fmt.Sprintf("changeovers[%d]", j)).Line))
			}
		}
	}
	for i, g := range p.Grades {
		if g.Code == NoGrade {
			r.fault(fmt.Sprintf("grades[%d].code", i), string(g.Code), "another code: in changeovers, "+string(NoGrade)+" means that no clean-out is needed")
		}
	}
}

func (r *reader) checkRange(path string, limits Range) {
	if limits.Min != nil && limits.Max != nil && limits.Min.Cmp(*limits.Max) > 0 {
		r.fault(path+".max", limits.Max.String(), "not below min, which is "+limits.Min.String())
	}
}

func (r *reader) checkItem(it *Item, path string) {
	if it.Retained != nil {
		r.checkRange(path+".retained", *it.Retained)
	}
	for i, line := range it.Certificate {
		r.checkRange(fmt.Sprintf("%s.certificate[%d].limits", path, i), line.Limits)
	}
	for i, loss := range it.Losses {
		r.checkRange(fmt.Sprintf("%s.losses[%d].dry", path, i), loss.Dry)
		r.checkRange(fmt.Sprintf("%s.losses[%d].byProduct", path, i), loss.ByProduct)
	}
}

func (r *reader) checkInstrument(p *Plan, in *Instrument, path string) {
	known(r, path+".station", in.Station, p.index.stations, "stations", false)
	if !known(r, path+".calibration", in.Calibration, p.index.tasks, "tasks", false) {
		return
	}
	switch task := p.Task(in.Calibration); {
	case task.Family != Calibration:
		r.fault(path+".calibration", string(in.Calibration), "a task of family "+Calibration+"; this one is of family "+task.Family)
	case !slices.Contains(task.Stations, in.Station) && p.Station(in.Station) != nil:
		r.fault(path+".calibration", string(in.Calibration), "a task that is done at "+string(in.Station)+", where the instrument is calibrated")
	}
	if in.Uncertainty != nil && in.Unit == "" {
		r.fault(path+".unit", "", "it must be given with an uncertainty")
	}
}

func (r *reader) checkDocument(p *Plan, d *Document, path string) {
	about := path + ".about"
	switch d.Of {
	case "plant":
		if d.About != "" {
			r.fault(about, d.About, "nothing: there is only one plant")
		}
	case "partner":
		known(r, about, records.PartnerCode(d.About), p.index.partners, "partners", false)
	case "agent":
		known(r, about, records.AgentCode(d.About), p.index.agents, "agents", false)
	case "station":
		known(r, about, records.StationCode(d.About), p.index.stations, "stations", false)
	case "instrument":
		known(r, about, records.InstrumentCode(d.About), p.index.instruments, "instruments", false)
	case "person":
		known(r, about, records.PersonCode(d.About), p.index.people, "people", false)
	case "item":
		known(r, about, records.ItemCode(d.About), p.index.items, "items", false)
	}
	if d.About == "" && d.Of != "plant" && d.Of != "" {
		r.fault(about, "", "the code of the "+d.Of+" it is about must be given")
	}
}

func (r *reader) checkPeople(p *Plan) {
	lead := false
	for i, person := range p.People {
		path := fmt.Sprintf("people[%d]", i)
		lead = lead || person.Role == "lead"
		once(r, path+".languages", "", person.Languages)
		for j, t := range person.Trained {
			known(r, fmt.Sprintf("%s.trained[%d].task", path, j), t.Task, p.index.tasks, "tasks", false)
		}
		if person.From != nil && person.Until != nil && cmp.Compare(*person.From, *person.Until) > 0 {
			r.fault(path+".until", person.Until.String(), "not before from, which is "+person.From.String())
		}
	}
	if !lead && len(p.People) > 0 {
		r.fault("people", "", "at least one person of role lead: somebody must review and approve ("+strconv.Itoa(len(p.People))+" without)")
	}
}
