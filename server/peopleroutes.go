package server

// peopleRoutes are those of signing in, people and devices.
func peopleRoutes() []route {
	return []route{
		{Method: "GET", Path: "/enrol", Least: nobody, Handle: (*Server).enrolForm, Says: "the form that takes an enrolment code"},
		{Method: "POST", Path: "/enrol", Least: nobody, Handle: (*Server).enrol, Says: "make this browser an enrolled device"},
		{Method: "POST", Path: "/api/sign-in", Least: nobody, Handle: (*Server).apiSignIn, Says: "sign in with a PIN or password", JSON: true, Takes: aJSON, Asks: secretJSON{}, Gives: signedInJSON{}},
		{Method: "POST", Path: "/api/sign-out", Least: nobody, Handle: (*Server).apiSignOut, Says: "sign out", JSON: true},

		{Method: "GET", Path: "/people", Least: lead, Handle: (*Server).staff, Says: "the people of the plan and what they sign in with"},
		{Method: "GET", Path: "/people/:person", Least: lead, Handle: (*Server).member, Says: "one person, and the forms about their PIN and password"},
		{Method: "POST", Path: "/people/:person", Least: lead, Handle: (*Server).changeMember, Says: "set a PIN or password, unlock, end sign-ins"},
		{Method: "GET", Path: "/devices", Least: lead, Handle: (*Server).devices, Says: "the enrolled devices"},
		{Method: "POST", Path: "/devices", Least: lead, Handle: (*Server).makeCode, Says: "make an enrolment code"},
		{Method: "GET", Path: "/devices/:device", Least: lead, Handle: (*Server).deviceForm, Says: "one device"},
		{Method: "POST", Path: "/devices/:device", Least: lead, Handle: (*Server).changeDevice, Says: "rename or withdraw a device"},
	}
}
