package server

// officeRoutes are the routes of findings and what is done about them, reviews and documents.
func officeRoutes() []route {
	return []route{
		{Method: "GET", Path: "/findings", Link: true, Least: crew, Handle: (*Server).findings, Says: "what the records show"},
		{Method: "GET", Path: "/answer", Least: lead, Handle: (*Server).answerForm, Says: "the form to answer a finding"},
		{Method: "POST", Path: "/answer", Least: lead, Handle: (*Server).answer, Says: "answer a finding", Holds: true},
		{Method: "GET", Path: "/deviation", Least: crew, Handle: (*Server).deviationForm, Says: "the form to report that something went wrong"},
		{Method: "POST", Path: "/deviation", Least: crew, Handle: (*Server).deviation, Says: "report that something went wrong", Uploads: true, Holds: true},
		{Method: "GET", Path: "/excuse", Least: lead, Handle: (*Server).excuseForm, Says: "choose a stretch of work to excuse, then see what that covers"},
		{Method: "POST", Path: "/excuse", Least: lead, Handle: (*Server).excuse, Says: "excuse a stretch of work", Holds: true},
		{Method: "GET", Path: "/holds", Least: crew, Handle: (*Server).holds, Says: "lots that are held or rejected"},
		{Method: "GET", Path: "/hold", Least: crew, Handle: (*Server).holdForm, Says: "the form to hold lots"},
		{Method: "POST", Path: "/hold", Least: crew, Handle: (*Server).holdLots, Says: "hold lots", Holds: true},
		{Method: "GET", Path: "/release", Least: lead, Handle: (*Server).releaseForm, Says: "the form to release or reject lots"},
		{Method: "POST", Path: "/release", Least: lead, Handle: (*Server).freeLots, Says: "release or reject lots", Holds: true},
		{Method: "GET", Path: "/result", Least: crew, Handle: (*Server).resultForm, Says: "the form to write a lot's test result down"},
		{Method: "POST", Path: "/result", Least: crew, Handle: (*Server).result, Says: "write a lot's test result down", Holds: true},
		{Method: "GET", Path: "/reword/:position", Least: crew, Handle: (*Server).rewordForm, Says: "the form to correct what an entry says"},
		{Method: "POST", Path: "/reword/:position", Least: crew, Handle: (*Server).reword, Says: "correct what an entry says", Holds: true},
		{Method: "GET", Path: "/reviews", Least: lead, Handle: (*Server).reviews, Says: "days with records to review"},
		{Method: "GET", Path: "/review/:day", Least: lead, Handle: (*Server).reviewForm, Says: "the records written on one day, to be reviewed"},
		{Method: "POST", Path: "/review/:day", Least: lead, Handle: (*Server).signReview, Says: "sign that records were reviewed", Holds: true},
		{Method: "GET", Path: "/documents", Least: crew, Handle: (*Server).documents, Says: "the register of documents, calibrations and training"},
		{Method: "GET", Path: "/documents/new", Least: lead, Handle: (*Server).documentForm, Says: "the form to put a document on file"},
		{Method: "POST", Path: "/documents", Least: lead, Handle: (*Server).fileDocument, Says: "put a document on file", Uploads: true, Papers: true, Holds: true},
		{Method: "GET", Path: "/document/:code", Least: crew, Handle: (*Server).document, Says: "a document, what relies on it, and every filing of it"},
		{Method: "GET", Path: "/document/:code/file/:position", Link: true, Least: crew, Handle: (*Server).documentFile, Says: "download the file of a filing"},
	}
}
