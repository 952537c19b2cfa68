package server

// floorRoutes are the routes of the pictures of the floor: weeks, stations, lots, balance, drills.
func floorRoutes() []route {
	return []route{
		{Method: "GET", Path: "/week", Least: crew, Handle: (*Server).week, Says: "a week of windows, by task, station and day"},
		{Method: "GET", Path: "/month", Least: crew, Handle: (*Server).month, Says: "a month of windows"},
		{Method: "GET", Path: "/week/:day/:task/:station", Least: crew, Handle: (*Server).weekCell, Says: "the windows of one duty's day"},

		{Method: "GET", Path: "/lots", Least: crew, Handle: (*Server).lots, Says: "what is where now; search of lots"},
		{Method: "GET", Path: "/lots/:lot", Link: true, Least: crew, Handle: (*Server).lot, Says: "one lot and its lineage"},
		{Method: "GET", Path: "/balance", Least: lead, Handle: (*Server).balance, Says: "what the masses of a period come to"},
		{Method: "GET", Path: "/drills", Least: lead, Handle: (*Server).drills, Says: "recall drills, and the form to start one"},
		{Method: "POST", Path: "/drills", Least: lead, Handle: (*Server).startDrill, Says: "start a recall drill", Holds: true},
		{Method: "GET", Path: "/drills/:drill", Least: lead, Handle: (*Server).drill, Says: "a recall drill: clock, contacts, figures"},
		{Method: "POST", Path: "/drills/:drill/contact", Least: lead, Handle: (*Server).contactDrill, Says: "write a call of a drill down", Holds: true},
		{Method: "POST", Path: "/drills/:drill/finish", Least: lead, Handle: (*Server).finishDrill, Says: "finish a drill", Holds: true},
		{Method: "GET", Path: "/stations", Least: crew, Handle: (*Server).stations, Says: "what stands where, and each station's timeline"},
		{Method: "GET", Path: "/stations/:station", Least: crew, Handle: (*Server).placePage, Says: "one station and its goods"},
	}
}
