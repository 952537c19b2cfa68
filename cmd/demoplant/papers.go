package demoplant

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"grainward/records"
	"grainward/records/calendar"
)

// paper is a document the plan wants on file.
type paper struct {
	code, title, kind, issuer string
	of, about                 string
	days                      int // how long one holds; 0: it does not run out
	left                      int // days the newest has left at the last moment; negative: it has run out
}

// wanted is every paper of the first plan but one, whose approval has a story of its own below. The last two rows are
// mistakes.
var wanted = []paper{
	{"organic-certificate", "Organic certificate of Saltmarrow Floor Malthouse", "certificate", "Brackenfold Organic Certification", "plant", "", 365, 211},
	{"system-plan", "Organic system plan as sent to the certifier", "plan", "Saltmarrow Floor Malthouse", "plant", "", 0, 0},
	{"recall-plan", "Written recall plan", "plan", "Saltmarrow Floor Malthouse", "plant", "", 0, 0},
	{"approval-ozone", "Certifier's approval of ozonated water", "approval", "Brackenfold Organic Certification", "agent", "ozone-water", 730, 298},
	{"approval-quat", "Certifier's approval of quaternary ammonium, with its conditions", "approval", "Brackenfold Organic Certification", "agent", "quat", 730, 402},
	{"water-test", "Water test of the year", "laboratory report", "Tarn Hollow Grain Laboratory", "plant", "", 400, 160},
	{"scale-report", "Scale test report", "calibration report", "Plumbline Scale Service", "instrument", "floor-scale", 365, 133},
	{"pcqi-certificate", "Preventive-controls training of Imke Strand", "certificate", "Tarn Hollow Extension School", "person", "imke", 0, 0},
	{"hollow-ash-organic", "Organic certificate of Hollow Ash Farm", "certificate", "Brackenfold Organic Certification", "partner", "hollow-ash", 365, 95},
	{"stillbend-organic", "Organic certificate of Stillbend Growers", "certificate", "Brackenfold Organic Certification", "partner", "stillbend", 365, 242},
	{"ferrin-organic", "Organic certificate of Ferrin Upland Grain", "certificate", "Brackenfold Organic Certification", "partner", "ferrin", 365, -18},
	{"pest-licence", "Licence and insurance of Wren Gate Pest Service", "licence", "State pesticide office", "partner", "wren-gate-pest", 365, 12},
}

// papers files documents: on the first day what holds then, later each renewal a few weeks ahead.
func (s *sim) papers() {
	last := s.day(s.until)
	for i, p := range wanted {
		if p.days == 0 {
			from := s.since - 90
			s.file(p, &from, nil, s.at(s.since, 9, 5+i))
			continue
		}
		to := last.AddDays(p.left)
		for ends := to - calendar.Date((int(to-s.since)/p.days)*p.days); ends <= to; ends += calendar.Date(p.days) {
			from, end := ends-calendar.Date(p.days)+1, ends
			at := s.at(s.since, 9, 5+i)
			if received := s.working(from - 20); received > s.since {
				at = s.at(received, 11, i)
			}
			s.file(p, &from, &end, at)
		}
		switch {
		case p.left < 0:
			s.note("A supplier's organic certificate ran out and no newer one is on file", s.at(to+1, 0, 0), records.EntryID{}, Expected{Rule: "document-expired", About: p.code + ":" + to.String()})
		case p.left <= 30:
			s.note("The pest contractor's licence runs out soon", s.at(last, 0, 0), records.EntryID{}, Expected{Rule: "document-expiring", About: p.code + ":" + to.String()})
		}
	}
	s.note("The papers of the ozone generator were asked for when the plan was tightened, and never filed", s.at(s.dates.tightened, 14, 10), records.EntryID{},
		Expected{Rule: "document-missing", About: "generator-papers"})
	s.approval()
	s.reports()
}

// approval is that of peracetic acid: it ran out unnoticed for a few days, in one of which a steep tank was washed with it.
func (s *sim) approval() {
	p := paper{"approval-peracetic", "Certifier's approval of peracetic acid", "approval", "Brackenfold Organic Certification", "agent", "peracetic-acid", 0, 0}
	relied := s.batch(133, s.since+266) // washed with it two days later; see steepAgents
	out, again := s.day(relied.steepOut)-3, s.day(relied.steepOut)+4
	from, renewed := out-365, again+420
	s.file(p, &from, &out, s.at(s.since, 9, 30))
	s.file(p, &again, &renewed, s.at(again, 10, 15))
	s.slips = append(s.slips, &slip{task: "steep-clean", from: out, when: func(j *job) bool { return len(j.lots) > 0 && j.lots[0] == relied.lot }, do: func(j *job) {
		d := s.sign(j, nil)
		s.note("A steep tank was washed with peracetic acid while its approval had lapsed", j.at, d.entry.ID, Expected{Rule: "document-lapsed", About: d.entry.ID.String() + "/approval-peracetic"})
	}})
}

// reports are the pest contractor's, one a visit, and the laboratory's, one a batch of wheat malt.
func (s *sim) reports() {
	for d := s.since; s.at(d, 16, 0) <= s.until; d++ {
		if _, _, n := d.Civil(); d.Weekday() == time.Friday && n >= 8 && n < 15 {
			from := d
			s.file(paper{code: "pest-report-" + d.String(), title: "Pest report of " + d.String(), kind: "pest report", issuer: "Wren Gate Pest Service", of: "partner", about: "wren-gate-pest"},
				&from, nil, s.at(d, 15, 50))
		}
	}
	for _, b := range s.wheat() {
		at := s.at(s.working(s.day(b.kilnOff)+9), 11, 45)
		from := s.day(b.kilnOff)
		s.file(paper{code: "wheat-report-" + strings.ToLower(string(b.lot)), title: "Laboratory report on " + b.item + " malt " + string(b.lot), kind: "laboratory report", issuer: "Tarn Hollow Grain Laboratory",
			of: "item", about: b.item + "-malt"}, &from, nil, at)
	}
}

func (s *sim) wheat() (out []batch) {
	for k := 4; ; k += 9 {
		b := s.batch(k, s.since+calendar.Date(2*k))
		if b.kilnOff > s.until {
			return out
		}
		out = append(out, b)
	}
}

// file puts a paper on file, with a page that says what it is.
func (s *sim) file(p paper, from, to *calendar.Date, at records.Instant) {
	text := []string{p.title, "Issued by " + p.issuer, "Valid from " + from.String()}
	if to != nil {
		text = append(text, "until "+to.String())
	}
	page := pdf(append(text, "", "Specimen of an invented plant. Nobody named here exists."))
	sum := sha256.Sum256(page)
	d := s.add(at, lead, records.Received, &records.Document{Code: records.DocumentCode(p.code), Title: p.title, Type: p.kind, Issuer: p.issuer,
		Subject: records.Subject{Of: p.of, Code: p.about}, From: from, To: to,
		File: &records.File{SHA256: hex.EncodeToString(sum[:]), Size: int64(len(page)), Media: "application/pdf", Name: p.code + ".pdf"}}).prompt()
	d.blobs = [][]byte{page}
}

// pdf is one page of text in the plainest form ISO 32000-1 section 7.5 allows.
func pdf(lines []string) []byte {
	var text strings.Builder
	text.WriteString("BT /F1 14 Tf 20 TL 72 720 Td\n")
	for _, l := range lines {
		fmt.Fprintf(&text, "(%s) Tj T*\n", strings.NewReplacer(`\`, `\\`, "(", `\(`, ")", `\)`).Replace(l))
	}
	text.WriteString("ET")
	objects := []string{
		"<< /Type /Catalog /Pages 2 0 R >>",
		"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
		"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Contents 4 0 R /Resources << /Font << /F1 5 0 R >> >> >>",
		fmt.Sprintf("<< /Length %d >>\nstream\n%s\nendstream", text.Len(), text.String()),
		"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
	}
	var b bytes.Buffer
	b.WriteString("%PDF-1.4\n")
	var at []int
	for i, o := range objects {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", i+1, o)
	}
	table := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(objects)+1)
	for _, n := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", n)
	}
	fmt.Fprintf(&b, "trailer << /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(objects)+1, table)
	return b.Bytes()
}
