package pages

// networkCanned are the pages of network.go, each with something in every part of it.
func networkCanned(f Frame, text string) []Page {
	code := Code{Text: text, Size: 29, Path: "M4 4h7v1h-7z"}
	return []Page{
		&Network{Frame: f, Whole: true, Only: true, Address: text},
		&Network{Frame: f, Whole: true, Address: text, Others: []string{text, text}, Without: []string{text}, Code: code, Own: true, Issuer: text, LeafEnds: text},
		&Network{Frame: f, Whole: true, Address: text, Others: []string{text}, Without: []string{text, text}, Code: code, LeafEnds: text, Authority: text, Ends: text, Print: []string{text, text}, Install: text, InstallCode: code},
		&Network{Frame: f, Address: text, Code: code, Authority: text, Ends: text, Print: []string{text}, Install: text, InstallCode: code},
	}
}
