package pages

// crewTexts are the texts of the crew page that works without the network.
var crewTexts = map[string]said{}
