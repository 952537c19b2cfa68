package server

// auditorRoutes are the links for reading: what a lead makes them with, and where they lead.
func auditorRoutes() []route {
	return []route{
		{Method: "GET", Path: "/links", Least: lead, Handle: (*Server).links, Says: "links for reading, and the form to make one"},
		{Method: "POST", Path: "/links", Least: lead, Handle: (*Server).makeLink, Says: "make a link for reading"},
		{Method: "GET", Path: "/links/:link", Least: lead, Handle: (*Server).linkPage, Says: "a link, and every page read with it"},
		{Method: "POST", Path: "/links/:link", Least: lead, Handle: (*Server).withdrawLink, Says: "withdraw a link"},
		{Method: "GET", Path: "/auditor", Least: visitor, Link: true, Handle: (*Server).auditor, Says: "where an auditor's link leads"},
		{Method: "GET", Path: "/auditor/:link", Least: nobody, Handle: (*Server).useLink, Says: "take a link for reading"},
		{Method: "POST", Path: "/auditor/leave", Least: nobody, Handle: (*Server).leaveLink, Says: "forget the link in this browser"},
		{Method: "POST", Path: "/auditor/binder", Least: lead, Link: true, Handle: (*Server).auditorBinder, Says: "make the binder of the link's period"},
		{Method: "GET", Path: "/records", Least: crew, Link: true, Handle: (*Server).records, Says: "entries by when they happened"},
		{Method: "GET", Path: "/proof/:position", Least: crew, Link: true, Handle: (*Server).proof, Says: "an entry's bytes and the proof that they are in the journal"},
		{Method: "GET", Path: "/check", Least: visitor, Link: true, Handle: (*Server).checkForm, Says: "the form to check a proof"},
		{Method: "POST", Path: "/check", Least: visitor, Link: true, Handle: (*Server).check, Says: "check a proof"},
		{Method: "POST", Path: "/api/check", Least: visitor, Link: true, Handle: (*Server).apiCheck, Says: "check a proof", JSON: true, Takes: aJSON, Asks: checkAsk{}, Gives: checkJSON{}},
		{Method: "GET", Path: "/api/links", Least: lead, Handle: (*Server).apiLinks, Says: "links for reading", JSON: true, Gives: linksJSON{}},
		{Method: "POST", Path: "/api/links", Least: lead, Handle: (*Server).apiMakeLink, Says: "make a link for reading", JSON: true, Takes: aJSON, Asks: linkAsk{}, Gives: linkJSON{}, Makes: true},
		{Method: "DELETE", Path: "/api/links/:link", Least: lead, Handle: (*Server).apiWithdrawLink, Says: "withdraw a link", JSON: true},
	}
}
