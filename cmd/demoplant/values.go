package demoplant

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"

	"grainward/records"
	"grainward/records/plan"
)

// reading is what an instrument usually shows: a middle, a spread (one standard deviation) and decimals read.
type reading struct {
	middle, spread float64
	decimals       int
}

// readings by task and question. Common practice, no source; where the grain decides, the job brings the middle.
var readings = map[string]reading{
	"receiving-check/moisture":        {12.1, 0.4, 1},
	"pit-grate/opening":               {2.25, 0.04, 2},
	"silo-temperature/warmest":        {58, 2.5, 0},
	"footwear-wash/pairs":             {9, 1, 0},
	"steep-in/mass":                   {10, 0, 1},
	"steep-in/water-temperature":      {54, 1.5, 1},
	"steep-watch/co2":                 {950, 250, 0},
	"steep-out/moisture":              {44.9, 0.6, 1},
	"steep-clean/rinse":               {0, 0, 1},
	"load-bed/mass":                   {10, 0, 1},
	"bed-temperature/top":             {65, 1.1, 1},
	"bed-temperature/bottom":          {55, 0.9, 1},
	"floor-air/co2":                   {1500, 350, 0},
	"boiled-kernel/kernels":           {40, 5, 0},
	"boiled-kernel/modified":          {85, 1.6, 0},
	"floor-scrub/strength":            {2.2, 0.25, 1},
	"floor-scrub/residue":             {0.02, 0.015, 2},
	"floor-scrub/room-air":            {0.03, 0.015, 2},
	"kiln-load/depth":                 {29, 0.4, 1},
	"kiln-watch/air-on":               {150, 2, 0},
	"kiln-watch/air-off":              {95, 3, 0},
	"kiln-off/hours":                  {23.3, 0, 1},
	"kiln-off/moisture":               {3.7, 0.15, 1},
	"changeover-clean/kernels":        {0, 0, 0},
	"sieve-test/coarse":               {21.5, 1.8, 1},
	"sieve-test/fine":                 {8.2, 1.1, 1},
	"bag-check/net":                   {55.06, 0.1, 2},
	"samples-count/fewest":            {7, 0.8, 0},
	"dust-check/depth":                {0.04, 0.012, 2},
	"trap-check/rodents":              {0, 0, 0},
	"trap-check/insects":              {0.6, 0.8, 0},
	"water-check/chlorine":            {0.6, 0.12, 2},
	"scale-check/shown":               {50, 0.015, 2},
	"moisture-meter-check/difference": {0.05, 0.1, 2},
	"thermometer-check/ice":           {32, 0.2, 1},
	"kiln-probe-check/difference":     {0.5, 0.4, 1},
	"ozone-meter-check/difference":    {0.02, 0.05, 2},
	"air-meter-check/zero":            {0.005, 0.003, 3},
}

// answer is what the crew says to one question; an optional one is often left out. A photo comes with its bytes.
func (s *sim) answer(r *rand.Rand, j *job, ask *plan.Ask) (records.Response, []byte, bool) {
	resp := records.Response{Ask: ask.Code}
	if ask.Optional && r.Float64() > 0.15 {
		return resp, nil, false
	}
	switch ask.Type {
	case "number":
		resp.Value = &records.Quantity{Value: read(r, j, ask), Unit: ask.Unit}
	case "yesno":
		yes := ask.Right != "no"
		resp.Yes = &yes
	case "choice":
		if resp.Choice = ask.Right; resp.Choice == "" {
			resp.Choice = ask.Choices[0]
		}
	case "text":
		resp.Text = s.words(r, j, ask)
	case "photo":
		picture := photo(r)
		sum := sha256.Sum256(picture)
		resp.Photo = hex.EncodeToString(sum[:])
		return resp, picture, true
	}
	return resp, nil, true
}

// read is a reading within the plan's limits: what lies outside them is never chance here, but a mistake of slips.go.
func read(r *rand.Rand, j *job, ask *plan.Ask) records.Decimal {
	usual, ok := readings[string(j.task)+"/"+string(ask.Code)]
	if !ok && ask.Limits.Min != nil && ask.Limits.Max != nil {
		usual = reading{(ask.Limits.Min.Float() + ask.Limits.Max.Float()) / 2, 0, 1}
	}
	if m, ok := j.reads[ask.Code]; ok {
		usual.middle = m
	}
	v := usual.middle + usual.spread*r.NormFloat64()
	if ask.Limits.Min != nil {
		v = max(v, ask.Limits.Min.Float())
	}
	if ask.Limits.Max != nil {
		v = min(v, ask.Limits.Max.Float())
	}
	return records.NewDecimal(int64(math.Round(v*math.Pow10(usual.decimals))), usual.decimals)
}

// words answers a question for text.
func (s *sim) words(r *rand.Rand, j *job, ask *plan.Ask) string {
	pick := func(of ...string) string { return of[r.IntN(len(of))] }
	d := s.day(j.at)
	switch ask.Code {
	case "report":
		return "WG-" + d.String()
	case "laboratory":
		return "Tarn Hollow Grain Laboratory, sample TH-" + d.String()
	case "people":
		return "Desmond Achterberg with the early shift, one at a time"
	case "topics":
		return pick("By Desmond Achterberg: the plan's own pages, then questions on the floor", "By Desmond Achterberg: slides of the office, then a walk through the house")
	case "worn-out":
		return pick("One pair, sole split", "Two pairs thrown out", "One left boot, hole in the toe")
	case "remarks":
		return pick("Sweep behind the bagger", "Bulb by the kiln door replaced on the spot", "Door brush at the warehouse getting thin", "Gutter over the pit wants clearing")
	}
	return fmt.Sprintf("%s: see the sheet on the wall", ask.Title.In("en"))
}

// photo stands in for what a tablet's camera takes: a small grey picture, never the same twice.
func photo(r *rand.Rand) []byte {
	img := image.NewGray(image.Rect(0, 0, 64, 48))
	for y := range 48 {
		for x := range 64 {
			img.SetGray(x, y, color.Gray{Y: uint8(90 + y + r.IntN(40))})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err) // a buffer takes everything
	}
	return b.Bytes()
}
