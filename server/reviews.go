package server

import (
	"cmp"
	"slices"
	"strconv"

	"grainward/audit"
	"grainward/records"
	"grainward/records/calendar"
	"grainward/records/state"
	"grainward/server/pages"
)

const (
	reviewDaysMost = 20  // days of the queue on one page
	reviewedMost   = 10  // days reviewed lately
	reviewMost     = 200 // records on one page: a signature is for those that were shown
)

// reviews is the queue: days with records that are not reviewed yet.
func (s *Server) reviews(r *request) (reply, error) {
	rep := s.report()
	owed := rep.Owed()
	p := &pages.Reviews{Frame: s.frame(r, r.say("reviews"), "reviews"), Pager: r.pager("/reviews", len(owed), reviewDaysMost), Works: r.say("reviews-count", r.plan.Profile.ReviewDays)}
	for _, b := range owed[p.From-1 : p.To] {
		p.Owed = append(p.Owed, r.reviewDay(rep, b))
	}
	for i := len(rep.Batches) - 1; i >= 0 && len(p.Done) < reviewedMost; i-- {
		if b := &rep.Batches[i]; b.Open == 0 {
			p.Done = append(p.Done, r.reviewDay(rep, b))
		}
	}
	return page(p)
}

func (r *request) reviewDay(rep *audit.Report, b *audit.Batch) pages.ReviewDay {
	out := pages.ReviewDay{Href: "/review/" + b.Day.String(), Day: r.date(b.Day), Open: b.Open, All: b.Count, Mark: "done"}
	if b.Open == 0 {
		out.When = r.say("reviewed-at", r.moment(b.Reviewed))
		return out
	}
	out.When, out.Mark = r.owedWhen(rep, b), "open"
	if b.Late(rep.At) {
		out.Mark = "overdue"
	}
	families := map[pages.FamilyCount]int{}
	for _, v := range rep.ReviewOf(b) {
		switch {
		case v.By != nil:
		case v.Family != "":
			families[pages.FamilyCount{Family: v.Family}]++
		default:
			families[pages.FamilyCount{Kind: string(kindWord(v.Record.Kind))}]++
		}
	}
	for f, n := range families {
		f.N = n
		out.Families = append(out.Families, f)
	}
	slices.SortFunc(out.Families, func(a, b pages.FamilyCount) int {
		return cmp.Or(cmp.Compare(b.Family, a.Family), cmp.Compare(a.Kind, b.Kind))
	})
	return out
}

// theBatch is the day in the address.
func (s *Server) theBatch(r *request) (*audit.Report, *audit.Batch, error) {
	rep := s.report()
	day, err := calendar.ParseDate(r.params["day"])
	if err != nil {
		return nil, nil, notFound()
	}
	if b := rep.Batch(day); b != nil {
		return rep, b, nil
	}
	return nil, nil, notFound()
}

func (s *Server) reviewForm(r *request) (reply, error) {
	rep, b, err := s.theBatch(r)
	if err != nil {
		return reply{}, err
	}
	return page(s.reviewPage(r, rep, b, nil))
}

func (s *Server) reviewPage(r *request, rep *audit.Report, b *audit.Batch, ms []pages.Message) *pages.Review {
	all := rep.ReviewOf(b)
	p := &pages.Review{Frame: s.frame(r, r.say("review-of", r.date(b.Day)), "reviews"), Day: r.say("review-of", r.date(b.Day)), Open: b.Open, All: b.Count, Messages: ms, Action: "/review/" + b.Day.String(),
		Draft: r.form.Get("id"), As: r.form.Get("as"), Note: r.form.Get("note"), Again: asksAgain(records.Verified), Pager: r.pager("/review/"+b.Day.String(), len(all), reviewMost)}
	if p.Draft == "" {
		p.Draft, p.As = records.NewEntryID().String(), string(r.who.Code)
	}
	if b.Open > 0 {
		p.When, p.Mark = r.owedWhen(rep, b), "open"
		if b.Late(rep.At) {
			p.Mark = "overdue"
		}
	}
	if p.Pager.From > 1 {
		p.Action += "?page=" + strconv.Itoa(p.Pager.From/reviewMost)
	}
	newest := records.Position(-1) // that was reviewed
	for i := range all {
		if all[i].By != nil {
			newest = all[i].Record.Position
		}
	}
	shown := all[p.From-1 : p.To]
	at := map[string]int{}
	for i := range shown {
		v := &shown[i]
		row := r.reviewRow(v)
		row.Late = v.By == nil && v.Excepted == nil && newest >= 0 && v.Record.Position > newest
		row.Ticked = slices.Contains(r.form["except"], row.ID)
		p.After = p.After || row.Late
		p.Signable = p.Signable || v.By == nil
		p.Own += boolInt(v.Record.Performer() == r.who.Code)
		p.Fixed += boolInt(row.Fixed != "")
		p.Outside += boolInt(row.Judged && !row.Passes)
		title := r.reviewPlace(v.Record)
		g, ok := at[title]
		if !ok {
			g = len(p.Groups)
			at[title] = g
			p.Groups = append(p.Groups, pages.ReviewGroup{Title: title})
		}
		p.Groups[g].Rows = append(p.Groups[g].Rows, row)
	}
	none := r.say("no-station")
	slices.SortStableFunc(p.Groups, func(a, b pages.ReviewGroup) int {
		return cmp.Or(cmp.Compare(boolInt(a.Title == none), boolInt(b.Title == none)), cmp.Compare(a.Title, b.Title))
	})
	p.First, p.Last = positionText(shown[0].Record.Position), positionText(shown[len(shown)-1].Record.Position)
	if first := r.form.Get("from"); first != "" { // it comes back: what was shown is what is signed
		p.First, p.Last = first, r.form.Get("to")
	}
	return p
}

// reviewPlace is the station of a record.
func (r *request) reviewPlace(rec *state.Record) string {
	p := r.planAt(rec.Happened)
	fact := rec.Fact
	if rec.Kind == records.KindCorrect {
		fact = r.view.State.First(r.view.State.Root(rec.Position)).Fact
	}
	at := records.StationCode("")
	switch f := fact.(type) {
	case *records.Signoff:
		at = f.Station
	case *records.Deviation:
		at = f.Station
	}
	if at == "" {
		return r.say("no-station")
	}
	return stationTitle(p, at, r.lang)
}

func (r *request) reviewRow(v *audit.Reviewed) pages.ReviewRow {
	rec := v.Record
	p := r.planAt(rec.Happened)
	row := pages.ReviewRow{Position: positionText(rec.Position), Href: entryHref(rec.Position), ID: rec.ID.String(), What: r.say(kindKey(rec.Kind)), Who: personName(p, rec.Performer()), When: r.clock(rec.Happened)}
	if f, is := rec.Fact.(*records.Signoff); is {
		row.What, row.Judged = taskTitle(p, f.Task, r.lang), true
		row.Passes = audit.Check(p.Task(f.Task), f).Passes
		row.Values = r.signoffRows(p, f)
	} else {
		row.Values = r.rows(rec)
	}
	row.Values = slices.DeleteFunc(row.Values, func(x pages.Row) bool { return x.Long })
	for _, at := range chain(r.view.State, rec.Position) {
		c := r.view.State.First(at)
		key := "fixed-replaced"
		if c.Fact.(*records.Correct).Withdraw {
			key = "fixed-withdrawn"
		}
		row.Fixed = r.say(key, personName(r.planAt(c.Happened), c.By), r.moment(c.Recorded), c.Fact.(*records.Correct).Reason)
	}
	if v.By != nil {
		row.Reviewed = r.say("reviewed-by", personName(r.planAt(v.By.Happened), v.By.By), r.moment(v.By.Happened))
	}
	if v.Excepted != nil {
		row.Excepted = r.say("excepted-by", personName(r.planAt(v.Excepted.Happened), v.Excepted.By), r.moment(v.Excepted.Happened))
	}
	return row
}

// signReview writes down that the records that were shown were verified.
func (s *Server) signReview(r *request) (reply, error) {
	rep, b, err := s.theBatch(r)
	if err != nil {
		return reply{}, err
	}
	x := r.sheet()
	fact := &records.Review{From: r.shownFrom("from"), To: r.shownFrom("to"), Note: x.text("note", textMost, "")}
	if fact.From < 0 || fact.To < fact.From {
		return reply{}, notFound() // the form was cut or tampered with
	}
	for _, id := range r.form["except"] {
		if e, err := records.ParseEntryID(id); err == nil {
			fact.Except = append(fact.Except, e)
		}
	}
	_, ms, err := s.signEntry(r, r.entryOfForm(records.Verified, fact, 0), false, x.ms)
	if err != nil {
		return reply{}, err
	}
	if len(ms) > 0 {
		return again(s.reviewPage(r, rep, b, ms))
	}
	return redirect("/review/" + b.Day.String())
}

func (r *request) shownFrom(name string) records.Position {
	n, err := strconv.ParseInt(r.form.Get(name), 10, 64)
	if err != nil {
		return -1
	}
	return records.Position(n)
}
