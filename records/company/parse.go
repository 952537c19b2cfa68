package company

import (
	"cmp"
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"grainward/records"
	"grainward/records/placed"
)

//go:embed starter.yaml
var starter []byte

// Starter is a commented company file. Its company and plants are invented.
func Starter() []byte { return slices.Clone(starter) }

// form bounds a company's file.
var form = placed.Form{Bytes: 64 << 10, Colons: 2_500, Brackets: 100,
	Called: "the file", NoSuch: "that is no company", Start: "\"grainward company init\" writes one to start from", One: "a company is one"}

const (
	maxFaults = 100 // listed
	maxPlants = 64  // served by one process
)

// Parse reads a company's file. Everything found wrong is reported at once, in the order of the lines, as an *records.Error of kind
// Invalid with one field a fault; each names its line and quotes it with a mark under the spot.
func Parse(text []byte) (*Company, error) {
	r := &reader{file: placed.Of(text)}
	c := new(Company)
	body, fault := r.file.Open(form)
	if fault != nil {
		r.faults = append(r.faults, *fault)
		return nil, r.err()
	}
	if r.company(body, c); len(r.faults) > 0 {
		return nil, r.err()
	}
	return c, nil
}

func (r *reader) company(body ast.Node, c *Company) {
	hosts, codes := map[string]string{}, map[PlantCode]bool{}
	top := r.group(body, "", "name", "host", "plants", "people")
	c.Name = r.text(top, "name", "the company's name")
	c.Host = r.host(top, "host", "company.localhost", hosts, "the company's page")
	plants := r.list(top, "plants")
	if len(plants) == 0 && top != nil {
		r.fault(top.at, "plants", "", "at least one plant")
	}
	if len(plants) > maxPlants {
		r.fault(plants[maxPlants], "plants", "", fmt.Sprintf("%d plants at most", maxPlants))
		plants = plants[:maxPlants]
	}
	var rows []*group
	for i, node := range plants {
		g := r.group(node, fmt.Sprintf("plants[%d]", i), "code", "dir", "mongo", "host", "partners")
		rows = append(rows, g)
		p := Plant{Code: PlantCode(r.code(g, "code")), line: placed.Begins(node).Line}
		if p.Code != "" {
			g.path = "plants[" + string(p.Code) + "]"
			if codes[p.Code] {
				r.fault(g.nodes["code"], g.path+".code", string(p.Code), "another code; two plants have this one")
			}
			codes[p.Code] = true
		}
		p.Dir = r.text(g, "dir", "the plant's directory, from the one this file is in")
		p.Mongo = r.maybe(g, "mongo")
		p.Host = r.host(g, "host", cmp.Or(string(p.Code), "plant")+".localhost", hosts, "plant "+string(p.Code))
		c.Plants = append(c.Plants, p)
	}
	for i, g := range rows {
		c.Plants[i].Partners = r.partners(g, c.Plants[i].Code, codes)
	}
	posts := map[Post]string{}
	for i, node := range r.list(top, "people") {
		g := r.group(node, fmt.Sprintf("people[%d]", i), "name", "at")
		who := Person{Name: r.text(g, "name", "the person's name")}
		who.At = r.posts(g, who.Name, codes, posts)
		c.People = append(c.People, who)
	}
	if top != nil {
		r.sameDir(c, rows)
	}
}

// partners are the rows of a plant's partners that are plants of ours.
func (r *reader) partners(g *group, of PlantCode, plants map[PlantCode]bool) (out []Partner) {
	r.pairs(g, "partners", "a partner's code in this plant's plan, and the plant it is", func(key string, at, value ast.Node, path string) {
		if err := records.CheckCode(key); err != nil {
			r.fault(at, path, key, err.Error())
			return
		}
		to, ok := placed.Scalar(value)
		switch {
		case !ok || !plants[PlantCode(to)]:
			r.fault(value, path, to, "the code of a plant in this file: "+known(plants))
		case PlantCode(to) == of:
			r.fault(value, path, to, "another plant; a plant is no partner of its own")
		default:
			out = append(out, Partner{records.PartnerCode(key), PlantCode(to), placed.Begins(at).Line})
		}
	})
	return out
}

// posts are the plants a person works at. Nobody can be two people at one plant.
func (r *reader) posts(g *group, name string, plants map[PlantCode]bool, taken map[Post]string) (out []Post) {
	r.pairs(g, "at", "a plant's code, and the person's code in its plan", func(key string, at, value ast.Node, path string) {
		if !plants[PlantCode(key)] {
			r.fault(at, path, "", "the code of a plant in this file: "+known(plants))
			return
		}
		code, ok := placed.Scalar(value)
		if err := records.CheckCode(code); !ok || err != nil {
			r.fault(value, path, code, "a person's code in that plant's plan")
			return
		}
		post := Post{Plant: PlantCode(key), Person: records.PersonCode(code)}
		if other, twice := taken[post]; twice {
			r.fault(value, path, code, "somebody else than "+other+", who is that person already")
			return
		}
		taken[post] = name
		post.line = placed.Begins(at).Line
		out = append(out, post)
	})
	if g != nil && len(out) < 2 && g.nodes["at"] != nil && len(r.faults) == 0 {
		r.fault(g.nodes["at"], g.path+".at", "", "two plants or more; who works at one needs no row here")
	}
	return out
}

// sameDir finds two plants in one directory: they would be one plant under two names.
func (r *reader) sameDir(c *Company, rows []*group) {
	seen := map[string]PlantCode{}
	for i, p := range c.Plants {
		dir := strings.TrimRight(strings.TrimPrefix(p.Dir, "./"), "/")
		if other, twice := seen[dir]; twice && dir != "" {
			r.fault(rows[i].nodes["dir"], rows[i].path+".dir", p.Dir, "a directory of its own; plant "+string(other)+" is in this one")
		}
		seen[dir] = p.Code
	}
}

func known(plants map[PlantCode]bool) string {
	var all []string
	for code := range plants {
		all = append(all, string(code))
	}
	slices.Sort(all)
	return strings.Join(all, ", ")
}

// host reads a host name, which nobody else may have.
func (r *reader) host(g *group, key, such string, taken map[string]string, whose string) string {
	host := r.text(g, key, "the host name browsers ask for, such as "+such)
	if host == "" {
		return ""
	}
	plain := strings.TrimSuffix(strings.ToLower(host), ".")
	other, twice := taken[plain]
	switch {
	case !isHost(plain):
		r.fault(g.nodes[key], placed.Join(g.path, key), host, "a host name of letters, digits, hyphens and dots, without a port, such as "+such)
	case twice:
		r.fault(g.nodes[key], placed.Join(g.path, key), host, "another host; "+other+" has this one")
	default:
		taken[plain] = whose
	}
	return plain
}

// isHost says whether a text is a host name (RFC 1123, 2.1) and no address: two plants can not share one address by name.
func isHost(s string) bool {
	if s == "" || len(s) > 253 || !strings.ContainsFunc(s, func(c rune) bool { return c >= 'a' && c <= 'z' }) {
		return false
	}
	for label := range strings.SplitSeq(s, ".") {
		if label == "" || len(label) > 63 || label[0] == '-' || label[len(label)-1] == '-' {
			return false
		}
		for _, c := range []byte(label) {
			if c != '-' && (c < '0' || c > '9') && (c < 'a' || c > 'z') {
				return false
			}
		}
	}
	return true
}
