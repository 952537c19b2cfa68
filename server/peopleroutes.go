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
		{Method: "GET", Path: "/people/:person/leave", Least: lead, Handle: (*Server).leaveForm, Says: "the form to give a person a last day"},
		{Method: "POST", Path: "/people/:person/leave", Least: lead, Handle: (*Server).leave, Says: "look at the plan in which a person leaves"},
		{Method: "GET", Path: "/new-person", Least: lead, Handle: (*Server).newPersonForm, Says: "the form to add a person"},
		{Method: "POST", Path: "/new-person", Least: lead, Handle: (*Server).newPerson, Says: "look at the plan with one more person"},
		{Method: "GET", Path: "/plan", Least: lead, Handle: (*Server).planPage, Says: "the plan in force and those before it"},
		{Method: "POST", Path: "/plan", Least: lead, Handle: (*Server).adoptPlan, Says: "put a plan in force", Holds: true},
		{Method: "GET", Path: "/plan/new", Least: lead, Handle: (*Server).planForm, Says: "the form that takes another plan"},
		{Method: "POST", Path: "/plan/new", Least: lead, Handle: (*Server).lookAtPlan, Says: "look at what a plan would change", Uploads: true},
		{Method: "POST", Path: "/api/plan/look", Least: lead, Handle: (*Server).apiLookAtPlan, Says: "what putting a plan in force would change", JSON: true, Takes: aJSON, Asks: lookAsk{}, Gives: lookJSON{}},
		{Method: "GET", Path: "/devices", Least: lead, Handle: (*Server).devices, Says: "the enrolled devices"},
		{Method: "POST", Path: "/devices", Least: lead, Handle: (*Server).makeCode, Says: "make an enrolment code"},
		{Method: "GET", Path: "/devices/:device", Least: lead, Handle: (*Server).deviceForm, Says: "one device"},
		{Method: "POST", Path: "/devices/:device", Least: lead, Handle: (*Server).changeDevice, Says: "rename or withdraw a device"},
	}
}
