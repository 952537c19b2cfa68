package server

import (
	"slices"
	"sync"

	"grainward/audit"
	"grainward/audit/across"
	"grainward/exports/journey"
	"grainward/records"
	"grainward/records/company"
	"grainward/records/plan"
	"grainward/server/auth"
	"grainward/server/openapi"
	"grainward/server/pages"
)

// Company is the plants of a company, open or not, for its page. The page has a server of its own (Config.Company), with a table of
// routes of its own and neither a book nor secrets: who signs in there is asked of the plant they name, and what it shows is asked of the
// plants' servers.
type Company struct {
	File *company.Company

	mu      sync.Mutex
	open    map[company.PlantCode]*Server
	trouble map[company.PlantCode]error
	joined  joinedPlants
}

// NewCompany makes the page's side of a company, of which no plant is open yet.
func NewCompany(file *company.Company) *Company {
	return &Company{File: file, open: map[company.PlantCode]*Server{}, trouble: map[company.PlantCode]error{}}
}

// Opened says that a plant is open, and which server answers for it.
func (c *Company) Opened(code company.PlantCode, s *Server) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.open[code] = s
	delete(c.trouble, code)
}

// Failed says why a plant can not be opened.
func (c *Company) Failed(code company.PlantCode, why error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.trouble[code] = why
}

// at is a plant's server; nil while it can not be opened, for which why is the reason.
func (c *Company) at(code company.PlantCode) (s *Server, why error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.open[code], c.trouble[code]
}

// companyRoutes is everything the company's page answers.
func companyRoutes() []route {
	return []route{
		{Method: "GET", Path: "/", Least: nobody, Handle: (*Server).companyStart, Says: "sign in, by plant"},
		{Method: "POST", Path: "/sign-in", Least: nobody, Handle: (*Server).companySignIn, Says: "compare a lead's password and sign in"},
		{Method: "POST", Path: "/sign-out", Least: nobody, Handle: (*Server).companySignOut, Says: "sign out"},
		{Method: "GET", Path: "/plants", Least: lead, Handle: (*Server).companyPlants, Says: "the plants, with their open findings and tree heads"},
		{Method: "GET", Path: "/trace", Least: lead, Handle: (*Server).companyTrace, Says: "a trace through the plants"},
		{Method: "GET", Path: "/static/:file", Least: nobody, Handle: (*Server).static, Says: "style sheet, module, icon"},
		{Method: "GET", Path: "/install", Least: nobody, Handle: (*Server).install, Says: "how to install the certificate of this page on a phone"},
		{Method: "GET", Path: "/authority.crt", Least: nobody, Handle: (*Server).authorityDER, Says: "the certificate of its authority, DER"},
		{Method: "GET", Path: "/authority.pem", Least: nobody, Handle: (*Server).authorityPEM, Says: "the same, PEM"},

		{Method: "GET", Path: "/api/openapi.json", Least: nobody, Handle: (*Server).apiDescription, Says: "this description", JSON: true, Media: "application/json"},
		{Method: "POST", Path: "/api/sign-in", Least: nobody, Handle: (*Server).apiCompanySignIn, Says: "sign in as a lead of a plant", JSON: true, Takes: aJSON, Asks: companySecretJSON{}, Gives: signedInJSON{}},
		{Method: "POST", Path: "/api/sign-out", Least: nobody, Handle: (*Server).apiCompanySignOut, Says: "sign out", JSON: true},
		{Method: "GET", Path: "/api/head", Least: lead, Handle: (*Server).apiCompanyHead, Says: "how many entries the journals have together that whoever asks may see", JSON: true, Gives: companyHeadJSON{}, Quiet: true},
		{Method: "GET", Path: "/api/plants", Least: lead, Handle: (*Server).apiCompanyPlants, Says: "the plants, with their open findings and tree heads", JSON: true, Gives: plantsJSON{}},
		{Method: "GET", Path: "/api/trace", Least: lead, Handle: (*Server).apiCompanyTrace, Says: "a trace through the plants", JSON: true, Gives: journey.Form{},
			Query: journeyQuery},
		{Method: "GET", Path: "/api/trace.svg", Least: lead, Handle: (*Server).apiCompanyTraceDrawing, Says: "the same, drawn", JSON: true, Media: drawingMedia, Query: journeyQuery},
		{Method: "GET", Path: "/api/trace.xlsx", Least: lead, Handle: (*Server).apiCompanyTraceSheets, Says: "the same, as a workbook whose sheets can be sorted", JSON: true, Media: binderMedia, Query: journeyQuery},
		{Method: "GET", Path: "/api/events", Least: lead, Handle: (*Server).companyEvents, Says: "a stream that tells when a journal has grown", JSON: true, Quiet: true, Media: "text/event-stream; charset=utf-8"},
	}
}

var journeyQuery = append([]openapi.Query{{Name: "plant", Says: "the plant it starts from"}, {Name: "subject", Says: "as a plant's own trace has it"}}, traceQuery...)

// theirPlant is one plant as whoever asks may see it.
type theirPlant struct {
	company.Post
	plant  *company.Plant
	server *Server // nil: it can not be opened
	why    error   // then
	plan   *plan.Plan
	lead   bool // whoever asks is a lead there today
}

// plantsOf are the plants whoever asks belongs to: their own, and those the company file names them at.
func (s *Server) plantsOf(r *request) (all []theirPlant) {
	for _, post := range s.Company.File.Posts(r.home, r.who.Code) {
		one := theirPlant{Post: post, plant: s.Company.File.Plant(post.Plant)}
		if one.plant == nil {
			continue
		}
		if one.server, one.why = s.Company.at(post.Plant); one.server != nil {
			if one.plan = one.server.Book.View().State.PlanAt(r.now); one.plan != nil {
				who := one.plan.Person(post.Person)
				one.lead = who != nil && who.AtWork(one.plan.Day(r.now)) && roleOf(who.Role) >= lead
			}
		}
		all = append(all, one)
	}
	// in the order of the file, whichever plant somebody signed in by
	slices.SortStableFunc(all, func(a, b theirPlant) int { return s.Company.File.Index(a.Plant) - s.Company.File.Index(b.Plant) })
	return all
}

// joinedPlants keeps the joins between plants while nothing about goods changes anywhere.
type joinedPlants struct {
	mu   sync.Mutex
	of   []seen
	last *across.Company
}

type seen struct {
	plant company.PlantCode
	goods *audit.Segregation // the same as long as the floor is
}

// across joins the plants that whoever asks may see; the others are there without their records.
func (s *Server) across(all []theirPlant) *across.Company {
	see := map[company.PlantCode]*Server{}
	for _, one := range all {
		if one.server != nil && one.lead {
			see[one.Plant] = one.server
		}
	}
	var plants []across.Plant
	var of []seen
	for _, p := range s.Company.File.Plants {
		in, now := across.Plant{Code: p.Code}, seen{plant: p.Code}
		if at := see[p.Code]; at != nil {
			rep := at.report()
			in.State, in.Floor, in.Graph, now.goods = rep.State, rep.Goods.Floor, at.graphs.graphOf(rep.Goods), rep.Goods.Segregation
		}
		plants, of = append(plants, in), append(of, now)
	}
	j := &s.Company.joined
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.last == nil || !slices.Equal(j.of, of) {
		j.last, j.of = across.Build(plants, s.Company.File.PlantOf), of
	}
	return j.last
}

// companyWays is the navigation of the company's page.
func (r *request) companyWays(here string) (nav []pages.Way) {
	for _, p := range []place{{Key: "plants", Title: "nav-plants", Href: "/plants"}, {Key: "company-trace", Title: "nav-trace", Href: "/trace"}} {
		nav = append(nav, r.way(p, p.Key == here))
	}
	return nav
}

// signedInAt is whose sign-in the browser shows, at which plant; nobody's when that plant is not open.
func (s *Server) identifyAtCompany(r *request) error {
	r.lang, r.key, r.pass = r.choose(), "", ""
	code, token, ok := cutToken(r.token)
	home, _ := s.Company.at(code)
	if !ok || home == nil {
		return nil
	}
	look := home.Auth.Who
	if r.quiet {
		look = home.Auth.Look
	}
	in, err := look(r.ctx, token, "")
	if err != nil {
		return err
	}
	r.plan = home.Book.View().State.PlanAt(r.now)
	who := r.atWork(in.Person)
	switch {
	case who == nil || in.By != auth.Password || roleOf(who.Role) < lead:
		r.plan = nil
	case in.Runs:
		r.home = code
		r.be(who, in)
	default:
		r.lapsed = true
		r.lang = languageOf(r.plan, who)
	}
	return nil
}

var errNoCompanyPlant = &records.Error{Kind: records.NotFound, What: "there is no such plant here"}
