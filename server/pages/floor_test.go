package pages

// floorCanned are the pages of floor.go, each with something in every part of it.
func floorCanned(f Frame, text string) []Page {
	link := Link{"/entry/7", text}
	way := Way{Link{"/week", text}, true}
	opts := []Option{{"a", text, true}, {"b", text, false}}
	var chips []Chip
	for i, s := range []string{"missed", "failed", "overdue", "open", "late", "put-right", "coming", "excused", "done"} {
		chips = append(chips, Chip{s, i + 1})
	}
	cells := []GridCell{{Href: "/week/2026-03-02/x/y", Chips: chips, N: 45, Besides: 2, Today: true}, {}, {Href: "/week/2026-03-03/x/y", Besides: 1}}
	heads := []DayHead{{"2026-03-02", text, 2, true, false}, {"2026-03-03", text, 3, false, true}, {"2026-03-04", text, 4, false, false}}
	week := Week{Frame: f, By: "station", Day: "2026-03-02", Action: "/week", Earlier: "/week?a", Later: "/week?b", Now: "/week", ByStation: way, ByFamily: way, Weekly: way, Monthly: way, Only: opts, Heads: heads,
		Groups: []GridGroup{{text, []GridRow{{text, text, cells}, {text, "", cells}}}}, Legend: badStates(chips), Quiet: 3, Paper: "few"}
	month, empty := week, Week{Frame: f, Paper: "few", Heads: heads}
	month.Month = true
	signed := []Signed{{text, text, true, true, link}, {text, text, false, false, Link{}}}
	cell := &WeekCell{Frame: f, Task: text, Station: text, Date: text, Back: "/week", Besides: signed,
		Windows: []Window{{"missed", text, text, text, nil, text, "open", nil, []Link{link}}, {"failed", text, text, text, signed, text, "answered", []Link{link}, []Link{link}}, {State: "done", Signed: signed}}}
	stretch := Stretch{text, "/stations?a", "/stations?b", "/stations", []Way{way}}
	lot := LotRow{Link{"/lots/x", text}, text, "organic", text, text, true, true, false, text, []string{text}}
	lotRows := []LotRow{lot, {Link: link, Item: text, Status: "made-with", Rejected: true}, {Link: link, Status: "conventional"}, {Link: link, Status: "unknown"}}
	place := &Place{Frame: f, Station: text, Sum: text, Capacity: text, Work: "/station/x", All: "/stations", Mixed: true, Proven: text, Here: lotRows, Residents: lotRows, More: 3, Stretch: stretch, Drawing: "<svg></svg>", Left: 2,
		Events: []StationEvent{{text, text, "done", Link{}, link}, {text, text, "", link, Link{}}}, MoreEvents: 4, MoreFindings: 3,
		Findings: []Finding{{Severity: "major", Rule: "gap", Anchor: "f-1", Sentence: text, When: text, Standing: "open", Evidence: []Link{link}, Do: []Link{link}}}}
	goods := []Page{&Stations{Frame: f, Stretch: stretch, Rows: []StationRow{{link, text, "<svg></svg>"}}}, &Stations{Frame: f, Stretch: stretch}, place, &Place{Frame: f, Station: text, Stretch: stretch}}
	haps := []Happening{{text, text, text, text, "held", link}, {When: text, What: text, Who: text}}
	goods = append(goods, &Lots{Frame: f, Query: text, All: true, Stages: opts, Statuses: opts, Groups: []LotGroup{{text, lotRows}}, From: 1, To: 4, Total: 9, Held: 2, Newer: "/lots?a", Older: "/lots?b"}, &Lots{Frame: f},
		&Lot{Frame: f, Lot: lot, Facts: []Row{{Name: text, Value: text}, {Name: text, Value: text, Href: "/entry/7"}}, Where: []string{text, text}, Holds: haps, Results: haps, Samples: haps, History: haps, MoreHistory: "/lots/x?h=240#history",
			Findings: place.Findings, MoreFindings: 2, Accounted: text, Drawing: "<svg></svg>", Left: 3, Deeper: "/lots/x?deep=4#lineage", Kin: []Kin{{lot, text, text, true}}, Estimated: true}, &Lot{Frame: f, Lot: LotRow{Link: link, Status: "unknown"}})
	return append(goods, []Page{&week, &month, &empty, cell, &WeekCell{Frame: f, Task: text, Station: text, Date: text, Back: "/week"}}...)
}

func badStates(chips []Chip) (out []string) {
	for _, c := range chips {
		out = append(out, c.State)
	}
	return out
}
