package yardstick

import (
	"encoding/json"
	"fmt"
	"io"
	"time"

	"grainward/records"
)

// Report is what came of measuring at one size.
type Report struct {
	Made    time.Time `json:"made"`
	Seed    uint64    `json:"seed"`
	Size    int       `json:"size"` // entries
	Machine Machine   `json:"machine"`
	Rows    []Row     `json:"rows"`
}

// Row is one figure, with its peer's and its limit where it has them.
type Row struct {
	Name   string  `json:"name"` // stays the same from version to version
	What   string  `json:"what"`
	Ours   Figure  `json:"ours"`
	Peer   string  `json:"peer,omitzero"` // what it is held against
	Theirs Figure  `json:"theirs,omitzero"`
	Ratio  float64 `json:"ratio,omitzero"` // of ours to the peer's, as the limit has it; 0 where there is no peer
	Limit  *Limit  `json:"limit,omitzero"` // nil: for comparison only
	Also   []Also  `json:"also,omitzero"`
}

// Figure is a number with its unit: "s", "/s", "B", "MB", "kB", "entries"….
type Figure struct {
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// Also is a further figure that belongs to a row.
type Also struct {
	What string `json:"what"`
	Figure
}

// Limit is what the design asks of the ratio, or of our figure where there is no peer.
type Limit struct {
	Least float64 `json:"least,omitzero"`
	Most  float64 `json:"most,omitzero"`
	Unit  string  `json:"unit,omitzero"` // of our figure; none: of the ratio
}

// Held says whether the row is within its limit; known is false when it has none.
func (r *Row) Held() (held, known bool) {
	if r.Limit == nil {
		return false, false
	}
	x := r.Ratio
	if r.Limit.Unit != "" {
		x = r.Ours.Value
	}
	return (r.Limit.Least == 0 || x >= r.Limit.Least) && (r.Limit.Most == 0 || x < r.Limit.Most), true
}

// Short are the rows that are not within their limits.
func (r *Report) Short() (rows []Row) {
	for i := range r.Rows {
		if held, known := r.Rows[i].Held(); known && !held {
			rows = append(rows, r.Rows[i])
		}
	}
	return rows
}

// Row is the row of a name, or nil.
func (r *Report) Row(name string) *Row {
	for i := range r.Rows {
		if r.Rows[i].Name == name {
			return &r.Rows[i]
		}
	}
	return nil
}

// FormatJSON writes reports as one JSON text; ParseJSON reads them.
func FormatJSON(w io.Writer, reports []*Report) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(file{What: fileWhat, Reports: reports})
}

const fileWhat = "grainward bench"

type file struct {
	What    string    `json:"what"`
	Reports []*Report `json:"reports"`
}

// ParseJSON reads what FormatJSON wrote.
func ParseJSON(rd io.Reader) ([]*Report, error) {
	var f file
	dec := json.NewDecoder(rd)
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil || f.What != fileWhat || len(f.Reports) == 0 {
		return nil, &records.Error{Kind: records.Invalid, What: "the file does not hold what grainward bench writes", Do: "Name a file that was written with --json.", Err: err}
	}
	for i, r := range f.Reports {
		if what := r.odd(); what != "" {
			return nil, &records.Error{Kind: records.Invalid, What: fmt.Sprintf("report %d of the file has %s", i+1, what), Do: "Name a file that was written with --json, and not changed since."}
		}
	}
	return f.Reports, nil
}

// odd says what no measuring could have given; empty when nothing.
func (r *Report) odd() string {
	if r == nil || r.Size < 1 || r.Size > Most {
		return "no size that can be measured"
	}
	for i := range r.Rows {
		x := &r.Rows[i]
		figures := []float64{x.Ours.Value, x.Theirs.Value, x.Ratio}
		for _, a := range x.Also {
			figures = append(figures, a.Value)
		}
		if x.Limit != nil {
			figures = append(figures, x.Limit.Least, x.Limit.Most)
		}
		for _, v := range figures {
			if v < 0 || v > 1e15 || v > 0 && v < 1e-12 {
				return fmt.Sprintf("the figure %g in the row %q", v, x.Name)
			}
		}
	}
	return ""
}
