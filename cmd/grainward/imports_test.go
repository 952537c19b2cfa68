package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// mayImport is the dependency rule: which of the project's packages each may import, and which modules from outside
// only it may. Data flows one way:
//
//	cmd -> server -> { exports/*, audit } -> audit/trace -> records/lots -> records/state -> records -> records/ledger
//
// A package that is not in the table fails the test: say here what it may know before it is written.
var mayImport = map[string]struct {
	own     []string
	outside []string
	why     string
}{
	"records/ledger":          {nil, []string{"golang.org/x/mod"}, "hashing and proofs know bytes, not records"},
	"records/calendar":        {nil, nil, "dates and rules know no plan and no clock"},
	"records":                 {[]string{"records/ledger", "records/calendar"}, []string{"github.com/go-json-experiment/json", "github.com/go-playground/validator/v10", "github.com/google/uuid"}, "the vocabulary knows no database, no HTTP, no time of day"},
	"records/placed":          {[]string{"records"}, []string{"github.com/goccy/go-yaml"}, "a YAML file's places and the telling of its faults: it does not know what any file means"},
	"records/plan":            {[]string{"records", "records/calendar", "records/placed"}, []string{"github.com/goccy/go-yaml", "github.com/go-playground/validator/v10", "github.com/go-json-experiment/json"}, "the plan knows no entries"},
	"records/company":         {[]string{"records", "records/plan", "records/placed"}, []string{"github.com/goccy/go-yaml"}, "what a company says of its plants: no entries, no store, no HTTP"},
	"records/memory":          {[]string{"records", "records/ledger"}, nil, "a backend knows bytes in order, not facts, and no other backend"},
	"records/sqlite":          {[]string{"records", "records/ledger"}, []string{"modernc.org/sqlite", "github.com/gofrs/flock", "golang.org/x/sys"}, "a backend knows bytes in order, not facts, and no other backend"},
	"records/mongo":           {[]string{"records", "records/ledger"}, []string{"go.mongodb.org/mongo-driver"}, "a backend knows bytes in order, not facts, and no other backend"},
	"records/mongo/mongotest": {nil, []string{"go.mongodb.org/mongo-driver"}, "for tests only: a server to test on"},
	"records/transfer":        {[]string{"records", "records/ledger"}, nil, "a copy knows stores and the tree, no database and no facts"},
	"records/backendtest":     {[]string{"records", "records/ledger"}, nil, "the suite does not know which backend it runs on"},
	"records/faulttest":       {nil, nil, "for tests only: how often a fault is played"},
	"records/state":           {[]string{"records", "records/plan", "records/calendar"}, nil, "the fold knows no storage, no clock, no judgement"},
	"records/state/statetest": {[]string{"records", "records/state"}, nil, "for tests only"},
	"records/book":            {[]string{"records", "records/ledger", "records/plan", "records/state", "records/calendar"}, nil, "the door knows no SQL, no HTTP, no judgement"},
	"records/book/booktest":   {[]string{"records", "records/ledger", "records/calendar", "records/book", "records/state", "records/state/statetest"}, nil, "for tests only"},
	"records/verify":          {[]string{"records", "records/ledger"}, nil, "the verifier shares the format, never the writer's code"},
	"audit":                   {[]string{"records", "records/plan", "records/calendar", "records/state", "records/lots"}, nil, "judgement knows no storage, no clock, no looks"},
	"records/lots":            {[]string{"records", "records/plan", "records/calendar", "records/state"}, nil, "the floor knows no storage, no clock, no rule"},
	"records/lots/lotstest":   {[]string{"records", "records/lots", "records/state"}, nil, "for tests only"},
	"audit/trace":             {[]string{"records", "records/plan", "records/calendar", "records/state", "records/lots"}, nil, "a walk over the lot graph knows no rule and no looks"},
	"audit/across":            {[]string{"records", "records/company", "records/lots", "records/state", "audit", "audit/trace"}, nil, "what joins the floors of several plants: no rule, no looks, nobody's rights"},
	"audit/offer":             {[]string{"records", "records/plan", "records/calendar", "records/state", "records/lots", "audit"}, nil, "what forms can offer: it judges nothing itself, and knows no HTTP and no looks"},
	"exports/columns":         {nil, nil, "text in columns knows widths and no meaning"},
	"exports/exportstest":     {nil, []string{"github.com/xuri/excelize/v2"}, "for tests only: golden files, workbooks read back"},
	"exports/ink":             {[]string{"records"}, nil, "texts and shapes that drawings share; it does not know what is drawn"},
	"exports/balance":         {[]string{"records", "records/state", "records/lots", "audit"}, nil, "figures and words, no terminal and no page; the floors of a period are handed in, or folded for it"},
	"exports/timeline":        {[]string{"records", "exports/ink"}, nil, "draws what it is handed"},
	"exports/lineage":         {[]string{"records", "records/calendar", "records/plan", "records/lots", "audit/trace", "exports", "exports/columns", "exports/ink"}, []string{"github.com/xuri/excelize/v2", "github.com/go-json-experiment/json"}, "an outward form of a trace; it works nothing out"},
	"exports/journey":         {[]string{"records", "records/company", "records/lots", "records/plan", "audit/across", "audit/trace", "exports", "exports/columns", "exports/lineage"}, nil, "an outward form of a trace through plants; it works nothing out"},
	"audit/audittest":         {[]string{"records", "records/plan", "records/calendar"}, nil, "the oracle shares nothing with what it judges"},
	"exports":                 {[]string{"records", "records/ledger", "records/calendar"}, nil, "a stamp knows no judgement"},
	"exports/binder":          {[]string{"records", "records/ledger", "records/plan", "records/calendar", "records/state", "records/lots", "audit", "audit/trace", "exports"}, []string{"github.com/xuri/excelize/v2", "github.com/klauspost/compress/flate", "github.com/go-json-experiment/json"}, "an outward form knows no HTTP and makes no judgement; it shows lots as folded and traces as made"},
	"server/auth":             {[]string{"records", "records/calendar"}, []string{"golang.org/x/crypto", "modernc.org/sqlite"}, "who is asking: no facts, no fiber"},
	"server/auth/authtest":    {[]string{"records", "records/calendar", "server/auth"}, nil, "the suite does not know which cabinet it runs on"},
	"server/crew":             {nil, nil, "the crew's page shows only what it was handed"},
	"server/pages":            {nil, nil, "a page shows only what it was handed"},
	"server/trust":            {[]string{"records"}, nil, "certificates and their files: no HTTP, no web framework"},
	"server/qr":               {nil, []string{"github.com/piglig/go-qr"}, "a text as a shape; it knows no page"},
	"server/openapi":          {[]string{"records", "records/calendar"}, nil, "a description knows types and no routes"},
	"server/watch":            {nil, []string{"github.com/prometheus/client_golang"}, "counts and shows: it knows no records, no routes, no web framework"},
	"server":                  {[]string{"records", "records/ledger", "records/plan", "records/calendar", "records/state", "records/book", "audit", "audit/offer", "audit/trace", "records/lots", "exports", "exports/balance", "exports/lineage", "exports/timeline", "server/auth", "server/crew", "server/openapi", "server/watch", "server/pages", "server/trust", "server/qr", "records/company", "audit/across", "exports/journey"}, []string{"github.com/gofiber/fiber/v2", "github.com/valyala/fasthttp", "github.com/go-json-experiment/json"}, "the only room with fiber; no SQL, no arithmetic"},
	"cmd/demoplant":           {[]string{"records", "records/plan", "records/calendar", "records/book", "records/memory"}, nil, "the simulated plant does not know how it is judged"},
	"cmd/bigplant":            {[]string{"records", "records/plan", "records/calendar"}, nil, "an invented plant of any size: it writes entries, and does not know how they are judged or kept"},
	"cmd/demomill":            {[]string{"records", "records/plan", "records/calendar", "records/book"}, nil, "a mill knows what the papers say, and no other plant's journal"},
	"cmd/crowd":               {[]string{"records"}, []string{"github.com/valyala/fasthttp"}, "the devices of a floor, from outside: it asks, and does not know what is behind the address"},
	"cmd/yardstick":           {[]string{"records", "records/ledger", "records/plan", "records/book", "records/sqlite", "records/lots", "audit", "audit/trace", "exports", "exports/binder", "exports/columns", "server/auth", "cmd/bigplant", "cmd/crowd"}, []string{"github.com/xuri/excelize/v2", "gonum.org/v1/gonum", "modernc.org/sqlite"}, "measures everything from outside, beside peers that only it may import; the server it measures is started for it"},
	"cmd/grainward":           {[]string{"records", "records/ledger", "records/plan", "records/calendar", "records/state", "records/book", "records/sqlite", "records/mongo", "records/transfer", "records/memory", "records/verify", "records/lots", "audit", "audit/trace", "exports", "exports/binder", "exports/balance", "exports/columns", "exports/lineage", "server", "server/auth", "server/trust", "server/watch", "cmd/demoplant", "cmd/demomill", "records/company", "audit/across", "exports/journey", "cmd/yardstick"}, []string{"github.com/alecthomas/kong", "github.com/schollz/progressbar/v3", "golang.org/x/term", "github.com/go-json-experiment/json"}, "wiring: it may see everything and decides nothing"},
}

const module = "grainward/"

func TestImports(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if d.IsDir() {
			if base := d.Name(); rel != "." && (strings.HasPrefix(base, ".") || base == "testdata" || base == "node_modules") {
				return filepath.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		pkg := filepath.ToSlash(filepath.Dir(rel))
		row, known := mayImport[pkg]
		if !known {
			if !seen[pkg] {
				t.Errorf("%s is not in the table of who may import whom", pkg)
			}
			seen[pkg] = true
			return nil
		}
		seen[pkg] = true
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range file.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			own, isOwn := strings.CutPrefix(imported, module)
			switch {
			case isOwn && !slices.Contains(row.own, own):
				t.Errorf("%s imports %s, which %s may not: %s", rel, own, pkg, row.why)
			case !isOwn && strings.Contains(strings.Split(imported, "/")[0], ".") && !slices.ContainsFunc(row.outside, func(m string) bool { return imported == m || strings.HasPrefix(imported, m+"/") }):
				t.Errorf("%s imports %s, which %s may not: %s", rel, imported, pkg, row.why)
			case !isOwn && isOneOf(imported, "database/sql", "net/http") && !isOneOf(pkg, "records/sqlite", "server/auth", "server", "server/watch", "cmd/grainward", "cmd/crowd", "cmd/yardstick"):
				t.Errorf("%s imports %s: only the backends, the server and the wiring may", rel, imported)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range mayImport {
		if !seen[pkg] {
			t.Errorf("the table has %s, which does not exist", pkg)
		}
	}
}

// Test-only packages stay out of the program.
func TestTestPackagesStayOut(t *testing.T) {
	for pkg, row := range mayImport {
		for _, own := range row.own {
			if strings.HasSuffix(own, "test") && !strings.HasSuffix(pkg, "test") {
				t.Errorf("%s may import %s, which is for tests only", pkg, own)
			}
		}
	}
}

func isOneOf(s string, of ...string) bool { return slices.Contains(of, s) }

// A command opens its journal by its flags, which know of databases; one that asked the directory would open the file in it
// whatever --mongo says.
func TestCommandsOpenByTheirFlags(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(text), ".Dir.openBook(") || strings.Contains(string(text), ".Dir.openStore(") && path != "place.go" {
			t.Errorf("%s opens the journal of its --dir; let plantFlag do it", path)
		}
	}
}
