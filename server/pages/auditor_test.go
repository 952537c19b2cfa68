package pages

// auditorCanned are the pages of auditor.go, each with something in every part of it.
func auditorCanned(f Frame, text string) (all []Page) {
	add := func(p Page) { all = append(all, p) }
	msgs := []Message{{"for", text}, {"", text}}
	row := LinkRow{"/links/a", text, text, text, 3, text, "", true}
	gone := LinkRow{"/links/b", text, text, text, 0, "", text, false}
	add(&Links{Frame: f, Messages: msgs, Made: &MadeLink{text, "/auditor/x", text}, For: text, From: "2026-01-01", To: "2026-03-31", Ends: "2026-04-14", Rows: []LinkRow{row, gone, {Href: "/links/c", For: text}}})
	add(&Links{Frame: f})
	add(&LinkUse{Frame: f, Row: row, Reads: []Row{{Name: text, Value: text}}, Older: "/links/a?page=1"})
	add(&LinkUse{Frame: f, Row: gone})
	add(&Auditor{Frame: f, For: text, Period: text, Until: text, By: text, Counts: []Count{{"critical", 3, "/findings", false}, {"note", 0, "/findings", false}}})
	add(&Records{Frame: f, Period: text, Kinds: []Option{{"signoff", text, true}, {"plan", text, false}}, Rows: []RecordRow{{"/entry/7", "7", text, text, text, "done", true}, {"/entry/8", "8", text, text, text, "", false}}, Pager: Pager{From: 1, To: 2, Total: 9, Older: "/records?page=1"}})
	add(&Records{Frame: f})
	add(&Proof{Frame: f, Position: "7", Entry: "/entry/7", File: "/api/proof/7", Bytes: text, Leaf: text, Proof: text, Key: text})
	add(&Check{Frame: f, Messages: msgs, Key: text, Bytes: text, Proof: text})
	add(&Check{Frame: f, Holds: text})
	add(&Check{Frame: f, Fails: true})
	return all
}
