package server

// floorScenarios are the routes of week, stations, lots, balance and drill.
func floorScenarios() map[string]scenario {
	return map[string]scenario{
		"GET /week":  {path: "/week", status: [4]int{303, 403, 200, 200}, words: []string{"Before the shift: fit, clean, hands washed", "table class=\"grid"}},
		"GET /month": {path: "/month", status: [4]int{303, 403, 200, 200}, words: []string{"March 2026"}},
		"GET /week/:day/:task/:station": {path: "/week/2026-03-09/footwear-check/entrance", status: [4]int{303, 403, 200, 200},
			words: []string{"Can be signed until", "Hank Osgood, "}},
		"GET /stations":          {path: "/stations?day=2026-03-09", status: [4]int{303, 403, 200, 200}, words: []string{"Silo 1", "Nothing is there by the records."}},
		"GET /stations/:station": {path: "/stations/silo-1", status: [4]int{303, 403, 200, 200}, words: []string{"There now", "Today’s work there"}},
	}
}
