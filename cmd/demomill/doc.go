// Package demomill is the demo company's second plant: an invented bakehouse mill that takes malt from the demo's malt house, grinds it and
// sells the flour. It is kept small; what it is for is a trace that goes from one plant to the next.
//
// It is told what the malt house handed over to it, as any mill is by the papers, and writes what a mill's crew would: most receipts name the
// lot as the papers do, some as they read it off a bag or type it in a hurry. Its slips are few and listed in Slips. The same loads and
// the same last moment give the same records, byte for byte.
//
// It knows how a mill's days go and how an entry is written. It must not know the malt house's journal, how findings are judged, any database
// or HTTP.
package demomill
