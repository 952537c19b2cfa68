package demoplant

import (
	"fmt"
	"strings"

	"grainward/records"
)

// The customers' names are put together from syllables that mean nothing, so that none of them is anybody's: 20 x 10.
var (
	nameStarts = []string{"Bram", "Thal", "Quor", "Vesk", "Orrin", "Maddo", "Pell", "Wyst", "Grun", "Fenn", "Haldu", "Corv", "Sedge", "Lorn", "Tarv", "Ulm", "Ister", "Nevv", "Drosk", "Kell"}
	nameEnds   = []string{"omere", "ask", "inder", "oway", "urst", "ettle", "orrow", "ingle", "avane", "umble"}
	trades     = []string{"Brewing", "Bakehouse", "Distilling", "Brewing", "Homebrew Supply"}
	towns      = []string{"Gull Landing", "Tarn Hollow", "Heddle Creek", "Ostrey", "Weir End"}
)

// named are the customers that stand in plan.yaml itself.
var named = []records.PartnerCode{"lantern-dog", "crumb-and-crust", "owl-still"}

// customers is how many more are made up.
var customers = len(nameStarts) * len(nameEnds)

// customer is the nth of the made-up ones.
func customer(n int) records.PartnerCode {
	return records.PartnerCode(strings.ToLower(nameStarts[n%len(nameStarts)] + nameEnds[n/len(nameStarts)%len(nameEnds)]))
}

// customerRows are their rows of the plan. They differ with nothing but their number, so that every plant has the same.
func customerRows() string {
	var b strings.Builder
	for n := range customers {
		code := string(customer(n))
		name := strings.ToUpper(code[:1]) + code[1:] + " " + trades[n%len(trades)]
		// 555-0100 to 555-0199 are kept for invented people.
		fmt.Fprintf(&b, "  - {code: %s, name: %s, address: '%d %s Row, %s, New York', roles: [customer], contacts: [{name: Goods in, phone: 555-01%02d ext %d, hours: %s}]}\n",
			code, name, n+1, nameStarts[(n+7)%len(nameStarts)], towns[n%len(towns)], n%70, n/70+1, []string{"24h", "8 to 17"}[n%2])
	}
	return b.String()
}
