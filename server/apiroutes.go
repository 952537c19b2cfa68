package server

import (
	"grainward/audit/offer"
	"grainward/exports/lineage"
	"grainward/server/auth"
	"grainward/server/openapi"
)

// apiRoutes are what other programs ask, and the pages' modules. Their names stay. Each says what it takes and gives, from which the
// description at /api/openapi.json is made.
func apiRoutes() []route {
	return []route{
		{Method: "GET", Path: "/api/openapi.json", Least: nobody, Handle: (*Server).apiDescription, Says: "this description", JSON: true, Media: "application/json"},
		{Method: "GET", Path: "/api/head", Least: visitor, Handle: (*Server).apiHead, Says: "the journal's size and signed tree head", JSON: true, Gives: headJSON{}},
		{Method: "POST", Path: "/api/entries", Least: crew, Handle: (*Server).apiEnter, Says: "write an entry down", JSON: true, Takes: aJSON, Asks: openapi.Draft{}, Gives: enteredJSON{}, Makes: true},
		{Method: "PUT", Path: "/api/photos/:key", Least: crew, Handle: (*Server).apiPhoto, Says: "put a photo on file, before the entry that names it", JSON: true, Takes: aPhoto, Gives: photoJSON{}, Makes: true},
		{Method: "PUT", Path: "/api/files/:key", Least: crew, Handle: (*Server).apiFile, Says: "put the file of a document beside the journal, before the entry that names it", JSON: true, Takes: aFile, Gives: photoJSON{}, Makes: true},
		{Method: "GET", Path: "/api/entries", Least: crew, Handle: (*Server).apiEntries, Says: "a stretch of the journal, byte for byte", JSON: true, Gives: entriesJSON{}, Query: listQuery},
		{Method: "GET", Path: "/api/entries/:position", Least: crew, Handle: (*Server).apiEntry, Says: "one entry, as stored and as it counts", JSON: true, Gives: wholeEntryJSON{}},
		{Method: "GET", Path: "/api/proof/:position", Link: true, Least: visitor, Handle: (*Server).apiProof, Says: "that an entry is in the journal, as a tlog-proof file (C2SP)", JSON: true, Media: proofMedia},
		{Method: "GET", Path: "/api/plan", Least: crew, Handle: (*Server).apiPlan, Says: "the plan in force", JSON: true, Gives: planJSON{}, Query: []openapi.Query{{Name: "at", Says: "a moment; now unless said"}}},
		{Method: "GET", Path: "/api/lots", Least: crew, Handle: (*Server).apiLots, Says: "the lots, and where they are", JSON: true, Gives: lotsJSON{},
			Query: withList(openapi.Query{Name: "item", Says: "the code of an item"}, openapi.Query{Name: "status", Says: "an organic status"}, openapi.Query{Name: "show", Says: "standing: only those of which something is left"})},
		{Method: "GET", Path: "/api/lots/:lot", Least: crew, Handle: (*Server).apiLot, Says: "one lot, where it is and who has it", JSON: true, Gives: wholeLotJSON{}},
		{Method: "GET", Path: "/api/lots/:lot/trace", Least: crew, Handle: (*Server).apiLotTrace, Says: "where a lot came from and went", JSON: true, Gives: lineage.Form{}, Query: traceQuery},
		{Method: "GET", Path: "/api/trace", Least: crew, Handle: (*Server).apiTrace, Says: "what had to do with a subject", JSON: true, Gives: lineage.Form{},
			Query: append([]openapi.Query{{Name: "subject", Says: "a lot code, label:LOT/BAG, partner:CODE, their-lot:TEXT, station:CODE@FROM..TO, agent:CODE or person:CODE"}}, traceQuery...)},
		{Method: "GET", Path: "/api/stations/:station", Least: crew, Handle: (*Server).apiStation, Says: "what stands at a station, and what was there", JSON: true, Gives: stationJSON{}, Query: listQuery},
		{Method: "GET", Path: "/api/balance", Least: lead, Handle: (*Server).apiBalance, Says: "masses of a period", JSON: true, Gives: balanceJSON{}, Query: periodQuery},
		{Method: "GET", Path: "/api/week", Least: crew, Handle: (*Server).apiWeek, Says: "the windows of seven days", JSON: true, Gives: weekJSON{}, Query: weekQuery},
		{Method: "GET", Path: "/api/documents", Least: crew, Handle: (*Server).apiDocuments, Says: "the documents on file", JSON: true, Gives: documentsJSON{}, Query: listQuery},
		{Method: "GET", Path: "/api/reviews", Least: lead, Handle: (*Server).apiReviews, Says: "what was gone over, and what waits", JSON: true, Gives: reviewsJSON{}, Query: listQuery},
		{Method: "GET", Path: "/api/goods", Least: crew, Handle: (*Server).apiGoods, Says: "what stands where, and what the forms about goods choose from", JSON: true, Gives: offer.Offer{}},
		{Method: "GET", Path: "/api/findings", Least: crew, Handle: (*Server).apiFindings, Says: "the findings of now", JSON: true, Gives: findingsJSON{}, Query: findingsQuery},
		{Method: "GET", Path: "/api/people", Least: lead, Handle: (*Server).apiPeople, Says: "who is at the plant, and what they sign in with", JSON: true, Gives: staffJSON{}},
		{Method: "POST", Path: "/api/people/:person", Least: lead, Handle: (*Server).apiPerson, Says: "set or make a secret, unlock, end sign-ins", JSON: true, Takes: aJSON, Asks: secretAsk{}, Gives: secretDoneJSON{}},
		{Method: "GET", Path: "/api/devices", Least: lead, Handle: (*Server).apiDevices, Says: "the devices", JSON: true, Gives: devicesJSON{}},
		{Method: "POST", Path: "/api/devices", Least: lead, Handle: (*Server).apiMakeCode, Says: "make an enrolment code", JSON: true, Takes: aJSON, Asks: nameAsk{}, Gives: codeJSON{}, Makes: true},
		{Method: "POST", Path: "/api/devices/:device", Least: lead, Handle: (*Server).apiChangeDevice, Says: "rename or withdraw a device", JSON: true, Takes: aJSON, Asks: deviceAsk{}},
		{Method: "POST", Path: "/api/enrol", Least: nobody, Handle: (*Server).apiEnrol, Says: "become an enrolled device", JSON: true, Takes: aJSON, Asks: enrolAsk{}, Gives: auth.Device{}, Makes: true},
		{Method: "GET", Path: "/api/binders", Least: lead, Handle: (*Server).apiBinders, Says: "the last binders", JSON: true, Gives: bindersJSON{}},
		{Method: "POST", Path: "/api/binders", Least: lead, Handle: (*Server).apiMakeBinder, Says: "make a binder", JSON: true, Takes: aJSON, Asks: binderAsk{}, Gives: jobJSON{}, Makes: true},
		{Method: "GET", Path: "/api/binder/:job", Link: true, Least: lead, Handle: (*Server).apiBinder, Says: "how far a binder is", JSON: true, Gives: jobJSON{}},
		{Method: "GET", Path: "/api/binder/:job/file", Least: lead, Handle: (*Server).binderFile, Says: "download a binder", JSON: true, Media: binderMedia},
	}
}
