package pages

// plantCanned are the pages of plant.go, each with something in every part of it.
func plantCanned(f Frame, text string) []Page { return nil }
