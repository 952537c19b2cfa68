package pages

// officeCanned are the pages of office.go and paperwork.go, each with something in every part of it.
func officeCanned(f Frame, text string) (all []Page) {
	add := func(p Page) { all = append(all, p) }
	link := Link{"/entry/7", text}
	opts := []Option{{"a", text, true}, {"b", text, false}}
	msgs := []Message{{"what", text}, {"", text}}
	notices := []Notice{{text, text, "/sign/x/y", "overdue"}, {Text: text}}
	var groups []FindingGroup
	var counts []Count
	for _, s := range []string{"critical", "major", "minor", "note"} {
		counts = append(counts, Count{s, 3, "/findings?severity=" + s, s == "major"})
		groups = append(groups, FindingGroup{Severity: s, Rows: []Finding{
			{Anchor: "f-1" + s, Severity: s, Rule: "missed", Sentence: text, When: text, Age: text, Standing: "open", About: []Link{link}, Evidence: []Link{link, link}, Clauses: []string{text, text}, Do: []Link{{"/answer?finding=x", text}, {"/excuse", text}}},
			{Anchor: "f-2" + s, Severity: s, Rule: "gap", Sentence: text, When: text, Age: text, Standing: "answered", Evidence: []Link{link}, Answers: []Link{link}},
			{Anchor: "f-3" + s, Severity: s, Rule: "late", Sentence: text, When: text, Age: text, Standing: "closed", Answers: []Link{link}}}})
	}
	groups = append(groups, FindingGroup{Title: text, Severity: "minor", Rows: groups[0].Rows[:1]})
	add(&Findings{Frame: f, At: text, Outlook: &Outlook{Oldest: notices[0], Parts: []Digest{{"overdue", 3, notices, "/today"}, {"expiring", 0, nil, ""}, {"owed", 1, notices[:1], ""}}},
		Counts: counts, Open: link, Every: link, OnlyOpen: true, Filter: Filter{Words: text, Stations: opts, Rules: opts, By: opts, Severity: "major", Every: true, Clear: "/findings"},
		Groups: groups, From: 1, To: 12, Total: 30, Newer: "/findings", Older: "/findings?page=2"})
	add(&Findings{Frame: f, At: text, Counts: counts, Open: link, Every: link, Some: true})
	add(&Answer{Frame: f, Draft: text, As: "a", Finding: text, Severity: "major", Sentence: text, When: text, Messages: msgs, Cause: text, Action: text, Lots: text, Prevention: text, Closes: "no", Earlier: []Link{link}})
	var fields []FormField
	for _, kind := range []string{"text", "area", "choice", "select", "checks", "confirm", "date", "when", "file", "number"} {
		fields = append(fields, FormField{Name: "x-" + kind, Label: text, Hint: text, Type: kind, Value: text, Unit: text, Max: 100, Options: opts, Kept: text}, FormField{Name: "y-" + kind, Label: text, Type: kind, Options: opts})
	}
	fields = append(fields, FormField{Name: "z", Label: text, Type: "measure", Parts: []FormField{{Name: "fn0", Label: text, Value: text, Max: 80}, {Name: "fv0", Label: text, Max: 30}}})
	add(&Form{Frame: f, Intro: text, Caution: text, About: notices, Lists: []FormList{{text, notices, text, text}, {Title: text, None: text}}, Messages: msgs, To: "/hold", Draft: text, As: "a", Next: "/holds",
		Hidden: []Field{{"from", text}}, Fields: fields, Again: true, Button: text, Others: []Link{link}})
	add(&Form{Frame: f, Get: true, To: "/excuse", Fields: fields[:2], Button: text})
	pager := Pager{1, 20, 30, "/holds", "/holds?page=1"}
	add(&Holds{Frame: f, Pager: pager, Lots: []Held{{text, "/findings", text, "organic", false, text, text, text, "/entry/7", []string{text, text}, "/release?lot=x"}, {text, "/findings", text, "conventional", true, text, text, text, "/entry/7", nil, ""}}})
	add(&Holds{Frame: f})
	days := []ReviewDay{{"/review/2026-03-09", text, 3, 4, text, "overdue", []FamilyCount{{"floor", "", 2}, {"", "deviation", 1}}}, {"/review/2026-03-10", text, 0, 4, text, "done", nil}}
	add(&Reviews{Frame: f, Pager: pager, Owed: days, Done: days, Works: text})
	add(&Reviews{Frame: f, Works: text})
	rows := []Row{{Name: text, Value: text}, {Name: text, Value: text, Href: "/photo/x"}, {Name: text, Value: text, Outside: true}}
	add(&Review{Frame: f, Pager: pager, Day: text, When: text, Mark: "overdue", Open: 3, All: 4, Messages: msgs, Action: "/review/2026-03-09", Draft: text, As: "a", First: "1", Last: "4", Own: 1, Outside: 1, Fixed: 1,
		Note: text, Again: true, Signable: true, After: true, Groups: []ReviewGroup{{text, []ReviewRow{
			{Position: "1", Href: "/entry/1", ID: text, What: text, Who: text, When: text, Values: rows, Judged: true, Fixed: text, Excepted: text, Late: true, Ticked: true},
			{Position: "2", Href: "/entry/2", ID: text, What: text, Who: text, When: text, Judged: true, Passes: true, Reviewed: text}}}}})
	add(&Review{Frame: f, Day: text})
	var papers []Paper
	for standing, mark := range map[string]string{"missing": "missed", "expired": "failed", "coming": "coming", "holds": "done", "replaced": "excused"} {
		papers = append(papers, Paper{text, text, "/document/x", text, standing, mark, text, "/documents/new?code=x"}, Paper{Title: text, Standing: standing, Mark: mark})
	}
	add(&Documents{Frame: f, Pager: pager, Days: []Choice{{link, true}, {link, false}}, Words: text, Within: "30", Papers: papers, Calibrations: papers, Trainings: papers, MayFile: true})
	add(&Documents{Frame: f})
	add(&Document{Frame: f, Code: "x", Heading: text, Standing: "holds", Mark: "done", When: text, Wanted: true, Relies: notices, Rest: text, File: "/documents/new?code=x",
		Filings: []Filing{{"holds", "done", text, rows, "/document/x/file/7", text, "/entry/7", text, text}, {Standing: "replaced", Mark: "excused", Entry: "/entry/3"}}})
	add(&Document{Frame: f, Code: "y", Heading: text, Standing: "missing", Mark: "missed"})
	return all
}
