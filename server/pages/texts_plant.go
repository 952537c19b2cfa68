package pages

// plantTexts are the texts of the plan, people, devices, links, the plant network and printed sheets.
var plantTexts = map[string]said{}
