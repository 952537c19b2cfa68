package server

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"grainward/records"
	"grainward/records/book"
	"grainward/records/plan"
	"grainward/records/state"
	"grainward/server/auth"
)

// The time that a link's period comes to is that of all instants of which within says that they are shown: under plans whose days begin at
// other instants, where clocks change at midnight, and before there was any plan.
func TestShownTimeIsWhatIsWithin(t *testing.T) {
	zones := []string{"America/New_York", "America/Santiago", "Asia/Beirut", "Pacific/Apia", "UTC"}
	texts := map[string]*plan.Plan{}
	text := func(zone string) string { return strings.ReplaceAll(thePlan(), "America/New_York", zone) }
	for _, z := range zones {
		p, err := plan.Parse([]byte(text(z)))
		if err != nil || p.Plant.Zone != z {
			t.Fatal(z, err)
		}
		texts[z] = p
	}
	start := at("2026-03-02T05:00:00Z")
	shown := 0
	rapid.Check(t, func(t *rapid.T) {
		st := state.New()
		zone := rapid.SampledFrom(zones)
		for i := range rapid.IntRange(0, 3).Draw(t, "plans") {
			x := text(zone.Draw(t, "zone"))
			sum := sha256.Sum256([]byte(x))
			when := start.Add(time.Duration(i*96+rapid.IntRange(0, 95).Draw(t, "hour")) * time.Hour)
			st.Apply(st.Size(), records.Entry{ID: records.NewEntryID(), Happened: when, Recorded: when, By: "nora", Meaning: records.Approved, Kind: records.KindPlan,
				Fact: &records.Adoption{Text: x, SHA256: hex.EncodeToString(sum[:])}})
		}
		r := &request{view: &book.View{State: st}, plan: texts[zone.Draw(t, "present")]}
		day := r.plan.Day(start).AddDays(rapid.IntRange(-20, 40).Draw(t, "first day"))
		r.link = &auth.Link{From: day, To: day.AddDays(rapid.IntRange(-1, 10).Draw(t, "days"))}
		of := r.shownTime()
		for i := range of {
			if i > 0 && of[i].From <= of[i-1].To {
				t.Fatalf("%v", of)
			}
		}
		try := func(at records.Instant) {
			in := false
			for _, s := range of {
				in = in || s.From <= at && at <= s.To
			}
			if in != r.within(at) {
				t.Fatalf("%s is in the time that is shown: %v", at, in)
			}
			if in {
				shown++
			}
		}
		for range 20 {
			d := r.link.From.AddDays(rapid.IntRange(-2, 13).Draw(t, "day"))
			p := texts[zone.Draw(t, "midnight of")]
			try(p.At(d, plan.DayTime{}) + records.Instant(rapid.SampledFrom([]int{0, -1, 1, 3_600_000, -3_600_000}).Draw(t, "beside")))
		}
		for _, in := range st.Plans() {
			try(in.From)
			try(in.From - 1)
		}
	})
	if shown == 0 {
		t.Error("nothing was shown")
	}
	if of := new(request).shownTime(); len(of) != 1 || of[0].From != math.MinInt64 || of[0].To != math.MaxInt64 {
		t.Errorf("to the people of the plant all time is %v", of)
	}
}
