package bigplant

import (
	"fmt"
	"strings"

	"grainward/records"
)

const (
	houses = 8 // each malts a batch a day; the last one wheat every other week
	floors = 5 // of a house: a bed stays five days
	steeps = 2 // of a house: grain stays two days
	crew   = 64
	leads  = 4
	doors  = 4 // with a footwear change each
	rooms  = 20
	buyers = 24
)

// station is the code of a house's own station.
func station(kind string, house int) records.StationCode {
	return records.StationCode(fmt.Sprintf("%s-%d", kind, house+1))
}

// nth is the code of one of a house's several stations of a kind.
func nth(kind string, house, n int) records.StationCode {
	return records.StationCode(fmt.Sprintf("%s-%d-%d", kind, house+1, n+1))
}

func crewCode(i int) records.PersonCode { return records.PersonCode(fmt.Sprintf("crew-%02d", i+1)) }
func leadCode(i int) records.PersonCode { return records.PersonCode(fmt.Sprintf("lead-%d", i+1)) }
func buyer(i int) records.PartnerCode   { return records.PartnerCode(fmt.Sprintf("buyer-%02d", i+1)) }

var suppliers = []records.PartnerCode{"fallow-end", "three-gates", "marl-hill"}

var (
	givenNames  = []string{"Alder", "Bryn", "Calla", "Davin", "Esme", "Fenn", "Greer", "Hollis"}
	familyNames = []string{"Ashlock", "Birchall", "Copperidge", "Dunmere", "Eldwick", "Furrow", "Gannet", "Harrowby"}
)

// written is the plan's text.
func written() string {
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	b.WriteString(planHead)
	stations(p)
	b.WriteString(planMiddle)
	for _, f := range suppliers {
		p("  - {code: %s, name: Farm %s, address: 1 Furlong Road, roles: [supplier, feed-farm], certificates: [%s-organic], contacts: [{name: Yard, phone: 555-0100, hours: 24h}]}", f, f, f)
	}
	for i := range buyers {
		p("  - {code: %s, name: Buyer %d, address: %d Market Street, roles: [customer], contacts: [{name: Goods in, phone: 555-02%02d, hours: 24h}]}", buyer(i), i+1, i+1, i)
	}
	p("people:")
	for i := range leads {
		p("  - {code: %s, name: Lead %s, initials: L%d, role: lead, languages: [en]}", leadCode(i), familyNames[i], i+1)
	}
	for i := range crew {
		p("  - {code: %s, name: %s %s, initials: C%d, role: crew, languages: [en], trained: [{task: floor-scrub, on: 2009-12-07}, {task: changeover-clean, on: 2009-12-07}]}",
			crewCode(i), givenNames[i%8], familyNames[i/8], i+1)
	}
	p("documents:")
	for _, d := range papers() {
		p("  - {code: %s, title: %s, of: %s%s}", d.Code, d.Title, d.Subject.Of, map[bool]string{true: ", about: " + d.Subject.Code}[d.Subject.Code != ""])
	}
	p("tasks:")
	for i := range tasks {
		tasks[i].write(p)
	}
	return b.String()
}

func stations(p func(string, ...any)) {
	one := func(code records.StationCode, kind, holds, more string) {
		p("  - {code: %s, title: %s, kind: %s, holds: %s%s}", code, code, kind, holds, more)
	}
	for h := range houses {
		one(station("pit", h), "receiving pit", "passes", ", zone: outside")
		one(station("conveyor", h), "conveyor", "passes", ", zone: dry")
		one(station("silo", h), "silo", "mixed", ", capacity: 60 ton, zone: outside")
		for n := range steeps {
			one(nth("steep", h, n), "steep tank", "mixed", ", capacity: 14 ton, zone: food-grade")
		}
		for n := range floors {
			one(nth("floor", h, n), "germination floor", "separate", ", capacity: 20 ton, zone: food-grade")
		}
		one(station("kiln", h), "kiln", "separate", ", capacity: 20 ton, zone: food-grade")
		one(station("bin", h), "bin", "separate", ", capacity: 14 ton, zone: dry")
		one(station("cleaner", h), "cleaner", "passes", ", zone: dry")
		one(station("clean-bin", h), "bin", "separate", ", capacity: 14 ton, zone: dry")
		one(station("bagger", h), "bagger", "passes", ", zone: dry")
	}
	one("warehouse", "store", "separate", ", packaged: true, zone: dry")
	one("by-product", "store", "separate", ", packaged: true, zone: outside")
	one("bench", "laboratory", "nothing", ", zone: office")
	for n := range doors {
		one(records.StationCode(fmt.Sprintf("door-%d", n+1)), "footwear change", "nothing", ", zone: food-grade")
	}
	for n := range rooms {
		one(records.StationCode(fmt.Sprintf("room-%02d", n+1)), "room", "nothing", ", zone: dry")
	}
}

const planHead = `grainward: 1
plant:
  {name: Bigplant Malt House, address: 1 Measure Road, zone: America/New_York, units: lb, languages: [en], since: 2010-01-04}
profile:
  allergens: [US]
  reviewWorkingDays: 7
  lateEntry: 12h
  keepYears: {food: 2, organic: 5}
  reviewFamilies: [sanitation, footwear, floor, clean-out, turning, monitoring, pest, water, calibration]
  clauses:
    - {cite: 21 CFR 117.35(a), title: Clean and in repair}
    - {cite: 21 CFR 117.145, title: Monitoring as the plan says}
    - {cite: 7 CFR 205.272, title: No commingling}
stations:
`

const planMiddle = `grades:
  - {code: swept, title: Swept empty}
  - {code: stripped, title: Taken apart and vacuumed}
  - {code: washed, title: Washed and sanitized}
changeovers:
  - {from: organic, to: organic+wheat, grade: swept}
  - {from: organic+wheat, to: organic, grade: stripped}
  - {from: "*", to: "*", grade: none, stations: [warehouse, by-product]}
items:
  - {code: barley, title: Barley, stage: raw}
  - {code: wheat, title: Wheat, stage: raw, allergens: [wheat]}
  - {code: steeped-barley, title: Steeped barley, stage: in-process, losses: [{process: steeping, dry: {min: 0, max: 2}}]}
  - {code: steeped-wheat, title: Steeped wheat, stage: in-process, allergens: [wheat], losses: [{process: steeping, dry: {min: 0, max: 2}}]}
  - {code: green-barley, title: Green malt, stage: in-process, losses: [{process: germination, dry: {min: 3, max: 8}}]}
  - {code: green-wheat, title: Green wheat malt, stage: in-process, allergens: [wheat], losses: [{process: germination, dry: {min: 3, max: 8}}]}
  - {code: kilned-barley, title: Kilned malt, stage: in-process, losses: [{process: kilning, dry: {min: 0, max: 2}}]}
  - {code: kilned-wheat, title: Kilned wheat malt, stage: in-process, allergens: [wheat], losses: [{process: kilning, dry: {min: 0, max: 2}}]}
  - code: malt-barley
    title: Barley malt
    stage: finished
    bestBy: {months: 6, from: kiln date}
    retained: {min: 5, max: 10}
    certificate: [{name: Moisture, unit: "%", typical: 3.8, limits: {min: 3.0, max: 4.5}}, {name: Protein, unit: "%", typical: 11, limits: {max: 12.5}}]
    losses: [{process: cleaning, dry: {min: 0, max: 2}, byProduct: {min: 2, max: 6}}]
  - code: malt-wheat
    title: Wheat malt
    stage: finished
    allergens: [wheat]
    bestBy: {months: 6, from: kiln date}
    retained: {min: 5, max: 10}
    certificate: [{name: Moisture, unit: "%", typical: 3.8, limits: {min: 3.0, max: 4.5}}, {name: Protein, unit: "%", typical: 11, limits: {max: 12.5}}]
    losses: [{process: cleaning, dry: {min: 0, max: 2}, byProduct: {min: 2, max: 6}}]
  - {code: rootlets-barley, title: Rootlets, stage: by-product}
  - {code: rootlets-wheat, title: Wheat rootlets, stage: by-product, allergens: [wheat]}
agents:
  - {code: ozone-water, title: Ozonated water, organic: "yes", approval: approval-ozone}
  - {code: potable-water, title: Potable water, organic: "yes"}
instruments:
  - {code: floor-scale, title: Floor scale, station: bagger-1, calibration: scale-check, holds: 30h, uncertainty: 0.05, unit: lb}
  - {code: moisture-meter, title: Moisture meter, station: bench, calibration: meter-check, holds: 10d, uncertainty: 0.2, unit: "%"}
  - {code: bed-probe, title: Bed probe, station: bench, calibration: probe-check, holds: 10d, uncertainty: 0.5, unit: degF}
partners:
  - {code: cartway, name: Cartway Freight, address: 2 Depot Yard, roles: [carrier], contacts: [{name: Dispatch, phone: 555-0300, hours: 24h}]}
  - {code: assay-house, name: Assay House, address: 8 Assay Court, roles: [laboratory], contacts: [{name: Sample desk, phone: 555-0301, hours: 24h}]}
`
