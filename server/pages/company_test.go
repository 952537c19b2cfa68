package pages

// companyCanned are the pages of company.go, each with something in every part of it.
func companyCanned(f Frame, text string) []Page {
	opts := []Option{{"a", text, true}, {"b", text, false}}
	counts := []Count{{Severity: "critical", N: 1, Href: "/findings"}, {Severity: "major", N: 0, Href: "/findings"}, {Severity: "minor", N: 12, Href: "/findings"}, {Severity: "note", N: 345, Href: "/findings"}}
	row := func(state string) PlantRow {
		return PlantRow{Code: text, Name: text, Where: text, Href: "/", State: state, Trouble: text, Counts: counts, Overdue: 3, Today: "/today", Size: 12345, Root: text, Signed: text}
	}
	quiet := row("open")
	quiet.Trouble, quiet.Overdue, quiet.Signed = "", 0, ""
	return []Page{
		&Company{Frame: f, Firm: text, Plants: opts, Doors: []Link{{"/", text}}, Typed: text, Next: "/trace", Message: text, Ended: true},
		&Company{Frame: f, Firm: text, Plants: opts},
		&Plants{Frame: f, Firm: text, At: text, Plants: []PlantRow{quiet, row("behind"), row("stuck"), row("shut"), row("no-plan"), row("not-lead")}, Others: 2},
		&Plants{Frame: f, Firm: text, At: text},
		&Journey{Frame: f, Plants: opts, Directions: opts, Subject: text, Made: true, Drawing: "/api/trace.svg?plant=x", Sheets: "/api/trace.xlsx?plant=x", Legs: []Leg{{text, text, []LegLot{{text, "/lots/x", text, text, text, true, []string{text, text}}, {text, "/lots/y", text, text, text, false, nil}}}, {Name: text}},
			Joins: []JoinRow{{[]string{text, text}, true}, {[]string{text}, false}}, Loose: []string{text}},
		&Journey{Frame: f, Plants: opts, Directions: opts, Subject: text, Problem: text},
		&Journey{Frame: f, Made: true},
	}
}
