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
	groups = append(groups, FindingGroup{Title: text, Rows: groups[0].Rows[:1]})
	add(&Findings{Frame: f, At: text, Outlook: Outlook{Oldest: notices[0], Parts: []Digest{{"overdue", 3, notices, "/today"}, {"expiring", 0, nil, ""}, {"owed", 1, notices[:1], ""}}},
		Counts: counts, Open: link, Every: link, OnlyOpen: true, Filter: Filter{Words: text, Stations: opts, Rules: opts, By: opts, Severity: "major", Every: true, Clear: "/findings"},
		Groups: groups, From: 1, To: 12, Total: 30, Newer: "/findings", Older: "/findings?page=2"})
	add(&Findings{Frame: f, At: text, Counts: counts, Open: link, Every: link, Some: true})
	add(&Answer{Frame: f, Draft: text, As: "a", Finding: text, Severity: "major", Sentence: text, When: text, Messages: msgs, Cause: text, Action: text, Lots: text, Prevention: text, Closes: "no", Earlier: []Link{link}})
	return all
}
