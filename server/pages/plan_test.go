package pages

// planCanned are the pages of plan.go, each with something in every part of it.
func planCanned(f Frame, text string) (all []Page) {
	msgs := []Message{{"again", text}, {"", text}}
	faults := []PlanFault{{"12", text, text}, {"", "", text}}
	counts := []RuleCount{{"critical", 3, text}, {"note", 1, text}}
	opts := []Option{{"a", text, true}, {"b", text, false}}
	return []Page{
		&Plan{Frame: f, Rows: []Row{{Name: text, Value: text}}, Text: text, Earlier: []Adopted{{"/entry/7", "7", text, text, text}}},
		&Plan{Frame: f},
		&PlanNew{Frame: f, Text: text, Days: "30", Faults: faults},
		&PlanLook{Frame: f, Draft: text, As: "a", Text: text, Note: text, Days: "30", Heading: text, Messages: msgs, Changes: []string{text, text}, More: 3, Notes: []string{text}, From: text, Come: counts, Gone: counts, Same: 4},
		&PlanLook{Frame: f, Heading: text, First: true},
		&NewPerson{Frame: f, Messages: msgs, Faults: faults, Code: text, Typed: text, Initials: text, On: "2026-03-10", Roles: opts, Languages: opts},
		&Leave{Frame: f, To: "/people/a/leave", Who: text, Last: "2026-03-10", Messages: msgs},
	}
}
