package audit

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"grainward/records"
)

// tale is a history and what comes of it: exactly these findings, so that every rule it does not name must not speak.
type tale struct {
	name  string
	spoil func(w *week)
	want  []string // rule and severity, in order of name
	says  string   // part of the sentence of the first of them, when it matters
}

func sold(w *week, mass string, bags int, use records.Use, to records.PartnerCode) *records.Handover {
	h := *w.sale
	h.Weight, h.Bags, h.Use, h.To = pound(mass), bags, use, to
	return &h
}

// tales stand beside the figures they show: where a figure is law or handbook, its check value of the register is named.
var tales = []tale{
	{name: "a week without fault", spoil: func(*week) {}},

	// C06 21 CFR 1.337(a): six particulars (seen in part)
	{name: "nobody wrote down the variety", spoil: func(w *week) { w.receipt.Variety = "" }, want: []string{"receipt-particulars minor"}, says: "what it is, with its variety"},
	{name: "their lot is left out", spoil: func(w *week) { w.receipt.TheirLot = "" }, want: []string{"receipt-particulars note"}, says: "their lot"},
	{name: "nobody knows who brought it, nor how it was packed", spoil: func(w *week) { w.receipt.Vehicle.Carrier, w.receipt.Packaging = "", "" }, want: []string{"receipt-particulars major"}, says: "how it was packed (“bulk” is an answer); who brought it"},
	{name: "an item the plan does not have", spoil: func(w *week) { w.receipt.Item = "spelt" }, want: []string{"receipt-particulars minor"}},
	{name: "a source the plan does not have", spoil: func(w *week) { w.receipt.Source = "stranger" },
		want: []string{"receipt-particulars major"}}, // its certificate is that of the last certified operation, which is named
	// C07 21 CFR 1.345(a): six particulars (seen)
	{name: "sold to one without a telephone", spoil: func(w *week) { w.sale.To = "baker" }, want: []string{"dispatch-particulars major"}, says: "who it went to"},
	{name: "nobody knows who took the by-product", spoil: func(w *week) { w.feed.Vehicle.Carrier = "" }, want: []string{"dispatch-particulars major"}, says: "who took it"},
	{name: "how it was packed is left out", spoil: func(w *week) { w.feed.Container, w.feed.Packaging = "", "" }, want: []string{"dispatch-particulars minor"}},
	{name: "to compost: no food any more, so no particulars", spoil: func(w *week) {
		w.feed.Use, w.feed.Vehicle, w.feed.Label, w.feed.Checked, w.feed.Status = records.Compost, records.Vehicle{}, "", nil, ""
	}},
	// C08 21 CFR 1.345(b): every finished lot back to receipts (seen in part)
	{name: "a quarter of the malt's grain was never received", spoil: func(w *week) {
		w.malting.Inputs = append(w.malting.Inputs, records.Input{Lot: "X1", From: "bin", Weight: pound("6000")})
		w.malting.Outputs[0].Weight, w.bagging.Inputs[0].Weight = pound("16500"), pound("16500")
	}, want: []string{"composition major", "composition major", "composition major", "origin-gap major", "origin-gap major", "short minor", "unknown-lot major"}},
	{name: "malt out of an empty heap", spoil: func(w *week) { w.malting.Inputs[0].From = "heap" }, want: []string{"nothing-there major", "origin-gap major", "origin-gap major"}},

	// C23 7 CFR 205.103(b)(2), 205.307(b) (second-hand)
	{name: "organic without a certificate", spoil: func(w *week) { w.receipt.Certificate = "" }, want: []string{"certificate-missing major"}},
	{name: "conventional needs none", spoil: func(w *week) {
		w.receipt.Certificate, w.receipt.LookedUp, w.receipt.Status = "", nil, records.Conventional
		for i := range w.malting.Outputs {
			w.malting.Outputs[i].Status = records.Conventional
		}
		w.bagging.Outputs[0].Status, w.sale.Status, w.feed.Status = records.Conventional, "", ""
	}},
	{name: "the certificate ran out the day before", spoil: func(w *week) { w.certificate.To = day("2025-03-02") }, want: []string{"certificate-lapsed major"}, says: "Organic certificate of Hazel Farm"},
	{name: "the certificate's last day", spoil: func(w *week) { w.certificate.To = day("2025-03-03") }},
	{name: "no certificate on file", spoil: func(w *week) { w.certificate = nil }, want: []string{"certificate-lapsed major"}},
	{name: "filed a week late", spoil: func(w *week) { w.extra, w.certificate = []told{{"2025-03-09 09:00", w.certificate}}, nil }},
	{name: "somebody else's certificate", spoil: func(w *week) {
		w.receipt.Certificate = "mill-organic"
		w.certificate.Code = "mill-organic"
	}, want: []string{"certificate-other minor"}},
	{name: "a broker names who had it last", spoil: func(w *week) { w.receipt.Source = "broker" }},
	{name: "a broker does not", spoil: func(w *week) { w.receipt.Source, w.receipt.LastCertified = "broker", "" }, want: []string{"certificate-other minor", "last-certified minor"}},
	{name: "the farm's own certificate says who had it last", spoil: func(w *week) { w.receipt.LastCertified = "" }},
	{name: "never looked up", spoil: func(w *week) { w.receipt.LookedUp = nil }, want: []string{"certificate-look-up minor"}, says: "not looked up"},
	{name: "looked up a day late", spoil: func(w *week) { w.receipt.LookedUp = day("2025-03-04") }, want: []string{"certificate-look-up note"}, says: "only on 2025-03-04"},
	// C22 7 CFR 205.307(a) (second-hand)
	{name: "a bulk load that nothing identifies", spoil: func(w *week) {
		w.receipt.TheirLot, w.receipt.Papers, w.receipt.Vehicle.Number, w.receipt.Vehicle.Seals = "", nil, "", nil
	}, want: []string{"container-unmarked minor", "receipt-particulars note"}},
	{name: "organic out without lot, papers or number", spoil: func(w *week) {
		w.sale.Lot, w.sale.Vehicle.Number, w.sale.Vehicle.Seals = "", "", nil
	}, want: []string{"container-unmarked minor"}},
	// C24 7 CFR 205.103(b)(3) (second-hand)
	{name: "sold without its status", spoil: func(w *week) { w.sale.Status = "" }, want: []string{"status-unnamed minor"}},
	{name: "made-with sold as organic", spoil: func(w *week) { w.bagging.Outputs[0].Status = records.MadeWith }, want: []string{"status-raised critical"}},
	{name: "organic sold as less", spoil: func(w *week) { w.sale.Status = records.MadeWith }},

	// custody
	{name: "nobody signed for the farm", spoil: func(w *week) { w.receipt.ReleasedBy = "" }, want: []string{"receipt-unsigned minor"}},
	{name: "unconfirmed for six days", spoil: func(w *week) { w.sale.Received, w.now = nil, "2025-03-13 23:59" }},
	{name: "unconfirmed for seven", spoil: func(w *week) { w.sale.Received, w.now = nil, "2025-03-14 00:01" }, want: []string{"unconfirmed note"}, says: "after 7 days"},
	{name: "unconfirmed for a fortnight", spoil: func(w *week) { w.sale.Received, w.now = nil, "2025-03-21 11:00" }, want: []string{"unconfirmed minor"}},
	{name: "unconfirmed for a month", spoil: func(w *week) { w.sale.Received, w.now = nil, "2025-04-07 11:00" }, want: []string{"unconfirmed major"}},
	{name: "confirmed after five weeks", spoil: func(w *week) {
		w.sale.Received, w.now = nil, "2025-04-30 11:00"
		w.extra = []told{{"2025-04-11 09:00", &records.Handover{Confirms: nthID(8), Lot: "P0", To: "brewer", Received: &records.Acceptance{By: "Sam", Mass: massOf("16480")}}}}
	}},
	{name: "confirmed by another", spoil: func(w *week) {
		w.sale.Received, w.now = nil, "2025-03-30 11:00"
		w.extra = []told{{"2025-03-11 09:00", &records.Handover{Confirms: nthID(8), To: "baker", Received: &records.Acceptance{By: "Pat"}}}}
	}, want: []string{"confirmed-other major", "unconfirmed minor"}},
	{name: "a confirmation of nothing", spoil: func(w *week) {
		w.extra = []told{{"2025-03-09 09:00", &records.Handover{Confirms: nthID(99), To: "brewer", Received: &records.Acceptance{By: "Sam"}}}}
	}, want: []string{"unknown-confirmation minor"}},
	{name: "signed for before it left", spoil: func(w *week) {
		w.sale.Received.At = records.Instant(1741348800000) // 2025-03-07 07:00 in New York; it left at 10:00
	}, want: []string{"received-early minor"}},
	// tolerance: 2 x sqrt(0.5² + 0.5²) % = 1.41 % where the plan has no better; 20,000 lb: 283 lb (computed)
	{name: "masses apart by what scales explain", spoil: func(w *week) { w.receipt.Theirs = massOf("20283") }},
	{name: "masses apart by more", spoil: func(w *week) { w.receipt.Theirs = massOf("20290") }, want: []string{"mass-differs minor"}},
	{name: "masses far apart", spoil: func(w *week) { w.receipt.Theirs = massOf("21100") }, want: []string{"mass-differs major"}, says: "Hazel Farm has 21100 lb, we have 20000 lb"},
	{name: "the farm got less", spoil: func(w *week) { w.feed.Received.Mass = massOf("550") }, want: []string{"mass-differs major"}},
	{name: "less by a later confirmation", spoil: func(w *week) {
		w.sale.Received = nil
		w.extra = []told{{"2025-03-09 09:00", &records.Handover{Confirms: nthID(8), To: "brewer", Weight: pound("16000"), Received: &records.Acceptance{By: "Sam"}}}}
	}, want: []string{"mass-differs minor"}},
	{name: "another seal", spoil: func(w *week) { w.receipt.Vehicle.Seals = []records.Seal{{Papers: "S100", Found: "S101"}} }, want: []string{"seal-differs major"}},
	{name: "a seal that nobody read", spoil: func(w *week) { w.receipt.Vehicle.Seals = []records.Seal{{Papers: "S100"}} }, want: []string{"seal-unread minor"}},
	{name: "our own seal, not yet read at the other end", spoil: func(w *week) { w.sale.Vehicle.Seals = []records.Seal{{Papers: "S9"}} }},
	{name: "another seal at the other end", spoil: func(w *week) { w.sale.Vehicle.Seals = []records.Seal{{Papers: "S9", Found: "S8"}} }, want: []string{"seal-differs major"}},
	{name: "nobody looked into the truck", spoil: func(w *week) { w.receipt.Vehicle.Clean = nil }, want: []string{"vehicle-unchecked minor"}},
	{name: "a dirty truck", spoil: func(w *week) { w.receipt.Vehicle.Clean = no() }, want: []string{"vehicle-unclean major"}},
	{name: "nobody looked into the truck out", spoil: func(w *week) { w.sale.Vehicle.Clean = nil }, want: []string{"vehicle-unchecked minor"}},
	{name: "a dirty truck out", spoil: func(w *week) { w.sale.Checked = no() }, want: []string{"vehicle-unclean major"}},

	// through a warehouse
	{name: "stored, then sold on", spoil: func(w *week) {
		w.sale.To, w.sale.Use = "depot", records.Storage
		on := sold(w, "5500", 100, records.Sale, "brewer")
		on.From, on.FromHolder, on.Vehicle.Clean = "", "depot", nil // we do not see the depot's trucks
		w.extra = []told{{"2025-03-08 09:00", on}}
	}},
	{name: "the depot sells what it has not", spoil: func(w *week) {
		half := sold(w, "5500", 100, records.Storage, "depot")
		w.sale.Weight, w.sale.Bags = pound("11000"), 200
		on := sold(w, "8000", 145, records.Sale, "brewer")
		on.From, on.FromHolder = "", "depot"
		w.extra = []told{{"2025-03-07 12:00", half}, {"2025-03-08 09:00", on}}
	}, want: []string{"not-holder major"}, says: "Quay Depot handed on 2500.0 lb more of lot P0"},
	{name: "sold from our own floor while it stood in the depot", spoil: func(w *week) {
		all := sold(w, "16500", 300, records.Storage, "depot")
		w.extra = []told{{"2025-03-06 17:00", all}}
	}, want: []string{"two-places major"}, says: "not there but at Quay Depot"},

	// what can not be true together
	{name: "taken from the shed while it stood in the warehouse", spoil: func(w *week) { w.sale.From = "shed" }, want: []string{"two-places major"}, says: "not there but at Warehouse"},
	{name: "more sold than there was", spoil: func(w *week) { w.sale.Weight = pound("17000") }, want: []string{"short minor"}, says: "500.0 lb more of lot P0"},
	{name: "more by what scales explain", spoil: func(w *week) { w.sale.Weight = pound("16600") }},
	{name: "a move of a lot nobody knows", spoil: func(w *week) {
		w.extra = []told{{"2025-03-08 09:00", &records.Move{Lot: "Q1", From: "shed", To: "bin", Weight: pound("10")}}}
	}, want: []string{"short minor", "unknown-lot major"}},
	{name: "the same lot again as wheat", spoil: func(w *week) {
		again := *w.receipt
		again.Status = records.Conventional
		again.Certificate, again.LookedUp = "", nil
		w.extra = []told{{"2025-03-03 12:00", &again}}
		w.malting.Inputs[0].Weight = pound("40000")
	}, want: []string{"composition major", "composition major", "composition major", "two-kinds major"}},
	{name: "no lot named where several stand", spoil: func(w *week) {
		w.extra = []told{{"2025-03-06 11:00", &records.Move{From: "shed", To: "warehouse", Lot: "R0", Weight: pound("100")}},
			{"2025-03-06 12:00", &records.Move{From: "warehouse", To: "bin", Weight: pound("10")}}}
		w.feed.Weight, w.feed.Received.Mass = pound("500"), nil
	}, want: []string{"which-lot major"}},
	{name: "a lot made from itself", spoil: func(w *week) {
		w.extra = []told{{"2025-03-06 11:00", &records.Process{Process: "cleaning", Station: "bagger", Inputs: []records.Input{{Lot: "R0", From: "shed", Weight: pound("600")}},
			Outputs: []records.Output{{Lot: "R0", Item: "rootlets", Status: records.Organic, To: "shed", Weight: pound("600"), Container: "tote 5"}}}}}
	}, want: []string{"cycle minor"}},

	// C18 21 CFR 117.95(a)(3), (b), (c) (seen)
	{name: "by-product without a container", spoil: func(w *week) { w.malting.Outputs[1].Container = "" }, want: []string{"by-product-unlabelled minor"}},
	{name: "feed without its name", spoil: func(w *week) { w.feed.Label = " " }, want: []string{"feed-unnamed minor"}},
	{name: "container not looked at", spoil: func(w *week) { w.feed.Checked = nil }, want: []string{"feed-unchecked major"}},
	{name: "the farm hauls for itself", spoil: func(w *week) { w.feed.Checked, w.feed.Vehicle.Carrier = nil, "pig-farm" }},
	{name: "container unfit", spoil: func(w *week) { w.feed.Checked = no() }, want: []string{"vehicle-unclean major"}},
	// 14 days on site: common practice, no source
	{name: "by-product on site for a fortnight", spoil: func(w *week) { w.feed, w.now = nil, "2025-03-19 23:59" }},
	{name: "by-product on site for longer", spoil: func(w *week) { w.feed, w.now = nil, "2025-03-20 00:01" }, want: []string{"by-product-old minor"}},
	{name: "collected late", spoil: func(w *week) {
		w.extra, w.feed, w.now = []told{{"2025-03-25 09:00", w.feed}}, nil, "2025-03-26 10:00"
	}, want: []string{"by-product-old minor"}},
	{name: "feed beside waste, in totes of their own", spoil: func(w *week) { waste(w, "shed", "bin 9") }},
	{name: "feed and waste in one tote", spoil: func(w *week) { waste(w, "shed", "Tote 4") }, want: []string{"feed-with-waste major"}},
	{name: "feed beside loose waste", spoil: func(w *week) { waste(w, "shed", "") }, want: []string{"feed-with-waste major"}},
	{name: "waste carried past the feed", spoil: func(w *week) {
		waste(w, "bin", "")
		w.extra = []told{{"2025-03-06 11:00", &records.Move{Lot: "W0", From: "bin", To: "warehouse", Via: []records.StationCode{"shed"}, Weight: pound("100"), Last: true}}}
	}},
	{name: "waste comes as the feed goes", spoil: func(w *week) {
		waste(w, "bin", "")
		w.extra = []told{{"2025-03-07 09:00", &records.Move{Lot: "W0", From: "bin", To: "shed", Weight: pound("100"), Last: true}}}
	}},
	{name: "waste elsewhere", spoil: func(w *week) { waste(w, "bin", "") }},
	{name: "feed and waste on one heap", spoil: func(w *week) {
		w.malting.Outputs[1].To, w.feed.From = "heap", "heap"
		waste(w, "heap", "bin 9")
	}, want: []string{"feed-with-waste major", "waste-as-feed major"}},
	{name: "waste goes out as feed", spoil: func(w *week) { w.malting.Outputs[1].Disposal = "fell on the floor" }, want: []string{"waste-as-feed major"}, says: "(fell on the floor)"},
	{name: "waste is sold to people", spoil: func(w *week) { w.bagging.Outputs[0].Disposal = "smells" }, want: []string{"waste-as-feed critical"}},
	{name: "waste goes to the landfill", spoil: func(w *week) { w.malting.Outputs[1].Disposal, w.feed.Use = "mouldy", records.Landfill }},
	// C19 21 CFR 507.12(a) (seen)
	{name: "rootlets pelleted for the farm", spoil: func(w *week) { furtherMade(w, "Pelleting") }, want: []string{"feed-processed major"}},
	{name: "rootlets screened for the farm", spoil: func(w *week) { furtherMade(w, "screening") }},
	// C53 FDA advisory levels for feed, 2010 (numbers second-hand)
	{name: "feed with 5 ppm DON", spoil: func(w *week) { found(w, "R0", measure("DON", "5", "ppm")) }},
	{name: "feed with more", spoil: func(w *week) { found(w, "R0", measure("DON", "5001", "ug/kg")) }, want: []string{"don-feed minor"}},
	{name: "feed with more than 10 ppm", spoil: func(w *week) { found(w, "R0", measure("Deoxynivalenol (DON)", "10.1", "mg/kg")) }, want: []string{"don-feed major"}},
	{name: "feed of grain with more than 5 ppm", spoil: func(w *week) { found(w, "B0", measure("DON", "6", "ppm")) }, want: []string{"don-feed minor"}, says: "lot B0 was found with 6 ppm"},

	// C17 21 CFR 117.110(b) (seen)
	{name: "a held lot is sold", spoil: func(w *week) { stop(w, "2025-03-07 08:00", "P0") }, want: []string{"stopped-shipped critical"}, says: "was held on 2025-03-07"},
	{name: "held and freed, then sold", spoil: func(w *week) { stop(w, "2025-03-07 08:00", "P0"); release(w, "2025-03-07 09:00", false, "P0") }},
	{name: "sold before it was held", spoil: func(w *week) { stop(w, "2025-03-07 11:00", "P0") }},
	{name: "a rejected lot is sold", spoil: func(w *week) { release(w, "2025-03-07 09:00", true, "P0") }, want: []string{"stopped-shipped critical"}, says: "was rejected"},
	{name: "a rejected lot is held besides and sold", spoil: func(w *week) {
		release(w, "2025-03-07 08:00", true, "P0")
		stop(w, "2025-03-07 09:00", "P0")
	}, want: []string{"stopped-shipped critical"}, says: "was rejected"},
	{name: "a rejected lot is freed again", spoil: func(w *week) {
		release(w, "2025-03-07 08:00", true, "P0")
		release(w, "2025-03-07 09:00", false, "P0")
	}},
	{name: "sold while rejected, freed later", spoil: func(w *week) {
		release(w, "2025-03-07 08:00", true, "P0")
		release(w, "2025-03-08 09:00", false, "P0")
	}, want: []string{"stopped-shipped critical"}},
	{name: "a sample of a held lot goes to the laboratory", spoil: func(w *week) {
		stop(w, "2025-03-06 11:00", "P0")
		release(w, "2025-03-07 09:00", false, "P0")
		w.extra = append(w.extra, told{"2025-03-06 12:00", sold(w, "2", 0, records.ForTest, "lab")})
	}},
	{name: "rejected by-product goes to the farm", spoil: func(w *week) { release(w, "2025-03-07 08:00", true, "R0") }, want: []string{"stopped-shipped major"}},
	{name: "malt rejected for people goes to the farm", spoil: func(w *week) {
		release(w, "2025-03-07 08:00", true, "P0")
		w.sale.Use, w.sale.To, w.sale.Label = records.Feed, "pig-farm", "malt"
	}, want: []string{"stopped-shipped minor"}},
	{name: "rejected goes to compost", spoil: func(w *week) { release(w, "2025-03-07 08:00", true, "P0"); w.sale.Use = records.Compost }},
	{name: "held goes to compost", spoil: func(w *week) { stop(w, "2025-03-07 08:00", "P0"); w.sale.Use = records.Compost }, want: []string{"stopped-shipped minor"}},
	{name: "held goes to the farm", spoil: func(w *week) { stop(w, "2025-03-07 08:00", "R0") }, want: []string{"stopped-shipped major"}},
	{name: "a held lot is moved", spoil: func(w *week) {
		stop(w, "2025-03-06 11:00", "P0")
		w.extra = append(w.extra, told{"2025-03-06 12:00", &records.Move{Lot: "P0", From: "warehouse", To: "bin", Weight: pound("16500"), Last: true}})
		w.sale = nil
	}, want: []string{"stopped-moved minor"}, says: "moved from Warehouse to Bin"},
	{name: "a held lot becomes part of a good one", spoil: func(w *week) { stop(w, "2025-03-05 12:00", "M0") }, want: []string{"stopped-made critical"}, says: "became part of lot P0 by bagging"},
	{name: "a rejected lot becomes part of a good one", spoil: func(w *week) { release(w, "2025-03-04 12:00", true, "B0") }, want: []string{"rejected-parent major", "stopped-made critical"}},
	{name: "a rejected lot becomes waste", spoil: func(w *week) {
		release(w, "2025-03-05 12:00", true, "M0")
		w.bagging.Outputs[0].Disposal, w.bagging.Outputs[0].BestBy, w.bagging.Outputs[0].Bags = "rejected", nil, 0
		w.sale.Use, w.result = records.Landfill, nil
	}},
	{name: "a held lot becomes waste", spoil: func(w *week) {
		stop(w, "2025-03-05 12:00", "M0")
		w.bagging.Outputs[0].Disposal, w.bagging.Outputs[0].BestBy, w.bagging.Outputs[0].Bags = "held", nil, 0
		w.sale.Use, w.result = records.Landfill, nil
	}, want: []string{"stopped-used minor"}},
	{name: "grain rejected after it was malted", spoil: func(w *week) { release(w, "2025-03-08 12:00", true, "B0") }, want: []string{"rejected-parent major", "rejected-parent major"}},
	{name: "and all made of it held", spoil: func(w *week) {
		release(w, "2025-03-08 12:00", true, "B0")
		stop(w, "2025-03-08 13:00", "M0", "P0", "R0")
	}},

	// best-by: the plan's calendar months
	{name: "kilned on the last of August", spoil: func(w *week) { kilned(w, "2024-08-31", "2025-02-28") }, want: []string{"best-by-passed major"}},
	{name: "labelled a day late", spoil: func(w *week) { w.bagging.Outputs[0].BestBy = day("2025-09-06") }, want: []string{"best-by-late major"}, says: "6 months from kiln date (2025-03-05) is 2025-09-05"},
	{name: "labelled a day early", spoil: func(w *week) { w.bagging.Outputs[0].BestBy = day("2025-09-04") }, want: []string{"best-by-early note"}},
	{name: "bagged without a date", spoil: func(w *week) { w.bagging.Outputs[0].BestBy = nil }, want: []string{"best-by-missing minor"}},
	{name: "no kiln date anywhere", spoil: func(w *week) { w.malting.Outputs[0].KilnDate, w.bagging.Outputs[0].KilnDate = nil, nil }, want: []string{"kiln-date-missing minor", "kiln-date-missing minor"}},
	{name: "the kiln date is that of the lot it was bagged from", spoil: func(w *week) { w.bagging.Outputs[0].KilnDate = nil }},
	{name: "two kilnings, labelled by the later", spoil: func(w *week) { twoKilnings(w) }, want: []string{"best-by-mixed major"}, says: "2025-02-01, 2025-03-05"},
	{name: "two kilnings, labelled by the earlier", spoil: func(w *week) { twoKilnings(w); w.bagging.Outputs[0].BestBy = day("2025-08-01") }},
	{name: "sold on its last day", spoil: func(w *week) { kilned(w, "2024-09-07", "2025-03-07") }},
	{name: "sold the day after", spoil: func(w *week) { kilned(w, "2024-09-06", "2025-03-06") }, want: []string{"best-by-passed major"}},
	{name: "thrown on the compost the day after", spoil: func(w *week) { kilned(w, "2024-09-06", "2025-03-06"); w.sale.Use = records.Compost }},

	// results against the plan's limits
	{name: "too wet", spoil: func(w *week) { found(w, "P0", measure("moisture", "4.6", "%")) }, want: []string{"result-outside major"}, says: "limits are 3.0 to 4.5 %"},
	{name: "at the limit", spoil: func(w *week) { found(w, "P0", measure("Moisture", "4.50", "%")) }},
	{name: "in another unit", spoil: func(w *week) { found(w, "P0", measure("Colour", "5.5", "EBC")) }, want: []string{"result-unit minor"}},
	{name: "what the plan says nothing of", spoil: func(w *week) { found(w, "P0", measure("Protein", "19", "%")) }},
	// C52 FDA advisory level, finished wheat products, 2010 (number second-hand)
	{name: "wheat flour with 1 ppm DON", spoil: func(w *week) { flour(w); found(w, "F1", measure("DON", "1.0", "ppm")) }},
	{name: "wheat flour with more", spoil: func(w *week) { flour(w); found(w, "F1", measure("DON", "1.1", "ppm")) }, want: []string{"don-wheat major"}},

	// retained samples: the plan's 5 to 10
	{name: "too few kept", spoil: func(w *week) { w.sample.Number = 4 }, want: []string{"samples-few minor"}},
	{name: "too few, and not shipped yet", spoil: func(w *week) { w.sample.Number, w.sale = 4, nil }},
	{name: "kept of the batch before bagging", spoil: func(w *week) { w.sample.Lot = "M0" }},
	{name: "too many kept", spoil: func(w *week) { w.sample.Number = 11 }, want: []string{"samples-many note"}},
	{name: "thrown out before the best-by", spoil: func(w *week) { discard(w, "2025-09-05 12:00") }, want: []string{"samples-early minor"}},
	{name: "thrown out after it", spoil: func(w *week) { discard(w, "2025-09-06 12:00") }},

	// C38-C41 NIST Handbook 133 (from memory): 55 lb may be short by 1.10 lb singly; 24 bags of a lot of 300
	{name: "bags a little over", spoil: func(w *week) { weigh(w, 24, "55.05", "55.01") }},
	{name: "bags short on average", spoil: func(w *week) { weigh(w, 24, "54.90", "54.91") }, want: []string{"net-average major"}},
	{name: "one bag short by all that may be", spoil: func(w *week) { weigh(w, 23, "55.10", "55.11"); weigh(w, 1, "53.90") }},
	{name: "one bag short by more", spoil: func(w *week) { weigh(w, 23, "55.10", "55.11"); weigh(w, 1, "53.89") }, want: []string{"net-short major"}},
	{name: "too few weighed", spoil: func(w *week) { weigh(w, 23, "55.05") }, want: []string{"net-sample note"}, says: "an inspector would weigh 24"},

	// C20 7 CFR 205.301 (100 and 95 seen, 70 second-hand): water and salt left out, rounded down
	{name: "95 parts of 100 organic", spoil: func(w *week) { blend(w, "9500", "500", records.Organic) }},
	{name: "94.99 parts", spoil: func(w *week) { blend(w, "9499", "501", records.Organic) }, want: []string{"composition major"}, says: "it is 94 % organic"},
	{name: "70 parts", spoil: func(w *week) { blend(w, "7000", "3000", records.MadeWith) }},
	{name: "69.99 parts", spoil: func(w *week) { blend(w, "6999", "3001", records.MadeWith) }, want: []string{"composition major"}},
	{name: "99.99 parts are not all of it", spoil: func(w *week) { blend(w, "9999", "1", records.Organic100) }, want: []string{"composition major"}, says: "it is 99 % organic"},
	{name: "declared conventional", spoil: func(w *week) { blend(w, "10", "9990", records.Conventional) }},
}

func waste(w *week, at records.StationCode, container string) {
	w.malting.Outputs = append(w.malting.Outputs, records.Output{Lot: "W0", Item: "rootlets", Status: records.Organic, To: at, Weight: pound("100"), Disposal: "swept from the yard", Container: container})
	if at == "heap" {
		w.feed.Weight = pound("600")
	}
	w.now = "2025-03-08 09:00"
}

// furtherMade has the rootlets made into something else before they go to the farm.
func furtherMade(w *week, process string) {
	w.extra = append(w.extra, told{"2025-03-06 11:00", &records.Process{Process: process, Station: "bagger", Inputs: []records.Input{{Lot: "R0", From: "shed", Weight: pound("600"), Last: true}},
		Outputs: []records.Output{{Lot: "N1", Item: "rootlets", Status: records.Organic, To: "shed", Weight: pound("600"), Container: "tote 6"}}}})
	w.feed.Lot = "N1"
}

func found(w *week, lot records.LotCode, v ...records.Measured) {
	w.extra = append(w.extra, told{"2025-03-06 18:00", &records.Result{Lot: lot, Values: v}})
}

func stop(w *week, at string, codes ...records.LotCode) {
	w.extra = append(w.extra, told{at, &records.Hold{Lots: codes, Why: "odd smell"}})
}

func release(w *week, at string, rejected bool, codes ...records.LotCode) {
	w.extra = append(w.extra, told{at, &records.Release{Lots: codes, Rejected: rejected, Why: "looked at"}})
}

func kilned(w *week, on, best string) {
	w.malting.Outputs[0].KilnDate, w.bagging.Outputs[0].KilnDate, w.bagging.Outputs[0].BestBy = day(on), day(on), day(best)
}

// twoKilnings adds an older bit of malt to the bagging.
func twoKilnings(w *week) {
	w.extra = append(w.extra, told{"2025-03-05 11:00", &records.Process{Process: "malting", Station: "bin", Inputs: []records.Input{{Lot: "B0", From: "silo", Weight: pound("1")}},
		Outputs: []records.Output{{Lot: "M9", Item: "pale-malt", Status: records.Organic, To: "shed", Weight: pound("1"), KilnDate: day("2025-02-01")}}}})
	w.malting.Inputs[0].Last, w.malting.Inputs[0].Weight = false, pound("19999")
	w.bagging.Inputs = append(w.bagging.Inputs, records.Input{Lot: "M9", From: "shed", Weight: pound("1")})
}

func flour(w *week) {
	in := *w.receipt
	in.Lot, in.Item, in.TheirLot, in.To = "F1", "wheat-flour", "F-77", "bin"
	w.extra = append(w.extra, told{"2025-03-03 10:00", &in})
}

func discard(w *week, at string) {
	w.extra = append(w.extra, told{at, &records.Sample{Lot: "P0", Act: "discarded", Number: 1}})
	w.now = at
}

// weigh writes net weights of n bags down, the given ones in turn.
func weigh(w *week, n int, lbs ...string) {
	var vs []records.Measured
	for i := range n {
		vs = append(vs, measure(fmt.Sprintf("Net weight %d", i+1), lbs[i%len(lbs)], "lb"))
	}
	found(w, "P0", vs...)
}

// blend mixes organic with conventional barley, and twice as much water.
func blend(w *week, organic, conventional string, declared records.Status) {
	receive := func(lot records.LotCode, item records.ItemCode, status records.Status, mass string) records.Input {
		in := *w.receipt
		in.Lot, in.Item, in.Status, in.To, in.Weight, in.Theirs = lot, item, status, "bin", pound(mass), nil
		w.extra = append(w.extra, told{"2025-03-03 10:00", &in})
		return records.Input{Lot: lot, From: "bin", Weight: pound(mass)}
	}
	w.extra = append(w.extra, told{"2025-03-03 12:00", &records.Process{Process: "blending", Station: "bin",
		Inputs:  []records.Input{receive("BO", "barley", records.Organic, organic), receive("BC", "barley", records.Conventional, conventional), receive("BW", "water", records.Conventional, "20000")},
		Outputs: []records.Output{{Lot: "BL", Item: "barley", Status: declared, To: "bin", Weight: pound("30000")}}}})
}

func TestTales(t *testing.T) {
	spoken := map[string]bool{}
	for _, tale := range tales {
		t.Run(tale.name, func(t *testing.T) {
			got, all := told1(t, tale.spoil)
			if !slices.Equal(got, tale.want) {
				t.Errorf("shows %q, want %q", got, tale.want)
				for i := range all {
					t.Log(all[i].ID, all[i].Sentence("en"))
				}
			}
			if tale.says != "" && !slices.ContainsFunc(all, func(f *Finding) bool { return strings.Contains(f.Sentence("en"), tale.says) }) {
				t.Errorf("nothing says %q", tale.says)
				for i := range all {
					t.Log(all[i].Sentence("en"))
				}
			}
		})
		for _, w := range tale.want {
			rule, _, _ := strings.Cut(w, " ")
			spoken[rule] = true
		}
	}
	for _, r := range slices.Concat(custodyRules(), stockRules()) {
		if !spoken[r.Code] {
			t.Errorf("no tale is told of rule %s", r.Code)
		}
		if r.Says["en"] == "" || r.Says["es"] == "" {
			t.Errorf("rule %s is not said in both languages", r.Code)
		}
	}
}

// TestWellKept: two years of weeks without fault show nothing at all, at any month's end.
func TestWellKept(t *testing.T) {
	x := newTeller(t)
	const weeks = 80
	for n := range weeks {
		x.tell(goodWeek(n).tell(n)...)
	}
	for _, now := range []string{"2025-03-04 12:00", "2025-06-30 12:00", "2025-12-31 12:00", "2026-11-30 12:00"} {
		f := x.floor(now)
		for _, fd := range goodsFindings(x.st, f) {
			t.Errorf("at %s: %s: %s", now, fd.ID, fd.Sentence("en"))
		}
	}
	if f := x.floor("2026-11-30 12:00"); len(f.Lots) != 4*weeks || len(f.Transfers) != 3*weeks {
		t.Fatalf("%d lots and %d changes of hands: the history is not what it is meant to be", len(f.Lots), len(f.Transfers))
	}
}

// TestNoPlan: before any plan there is nothing to hold anything against, and nothing breaks.
func TestNoPlan(t *testing.T) {
	x := newTeller(t)
	for _, f := range goodWeek(0).tell(0) {
		f.at = "2024" + f.at[4:]
		x.tell(f)
	}
	stop := &week{}
	stopAt := told{"2024-03-05 09:00", &records.Hold{Lots: []records.LotCode{"B0"}, Why: "why"}}
	stop.extra = append(stop.extra, stopAt)
	x.tell(stop.extra...)
	for _, fd := range goodsFindings(x.st, x.floor("2024-06-01 09:00")) {
		t.Errorf("%s: %s", fd.ID, fd.Rule)
	}
}
