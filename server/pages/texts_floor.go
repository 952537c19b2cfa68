package pages

// floorTexts are the texts of pictures of the floor: weeks, stations, lots, balances, drills.
var floorTexts = map[string]said{}
