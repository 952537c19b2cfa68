package server

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"grainward/audit"
	"grainward/records"
	"grainward/records/book/booktest"
	"grainward/records/ledger"
	"grainward/records/memory"
	"grainward/records/state"
	"grainward/server/auth"
)

// typed is a form of the office as somebody sends it.
func typed(as string, pairs ...string) url.Values {
	v := url.Values{"as": {as}, "id": {records.NewEntryID().String()}}
	for i := 0; i < len(pairs); i += 2 {
		v.Set(pairs[i], pairs[i+1])
	}
	return v
}

// attach sends a form with one file.
func (w *world) attach(as role, path string, form url.Values, field, name string, data []byte) answered {
	w.Helper()
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for k, vs := range form {
		for _, v := range vs {
			if err := m.WriteField(k, v); err != nil {
				w.Fatal(err)
			}
		}
	}
	f, err := m.CreateFormFile(field, name)
	if err != nil {
		w.Fatal(err)
	}
	if _, err := f.Write(data); err != nil {
		w.Fatal(err)
	}
	if err := m.Close(); err != nil {
		w.Fatal(err)
	}
	req := httptest.NewRequest("POST", "http://localhost"+path, &b)
	req.Header.Set("Content-Type", m.FormDataContentType())
	req.AddCookie(&http.Cookie{Name: cookieName, Value: w.token[as]})
	return w.send(req)
}

func TestDeviation(t *testing.T) {
	w := plant(t)
	before := w.size()
	v := typed("hank", "station", "floor-1", "lots", "B/1 B/2", "action", "Swept.")
	w.wants(w.attach(crew, "/deviation", v, "photo", "x.png", []byte("<html>")), 422, "Fill in: What happened", "not a JPEG or PNG picture")
	v.Set("what", "A bag burst over the bed.")
	v.Set("when", "2026-03-10T00:00")
	got := w.attach(crew, "/deviation", v, "photo", "x.png", picture())
	w.wants(got, 422, "lies in the future", "The file is kept", "A bag burst over the bed.")
	if w.size() != before {
		t.Fatal("it was written with a fault in it")
	}
	v.Set("when", "2026-03-09T06:15")
	v.Set("kept.photo", hidden(got.body, "kept.photo"))
	for range 3 { // a double tap, and the back button
		got = w.ask(crew, "/deviation", v)
		w.wants(got, 303)
	}
	if w.size() != before+2 { // the deviation and its photo
		t.Fatalf("%d entries were written", w.size()-before)
	}
	f := w.last().Fact.(*records.Deviation)
	if f.Station != "floor-1" || len(f.Lots) != 2 || f.Action != "Swept." || len(f.Entries) != 1 || w.last().Happened != at("2026-03-09T06:15:00-04:00") {
		t.Errorf("%+v", f)
	}
	w.wants(w.ask(crew, got.to(), nil), 200, "A bag burst over the bed.", `href="/photo/`+v.Get("kept.photo"), `href="/lots/B%2F2"`)
	w.wants(w.ask(lead, "/findings?q=burst", nil), 200, "Hank Osgood reported: A bag burst over the bed.")
	v.Set("what", "Something else.")
	w.wants(w.ask(crew, "/deviation", v), 409, "already sent once")
	w.wants(w.ask(crew, "/deviation", typed("nora", "what", "Not mine.")), 422, "Nora Feldt")
}

// A sign-in that ended while something was typed loses neither the words nor the photo.
func TestDeviationWhenTheSignInHasEnded(t *testing.T) {
	w := plant(t)
	before := w.size()
	w.clock.add(time.Hour)
	got := w.attach(crew, "/deviation", typed("hank", "what", "A belt tore."), "photo", "x.png", picture())
	w.wants(got, 401, "Your sign-in has ended.")
	v := fieldsOf(got.body)
	v.Set("secret", "4071")
	w.wants(w.ask(nobody, "/sign-in", v), 303)
	if w.size() != before+2 || w.last().Fact.(*records.Deviation).What != "A belt tore." {
		t.Errorf("%+v", w.last())
	}
}

func TestExcuse(t *testing.T) {
	w := plant(t)
	rep := w.report()
	i := slices.IndexFunc(rep.Findings, func(f *audit.Finding) bool { return f.ID == someFinding })
	if i < 0 {
		t.Fatal("the week has nothing missed")
	}
	page := w.ask(lead, "/findings?q=walk", nil)
	at := strings.Index(page.body, `href="/excuse?`)
	if at < 0 {
		t.Fatal("there is no way to excuse it from its row", page.body)
	}
	href := strings.ReplaceAll(page.body[at+6:at+6+strings.Index(page.body[at+6:], `"`)], "&amp;", "&")
	page = w.ask(lead, href, nil)
	w.wants(page, 200, "It covers these windows (1)", "Weekly walk round", "Missed", "Everything here on Mon 2 Mar")
	v := typed("nora", "task", hidden(page.body, "task"), "station", hidden(page.body, "station"), "from", hidden(page.body, "from"), "to", hidden(page.body, "to"), "next", "/findings?q=walk")
	before := w.size()
	w.wants(w.ask(lead, "/excuse", v), 422, "Fill in: Why is it excused?")
	v.Set("reason", "The road was flooded.")
	w.wants(w.ask(lead, "/excuse", v), 422, "again")
	v.Set("again", "0000")
	w.wants(w.ask(lead, "/excuse", v), 422, "The road was flooded.")
	if w.size() != before {
		t.Fatal("written without the secret")
	}
	v.Set("again", thePassword)
	got := w.ask(lead, "/excuse", v)
	w.wants(got, 303)
	if got.to() != "/findings?q=walk" {
		t.Error(got.to())
	}
	w.wants(w.ask(lead, "/excuse", v), 303)
	if w.size() != before+1 {
		t.Error("a second tap wrote again")
	}
	rep = w.report()
	if slices.ContainsFunc(rep.Findings, func(f *audit.Finding) bool { return f.ID == someFinding }) {
		t.Error("it is excused and still missed")
	}
	// the plan's words of a whole day, and a stretch that is none
	w.wants(w.ask(lead, "/excuse?from=2026-03-10T00%3A00&to=2026-03-09T00%3A00", nil), 422, "The end lies before the start")
	w.wants(w.ask(lead, "/excuse?from=x&to=y", nil), 422, "can not be read")
	w.wants(w.ask(lead, "/excuse?from=2026-03-09T03%3A00&to=2026-03-09T03%3A01", nil), 200, "It covers no window")
	w.wants(w.ask(lead, "/excuse?from=2026-03-09T00%3A00&to=2026-06-01T00%3A00", nil), 200, "are not listed yet", "more")
}

func TestHoldAndRelease(t *testing.T) {
	w := office(t)
	before := w.size()
	w.wants(w.ask(crew, "/hold", typed("hank", "lots", "B-103 NO-SUCH", "why", "smells")), 422, "No record names a lot “NO-SUCH”", "right all the same", "smells")
	w.wants(w.ask(crew, "/hold", typed("hank", "lots", "B 103€", "why", "smells")), 422, "can not be a lot’s code")
	w.wants(w.ask(crew, "/hold", typed("hank", "why", "smells")), 422, "Name at least one lot")
	if w.size() != before {
		t.Fatal("written with a fault in it")
	}
	v := typed("hank", "lot", "B-103", "lots", "NO-SUCH", "unknown", "yes", "why", "smells")
	w.wants(w.ask(crew, "/hold", v), 303)
	w.wants(w.ask(crew, "/hold", v), 303)
	if h := w.last().Fact.(*records.Hold); w.size() != before+1 || len(h.Lots) != 2 || w.last().Meaning != records.Performed {
		t.Errorf("%+v", h)
	}
	w.wants(w.ask(crew, "/holds", nil), 200, "B-103", "smells", "B-102", "rejected", "Sprouted.")
	if got := w.ask(crew, "/holds", nil); strings.Contains(got.body, "/release") {
		t.Error("crew is offered to release")
	}
	w.wants(w.ask(lead, "/release", typed("nora", "lots", "B-103", "why", "aired", "again", thePassword)), 422, "Fill in: What becomes of them?")
	w.wants(w.ask(lead, "/release", typed("nora", "lots", "B-103", "why", "aired", "outcome", "released")), 422)
	w.wants(w.ask(lead, "/release", typed("nora", "lots", "B-103", "why", "aired", "outcome", "released", "again", thePassword)), 303)
	if r := w.last().Fact.(*records.Release); r.Rejected || w.last().Meaning != records.Approved {
		t.Errorf("%+v", r)
	}
	w.wants(w.ask(lead, "/release", typed("nora", "lots", "B-103", "why", "again", "outcome", "released", "again", thePassword)), 422, "is not held")
	w.wants(w.ask(lead, "/release", typed("nora", "lots", "B-103", "why", "mould", "outcome", "rejected", "again", thePassword)), 303)
	if l := w.report().Goods.Find("B-103"); l.Rejected == nil {
		t.Error("it is not rejected")
	}
}

// A measured value outside its limits asks at once whether the lot must be held.
func TestResult(t *testing.T) {
	w := office(t)
	p := w.Book.View().State.PlanAt(w.clock.now())
	var lines []string
	for _, it := range p.Items {
		if len(it.Certificate) > 0 {
			w.write(records.Entry{By: "hank", Fact: &records.Receipt{Lot: "M-1", Item: it.Code, Status: records.Organic, Weight: records.Weight{Mass: records.Mass{Value: records.NewDecimal(50, 0), Unit: "lb"}}, To: stationOf(p), Source: p.Partners[0].Code}})
			lines = []string{it.Certificate[0].Name, it.Certificate[0].Unit}
			break
		}
	}
	w.wants(w.ask(crew, "/result?lot=M-1", nil), 200, lines[0], "3.0 to 4.5 %", "Our own bench")
	before := w.size()
	v := typed("hank", "lot", "M-1", "n0", lines[0], "u0", lines[1])
	w.wants(w.ask(crew, "/result", v), 422, "Write at least one value")
	v.Set("v0", "4,x")
	w.wants(w.ask(crew, "/result", v), 422, "is not a number", `value="4,x"`)
	v.Set("v0", "9,5")
	v.Set("fv1", "3")
	w.wants(w.ask(crew, "/result", v), 422, "Say what “3” was measured of")
	v.Set("fn1", "Beta-glucan")
	v.Set("fu1", "mg/L")
	if w.size() != before {
		t.Fatal("written with a fault in it")
	}
	got := w.ask(crew, "/result", v)
	w.wants(got, 303)
	w.wants(w.ask(crew, "/result", v), 303)
	f := w.last().Fact.(*records.Result)
	if w.size() != before+1 || len(f.Values) != 2 || f.Values[0].Value.String() != "9.5 %" || f.Values[1].Name != "Beta-glucan" {
		t.Fatalf("%+v", f)
	}
	if !strings.HasPrefix(got.to(), "/hold?") {
		t.Fatal("it does not ask about a hold:", got.to())
	}
	w.wants(w.ask(crew, got.to(), nil), 200, "is outside the limits", `value="M-1" checked`)
	w.wants(w.ask(crew, "/result?lot=%E2%82%AC", nil), 422, "can not be a lot’s code")
	v = typed("hank", "lot", "M-1", "n0", lines[0], "u0", lines[1], "v0", "4")
	if got := w.ask(crew, "/result", v); got.to() != "/entry/"+positionText(w.size()-1) {
		t.Error(got.to())
	}
}

func TestReword(t *testing.T) {
	w := office(t)
	before := w.size()
	w.wants(w.ask(crew, "/reword/2", nil), 403) // nora's
	w.wants(w.ask(lead, "/reword/2", typed("nora", "what", "", "reason", "")), 422, "Fill in: What happened", "Fill in: Why is it corrected?")
	w.wants(w.ask(lead, "/reword/2", typed("nora", "what", "A crow got in.", "reason", "It was black.")), 303) // her own: performed
	w.wants(w.ask(lead, "/entry/2", nil), 200, "A crow got in.", "A gull got in through the dock door.", "It was black.")
	if w.size() != before+1 {
		t.Error(w.size() - before)
	}
	// what a form does not ask stays: lots of a hold, the file of a document
	w.wants(w.ask(crew, "/reword/6", typed("hank", "why", "Only damp.", "reason", "measured")), 303)
	if h := w.Book.View().State.Now(6).Fact.(*records.Hold); h.Why != "Only damp." || len(h.Lots) != 2 {
		t.Errorf("%+v", h)
	}
	var doc *state.Record
	for _, r := range w.Book.View().State.Kind(records.KindDocument).All() {
		doc = r
	}
	w.wants(w.ask(lead, "/reword/"+positionText(doc.Position), typed("nora", "title", "Water test", "type", "laboratory report", "issuer", "", "from", "2026-01-01", "to", "2026-12-31", "reason", "misread")), 303)
	if d := w.Book.View().State.Now(doc.Position).Fact.(*records.Document); d.Title != "Water test" || d.To.String() != "2026-12-31" || d.File == nil || d.Issuer != "" {
		t.Errorf("%+v", d)
	}
	w.wants(w.ask(crew, "/reword/1", nil), 303) // a sign-off has its own form
}

func TestReview(t *testing.T) {
	w := plant(t)
	w.wants(w.ask(lead, "/reviews", nil), 200, "2 of 2 open", "7 working days left", "Footwear")
	page := w.ask(lead, "/review/2026-03-09", nil)
	v := typed("nora", "from", hidden(page.body, "from"), "to", hidden(page.body, "to"))
	w.wants(w.ask(lead, "/review/2026-03-09", v), 422)
	v.Set("again", thePassword)
	w.wants(w.ask(crew, hygiene, signing("hank")), 303) // somebody signs while the lead reads
	before := w.size()
	w.wants(w.ask(lead, "/review/2026-03-09", v), 303)
	w.wants(w.ask(lead, "/review/2026-03-09", v), 303)
	f := w.last().Fact.(*records.Review)
	if w.size() != before+1 || f.From != 1 || f.To != 2 {
		t.Fatalf("%+v", f)
	}
	w.wants(w.ask(lead, "/review/2026-03-09", nil), 200, "1 of 3 open", "Written after the review: not covered", "Reviewed by Nora Feldt", "1 of these are your own records")
	w.wants(w.ask(lead, "/reviews", nil), 200, "1 of 3 open")
	id := w.Book.View().State.First(3).ID.String()
	v = typed("nora", "from", "3", "to", "3", "again", thePassword, "except", id, "note", "no time given")
	w.wants(w.ask(lead, "/review/2026-03-09", v), 303)
	w.wants(w.ask(lead, "/review/2026-03-09", nil), 200, "Not accepted by Nora Feldt", "1 of 3 open")
	w.wants(w.ask(lead, "/review/2026-03-09", typed("nora", "from", "3", "to", "3", "again", thePassword)), 303)
	w.wants(w.ask(lead, "/review/2026-03-09", nil), 200, "All of it is reviewed")
	w.wants(w.ask(lead, "/reviews", nil), 200, "Everything that was written down is reviewed.", "Reviewed lately")
	for _, bad := range []string{"/review/2026-02-30", "/review/2020-01-01", "/review/x"} {
		w.wants(w.ask(lead, bad, nil), 404)
	}
	w.wants(w.ask(lead, "/review/2026-03-09", typed("nora", "from", "-1", "to", "5", "again", thePassword)), 404)
	w.wants(w.ask(lead, "/review/2026-03-09", typed("nora", "from", "3", "to", "99999", "again", thePassword)), 422)
}

func TestDocuments(t *testing.T) {
	w := plant(t)
	pdf := []byte("%PDF-1.7\n%%EOF\n")
	before := w.size()
	v := typed("nora", "code", "Water Test", "title", "Water", "type", "laboratory report", "from", "2026-03-09", "to", "2026-03-01")
	w.wants(w.attach(lead, "/documents", v, "file", "x.html", []byte("<html><script>")), 422, "not a PDF, JPEG or PNG", "can not be a code", "lies before the first")
	got := w.attach(lead, "/documents", v, "file", `..\..\a"b.pdf`, pdf)
	w.wants(got, 422, "The file is kept")
	if w.size() != before {
		t.Fatal("written with a fault in it")
	}
	v.Set("kept.file", hidden(got.body, "kept.file"))
	v.Set("filename", hidden(got.body, "filename"))
	v.Set("code", "water-test")
	v.Set("to", "2026-04-01")
	v.Set("subject", "partner:"+string(w.Book.View().State.PlanAt(w.clock.now()).Partners[0].Code))
	got = w.ask(lead, "/documents", v)
	w.wants(got, 303)
	w.wants(w.ask(lead, "/documents", v), 303)
	f := w.last().Fact.(*records.Document)
	if w.size() != before+1 || got.to() != "/document/water-test" || f.File.Media != "application/pdf" || f.File.Size != int64(len(pdf)) || strings.ContainsAny(f.File.Name, `/\`) || f.Subject.Of != "partner" {
		t.Fatalf("%+v %+v", f, f.File)
	}
	w.wants(w.ask(crew, "/documents", nil), 200, "23 days left", "not on file")
	if got := w.ask(crew, "/documents?within=30", nil); !strings.Contains(got.body, "water-test") {
		t.Error("what runs out within 30 days is not listed")
	}
	if got := w.ask(crew, "/documents?q=recall", nil); strings.Contains(got.body, "water-test") || !strings.Contains(got.body, "recall-plan") {
		t.Error("the search finds something else")
	}
	file := "/document/water-test/file/" + positionText(w.size()-1)
	w.wants(w.ask(crew, "/document/water-test", nil), 200, file, "The plan wants it on file.")
	got = w.ask(crew, file, nil)
	if got.body != string(pdf) || got.Header.Get("Content-Type") != "application/pdf" || got.Header.Get("Content-Disposition") != `attachment; filename="water-test-3.pdf"` || got.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Error(got.Header)
	}
	w.wants(w.ask(crew, "/document/recall-plan/file/3", nil), 404) // of another document
	w.wants(w.ask(crew, "/document/water-test/file/1", nil), 404)  // a sign-off

	// a newer one: it counts, and the older is still there
	v = typed("nora", "code", "water-test", "title", "Water of the spring", "type", "laboratory report", "to", "2027-04-01")
	w.wants(w.attach(lead, "/documents", v, "file", "new.png", picture()), 303)
	w.wants(w.ask(crew, "/document/water-test", nil), 200, "Water of the spring", "replaced", file)
	big := append([]byte("%PDF-1.7\n"), make([]byte, records.MaxBlob)...)
	w.wants(w.attach(lead, "/documents", typed("nora", "code", "x", "title", "X", "type", "t"), "file", "x.pdf", big), 422, "larger than 16 MiB")
}

// A PDF that arrives after its sign-in ended is kept and filed once the secret is given.
func TestDocumentWhenTheSignInHasEnded(t *testing.T) {
	w := plant(t)
	before := w.size()
	w.clock.add(time.Hour)
	got := w.attach(lead, "/documents", typed("nora", "code", "water-test", "title", "Water", "type", "report"), "file", "w.pdf", []byte("%PDF-1.7\n%%EOF\n"))
	w.wants(got, 401, "Your sign-in has ended.")
	v := fieldsOf(got.body)
	v.Set("secret", thePassword)
	w.wants(w.ask(nobody, "/sign-in", v), 303)
	if f, is := w.last().Fact.(*records.Document); w.size() != before+1 || !is || f.File.Name != "w.pdf" {
		t.Errorf("%+v", w.last())
	}
}

// Five years: every page of the office stays small, and the pages of a list together hold all of it, each once.
func TestPagesStayBounded(t *testing.T) {
	entries := booktest.Synthetic(20_000)
	store := memory.New()
	var rows []records.Row
	var tree ledger.Tree
	for _, e := range entries {
		row, err := records.Format(e)
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, row)
		tree.Append(row.Leaf)
	}
	signed, err := ledger.Sign(ledger.Checkpoint{Origin: "quillmere.example/journal", Size: tree.Size(), Root: tree.Root()}, theKey())
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Append(t.Context(), records.Batch{Rows: rows, Checkpoint: signed}); err != nil {
		t.Fatal(err)
	}
	w := worldOn(t, store, entries[len(entries)-1].Recorded.Add(40*24*time.Hour))
	token, _, err := w.auth.SignIn(t.Context(), "ana", auth.Password, "")
	if err != nil {
		t.Fatal(err)
	}
	w.token[lead] = token
	const most = 400_000 // bytes
	small := func(path string) answered {
		t.Helper()
		got := w.ask(lead, path, nil)
		if got.StatusCode != 200 || len(got.body) > most {
			t.Fatalf("%s: status %d, %d bytes", path, got.StatusCode, len(got.body))
		}
		return got
	}
	walk := func(path, row string) (n, pages int) {
		for path != "" {
			got := small(path)
			n += strings.Count(got.body, row)
			pages++
			next := ""
			if i := strings.LastIndex(got.body, `">More</a>`); i >= 0 {
				next = strings.ReplaceAll(got.body[strings.LastIndex(got.body[:i], `href="`)+6:i], "&amp;", "&")
			}
			path = next
		}
		return n, pages
	}
	rep := w.report()
	if n, pages := walk("/findings?show=all", `<li class="standing-`); n != len(rep.Findings) || pages < 20 {
		t.Errorf("%d findings on %d pages, and the audit has %d", n, pages, len(rep.Findings))
	}
	if n, _ := walk("/findings?show=all&by=station", `<li class="standing-`); n != len(rep.Findings) {
		t.Errorf("%d findings by station, and the audit has %d", n, len(rep.Findings))
	}
	missed := 0
	for i := range rep.Findings {
		missed += boolInt(rep.Findings[i].Rule == "missed" && rep.Findings[i].Subject.Station == "station-1")
	}
	if n, _ := walk("/findings?show=all&rule=missed&station=station-1", `<li class="standing-`); n != missed || missed == 0 {
		t.Errorf("%d missed there, and the audit has %d", n, missed)
	}
	day := rep.Batches[len(rep.Batches)-1]
	if n, _ := walk("/review/"+day.Day.String(), `class="pos"`); n < day.Count {
		t.Errorf("%d records of %s, and the audit has %d", n, day.Day, day.Count)
	}
	for _, path := range []string{"/reviews", "/documents", "/holds", "/hold", "/result", "/excuse?from=2021-01-01T00%3A00&to=2026-01-01T00%3A00", "/findings?q=zzz", "/findings?page=99999", "/findings?page=-1"} {
		small(path)
	}
}

// What people typed comes back as text on every page and in every field of the office.
func TestHostileOffice(t *testing.T) {
	const evil = `"><script>alert(1)</script><img src=x onerror=alert(2)>{{.}}`
	w := office(t)
	check := func(path string, got answered) {
		t.Helper()
		if strings.Contains(got.body, "<script>alert") || strings.Contains(got.body, "<img src=x") {
			t.Errorf("%s: markup comes back\n%s", path, got.body)
		}
		if got.StatusCode >= 500 {
			t.Errorf("%s: %d", path, got.StatusCode)
		}
	}
	fields := []string{"id", "as", "next", "what", "station", "task", "lots", "lot", "action", "when", "kept.photo", "from", "to", "reason", "why", "outcome", "unknown", "finding", "v0", "n0", "u0", "fn0", "fv0", "fu0", "method", "laboratory",
		"document", "note", "except", "code", "title", "type", "subject", "issuer", "number", "kept.file", "filename", "cause", "prevention", "closes", "again"}
	forms := []string{"/deviation", "/excuse", "/hold", "/release", "/result", "/reword/2", "/review/2026-03-09", "/documents", "/answer"}
	for _, path := range forms {
		for _, name := range fields {
			v := typed("nora", "finding", someFinding, "lot", "B-101", "from", "1", "to", "2")
			v.Set(name, evil)
			check(path+" "+name, w.ask(lead, path, v))
		}
		v := url.Values{}
		for _, name := range fields {
			v.Set(name, evil)
		}
		check(path, w.ask(lead, path, v))
		check(path, w.ask(nobody, path, v))
	}
	w.wants(w.ask(lead, "/deviation", typed("nora", "what", evil, "action", evil)), 303)
	w.wants(w.ask(lead, "/hold", typed("nora", "lots", "B-103", "why", evil)), 303)
	w.wants(w.ask(lead, "/result", typed("nora", "lot", "B-103", "fn0", evil[:40], "fv0", "1", "fu0", evil[:20], "note", evil)), 303)
	w.wants(w.attach(lead, "/documents", typed("nora", "code", "evil", "title", evil, "type", evil[:50], "issuer", evil, "number", evil, "note", evil), "file", evil+".png", picture()), 303)
	e := url.QueryEscape(evil)
	for _, path := range []string{"/findings", "/holds", "/documents", "/document/evil", "/review/2026-03-09", "/reword/" + positionText(w.size()-1), "/documents/new?code=evil", "/release?lot=B-103", "/result?lot=B-103", "/entry/" + positionText(w.size()-1),
		"/findings?q=" + e + "&station=" + e + "&rule=" + e + "&by=" + e, "/documents?q=" + e + "&within=" + e, "/hold?lot=" + e + "&finding=" + e + "&after=" + e + "&next=" + e, "/excuse?task=" + e + "&from=" + e, "/result?lot=" + e,
		"/documents/new?code=" + e, "/document/" + url.PathEscape(evil), "/review/" + url.PathEscape(evil)} {
		check(path, w.ask(lead, path, nil))
	}
}

// A lead who speaks Spanish reads every page of the office in it.
func TestOfficeInSpanish(t *testing.T) {
	w := office(t)
	text := strings.Replace(thePlan(), "initials: NF\n    role: lead\n    languages: [en]", "initials: NF\n    role: lead\n    languages: [es]", 1)
	if text == thePlan() {
		t.Fatal("the plan has another Nora")
	}
	w.clock.add(time.Second)
	w.write(records.Entry{By: "nora", Fact: &records.Adoption{Text: text, SHA256: hexOf(sum([]byte(text)))}})
	for path, words := range map[string][]string{
		"/findings?q=limpieza": {"El más antiguo abierto", "Atrasado ahora mismo", "Días por revisar"}, "/deviation": {"Algo salió mal"},
		"/excuse?from=2026-03-09T00%3A00&to=2026-03-10T00%3A00": {"Abarca estos turnos"}, "/holds": {"rechazado", "ecológico"}, "/release?lot=B-101": {"¿Qué pasa con ellos?"},
		"/result?lot=B-101": {"¿Quién lo midió?"}, "/reviews": {"Sin revisar", "días hábiles"}, "/review/2026-03-09": {"Escrito después de la revisión: no cubierto"},
		"/documents": {"Formación", "no está archivado"}, "/document/water-test": {"Qué se apoya en él"}, "/documents/new": {"Archivar un documento"}, "/reword/2": {"Corregir lo escrito"}, "/reword/" + w.received(): {"se calcula de nuevo", "Humedad"}} {
		w.wants(w.ask(lead, path, nil), 200, append(words, `lang="es"`)...)
	}
}
