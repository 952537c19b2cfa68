package server

import (
	"slices"

	"grainward/server/pages"
)

// place is one entry of the navigation: a part of the application, or a page of a part.
type place struct {
	Key   string // what a page says it is, in frame
	Title string // the key of a text
	Href  string
	Least role
	Under []place // the pages of a part; the part's own address is that of the first that may be seen
}

// places is the whole navigation.
func places() []place {
	return []place{
		{Key: "today", Title: "nav-today", Href: "/today", Least: visitor},
		{Key: "office", Title: "nav-findings", Least: crew, Under: []place{
			{Key: "findings", Title: "nav-findings", Href: "/findings", Least: crew},
			{Key: "deviation", Title: "nav-deviation", Href: "/deviation", Least: crew},
			{Key: "holds", Title: "nav-holds", Href: "/holds", Least: crew},
			{Key: "result", Title: "nav-result", Href: "/result", Least: crew},
			{Key: "reviews", Title: "nav-reviews", Href: "/reviews", Least: lead},
		}},
		{Key: "week", Title: "nav-week", Href: "/week", Least: crew},
		{Key: "goods-pictures", Title: "nav-goods", Least: crew, Under: []place{
			{Key: "stations", Title: "nav-stations", Href: "/stations", Least: crew},
			{Key: "lots", Title: "nav-lots", Href: "/lots", Least: crew},
			{Key: "balance", Title: "nav-balance", Href: "/balance", Least: lead},
			{Key: "drills", Title: "nav-drills", Href: "/drills", Least: lead},
		}},
		{Key: "papers", Title: "nav-papers", Least: crew, Under: []place{
			{Key: "documents", Title: "nav-documents", Href: "/documents", Least: crew},
			{Key: "records", Title: "nav-records", Href: "/records", Least: crew},
			{Key: "binder", Title: "nav-binder", Href: "/binder", Least: lead},
			{Key: "links", Title: "nav-links", Href: "/links", Least: lead},
			{Key: "sheets", Title: "nav-sheets", Href: "/sheets", Least: lead},
			{Key: "paper", Title: "nav-paper", Href: "/paper", Least: crew},
		}},
		{Key: "plant", Title: "nav-plant", Least: lead, Under: []place{
			{Key: "plan", Title: "nav-plan", Href: "/plan", Least: lead},
			{Key: "people", Title: "nav-people", Href: "/people", Least: lead},
			{Key: "devices", Title: "nav-devices", Href: "/devices", Least: lead},
			{Key: "network", Title: "nav-network", Href: "/network", Least: lead},
		}},
	}
}

// ways is the navigation of whoever asks, for the page of a key.
func (r *request) ways(here string) (nav, within []pages.Way) {
	reach := r.role
	if r.couldBe(lead) { // the pages then ask for the password
		reach = lead
	}
	for _, part := range places() {
		under := slices.DeleteFunc(part.Under, func(p place) bool { return reach < p.Least })
		if part.Href == "" && len(under) > 0 {
			part.Href = under[0].Href
		}
		if reach < part.Least || part.Href == "" {
			continue
		}
		in := part.Key == here || slices.ContainsFunc(under, func(p place) bool { return p.Key == here })
		nav = append(nav, r.way(part, in))
		if in && len(under) > 1 {
			for _, p := range under {
				within = append(within, r.way(p, p.Key == here))
			}
		}
	}
	return nav, within
}

func (r *request) way(p place, current bool) pages.Way {
	return pages.Way{Link: pages.Link{Href: p.Href, Title: r.say(p.Title)}, Current: current}
}

// linkWays is the navigation of whoever reads with an auditor's link.
func (r *request) linkWays(here string) (nav []pages.Way) {
	for _, p := range []place{
		{Key: "auditor", Title: "nav-auditor", Href: "/auditor"},
		{Key: "findings", Title: "nav-findings", Href: "/findings?show=all"},
		{Key: "records", Title: "nav-records", Href: "/records"},
		{Key: "check", Title: "nav-check", Href: "/check"},
	} {
		nav = append(nav, r.way(p, p.Key == here))
	}
	return nav
}
