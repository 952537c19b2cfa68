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
	rows := []Row{{Name: text, Value: text}}
	row := DrillRow{link, text, text, text, text, rows}
	form := DrillForm{text, "yes", "e-mail", text, text, text, true}
	tries := []Try{{text, text, text, true, link}, {text, text, "", false, link}}
	contacts := []Contact{{text, text, text, text, "tel:+15550100", true}, {text, text, "", text, "", false}}
	reach := []Reach{{text, text, text, true, true, 1, text, text, true, contacts, tries, form}, {Code: "b", Name: text, Consignee: true, Tried: 2, Form: DrillForm{Reached: "no"}}, {Code: "c", Name: text}}
	drill := Drill{Frame: f, Code: text, Subject: text, Why: text, Lead: text, Level: "A", Started: text, StartedAt: "2026-03-09T12:00:00.000Z", Now: "2026-03-09T12:30:00.000Z", Elapsed: "00:30:00", Open: true, To: "/drills/x", As: "a", Unit: "lb",
		Messages: []Message{{"lessons", text}}, Figures: rows, LeftN: 1, ReachN: 2, Rows: reach, More: 3, Onward: []string{text, text}, Lots: []Link{link, link}, MoreLots: 4, Finish: form}
	over := drill
	over.Open, over.Finished, over.Lessons, over.Recorded, over.FinishEntry = false, text, text, rows, link
	verdict := Verdict{"major", text, true}
	called := []Called{{link, text, text, verdict, link}, {link, text, text, Verdict{"done", text, false}, Link{}}}
	goods = append(goods, &Balance{Frame: f, From: "2026-03-01", To: "2026-03-09", Unit: text, All: true, Messages: []Message{{"from", text}}, Counts: text, CalledOut: way, Every: way, Newer: "/balance?a", Older: "/balance?b", Whole: called, Bags: called, WholeN: 3, BagsN: 4,
		Processes: []ProcessRow{{text, text, text, []Link{link, link}, text, text, text, text, text, verdict, &verdict, link}, {When: text, What: text, Verdict: Verdict{"is-unknown", text, false}, Entry: link}},
		Inventory: []InventoryGroup{{"organic", text, []InventoryRow{{text, "/lots", []string{text, text, text, text, text, text, text, text}, true}}}}, Organic: rows}, &Balance{Frame: f, Unit: "lb"})
	goods = append(goods, &drill, &over, &Drill{Frame: f, Code: text, Open: true, To: "/drills/x"}, &Drills{Frame: f, Draft: text, As: "a", Of: opts, Levels: opts, Leads: opts},
		&Drills{Frame: f, Messages: []Message{{"what", text}}, Draft: text, As: "a", Of: opts, Levels: opts, Leads: opts, What: text, Why: text, Code: text, From: text, Until: text, Open: []DrillRow{row}, Done: []DrillRow{row}, More: 2})
	return append(goods, []Page{&week, &month, &empty, cell, &WeekCell{Frame: f, Task: text, Station: text, Date: text, Back: "/week"}}...)
}

func badStates(chips []Chip) (out []string) {
	for _, c := range chips {
		out = append(out, c.State)
	}
	return out
}
