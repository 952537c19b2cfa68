package server

import (
	"slices"
	"strings"

	"grainward/records"
	crewpage "grainward/server/crew"
	"grainward/server/openapi"
)

// role is how much somebody may do. Each may do what those before it may.
type role int

const (
	nobody  role = iota // signed in or not
	visitor             // signed in
	crew
	lead
)

var roleWords = [...]string{nobody: "", visitor: "visitor", crew: "crew", lead: "lead"}

func (r role) String() string { return roleWords[r] }

// roleOf reads a role of the plan.
func roleOf(word string) role {
	switch word {
	case "lead":
		return lead
	case "crew":
		return crew
	}
	return visitor
}

// route is one row of the table.
type route struct {
	Method, Path string
	Least        role
	Handle       func(*Server, *request) (reply, error)
	Says         string
	JSON         bool // it answers with JSON, its errors too
	Uploads      bool // pictures may come with it
	Papers       bool // and documents that are no pictures
	Link         bool // an auditor's link opens it, for reading what belongs to its period
	Quiet        bool // a page asks it by itself: it does not prolong the sign-in
	Holds        bool // what was typed is kept when the sign-in has ended
	Door         bool // answered on the unencrypted port, where nobody is signed in
	Takes        body // what comes with it, when not a form

	// of a route that answers programs, for its description (apidoc.go)
	Gives any             // a value of the type it answers with; nil when with nothing, or with Media
	Media string          // of an answer that is no JSON
	Makes bool            // it answers 201 when what was asked for is new
	Asks  any             // a value of the type it takes; nil for bytes
	Query []openapi.Query // what may stand after the question mark
}

// body is what a route takes with a request that changes something.
type body int

const (
	aForm body = iota
	aJSON
	aPhoto
	aFile
)

// media are the types that may be said of it.
func (b body) media() []string {
	switch b {
	case aJSON:
		return []string{"application/json"}
	case aPhoto:
		return []string{"image/jpeg", "image/png"}
	case aFile:
		return []string{"application/pdf", "image/jpeg", "image/png"}
	}
	return []string{"application/x-www-form-urlencoded", "multipart/form-data"}
}

// most is how many bytes of it are read.
func (rt *route) most() int {
	switch {
	case rt.Takes == aPhoto, rt.Takes == aFile:
		return records.MaxBlob
	case rt.Takes == aJSON:
		return jsonMost
	case rt.Uploads:
		return bodyMost
	}
	return formMost
}

// streams says whether its answer is written for as long as somebody reads.
func (rt *route) streams() bool { return strings.HasPrefix(rt.Media, "text/event-stream") }

// routes is every route there is.
func routes() []route {
	return slices.Concat(floorRoutes(), officeRoutes(), auditorRoutes(), apiRoutes(), peopleRoutes(), []route{
		{Method: "GET", Path: "/", Least: nobody, Handle: (*Server).people, Says: "choose who you are"},
		{Method: "GET", Path: "/sign-in/:person", Least: nobody, Handle: (*Server).askSecret, Says: "the PIN or password of a person"},
		{Method: "POST", Path: "/sign-in", Least: nobody, Handle: (*Server).signIn, Says: "compare a PIN or password and sign in"},
		{Method: "POST", Path: "/sign-out", Least: nobody, Handle: (*Server).signOut, Says: "sign out"},
		{Method: "GET", Path: "/install", Least: nobody, Handle: (*Server).install, Says: "how to install the plant's certificate on a phone"},
		{Method: "GET", Path: "/authority.crt", Least: nobody, Handle: (*Server).authorityDER, Says: "the certificate of the plant's authority, DER"},
		{Method: "GET", Path: "/authority.pem", Least: nobody, Handle: (*Server).authorityPEM, Says: "the same, PEM"},
		{Method: "GET", Path: "/network", Least: lead, Handle: (*Server).network, Says: "how phones find this server and come to trust it"},
		{Method: "GET", Path: "/sheets", Least: lead, Handle: (*Server).sheets, Says: "choose sheets to print"},
		{Method: "GET", Path: "/sheets/stations", Least: lead, Handle: (*Server).stationSheets, Says: "a sheet with its code for each station"},
		{Method: "GET", Path: "/sheets/log", Least: lead, Handle: (*Server).logSheets, Says: "blank log sheets"},
		{Method: "GET", Path: "/paper", Least: crew, Handle: (*Server).fromPaper, Says: "the lines of a sheet filled in by hand"},
		{Method: "POST", Path: "/paper", Least: crew, Handle: (*Server).keepSheet, Says: "keep a photo of a sheet", Uploads: true, Holds: true},
		{Method: "GET", Path: "/paper/:task/:station", Least: crew, Handle: (*Server).paperForm, Says: "the form to type a line in"},
		{Method: "POST", Path: "/paper/:task/:station", Least: crew, Handle: (*Server).typeIn, Says: "type a line in", Uploads: true, Holds: true},
		{Method: "GET", Path: "/healthz", Least: nobody, Handle: (*Server).healthz, Says: "whether entries are taken now; 503 with a sentence when not", JSON: true, Quiet: true, Gives: healthJSON{}},
		{Method: "GET", Path: "/static/:file", Least: nobody, Handle: (*Server).static, Says: "style sheet, module, icon"},

		{Method: "GET", Path: "/crew", Least: nobody, Handle: (*Server).crewPage, Says: "the crew's page, which works without a network"},
		{Method: "GET", Path: "/crew/:version/:file", Least: nobody, Handle: (*Server).crewFile, Says: "a module, style sheet or icon of the crew's page"},
		{Method: "GET", Path: "/api/crew", Least: nobody, Handle: (*Server).apiCrew, Says: "what the crew's page works from: people, and for whoever is signed in the work", JSON: true, Gives: crewpage.Day{}},

		{Method: "GET", Path: "/today", Least: visitor, Handle: (*Server).today, Says: "today's work of the plant"},
		{Method: "GET", Path: "/station/:station", Least: visitor, Handle: (*Server).today, Says: "today's work of one station"},
		{Method: "GET", Path: "/sign/:task/:station", Least: crew, Handle: (*Server).signForm, Says: "the form to sign one off"},
		{Method: "POST", Path: "/sign/:task/:station", Least: crew, Handle: (*Server).sign, Says: "sign one off", Uploads: true, Holds: true},
		{Method: "GET", Path: "/receipt/:position", Least: crew, Handle: (*Server).receipt, Says: "it is written down, and what is next"},

		{Method: "GET", Path: "/entry/:position", Link: true, Least: crew, Handle: (*Server).entry, Says: "one entry, as it counts and as first written"},
		{Method: "GET", Path: "/photo/:key", Link: true, Least: crew, Handle: (*Server).photo, Says: "a photo or document of an entry"},
		{Method: "GET", Path: "/correct/:position", Least: crew, Handle: (*Server).correctForm, Says: "the form to correct a sign-off"},
		{Method: "POST", Path: "/correct/:position", Least: crew, Handle: (*Server).correct, Says: "correct a sign-off", Uploads: true, Holds: true},
		{Method: "GET", Path: "/withdraw/:position", Least: crew, Handle: (*Server).withdrawForm, Says: "the form to take an entry back"},
		{Method: "POST", Path: "/withdraw/:position", Least: crew, Handle: (*Server).withdraw, Says: "take an entry back", Holds: true},

		{Method: "GET", Path: "/binder", Least: lead, Handle: (*Server).binderForm, Says: "the form to make a binder"},
		{Method: "POST", Path: "/binder", Least: lead, Handle: (*Server).makeBinder, Says: "make a binder", Holds: true},
		{Method: "GET", Path: "/binder/:job", Link: true, Least: lead, Handle: (*Server).binderJob, Says: "a binder being made"},
		{Method: "GET", Path: "/binder/:job/file", Link: true, Least: lead, Handle: (*Server).binderFile, Says: "download a binder"},
		{Method: "GET", Path: "/api/events", Least: crew, Handle: (*Server).listen, Says: "a stream that tells when the journal has grown", JSON: true, Quiet: true, Media: "text/event-stream; charset=utf-8"},
	})
}
