package pages

// networkCanned are the pages of network.go, each with something in every part of it.
func networkCanned(f Frame, text string) []Page {
	code := Code{Text: text, Size: 29, Path: "M4 4h7v1h-7z"}
	opts := []Option{{"a", text, true}, {"b", text, false}}
	said := []Said{{"en", text}, {"es", text}}
	return []Page{
		&Network{Frame: f, Whole: true, Only: true, Address: text},
		&Network{Frame: f, Whole: true, Address: text, Others: []string{text, text}, Without: []string{text}, Code: code, Own: true, Issuer: text, LeafEnds: text},
		&Network{Frame: f, Whole: true, Address: text, Others: []string{text}, Without: []string{text, text}, Code: code, LeafEnds: text, Authority: text, Ends: text, Print: []string{text, text}, Install: text, InstallCode: code},
		&Network{Frame: f, Address: text, Code: code, Authority: text, Ends: text, Print: []string{text}, Install: text, InstallCode: code},
		&Sheets{Frame: f, Paper: "a4", Day: "2026-03-09", Stations: opts, Languages: []Option{{"en", "", true}, {"es", "", false}}, Base: text},
		&Sheets{Frame: f, Paper: "letter", Day: "2026-03-09", Only: true, Base: text},
		&StationSheets{Frame: f, Paper: "letter", Sheets: []StationSheet{{Code: text, Titles: said, Scan: said, Cautions: said, QR: code}, {Code: text, QR: code}}},
		&LogSheets{Frame: f, Paper: "a4", Sheets: []LogSheet{{text, text, text, 1, 2, code, []Caution{{text, text}}, []LogBlock{
			{text, text, []LogAsk{{text, text, text, nil, false}, {text, "", "", []string{text, text}, true}}, true, true}}}}},
		&LogSheets{Frame: f, Paper: "letter"},
		&FromPaper{Frame: f, Messages: []Message{{"sheet", text}}, Stations: opts, Day: "2026-03-09"},
		&FromPaper{Frame: f, Stations: opts, Day: "2026-03-09", Sheet: text, Station: text, Date: text, To: "/paper", Lines: []PaperLine{{text, text, "/paper/x/y", "missed", nil}, {text, text, "/paper/x/y", "done", []Link{{"/entry/7", text}}}, {text, text, "/paper/x/y", "", nil}}},
		&FromPaper{Frame: f, Stations: opts, Day: "2026-03-09", Sheet: text, Station: text, Date: text, To: "/paper", Photo: "a", Written: "7"},
		&Sign{Frame: f, To: "/paper/x/y", Task: text, Station: text, Paper: &PaperSign{Sheet: text, Back: "/paper?sheet=x", Photo: "a", Whose: opts, Already: []Link{{"/entry/7", text}}, Twice: true}},
		&Sign{Frame: f, To: "/paper/x/y", Task: text, Station: text, Paper: &PaperSign{Sheet: text, Back: "/paper?sheet=x", Whose: opts}},
	}
}
