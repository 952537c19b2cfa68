package bigplant

import (
	"time"

	"grainward/records"
)

// desk is what the leads write: papers, reviews, corrections, and what went wrong.
func (t *today) desk() {
	if (t.day-t.since)%360 == 0 { // before the year's papers run out
		for i, d := range papers() {
			from, to := t.day, t.day.AddMonths(12)
			d.From, d.To = &from, &to
			at := t.at(4*60 + 40 + i)
			t.write(t.r, at, at.Add(time.Second), leadCode(0), records.Received, &d)
		}
	}
	t.corrections()
	if t.one(6) {
		t.trouble()
	}
	if t.one(90) {
		t.excuse()
	}
	if t.day.Weekday() >= time.Monday && t.day.Weekday() <= time.Friday {
		at := t.at(15 * 60)
		d := t.write(t.r, at, at.Add(time.Second), leadCode(t.r.IntN(leads)), records.Verified, &records.Review{})
		d.rev = true // its range is known when it is its turn
	}
}

// corrections put right a reading that was mistyped, or withdraw a sign-off that was made twice.
func (t *today) corrections() {
	for _, d := range t.last {
		f := *d.Fact.(*records.Signoff)
		c := &records.Correct{Target: d.ID, Reason: "Typed at the wrong station.", Withdraw: true}
		if len(f.Answers) > 0 && f.Answers[0].Value != nil {
			f.Answers = append([]records.Response{}, f.Answers...)
			f.Answers[0] = t.answer(&taskOf[f.Task].asks[0], false)
			c = &records.Correct{Target: d.ID, Reason: "Mistyped.", With: &records.Replacement{Kind: records.KindSignoff, Fact: &f}}
		}
		at := d.at.Add(time.Duration(20+t.r.IntN(900)) * time.Minute)
		if c.Withdraw && !t.one(6) {
			continue
		}
		t.write(t.r, at, at.Add(time.Second), d.By, records.Performed, c)
	}
}

// trouble is a deviation, answered the next day.
func (t *today) trouble() {
	st := records.StationCode(tasks[0].stations[t.r.IntN(doors)])
	d := t.signed(t.at(13*60), t.someone(), records.Performed, &records.Deviation{What: "Boot rack broken; boots stood on the floor.", Station: st, Action: "Boots washed."})
	at := d.Happened.Add(22 * time.Hour)
	t.write(t.r, at, at.Add(time.Second), leadCode(0), records.Verified, &records.Answer{Deviation: d.ID, Cause: "A bolt had rusted.", Action: "Mended.", Lots: "None: no bed was near.", Prevention: "Racks are looked at each month.", Closes: true})
}

// excuse lets the rounds of a room rest for a day, which is written down beforehand.
func (t *today) excuse() {
	at := t.at(11 * 60)
	from := t.base.Add(24 * time.Hour)
	t.write(t.r, at, at.Add(time.Second), leadCode(0), records.Approved, &records.Excuse{Task: "tidy-round", Station: taskOf["tidy-round"].stations[t.r.IntN(rooms)], From: from, To: from.Add(24 * time.Hour), Reason: "The room is being painted."})
}

// hold stops a batch in its bags until the next day, when it is let go.
func (t *today) hold(b *batch) {
	lots := []records.LotCode{b.code("B")}
	d := t.signed(t.at(16*60+30), t.someone(), records.Performed, &records.Hold{Lots: lots, Why: "Two torn bags; the others are to be looked at."})
	at := d.Happened.Add(16 * time.Hour)
	t.write(t.r, at, at.Add(time.Second), leadCode(0), records.Approved, &records.Release{Lots: lots, Why: "Looked through; the others are whole."})
}

// papers are the documents the plan asks for.
func papers() []records.Document {
	all := []records.Document{
		{Code: "organic-certificate", Title: "Organic certificate of the plant", Type: "certificate", Subject: records.Subject{Of: "plant"}},
		{Code: "approval-ozone", Title: "Approval of ozonated water", Type: "certificate", Subject: records.Subject{Of: "agent", Code: "ozone-water"}},
	}
	for _, s := range suppliers {
		all = append(all, records.Document{Code: records.DocumentCode(s + "-organic"), Title: "Organic certificate of " + string(s), Type: "certificate", Subject: records.Subject{Of: "partner", Code: string(s)}})
	}
	return all
}
