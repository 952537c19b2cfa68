package server

// apiScenarios are those of the routes that answer programs.
func apiScenarios() map[string]scenario {
	return map[string]scenario{
		"GET /api/head":              {path: "/api/head", status: [4]int{401, 200, 200, 200}, words: []string{`"checkpoint":"quillmere.example/journal`}},
		"GET /api/events":            {path: "/api/events", status: [4]int{401, 403, 200, 200}, words: []string{"event: journal\nid: 3\ndata: {\"size\":3}\n"}},
		"GET /api/openapi.json":      {path: "/api/openapi.json", status: [4]int{200, 200, 200, 200}, words: []string{`"openapi": "3.1.0"`}, open: true},
		"GET /api/entries":           {path: "/api/entries?from=1&count=1", status: [4]int{401, 403, 200, 200}, words: []string{`"size":3`, `"next":2`, `"kind":"signoff"`}},
		"GET /api/entries/:position": {path: "/api/entries/2", status: [4]int{401, 403, 200, 200}, words: []string{"A gull got in", `"withdrawn":false`}},
		"GET /api/proof/:position":   {path: "/api/proof/2", status: [4]int{401, 200, 200, 200}, words: []string{"c2sp.org/tlog-proof@v1\nindex 2"}},
		"GET /api/plan":              {path: "/api/plan", status: [4]int{401, 403, 200, 200}, words: []string{`"sha256":`, "Vera Quist"}},
		"GET /api/lots":              {path: "/api/lots", status: [4]int{401, 403, 200, 200}, words: []string{`"lots":[]`}},
		"GET /api/lots/:lot":         {path: "/api/lots/L1", status: [4]int{401, 403, 404, 404}},
		"GET /api/lots/:lot/trace":   {path: "/api/lots/L1/trace", status: [4]int{401, 403, 404, 404}},
		"GET /api/trace":             {path: "/api/trace?subject=station:entrance", status: [4]int{401, 403, 200, 200}, words: []string{`"direction":"both"`}},
		"GET /api/stations/:station": {path: "/api/stations/warehouse", status: [4]int{401, 403, 200, 200}, words: []string{`"contents":[]`}},
		"GET /api/balance":           {path: "/api/balance", status: [4]int{401, 403, 403, 200}, words: []string{`"from":"2026-03-01","to":"2026-03-09"`}},
		"GET /api/week":              {path: "/api/week", status: [4]int{401, 403, 200, 200}, words: []string{`"from":"2026-03-09","to":"2026-03-15"`, `"task":"hygiene-check"`}},
		"GET /api/documents":         {path: "/api/documents", status: [4]int{401, 403, 200, 200}, words: []string{`"documents":[]`}},
		"GET /api/reviews":           {path: "/api/reviews", status: [4]int{401, 403, 403, 200}, words: []string{`"day":"2026-03-09"`}},
		"GET /api/binders":           {path: "/api/binders", status: [4]int{401, 403, 403, 200}, words: []string{`"binders":[]`}},
		"POST /api/binders": {path: "/api/binders", body: func(string) []byte { return []byte(`{"from":"2026-03-01","to":"2026-03-09"}`) }, media: "application/json",
			status: [4]int{401, 403, 403, 201}, words: []string{`"from":"2026-03-01"`}},
		"GET /api/binder/:job/file": {path: "/api/binder/none/file", status: [4]int{401, 403, 403, 404}},
		"POST /api/entries":         {path: "/api/entries", body: func(as string) []byte { return draftJSON(as) }, media: "application/json", status: [4]int{401, 403, 201, 201}, words: []string{`"position":3`}},
		"PUT /api/photos/:key":      {path: "/api/photos/" + hexOf(sum(aPicture)), body: func(string) []byte { return aPicture }, media: "image/png", status: [4]int{401, 403, 201, 201}, words: []string{hexOf(sum(aPicture))}},
		"GET /api/goods":            {path: "/api/goods", status: [4]int{401, 403, 200, 200}, words: []string{`"code":"silo-1"`, `"Odell Brook Farm"`}},
		"GET /api/findings":         {path: "/api/findings", status: [4]int{401, 403, 200, 200}, words: []string{`"rule":"deviation"`, "A gull got in"}},
		"GET /api/binder/:job":      {path: "/api/binder/none", status: [4]int{401, 403, 403, 404}},
	}
}
