package audit

import (
	"fmt"
	"sort"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// goodsJudge gathers findings about goods.
type goodsJudge struct {
	st   *state.State
	f    *lots.Floor
	docs map[records.DocumentCode][]*records.Document
	out  []*Finding     // of one thing: a lot, a step, a change of hands
	same map[string]int // times an id was used for it
}

// of gathers what is found of one thing.
func (j *goodsJudge) of(look func()) []*Finding {
	j.out, j.same = nil, nil
	look()
	return j.out
}

// find adds a finding and gives it back, so that its severity can be raised. Records that are nil are left out of the
// evidence; one named twice counts once. A second finding of one id gets a number: one entry can show a thing twice.
func (j *goodsJudge) find(rule, id string, when records.Instant, subject Subject, values []Value, evidence ...*state.Record) *Finding {
	if j.same == nil {
		j.same = map[string]int{}
	}
	j.same[rule+":"+id]++
	if n := j.same[rule+":"+id]; n > 1 {
		id = fmt.Sprintf("%s#%d", id, n)
	}
	var once []*state.Record
	for _, r := range evidence {
		if len(once) == 0 || once[len(once)-1] != r {
			once = append(once, r)
		}
	}
	f := find(rule, id, when, subject, nil, values, eventPositions(once...)...)
	j.out = append(j.out, f)
	return f
}

// about is what every sentence about a change of hands names.
type about struct {
	subject Subject
	values  []Value
}

func (a about) with(more ...Value) []Value { return append(append([]Value(nil), a.values...), more...) }

func (j *goodsJudge) aboutTransfer(p *plan.Plan, t *lots.Transfer) about {
	other := t.From.Holder
	if t.Handover != nil {
		other = t.To.Holder
	}
	a := about{subject: Subject{Partner: other}}
	if len(t.Portions) > 0 {
		l := j.f.Lots[t.Portions[0].Lot]
		a.subject.Lot, a.subject.Item = l.Code, l.Item
	}
	a.values = []Value{word("lot", j.lotWords(t)), word("partner", partnerName(p, other))}
	return a
}

// lotWords names the lots that changed hands; what came out of a silo may be of many.
func (j *goodsJudge) lotWords(t *lots.Transfer) string {
	const most = 4
	var codes []string
	for _, portion := range t.Portions {
		codes = append(codes, string(j.f.Lots[portion.Lot].Code))
	}
	switch {
	case len(codes) == 0:
		return "?"
	case len(codes) > most:
		return fmt.Sprintf("%s +%d", strings.Join(codes[:most], ", "), len(codes)-most)
	}
	return strings.Join(codes, ", ")
}

func orUnnamed(c records.LotCode) string {
	if c == "" {
		return "?"
	}
	return string(c)
}

// subID is the id of the nth thing an entry says.
func subID(r *state.Record, n int) string { return fmt.Sprintf("%s/%d", r.ID, n+1) }

// says is a sentence in the languages of findings.
func says(en, es string) plan.Text { return plan.Text{"en": en, "es": es} }

// valid says whether a document on file by the moment held on the day of a record. When it was filed does not matter:
// filing late is no lapse.
func (j *goodsJudge) valid(p *plan.Plan, code records.DocumentCode, r *state.Record) bool {
	if j.docs == nil {
		j.docs = map[records.DocumentCode][]*records.Document{}
		for _, d := range j.st.Kind(records.KindDocument).Until(j.f.At) {
			fact := d.Fact.(*records.Document)
			j.docs[fact.Code] = append(j.docs[fact.Code], fact)
		}
	}
	day := p.Day(r.Happened)
	for _, d := range j.docs[code] {
		if d.HoldsOn(day) {
			return true
		}
	}
	return false
}

// stageOf is the stage of a lot's item in the plan, or "".
func stageOf(p *plan.Plan, l *lots.Lot) string {
	if p != nil {
		if i := p.Item(l.Item); i != nil {
			return i.Stage
		}
	}
	return ""
}

// disposal is the output by which a lot is waste, or nil: once any of it is waste, none of it is anything better.
func disposal(l *lots.Lot) *records.Output {
	for _, o := range l.Outputs {
		if o.Disposal != "" {
			return o
		}
	}
	return nil
}

// stay is a contact and where it was.
type stay struct {
	station records.StationCode
	lots.Contact
}

// stays are the contacts of a lot that had begun by a moment, station by station.
func stays(f *lots.Floor, lot int, by records.Instant) (out []stay) {
	since := f.Lots[lot].Since
	for _, code := range sortedStations(f) {
		all := f.Contacts[code]
		first := sort.Search(len(all), func(i int) bool { return all[i].From >= since })
		for _, c := range all[first:] {
			if c.From > by {
				break
			}
			if c.Lot == lot {
				out = append(out, stay{code, c})
			}
		}
	}
	return out
}
