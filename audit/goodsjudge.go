package audit

import (
	"fmt"
	"strings"

	"grainward/records"
	"grainward/records/lots"
	"grainward/records/plan"
	"grainward/records/state"
)

// goodsJudge gathers findings about goods.
type goodsJudge struct {
	st    *state.State
	f     *lots.Floor
	names map[string]valueName // of results
	out   []*Finding           // of one thing: a lot, a step, a change of hands
	same  map[string]int       // times an id was used for it
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

// about is a change of hands, for the sentences about it. What they name is put together only for those that are said: there is
// nothing to say of nearly all.
type about struct {
	j *goodsJudge
	p *plan.Plan
	t *lots.Transfer
}

func (j *goodsJudge) aboutTransfer(p *plan.Plan, t *lots.Transfer) about { return about{j, p, t} }

func (a about) id() string { return a.t.Record.ID.String() }

func (a about) other() records.PartnerCode {
	if a.t.Handover != nil {
		return a.t.To.Holder
	}
	return a.t.From.Holder
}

func (a about) subject() Subject {
	s := Subject{Partner: a.other()}
	if len(a.t.Portions) > 0 {
		l := a.j.f.Lots[a.t.Portions[0].Lot]
		s.Lot, s.Item = l.Code, l.Item
	}
	return s
}

// with is the values that every sentence has, and more.
func (a about) with(more ...Value) []Value {
	return append([]Value{word("lot", a.j.lotWords(a.t)), word("partner", partnerName(a.p, a.other()))}, more...)
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
	return held(j.st, code, p.Day(r.Happened), j.f.At)
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
		for c := range all.From(all.Begun(since)) {
			if c.From > by {
				break
			}
			if c.Lot == lot {
				out = append(out, stay{code, *c})
			}
		}
	}
	return out
}
