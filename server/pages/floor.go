package pages

// Pages of pictures of the floor: weeks, stations, lots, balances, drills.

func floorPages() []Page { return nil }
