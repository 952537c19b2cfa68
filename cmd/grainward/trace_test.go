package main

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"grainward/exports/lineage"
	"grainward/records"
)

// shipped is what the entries say was handed over, read without a fold: by lot and partner, in micrograms. Lots with an entry that
// was put right later are in mended, and so is every lot that went into something.
type shipped struct {
	to     map[records.LotCode]map[records.PartnerCode]records.Micrograms
	mended map[records.LotCode]bool
}

func readShipped(t *testing.T, entries []records.Entry) shipped {
	s := shipped{map[records.LotCode]map[records.PartnerCode]records.Micrograms{}, map[records.LotCode]bool{}}
	corrected := map[records.EntryID]bool{}
	for i := range entries {
		if c, ok := entries[i].Fact.(*records.Correct); ok {
			corrected[c.Target] = true
		}
	}
	for i := range entries {
		switch f := entries[i].Fact.(type) {
		case *records.Handover:
			if corrected[entries[i].ID] {
				s.mended[f.Lot] = true
			}
			if !f.Confirms.IsZero() || f.Lot == "" {
				continue
			}
			m, err := f.Weight.Mass.Micrograms()
			if err != nil {
				t.Fatal(err)
			}
			if s.to[f.Lot] == nil {
				s.to[f.Lot] = map[records.PartnerCode]records.Micrograms{}
			}
			s.to[f.Lot][f.To] += m
		case *records.Process:
			for _, in := range f.Inputs {
				s.mended[in.Lot] = true
			}
		case *records.Purge:
			s.mended[f.Lot] = true
		}
	}
	return s
}

func traced(t *testing.T, dir string, args ...string) (form lineage.Form, took time.Duration) {
	t.Helper()
	begun := time.Now()
	text := ask(t, append([]string{"trace", "--json", "--dir", dir}, args...)...)
	took = time.Since(begun)
	var out struct {
		Lots       []struct{ Code, Role string }
		Consignees []struct{ Partner, SentKg, OnwardKg string }
		Documents  []struct {
			Lot, For, Code string
			OnFile, Valid  bool
		}
		Movements []struct{ Kind, Lot, From string }
	}
	if err := json.Unmarshal([]byte(text), &out); err != nil {
		t.Fatal(err)
	}
	for _, l := range out.Lots {
		form.Lots = append(form.Lots, lineage.Lot{Code: records.LotCode(l.Code), Role: l.Role})
	}
	kg := func(text string) lineage.Kg {
		m, err := records.ParseMass(text + " kg")
		if err != nil {
			t.Fatal(err)
		}
		ug, err := m.Micrograms()
		if err != nil {
			t.Fatal(err)
		}
		return lineage.Kg(ug)
	}
	for _, c := range out.Consignees {
		form.Consigned = append(form.Consigned, lineage.Consignee{Partner: records.PartnerCode(c.Partner), Sent: kg(c.SentKg), Onward: kg(c.OnwardKg)})
	}
	for _, d := range out.Documents {
		form.Documents = append(form.Documents, lineage.Document{Lot: records.LotCode(d.Lot), For: d.For, Code: records.DocumentCode(d.Code), OnFile: d.OnFile, Held: d.Valid})
	}
	for _, m := range out.Movements {
		form.Movements = append(form.Movements, lineage.Movement{Kind: m.Kind, Lot: records.LotCode(m.Lot), From: m.From})
	}
	return form, took
}

// traceByHand goes from a bag that a customer has back to the farms' certificates, and forward to everybody else who has any of what the
// farms' grain became, and holds that against the entries as they stand in the journal, read without a fold.
func traceByHand(t *testing.T, dir string, entries []records.Entry) {
	s := readShipped(t, entries)
	var bag records.LotCode
	for lot, to := range s.to {
		if !s.mended[lot] && len(to) > len(s.to[bag]) || len(to) == len(s.to[bag]) && lot < bag && !s.mended[lot] {
			bag = lot // that most partners have, so that there is most to be wrong
		}
	}
	if len(s.to[bag]) < 2 {
		t.Fatal("no lot of the demo went to several partners")
	}
	form, took := traced(t, dir, "label:"+string(bag)+"/1")
	t.Logf("from a cold start, label:%s/1: %d lots, %d consignees in %v", bag, len(form.Lots), len(form.Consigned), took)
	got := map[records.PartnerCode]records.Micrograms{}
	for _, c := range form.Consigned {
		got[c.Partner] = records.Micrograms(c.Sent + c.Onward)
	}
	for partner, m := range s.to[bag] {
		if got[partner] != m {
			t.Errorf("%s: %s has %d µg by the trace, %d by the entries", bag, partner, got[partner], m)
		}
	}
	if len(got) != len(s.to[bag]) {
		t.Errorf("%s: %d consignees by the trace, %d by the entries", bag, len(got), len(s.to[bag]))
	}

	certificates := map[records.LotCode]records.DocumentCode{} // of every receipt, as the entries have it
	onFile := map[records.DocumentCode]bool{}
	for i := range entries {
		switch f := entries[i].Fact.(type) {
		case *records.Receipt:
			certificates[f.Lot] = f.Certificate
		case *records.Document:
			onFile[f.Code] = true
		}
	}
	var farms []records.LotCode
	papers := 0
	for _, l := range form.Lots {
		certificate, received := certificates[l.Code]
		if l.Role != "upstream" || !received {
			continue
		}
		farms = append(farms, l.Code)
		if certificate != "" {
			papers++
		}
		at := slices.IndexFunc(form.Documents, func(d lineage.Document) bool { return d.Lot == l.Code && d.For == "certificate" })
		switch {
		case certificate == "":
			if at >= 0 {
				t.Errorf("%s came without a certificate and the trace has one", l.Code)
			}
		case at < 0 || form.Documents[at].Code != certificate || form.Documents[at].OnFile != onFile[certificate]:
			t.Errorf("%s: its certificate %s is not in the trace as it is on file", l.Code, certificate)
		case !form.Documents[at].Held:
			t.Logf("%s: certificate %s did not hold on the day", l.Code, certificate)
		}
	}
	if len(farms) == 0 || papers == 0 {
		t.Fatalf("%s goes back to %d farm lots with %d certificates", bag, len(farms), papers)
	}

	// Forward from the farm's lot: everybody who has any of anything made from it, and no others.
	forward, took := traced(t, dir, string(farms[0]), "--forward")
	t.Logf("from a cold start, %s --forward: %d lots, %d consignees in %v", farms[0], len(forward.Lots), len(forward.Consigned), took)
	should := map[records.PartnerCode]bool{}
	some := map[records.LotCode]bool{}
	for _, l := range forward.Lots {
		some[l.Code] = true
		for partner := range s.to[l.Code] {
			should[partner] = true
		}
	}
	if !some[bag] {
		t.Errorf("%s goes back to %s, which does not go forward to it", bag, farms[0])
	}
	for _, c := range forward.Consigned {
		if !should[c.Partner] {
			t.Errorf("%s is a consignee of %s by the trace, and no entry says so", c.Partner, farms[0])
		}
		delete(should, c.Partner)
	}
	for partner := range should {
		t.Errorf("%s has goods made from %s and is not in the trace", partner, farms[0])
	}
	// What the farm's lot became goes back to it.
	for k := len(forward.Lots) - 1; k > 0; k -= max(1, len(forward.Lots)/4) {
		back, _ := traced(t, dir, string(forward.Lots[k].Code), "--back")
		if !slices.ContainsFunc(back.Lots, func(l lineage.Lot) bool { return l.Code == farms[0] }) {
			t.Errorf("%s comes from %s and does not go back to it", forward.Lots[k].Code, farms[0])
		}
	}
}
