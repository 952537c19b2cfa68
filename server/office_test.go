package server

import (
	"net/url"

	"grainward/records"
)

// officeScenarios are the routes of findings, forms of the office, reviews and documents.
func officeScenarios() map[string]scenario {
	form := func(pairs ...string) func(string) url.Values {
		return func(as string) url.Values {
			v := url.Values{"as": {as}, "id": {records.NewEntryID().String()}}
			for i := 0; i < len(pairs); i += 2 {
				v.Set(pairs[i], pairs[i+1])
			}
			return v
		}
	}
	answer := form("finding", someFinding, "cause", "c", "action", "a", "lots", "none", "prevention", "p", "closes", "no", "again", thePassword)
	span := "from=2026-03-09T00%3A00&to=2026-03-10T00%3A00"
	return map[string]scenario{
		"GET /findings":                      {path: "/findings", status: [4]int{303, 403, 200, 200}, words: []string{"What the records show", "A gull got in", "The certifier and the authority having jurisdiction decide", "Overdue right now"}},
		"GET /answer":                        {path: "/answer?finding=" + url.QueryEscape(someFinding), status: [4]int{303, 403, 403, 200}, words: []string{"What was the cause?", "Weekly walk round"}},
		"POST /answer":                       {path: "/answer", form: answer, status: [4]int{401, 403, 403, 303}},
		"GET /deviation":                     {path: "/deviation", status: [4]int{303, 403, 200, 200}, words: []string{"Say what you saw"}},
		"POST /deviation":                    {path: "/deviation", form: form("what", "A bag burst."), status: [4]int{401, 403, 303, 303}},
		"GET /excuse":                        {path: "/excuse?" + span, status: [4]int{303, 403, 403, 200}, words: []string{"It covers these windows", "Why is it excused?"}},
		"POST /excuse":                       {path: "/excuse", form: form("from", "2026-03-09T00:00", "to", "2026-03-10T00:00", "reason", "flood", "again", thePassword), status: [4]int{401, 403, 403, 303}},
		"GET /holds":                         {path: "/holds", status: [4]int{303, 403, 200, 200}, words: []string{"No lot is held or rejected."}},
		"GET /hold":                          {path: "/hold?lot=B1", status: [4]int{303, 403, 200, 200}, words: []string{"Hold lots", "Lots that are not in the list"}},
		"POST /hold":                         {path: "/hold", form: form("lots", "B1", "why", "wet", "unknown", "yes"), status: [4]int{401, 403, 303, 303}},
		"GET /release":                       {path: "/release?lot=B1", status: [4]int{303, 403, 403, 200}, words: []string{"What becomes of them?"}},
		"POST /release":                      {path: "/release", form: form("lots", "B1", "outcome", "rejected", "why", "wet", "unknown", "yes", "again", thePassword), status: [4]int{401, 403, 403, 303}},
		"GET /result":                        {path: "/result?lot=B1", status: [4]int{303, 403, 200, 200}, words: []string{"Who measured it?", "Our own bench"}},
		"POST /result":                       {path: "/result", form: form("lot", "B1", "fn0", "Moisture", "fv0", "4.5", "fu0", "%"), status: [4]int{401, 403, 303, 303}},
		"GET /reword/:position":              {path: "/reword/2", status: [4]int{303, 403, 403, 200}},
		"POST /reword/:position":             {path: "/reword/2", form: form("what", "A crow got in.", "reason", "looked again", "again", thePassword), status: [4]int{401, 403, 403, 303}},
		"GET /reviews":                       {path: "/reviews", status: [4]int{303, 403, 403, 200}, words: []string{"Not reviewed yet", "2 of 2 open"}},
		"GET /review/:day":                   {path: "/review/2026-03-09", status: [4]int{303, 403, 403, 200}, words: []string{"A gull got in", "I do not accept this one", "You sign that you reviewed entries 1 to 2."}},
		"POST /review/:day":                  {path: "/review/2026-03-09", form: form("from", "1", "to", "2", "again", thePassword), status: [4]int{401, 403, 403, 303}},
		"GET /documents":                     {path: "/documents", status: [4]int{303, 403, 200, 200}, words: []string{"Water test of the year", "not on file", "Calibrations"}},
		"GET /documents/new":                 {path: "/documents/new?code=water-test", status: [4]int{303, 403, 403, 200}, words: []string{"The same code again is a renewal", `value="Water test of the year"`}},
		"POST /documents":                    {path: "/documents", form: form("code", "x", "title", "T", "type", "licence", "again", thePassword), status: [4]int{401, 403, 403, 422}, words: []string{"Choose the file."}},
		"GET /document/:code":                {path: "/document/water-test", status: [4]int{303, 403, 200, 200}, words: []string{"What relies on it", "The plan wants it on file."}},
		"GET /document/:code/file/:position": {path: "/document/water-test/file/1", status: [4]int{303, 403, 404, 404}},
	}
}
