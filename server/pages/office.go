package pages

// Pages of what a lead does about findings, reviews, documents.

func officePages() []Page { return nil }
