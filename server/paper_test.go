package server

import (
	"net/url"

	"grainward/records"
)

// paperScenarios are the routes of sheets to print and of what is typed in from them.
func paperScenarios() map[string]scenario {
	form := func(pairs ...string) func(string) url.Values {
		return func(as string) url.Values {
			v := url.Values{"as": {as}, "id": {records.NewEntryID().String()}}
			for i := 0; i < len(pairs); i += 2 {
				v.Set(pairs[i], pairs[i+1])
			}
			return v
		}
	}
	return map[string]scenario{
		"GET /sheets":               {path: "/sheets", status: [4]int{303, 403, 403, 200}, words: []string{"Blank log sheets"}},
		"GET /sheets/stations":      {path: "/sheets/stations", status: [4]int{303, 403, 403, 200}, words: []string{"/crew?station=floor-1"}},
		"GET /sheets/log":           {path: "/sheets/log?day=2026-03-09", status: [4]int{303, 403, 403, 200}, words: []string{"floor-1.2026-03-09"}},
		"GET /paper":                {path: "/paper?sheet=entrance.2026-03-09", status: [4]int{303, 403, 200, 200}, words: []string{"/paper/hygiene-check/entrance"}},
		"POST /paper":               {path: "/paper", form: form("sheet", "entrance.2026-03-09"), status: [4]int{401, 403, 422, 422}, words: []string{"Choose a photo first."}},
		"GET /paper/:task/:station": {path: "/paper/hygiene-check/entrance?sheet=entrance.2026-03-09", status: [4]int{303, 403, 200, 200}, words: []string{"Who signed it on paper?"}},
		"POST /paper/:task/:station": {path: "/paper/hygiene-check/entrance", status: [4]int{401, 403, 303, 303},
			form: form("sheet", "entrance.2026-03-09", "whose", "grete", "clock", "06:10", "outcome", "passed", "a-fit", "yes", "a-hands", "yes", "a-clothes", "yes")},
	}
}
