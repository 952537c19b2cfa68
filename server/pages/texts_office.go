package pages

// officeTexts are the texts of findings and what a lead does about them, reviews, documents.
var officeTexts = map[string]said{}
